"""One part alone: times, what must not change them, and cases of the trade."""

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion.outlines import M_PER_MIN, part_of, plate_with_holes, rounded, setting
from shared import needs_corpus, spread_drawings

from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Plan
from analyzer.parts.part import Hole, Part
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting

MACHINE = Machine()
STIFF = Machine(jerk=1e9)  # so high that it does not count: for closed forms without it
GUSSET = Contours.from_points(
    [[0, 0], [120, 0], [150, 40], [60, 140], [25, 140], [0, 90]], [0, 0.2, 0, -0.3, 0, 0]
)


def starter(material: str, thickness: float, power: float, gas: str) -> Setting:
    (one,), _ = settings_for(Job(material, thickness, power, gases=(gas,)))
    return one


def gusset() -> Part:
    """Return a part without symmetry: holes, a window, an open slit."""
    holes = [(20.0, 20.0, 9.0), (100.0, 20.0, 9.0), (40.0, 60.0, 20.0), (60.0, 20.0, 5.0)]
    circles = [Contours.circle(x, y, d / 2.0).reversed() for x, y, d in holes]
    window = Contours.from_points([[15, 100], [20, 125], [45, 115], [40, 95]])
    slit = Contours.from_points([[70, 50], [90, 60]], closed=False)
    found = tuple(Hole(x, y, d, row + 1) for row, (x, y, d) in enumerate(holes))
    return part_of(GUSSET, *circles, window, slit, holes=found)


def carried(part: Part, degrees: float, shift: tuple[float, float], mirror: bool) -> Part:
    """Return the part turned, moved and mirrored as a drawing of it would be read."""
    a = np.radians(degrees)
    matrix = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    if mirror:
        matrix = matrix @ np.diag([-1.0, 1.0])
    rows = part.contours.moved(matrix, shift)
    if mirror:  # the reader runs outlines counter-clockwise and cut-outs clockwise again
        closed = rows.take(rows.closed).reversed()
        rows = Contours.join([closed, rows.take(~rows.closed)])
    holes = []
    for hole in part.holes:
        x, y = matrix @ [hole.x, hole.y] + np.asarray(shift)
        holes.append(replace(hole, x=float(x), y=float(y)))
    return replace(part, contours=rows, holes=tuple(holes))


@pytest.mark.outside("Plate with five holes: path and cutting times [mm, s]", "worked by hand")
def test_plate_of_the_contract() -> None:
    """300 x 200, four holes 12 and one 60, mild steel 10 mm on 10 kW.

    With 6 mm lead-ins on all six contours 1369.4 mm; over the table speed 17.7 / 16.1 /
    35.7 s in nitrogen, mixed and oxygen (agreed figures of this tool).
    """
    holes = [(30.0, 30.0, 12.0), (270.0, 30.0, 12.0), (270.0, 170.0, 12.0), (30.0, 170.0, 12.0),
             (150.0, 100.0, 60.0)]  # fmt: skip
    part = plate_with_holes(300, 200, holes)
    assert part.cut_length == pytest.approx(1339.29, abs=0.01)
    for gas, seconds in (("nitrogen", 17.7), ("mixed", 16.1), ("oxygen", 35.7)):
        plan = plan_alone(part, starter("mild-steel", 10.0, 10.0, gas), MACHINE, 10.0)
        speed = starter("mild-steel", 10.0, 10.0, gas).speed_mm_s
        way = plan.path.length.sum() + 6 * 6.0
        assert way == pytest.approx(1369.4, abs=1.0)
        assert way / speed == pytest.approx(seconds, abs=0.06)
        assert plan.timing.cut == pytest.approx(plan.path.length.sum() / speed)
        assert plan.timing.leads == pytest.approx(plan.leads.sum() / speed)
        assert np.all(plan.leads[1:5] <= 5.75)


