"""Dirt as customers send it, each kind against the clean plate of these tests.

The kinds are those of public issue threads of drawing readers and of shops' check lists:
doubles, overlaps, gaps, T-joints, shared lines, micro-segments, blocks, splines.
"""

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawing.making import (
    HOLES,
    PLATE_LENGTH,
    Tags,
    circle_tags,
    draw_plate,
    fact,
    kinds,
    line_tags,
    read_made,
    read_tags,
    reasons,
    square,
)

from analyzer.budgets import Budgets
from analyzer.drawing.drawing import Drawing
from analyzer.drawing.reading import ReadOptions, _check_reach
from analyzer.errors import DrawingError
from analyzer.geometry.contours import Contours
from analyzer.tolerances import DEFAULT


def is_the_plate(drawing: Drawing, within: float = 1e-6) -> None:
    """Six closed contours of the drawn length, nothing open."""
    assert drawing.cuts.closed.tolist() == [True] * 6
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH, abs=within)


# --- drawn more than once -------------------------------------------------


def test_a_whole_part_drawn_twice(tmp_path: Path) -> None:
    def twice(space: Any) -> None:
        draw_plate(space)
        draw_plate(space, layer="COPY")

    drawing = read_made(tmp_path, twice)
    is_the_plate(drawing)
    found = fact(drawing, "double-line")
    assert found.count == 13  # four lines, four arcs, four circles, a slot
    assert f"{PLATE_LENGTH:.3f} mm removed" in found.message
    assert (found.x, found.y) != (None, None)
    assert sum(row.count for row in drawing.account.ignored if row.reason == "drawn twice") == 13


def test_an_outline_as_lines_over_the_same_as_a_polyline(tmp_path: Path) -> None:
    def both(space: Any) -> None:
        points = [(0, 0), (80, 0), (80, 50), (0, 50)]
        space.add_lwpolyline(points, close=True)
        for a, b in zip(points, [*points[1:], points[0]], strict=True):
            space.add_line(a, b)

    drawing = read_made(tmp_path, both)
    assert drawing.cuts.length.tolist() == [260.0]
    assert reasons(drawing) == {("LINE", "drawn twice"): 4}


def test_overlapping_stretches_of_lines_and_arcs(tmp_path: Path) -> None:
    """Every side of the square runs 10 mm on into a stretch drawn again; so does a hole's arc."""

    def overlapping(space: Any) -> None:
        for tags in ((0, 0, 60, 0), (40, 0, 100, 0), (100, 0, 100, 100), (100, 100, 0, 100)):
            space.add_line(tags[:2], tags[2:])
        space.add_line((0, 100), (0, 30))
        space.add_line((0, 50), (0, 0))
        space.add_arc((50, 50), 10, 0, 200)
        space.add_arc((50, 50), 10, 180, 20)

    drawing = read_made(tmp_path, overlapping)
    assert drawing.cuts.closed.tolist() == [True, True]
    assert sorted(drawing.cuts.length) == pytest.approx([20 * np.pi, 400.0])
    overlap = 20 + 20 + 2 * np.radians(20) * 10
    assert f"{overlap:.3f} mm removed" in fact(drawing, "double-line").message


def test_facts_tell_place_and_handles(tmp_path: Path) -> None:
    """What can be found again in the drawing program is told by place and by handle."""
    lines = square(0, 0, 50)
    again = (lines[0][0], (5, "2A"), *lines[0][1:])
    nothing = [(0, "LINE"), (5, "2B"), (8, "0"), (10, 7.0), (20, 8.0), (11, 7.0), (21, 8.0)]
    loose = [(0, "LINE"), (5, "2C"), (8, "0"), (10, 90.0), (20, 0.0), (11, 90.0), (21, 9.0)]
    drawing = read_tags(tmp_path, [*lines, again, nothing, loose])
    told = {f.kind: (f.handles, f.x, f.y) for f in drawing.facts}
    assert told["double-line"] == (("2A",), 25.0, 0.0)
    assert told["zero-length"] == (("2B",), 7.0, 8.0)
    assert told["open-contour"] == (("2C",), 90.0, 0.0)


# --- nothing there --------------------------------------------------------


def test_things_without_length(tmp_path: Path) -> None:
    def with_nothings(space: Any) -> None:
        draw_plate(space)
        space.add_line((50, 50), (50, 50))
        space.add_lwpolyline([(60, 60), (60, 60)], close=True)
        space.add_open_spline([(70, 70)] * 4)
        space.add_arc((80, 80), 5, 30, 30)

    drawing = read_made(tmp_path, with_nothings)
    is_the_plate(drawing)
    assert sum(drawing_row.count for drawing_row in drawing.account.ignored) == 4
    assert {row.reason for row in drawing.account.ignored} == {"zero length"}


