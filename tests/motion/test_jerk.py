"""Jerk: what must hold for every path, closed forms, ruckig, and a linear programme."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion.outlines import M_PER_MIN, rounded, square, zigzag
from motion.reference import check_motion, slp_time

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.motion.ceiling import path_ceilings
from analyzer.motion.jerk_ramps import ramp_lengths, reach
from analyzer.motion.plan import Profile
from analyzer.motion.profile import speed_profile
from analyzer.motion.traverse import move_times, rest_to_rest_times

A, J = 8000.0, 2e5
Run = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


@st.composite
def runs(draw: st.DrawFn) -> Run:
    """Lengths, ceilings, joint limits and breaks of a few runs: steps, curves, equal pieces."""
    counts = draw(st.lists(st.integers(1, 25), min_size=1, max_size=4))
    rng = np.random.default_rng(draw(st.integers(0, 10**9)))
    kind = draw(st.sampled_from(["wild", "curve", "equal"]))
    size = sum(counts)
    lengths = 10.0 ** rng.uniform(-3.0, 2.0, size)
    ceilings = 10.0 ** rng.uniform(0.5, 3.0, size)
    joints = np.where(rng.random(size) < 0.5, np.inf, 10.0 ** rng.uniform(0.0, 3.0, size))
    if kind == "curve":
        ceilings = 200.0 + 150.0 * np.sin(np.arange(size) * rng.uniform(0.05, 0.5))
        lengths, joints = rng.uniform(0.2, 2.0, size), np.full(size, np.inf)
    if kind == "equal":
        ceilings = rng.choice([50.0, 300.0], size)
        joints = np.where(rng.random(size) < 0.3, 30.0, np.inf)
        lengths = rng.choice([0.0, 0.5, 1.0, 20.0], size)
    return lengths, ceilings, joints, np.concatenate(([0], np.cumsum(counts)))


def jerked(run: Run, jerk: float = J) -> Profile:
    return speed_profile(*run, A, jerk)


@settings(max_examples=80, deadline=None)
@given(runs())
def test_motion_keeps_every_limit(run: Run) -> None:
    """The speed curve rebuilt from what is stored: ceiling, acceleration, jerk, length, time."""
    _, _, joints, breaks = run
    check_motion(jerked(run), joints, breaks)


@settings(max_examples=25, deadline=None)
@given(runs())
def test_jerk_never_saves_time_and_none_costs_none(run: Run) -> None:
    free = speed_profile(*run, A)
    check_motion(free, run[2], run[3])
    soft = jerked(run)
    assert soft.times.sum() >= free.times.sum() * (1 - 1e-9)
    assert np.all(soft.entry <= free.entry * (1 + 1e-6) + 1e-6)
    hard = jerked(run, 1e12)
    assert hard.times.sum() == pytest.approx(free.times.sum(), rel=2e-3, abs=1e-5)


@settings(max_examples=25, deadline=None)
@given(runs(), st.floats(0.1, 10.0))
def test_scaling(run: Run, scale: float) -> None:
    """k times the lengths and speeds at k times acceleration and jerk take the same time."""
    lengths, ceilings, joints, breaks = run
    other = speed_profile(
        lengths * scale, ceilings * scale, joints * scale, breaks, A * scale, J * scale
    )
    # which dips are tried may flip on rounding where two are equal
    assert other.times.sum() == pytest.approx(jerked(run).times.sum(), rel=1e-4)


@settings(max_examples=25, deadline=None)
@given(runs(), st.floats(0.01, 0.99), st.integers(0, 10**6))
def test_splitting_a_segment_changes_nothing(run: Run, share: float, which: int) -> None:
    lengths, ceilings, joints, _ = run
    k = which % len(lengths)
    one = speed_profile(lengths, ceilings, joints, [0, len(lengths)], A, J)
    split = np.insert(lengths, k, lengths[k] * share)
    split[k + 1] = lengths[k] * (1.0 - share)
    two = speed_profile(
        split, np.insert(ceilings, k, ceilings[k]), np.insert(joints, k + 1, np.inf),
        [0, len(split)], A, J,
    )  # fmt: skip
    assert two.times.sum() == pytest.approx(one.times.sum(), rel=1e-9, abs=1e-12)
    parts = two.times[k] + two.times[k + 1]
    assert parts == pytest.approx(one.times[k], rel=1e-6, abs=1e-7)


@settings(max_examples=25, deadline=None)
@given(runs())
def test_samples_and_slow_lengths_agree_with_the_speed_curve(run: Run) -> None:
    """`speeds_at`, `times_at` and `length_below` against a dense table of the same motion."""
    profile = jerked(run)
    k = int(np.argmax(profile.lengths))
    share = np.linspace(0.0, 1.0, 2001)
    rows = np.full(len(share), k)
    speed, time = profile.speeds_at(rows, share), profile.times_at(rows, share)
    assert speed[0] == pytest.approx(profile.entry[k], rel=1e-6, abs=0.05)
    assert speed[-1] == pytest.approx(profile.exit[k], rel=1e-6, abs=0.05)
    # towards a rest time goes as the cube root of the way, and so do its rounding errors
    assert time[-1] == pytest.approx(profile.times[k], rel=1e-6, abs=1e-5)
    assert np.all(np.diff(time) >= -1e-12)
    under_way = speed[(share > 0.02) & (share < 0.98)].min()
    assert profile.least[k] <= under_way * (1.0 + 1e-6) + 1e-6
    assert profile.least[k] >= min(speed.min(), profile.entry[k], profile.exit[k]) - 0.01
    for limit in (0.3 * speed.max(), 0.8 * speed.max()):
        slow = np.mean((speed[1:] + speed[:-1]) / 2.0 < limit) * profile.lengths[k]
        step = profile.lengths[k] / 1000.0
        assert profile.length_below(limit)[k] == pytest.approx(slow, abs=3 * step)
    assert np.all(profile.length_below(1e9) == profile.lengths)
    assert np.all(profile.length_below(0.0) == 0.0)


def test_runs_do_not_touch_one_another() -> None:
    """Many runs at once are each what they are alone."""
    rng = np.random.default_rng(5)
    size, breaks = 120, np.arange(0, 121, 12)
    lengths, ceilings = 10.0 ** rng.uniform(-1, 1.5, size), 10.0 ** rng.uniform(1.5, 2.7, size)
    joints = np.where(rng.random(size) < 0.4, 40.0, np.inf)
    whole = speed_profile(lengths, ceilings, joints, breaks, A, J)
    for low, high in pairwise(breaks):
        part = slice(low, high)
        one = speed_profile(lengths[part], ceilings[part], joints[part], [0, 12], A, J)
        np.testing.assert_allclose(whole.times[part], one.times, rtol=1e-8, atol=1e-10)


def test_limits_may_differ_from_segment_to_segment() -> None:
    """A weak axis on the second side: no side breaks its own limits, weaker is never faster."""
    lengths, joints = np.full(4, 60.0), np.full(4, 31.0)
    ceilings = np.full(4, 400.0)
    a, j = np.array([8e3, 2e3, 8e3, 2e3]), np.array([2e5, 5e4, 2e5, 5e4])
    mixed = speed_profile(lengths, ceilings, joints, [0, 4], a, j)
    check_motion(mixed, joints, np.array([0, 4]))
    strong = speed_profile(lengths, ceilings, joints, [0, 4], 8e3, 2e5)
    weak = speed_profile(lengths, ceilings, joints, [0, 4], 2e3, 5e4)
    assert strong.times.sum() < mixed.times.sum() < weak.times.sum()
    np.testing.assert_allclose(mixed.times[2], strong.times[2], rtol=1e-9)


@pytest.mark.parametrize("a", [(2e3, 8e3, 8e3), (8e3, 8e3, 2e3), (8e3, 2e3, 8e3)])
@pytest.mark.parametrize("j", [(2e5, 2e5, 2e5), (5e4, 2e5, 2e5), (2e5, 2e5, 5e4)])
def test_one_of_the_limits_may_differ_alone(a: tuple[float, ...], j: tuple[float, ...]) -> None:
    """Along one even line only acceleration, only jerk, or both change at a joint."""
    joints, line = np.full(3, np.inf), np.array([0, 3])
    motion = speed_profile(np.full(3, 6.0), np.full(3, 400.0), joints, line, a, j)
    check_motion(motion, joints, line)
    back = speed_profile(np.full(3, 6.0), np.full(3, 400.0), joints, line, a[::-1], j[::-1])
    np.testing.assert_allclose(motion.times, back.times[::-1], rtol=1e-9)


def test_a_joint_hardly_slower_than_its_line_is_slowed_for() -> None:
    line = np.array([0, 2])
    for limit in (399.5, 399.999):
        motion = speed_profile([100.0, 100.0], [400.0, 400.0], [np.inf, limit], line, A, J)
        assert motion.entry[1] <= limit * (1.0 + 1e-12)
    at_it = speed_profile([100.0, 100.0], [400.0, 400.0], [np.inf, 400.0], line, A, J)
    without = speed_profile([100.0, 100.0], [400.0, 400.0], [np.inf, np.inf], line, A, J)
    assert at_it.times.sum() == pytest.approx(float(without.times.sum()), rel=1e-12)


def test_nothing_and_no_length() -> None:
    assert speed_profile([], [], [], [0], A, J).times.sum() == 0.0
    got = speed_profile([0.0, 0.0], [10.0, 10.0], [5.0, 5.0], [0, 1, 2], A, J)
    assert got.times.tolist() == [0.0, 0.0]
    assert got.speeds_at([0, 1], [0.5, 1.0]).tolist() == [0.0, 0.0]


def test_jerk_must_be_positive() -> None:
    with pytest.raises(InputError, match="must be positive"):
        speed_profile([1.0], [10.0], [1.0], [0, 1], A, 0.0)
    with pytest.raises(InputError, match="mm/s\\^3"):
        rest_to_rest_times([1.0], 10.0, A, -1.0)


# --- closed forms -----------------------------------------------------------------------------
# Seven-phase motion from rest to rest: Biagiotti & Melchiorri, Trajectory Planning for Automatic
# Machines and Robots, Springer 2008, ch. 3 (from memory); values worked out by hand.


@pytest.mark.outside(
    "Straight move with jerk: time, peak speed [s, m/min]",
    "Biagiotti and Melchiorri 2008, ch. 3, from memory, by hand",
)
@pytest.mark.parametrize(
    ("length", "jerk", "time", "peak"),
    [
        (100.0, 200e3, 0.381650, 20.0), (100.0, 1000e3, 0.343333, 20.0),
        (5.0, 200e3, 0.092832, 6.4633), (1.0, 200e3, 0.054288, 2.2104),
    ],
)  # fmt: skip
def test_straight_from_rest_to_rest(length: float, jerk: float, time: float, peak: float) -> None:
    """20 m/min and 10 m/s^2."""
    got = speed_profile([length], [20 * M_PER_MIN], [1.0], [0, 1], 1e4, jerk)
    assert got.times.sum() == pytest.approx(time, abs=1e-6)
    assert got.speeds_at([0], [0.5])[0] / M_PER_MIN == pytest.approx(peak, abs=1e-4)
    moves = rest_to_rest_times([length], 20 * M_PER_MIN, 1e4, jerk)
    assert moves[0] == pytest.approx(time, abs=1e-6)


@pytest.mark.outside(
    "Rapid moves with jerk [s]", "Biagiotti and Melchiorri 2008, ch. 3, from memory, by hand"
)
def test_rapid_moves() -> None:
    """300 and 1000 mm at 120 m/min, 15 m/s^2 and 300 m/s^3; the first peaks at 106.75 m/min."""
    times = rest_to_rest_times([300.0, 1000.0], 120 * M_PER_MIN, 15e3, 3e5)
    np.testing.assert_allclose(times, [0.337228, 0.683333], atol=1e-6)
    one = speed_profile([300.0], [120 * M_PER_MIN], [1.0], [0, 1], 15e3, 3e5)
    assert one.speeds_at([0], [0.5])[0] / M_PER_MIN == pytest.approx(106.75, abs=0.005)


@pytest.mark.outside(
    "Square with stops, with jerk [s]", "Biagiotti and Melchiorri 2008, ch. 3, from memory, by hand"
)
def test_square_with_a_stop_at_every_corner() -> None:
    stops = speed_profile([100.0] * 4, [20 * M_PER_MIN] * 4, [0.0] * 4, [0, 4], 1e4, 2e5)
    assert stops.times.sum() == pytest.approx(1.526599, abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 500.0), st.floats(1e-2, 1e3), st.floats(100.0, 3e4), st.floats(1e4, 1e6))
def test_reach_is_the_end_of_a_ramp(speed: float, length: float, a: float, j: float) -> None:
    low = np.array([speed])
    high = reach(low, np.array([length]), np.array(a), np.array(j))
    assert ramp_lengths(low, high, np.array(a), np.array(j))[0] == pytest.approx(length, rel=1e-6)


# --- ruckig: an independent solver of jerk-limited moves --------------------------------------


def ruckig_time(length: float, begin: float, end: float, v: float, a: float, j: float) -> float:
    ruckig = pytest.importorskip("ruckig")
    otg = ruckig.Ruckig(1)
    move = ruckig.InputParameter(1)
    move.current_position, move.target_position = [0.0], [length]
    move.current_velocity, move.target_velocity = [begin], [end]
    move.max_velocity, move.max_acceleration, move.max_jerk = [v], [a], [j]
    found = ruckig.Trajectory(1)
    otg.calculate(move, found)
    return float(found.duration)


@pytest.mark.outside("300 moves from rest to rest with jerk [s]", "library ruckig")
def test_rest_to_rest_against_ruckig() -> None:
    """Within 1e-9 of `ruckig`, from 0.001 to 10,000 mm; profile and closed form alike."""
    rng = np.random.default_rng(11)
    for _ in range(300):
        length, v = 10.0 ** rng.uniform(-3, 4), 10.0 ** rng.uniform(0.5, 3.5)
        a, j = 10.0 ** rng.uniform(3, 4.5), 10.0 ** rng.uniform(4, 6)
        want = ruckig_time(length, 0.0, 0.0, v, a, j)
        assert rest_to_rest_times([length], v, a, j)[0] == pytest.approx(want, rel=1e-9)
        got = speed_profile([length], [v], [1.0], [0, 1], a, j).times.sum()
        assert got == pytest.approx(want, rel=1e-9)


@pytest.mark.outside("300 moves between speeds with jerk [s]", "library ruckig")
def test_moves_with_end_speeds_against_ruckig() -> None:
    """Within 1e-6 of `ruckig`."""
    rng = np.random.default_rng(12)
    for _ in range(300):
        v = 10.0 ** rng.uniform(1.5, 3.0)
        begin, end = rng.uniform(0.0, v, 2)
        a, j = 10.0 ** rng.uniform(3, 4.5), 10.0 ** rng.uniform(4, 6)
        least = ramp_lengths(*(np.array([x]) for x in sorted((begin, end))), np.array(a),
                             np.array(j))[0]  # fmt: skip
        length = least * (1.0 + 10.0 ** rng.uniform(-3, 2)) + 1e-3
        got = move_times([length], [begin], [end], v, a, j)[0]
        assert got == pytest.approx(ruckig_time(length, begin, end, v, a, j), rel=1e-6)


def test_a_move_may_be_too_short() -> None:
    with pytest.raises(InputError, match="too short"):
        move_times([0.1], [0.0], [400.0], 500.0, A, J)


# --- a sequential linear programme ------------------------------------------------------------


def ellipse(count: int, wide: float, high: float) -> Contours:
    """Return arcs through three points each of an ellipse, entered where it is sharpest."""
    t = np.linspace(0.0, 2.0 * np.pi, 2 * count + 1)
    points = np.column_stack((wide * np.cos(t), high * np.sin(t)))
    start, middle, end = points[:-1:2], points[1::2], points[2::2]
    chord = end - start
    off = middle - (start + end) / 2.0
    size = np.hypot(chord[:, 0], chord[:, 1])
    sagitta = (off[:, 0] * chord[:, 1] - off[:, 1] * chord[:, 0]) / size
    return Contours.from_points(start, 2.0 * sagitta / size, smooth=np.ones(count, dtype=bool))


def spiral() -> Contours:
    """Return half circles of radius 1, 2, ... 8 in one another."""
    x, points = 0.0, [[0.0, 0.0]]
    for k in range(1, 9):
        x += 2.0 * k * (-1) ** k
        points.append([x, 0.0])
    return Contours.from_points(points, np.full(8, 1.0), closed=False)


def steps() -> Contours:
    """Return a comb of unequal teeth."""
    points = [[0, 0], [20, 0], [20, 1], [40, 1], [40, 0], [60, 0], [60, 1], [80, 1], [80, 40]]
    return Contours.from_points(points, closed=False)


SHAPES = {
    "line": Contours.from_points([[0, 0], [60, 0]], closed=False),
    "square": square(60.0),
    "fillets of 5": rounded(100.0, 60.0, 5.0),
    "fillets of 2": rounded(30.0, 20.0, 2.0),
    "zigzag of 5": zigzag(12, 5.0),
    "zigzag of 1": zigzag(12, 1.0),
    "unequal teeth": steps(),
    "ellipse of 16 arcs": ellipse(16, 30.0, 10.0),
    "ellipse of 64 arcs": ellipse(64, 30.0, 10.0),
    "spiral": spiral(),
    "hole": Contours.circle(0.0, 0.0, 4.0),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("speed", [pytest.param(120.0, marks=pytest.mark.slow), 450.0])
def test_contours_against_a_linear_programme(name: str, speed: float) -> None:
    """Within 3 % of a sequential linear programme in v^2, and not faster than it can be.

    The programme is a reference only to its own grid: about 0.5 % on moves of known time.
    """
    path = SHAPES[name]
    inside, joints = path_ceilings(path, np.full(len(path), speed), A, 0.05)
    got = speed_profile(path.lengths, inside, joints, path.offsets, A, J)
    check_motion(got, joints, path.offsets)
    want = slp_time(path.lengths, inside, joints, A, J)
    assert -0.01 <= got.times.sum() / want - 1.0 <= 0.03


@pytest.mark.parametrize(
    "seed", [0, 1, 2, *(pytest.param(k, marks=pytest.mark.slow) for k in range(3, 12))]
)
def test_random_limits_against_a_linear_programme(seed: int) -> None:
    rng = np.random.default_rng(seed)
    lengths, ceilings = 10.0 ** rng.uniform(-0.7, 1.5, 12), 10.0 ** rng.uniform(1.5, 2.7, 12)
    joints = np.where(rng.random(12) < 0.4, np.inf, 10.0 ** rng.uniform(1.0, 2.5, 12))
    got = speed_profile(lengths, ceilings, joints, [0, 12], A, J).times.sum()
    assert -0.01 <= got / slp_time(lengths, ceilings, joints, A, J) - 1.0 <= 0.03


def test_the_linear_programme_knows_a_straight_move() -> None:
    """The reference itself against the closed form, so that 3 % of it means something."""
    for length in (5.0, 60.0):
        got = slp_time(np.array([length]), np.array([400.0]), np.array([0.0]), A, J)
        want = rest_to_rest_times([length], 400.0, A, J)[0]
        assert got == pytest.approx(want, rel=0.006)


def test_an_ellipse_is_as_fast_from_16_arcs_as_from_400() -> None:
    """Half axes 60 and 20: near 0.60 s whatever the number of arcs; a stop in the
    acceleration at every joint would make it 1.34 s."""
    times = []
    for count in (16, 32, 64, 100, 400):
        path = ellipse(count, 60.0, 20.0)
        inside, joints = path_ceilings(path, np.array([2000.0]), A, 0.05)
        got = speed_profile(path.lengths, inside, joints, path.offsets, A, J)
        check_motion(got, joints, path.offsets)
        times.append(got.times.sum())
    assert all(0.54 <= time <= 0.61 for time in times)
    assert times[-1] == pytest.approx(times[2], rel=0.02)