def test_perforated_stainless() -> None:
    """2000 holes of 5 mm at pitch 8 in 3 mm stainless, 12 kW nitrogen, a 10 m/s^2.

    sqrt(a r) holds the head at 9.2 m/min, not the table's 35.8; with 0.1 s pierces,
    0.2 s lifts and lead-ins of 1.5 mm about 15.6 min without a limit of jerk, 19.0 at 200
    m/s^3, against 0.9 min by length over speed (agreed figures of this tool).
    """
    speed = 35.8 * M_PER_MIN
    holes = [(8.0 * i, 8.0 * j, 5.0) for i in range(50) for j in range(40)]
    outline = Contours.from_points([[-10, -10], [410, -10], [410, 330], [-10, 330]])
    circles = [Contours.circle(x, y, 2.5).reversed() for x, y, _ in holes]
    part = part_of(
        outline, *circles, holes=tuple(Hole(x, y, d, k + 1) for k, (x, y, d) in enumerate(holes))
    )
    gas = setting(speed, kerf=0.28, pierce=0.1, lead=1.5)
    machine = Machine(cut_acceleration=10.0, start_overhead_s=0.0, lift_s=0.2)
    plan = plan_alone(part, gas, machine, 3.0)
    stiff = plan_alone(part, gas, replace(machine, jerk=1e9), 3.0)
    assert stiff.timing.total / 60.0 == pytest.approx(15.6, abs=0.1)
    inside = plan.path.owner > 0
    fastest = max(plan.profile.exit[inside].max(), plan.profile.ceiling[inside].max())
    assert fastest / M_PER_MIN == pytest.approx(9.2, abs=0.1)
    assert plan.timing.total / 60.0 == pytest.approx(19.0, abs=0.2)
    assert plan.timing.cut / 60.0 == pytest.approx(0.9, abs=0.05)


def test_comb_edge_is_several_times_slower_than_its_length() -> None:
    """400 segments of 5 mm at 90 degrees, mild steel 2 mm on 6 kW: 4.2 s by length.

    Common practice says 18 to 36 s.  Without jerk every segment takes
    2 (sqrt((2 a L + 2 c^2) / 2) - c) / a = 0.0428 s, 17.1 s in all: below that band.
    """
    k = np.arange(401)
    x = 5.0 * ((k + 1) // 2)
    y = 5.0 * ((k // 2) % 2)
    comb = np.column_stack((x, y)).astype(float)
    outline = Contours.from_points(np.vstack((comb, [[1000, 150], [0, 150]])))
    outline = outline if outline.area[0] > 0 else outline.reversed()
    gas = starter("mild-steel", 2.0, 6.0, "nitrogen")
    plan = plan_alone(part_of(outline), gas, STIFF, 2.0)
    edge = plan.profile.times[np.isin(plan.source, np.arange(400))]
    soft = plan_alone(part_of(outline), gas, MACHINE, 2.0)
    assert 18.0 < soft.profile.times[np.isin(soft.source, np.arange(400))].sum() < 36.0
    assert 5.0 * 400 / gas.speed_mm_s == pytest.approx(4.2, abs=0.1)
    corner = np.sqrt(8000.0 * 0.05 / (np.sqrt(2.0) - 1.0))
    each = 2.0 * (np.sqrt(8000.0 * 5.0 + corner**2) - corner) / 8000.0
    assert edge.sum() == pytest.approx(400 * each, rel=0.02)


@pytest.mark.outside("Base plate of 5 mm, about 15 s [s]", "common practice, no source")
def test_base_plate_takes_about_a_quarter_minute() -> None:
    """400 x 200, R10, four holes 9 at 20 mm, mild steel 5 mm on 6 kW nitrogen: about 15 s.

    Common practice, no source.
    """
    holes = [(20.0, 20.0, 9.0), (380.0, 20.0, 9.0), (380.0, 180.0, 9.0), (20.0, 180.0, 9.0)]
    circles = [Contours.circle(x, y, 4.5).reversed() for x, y, _ in holes]
    found = tuple(Hole(x, y, d, k + 1) for k, (x, y, d) in enumerate(holes))
    part = part_of(rounded(400, 200, 10), *circles, holes=found)
    assert part.cut_length == pytest.approx(1295.93, abs=0.01)
    plan = plan_alone(part, starter("mild-steel", 5.0, 6.0, "nitrogen"), MACHINE, 5.0)
    assert plan.timing.total == pytest.approx(15.0, abs=1.5)


def test_small_contours_are_slowed_by_their_factor() -> None:
    """Factor by 4 area / perimeter over thickness: a hole of 10 in 10 mm at 0.55."""
    slow = replace(setting(50.0), factor_ratios=(0.0, 1.0, 6.0), factors=(0.3, 0.55, 1.0))
    plan = plan_alone(plate_with_holes(300, 200, [(60, 60, 10)]), slow, MACHINE, 10.0)
    assert plan.ratios == pytest.approx([12.0 * 2, 1.0])
    hole = plan.path.owner == 1
    np.testing.assert_allclose(plan.profile.ceiling[hole], 0.55 * 50.0)
    np.testing.assert_allclose(plan.profile.ceiling[~hole], 50.0)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.0, 360.0), st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)), st.booleans())
