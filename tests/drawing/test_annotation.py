"""Lettering, dimensions, broken lines and hatching drawn as lines; and what must stay a cut."""

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawing.making import Tags, circle_tags, line_tags, read_made, read_tags
from shared import CORPUS, needs_corpus

from analyzer.drawing.drawing import Drawing
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.parts.find import find_parts

Line = tuple[tuple[float, float], tuple[float, float]]

RING = [[(0.5, 0), (1.5, 0), (2, 0.5), (2, 2.5), (1.5, 3), (0.5, 3), (0, 2.5), (0, 0.5), (0.5, 0)]]
# A pen alphabet of our own on a field 2 wide and 3 high.
STROKES: dict[str, Sequence[Sequence[tuple[float, float]]]] = {
    "A": [[(0, 0), (1, 3), (2, 0)], [(0.4, 1.2), (1.6, 1.2)]],
    "B": [[(0, 0), (0, 3), (1.5, 3), (2, 2.5), (1.5, 1.6), (0, 1.6)],
          [(1.5, 1.6), (2, 0.8), (1.5, 0), (0, 0)]],
    "C": [[(2, 2.5), (1.5, 3), (0.5, 3), (0, 2.5), (0, 0.5), (0.5, 0), (1.5, 0), (2, 0.5)]],
    "D": [[(0, 0), (0, 3), (1.2, 3), (2, 2.2), (2, 0.8), (1.2, 0), (0, 0)]],
    "E": [[(2, 0), (0, 0), (0, 3), (2, 3)], [(0, 1.5), (1.4, 1.5)]],
    "L": [[(0, 3), (0, 0), (2, 0)]],
    "M": [[(0, 0), (0, 3), (1, 1.5), (2, 3), (2, 0)]],
    "N": [[(0, 0), (0, 3), (2, 0), (2, 3)]],
    "O": RING,
    "R": [[(0, 0), (0, 3), (1.5, 3), (2, 2.3), (1.5, 1.6), (0, 1.6)], [(0.8, 1.6), (2, 0)]],
    "S": [[(0, 0), (1.5, 0), (2, 0.7), (1.5, 1.5), (0.5, 1.5), (0, 2.3), (0.5, 3), (2, 3)]],
    "T": [[(0, 3), (1, 3), (2, 3)], [(1, 3), (1, 0)]],
    "2": [[(0, 2.5), (0.5, 3), (1.5, 3), (2, 2.5), (0, 0), (2, 0)]],
    "5": [[(2, 3), (0, 3), (0, 1.8), (1.5, 1.8), (2, 1), (1.5, 0), (0, 0)]],
    "1": [[(0.3, 2.2), (1, 3), (1, 0)]],
    "6": [[(2, 3), (0.5, 3), (0, 2.5), (0, 0.5), (0.5, 0), (1.5, 0), (2, 0.7), (1.5, 1.6),
           (0, 1.6)]],
    "0": RING,
    " ": [],
}  # fmt: skip
NOTE = "BENT STEEL COLD 2 MM NOT RED"


def letters(text: str, x: float, y: float, height: float) -> list[Line]:
    """Return the strokes of a text."""
    size = height / 3.0
    lines: list[Line] = []
    for k, letter in enumerate(text):
        for chain in STROKES[letter]:
            at = [(x + size * (px + 3.0 * k), y + size * py) for px, py in chain]
            lines += list(pairwise(at))
    return lines


def box(x: float, y: float, w: float, h: float) -> list[Line]:
    corner = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    return list(zip(corner, [*corner[1:], corner[0]], strict=True))


def polygon(x: float, y: float, diameter: float, count: int = 16) -> list[Line]:
    angle = 2.0 * np.pi * np.arange(count) / count
    at = [(x + diameter / 2 * np.cos(a), y + diameter / 2 * np.sin(a)) for a in angle]
    return list(zip(at, [*at[1:], at[0]], strict=True))


