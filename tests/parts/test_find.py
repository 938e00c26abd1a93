"""The parts station as a whole: what moving must not change, and growth with size."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from geometry.shapes import MIRROR, line, rectangle, regular, rotation, rounded, stadium
from hypothesis import given, settings
from hypothesis import strategies as st
from parts.drawings import drawing

from analyzer.budgets import Budgets
from analyzer.errors import DrawingError
from analyzer.geometry.contours import Contours
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part

BRACKET = Contours.join(
    [
        rounded(0, 0, 180, 90, 12), Contours.circle(20, 20, 4.5), Contours.circle(160, 20, 4.5),
        stadium(60, 45, 40, 9, 90), stadium(90, 20, 30, 6), regular(130, 60, 13.5, 6),
        Contours.from_points([(20, 60), (40, 60), (40, 80), (24, 80), (20, 76)], [0, 0, 0, 0.3, 0]),
        regular(160, 70, 5, 40), line((70, 70), (110, 75)),
    ]
)  # fmt: skip


def numbers(part: Part) -> dict[str, object]:
    """All that must not depend on where and how a part lies."""
    return {
        "area": part.area,
        "length": part.cut_length,
        "pierces": part.pierces,
        "holes": sorted(h.diameter for h in part.holes),
        "slots": sorted((s.width, s.length) for s in part.slots),
        "angles": sorted(c.angle for c in part.corners),
        "radii": sorted(c.radius for c in part.corners),
        "webs": sorted(w.width for w in part.webs),
    }


def assert_same(one: dict[str, object], two: dict[str, object]) -> None:
    for key, value in one.items():
        expected = np.array(value, float)
        assert np.array(two[key], float) == pytest.approx(expected, rel=1e-6, abs=1e-5), key


def test_parts_of_too_many_shapes_are_refused() -> None:
    """Each shape is planned on its own; copies cost nothing and count as one."""
    plates = [rectangle(100 * k, 0, 50 + k, 40) for k in range(6)]
    copies = [rectangle(100 * k, 100, 50, 40) for k in range(6)]
    cuts = Contours.join([*plates, *copies])
    found = find_parts(replace(drawing(cuts), budgets=Budgets(distinct_parts=6)), 5.0)
    assert [part.count for part in found.parts] == [7, 1, 1, 1, 1, 1]
    with pytest.raises(DrawingError, match=r"6 is over the limit distinct_parts = 5"):
        find_parts(replace(drawing(cuts), budgets=Budgets(distinct_parts=5)), 5.0)


@pytest.mark.outside("1,000 rings cut out of each other: metal, webs [mm2, mm]", "closed form")
def test_rings_cut_out_of_each_other() -> None:
    """2,000 circles 0.1 mm apart about one centre: 1,000 rings with one web each.

    Closed forms: a ring's metal is pi (R^2 - r^2), its web R - r.
    """
    cuts = Contours.join([Contours.circle(0, 0, 1 + 0.1 * k) for k in range(2000)])
    begin = time.process_time()
    parts = find_parts(drawing(cuts), 5.0).parts
    assert time.process_time() - begin < 10.0
    assert len(parts) == 1000
    assert all(len(part.contours) == 2 and len(part.webs) == 1 for part in parts)
    assert [part.webs[0].width for part in parts] == pytest.approx([0.1] * 1000, abs=1e-9)
    wide = parts[0]
    assert wide.area == pytest.approx(math.pi * (200.9**2 - 200.8**2), rel=1e-9)


@settings(max_examples=25, deadline=None)
@given(
    degrees=st.floats(-180, 180), x=st.floats(-1e5, 1e5), y=st.floats(-1e4, 1e4),
    mirrored=st.booleans(), thickness=st.sampled_from([1.0, 6.0, 20.0]),
)  # fmt: skip
def test_moving_turning_and_mirroring_change_no_number(
    degrees: float, x: float, y: float, mirrored: bool, thickness: float
) -> None:
    matrix = rotation(degrees) @ (MIRROR if mirrored else np.eye(2))
    (here,) = find_parts(drawing(BRACKET), thickness).parts
    (there,) = find_parts(drawing(BRACKET.moved(matrix, (x, y))), thickness).parts
    assert_same(numbers(here), numbers(there))
    moved = matrix @ [here.holes[0].x, here.holes[0].y] + [x, y]
    assert min(math.dist(moved, (h.x, h.y)) for h in there.holes) < 1e-6


def test_the_order_of_contours_changes_nothing() -> None:
    (here,) = find_parts(drawing(BRACKET), 6.0).parts
    chance = np.random.default_rng(3)
    for _ in range(5):
        shuffled = BRACKET.take(chance.permutation(len(BRACKET)))
        (there,) = find_parts(drawing(shuffled), 6.0).parts
        assert_same(numbers(here), numbers(there))


def test_every_cut_contour_goes_to_one_copy_or_is_loose() -> None:
    several = [
        BRACKET.moved(rotation(31.0 * k), (400.0 * (k % 4), 400.0 * (k // 4))) for k in range(9)
    ]
    found = find_parts(drawing(*several, line((2000, 0), (2100, 0))), 5.0)
    rows = [row for part in found.parts for copy in part.copies for row in copy]
    assert sorted([*rows, len(found.drawing.cuts) - 1]) == list(range(len(found.drawing.cuts)))
    assert [p.count for p in found.parts] == [9]
    total = sum(p.cut_length * p.count for p in found.parts) + found.loose.length.sum()
    assert total == pytest.approx(found.drawing.cuts.length.sum())


def test_nothing_drawn_is_no_part() -> None:
    found = find_parts(drawing(), 5.0)
    assert found.parts == ()
    assert len(found.loose) == 0
    only_lines = find_parts(drawing(line((0, 0), (10, 0)), line((0, 5), (10, 5))), 5.0)
    assert only_lines.parts == ()
    assert len(only_lines.loose) == 2


def test_a_part_in_a_cut_out_is_a_part_of_its_own() -> None:
    """Plate, hole, island with a hole: even depth is metal. job.md 7, scenario 16."""
    island = [rectangle(40, 40, 30, 20), Contours.circle(55, 50, 3)]
    found = find_parts(drawing(rectangle(0, 0, 200, 100), rectangle(30, 30, 60, 40), *island), 5.0)
    assert [len(p.contours) for p in found.parts] == [2, 2]
    assert found.parts[1].area == pytest.approx(600 - 9 * math.pi)
    assert (found.parts[1].contours.area > 0).tolist() == [True, False]


def plate_of_holes(side: int) -> Contours:
    holes = [Contours.circle(10 * i, 10 * j, 2.5) for i in range(side) for j in range(side)]
    return Contours.join([rectangle(-10, -10, 10 * side + 10, 10 * side + 10), *holes])


def seconds(cuts: Contours) -> float:
    best = math.inf
    for _ in range(2):
        sheet = drawing(cuts.moved(np.eye(2)))  # nothing remembered from before
        start = time.process_time()
        find_parts(sheet, 5.0)
        best = min(best, time.process_time() - start)
    return best


@pytest.mark.slow
def test_ten_thousand_holes_grow_no_faster_than_n_log_n() -> None:
    """16 times the holes; the square would take 256 times as long."""
    few, many = seconds(plate_of_holes(25)), seconds(plate_of_holes(100))
    assert many < 40 * few
    assert many < 5.0


@pytest.mark.slow
def test_copies_grow_no_faster_than_n_log_n() -> None:
    def copies(count: int) -> Contours:
        return Contours.join(
            [
                BRACKET.moved(rotation(37.0 * k), (400.0 * (k % 50), 400.0 * (k // 50)))
                for k in range(count)
            ]
        )

    few, many = seconds(copies(75)), seconds(copies(1200))
    assert many < 40 * few
    assert many < 6.0


@pytest.mark.slow
def test_thousands_of_parts_all_a_little_different_are_not_compared_each_with_each() -> None:
    """Plates whose hole is 0.05 mm further on from one plate to the next."""

    def plates(count: int) -> Contours:
        return Contours.join(
            [
                Contours.join([plate, Contours.circle(15.0 + 0.05 * k, 20.0, 4.0)]).moved(
                    np.eye(2), (200.0 * (k % 50), 80.0 * (k // 50))
                )
                for k in range(count)
            ]
        )

    plate = Contours.from_points([[0, 0], [150, 0], [150, 60], [0, 60]])
    assert len(find_parts(drawing(plates(80)), 5.0).parts) == 80
    few, many = seconds(plates(80)), seconds(plates(640))
    assert many < 24 * few  # 8 times the parts; the square would take 64 times as long