# --- the same contour in other words --------------------------------------


def _arc_of_360(space: Any) -> None:
    for x, y in HOLES:
        space.add_arc((x, y), 4, 0, 360)


def _ellipse_of_one(space: Any) -> None:
    for x, y in HOLES:
        space.add_ellipse((x, y), (4, 0), 1.0)


def _repeated_first_vertex(space: Any) -> None:
    for x, y in HOLES:
        points = [(x - 4, y, 1), (x + 4, y, 1), (x - 4, y, 0)]
        space.add_lwpolyline(points, format="xyb", close=True)


def _repeated_but_not_flagged(space: Any) -> None:
    for x, y in HOLES:
        space.add_lwpolyline([(x - 4, y, 1), (x + 4, y, 1), (x - 4, y, 0)], format="xyb")


def _old_polyline(space: Any) -> None:
    for x, y in HOLES:
        points = [(x - 4, y, 1), (x + 4, y, 1)]
        space.add_polyline2d(points, format="xyb", close=True)


def _quarters(space: Any) -> None:
    for x, y in HOLES:
        for first in (0, 90, 180, 270):
            space.add_arc((x, y), 4, first, first + 90)


def _from_behind(space: Any) -> None:
    for x, y in HOLES:
        space.add_circle((-x, y), 4, dxfattribs={"extrusion": (0, 0, -1)})


@pytest.mark.parametrize(
    "draw",
    [_arc_of_360, _ellipse_of_one, _repeated_first_vertex, _repeated_but_not_flagged,
     _old_polyline, _quarters, _from_behind],
)  # fmt: skip
def test_a_circle_in_other_words(tmp_path: Path, draw: Callable[[Any], None]) -> None:
    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True] * 4
    assert drawing.cuts.length == pytest.approx(8 * np.pi, abs=1e-9)
    assert drawing.cuts.centroid == pytest.approx(np.array(sorted(HOLES, key=lambda h: h[::-1])))


def test_everything_as_splines(tmp_path: Path) -> None:
    """Lines of degree 1, arcs as rational curves of degree 2: the exact lengths come back."""

    def splines(space: Any) -> None:
        from ezdxf.math import ConstructionArc, rational_bspline_from_arc

        def arc(x: float, y: float, radius: float, first: float, last: float) -> None:
            made = ConstructionArc((x, y), radius, first, last)
            curve = rational_bspline_from_arc(
                made.center, made.radius, start_angle=first, end_angle=last
            )
            space.add_spline().apply_construction_tool(curve)

        straight = (
            ((10, 0), (190, 0)), ((200, 10), (200, 110)), ((190, 120), (10, 120)),
            ((0, 110), (0, 10)), ((85, 55), (115, 55)), ((115, 65), (85, 65)),
        )  # fmt: skip
        for a, b in straight:
            space.add_open_spline([a, b], degree=1)
        for x, y, first in ((190, 10, 270), (190, 110, 0), (10, 110, 90), (10, 10, 180)):
            arc(x, y, 10, first, first + 90)
        arc(115, 60, 5, -90, 90)
        arc(85, 60, 5, 90, 270)
        for x, y in HOLES:
            arc(x, y, 4, 0, 180)
            arc(x, y, 4, 180, 360)

    is_the_plate(read_made(tmp_path, splines), 1e-4)


def test_a_traced_outline_of_24755_chords_becomes_a_few_arcs(tmp_path: Path) -> None:
    """A ring, both circles as chords as a bitmap tracer writes them: 0.02 mm each."""
    entities: list[Tags] = []
    for radius, count in ((60.0, 18_850), (18.8, 5_905)):
        turn = np.linspace(0, 2 * np.pi, count + 1)
        x, y = radius * np.cos(turn), radius * np.sin(turn)
        x[-1], y[-1] = x[0], y[0]
        points = list(zip(x.tolist(), y.tolist(), strict=True))
        entities += [line_tags(a, b) for a, b in pairwise(points)]
    assert len(entities) == 24_755
    drawing = read_tags(tmp_path, entities)
    assert drawing.cuts.closed.tolist() == [True, True]
    assert len(drawing.cuts.bulges) <= 12
    assert sorted(drawing.cuts.length) == pytest.approx([37.6 * np.pi, 120 * np.pi], rel=1e-6)
    assert drawing.account.used == 24_755
    assert "24,755 segments became" in fact(drawing, "merged").message


