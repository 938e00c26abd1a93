"""Film, slugs, cool points, overlap, marks, fly cutting, pre-pierce: by hand where that can be.

Rules of thumb are common practice, no source.  Jerk is set so high that it does not count.
"""

from dataclasses import replace

import numpy as np
import pytest
from motion.outlines import part_of, plate_with_holes, rounded, setting

from analyzer.geometry.contours import Contours
from analyzer.motion.alone import plan_alone
from analyzer.motion.fly import chains
from analyzer.motion.marking import marking_time
from analyzer.motion.plan import Plan, Timing
from analyzer.motion.running import move_times
from analyzer.motion.slugs import slug_cuts
from analyzer.parts.corners import find_corners
from analyzer.parts.part import Hole, Part
from analyzer.process.machine import Machine

STIFF = Machine(jerk=1e9)
OXYGEN = replace(setting(20.0), gas="oxygen", pierce_s=2.0)


def with_corners(part: Part, thickness: float) -> Part:
    rows = np.arange(len(part.contours))
    found = find_corners(part.contours, rows, thickness)
    return replace(part, corners=tuple(corner for row in found for corner in row))


def times_add_up(plan: Plan) -> None:
    """From the first start to the last end: all terms but marking and film, no more, no less."""
    last = plan.order[-1]
    end = plan.begins[last] + plan.contour_times[last]
    t = plan.timing
    assert end == pytest.approx(t.total - t.marking - t.film, rel=1e-9)


def test_the_clock_and_the_split_agree() -> None:
    holes = [(50.0 * k, 60.0, 12.0) for k in range(1, 6)]
    part = with_corners(plate_with_holes(300, 120, holes), 15.0)
    machine = replace(
        STIFF, lift_s=0.2, hop_up_to_mm=60.0, overlap_mm=1.0, cool_point_s=0.4,
        slug_cut_from_mm=8.0,
    )  # fmt: skip
    for gas in (setting(), OXYGEN):
        times_add_up(plan_alone(part, gas, machine, 15.0, "film"))


# --- overlap and gap ------------------------------------------------------


@pytest.mark.parametrize("overlap", [0.0, 2.0, -1.5])
def test_overlap_and_gap_change_the_length_cut(overlap: float) -> None:
    part = plate_with_holes(300, 200, [(100, 100, 40)])
    plan = plan_alone(part, setting(), replace(STIFF, overlap_mm=overlap), 10.0)
    drawn = 2 * (300.5 + 200.5) + np.pi * 39.5
    assert plan.timing.cut == pytest.approx((drawn + 2 * overlap) / 100.0)
    assert plan.profile.lengths.sum() == pytest.approx(drawn + 2 * min(overlap, 0.0), abs=1e-6)
    assert np.all(plan.profile.times >= 0.0)
    times_add_up(plan)


def test_a_gap_longer_than_the_last_segment() -> None:
    outline = Contours.from_points([[0, 0], [100, 0], [100, 50], [0.3, 50], [0, 50], [0, 0.4]])
    plan = plan_alone(part_of(outline), setting(kerf=0.01), replace(STIFF, overlap_mm=-2.0), 5.0)
    assert plan.profile.lengths.sum() == pytest.approx(plan.path.length.sum() - 2.0, abs=1e-6)
    assert np.isfinite(plan.profile.times).all()


def test_an_overlap_past_a_corner_is_slowed_there() -> None:
    """The outline is entered at a corner: running on past it costs more than its length."""
    part = plate_with_holes(300, 200, [])
    plain = plan_alone(part, setting(), STIFF, 10.0).timing
    longer = plan_alone(part, setting(), replace(STIFF, overlap_mm=5.0), 10.0).timing
    assert longer.cut - plain.cut == pytest.approx(0.05)
    assert longer.slowed > plain.slowed + 0.005


# --- cool points ----------------------------------------------------------


def test_cool_points_at_right_angles_in_thick_oxygen() -> None:
    """A rectangle pauses at three corners; the fourth is where it is entered."""
    part = with_corners(plate_with_holes(300, 200, [(100, 100, 40)]), 15.0)
    machine = replace(STIFF, cool_point_s=0.5)
    plan = plan_alone(part, OXYGEN, machine, 15.0)
    assert plan.timing.cool == pytest.approx(1.5)
    stops = np.flatnonzero((plan.profile.entry < 1e-6) & (plan.path.owner == 0))
    assert len(stops) == 3
    without = plan_alone(part, OXYGEN, STIFF, 15.0).timing
    assert without.cool == 0.0
    assert plan.timing.slowed > without.slowed  # the head stands still at each


