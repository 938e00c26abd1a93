"""The speed profile: what must hold for every path, and toppra as outside reference."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion.outlines import M_PER_MIN, profile_along, rounded, square, zigzag
from motion.reference import toppra_time

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.motion.ceiling import path_ceilings
from analyzer.motion.profile import BLOCK, speed_profile

A = 8000.0


@st.composite
def runs(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Lengths, ceilings, joint limits and breaks of a few runs."""
    counts = draw(st.lists(st.integers(1, 30), min_size=1, max_size=5))
    rng = np.random.default_rng(draw(st.integers(0, 10**9)))
    size = sum(counts)
    lengths = 10.0 ** rng.uniform(-3.0, 2.0, size)
    ceilings = 10.0 ** rng.uniform(0.5, 3.0, size)
    joints = np.where(rng.random(size) < 0.5, np.inf, 10.0 ** rng.uniform(0.0, 3.0, size))
    return lengths, ceilings, joints, np.concatenate(([0], np.cumsum(counts)))


@settings(max_examples=100, deadline=None)
@given(runs())
def test_never_above_the_ceiling_nor_the_acceleration(run: tuple[np.ndarray, ...]) -> None:
    lengths, ceilings, joints, breaks = run
    got = speed_profile(lengths, ceilings, joints, breaks, A)
    assert np.all(got.entry <= ceilings * (1 + 1e-12))
    assert np.all(got.exit <= ceilings * (1 + 1e-12))
    inner = np.setdiff1d(np.arange(len(lengths)), breaks[:-1])
    assert np.all(got.entry[inner] <= joints[inner] * (1 + 1e-12))
    np.testing.assert_array_equal(got.entry[inner], got.exit[inner - 1])
    change = np.abs(got.exit**2 - got.entry**2)
    assert np.all(change <= 2.0 * A * lengths * (1 + 1e-9) + 1e-9)
    assert np.all(got.entry[breaks[:-1]] == 0.0)
    assert np.all(got.exit[breaks[1:] - 1] == 0.0)