# --- blocks ---------------------------------------------------------------


def _plate_of_blocks(space: Any) -> None:
    """Every line and arc of the plate in a block of its own."""
    document = space.doc
    plain = document.blocks.new("WHOLE")
    draw_plate(plain)
    for number, entity in enumerate(list(plain)):
        block = document.blocks.new(f"B{number}")
        plain.unlink_entity(entity)
        block.add_entity(entity)
        space.add_blockref(f"B{number}", (0, 0))


def test_an_outline_of_one_block_per_segment(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, _plate_of_blocks)
    is_the_plate(drawing)
    assert drawing.account.used == drawing.in_blocks.used == 13
    assert all(entity.in_block for source in drawing.cut_sources for entity in source)


@pytest.mark.parametrize(
    ("scale", "expected"),
    [((1, 1, 0), PLATE_LENGTH), ((-1, 1, 1), PLATE_LENGTH), ((2, 2, 2), 2 * PLATE_LENGTH)],
)
def test_a_plate_in_a_block_under_ten_others(
    tmp_path: Path, scale: tuple[float, float, float], expected: float
) -> None:
    def nested(space: Any) -> None:
        document = space.doc
        draw_plate(document.blocks.new("L0"))
        for level in range(1, 11):
            document.blocks.new(f"L{level}").add_blockref(f"L{level - 1}", (level, -level))
        at = {"xscale": scale[0], "yscale": scale[1], "zscale": scale[2], "rotation": 33}
        space.add_blockref("L10", (7, 8), dxfattribs=at)

    drawing = read_made(tmp_path, nested)
    assert drawing.cuts.closed.tolist() == [True] * 6
    assert drawing.cuts.length.sum() == pytest.approx(expected, abs=1e-6)


def test_an_uneven_scale_makes_ellipses_of_holes(tmp_path: Path) -> None:
    """Two by one: the perimeter of an ellipse of half axes 8 and 4, by scipy's integral."""
    scipy_special = pytest.importorskip("scipy.special")

    def wide(space: Any) -> None:
        space.doc.blocks.new("HOLE").add_circle((0, 0), 4)
        space.add_blockref("HOLE", (50, 50), dxfattribs={"xscale": 2, "yscale": -1})

    drawing = read_made(tmp_path, wide)
    assert drawing.cuts.length[0] == pytest.approx(4 * 8 * scipy_special.ellipe(0.75), rel=1e-7)


def test_only_paper_space_is_said(tmp_path: Path) -> None:
    def on_paper(space: Any) -> None:
        draw_plate(space.doc.paperspace())

    drawing = read_made(tmp_path, on_paper)
    assert len(drawing.cuts) == 0
    assert drawing.account.total == 0
    words = fact(drawing, "nothing-to-cut").message
    assert "paper space" in words
    assert any(word.isdigit() and int(word) >= 13 for word in words.split())


# --- ends that do not meet ------------------------------------------------


@pytest.mark.parametrize("off", [-0.07, -0.05, -0.004, 0.004, 0.05, 0.1])
def test_corners_that_miss_by_up_to_the_join(tmp_path: Path, off: float) -> None:
    """All four corners of a square short of each other, or past each other."""
    a, b = -off, 50 + off
    entities = [
        line_tags((a, 0), (b, 0)), line_tags((50, a), (50, b)),
        line_tags((b, 50), (a, 50)), line_tags((0, b), (0, a)), circle_tags(25, 25, 5),
    ]  # fmt: skip
    drawing = read_tags(tmp_path, entities)
    assert drawing.cuts.closed.tolist() == [True, True]
    assert drawing.cuts.length.max() == pytest.approx(200.0, abs=8 * abs(off))
    said = fact(drawing, "overshoot" if off > DEFAULT.flatten else "gap-closed")
    assert said.count in (4, 8)
    assert said.x is not None


