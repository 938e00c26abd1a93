"""Pictures of sheets: copies where they lie, letters, order of cuts, pages."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from small_sheets import small_sheets

from analyzer.errors import InputError
from analyzer.report.to_png import sheet_pages, sheet_picture
from analyzer.report.to_png_words import TALL, WIDE
from analyzer.sheeting import Sheeting

ROWS = (("gusset.dxf", 4), ("cleat.dxf", 9), ("post_foot.dxf", 3))


@cache
def sheeting() -> Sheeting:
    return small_sheets(ROWS)


@cache
def first_figure() -> Figure:
    figure = Figure(figsize=(WIDE, TALL))
    sheet_pages(sheeting())[0].draw(figure)
    return figure


def test_every_copy_is_drawn_where_it_lies() -> None:
    page = sheet_pages(sheeting())[0]
    axes = next(one for one in first_figure().axes if one.get_gid() == "main")
    metal = next(c for c in axes.collections if c.get_gid() == "metal")
    boxes = np.array([path.get_extents().extents for path in metal.get_paths()])
    outlines = page.sheet.layout.outlines().box
    assert len(boxes) == len(outlines)
    assert boxes[np.lexsort(boxes.T.round(1))] == pytest.approx(
        outlines[np.lexsort(outlines.T.round(1))], abs=0.3
    )  # chords lie within a fifth of a pixel
    (sheet,) = [c for c in axes.collections if c.get_gid() == "sheet"]
    assert sheet.get_paths()[0].get_extents().extents.tolist() == [0.0, 0.0, 1000.0, 600.0]


def test_letters_stand_in_their_copies_and_in_the_list() -> None:
    page = sheet_pages(sheeting())[0]
    axes = next(one for one in first_figure().axes if one.get_gid() == "main")
    letters = [text for text in axes.texts if text.get_text() in "ABC"]
    counts = dict.fromkeys("ABC", 0)
    for text in letters:
        counts[text.get_text()] += 1
        inside = [
            (box[:2] < text.xy).all() and (text.xy < box[2:]).all()
            for box in page.sheet.layout.outlines().box
        ]
        assert any(inside)
    words = [text.get_text() for text in first_figure().texts]
    for (part, count), letter in zip(page.sheet.counts.items(), "ABC", strict=False):
        assert counts[letter] == count
        assert any(row.startswith(f"{letter} {count} x") for row in words), part


def test_moves_go_through_the_pierces_in_order() -> None:
    page = sheet_pages(sheeting())[0]
    axes = next(one for one in first_figure().axes if one.get_gid() == "main")
    (moves,) = [line for line in axes.lines if line.get_gid() == "moves"]
    assert page.one is not None
    assert np.column_stack(moves.get_data()).tolist() == page.one.plan.pierces.tolist()


def test_pdf_has_a_page_for_every_sheet_and_png_is_the_first() -> None:
    count = sum(len(job.sheets) for job in sheeting().jobs)
    assert sheet_picture(sheeting(), "pdf").count(b"/Type /Page ") == count
    png = sheet_picture(sheeting())
    assert png.startswith(b"\x89PNG")
    assert sheet_picture(sheeting()) == png


def test_nothing_to_draw_is_said() -> None:
    with pytest.raises(InputError, match="no sheet to draw"):
        sheet_picture(Sheeting(Path("none.csv"), ()))
