"""Common lines: cut once, fewer pierces; by hand, and by what must hold for any layout."""

from dataclasses import replace

import numpy as np
import pytest
from motion.outlines import part_of, plate_with_holes, setting, square

from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.touching import facing_lines, shared_lines
from analyzer.motion.plan import Timing
from analyzer.motion.sheet import SheetPlan, plan_sheet
from analyzer.process.machine import Machine

STIFF = Machine(jerk=1e9, pallet_change_s=0.0)
KERF = 0.5


def both(layout: Layout, **more: object) -> tuple[SheetPlan, SheetPlan]:
    """The layout cut part by part, and with its common lines cut once."""
    common = shared_lines(layout.outlines())
    alone = plan_sheet(layout, setting(kerf=KERF), STIFF, 5.0)
    return alone, plan_sheet(layout, setting(kerf=KERF), STIFF, 5.0, common=common)


def test_two_squares_by_hand() -> None:
    """Kerf 0.5: a square of 100 is 4 x 100.5 at the head, the second one 3 x 100.5."""
    layout = Layout((part_of(square()),), (Placement(0), Placement(0, 100.0, 0.0)))
    alone, joined = both(layout)
    assert joined.common is not None
    assert alone.timing.cut == pytest.approx(804.0 / 100.0)
    assert joined.timing.cut == pytest.approx((402.0 + 301.5) / 100.0)
    assert joined.common.length_mm == pytest.approx(100.5)
    assert (joined.timing.pierce, joined.timing.leads) == pytest.approx((0.5, 0.06))
    assert joined.timing.starts == pytest.approx(alone.timing.starts)  # the head still comes down
    assert (alone.pierces_count, joined.pierces_count) == (2, 1)
    # three legs from rest to rest with two corners against four with three: 8 m/s2 each way
    gone = alone.timing.slowed - joined.timing.slowed
    assert 0.0 < gone < 2 * 100.0 / 8000.0
    saved = alone.timing.total - joined.timing.total
    moves = alone.timing.traverse - joined.timing.traverse
    assert joined.common.saved_s == pytest.approx(saved - moves)


def test_the_slowest_square_by_hand() -> None:
    """No rest by its corners: a stretch of three legs of 100.5 at 100 mm/s, 8 m/s2, corners
    not rounded (tolerance next to nothing): each leg takes L / v + v / a."""
    sharp = replace(STIFF, corner_tolerance_mm=1e-9)
    layout = Layout((part_of(square()),), (Placement(0), Placement(0, 100.0, 0.0)))
    plan = plan_sheet(
        layout, setting(kerf=KERF), sharp, 5.0, common=shared_lines(layout.outlines())
    )
    assert plan.common is not None
    rest = next(iter(plan.common.rests.values()))
    leg = 100.5 / 100.0 + 100.0 / 8000.0
    assert float(rest.times.sum()) == pytest.approx(3 * leg, rel=1e-3)


def grid(columns: int, rows: int, part: int = 0) -> tuple[Placement, ...]:
    return tuple(Placement(part, 60.0 * i, 40.0 * j) for j in range(rows) for i in range(columns))


def test_a_grid_of_plates_saves_every_inner_edge() -> None:
    plate = plate_with_holes(60, 40, [(15, 20, 10), (45, 20, 8)])
    columns, rows = 4, 3
    alone, joined = both(Layout((plate,), grid(columns, rows)))
    assert joined.common is not None
    drawn = (columns - 1) * rows * 40.0 + (rows - 1) * columns * 60.0
    assert joined.common.lines.total_mm == pytest.approx(drawn)
    # half a kerf more at every end of an omitted side, so a little more than drawn
    extra = len(joined.common.lines) * KERF
    assert drawn <= joined.common.length_mm <= drawn + extra
    assert joined.timing.cut == pytest.approx(alone.timing.cut - joined.common.length_mm / 100.0)
    assert joined.common.pierces_saved == columns * rows - 1
    assert joined.pierces_count == alone.pierces_count - (columns * rows - 1)


def test_no_cut_out_is_cut_from_a_part_that_is_loose() -> None:
    """All cut-outs of joined parts come before the first of their outlines."""
    plate = plate_with_holes(60, 40, [(15, 20, 10), (45, 20, 8)])
    far = tuple(Placement(0, 1000.0 + 60.0 * i, 500.0) for i in range(2))
    layout = Layout((plate,), (*grid(3, 2), *far, Placement(0, 500.0, 200.0)))
    _, joined = both(layout)
    at = {(int(c), int(r)): k for k, (c, r) in enumerate(joined.order)}
    wanted = [(k, row) for k in range(len(layout.placements)) for row in range(3)]
    assert sorted(at) == wanted
    for group in (range(6), range(6, 8), range(8, 9)):
        first_outline = min(at[k, 0] for k in group)
        assert max(at[k, row] for k in group for row in (1, 2)) < first_outline
    assert np.all(np.diff(joined.begins) > 0.0)


def test_the_clock_ends_with_the_times() -> None:
    plate = plate_with_holes(60, 40, [(15, 20, 10)])
    _, joined = both(Layout((plate,), (*grid(3, 3), Placement(0, 400.0, 90.0))))
    assert joined.begins[-1] + joined.spans[-1] == pytest.approx(joined.timing.total)


def test_a_part_all_of_whose_sides_are_cut_takes_no_time_of_its_own() -> None:
    """The middle of a ring of eight: whoever is last has nothing left where all came before."""
    layout = Layout((part_of(square()),), tuple(
        Placement(0, 100.0 * i, 100.0 * j) for j in range(3) for i in range(3)
    ))  # fmt: skip
    alone, joined = both(layout)
    assert joined.common is not None
    edges = 2 * 3 * 2 * 100.0
    assert joined.common.lines.total_mm == pytest.approx(edges)
    t = joined.timing
    assert t.cut == pytest.approx(alone.timing.cut - joined.common.length_mm / 100.0)
    assert 1 <= round(t.pierce / 0.5) == 9 - joined.common.pierces_saved


