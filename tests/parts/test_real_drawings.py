"""Real drawings: parts, holes and slots as counted in the manifest beside them.

The truth is what the manifest of the corpus says of each drawing (from part lists, dimension
texts and counts by hand), not what we found.
"""

from __future__ import annotations

from collections import Counter
from functools import cache

import numpy as np
import pytest
from geometry.shapes import MIRROR, rotation
from parts.drawings import drawing
from shared import CORPUS, needs_corpus

from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.parts.find import find_parts
from analyzer.parts.part import PartSet

pytestmark = needs_corpus


@cache
def parts_of(name: str, thickness: float, units: str | None = None) -> PartSet:
    sheet = read_drawing(CORPUS / f"{name}.dxf", ReadOptions(units=units))
    return find_parts(sheet, thickness)


def sizes(found: PartSet, decimals: int = 2) -> dict[float, int]:
    """Hole diameters of all copies, with how many."""
    count: Counter[float] = Counter()
    for part in found.parts:
        for hole in part.holes:
            count[round(hole.diameter, decimals)] += part.count
    return dict(count)


@pytest.mark.parametrize(
    ("name", "thickness", "contours", "holes", "slots", "length"),
    [
        ("replimat__6mm_2x_01.04.01_Side", 6, 14, 11, 2, 1207.194),
        ("laser4diy__mainsheet_bend", 1, 213, 203, None, 6923.176),
        ("laser4diy__mainsheet_x", 1, 213, 203, None, 6923.176),
        ("laser4diy__chamber_sheet_top_bend", 1, 5, 4, 0, 1592.304),
        ("laser4diy__chamber_sheet_top_x", 1, 5, 4, 0, 1592.304),
        ("laser4diy__baseplate_8mm", 8, 121, 114, 6, 3403.128),
        ("16n__16n-134-top", 2, 25, 8, 16, 3058.101),
        ("16n__16n-134-bottom", 2, 9, 8, 0, 813.570),
        ("compass__facePlate", 1.6, 13, 11, 0, None),
        ("barc__top_plate", 3, 50, 16, None, None),
        ("barc__side_cover", 3, 4, 0, None, None),
        ("prusamk3__MK3-front-plate", 3, 19, 18, 0, None),
        ("tapster__base", 3, 59, 58, 0, None),
        ("replimat__bitbeam-nema-23-mount", 3, 20, 19, 0, None),
        ("trimesh__1002_tray_bottom", 3, 24, 22, 1, None),
        ("laser4diy__cutout_frontplate", 2, 16, 14, 0, None),
        ("laser4diy__hole_cover", 1, 72, 71, 0, None),
        ("replimat__5mm_5x_01.04.03_Knife1", 5, 2, 0, 0, 438.135),
        ("replimat__5mm_5x_knife_1", 5, 2, 0, 0, 438.135),
        ("replimat__6mm_13x_01.04.06_KnifeSpacer", 6, 2, 0, 0, 250.611),
        ("replimat__3mm_1x_01.04.13_bottom1", 3, 6, 0, 5, None),
    ],
)
def test_one_part_with_the_holes_and_slots_of_the_manifest(
    name: str, thickness: float, contours: int, holes: int, slots: int | None, length: float | None
) -> None:
    (part,) = parts_of(name, thickness).parts
    assert part.count == 1
    assert len(part.contours) == contours
    assert len(part.holes) == holes
    if slots is not None:
        assert len(part.slots) == slots
    if length is not None:
        assert part.cut_length == pytest.approx(length, abs=0.01)


def test_the_shredder_side_plate_hole_by_hole() -> None:
    """Parts table of the kit: 4 x 9, 4 x 10.5, 2 x 4.234 (M5 tapped), 42; 210 x 135."""
    found = parts_of("replimat__6mm_2x_01.04.01_Side", 6)
    assert sizes(found, 3) == {9.0: 4, 10.5: 4, 4.234: 2, 42.0: 1}
    assert (found.parts[0].width, found.parts[0].height) == pytest.approx((210, 135))