@pytest.mark.parametrize("back", [0.006, 0.02, 0.09])
@pytest.mark.parametrize("seam", [0, 1, 2, 5])
def test_a_step_back_in_a_closed_polyline_is_left_out_and_said(
    tmp_path: Path, back: float, seam: int
) -> None:
    """A plate 100 x 60 whose side goes on past (60, 0) and back, slanted, wherever it begins."""
    slant = 0.03 * back  # more than two lines on each other may part
    points = [(0, 0), (60 + back, 0), (60, slant), (100, 0), (100, 60), (0, 60)]
    points = points[seam:] + points[:seam]
    named = {"handle": "A1"}
    drawing = read_made(
        tmp_path, lambda space: space.add_lwpolyline(points, close=True, dxfattribs=named)
    )
    assert drawing.cuts.closed.tolist() == [True]
    assert drawing.cuts.length[0] == pytest.approx(320.0, abs=1e-4)
    assert len(drawing.cuts.bulges) <= 5
    found = fact(drawing, "back-step")
    assert found.count == 1
    assert f"{back:.3f} mm" in found.message
    assert (found.x, found.y) == pytest.approx((60.0, 0.0), abs=0.1)
    assert found.handles == ("A1",)


def test_a_step_back_names_the_entities_it_is_of(tmp_path: Path) -> None:
    """A polyline past (60, 0), a line back along it, and a polyline on: the last is not named."""

    def draw(space: Any) -> None:
        space.add_lwpolyline([(60.02, 0), (0, 0), (0, 60)], dxfattribs={"handle": "A1"})
        space.add_line((60.02, 0), (60, 0.0006), dxfattribs={"handle": "A2"})
        space.add_lwpolyline([(60, 0.0006), (60, 30), (60, 60), (0, 60)],
                             dxfattribs={"handle": "A3"})  # fmt: skip

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True]
    assert fact(drawing, "back-step").handles == ("A1", "A2")


def test_a_true_notch_as_narrow_is_no_step_back(tmp_path: Path) -> None:
    points = [(0, 0), (60, 0), (60, 2), (60.02, 2), (60.02, 0), (100, 0), (100, 60), (0, 60)]
    drawing = read_made(tmp_path, lambda space: space.add_lwpolyline(points, close=True))
    assert drawing.cuts.length[0] == pytest.approx(324.0, abs=1e-4)
    assert "back-step" not in [one.kind for one in drawing.facts]


def test_two_parts_with_one_line_between_them(tmp_path: Path) -> None:
    entities = [*square(0, 0, 50), *square(50, 0, 50)[:3]]
    drawing = read_tags(tmp_path, entities)
    assert sorted(drawing.cuts.length) == pytest.approx([200.0, 200.0])
    assert drawing.shared_mm == pytest.approx(50.0)
    assert fact(drawing, "shared-edge").count == 1


def test_a_cut_line_across_the_outline_is_said_with_its_place(tmp_path: Path) -> None:
    drawing = read_tags(tmp_path, [*square(0, 0, 50), line_tags((25, -10), (25, 20))])
    found = fact(drawing, "lines-cross")
    assert (found.x, found.y, found.count) == (25.0, 0.0, 1)
    assert drawing.cuts.length.sum() == pytest.approx(230.0)


# --- limits: at the limit and one below it ---------------------------------


def _limited(folder: Path, drawn: list[Tags], **limits: float) -> Drawing:
    options = ReadOptions(budgets=Budgets().changed(limits.items()))
    return read_tags(folder, drawn, options)


def _measured(folder: Path, entities: list[Tags], name: str) -> int:
    """Return what a limit counts in a drawing, as its message tells."""
    with pytest.raises(DrawingError, match=f"over the limit {name} = 1 ") as caught:
        _limited(folder, entities, **{name: 1})
    return int(re.findall(r"([\d,]+) is over", str(caught.value))[0].replace(",", ""))


@pytest.mark.parametrize("name", ["entities", "vertices", "coordinate_mm"])
def test_a_limit_lets_through_what_it_names_and_no_more(tmp_path: Path, name: str) -> None:
    entities = [*square(0, 0, 50), circle_tags(25, 25, 5)]
    count = _measured(tmp_path, entities, name)
    assert count == {"entities": 5, "vertices": 6, "coordinate_mm": 25}[name]
    assert len(_limited(tmp_path, entities, **{name: count}).cuts) == 2
    with pytest.raises(DrawingError, match=f"--limit {name}="):
        _limited(tmp_path, entities, **{name: count - 1})


def test_too_many_open_lines_are_refused_with_the_way_out(tmp_path: Path) -> None:
    rows = [line_tags((0, k), (300, k)) for k in range(20)]
    assert len(_limited(tmp_path, rows, open_lines=20).cuts) == 20
    with pytest.raises(DrawingError, match=r"limit open_lines = 19 .*mark layer"):
        _limited(tmp_path, rows, open_lines=19)