@settings(max_examples=100, deadline=None)
@given(runs())
def test_as_fast_as_a_plain_look_ahead(run: tuple[np.ndarray, ...]) -> None:
    """The same two passes written as a plain loop over nodes, which is surely right."""
    lengths, ceilings, joints, breaks = run
    got = speed_profile(lengths, ceilings, joints, breaks, A)
    for low, high in pairwise(breaks):
        cap = [0.0, *np.minimum.reduce([ceilings[low : high - 1], ceilings[low + 1 : high],
                                        joints[low + 1 : high]]), 0.0]  # fmt: skip
        speed = list(cap)
        for k in range(1, len(cap)):
            speed[k] = min(cap[k], np.sqrt(speed[k - 1] ** 2 + 2 * A * lengths[low + k - 1]))
        for k in range(len(cap) - 2, -1, -1):
            speed[k] = min(speed[k], np.sqrt(speed[k + 1] ** 2 + 2 * A * lengths[low + k]))
        np.testing.assert_allclose(got.entry[low:high], speed[:-1], rtol=1e-9, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(runs())
def test_speed_integrates_to_the_length(run: tuple[np.ndarray, ...]) -> None:
    """Time is the integral of ds / v: by quadrature over each segment's own speed curve."""
    lengths, ceilings, joints, breaks = run
    got = speed_profile(lengths, ceilings, joints, breaks, A)
    # v^2 is linear in s on ramps: substitute s = L sin^2 to soften the rest at the ends
    angle = (np.arange(4000) + 0.5) / 4000 * np.pi / 2.0
    way = lengths[:, None] * np.sin(angle) ** 2
    step = lengths[:, None] * np.sin(2.0 * angle) * (np.pi / 2.0 / 4000)
    squared = np.minimum.reduce([
        got.entry[:, None] ** 2 + 2 * A * way,
        got.exit[:, None] ** 2 + 2 * A * (lengths[:, None] - way),
        np.broadcast_to(got.ceiling[:, None] ** 2, way.shape),
    ])  # fmt: skip
    times = (step / np.sqrt(squared)).sum(axis=1)
    np.testing.assert_allclose(got.times, times, rtol=2e-3)


@settings(max_examples=60, deadline=None)
@given(runs(), st.floats(0.1, 10.0))
def test_scaling(run: tuple[np.ndarray, ...], scale: float) -> None:
    """k times the lengths and speeds at k times the acceleration take the same time."""
    lengths, ceilings, joints, breaks = run
    one = speed_profile(lengths, ceilings, joints, breaks, A)
    other = speed_profile(lengths * scale, ceilings * scale, joints * scale, breaks, A * scale)
    np.testing.assert_allclose(other.times, one.times, rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(runs())
def test_backwards_takes_the_same_time(run: tuple[np.ndarray, ...]) -> None:
    lengths, ceilings, joints, breaks = run
    low, high = int(breaks[0]), int(breaks[1])
    lengths, ceilings, joints = lengths[low:high], ceilings[low:high], joints[low:high]
    ahead = speed_profile(lengths, ceilings, joints, [0, high], A)
    back = speed_profile(
        lengths[::-1], ceilings[::-1], np.roll(joints, -1)[::-1], [0, high], A
    )  # fmt: skip
    np.testing.assert_allclose(back.times[::-1], ahead.times, rtol=1e-9)


@settings(max_examples=60, deadline=None)
@given(runs(), st.floats(0.001, 50.0), st.floats(5.0, 500.0))
def test_one_more_segment_never_shortens(
    run: tuple[np.ndarray, ...], length: float, ceiling: float
) -> None:
    lengths, ceilings, joints, _ = run
    one = speed_profile(lengths, ceilings, joints, [0, len(lengths)], A)
    more = speed_profile(
        np.append(lengths, length), np.append(ceilings, ceiling), np.append(joints, np.inf),
        [0, len(lengths) + 1], A,
    )  # fmt: skip
    assert more.times.sum() >= one.times.sum() * (1 - 1e-12)


@settings(max_examples=60, deadline=None)
@given(runs(), st.floats(0.01, 0.99), st.integers(0, 10**6))
def test_splitting_a_segment_changes_nothing(
    run: tuple[np.ndarray, ...], share: float, which: int
) -> None:
    lengths, ceilings, joints, _ = run
    k = which % len(lengths)
    one = speed_profile(lengths, ceilings, joints, [0, len(lengths)], A)
    split = np.insert(lengths, k, lengths[k] * share)
    split[k + 1] = lengths[k] * (1.0 - share)
    two = speed_profile(
        split, np.insert(ceilings, k, ceilings[k]), np.insert(joints, k + 1, np.inf),
        [0, len(split)], A,
    )  # fmt: skip
    assert two.times.sum() == pytest.approx(one.times.sum(), rel=1e-9)


def test_long_runs_cross_the_blocks() -> None:
    """A run longer than the block of a running sum is the same as a plain loop."""
    rng = np.random.default_rng(4)
    size = 2 * BLOCK + 77
    lengths, ceilings = rng.uniform(0.01, 0.2, size), rng.uniform(50.0, 500.0, size)
    ceilings[BLOCK - 20 : BLOCK + 20] = 500.0
    got = speed_profile(lengths, ceilings, np.full(size, np.inf), [0, size], A)
    cap = np.concatenate(([0.0], np.minimum(ceilings[:-1], ceilings[1:]), [0.0])) ** 2
    for k in range(size):
        cap[k + 1] = min(cap[k + 1], cap[k] + 2 * A * lengths[k])
    for k in range(size - 1, -1, -1):
        cap[k] = min(cap[k], cap[k + 1] + 2 * A * lengths[k])
    np.testing.assert_allclose(got.entry, np.sqrt(cap[:-1]), rtol=1e-9, atol=1e-6)


def test_no_length_no_time() -> None:
    got = speed_profile([0.0, 0.0], [10.0, 10.0], [5.0, 5.0], [0, 1, 2], A)
    assert got.times.tolist() == [0.0, 0.0]


@pytest.mark.parametrize(("ceiling", "acceleration"), [(0.0, A), (10.0, 0.0), (-1.0, A)])
def test_limits_must_be_positive(ceiling: float, acceleration: float) -> None:
    with pytest.raises(InputError, match="must be positive"):
        speed_profile([1.0], [ceiling], [1.0], [0, 1], acceleration)


# --- toppra on the scalar path coordinate ---------------------------------


@pytest.mark.outside("Square, rounded square, hole, zigzag [s]", "library toppra")
@pytest.mark.parametrize(
    ("path", "speed"),
    [
        (square(), 20.0), (rounded(100.0, 60.0, 5.0), 20.0),
        (Contours.circle(0.0, 0.0, 2.35), 15.0), (zigzag(20, 5.0), 10.0),
    ],
    ids=["square", "rounded square", "hole", "zigzag"],
)  # fmt: skip
def test_against_toppra(path: Contours, speed: float) -> None:
    """toppra (time-optimal path parametrisation by reachability), within 0.5 %."""
    _, joints = path_ceilings(path, np.array([speed * M_PER_MIN]), 1e4, 0.05)
    got = profile_along(path, speed * M_PER_MIN)
    assert got.times.sum() == pytest.approx(toppra_time(got, joints), rel=0.005)
