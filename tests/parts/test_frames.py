"""Rectangles around everything: paper frames (ISO 216, ISO 5457, ASME Y14.1), sheets, parts."""

import numpy as np
import pytest
from parts.drawings import drawing

from analyzer.geometry.contours import Contours
from analyzer.parts.find import find_parts


def box(x: float, y: float, w: float, h: float) -> Contours:
    return Contours.from_points([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])


def bracket(x: float, y: float) -> Contours:
    return Contours.join([box(x, y, 80, 50), Contours.circle(x + 20, y + 25, 5)])


def words(sheet: Contours, turned: bool = False) -> tuple[int, list[str]]:
    if turned:
        sheet = sheet.moved(np.array([[0.0, -1.0], [1.0, 0.0]]))
    found = find_parts(drawing(sheet), 5.0)
    said = [f.message for f in found.drawing.facts if f.kind == "view-not-part"]
    assert found.drawing.account.total == len(sheet)
    return sum(part.count for part in found.parts), said


@pytest.mark.parametrize(
    ("frames", "name"),
    [
        (((0, 0, 420, 297),), "ISO A3"),
        (((0, 0, 420, 297), (20, 10, 390, 277)), "ISO A3"),
        (((-500, -300, 1189, 841),), "ISO A0"),
        (((0, 0, 2970, 2100),), "ISO A2 at 1:5"),
        (((0, 0, 431.8, 279.4),), "ASME B"),
    ],
)
@pytest.mark.parametrize("turned", [False, True])
def test_paper_around_a_part_is_no_part(
    frames: tuple[tuple[float, float, float, float], ...], name: str, turned: bool
) -> None:
    count, said = words(Contours.join([*(box(*f) for f in frames), bracket(60, 60)]), turned)
    assert count == 1
    assert len(said) == len(frames)
    assert all(name in s and "or is it a part" in s for s in said)


def test_a_stock_sheet_around_parts_is_no_part() -> None:
    sheet = Contours.join([box(0, 0, 3000, 1500), bracket(20, 20), bracket(200, 20)])
    count, said = words(sheet)
    assert count == 2
    assert "outline of the sheet" in said[0]


def test_any_rectangle_around_parts_is_asked_about_and_cut() -> None:
    sheet = Contours.join([box(0, 0, 640, 410), bracket(20, 20), bracket(200, 20)])
    count, said = words(sheet)
    assert count == 3  # the rectangle, and what the circles leave in its cut-outs
    assert "--layer sheet=NAME" in said[0]


@pytest.mark.parametrize("size", [(420, 297), (3000, 1500), (640, 410)])
def test_a_plate_with_holes_is_a_part_whatever_its_size(size: tuple[float, float]) -> None:
    holes = [Contours.circle(50 + 40 * k, 60, 6) for k in range(5)] + [box(60, 120, 90, 40)]
    count, said = words(Contours.join([box(0, 0, *size), *holes]))
    assert (count, said) == (1, [])