def test_carrying_a_part_changes_no_time(
    degrees: float, shift: tuple[float, float], mirror: bool
) -> None:
    wanted = plan_alone(gusset(), setting(), MACHINE, 10.0)
    got = plan_alone(carried(gusset(), degrees, shift, mirror), setting(), MACHINE, 10.0)
    assert got.timing.total == pytest.approx(wanted.timing.total, rel=1e-9)
    assert got.timing.traverse == pytest.approx(wanted.timing.traverse, rel=1e-9)
    np.testing.assert_allclose(got.contour_times, wanted.contour_times, rtol=1e-8)


@settings(max_examples=15, deadline=None)
@given(st.floats(0.0, 360.0), st.booleans(), st.integers(0, 10**6))
def test_carrying_a_grid_of_holes_changes_no_time(degrees: float, mirror: bool, seed: int) -> None:
    """Grids tie everywhere; square plates have two poses."""
    rng = np.random.default_rng(seed)
    side = 100.0 if seed % 2 else 140.0
    holes = [(15.0 + 14.0 * i, 15.0 + 14.0 * j, 5.0) for i in range(6) for j in range(6)]
    rng.shuffle(holes)
    part = plate_with_holes(side, 100.0, holes)
    other = carried(part, degrees, (30.0, -2e3), mirror)
    one, two = (plan_alone(p, setting(), MACHINE, 3.0).timing for p in (part, other))
    assert two.total == pytest.approx(one.total, rel=1e-9)


def test_where_a_contour_starts_changes_no_time() -> None:
    part = gusset()
    rolled = [
        Contours.from_points(
            np.roll(row.starts, -k, axis=0), np.roll(row.bulges, -k), closed=bool(row.closed[0])
        )
        if row.closed[0]
        else row
        for k, row in enumerate(part.contours.take([r]) for r in range(len(part.contours)))
    ]
    other = replace(part, contours=Contours.join(rolled))
    one, two = (plan_alone(p, setting(), MACHINE, 10.0).timing for p in (part, other))
    assert two.total == pytest.approx(one.total, rel=1e-9)


def aligned(plan: Plan) -> None:
    """Path, source and profile line up, all numbers are finite, speeds keep their limits."""
    path, profile = plan.path, plan.profile
    assert len(profile.lengths) == len(path.bulges) == len(plan.source)
    for values in (profile.times, profile.entry, profile.exit, profile.ceiling, plan.pierces,
                   plan.leads, plan.contour_times):  # fmt: skip
        assert np.isfinite(values).all()
    assert not np.isnan(plan.lead_rooms).any()
    assert np.all(profile.entry <= profile.ceiling * (1 + 1e-12))
    change = np.abs(profile.exit**2 - profile.entry**2)
    assert np.all(change <= 2.0 * profile.acceleration * path.lengths * (1 + 1e-9) + 1e-6)
    nominal = path.lengths / profile.ceiling
    assert np.all(profile.times >= nominal * (1 - 1e-9))
    assert sorted(plan.order) == list(range(len(path)))
    assert all(getattr(plan.timing, name) >= 0.0 for name in ("cut", "slowed", "leads", "traverse"))


def test_all_lines_up() -> None:
    plan = plan_alone(gusset(), setting(), MACHINE, 10.0)
    aligned(plan)
    inside = np.bincount(plan.path.owner, weights=plan.profile.times)
    np.testing.assert_allclose(inside, plan.contour_times)
    first = plan.path.offsets[:-1]
    # the lead-in is where the head speeds up, so a contour is not entered at rest
    assert np.all(plan.profile.entry[first][plan.leads > 0.0] > 0.0)
    assert np.all(plan.profile.exit[plan.path.offsets[1:] - 1] == 0.0)


def test_starts_pierces_and_lifts_are_counted() -> None:
    machine = Machine(start_overhead_s=0.3, lift_s=0.2)
    part = plate_with_holes(300, 200, [(50, 100, 12), (100, 100, 12), (150, 100, 12)])
    timing = plan_alone(part, setting(pierce=0.5), machine, 10.0).timing
    assert timing.starts == pytest.approx(4 * 0.3)
    assert timing.pierce == pytest.approx(4 * 0.5)
    assert timing.traverse > 3 * 0.2
    still = plan_alone(part, setting(pierce=0.5), replace(machine, lift_s=0.0), 10.0).timing
    assert timing.traverse == pytest.approx(still.traverse + 3 * 0.2)


