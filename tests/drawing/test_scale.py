"""Units: option, header, evidence; never a guess in silence."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawing.making import fact, kinds, read_made

from analyzer.drawing.drawing import UnitsFound
from analyzer.drawing.reading import ReadOptions
from analyzer.drawing.scale import Evidence, find_units, hole_score, odd_size
from analyzer.errors import InputError
from analyzer.geometry.contours import Contours


def plate(factor: float) -> Any:
    def draw(space: Any) -> None:
        w, h = 200 / factor, 120 / factor
        space.add_lwpolyline([(0, 0), (w, 0), (w, h), (0, h)], close=True)
        for x, y in ((15, 15), (185, 15), (185, 105), (15, 105)):
            space.add_circle((x / factor, y / factor), 4.5 / factor)

    return draw


@pytest.mark.parametrize(
    ("code", "factor", "name"),
    [(4, 1.0, "mm"), (1, 25.4, "in"), (5, 10.0, "cm"), (6, 1000.0, "m"), (2, 304.8, "ft")],
)
def test_the_header_is_believed(tmp_path: Path, code: int, factor: float, name: str) -> None:
    drawing = read_made(tmp_path, plate(factor), units=code)
    assert (drawing.units.name, drawing.units.source) == (name, "header")
    assert drawing.units.factor == pytest.approx(factor)
    assert drawing.cuts.length.sum() == pytest.approx(640 + 36 * np.pi)
    assert drawing.facts == ()


@pytest.mark.parametrize("code", [0, 99, None])
@pytest.mark.parametrize(("factor", "name"), [(1.0, "mm"), (25.4, "in"), (10.0, "cm")])
def test_without_a_header_the_sizes_decide_and_it_is_said(
    tmp_path: Path, code: int | None, factor: float, name: str
) -> None:
    """Holes of 9 mm are ISO 273 medium for M8; in another unit they are no usual holes."""
    drawing = read_made(tmp_path, plate(factor), units=code)
    assert (drawing.units.name, drawing.units.source) == (name, "evidence")
    said = fact(drawing, "unit-guessed").message
    assert f"taken as {name}: 200.0 x 120.0 mm" in said


@pytest.mark.parametrize(
    ("code", "claimed"), [(1, "5,080.0 x 3,048.0"), (6, "200,000.0 x 120,000.0")]
)
def test_a_header_that_sizes_contradict(tmp_path: Path, code: int, claimed: str) -> None:
    """Millimetres drawn, inches or metres claimed: both sizes are told."""
    drawing = read_made(tmp_path, plate(1.0), units=code)
    assert drawing.units.name == "mm"
    said = fact(drawing, "unit-guessed").message
    assert claimed in said
    assert "200.0 x 120.0 mm" in said


def test_a_large_sheet_in_inches_stays_in_inches(tmp_path: Path) -> None:
    """A 120 x 60 in sheet of plates is usual."""

    def draw(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (118, 0), (118, 58), (0, 58)], close=True)
        space.add_circle((20, 20), 0.5)

    drawing = read_made(tmp_path, draw, units=1)
    assert drawing.units.name == "in"
    assert drawing.facts == ()


@pytest.mark.parametrize(
    ("width", "height", "said"),
    [(6001, 300, True), (6000, 300, False), (5.0, 3.0, False), (4.9, 3.0, True)],
)
def test_a_contour_of_an_odd_size_is_said_even_if_the_header_is_kept(
    width: float, height: float, said: bool
) -> None:
    """More than 6 m or less than 5 mm."""
    plates = Contours.from_points([[0, 0], [width, 0], [width, height], [0, height]])
    facts = odd_size(UnitsFound("mm", "header", 1.0), plates)
    assert bool(facts) == said
    if said:
        assert f"{width:,.1f} x {height:,.1f} mm, an odd size; as" in facts[0].message
    assert odd_size(UnitsFound("mm", "option", 1.0), plates) == []


def test_many_parts_on_one_drawing_are_no_odd_size(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        for k in range(40):
            space.add_lwpolyline(
                [(k * 300, 0), (k * 300 + 200, 0), (k * 300 + 200, 90)], close=True
            )

    assert read_made(tmp_path, draw).facts == ()


def test_nothing_to_tell_the_unit_by_is_said(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, lambda m: m.add_text("M10"), units=None)
    assert "nothing to tell it by" in fact(drawing, "unit-guessed").message


@pytest.mark.parametrize("name", ["mm", "in", "inch", "CM", '"'])
def test_the_option_wins_in_silence(tmp_path: Path, name: str) -> None:
    drawing = read_made(tmp_path, plate(1.0), units=1, options=ReadOptions(units=name))
    assert drawing.units.source == "option"
    factor = {"mm": 1, "in": 25.4, "inch": 25.4, "CM": 10, '"': 25.4}[name]
    assert drawing.cuts.length.sum() == pytest.approx(factor * (640 + 36 * np.pi))
    assert kinds(drawing) == []


def test_an_unknown_unit_names_the_known_ones() -> None:
    with pytest.raises(InputError, match=r"'ell' is not known.*mm"):
        find_units("ell", Evidence(1.0, 1.0, np.zeros(0), (), None, None))


def test_words_are_evidence() -> None:
    """The same 16 x 12: a note in inches, a note in millimetres."""

    def named(words: str) -> str:
        evidence = Evidence(16.0, 12.0, np.zeros(0), (words,), None, None)
        return find_units(None, evidence)[0].name

    assert named('1/8" plate') == "in"
    assert named("t = 3 mm") == "mm"


def test_usual_holes() -> None:
    """ISO 273:1979 (M5 to M16 medium) and ISO 2306:1972 (tap drills M5, M8)."""
    assert hole_score(np.array([5.5, 6.6, 9.0, 11.0, 13.5, 17.5, 4.2, 6.8])) == 1.0
    assert hole_score(np.array([5.5, 9.0]) / 25.4) == -1.0
    assert hole_score(np.array([5.5, 9.0]) * 25.4) < 0
    assert hole_score(np.array([25.4 / 4, 25.4 * 5 / 16])) == 0.5
    assert hole_score(np.zeros(0)) == 0.0
