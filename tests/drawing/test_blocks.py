"""Block references: nested, scaled, mirrored, squeezed, in rows, missing, endless."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawing.making import PLATE_LENGTH, draw_plate, fact, read_made, reasons

from analyzer.budgets import Budgets
from analyzer.drawing.reading import ReadOptions
from analyzer.errors import DrawingError


def test_nested_blocks_turned_and_shifted_back(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        blocks = space.doc.blocks
        draw_plate(blocks.new("B0"))
        for k in range(1, 5):
            block = blocks.new(f"B{k}")
            block.add_blockref(f"B{k - 1}", (10, 5), dxfattribs={"rotation": 30})
        space.add_blockref("B4", (3, 4), dxfattribs={"rotation": -120})

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True] * 6
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert (drawing.account.total, drawing.account.used) == (1, 1)
    assert (drawing.in_blocks.total, drawing.in_blocks.used) == (13, 13)
    assert all(entity.in_block for source in drawing.cut_sources for entity in source)


@pytest.mark.parametrize(
    ("x", "y", "turn"), [(10, 10, 0), (-1, 1, 0), (1, -1, 33), (-2, -2, 90), (0.1, 0.1, 45)]
)
def test_scaled_and_mirrored(tmp_path: Path, x: float, y: float, turn: float) -> None:
    def draw(space: Any) -> None:
        draw_plate(space.doc.blocks.new("P", base_point=(1000, 500)))
        space.add_blockref("P", (7, 8), dxfattribs={"xscale": x, "yscale": y, "rotation": turn})

    drawing = read_made(tmp_path, draw, options=ReadOptions(units="mm"))
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH * abs(x))
    assert drawing.cuts.closed.tolist() == [True] * 6
    area = 200 * 120 - (4 - np.pi) * 100
    assert drawing.cuts.area.max() == pytest.approx(area * x * x)


def test_a_squeezed_block_pulled_back_has_circles(tmp_path: Path) -> None:
    """Half ellipses under a scale of 2 in x are arcs; arcs under it are ellipses."""

    def draw(space: Any) -> None:
        block = space.doc.blocks.new("S")
        block.add_ellipse((5, 10), (0, 8), 0.5)  # 4 wide, 8 high
        block.add_circle((30, 10), 5)
        block.add_lwpolyline([(50, 0, 1), (60, 0, 1)], format="xyb", close=True)
        space.add_blockref("S", (0, 0), dxfattribs={"xscale": 2})

    drawing = read_made(tmp_path, draw)
    first, *rest = drawing.cuts.length.tolist()
    perimeter = 48.44224110273838  # 4 * 10 * E(0.75), scipy.special.ellipe
    assert first == pytest.approx(perimeter, rel=1e-9)
    assert sorted(rest) == pytest.approx([perimeter, 16 * np.pi], rel=1e-9)


def test_rows_and_columns_and_counts_of_zero(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.blocks.new("H").add_circle((0, 0), 4)
        grid = {"row_count": 3, "column_count": 4, "row_spacing": 20, "column_spacing": 30,
                "rotation": 90, "xscale": 0.5, "yscale": 0.5}  # fmt: skip
        space.add_blockref("H", (0, 0), dxfattribs=grid)
        space.add_blockref("H", (500, 0), dxfattribs={"row_count": 0, "column_count": 0})

    drawing = read_made(tmp_path, draw)
    assert len(drawing.cuts) == 13
    box = np.concatenate((drawing.cuts.box[:, :2].min(axis=0), drawing.cuts.box[:, 2:].max(axis=0)))
    assert box[0] == pytest.approx(-42)  # rows go left when turned by 90 degrees
    assert drawing.cuts.box[:12, 3].max() == pytest.approx(92)
    assert drawing.in_blocks.total == 13
    entities = {entity for source in drawing.cut_sources for entity in source}
    assert len(entities) == 13  # every copy is its own


def test_a_scale_of_zero_upwards_does_not_matter(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.blocks.new("H").add_circle((0, 0), 4)
        space.add_blockref("H", (0, 0), dxfattribs={"zscale": 0})

    assert read_made(tmp_path, draw).cuts.length.tolist() == pytest.approx([8 * np.pi])


def test_layer_0_in_a_block_follows_the_reference(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        block = space.doc.blocks.new("L")
        block.add_line((0, 0), (10, 0))  # layer 0
        block.add_circle((30, 30), 5, dxfattribs={"layer": "CUT"})
        space.add_blockref("L", (0, 0), dxfattribs={"layer": "BEND"})

    drawing = read_made(tmp_path, draw)
    assert drawing.bends.length.tolist() == [10.0]
    assert drawing.cuts.length.tolist() == pytest.approx([10 * np.pi])


def test_what_brings_nothing_is_ignored_with_the_reason(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        draw_plate(space)
        space.doc.blocks.new("EMPTY")
        space.doc.blocks.new("WORDS").add_text("M10")
        outside = space.doc.blocks.new("OUTSIDE")
        outside.block.dxf.flags = 4
        outside.block.dxf.xref_path = "/etc/passwd"
        for name in ("EMPTY", "WORDS", "OUTSIDE", "Missing"):
            space.add_blockref(name, (0, 0))
        # the library would put 1 for 0 if it were asked politely
        space.add_blockref("WORDS", (0, 0)).dxf.unprotected_set("xscale", 0.0)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    said = " / ".join(reason for _, reason in reasons(drawing))
    for words in ("'EMPTY' is empty", "'Missing' is not in", "'OUTSIDE' is an external", "scale 0",
                  "nothing in this block is cut"):  # fmt: skip
        assert words in said
    assert drawing.account.total == 18
    assert drawing.in_blocks.total == 1
    assert "M10" in {text.text for text in drawing.texts}


def test_a_frozen_reference_hides_what_it_holds(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.layers.add("ICE").freeze()
        draw_plate(space)
        inner = space.doc.blocks.new("IN")
        inner.add_circle((60, 90), 7, dxfattribs={"layer": "CUT"})
        space.doc.blocks.new("OUT").add_blockref("IN", (0, 0))
        space.add_blockref("OUT", (0, 0), dxfattribs={"layer": "ICE"})

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    (row,) = drawing.in_blocks.ignored
    assert "ICE" in row.reason


def test_attributes_are_evidence(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.blocks.new("A").add_circle((0, 0), 4)
        space.add_blockref("A", (5, 6)).add_attrib("MATERIAL", "S355 t=8", (5, 6))

    drawing = read_made(tmp_path, draw)
    assert [(text.text, text.kind) for text in drawing.texts] == [("S355 t=8", "attribute")]
    assert drawing.account.total == 1


# --- without end ----------------------------------------------------------


def test_a_block_that_holds_itself_is_refused(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        one, two = space.doc.blocks.new("ONE"), space.doc.blocks.new("TWO")
        one.add_blockref("TWO", (0, 0))
        two.add_blockref("ONE", (0, 0))
        space.add_blockref("ONE", (0, 0))

    with pytest.raises(DrawingError, match="holds itself"):
        read_made(tmp_path, draw)


@pytest.mark.parametrize(("copies", "fits"), [(9, True), (10, False)])
def test_expansion_is_counted_before_it_is_done(tmp_path: Path, copies: int, fits: bool) -> None:
    """The limit itself is allowed, one more is not: 1 reference + 9 circles = 10."""

    def draw(space: Any) -> None:
        space.doc.blocks.new("H").add_circle((0, 0), 4)
        space.add_blockref("H", (0, 0), dxfattribs={"column_count": copies, "column_spacing": 50})

    options = ReadOptions(budgets=Budgets(entities=10))
    if fits:
        assert len(read_made(tmp_path, draw, options=options).cuts) == 9
    else:
        with pytest.raises(DrawingError, match=r"11 is over the limit entities = 10"):
            read_made(tmp_path, draw, options=options)


def test_a_billion_copies_are_refused_at_once(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        blocks = space.doc.blocks
        blocks.new("B0").add_circle((0, 0), 4)
        for k in range(1, 41):
            block = blocks.new(f"B{k}")
            block.add_blockref(f"B{k - 1}", (0, 0))
            block.add_blockref(f"B{k - 1}", (10, 0))
        space.add_blockref("B40", (0, 0))

    with pytest.raises(DrawingError, match="limit entities"):
        read_made(tmp_path, draw)


@pytest.mark.parametrize(("depth", "fits"), [(64, True), (65, False)])
def test_blocks_nested_to_the_limit(tmp_path: Path, depth: int, fits: bool) -> None:
    def draw(space: Any) -> None:
        blocks = space.doc.blocks
        blocks.new("B1").add_circle((0, 0), 4)
        for k in range(2, depth + 1):
            blocks.new(f"B{k}").add_blockref(f"B{k - 1}", (0, 0))
        space.add_blockref(f"B{depth}", (0, 0))

    if fits:
        assert len(read_made(tmp_path, draw).cuts) == 1
    else:
        with pytest.raises(DrawingError, match="block_depth = 64"):
            read_made(tmp_path, draw)


def test_copies_at_one_place_are_doubles(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.blocks.new("H").add_circle((0, 0), 4)
        space.add_blockref("H", (0, 0), dxfattribs={"column_count": 1000, "column_spacing": 0})

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.tolist() == pytest.approx([8 * np.pi])
    assert fact(drawing, "double-line").count == 999
    assert drawing.in_blocks.total == 1000
