"""Sheets drawn from known placements are read back: the same copies, gaps, margins and times."""

from collections.abc import Sequence
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion.outlines import part_of, plate_with_holes, setting
from parts.drawings import drawing
from shared import CORPUS, needs_corpus

from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.read_sheet import DrawnSheet, drawn_sheet, read_sheet
from analyzer.motion.sheet import plan_sheet
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part
from analyzer.process.machine import Machine

STIFF = Machine(jerk=1e9)
ELL = part_of(
    Contours.from_points([[0, 0], [200, 0], [200, 60], [60, 60], [60, 140], [0, 140]]),
    Contours.circle(170, 30, 5.5).reversed(),
)
PLATE = plate_with_holes(120, 80, [(20, 20, 10), (100, 60, 8)])
DISC = part_of(Contours.circle(0, 0, 40), Contours.circle(0, 0, 12).reversed())
PARTS = (ELL, PLATE, DISC)
PLACED = (
    Placement(0, 20, 20), Placement(0, 480, 180, 180.0), Placement(0, 400, 220, 37.0),
    Placement(1, 600, 30), Placement(1, 850, 30, 90.0), Placement(1, 900, 150, 12.5),
    Placement(2, 80, 250), Placement(2, 200, 260), Placement(0, 230, 400, 0.0, mirrored=True),
)  # fmt: skip


def lines_on(placed: Sequence[Placement], parts: Sequence[Part] = PARTS) -> Contours:
    return Contours.join([p.contours(parts[p.part].contours) for p in placed])


def rectangle(x: float, y: float, a: float, b: float) -> Contours:
    return Contours.from_points([[x, y], [x + a, y], [x + a, y + b], [x, y + b]])


def matches(sheet: DrawnSheet, placed: Sequence[Placement], parts: Sequence[Part] = PARTS) -> None:
    """Every copy read covers one copy drawn: their contours lie on one another."""
    assert len(sheet.layout.placements) == len(placed)

    def prints(one: Placement, part: Part) -> tuple[float, ...]:
        c = one.contours(part.contours)
        weight = np.abs(c.area)
        middle = (c.centroid * weight[:, None]).sum(axis=0) / weight.sum()
        return (*c.box[0], *middle, float(c.area.sum()), float(c.length.sum()))

    read = [prints(p, sheet.layout.parts[p.part]) for p in sheet.layout.placements]
    drawn = [prints(p, parts[p.part]) for p in placed]
    shift = np.array([*sheet.corner, *sheet.corner, *sheet.corner, 0.0, 0.0])
    read = [tuple(np.array(row) + shift) for row in read]
    one, other = (np.array(sorted(np.round(rows, 4).tolist())) for rows in (read, drawn))
    np.testing.assert_allclose(one, other, atol=1e-3)


def test_copies_are_read_where_they_lie() -> None:
    sheet = drawn_sheet(drawing(lines_on(PLACED)), 5.0)
    matches(sheet, PLACED)
    assert [part.count for part in sheet.layout.parts] == [3, 3, 2, 1]  # the other hand apart
    assert sheet.outline_from == ""
    assert (sheet.layout.length_mm, sheet.layout.width_mm) == (0.0, 0.0)
    assert np.isinf(sheet.spaces.margins).all()
    assert "margins are not judged" in sheet.facts[0].message


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 2), st.floats(0, 360), st.booleans()), min_size=1,
                max_size=12))  # fmt: skip
