"""Dimensions as evidence: what they say against the distance they measure."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawing.making import fact, kinds, read_made

from analyzer.drawing.dimensions import sizes_said
from analyzer.drawing.reading import ReadOptions


def plate(texts: tuple[str, ...], w: float = 100.0, h: float = 60.0, **style: float) -> Any:
    """A plate with a dimension along its lower and one along its left edge."""

    def draw(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (w, 0), (w, h), (0, h)], close=True)
        for text, end, angle in zip(texts, ((w, 0), (0, h)), (0, 90), strict=False):
            space.add_linear_dim(
                (-w / 10, -h / 10), (0, 0), end, angle=angle, text=text, override=dict(style)
            ).render()

    return draw


def test_texts_that_say_what_is_drawn_are_no_finding(tmp_path: Path) -> None:
    for texts in (("<>", "<>"), ("100", "60.0"), ("2x <>", "60 ±0.1"), ("100 H7", "(60)")):
        drawing = read_made(tmp_path, plate(texts))
        assert (drawing.dimensions.count, drawing.dimensions.disputed) == (2, ())
        assert drawing.dimensions.scales == ()
        assert kinds(drawing) == []


def test_a_text_typed_over_another_size(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, plate(("120", "<>")))
    (one,) = drawing.dimensions.disputed
    assert (one.text, one.said, one.drawn) == ("120", 120.0, pytest.approx(100.0))
    assert (one.x, one.y) == pytest.approx((50.0, -6.0), abs=5.0)
    assert drawing.cuts.box[0].tolist() == pytest.approx([0, 0, 100, 60])  # drawn, not obeyed


@pytest.mark.parametrize("text", ["see note 3", "M6", "45°", " ", "A-A", "10 x 45°"])
def test_words_that_are_no_size_dispute_nothing(tmp_path: Path, text: str) -> None:
    assert read_made(tmp_path, plate((text, "<>"))).dimensions.disputed == ()


@pytest.mark.parametrize("code", [4, 1, None])
def test_millimetres_written_on_inches_tell_the_unit(tmp_path: Path, code: int | None) -> None:
    """8 x 5 drawn, 203.2 and 127 written: 25.4 is a unit and no scale."""
    drawing = read_made(tmp_path, plate(("203.2", "127"), 8.0, 5.0), units=code)
    assert drawing.units.name == "in"
    assert drawing.dimensions.disputed == ()
    if code == 1:
        assert drawing.facts == ()
    else:
        said = fact(drawing, "unit-guessed").message
        assert "taken as in: 203.2 x 127.0 mm" in said
        assert ("8.0 x 5.0 mm" if code == 4 else "as cm it is 80.0 x 50.0 mm") in said


def test_inches_written_on_millimetres(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, plate(("8.00", "5.00"), 203.2, 127.0), units=None)
    assert drawing.units.name == "mm"
    assert drawing.dimensions.disputed == ()


def test_ten_times_what_is_drawn_is_said_with_both_sizes(tmp_path: Path) -> None:
    """Centimetres, or a drawing at 1:10: the header is kept, and it is asked."""
    drawing = read_made(tmp_path, plate(("1000", "600")))
    assert drawing.units.name == "mm"
    said = fact(drawing, "unit-guessed").message
    assert "10 times what is drawn" in said
    assert "1,000.0 x 600.0 mm" in said
    assert "taken as mm: 100.0 x 60.0 mm" in said


def test_the_option_wins_over_dimensions(tmp_path: Path) -> None:
    draw = plate(("203.2", "127"), 8.0, 5.0)
    drawing = read_made(tmp_path, draw, options=ReadOptions(units="mm"))
    assert (drawing.units.name, drawing.units.source) == ("mm", "option")


def test_the_length_factor_of_the_style_is_a_scale(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, plate(("<>", "<>"), dimlfac=2.0))
    assert drawing.dimensions.scales == ((2.0, 2),)
    assert drawing.dimensions.disputed == ()
    assert {t.text for t in drawing.texts if t.kind == "dimension"} == {"200", "120"}


def test_texts_alone_can_tell_a_scale(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, plate(("500", "300")))
    assert drawing.dimensions.scales == ((5.0, 2),)
    assert drawing.dimensions.disputed == ()


def test_one_wrong_text_is_no_scale(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, plate(("200",)))
    assert drawing.dimensions.scales == ()
    assert len(drawing.dimensions.disputed) == 1


def test_the_text_in_the_block_is_what_is_read_on_the_print(tmp_path: Path) -> None:
    """A program that drew 90 and never again: the geometry was changed afterwards."""

    def draw(space: Any) -> None:
        space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
        dimension = space.add_linear_dim((0, -9), (0, 0), (100, 0)).render().dimension
        for entity in dimension.get_geometry_block():
            if entity.dxftype() == "MTEXT":
                entity.text = r"{\H2.5;90}"

    (one,) = read_made(tmp_path, draw).dimensions.disputed
    assert (one.said, one.drawn) == (90.0, pytest.approx(100.0))


def test_one_text_in_the_other_system_is_no_dispute(tmp_path: Path) -> None:
    """One in mm and one in inches on a drawing in inches: both say what is drawn."""
    drawing = read_made(tmp_path, plate(("203.2", "5.00"), 8.0, 5.0), units=1)
    assert drawing.units.name == "in"
    assert drawing.dimensions.disputed == ()


@pytest.mark.parametrize(
    "text", ["9" * 400, "1e309", "\\S" * 60000, "12" + "+" * 60000, "{" * 60000, "٣", "-5", "0.0"]
)
def test_odd_texts_are_read_in_time_and_stay_finite(tmp_path: Path, text: str) -> None:
    drawing = read_made(tmp_path, plate((text, "<>")))
    assert all(np.isfinite((d.said, d.drawn)).all() for d in drawing.dimensions.disputed)


def test_sizes_said() -> None:
    for text, size in (
        ("Ø8", 8.0), ("4x Ø9,5", 9.5), ("R10", 10.0), ("120 mm", 120.0), ("12 H7", 12.0),
        ("30 +0.1 -0.2", 30.0), ("3x45°", None), ("M8", None), ("100 200", None),
    ):  # fmt: skip
        said = sizes_said(text).size
        assert (said[0] if said else None) == size, text