def test_the_limit_of_one_curve(tmp_path: Path) -> None:
    """An ellipse that needs more vertices than one curve may have is refused by name."""
    ellipse = _UNMARKED["ELLIPSE"][0]
    flat: Tags = [(code, 0.3 if code == 40 else value) for code, value in ellipse]
    count = len(read_tags(tmp_path, [flat]).cuts.bulges)
    assert _limited(tmp_path, [flat], curve_vertices=4 * count).cuts.closed.all()
    with pytest.raises(DrawingError, match="limit curve_vertices = 2"):
        _limited(tmp_path, [flat], curve_vertices=2)


def test_open_lines_that_cross_without_end_are_refused(tmp_path: Path) -> None:
    rows = [line_tags((0, k), (300, k)) for k in range(20)]
    rows += [line_tags((k + 0.5, -5), (k + 0.5, 305)) for k in range(20)]
    assert "in 400 places" in fact(_limited(tmp_path, rows, crossings=400), "lines-cross").message
    with pytest.raises(DrawingError, match="is over the limit crossings = 399"):
        _limited(tmp_path, rows, crossings=399)


# --- markers and versions -------------------------------------------------

_POINTS: Tags = [(10, 0.0), (20, 0.0), (10, 40.0), (20, 0.0), (10, 40.0), (20, 30.0)]
_UNMARKED: dict[str, tuple[Tags, float]] = {
    "LWPOLYLINE": ([(0, "LWPOLYLINE"), (8, "CUT"), (90, 3), (70, 1), *_POINTS], 120.0),
    "ELLIPSE": (
        [(0, "ELLIPSE"), (5, "A1"), (8, "CUT"), (10, 9.0), (20, 9.0), (11, 30.0), (21, 0.0),
         (40, 1.0), (41, 0.0), (42, 2 * np.pi)], 60 * np.pi,
    ),
    "SPLINE": (
        [(0, "SPLINE"), (8, "CUT"), (70, 0), (71, 1), *((40, k) for k in (0.0, 0.0, 1.0, 2.0, 2.0)),
         *_POINTS], 70.0,
    ),
}  # fmt: skip


@pytest.mark.parametrize("version", ["AC1006", "AC1009", "AC1012", "AC1015", "AC1032", None])
@pytest.mark.parametrize("kind", _UNMARKED)
def test_entities_without_their_marker_are_read_and_it_is_said(
    tmp_path: Path, version: str | None, kind: str
) -> None:
    tags, length = _UNMARKED[kind]
    header = [(9, "$ACADVER"), (1, version)] if version else []
    drawing = read_tags(tmp_path, [tags], header=header)
    assert drawing.cuts.length.sum() == pytest.approx(length)
    assert drawing.cut_sources[0][0].layer == "CUT"
    assert fact(drawing, "no-marker").count == 1
    assert "group 100" in fact(drawing, "no-marker").message


@pytest.mark.parametrize("version", ["AC1009", "AC1015", None])
@pytest.mark.parametrize("header", [True, False])
def test_a_light_polyline_stays_closed_whatever_the_version_says(
    tmp_path: Path, version: str | None, header: bool
) -> None:
    """The library takes one in an old drawing, or one without a header, for open."""
    tags, length = _UNMARKED["LWPOLYLINE"]
    marked = [tags[0], (100, "AcDbEntity"), tags[1], (100, "AcDbPolyline"), *tags[2:]]
    more = [(9, "$ACADVER"), (1, version)] if version and header else []
    drawing = read_tags(tmp_path, [marked], header=more, units=4 if header else None)
    assert drawing.cuts.closed.tolist() == [True]
    assert drawing.cuts.length[0] / drawing.units.factor == pytest.approx(length)
    assert "no-marker" not in kinds(drawing)


def test_the_weld_is_finer_than_what_is_joined() -> None:
    """design: snapping everything to the join distance destroys drawings of short segments."""
    assert DEFAULT.weld < DEFAULT.flatten < DEFAULT.join


def test_an_arc_made_on_the_way_is_held_to_the_size_of_the_drawing() -> None:
    """Both ends near each other, the bulge of a full turn: the box is 1e12 mm wide."""
    points = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 1e-4]])
    ring = Contours.from_points(points, np.array([0.0, 1.6e16, 0.0]))
    with pytest.raises(DrawingError, match="coordinate_mm"):
        _check_reach(ring, np.zeros(2), ReadOptions(), "a.dxf")
    _check_reach(Contours.from_points(points), np.zeros(2), ReadOptions(), "a.dxf")