def dimension(x0: float, x1: float, y: float, edge: float) -> list[Line]:
    """Return a dimension line with two filled arrows and two extension lines."""
    lines: list[Line] = [((x0, y), (x1, y))]
    for tip, way in ((x0, 1.0), (x1, -1.0)):
        base = tip + 2.5 * way
        lines += [((tip, y), (base, y + 0.4)), ((base, y + 0.4), (base, y - 0.4)),
                  ((base, y - 0.4), (tip, y)), ((tip, y), (base, y + 0.1))]  # fmt: skip
        lines.append(((tip, edge), (tip, y + 2.0)))
    return lines


def placed(lines: Sequence[Line], turn: float, scale: float, layer: str) -> list[Tags]:
    cos, sin = scale * np.cos(np.radians(turn)), scale * np.sin(np.radians(turn))
    return [
        line_tags(*(tuple(map(float, (x * cos - y * sin, x * sin + y * cos))) for x, y in line),
                  layer)
        for line in lines
    ]  # fmt: skip


PLATE = box(0, 0, 160, 90) + box(40, 30, 30, 20) + polygon(120, 45, 12)
ABOUT = letters(NOTE, 0, -20, 3.5) + letters("M5", 128, 50, 3.5) + letters("160", 70, 101, 3.5)
ABOUT += dimension(0, 160, 98, 91)
LENGTH = 2 * 250 + 100 + 16 * 12 * np.sin(np.pi / 16)


def notes_of(drawing: Drawing) -> list[str]:
    return [fact.message for fact in drawing.facts if fact.kind == "view-not-part"]


@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 143.5])
@pytest.mark.parametrize(("scale", "units"), [(1.0, 4), (1 / 25.4, 1)])
@pytest.mark.parametrize("layer", ["0", "L7"])
def test_a_plate_with_notes_and_a_dimension_drawn_as_lines(
    tmp_path: Path, turn: float, scale: float, units: int, layer: str
) -> None:
    """One layer or two, in mm or inch, however it is turned: the plate and nothing else."""
    entities = placed(PLATE, turn, scale, "0") + placed(ABOUT, turn, scale, layer)
    drawing = read_tags(tmp_path, entities, units=units)
    assert drawing.cuts.closed.tolist() == [True] * 3
    assert drawing.cuts.length.sum() == pytest.approx(LENGTH, abs=1e-4)
    assert drawing.account.total == len(PLATE) + len(ABOUT)
    assert drawing.account.used == len(PLATE)
    assert [n.split(" look like ")[1].split()[0] for n in notes_of(drawing)] == [
        "lettering",
        "dimension",
    ]
    assert "3.5 mm high" in notes_of(drawing)[0]
    assert sum(int(n.split()[0]) for n in notes_of(drawing)) == len(ABOUT)


def test_the_user_can_have_it_cut(tmp_path: Path) -> None:
    entities = placed(PLATE, 0, 1, "0") + placed(ABOUT, 0, 1, "L7")
    drawing = read_tags(tmp_path, entities, ReadOptions(layer_roles=(("cut", "l*"),)))
    assert not notes_of(drawing)
    assert drawing.account.used == len(PLATE) + len(ABOUT)


def test_lettering_alone_is_meant(tmp_path: Path) -> None:
    drawing = read_tags(tmp_path, placed(letters(NOTE, 0, 0, 20), 0, 1, "0"))
    assert not notes_of(drawing)
    assert drawing.cuts.length.sum() > 0.0


def broken_line() -> list[Line]:
    return [((10 + 3.0 * k, 70.0), (12 + 3.0 * k, 70.0)) for k in range(30)]


def test_a_broken_line_goes_only_where_there_is_lettering(tmp_path: Path) -> None:
    """A row of slits along a bend looks just the same."""
    with_note = read_tags(tmp_path, placed(PLATE + ABOUT + broken_line(), 0, 1, "0"))
    assert with_note.account.used == len(PLATE)
    assert "broken lines" in notes_of(with_note)[-1]
    slits = read_tags(tmp_path, placed(PLATE + broken_line(), 0, 1, "0"))
    assert slits.account.used == len(PLATE) + 30