def test_turned_and_mirrored_copies_share_the_same() -> None:
    """The same picture made of turned and mirrored copies: the same saving."""
    plate = part_of(Contours.from_points([[0, 0], [60, 0], [60, 40], [0, 40]]))
    plain = Layout((plate,), (Placement(0), Placement(0, 60.0, 0.0), Placement(0, 120.0, 0.0)))
    other = Layout((plate,), (
        Placement(0, 60.0, 40.0, 180.0), Placement(0, 120.0, 0.0, 0.0, mirrored=True),
        Placement(0, 180.0, 40.0, 180.0),
    ))  # fmt: skip
    one, two = (both(layout)[1].common for layout in (plain, other))
    assert one is not None
    assert two is not None
    assert two.length_mm == pytest.approx(one.length_mm)
    assert two.pierces_saved == one.pierces_saved == 2


def test_half_a_side_in_common() -> None:
    layout = Layout((part_of(square()),), (Placement(0), Placement(0, 100.0, 40.0)))
    _, joined = both(layout)
    assert joined.common is not None
    # the shared stretch reaches one corner of either: half a kerf there, nothing at the other
    assert joined.common.length_mm == pytest.approx(60.0 + KERF / 2.0, abs=0.01)
    rest = next(iter(joined.common.rests.values()))
    assert len(rest.path) == 1


def test_arcs_in_common() -> None:
    """A disc of 30 in the round notch of a plate: half its circle is the notch."""
    notch = Contours.from_points(
        [[0, 0], [200, 0], [200, 100], [130, 100], [70, 100], [0, 100]], [0, 0, 0, -1.0, 0, 0]
    )
    layout = Layout(
        (part_of(notch), part_of(Contours.circle(0.0, 0.0, 30.0))),
        (Placement(0), Placement(1, 100.0, 100.0)),
    )
    _, joined = both(layout)
    assert joined.common is not None
    assert joined.common.lines.total_mm == pytest.approx(np.pi * 30.0)
    # at the head the arc of the one cut later has half a kerf more or less of radius
    arcs = [np.pi * (30.0 + KERF / 2.0), np.pi * (30.0 - KERF / 2.0)]
    assert min(abs(joined.common.length_mm - arc) for arc in arcs) < KERF


def test_facing_sides_are_what_a_common_cut_could_save() -> None:
    """Plates 8 mm apart: with an allowance of 8 all facing sides count, with 7 none."""
    plate = part_of(Contours.from_points([[0, 0], [60, 0], [60, 40], [0, 40]]))
    apart = tuple(Placement(0, 68.0 * i, 48.0 * j) for j in range(2) for i in range(3))
    layout = Layout((plate,), apart)
    assert len(facing_lines(layout.outlines(), 7.0, 20.0)) == 0
    facing = facing_lines(layout.outlines(), 8.0, 20.0)
    assert facing.total_mm == pytest.approx(4 * 40.0 + 3 * 60.0)
    plan = plan_sheet(layout, setting(kerf=KERF), STIFF, 5.0, common=facing)
    assert plan.common is not None
    touching = Layout((plate,), grid(3, 2))
    wanted = both(touching)[1].common
    assert wanted is not None
    assert plan.common.length_mm == pytest.approx(wanted.length_mm)
    assert plan.common.pierces_saved == 5


def test_skeleton_cuts_come_last_and_are_paid_for() -> None:
    plate = plate_with_holes(60, 40, [(15, 20, 10)])
    layout = Layout((plate,), (Placement(0), Placement(0, 100.0, 0.0)))
    lines = Contours.join([
        Contours.from_points([[160.0, 20.0], [260.0, 20.0]], closed=False),
        Contours.from_points([[60.0, 20.0], [100.0, 20.0]], closed=False),
    ])  # fmt: skip
    without = plan_sheet(layout, setting(), STIFF, 5.0)
    plan = plan_sheet(layout, setting(), STIFF, 5.0, skeleton=lines)
    more: Timing = plan.timing + without.timing * -1.0
    assert more.cut == pytest.approx(1.4)
    assert more.pierce == pytest.approx(2 * 0.5)
    assert more.starts == pytest.approx(2 * STIFF.start_overhead_s)
    assert plan.skeleton_s >= plan.begins[-1] + plan.spans[-1]
    assert plan.pierces_count == without.pierces_count + 2
    assert sorted(map(tuple, plan.order.tolist())) == sorted(map(tuple, without.order.tolist()))


def test_no_common_line_changes_nothing() -> None:
    plate = plate_with_holes(60, 40, [(15, 20, 10)])
    layout = Layout((plate,), tuple(Placement(0, 70.0 * i, 0.0) for i in range(4)))
    alone, joined = both(layout)
    assert joined.common is None
    assert joined.timing == alone.timing


def test_the_first_of_a_joined_pair_is_not_pierced_in_the_other() -> None:
    """A lead-in from the shared side would begin in the neighbour's metal."""
    layout = Layout((part_of(square()),), tuple(
        Placement(0, 100.0 * i, 100.0 * j) for j in range(2) for i in range(2)
    ))  # fmt: skip
    _, joined = both(layout)
    assert joined.common is not None
    own = [k for k, (c, _) in enumerate(joined.order) if int(c) not in joined.common.rests]
    assert len(own) == 1
    at = joined.pierces[own[0]]
    assert at.min() < 0.0 or at.max() > 200.0
