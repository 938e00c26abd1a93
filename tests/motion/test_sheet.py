"""A sheet of many copies: nothing lost, hosts last, pierces clear, the clock adds up."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from motion.outlines import part_of, plate_with_holes, setting

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.motion.alone import plan_alone
from analyzer.motion.sheet import SheetPlan, plan_sheet
from analyzer.process.machine import Machine

STIFF = Machine(jerk=1e9)
PLATE = plate_with_holes(60, 40, [(15, 20, 10), (45, 20, 8)])


def grid(columns: int, rows: int, gap: float = 10.0) -> Layout:
    """Return copies of `PLATE` in rows, every other one turned round."""
    placements = [
        Placement(0, i * (60 + gap) + (60 if i % 2 else 0), j * (40 + gap) + (40 if i % 2 else 0),
                  180.0 if i % 2 else 0.0)
        for j in range(rows) for i in range(columns)
    ]  # fmt: skip
    return Layout((PLATE,), tuple(placements), 1500.0, 1000.0)


def whole(plan: SheetPlan) -> None:
    """Every contour of every copy is cut once, each copy in one go, its outline last."""
    wanted = [
        (k, row)
        for k, p in enumerate(plan.layout.placements)
        for row in range(len(plan.layout.parts[p.part].contours))
    ]
    assert sorted(map(tuple, plan.order.tolist())) == wanted
    copies = plan.order[:, 0]
    assert (np.diff(copies) != 0).sum() == len(plan.layout.placements) - 1
    last = np.flatnonzero(np.diff(copies, append=-1))
    assert (plan.order[last, 1] == 0).all()


def test_every_contour_once_and_outlines_last() -> None:
    whole(plan_sheet(grid(4, 3), setting(), STIFF, 5.0))


def test_times_are_those_of_the_copies_and_the_moves_between() -> None:
    layout = grid(4, 3)
    plan = plan_sheet(layout, setting(), STIFF, 5.0)
    alone = plan_alone(PLATE, setting(), STIFF, 5.0).timing
    t = plan.timing
    assert t.cut == pytest.approx(12 * alone.cut)
    assert t.starts == pytest.approx(12 * alone.starts)
    assert t.handling == STIFF.pallet_change_s
    step = np.hypot(*np.diff(plan.pierces, axis=0).T)
    moves = 2.0 * np.sqrt(step / 15000.0)  # all shorter than v^2 / a = 267 mm
    assert step.max() < 266.0
    assert t.traverse == pytest.approx(moves.sum(), rel=1e-3)


def test_the_clock_runs_to_the_end() -> None:
    plan = plan_sheet(grid(3, 2), setting(), STIFF, 5.0)
    assert np.all(np.diff(plan.begins) > 0.0)
    copy, row = plan.order[-1]
    end = plan.begins[-1] + plan.plans[copy].contour_times[row]
    assert end == pytest.approx(plan.timing.total - plan.timing.handling)


def test_a_part_in_a_cut_out_comes_before_its_host() -> None:
    frame = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])
    window = Contours.from_points([[40, 40], [40, 160], [260, 160], [260, 40]])
    host = part_of(frame, window)
    placements = (Placement(0), Placement(1, 60, 60), Placement(1, 150, 60), Placement(1, 400, 0))
    plan = plan_sheet(Layout((host, PLATE), placements), setting(), STIFF, 5.0)
    whole(plan)
    place = {int(copy): k for k, copy in enumerate(plan.copies)}
    assert place[1] < place[0]
    assert place[2] < place[0]


def test_pierces_keep_clear_of_neighbours() -> None:
    """Rows 4 mm apart with 6 mm leads: a corner outside is free; distances by shapely."""
    layout = grid(5, 1, gap=4.0)
    gas = setting()
    plan = plan_sheet(layout, gas, STIFF, 5.0)
    assert len(plan.crowded) == 0
    rings = [shapely.Polygon(ring.starts) for ring in (
        layout.outlines().take([k]) for k in range(5)
    )]  # fmt: skip
    at = plan.pierces[plan.order[:, 1] == 0]
    for k, point in zip(plan.copies, at, strict=True):
        for other, ring in enumerate(rings):
            away = ring.distance(shapely.Point(point))
            assert away >= (min(6.0, 1.0 + 0.25 + 1.0) if other != k else 1.0) - 1e-6


def test_no_clear_pierce_is_said() -> None:
    """Amid eight neighbours 1 mm away nothing is clear."""
    plan = plan_sheet(grid(3, 3, gap=1.0), setting(), STIFF, 5.0)
    assert 4 in plan.crowded.tolist()


def test_pierces_keep_off_the_edge_and_out_of_the_host() -> None:
    """In a corner of the sheet, and in a window 9 mm around: another corner or side is entered."""
    frame = Contours.from_points([[0, 0], [200, 0], [200, 120], [0, 120]])
    window = Contours.from_points([[40, 40], [40, 98], [118, 98], [118, 40]])
    host = part_of(frame, window)
    placements = (Placement(1, 0.5, 0.5), Placement(0, 200.0, 100.0), Placement(1, 249.0, 149.0))
    layout = Layout((host, PLATE), placements, 600.0, 400.0)
    plan = plan_sheet(layout, setting(), STIFF, 5.0)
    at = {int(c): p for (c, r), p in zip(plan.order, plan.pierces, strict=True) if r == 0}
    room = 1.0 + 0.25 + 1.0
    sheet = shapely.box(0, 0, 600, 400)
    assert sheet.contains(shapely.Point(at[0]))
    assert sheet.exterior.distance(shapely.Point(at[0])) >= room - 1e-6
    opening = shapely.box(240, 140, 318, 198)
    assert opening.contains(shapely.Point(at[2]))
    assert opening.exterior.distance(shapely.Point(at[2])) >= room - 1e-6
    assert not len(plan.crowded)


def test_moving_all_copies_changes_nothing() -> None:
    layout = grid(4, 3)
    moved = replace(
        layout, placements=tuple(replace(p, x=p.x + 512.5, y=p.y - 64.25)
                                 for p in layout.placements),
    )  # fmt: skip
    one, two = (plan_sheet(which, setting(), STIFF, 5.0).timing for which in (layout, moved))
    assert two.total == pytest.approx(one.total, rel=1e-9)


def test_mirrored_copies_keep_their_metal_on_the_left() -> None:
    placed = Placement(0, 5.0, 7.0, 30.0, mirrored=True).contours(PLATE.contours)
    np.testing.assert_allclose(placed.area, PLATE.contours.area)
    np.testing.assert_allclose(
        placed.centroid, Placement(0, 5.0, 7.0, 30.0, True).points(PLATE.contours.centroid)
    )


def test_an_empty_sheet_takes_no_time() -> None:
    plan = plan_sheet(Layout((), ()), setting(), STIFF, 5.0)
    assert plan.timing.total == 0.0
    with pytest.raises(InputError):
        Layout((), (Placement(0),))


@pytest.mark.slow
def test_a_thousand_copies_in_seconds() -> None:
    import time

    start = time.process_time()
    plan = plan_sheet(grid(40, 25), setting(), STIFF, 5.0)
    assert time.process_time() - start < 5.0
    whole(plan)
