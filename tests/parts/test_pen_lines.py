"""Lines plotted with the width of their pen: rings nobody means to cut."""

from __future__ import annotations

import pytest
from geometry.shapes import rectangle, rounded
from parts.drawings import drawing
from shared import CORPUS, needs_corpus

from analyzer.drawing.drawing import Fact
from analyzer.drawing.reading import read_drawing
from analyzer.geometry.contours import Contours
from analyzer.parts.find import find_parts


def asked(*cuts: Contours) -> list[Fact]:
    """The questions about double lines."""
    return [f for f in find_parts(drawing(*cuts), 1.5).facts if f.kind == "double-line"]


def band(x: float, y: float, width: float) -> tuple[Contours, Contours]:
    """A rounded outline 80 x 50 mm drawn with a pen."""
    half = width / 2.0
    return (
        rounded(x - half, y - half, 80 + width, 50 + width, 6 + half),
        rounded(x + half, y + half, 80 - width, 50 - width, 6 - half),
    )


def test_a_plotted_outline_is_asked_about_and_cut_as_drawn() -> None:
    parts = find_parts(drawing(*band(0, 0, 0.15), *band(100, 0, 0.15)), 1.5)
    (fact,) = (f for f in parts.facts if f.kind == "double-line")
    assert fact.count == 2
    assert "2 outlines are rings 0.15 mm wide all around" in fact.message
    assert "cut as drawn, on both sides; or is one line meant?" in fact.message
    assert [part.count for part in parts.parts] == [2]
    assert parts.parts[0].pierces == 2


@pytest.mark.parametrize("width", [0.13, 0.25, 0.5])
def test_the_pens_of_the_standard(width: float) -> None:
    """ISO 128-20 lists line widths 0.13, 0.18, 0.25, 0.35, 0.5 mm and wider."""
    assert f"a ring {width:.3g} mm wide" in asked(*band(0, 0, width))[0].message


def test_what_is_no_drawn_line() -> None:
    assert asked(*band(0, 0, 0.6)) == []  # metal that thin can be meant
    assert asked(rectangle(0, 0, 60, 40), rectangle(0.2, 0.2, 58, 38)) == []  # thin at two sides
    assert asked(rectangle(0, 0, 60, 40)) == []
    inner = rectangle(0.1, 0.1, 59.8, 39.8)
    assert asked(rectangle(0, 0, 60, 40), inner, rectangle(10, 10, 5, 5)) != []  # a part within


@needs_corpus
def test_the_board_outline_of_a_real_plot() -> None:
    """24 closed double lines, 133.9 x 92.33 mm: "every edge is a closed double line"."""
    parts = find_parts(read_drawing(CORPUS / "crkbd__crkbd-Edge.Cuts.dxf"), 1.5)
    (fact,) = (f for f in parts.facts if f.kind == "double-line")
    assert fact.count == sum(part.count for part in parts.parts) == 24
    assert "24 outlines are rings 0.15 mm wide" in fact.message