def test_one_contour_has_no_traverse() -> None:
    timing = plan_alone(plate_with_holes(300, 200, []), setting(), MACHINE, 10.0).timing
    assert timing.traverse == 0.0


def test_a_small_plate_by_hand() -> None:
    """100 x 50, table 100 mm/s, kerf 0.5, 6 mm lead, a 8 m/s^2, corners at 31.07 mm/s.

    Every corner but the entry costs (v - c)^2 / (a v); the rests at both ends v / a.
    """
    plan = plan_alone(plate_with_holes(100, 50, []), setting(), STIFF, 10.0)
    corner = np.sqrt(8000.0 * 0.05 / (np.sqrt(2.0) - 1.0))
    slowed = 3 * (100.0 - corner) ** 2 / (8000.0 * 100.0) + 100.0 / 8000.0
    assert plan.timing.cut == pytest.approx(3.02)
    assert plan.timing.leads == pytest.approx(0.06)
    assert plan.timing.slowed == pytest.approx(slowed, rel=1e-3)


def test_marks_take_time_but_no_pierce() -> None:
    marks = Contours.join(
        [Contours.from_points([[20 + 10 * k, 10], [25 + 10 * k, 10]], closed=False)
         for k in range(4)]
    )  # fmt: skip
    plain = plate_with_holes(100, 50, [])
    plan = plan_alone(replace(plain, marks=marks), setting(), STIFF, 10.0)
    v, a = MACHINE.marking_mm_s, 8000.0
    assert v**2 / a > 5.0  # too short for the full speed
    wanted = 4 * 2.0 * np.sqrt(5.0 / a) + 3 * 2.0 * np.sqrt(5.0 / 15000.0)
    assert plan.timing.marking == pytest.approx(wanted, rel=1e-3)
    assert plan.timing.pierce == pytest.approx(0.5)


def test_loose_open_lines() -> None:
    lines = Contours.join(
        [Contours.from_points([[0, 10.0 * k], [50, 10.0 * k]], closed=False) for k in range(3)]
    )
    plan = plan_alone(part_of(None, lines), setting(), STIFF, 10.0)
    aligned(plan)
    assert plan.path.length.tolist() == [50.0] * 3
    assert plan.timing.cut == pytest.approx(1.5)
    # there and back again: each next line begins where the last one ended
    assert plan.timing.traverse == pytest.approx(4.0 * np.sqrt(10.0 / 15000.0), rel=1e-3)


def test_nothing_takes_no_time() -> None:
    plan = plan_alone(part_of(None), setting(), MACHINE, 10.0)
    assert plan.timing.total == 0.0


@pytest.mark.parametrize("kerf", [0.1, 0.5, 2.0, 12.0])
def test_any_kerf_gives_finite_times(kerf: float) -> None:
    aligned(plan_alone(gusset(), setting(kerf=kerf), MACHINE, 10.0))


@pytest.mark.slow
def test_ten_thousand_cut_outs_in_seconds() -> None:
    """Time grows about linearly: ten times the holes take at most twenty times as long."""
    spent = []
    for count in (32, 100):
        holes = [(10.0 + 10 * i, 10.0 + 10 * j, 5.0) for i in range(count) for j in range(count)]
        part = plate_with_holes(20.0 + 10 * count, 30.0 + 10 * count, holes)
        start = time.process_time()
        plan_alone(part, setting(), MACHINE, 3.0)
        spent.append(time.process_time() - start)
    assert spent[1] <= 20.0 * spent[0]


@needs_corpus
@pytest.mark.parametrize("path", spread_drawings(8))
def test_real_drawings(path) -> None:
    """The first parts of real drawings, in thin and in thick plate."""
    from analyzer.drawing.reading import read_drawing
    from analyzer.errors import DrawingError
    from analyzer.parts.find import find_parts

    try:
        drawing = read_drawing(path)
    except DrawingError:
        pytest.skip("refused by the reader, which has its own tests")
    for part in find_parts(drawing, 3.0).parts[:12]:
        for kerf in (0.25, 0.8):
            aligned(plan_alone(part, setting(400.0, kerf=kerf), MACHINE, 3.0))