def test_any_turn_is_read_back(rows: list[tuple[int, float, bool]]) -> None:
    placed = [
        Placement(part, 300.0 + 450.0 * (k % 4), 300.0 + 450.0 * (k // 4), turn, mirrored)
        for k, (part, turn, mirrored) in enumerate(rows)
    ]
    matches(drawn_sheet(drawing(lines_on(placed)), 5.0), placed)


@pytest.mark.parametrize(("placed", "moves"), [(PLACED[:6], 1e-6), (PLACED[:8], 5e-3)])
def test_times_are_those_of_the_layout_drawn(placed: tuple[Placement, ...], moves: float) -> None:
    """The same seconds as planning the placements themselves, in every term.

    A disc is entered where its line begins, which the reader puts lowest: the moves to it differ.
    """
    frame = rectangle(0, 0, 1500, 3000)
    sheet = drawn_sheet(drawing(frame, lines_on(placed)), 5.0)
    truth = Layout(PARTS, placed, 1500.0, 3000.0)
    read, known = (plan_sheet(which, setting(), STIFF, 5.0) for which in (sheet.layout, truth))
    for name, value in known.timing.terms().items():
        assert read.timing.terms()[name] == pytest.approx(value, rel=moves, abs=1e-9), name
    assert read.timing.cut == pytest.approx(known.timing.cut, rel=1e-9)
    assert read.pierces_count == known.pierces_count


# --- the outline of the sheet ------------------------------------------------------


@pytest.mark.parametrize(("x", "y"), [(0.0, 0.0), (-700.0, 1200.0)])
def test_a_stock_rectangle_is_the_sheet(x: float, y: float) -> None:
    lines = lines_on(PLACED).moved(np.eye(2), (x, y))
    sheet = drawn_sheet(drawing(rectangle(x - 10, y - 40, 1500, 3000), lines), 5.0)
    assert sheet.outline_from == "evidence"
    assert not sheet.remnant
    assert (sheet.layout.length_mm, sheet.layout.width_mm) == (1500.0, 3000.0)
    assert sheet.corner == pytest.approx((x - 10, y - 40))
    matches(sheet, [Placement(p.part, p.x + x, p.y + y, p.turn_deg, p.mirrored) for p in PLACED])
    assert sheet.spaces.least_margin == pytest.approx(30.0)
    assert sheet.parts.drawing.account.total == len(sheet.parts.drawing.cuts) + 1


def test_discs_without_holes_on_a_stock_sheet_are_parts() -> None:
    """No part has a cut-out, so nothing but the size speaks: large discs are no holes."""
    discs = [Contours.circle(200.0 * k + 200.0, 200.0, 80.0) for k in range(6)]
    sheet = drawn_sheet(drawing(rectangle(0, 0, 2000, 1000), *discs), 5.0)
    assert sheet.outline_from == "evidence"
    assert [p.count for p in sheet.layout.parts] == [6]


def test_a_perforated_plate_of_stock_size_stays_a_part() -> None:
    holes = [Contours.circle(100.0 * k + 100.0, 200.0, 10.0) for k in range(6)]
    sheet = drawn_sheet(drawing(rectangle(0, 0, 2000, 1000), *holes), 5.0)
    assert sheet.outline_from == ""
    assert [len(p.contours) for p in sheet.layout.parts] == [7]
    told = drawn_sheet(drawing(rectangle(0, 0, 2000, 1000), *holes), 5.0, sheet=(2000.0, 1000.0))
    assert told.outline_from == "evidence"
    assert [p.count for p in told.layout.parts] == [6]


def test_a_remnant_is_the_line_around_parts_with_cut_outs() -> None:
    corner_gone = Contours.from_points(
        [[-20, -20], [1400, -20], [1400, 300], [1000, 600], [-20, 600]]
    )
    sheet = drawn_sheet(drawing(corner_gone, lines_on(PLACED)), 5.0)
    assert sheet.remnant
    assert "remnant" in " ".join(f.message for f in sheet.parts.drawing.facts)
    matches(sheet, PLACED)
    by_hand = np.inf
    for p in PLACED:  # distance to the slanted side, the nearest one for none of them
        by_hand = min(by_hand, float(p.contours(PARTS[p.part].contours).box[0, :2].min()) + 20.0)
    assert sheet.spaces.least_margin == pytest.approx(by_hand)


def test_paper_around_the_sheet_is_neither() -> None:
    sheet = drawn_sheet(
        drawing(rectangle(-200, -200, 5945, 4205), rectangle(0, 0, 1500, 3000), lines_on(PLACED)),
        5.0,
    )  # fmt: skip
    assert (sheet.layout.length_mm, sheet.layout.width_mm) == (1500.0, 3000.0)
    matches(sheet, PLACED)


def test_the_size_given_begins_at_the_origin_where_that_holds_all() -> None:
    sheet = drawn_sheet(drawing(lines_on(PLACED)), 5.0, sheet=(1200.0, 800.0))
    assert sheet.outline_from == "option"
    assert sheet.corner == (0.0, 0.0)
    assert sheet.spaces.least_margin == pytest.approx(20.0)
    turned = drawn_sheet(drawing(lines_on(PLACED)), 5.0, sheet=(800.0, 1200.0))
    assert (turned.layout.length_mm, turned.layout.width_mm) == (1200.0, 800.0)


def test_a_size_that_may_lie_anywhere_is_said_to_be_a_guess() -> None:
    lines = lines_on(PLACED).moved(np.eye(2), (-3000.0, 50.0))
    sheet = drawn_sheet(drawing(lines), 5.0, sheet=(1200.0, 800.0))
    assert [f.kind for f in sheet.facts] == ["sheet-place-unknown"]
    assert "guess" in sheet.facts[0].message
    small = drawn_sheet(drawing(lines), 5.0, sheet=(500.0, 400.0))
    assert [f.kind for f in small.facts] == ["sheet-too-small"]
    assert small.spaces.least_margin < 0.0


def test_two_readings_of_one_size_are_said() -> None:
    sheet = drawn_sheet(
        drawing(rectangle(0, 0, 1500, 3000), lines_on(PLACED)), 5.0, sheet=(2500.0, 1250.0)
    )
    assert "sheet-size-disagrees" in {f.kind for f in sheet.facts}
    assert sheet.layout.length_mm == 1500.0


# --- gaps, common lines, skeleton ---------------------------------------------------


def test_common_lines_and_skeleton_cuts_are_read() -> None:
    cut = Contours.from_points([[500.0, 0.0], [500.0, 40.0]], closed=False)
    two = lines_on((Placement(1, 20, 20), Placement(1, 140, 20)))
    sheet = drawn_sheet(drawing(two, cut), 5.0, sheet=(1000.0, 500.0))
    assert len(sheet.shared) == 1
    assert sheet.shared.total_mm == pytest.approx(80.0)
    assert len(sheet.skeleton) == 1
    assert {f.kind for f in sheet.facts} >= {"common-lines", "skeleton-cuts"}
    assert np.isinf(sheet.spaces.least_gap)


@pytest.mark.outside("Gaps on a drawn sheet [mm]", "closed form, by hand")
def test_gaps_are_exact() -> None:
    """A disc and a corner, two parallel sides, two discs: by hand."""
    placed = (Placement(2, 100, 100), Placement(2, 100, 187.5), Placement(1, 143.25, 60))
    sheet = drawn_sheet(drawing(lines_on(placed)), 5.0)
    rows = {tuple(sorted(pair)): gap for pair, gap in
            zip(sheet.spaces.copies.tolist(), sheet.spaces.gaps.tolist(), strict=True)}  # fmt: skip
    assert sorted(rows.values()) == pytest.approx(
        sorted([7.5, 3.25, float(np.hypot(43.25, 47.5)) - 40.0])
    )


# --- from a file -----------------------------------------------------------------------


def write(path: Path, *, sheet_layer: str, shared_once: bool) -> Path:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    document.layers.add(sheet_layer)
    space.add_lwpolyline(
        [(50, 50), (1050, 50), (1050, 550), (50, 550)], close=True,
        dxfattribs={"layer": sheet_layer},
    )  # fmt: skip
    for x in (80, 200):
        space.add_lwpolyline([(x, 80), (x + 120, 80), (x + 120, 160), (x, 160)], close=True)
        space.add_circle((x + 30, 120), 8)
    if not shared_once:
        space.add_line((400, 80), (400, 50))
    document.saveas(path)
    return path


@pytest.mark.parametrize("layer", ["SHEET", "nothing"])
def test_a_file_with_a_sheet_layer(tmp_path: Path, layer: str) -> None:
    path = write(tmp_path / "sheet.dxf", sheet_layer=layer, shared_once=True)
    told = ReadOptions(layer_roles=(("sheet", "nothing"),))
    sheet = drawn_sheet(read_drawing(path, told), 5.0)
    assert sheet.outline_from == "layer"
    assert (sheet.layout.length_mm, sheet.layout.width_mm) == pytest.approx((1000.0, 500.0))
    assert sheet.corner == pytest.approx((50.0, 50.0))
    assert [p.count for p in sheet.layout.parts] == [2]
    assert sheet.shared.total_mm == pytest.approx(80.0)
    assert sheet.spaces.least_margin == pytest.approx(30.0)
    plan = plan_sheet(sheet.layout, setting(), STIFF, 5.0, common=sheet.shared)
    assert plan.pierces_count == 3  # two holes, one outline


def test_a_skeleton_cut_to_the_edge_of_a_sheet_layer(tmp_path: Path) -> None:
    path = write(tmp_path / "sheet.dxf", sheet_layer="SHEET", shared_once=False)
    sheet = drawn_sheet(read_drawing(path), 5.0)
    assert sheet.skeleton.length.tolist() == pytest.approx([30.0])
    assert [p.count for p in sheet.layout.parts] == [2]


def plates(path: Path, double: bool) -> Path:
    """Four plates about a corner, drawn whole: every common line twice; or one thing more."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for x in (20, 140):
        for y in (20, 100):
            space.add_lwpolyline([(x, y), (x + 120, y), (x + 120, y + 80), (x, y + 80)], close=True)
            space.add_circle((x + 30, y + 40), 8)
    if double:
        space.add_circle((50, 60), 8)
    document.saveas(path)
    return path


def test_lines_drawn_by_both_parts_are_common_lines_and_no_doubles(tmp_path: Path) -> None:
    sheet = drawn_sheet(read_drawing(plates(tmp_path / "a.dxf", double=False)), 5.0)
    assert sheet.shared.total_mm == pytest.approx(2 * (120.0 + 80.0))
    assert sheet.parts.drawing.doubled_mm == pytest.approx(400.0)
    assert "double-line" not in {f.kind for f in sheet.parts.drawing.facts}
    more = drawn_sheet(read_drawing(plates(tmp_path / "b.dxf", double=True)), 5.0)
    assert "double-line" in {f.kind for f in more.parts.drawing.facts}


def test_parts_across_a_corner_of_common_lines_are_joined(tmp_path: Path) -> None:
    """Four plates meet at a point: all six pairs touch, none is too close."""
    spaces = drawn_sheet(read_drawing(plates(tmp_path / "a.dxf", double=False)), 5.0).spaces
    assert len(spaces.copies) == 6
    assert spaces.joined.all()
    assert not spaces.overlaps.any()


def test_parts_that_touch_at_a_corner_alone_are_not_joined() -> None:
    placed = (Placement(1, 20, 20), Placement(1, 140, 100), Placement(1, 400, 20),
              Placement(1, 520, 20))  # fmt: skip
    spaces = drawn_sheet(drawing(lines_on(placed)), 5.0).spaces
    touching = spaces.gaps == 0.0
    assert spaces.joined[touching].tolist().count(False) == 1


def test_scrap_between_two_skeleton_cuts_is_asked_about(tmp_path: Path) -> None:
    """Two lines from side to side close a loop; a strip that reaches corners is a part."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for x in (0, 150):
        space.add_lwpolyline([(x, 0), (x + 100, 0), (x + 100, 80), (x, 80)], close=True)
        space.add_circle((x + 50, 40), 10)
    for y in (20, 60):
        space.add_line((100, y), (150, y))
    document.saveas(tmp_path / "a.dxf")
    asked = [f for f in drawn_sheet(read_drawing(tmp_path / "a.dxf"), 5.0).facts
             if f.kind == "view-not-part"]  # fmt: skip
    assert [f.count for f in asked] == [1]
    assert (asked[0].x, asked[0].y) == pytest.approx((125.0, 40.0))
    three = (Placement(1, 20, 20), Placement(1, 140, 20), Placement(1, 260, 20))
    plain = part_of(rectangle(0, 0, 120, 80))
    row = drawn_sheet(drawing(lines_on(three, (ELL, plain, DISC))), 5.0)
    assert "view-not-part" not in {f.kind for f in row.facts}


@needs_corpus
@pytest.mark.parametrize(
    ("name", "copies"),
    [("trimesh__ChuteHolderPrint.dxf", 8), ("trimesh__125_aluminum_srcMH.dxf", None)],
)
def test_real_sheets_are_read_where_drawn(name: str, copies: int | None) -> None:
    """Copies placed again lie on the drawn ones; the count is that of the manifest's note."""
    sheet = drawn_sheet(read_drawing(next(CORPUS.rglob(name))), 3.0)
    if copies is not None:
        assert len(sheet.layout.placements) == copies
    rows = [copy[0] for part in sheet.parts.parts for copy in part.copies]
    drawn = sheet.parts.drawing.cuts.take(rows)
    placed = sheet.layout.outlines().moved(np.eye(2), sheet.corner)
    np.testing.assert_allclose(placed.box, drawn.box, atol=0.02)
    np.testing.assert_allclose(placed.area, drawn.area, rtol=1e-4)


def test_nothing_drawn_is_an_empty_sheet() -> None:
    sheet = read_sheet(find_parts(drawing(Contours.empty()), 5.0), sheet=(1000.0, 500.0))
    assert len(sheet.layout.placements) == 0
    plan = plan_sheet(sheet.layout, setting(), STIFF, 5.0, common=sheet.shared)
    assert plan.timing.total == 0.0