def test_no_cool_points_where_they_do_not_help() -> None:
    machine = replace(STIFF, cool_point_s=0.5)
    sharp = with_corners(plate_with_holes(300, 200, []), 15.0)
    assert plan_alone(sharp, setting(), machine, 15.0).timing.cool == 0.0
    assert plan_alone(sharp, OXYGEN, machine, 5.0).timing.cool == 0.0
    soft = with_corners(part_of(rounded(300, 200, 10)), 15.0)
    assert plan_alone(soft, OXYGEN, machine, 15.0).timing.cool == 0.0
    window = Contours.from_points([[50, 50], [50, 100], [120, 100], [120, 50]])
    inside = with_corners(part_of(rounded(300, 200, 10), window), 15.0)
    assert plan_alone(inside, OXYGEN, machine, 15.0).timing.cool == 0.0


# --- film -----------------------------------------------------------------


def test_film_pass_by_hand() -> None:
    """A rectangle without jerk: length at film speed, three corners, ramps, one start."""
    part = plate_with_holes(100, 50, [])
    machine = replace(STIFF, film_m_per_min=18.0)  # 300 mm/s
    timing = plan_alone(part, setting(), machine, 2.0, "film").timing
    corner = np.sqrt(8000.0 * 0.05 / (np.sqrt(2.0) - 1.0))
    v, a = 300.0, 8000.0
    # from rest, to a corner and on, to rest: sides 100.5 and 50.5, all long enough?
    assert v**2 / a < 50.0 < 100.0
    sides = (0.0, 100.5, 50.5, 100.5, 50.5)
    wanted = 0.3 + sum(sides) / v
    wanted += 3 * (v - corner) ** 2 / (a * v) + v / a
    assert timing.film == pytest.approx(wanted, rel=1e-3)
    assert plan_alone(part, setting(), machine, 2.0).timing.film == 0.0


# --- slugs ----------------------------------------------------------------


def test_slug_of_a_window_by_hand() -> None:
    """120 x 50 in pieces of at most 40: two lines of 50 across, one of 120 along."""
    outline = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])
    window = Contours.from_points([[50, 50], [50, 100], [170, 100], [170, 50]])
    cuts = slug_cuts(Contours.join([outline, window]), 40.0)
    assert cuts.lines.tolist() == [0, 3]
    assert cuts.lengths.tolist() == pytest.approx([0.0, 2 * 50.0 + 120.0])


@pytest.mark.outside("Lines that cut up a round slug [mm]", "mean chord of a circle (Cavalieri)")
def test_slug_lines_of_a_disc_are_as_long_as_chords_on_average() -> None:
    """Mean chord of a circle over its width: pi d / 4 (Cavalieri)."""
    disc = Contours.circle(0, 0, 50).reversed()
    cuts = slug_cuts(disc, 60.0)
    assert cuts.lines.tolist() == [2]
    assert cuts.lengths[0] == pytest.approx(2 * np.pi * 100.0 / 4.0)


def test_small_slugs_stay_whole() -> None:
    part = plate_with_holes(300, 200, [(100, 100, 40)])
    assert plan_alone(part, setting(), replace(STIFF, slug_cut_from_mm=41.0), 5.0).timing.slugs == 0
    cut_up = plan_alone(part, setting(), replace(STIFF, slug_cut_from_mm=39.0), 5.0).timing
    assert cut_up.slugs > 2 * (0.3 + 0.5 + np.pi * 40.0 / 4.0 / 100.0)


# --- marks, moves, pre-pierce ---------------------------------------------


def test_marks_are_slowed_at_their_corners() -> None:
    line = Contours.from_points([[0, 0], [100, 0], [200, 0]], closed=False)
    bent = Contours.from_points([[0, 0], [100, 0], [100, 100]], closed=False)
    one, two = (marking_time(m, np.zeros(1, dtype=np.int64), STIFF) for m in (line, bent))
    v, a = STIFF.marking_mm_s, 8000.0
    corner = np.sqrt(a * 0.05 / (np.sqrt(2.0) - 1.0))
    assert one == pytest.approx(200.0 / v + v / a, rel=1e-4)
    assert two - one == pytest.approx((v - corner) ** 2 / (a * v), rel=1e-2)