def test_hole_sizes_of_plates() -> None:
    assert sizes(parts_of("laser4diy__baseplate_8mm", 8)) == {5.0: 109, 4.0: 4, 30.7: 1}
    assert sizes(parts_of("16n__16n-134-top", 2)) == {2.5: 8}
    assert sizes(parts_of("prusamk3__MK3-front-plate", 3), 1) == {5.0: 8, 3.0: 6, 3.3: 4}
    slots = parts_of("16n__16n-134-top", 2).parts[0].slots
    assert [s.width for s in slots] == pytest.approx([4.0] * 16)  # drawing: 4 x 67, R1
    assert [s.length for s in slots] == pytest.approx([67.0] * 16)


def test_router_base_plate_with_holes_drawn_twice() -> None:
    """54 round: 22 of 5.3 (doubles removed) and 32 of 3.2; 16 of those lie 0.09 mm beside
    another, which no cleaning may hide: they cross."""
    found = parts_of("compass__baseplate", 6)
    assert len(found.parts) == 1
    assert sizes(found) == {3.2: 32, 5.3: 22}
    assert len([f for f in found.facts if f.kind == "crossing-contour"]) == 16


def test_cycloidal_drive_of_circles_about_one_centre() -> None:
    """Five parts in 106 circles: rings are parts here, none is a countersink."""
    found = parts_of("trimesh__250_cycloidal", 6.35)
    assert sum(p.count for p in found.parts) == 5
    assert sum(p.count * p.pierces for p in found.parts) == 106
    assert "symbol-not-cut" not in {f.kind for f in (*found.drawing.facts, *found.facts)}
    (pair,) = [p for p in found.parts if p.count == 2]
    assert (pair.width, len(pair.holes)) == (pytest.approx(1.875 * 25.4), 39)


def test_a_sheet_of_eight_slotted_parts() -> None:
    found = parts_of("trimesh__ChuteHolderPrint", 3)
    assert sum(p.count for p in found.parts) == 8
    assert sum(p.count * len(p.slots) for p in found.parts) == 32
    assert sizes(found, 3) == {3.175: 3}


@pytest.mark.parametrize(
    ("name", "parts", "contours", "holes"),
    [
        ("trimesh__apu-mount", 2, 19, 14),
        ("trimesh__sliding-base", 4, 9, 4),
        ("trimesh__125_aluminum_srcMH", 9, 126, 97),
        ("trimesh__wrench", 1, 2, 0),
    ],
)
def test_sheets_of_several_parts(name: str, parts: int, contours: int, holes: int) -> None:
    found = parts_of(name, 3.175)
    assert sum(p.count for p in found.parts) == parts
    assert sum(p.count * p.pierces for p in found.parts) == contours
    assert sum(sizes(found).values()) == holes


def test_centre_marks_of_the_name_plate_are_no_cuts() -> None:
    """Eight lines through the four holes: by their linetype, or else as centre marks."""
    found = parts_of("m17rru__nameplate", 1)
    assert sizes(found) == {3.2: 4}
    assert len(found.loose) == 0
    assert found.parts[0].contours.closed.all()


@pytest.mark.parametrize("name", ["barc__top_plate", "trimesh__250_cycloidal", "16n__16n-134-top"])
def test_turned_and_mirrored_real_drawings_give_the_same_numbers(name: str) -> None:
    here = parts_of(name, 3)
    for matrix in (rotation(37.0), rotation(-90) @ MIRROR):
        there = find_parts(drawing(here.drawing.cuts.moved(matrix, (123, -456))), 3)
        for one, two in zip(
            sorted(here.parts, key=lambda p: p.area), sorted(there.parts, key=lambda p: p.area),
            strict=True,
        ):  # fmt: skip
            assert (one.count, one.pierces) == (two.count, two.pierces)
            assert two.area == pytest.approx(one.area)
            for values in (
                [[h.diameter for h in p.holes] for p in (one, two)],
                [[s.width for s in p.slots] for p in (one, two)],
                [[c.angle for c in p.corners] for p in (one, two)],
                [[w.width for w in p.webs] for p in (one, two)],
            ):
                assert np.sort(values[1]) == pytest.approx(np.sort(values[0]), abs=1e-5)
