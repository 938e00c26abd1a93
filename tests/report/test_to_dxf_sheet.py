"""Layouts as DXF: read back they lie where they were laid, and a DXF library finds no fault."""

import io
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import ezdxf
import numpy as np
import pytest
from shared import SAMPLES

from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.read_sheet import drawn_sheet
from analyzer.layout.spacing import spaces_of
from analyzer.one_sheet import SheetResult
from analyzer.orders import Given
from analyzer.packing.stock import Stock
from analyzer.report.formats import sheeting_files, sheeting_written
from analyzer.report.to_dxf_sheet import LAYERS
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.sheeting import Sheeting

ROWS = (("gusset.dxf", 4, "yes"), ("cleat.dxf", 9, "yes"), ("name_plate.dxf", 2, "no"))
LEFT_OVER = Contours.from_points([[0, 0], [900, 0], [900, 300], [500, 300], [500, 700], [0, 700]])


def planned(stock: Stock, rows: tuple[tuple[str, int, str], ...] = ROWS) -> Sheeting:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "order.csv"
        lines = [f"{SAMPLES / name},{count},free,{mirror}" for name, count, mirror in rows]
        path.write_text("\n".join(("drawing,quantity,turns,mirror", *lines)) + "\n")
        options = SheetOptions((stock,), effort_s=0.0, what_if=False)
        return plan_sheets(path, Given("mild-steel", 10.0, 10.0), None, options)


@cache
def whole() -> Sheeting:
    return planned(Stock("1200x800", 1200.0, 800.0))


@cache
def left_over() -> Sheeting:
    return planned(Stock("rest 4", 900.0, 700.0, None, LEFT_OVER), ROWS[:2])


@cache
def two_sheets() -> Sheeting:
    return planned(
        Stock("500x400", 500.0, 400.0), (("gusset.dxf", 2, "no"), ("cleat.dxf", 3, "no"))
    )


def places(layout: Layout) -> np.ndarray:
    """Area, length, middle and box of every contour of every copy, in an order of its own."""

    def rows(placed: Placement) -> np.ndarray:
        c = placed.contours(layout.parts[placed.part].contours)
        drawn = np.add.reduceat(c.chords * 0.0 + _lengths(c), c.offsets[:-1])
        return np.column_stack((np.abs(c.area), drawn, c.centroid, c.box))

    found = np.concatenate([rows(one) for one in layout.placements])
    return found[np.lexsort(found.round(3).T)]


def _lengths(contours: Contours) -> np.ndarray:
    """Of the lines and arcs themselves, not of the curves they stand for."""
    chord = np.hypot(*(contours.ends - contours.starts).T)
    half = 2.0 * np.arctan(np.abs(contours.bulges))
    return chord / np.sinc(half / np.pi)


def read_back(made: bytes, folder: Path) -> tuple[Layout, object]:
    (folder / "sheet.dxf").write_bytes(made)
    drawing = read_drawing(folder / "sheet.dxf", ReadOptions())
    assert (drawing.units.name, drawing.units.source) == ("mm", "header")
    sheet = drawn_sheet(drawing, 10.0)
    assert sheet.corner == pytest.approx((0.0, 0.0), abs=1e-9)
    return sheet.layout, sheet


@pytest.mark.parametrize("make", [whole, left_over])
def test_a_layout_is_read_back_where_it_was_laid(make: object, tmp_path: Path) -> None:
    sheeting: Sheeting = make()  # type: ignore[operator]
    (sheet,) = sheeting.jobs[0].sheets
    read, found = read_back(sheeting_written(sheeting, "dxf"), tmp_path)
    assert found.outline_from == "layer"  # type: ignore[attr-defined]
    assert found.remnant == (make is left_over)  # type: ignore[attr-defined]
    assert (read.length_mm, read.width_mm) == (sheet.layout.length_mm, sheet.layout.width_mm)
    assert len(read.placements) == len(sheet.layout.placements)
    mine, theirs = places(sheet.layout), places(read)
    assert theirs == pytest.approx(mine, abs=1e-6)
    gaps = spaces_of(sheet.layout, sheet.outline)
    assert found.spaces.least_gap == pytest.approx(gaps.least_gap, abs=1e-6)  # type: ignore
    assert found.spaces.least_margin == pytest.approx(gaps.least_margin, abs=1e-6)  # type: ignore
    assert found.spaces.least_gap >= sheeting.jobs[0].gap.value_mm - 1e-6  # type: ignore
    assert not len(found.skeleton)  # type: ignore[attr-defined]