def test_short_moves_hide_the_lift() -> None:
    machine = replace(STIFF, lift_s=0.4, hop_up_to_mm=20.0)
    flat = replace(machine, lift_s=0.0)
    lengths = np.array([5.0, 20.0, 20.1, 300.0])
    added = move_times(lengths, machine) - move_times(lengths, flat)
    np.testing.assert_allclose(added, [0.0, 0.0, 0.4, 0.4])


def test_pre_pierce_adds_a_start_and_a_jump_each() -> None:
    part = plate_with_holes(300, 200, [(60, 100, 40), (160, 100, 40)])
    machine = replace(STIFF, pre_pierce=True)
    plain, twice = (plan_alone(part, OXYGEN, m, 20.0).timing for m in (STIFF, machine))
    assert twice.starts == pytest.approx(2 * plain.starts)
    assert twice.traverse > 2 * plain.traverse  # and back to the first
    assert twice.pierce == plain.pierce
    for gas, thickness in ((OXYGEN, 10.0), (setting(), 20.0)):
        assert plan_alone(part, gas, machine, thickness).timing.starts == pytest.approx(0.9)


# --- fly cutting ----------------------------------------------------------


def perforated(columns: int, rows: int, pitch: float, size: float) -> Part:
    holes = [(pitch * (i + 1), pitch * (j + 1), size) for i in range(columns) for j in range(rows)]
    return plate_with_holes(pitch * (columns + 1), pitch * (rows + 1), holes)


def test_fly_cutting_is_two_and_a_half_to_four_times_faster() -> None:
    """Holes of 5 mm at pitch 8 in 3 mm stainless (common practice, no source).

    The usual way 0.4 to 0.5 s a hole, flown the way round and to the next at 9 m/min.
    """
    part = perforated(20, 20, 8.0, 5.0)
    machine = replace(STIFF, cut_acceleration=10.0, fly_cutting_up_to_mm=3.0)
    gas = setting(596.0, kerf=0.28, pierce=0.1, lead=2.5)
    plan = plan_alone(part, gas, machine, 3.0)
    outline = plan.contour_times[0] + 0.4
    usual = plan.timing.total - outline
    assert 2.5 <= usual / (usual - plan.fly_s) <= 4.5
    assert plan_alone(part, gas, machine, 3.1).fly_s == 0.0
    assert plan_alone(part, gas, STIFF, 3.0).fly_s == 0.0


def test_flown_time_by_hand() -> None:
    """Ten holes in one row, radius of the path 2.25: loop and pitch at sqrt(a r)."""
    part = perforated(10, 1, 8.0, 5.0)
    machine = replace(STIFF, fly_cutting_up_to_mm=3.0)
    plan = plan_alone(part, setting(1000.0), machine, 3.0)
    v = np.sqrt(8000.0 * 2.25)
    flown = 0.3 + (10 * 2 * np.pi * 2.25 + 9 * 8.0) / v + 2 * v / 8000.0
    inner = plan.begins[0] - 0.3 - 0.5 - plan.timing.leads  # about: until the outline's start
    holes = plan.contour_times[1:].sum() + 10 * 0.8
    assert plan.fly_s < inner
    assert plan.fly_s > holes - flown - 0.001


def test_rectangles_are_flown_by_passes() -> None:
    outline = Contours.from_points([[0, 0], [200, 0], [200, 120], [0, 120]])
    grid = [
        Contours.from_points(
            np.add([[0, 0], [0, 5], [10, 5], [10, 0]], [20 + 15 * i, 20 + 10 * j])
        )
        for i in range(10) for j in range(8)
    ]  # fmt: skip
    machine = replace(STIFF, fly_cutting_up_to_mm=3.0)
    plan = plan_alone(part_of(outline, *grid), setting(400.0), machine, 2.0)
    assert len(chains(plan.path, plan.order)) == 1
    assert plan.fly_s > 0.6 * (plan.contour_times[1:].sum() + 80 * 0.8)


def test_few_or_unlike_holes_are_not_flown() -> None:
    machine = replace(STIFF, fly_cutting_up_to_mm=3.0)
    few = perforated(5, 1, 8.0, 5.0)
    assert plan_alone(few, setting(), machine, 3.0).fly_s == 0.0
    unlike = plate_with_holes(200, 20, [(10.0 + 12 * k, 10, 4.0 + 0.2 * k) for k in range(12)])
    assert plan_alone(unlike, setting(), machine, 3.0).fly_s == 0.0
    apart = plate_with_holes(900, 20, [(10.0 + 60 * k, 10, 5.0) for k in range(12)])
    assert plan_alone(apart, setting(), machine, 3.0).fly_s == 0.0