def hinge() -> list[Line]:
    """A living hinge: slits in rows, every other row shifted."""
    start = [(10 + 14.0 * k + 7.0 * (r % 2), 5 + 2.0 * r) for k in range(9) for r in range(10)]
    return [((x, y), (x + 11.0, y)) for x, y in start]


def tongues() -> list[Line]:
    """Tongues to be bent out: three sides of squares, in four sizes."""
    lines: list[Line] = []
    for k in range(12):
        x, w = 10.0 + 12.0 * k, 3.0 + k % 4
        lines += [((x, 70), (x, 75)), ((x, 75), (x + w, 75)), ((x + w, 75), (x + w, 70))]
    return lines


def comb_with_gaps() -> list[Line]:
    """A comb whose teeth of several shapes do not meet: every gap is 0.05 mm."""
    lines: list[Line] = []
    x = 0.0
    for k in range(14):
        w = 4.0 + k % 5
        lines += [((x, 120), (x + w / 2, 125 + k % 3)), ((x + w / 2, 125 + k % 3), (x + w, 120))]
        x += w + 0.05
    return lines


def holes_with_names() -> list[Line]:
    """Holes drawn as polygons as high as the names beside them."""
    lines: list[Line] = []
    for k in range(6):
        lines += polygon(15 + 20 * k, 71.75, 3.5) + letters("M5", 20 + 20 * k, 70, 3.5)
    return lines


def strips() -> list[Line]:
    """Eight strips of a plate that have their long edges in common."""
    return box(0, 200, 160, 40) + [((20.0 * k, 200.0), (20.0 * k, 240.0)) for k in range(1, 8)]


@pytest.mark.parametrize("cuts", [hinge, tongues, comb_with_gaps, strips])
@pytest.mark.parametrize("turn", [0.0, 20.0])
def test_cuts_that_look_a_little_like_lettering_stay(
    tmp_path: Path, cuts: object, turn: float
) -> None:
    assert callable(cuts)
    lines = PLATE + cuts()
    drawing = read_tags(tmp_path, placed(lines, turn, 1.0, "0"))
    assert drawing.account.used == len(lines)


def test_holes_beside_their_names_stay(tmp_path: Path) -> None:
    drawing = read_tags(tmp_path, placed(PLATE + holes_with_names() + ABOUT, 0, 1, "0"))
    assert drawing.account.used == len(PLATE) + 6 * 16
    parts = find_parts(drawing, 3.0).parts
    assert sorted(round(h.diameter, 1) for h in parts[0].holes) == [3.5] * 6 + [12.0]


def test_an_outline_with_gaps_on_the_layer_of_its_notes_stays(tmp_path: Path) -> None:
    """Nothing on the layer closes but the letters: the outline is no scrap of a dimension."""
    sides = [((a[0] * 0.9 + b[0] * 0.1, a[1] * 0.9 + b[1] * 0.1), b) for a, b in PLATE[:4]]
    drawing = read_tags(tmp_path, placed(sides + ABOUT, 0, 1, "0"))
    assert drawing.account.used == 4


def hatch(turn: float) -> list[Line]:
    """Lines 3 apart at 45 degrees across the window of the plate, 30 x 20 at (40, 30)."""
    lines: list[Line] = []
    for c in np.arange(-27.0, 18.0, 3.0):  # y - 30 = x - 40 + c
        x0, x1 = max(0.0, -c), min(30.0, 20.0 - c)
        if x1 - x0 > 0.5:
            lines.append(((40 + x0, 30 + x0 + c), (40 + x1, 30 + x1 + c)))
    return lines


@pytest.mark.parametrize("turn", [0.0, 33.0])
def test_hatching_is_set_aside_and_slits_are_not(tmp_path: Path, turn: float) -> None:
    lines = hatch(turn)
    drawing = read_tags(tmp_path, placed(PLATE + lines, turn, 1.0, "0"))
    assert drawing.account.used == len(PLATE)
    assert "hatching" in notes_of(drawing)[0]
    shorter = [
        tuple(tuple(0.9 * np.array(p) + 0.1 * (np.array(a) + b) / 2) for p in (a, b))
        for a, b in lines
    ]
    slits = read_tags(tmp_path, placed(PLATE + shorter, turn, 1.0, "0"))  # type: ignore[arg-type]
    assert slits.account.used == len(PLATE) + len(lines)


