"""Views in projection: asked about where a drawing is dimensioned, and nowhere else."""

from pathlib import Path
from typing import Any

import pytest
from drawing.making import read_made
from shared import CORPUS, needs_corpus

from analyzer.drawing.drawing import CUT_FOR_NOW, Fact
from analyzer.drawing.reading import read_drawing
from analyzer.parts.find import find_parts

FRONT, SIDE, TOP = (0, 0, 90, 140), (120, 0, 40, 140), (0, 170, 90, 40)


def questions(
    folder: Path, *boxes: tuple[float, float, float, float], told: str = "dimension"
) -> list[Fact]:
    def draw(space: Any) -> None:
        for x, y, w, h in boxes:
            space.add_lwpolyline([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], close=True)
        if told == "dimension":
            space.add_linear_dim((0, -20), (0, 0), (90, 0)).render()
        if told == "centre line":
            space.doc.linetypes.add("CENTER", [1.0, 0.5, -0.5])
            space.add_line((45, -9), (45, 150), dxfattribs={"linetype": "CENTER"})

    facts = find_parts(read_made(folder, draw), 5.0).facts
    return [fact for fact in facts if fact.kind == "view-not-part"]


@pytest.mark.parametrize("told", ["dimension", "centre line"])
def test_side_and_top_view_are_asked_about_and_stay_parts(tmp_path: Path, told: str) -> None:
    said = questions(tmp_path, FRONT, SIDE, TOP, told=told)
    assert [fact.message.split(":")[0] for fact in said] == [
        "P2 40 x 140 lies in line with P1, 140 in common",
        "P3 90 x 40 lies in line with P1, 90 in common",
    ]
    assert "cut as a part; or is it another view" in said[0].message
    assert (said[0].x, said[0].y) == (140.0, 70.0)


@pytest.mark.parametrize(
    "boxes",
    [
        pytest.param((FRONT, (120, 0, 90, 140)), id="two of one part"),
        pytest.param((FRONT, (120, 0, 80, 140)), id="nearly as large: two parts in a row"),
        pytest.param((FRONT, (120, 5, 40, 140)), id="not in line"),
        pytest.param((FRONT, (120, 0, 40, 120)), id="no side in common"),
        pytest.param((FRONT, (20, 0, 40, 140)), id="on each other"),
        pytest.param(
            (FRONT, *((120.0 + 60 * k, 0.0, 40.0, 140.0) for k in range(6))), id="a row of parts"
        ),
    ],
)
def test_parts_are_no_views(tmp_path: Path, boxes: Any) -> None:
    assert questions(tmp_path, *boxes) == []


def test_nothing_is_asked_of_a_drawing_for_cutting(tmp_path: Path) -> None:
    assert questions(tmp_path, FRONT, SIDE, TOP, told="") == []


def test_a_view_in_pieces_is_one_view(tmp_path: Path) -> None:
    """The front view is parted by its bend lines."""
    said = questions(tmp_path, (0, 0, 90, 100), (0, 100, 90, 40), SIDE)
    assert [f.message.split(",")[0] for f in said] == ["P2 40 x 140 lies in line with P1 and P3"]


@needs_corpus
@pytest.mark.parametrize(
    ("name", "views"),
    [
        ("bb3__EEZ_BB3_chassis_rear_panel", ["11 x 118", "11 x 118", "286.5 x 11"]),
        ("m17rru__moxa_foot", ["9 x 12", "12 x 30"]),  # dimensioned 30, 12, 9, sheet 1
        ("m17rru__chassis", []),  # 51 outlines
        ("prusa3__mini-plate", []),
    ],
)
def test_real_drawings(name: str, views: list[str]) -> None:
    parts = find_parts(read_drawing(CORPUS / f"{name}.dxf"), 1.5)
    said = [f.message for f in parts.facts if "another view" in f.message]
    assert len(said) == len(views)
    assert all(
        f"{view} lie" in words.replace(",", "") for view, words in zip(views, said, strict=True)
    )


def test_a_dimensioned_drawing_of_many_outlines_is_asked_about_as_a_whole(tmp_path: Path) -> None:
    row = tuple((60.0 * k, 0.0, 40.0, 30.0 + k) for k in range(25))
    (fact,) = questions(tmp_path, *row)
    assert fact.message.startswith("25 outlines with 1 dimension: an assembly")
    assert "All are cut as drawn; or which of them are parts?" in fact.message
    assert fact.sort == CUT_FOR_NOW
    assert questions(tmp_path, *row, told="") == []
    assert questions(tmp_path, *row, told="centre line") == []


@needs_corpus
def test_the_general_arrangement_of_an_enclosure() -> None:
    """51 outlines, 2 DIMENSION, 4 HATCH, 46 TEXT with a hole table: "not a cut file"."""
    parts = find_parts(read_drawing(CORPUS / "m17rru__chassis.dxf"), 1.5)
    said = [fact.message for fact in parts.facts if "an assembly" in fact.message]
    assert said == [
        "51 outlines with 2 dimensions, 4 hatches and 46 notes: an assembly with its views and "
        "details? All are cut as drawn; or which of them are parts?"
    ]
