"""Burr class along the edges: the metres add up, and slow stretches are exact.

Plans are made by hand, so that the way a head brakes is known in closed form:
v^2 = v0^2 + 2 a s.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.effects.edges import forecast_edges
from analyzer.effects.speeds import corner_speeds, slow_lengths
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.plan import Plan, Profile, Timing
from analyzer.parts.part import Corner, Part
from analyzer.process.choose import settings_for
from analyzer.process.setting import Setting

A = 8000.0  # [mm/s^2]
EMPTY = Contours.empty()


def part_of(contours: Contours, corners: tuple[Corner, ...] = ()) -> Part:
    return Part("P1", 1, None, contours, EMPTY, EMPTY, (), (), corners, (), ())


def plan_on(
    path: Contours, source: np.ndarray, entry: np.ndarray, leave: np.ndarray,
    ceiling: np.ndarray, ratios: np.ndarray,
) -> Plan:  # fmt: skip
    count = len(path)
    profile = Profile(path.lengths, entry, leave, ceiling, path.lengths / ceiling, A)
    return Plan(
        np.arange(count), path, source, profile, np.zeros(count), np.zeros((count, 2)), ratios,
        Timing(), np.zeros(count),
    )  # fmt: skip


def setting_of(job: Job, gas: str) -> Setting:
    return settings_for(replace(job, gases=(gas,)))[0][0]


SQUARE = Contours.from_points([[0, 0], [100, 0], [100, 100], [0, 100]])


def square_plan(speed: float, corner: float) -> Plan:
    every = np.full(4, speed)
    entry, leave = np.full(4, corner), np.full(4, corner)
    entry[0] = leave[3] = 0.0
    return plan_on(SQUARE, np.arange(4), entry, leave, every, np.array([np.inf]))


@pytest.mark.outside("Edge cut slowly at a corner [mm]", "kinematics in closed form")
def test_slow_stretch_at_a_corner_is_that_of_the_ramp() -> None:
    """10 mm nitrogen: slow below 0.3 of the speed; the ramps from the corner up to there."""
    job = Job("mild-steel", 10.0, 10.0)
    setting = setting_of(job, "nitrogen")
    v = setting.speed_mm_s
    corner = 0.1 * v
    edges = forecast_edges(part_of(SQUARE), square_plan(v, corner), setting, job)
    ramp = ((0.3 * v) ** 2 - corner**2) / (2.0 * A)
    from_rest = (0.3 * v) ** 2 / (2.0 * A)
    slow = 6 * ramp + 2 * from_rest  # three corners, both sides; start and end
    np.testing.assert_allclose(edges.metres[0], [0, 0, 0.4 - slow / 1000, slow / 1000], atol=1e-12)
    assert edges.base_class == 2.0


def test_slow_spot_says_where_it_is_slowest_but_not_the_start() -> None:
    """Three corners are slow, one more than the others; at the first the cut only starts."""
    job = Job("mild-steel", 12.0, 24.0)
    setting = setting_of(job, "nitrogen")
    v = setting.speed_mm_s
    plan = square_plan(v, 0.29 * v)
    entry, leave = plan.profile.entry.copy(), plan.profile.exit.copy()
    entry[2] = leave[1] = 0.02 * v  # the corner (100, 100)
    plan = replace(plan, profile=replace(plan.profile, entry=entry, exit=leave))
    (spot,) = forecast_edges(part_of(SQUARE), plan, setting, job).spots
    assert (spot.x, spot.y, spot.cause, spot.burr_class) == (100.0, 100.0, "slow corner", 2)


def test_start_and_end_alone_are_no_spot() -> None:
    job = Job("mild-steel", 12.0, 24.0)
    setting = setting_of(job, "nitrogen")
    edges = forecast_edges(
        part_of(SQUARE), square_plan(setting.speed_mm_s, setting.speed_mm_s), setting, job
    )
    assert edges.spots == ()
    assert edges.metres[0, 2] == 0.0  # nor raised metres: nobody brushes a tenth of a millimetre


def test_small_contour_is_one_class_worse_all_round() -> None:
    job = Job("mild-steel", 5.0, 6.0)
    hole = Contours.circle(50, 50, 4.5).reversed()
    contours = Contours.join([SQUARE, hole])
    count = len(contours.bulges)
    for gas, wanted in (("nitrogen", (1, 2)), ("mixed", (1, 1)), ("oxygen", (0, 1))):
        setting = setting_of(job, gas)
        v = np.full(count, setting.speed_mm_s)
        plan = plan_on(contours, np.arange(count), v, v, v, np.array([np.inf, 9.0 / 5.0]))
        edges = forecast_edges(part_of(contours), plan, setting, job)
        assert edges.metres[0].argmax() == wanted[0]
        assert edges.metres[1].argmax() == wanted[1]
        spots = [(s.cause, s.row, s.burr_class) for s in edges.spots]
        assert spots == ([("small contour", 1, wanted[1])] if wanted[1] > wanted[0] else [])
        if spots:
            assert (edges.spots[0].x, edges.spots[0].y) == pytest.approx((50.0, 50.0))
            assert edges.spots[0].length == pytest.approx(np.pi * 9.0)


@settings(deadline=None, max_examples=60)
@given(
    points=st.lists(
        st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=3, max_size=12, unique=True
    ),
    speeds=st.lists(st.floats(0.0, 150.0), min_size=12, max_size=12),
    kept=st.lists(st.booleans(), min_size=12, max_size=12),
    ratio=st.floats(0.2, 8.0),
    t=st.sampled_from([2.0, 5.0, 8.0, 15.0]),
    closed=st.booleans(),
)
def test_metres_add_up_to_the_drawn_length(
    points: list[tuple[int, int]], speeds: list[float], kept: list[bool], ratio: float,
    t: float, closed: bool,
) -> None:  # fmt: skip
    """Whatever the path: shorter than drawn, with segments swallowed, turned to start anywhere."""
    drawn = Contours.from_points(points, closed=closed)
    count = len(drawn.bulges)
    keep = np.flatnonzero(np.array(kept[:count]))
    keep = keep if len(keep) else np.array([0])
    start = len(points) % len(keep)
    source = np.roll(keep, -start) if closed else keep
    path = replace(
        drawn, starts=drawn.starts[source], ends=drawn.ends[source], bulges=drawn.bulges[source],
        lengths=0.9 * drawn.lengths[source], smooth=drawn.smooth[source],
        offsets=np.array([0, len(source)]),
    )  # fmt: skip
    v = np.array(speeds)
    entry, leave = v[: len(source)], np.roll(v, -1)[: len(source)]
    plan = plan_on(path, source, entry, leave, np.full(len(source), 150.0), np.array([ratio]))
    for gas in ("oxygen", "nitrogen", "mixed", "air"):
        job = Job("mild-steel", t, t)
        edges = forecast_edges(part_of(drawn), plan, setting_of(job, gas), job)
        assert edges.metres.shape == (1, 4)
        assert (edges.metres >= 0.0).all()
        np.testing.assert_allclose(edges.metres.sum(axis=1), drawn.length / 1000.0, atol=1e-9)


def test_faster_everywhere_is_never_more_slow_edge() -> None:
    rng = np.random.default_rng(7)
    entry, leave = rng.uniform(0, 60, 4), rng.uniform(0, 60, 4)
    limit = np.array([40.0])

    def slow(scale: float) -> float:
        plan = plan_on(SQUARE, np.arange(4), scale * entry, scale * leave, np.full(4, 150.0), limit)
        return float(slow_lengths(SQUARE, plan, limit).sum())

    lengths = [slow(scale) for scale in (0.0, 0.5, 1.0, 1.5, 5.0)]
    assert lengths == sorted(lengths, reverse=True)


def test_swallowed_fillet_goes_with_the_joint_that_replaces_it() -> None:
    """The offset swallowed segment 1: it is slow if the head is slow where 0 ends."""
    drawn = Contours.from_points([[0, 0], [50, 0], [50.2, 0.2], [50, 50]])
    source = np.array([0, 2, 3])
    path = drawn.take([0])
    path = replace(
        path, starts=path.starts[source], ends=path.ends[source], bulges=path.bulges[source],
        lengths=path.lengths[source], smooth=path.smooth[source], offsets=np.array([0, 3]),
    )  # fmt: skip
    ceiling = np.full(3, 100.0)
    for joint, slow in ((10.0, True), (90.0, False)):
        speed = np.array([90.0, joint, 90.0])
        plan = plan_on(path, source, speed, np.roll(speed, -1), ceiling, np.array([np.inf]))
        lengths = slow_lengths(drawn, plan, np.array([50.0]))
        assert lengths[1] == pytest.approx(drawn.lengths[1] if slow else 0.0)


def test_corner_speeds() -> None:
    """Joints at 30, a fillet limited to 20, and the corner at which the contour begins."""
    fillet = np.tan(np.pi / 8)  # quarter circle R 10
    drawn = Contours.from_points(
        [[0, 0], [100, 0], [100, 100], [10, 100], [0, 90]], [0, 0, 0, fillet, 0]
    )
    v = np.full(5, 80.0)
    entry, leave = v.copy(), v.copy()
    entry[[1, 2]] = leave[[0, 1]] = 30.0
    entry[0] = leave[4] = 0.0
    entry[3] = leave[3] = leave[2] = entry[4] = 20.0
    ceiling = np.array([80.0, 80.0, 80.0, 20.0, 80.0])
    plan = plan_on(drawn, np.arange(5), entry, leave, ceiling, np.array([np.inf]))
    middle = 290.0 + 5.0 * np.pi / 2.0
    corners = (
        Corner(0, 0, 90, 0, 90, 0, 0.0), Corner(100, 0, 90, 0, 90, 0, 100.0),
        Corner(100, 100, 90, 0, 90, 0, 200.0), Corner(3, 97, 90, 10, 90, 0, middle),
    )  # fmt: skip
    speeds = corner_speeds(part_of(drawn, corners), plan, 0.5)
    np.testing.assert_allclose(speeds, [np.inf, 30.0, 30.0, 20.0])


def test_nothing_to_cut() -> None:
    job = Job("mild-steel", 5.0, 6.0)
    none = np.zeros(0)
    plan = plan_on(EMPTY, np.zeros(0, int), none, none, none, none)
    edges = forecast_edges(part_of(EMPTY), plan, setting_of(job, "nitrogen"), job)
    assert edges.metres.shape == (0, 4)
    assert edges.spots == ()