def test_circles_in_a_drawing_of_notes_are_never_taken(tmp_path: Path) -> None:
    rings = [circle_tags(10.0 + 5 * k, -17.0, 1.75, "0") for k in range(20)]
    entities = placed(PLATE + ABOUT, 0, 1, "0") + rings
    assert read_tags(tmp_path, entities).account.used == len(PLATE) + 20


@pytest.mark.parametrize(("name", "filled"), [("Logo_2", False), ("B1", True), ("B1", False)])
def test_a_small_block_with_a_logo(tmp_path: Path, name: str, filled: bool) -> None:
    """By its name, or by the filled area in it; any other block is cut."""
    ring = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]

    def draw(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (160, 0), (160, 90), (0, 90)], close=True)
        block = space.doc.blocks.new(name)
        block.add_lwpolyline(ring, close=True)
        if filled:
            block.add_hatch().paths.add_polyline_path(ring, is_closed=True)
        space.add_blockref(name, (40, 40))

    drawing = read_made(tmp_path, draw)
    logo = filled or name != "B1"
    assert len(drawing.cuts) == (1 if logo else 2)
    assert len(notes_of(drawing)) == (1 if logo else 0)


# --- real drawings: what the notes drawn in them say ------------------------------------------


@needs_corpus
def test_a_module_support_of_thousands_of_lines() -> None:
    """Its notes: 155 x 135 with tabs, 4 M3 holes (drawn 2.5), 12 countersunk (drawn 3.5)."""
    drawing = read_drawing(CORPUS / "bb3__BB3_chassis_Mean_Well_support_2.0.dxf")
    (part,) = find_parts(drawing, 1.0).parts
    assert (part.width, part.height) == (pytest.approx(155.0), pytest.approx(135.0, abs=0.1))
    assert sorted(h.diameter for h in part.holes) == pytest.approx([2.5] * 4 + [3.5] * 12, abs=0.05)
    assert len(part.contours) == 17


@needs_corpus
def test_front_panels_of_thousands_of_lines() -> None:
    """Its notes: four panels 35 x 111.5; 14 x 3.0, 10 x 3.1, 4 x 11, 4 x 9.5, a window 8.5 x 19."""
    drawing = read_drawing(CORPUS / "bb3__EEZ_BB3_chassis_module_panels.dxf")
    parts = [p for p in find_parts(drawing, 2.0).parts if p.height > 110 and p.width > 30]
    assert [(round(p.width, 1), p.count) for p in parts] == [(35.0, 1)] * 4
    sizes = sorted(h.diameter for p in parts for h in p.holes)
    want = [3.0] * 14 + [3.1] * 10 + [9.5] * 4 + [11.0] * 4
    assert sizes == pytest.approx(want, abs=0.051)


@needs_corpus
@pytest.mark.parametrize(
    ("name", "width", "height", "holes"),
    [
        ("rear_panel", 286.5, 118.0, [3.0] * 4 + [4.5] * 4 + [78.0]),
        ("bottom_plate_r2B1", 290.0, 240.0, [3.0] * 11 + [3.5] * 4 + [4.2] * 4),
    ],
)
def test_bent_sheets_of_thousands_of_lines(
    name: str, width: float, height: float, holes: list[float]
) -> None:
    """The main view with the holes its notes count; the side views are parts to ask about."""
    drawing = read_drawing(CORPUS / f"bb3__EEZ_BB3_chassis_{name}.dxf")
    part = max(find_parts(drawing, 1.5).parts, key=lambda p: p.area)
    assert (part.width, part.height) == (
        pytest.approx(width, abs=0.1),
        pytest.approx(height, abs=0.1),
    )
    assert sorted(h.diameter for h in part.holes) == pytest.approx(holes, abs=0.1)