def test_a_library_finds_no_fault_and_arcs_are_arcs() -> None:
    sheet = only(whole())
    document = ezdxf.read(io.StringIO(sheeting_written(whole(), "dxf").decode()))
    audit = document.audit()
    assert not audit.errors
    assert not audit.fixes
    space = document.modelspace()
    assert {e.dxf.layer for e in space} <= set(LAYERS)
    arcs = sum(
        int((p.contours(part.contours).bulges != 0.0).sum())
        for p in sheet.layout.placements
        for part in [sheet.layout.parts[p.part]]
    )
    circles = len(space.query("CIRCLE[layer=='CUT']"))
    bulges = sum(
        sum(point[4] != 0.0 for point in line) for line in space.query("LWPOLYLINE[layer=='CUT']")
    )
    assert circles > 0
    assert 2 * circles + bulges == arcs  # a circle is two halves inside
    assert {e.dxftype() for e in space.query("*[layer=='CUT']")} == {"CIRCLE", "LWPOLYLINE"}


def test_marks_numbers_names_and_the_way_have_layers_of_their_own() -> None:
    sheet = only(whole())
    one = sheet.under(whole().jobs[0].read)
    assert one is not None
    space = ezdxf.read(io.StringIO(sheeting_written(whole(), "dxf").decode())).modelspace()
    numbers = {e.dxf.text: e.dxf.align_point for e in space.query("*[layer=='LABELS_NUMBER']")}
    copies = one.plan.copies.tolist()
    box = sheet.layout.outlines().box
    assert len(numbers) == len(copies)
    for number, copy in enumerate(copies, 1):
        x, y, _ = numbers[str(number)]
        assert (box[copy, :2] <= (x, y)).all()
        assert ((x, y) <= box[copy, 2:]).all()
    names = [e.dxf.text for e in space.query("*[layer=='LABELS_NAME']")]
    assert sorted(set(names)) == ["cleat", "gusset", "name_plate"]
    assert names.count("cleat") == 9
    (way,) = space.query("LWPOLYLINE[layer=='LABELS_ORDER']")
    assert np.array(way.get_points("xy")) == pytest.approx(one.plan.pierces)
    marked = sum(len(sheet.layout.parts[p.part].marks) for p in sheet.layout.placements)
    assert len(space.query("*[layer=='MARK']")) == marked > 0
    words = " ".join(e.dxf.text for e in space.query("*[layer=='LABELS_TITLE']"))
    assert "1200x800" in words
    assert "cut it once" in words
    assert "9 x cleat" in words


def test_one_sheet_is_one_file_and_the_same_bytes_each_time() -> None:
    names = [name for name, _ in sheeting_files(two_sheets(), "dxf")]
    sheets = two_sheets().jobs[0].sheets
    assert names == [f"order_mild-steel_10mm_sheet{sheet.number}" for sheet in sheets]
    assert len(names) > 1
    with pytest.raises(InputError, match="several DXF files"):
        sheeting_written(two_sheets(), "dxf")
    assert sheeting_files(two_sheets(), "dxf") == sheeting_files(two_sheets(), "dxf")
    assert [name for name, _ in sheeting_files(whole(), "dxf")] == ["order"]


def test_a_drawn_sheet_is_drawn_again_with_its_skeleton_cuts(tmp_path: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(50, 70), (650, 70), (650, 470), (50, 470)], close=True,
                         dxfattribs={"layer": "SHEET"})  # fmt: skip
    for x in (70, 370):
        space.add_lwpolyline([(x, 100), (x + 200, 100), (x + 200, 400), (x, 400)], close=True)
    space.add_line((320, 70), (320, 470))
    document.saveas(tmp_path / "laid.dxf")
    sheeting = plan_sheets(tmp_path / "laid.dxf", Given("mild-steel", 10.0, 10.0))
    (made,) = sheeting_files(sheeting, "dxf")
    assert made[0] == "laid"
    layout, found = read_back(made[1], tmp_path)
    assert len(layout.placements) == 2
    assert found.skeleton.length.tolist() == [400.0]  # type: ignore[attr-defined]
    again = plan_sheets(tmp_path / "sheet.dxf", Given("mild-steel", 10.0, 10.0))
    for one, other in zip(only(sheeting).gases, only(again).gases, strict=True):
        assert other.timing.total == pytest.approx(one.timing.total, rel=1e-9)


def only(sheeting: Sheeting) -> SheetResult:
    (sheet,) = sheeting.jobs[0].sheets
    return sheet