# --- order in thick oxygen ------------------------------------------------


def test_thick_oxygen_keeps_cuts_apart_and_says_what_that_costs() -> None:
    part = perforated(8, 6, 30.0, 16.0)
    plan = plan_alone(part, OXYGEN, STIFF, 15.0)
    inner = plan.order[:-1]
    middle = plan.path.centroid[inner]
    gap = np.hypot(*np.diff(middle, axis=0).T) - 16.0
    assert gap.min() >= 30.0
    assert plan.crowded == 0
    assert plan.spread_s > 0.0
    for gas, thickness in ((OXYGEN, 10.0), (setting(), 15.0)):
        near = plan_alone(part, gas, STIFF, thickness)
        assert near.spread_s == 0.0
        assert near.timing.traverse < plan.timing.traverse


def test_holes_that_cannot_be_kept_apart_are_counted() -> None:
    part = plate_with_holes(100, 60, [(30, 30, 16), (60, 30, 16)])
    plan = plan_alone(part, OXYGEN, STIFF, 15.0)
    assert plan.crowded == 1


def test_islands_before_their_cut_out_and_large_cut_outs_late() -> None:
    outline = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])
    window = Contours.from_points([[20, 20], [20, 180], [120, 180], [120, 20]])
    island = Contours.from_points([[50, 50], [70, 50], [70, 70], [50, 70]])
    small = Contours.circle(200, 100, 5).reversed()
    part = replace(part_of(outline, window, island, small, holes=(Hole(200, 100, 10, 3),)),
                   islands=(2,))  # fmt: skip
    order = plan_alone(part, setting(), STIFF, 5.0).order.tolist()
    assert order[-1] == 0
    assert order.index(2) < order.index(1)
    assert order.index(3) < order.index(1)


# --- lead-ins that are in the way -----------------------------------------


def test_a_lead_in_keeps_clear_of_a_bend_line() -> None:
    """The outline's sharpest corner first; a mark that passes it outside moves the entry."""
    outline = Contours.from_points([[0, 0], [100, 0], [140, 20], [100, 60], [0, 60]])
    plain = plan_alone(part_of(outline), setting(), STIFF, 3.0)
    here = plain.pierces[0]
    way = here - plain.path.starts[0]
    across = np.array([-way[1], way[0]])
    middle = (here + plain.path.starts[0]) / 2.0
    mark = Contours.from_points(np.array([middle - across, middle + across]), closed=False)
    for name in ("marks", "bends"):
        moved = plan_alone(replace(part_of(outline), **{name: mark}), setting(), STIFF, 3.0)
        assert len(moved.blocked) == 0
        assert np.hypot(*(moved.pierces[0] - here)) > 5.0


def test_no_clear_lead_in_is_said() -> None:
    """A hole with a ring of marks around its middle: whatever the entry, it is crossed."""
    part = plate_with_holes(300, 200, [(100, 100, 40)])
    ring = replace(part, marks=Contours.circle(100, 100, 5))
    plan = plan_alone(ring, setting(), STIFF, 3.0)
    assert plan.blocked.tolist() == [1]
    assert plan_alone(part, setting(), STIFF, 3.0).blocked.tolist() == []


def test_the_outline_is_not_entered_across_itself() -> None:
    """A sharp tongue 4 mm below a ceiling: its tip cannot be pierced 6 mm outside."""
    outline = Contours.from_points(
        [[0, 0], [100, 0], [100, 60], [0, 60], [0, 50], [80, 50], [80, 10], [52, 10], [50, 46],
         [48, 10], [0, 10]]
    )  # fmt: skip
    plan = plan_alone(part_of(outline), setting(kerf=0.1), STIFF, 3.0)
    assert len(plan.blocked) == 0
    assert np.hypot(*(plan.pierces[0] - [50.0, 46.0])) > 10.0


def test_terms_that_are_nothing_are_not_written() -> None:
    assert list(Timing(cut=1.0).terms())[-1] == "marking"
    assert list(Timing(cool=1.0, film=2.0).terms())[-2:] == ["film", "cool"]
    assert (Timing(film=1.0) + Timing(film=2.0, slugs=1.0)).total == 4.0
