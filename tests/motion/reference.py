"""References for the speed along a path, built here: toppra, ruckig, a linear programme."""

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.optimize import linprog

from analyzer.motion.plan import Profile


def toppra_time(profile: Profile, joints: np.ndarray, nodes: int = 4_000) -> float:
    """Time of one run by toppra: s' below a limit that changes along s, |s''| <= a.

    Corners become the limit of their grid node; every segment has nodes of its own.
    """
    toppra = pytest.importorskip("toppra")
    ends = np.concatenate(([0.0], np.cumsum(profile.lengths)))
    share = profile.lengths / ends[-1]
    grid = np.unique(np.concatenate([
        low + length * np.linspace(0.0, 1.0, max(int(nodes * part), 8) + 1)
        for low, length, part in zip(ends[:-1], profile.lengths, share, strict=True)
    ]))  # fmt: skip
    grid = grid[np.concatenate((np.diff(grid) > 1e-10 * ends[-1], [True]))]
    grid[0] = 0.0
    middle = (grid[1:] + grid[:-1]) / 2.0
    inside = profile.ceiling[np.clip(np.searchsorted(ends, middle) - 1, 0, len(share) - 1)]
    limit = np.minimum(np.append(inside, np.inf), np.append(np.inf, inside))
    for place, joint in zip(ends[1:-1], joints[1:], strict=True):
        node = int(np.argmin(np.abs(grid - place)))
        limit[node] = min(limit[node], joint)
    where = {float(s): v for s, v in zip(grid, limit, strict=True)}

    def speeds(s: float) -> np.ndarray:
        v = where[float(s)]
        return np.array([[-v, v]])

    toppra.setup_logging("ERROR")
    way = np.array([0.0, ends[-1] / 2.0, ends[-1]])
    path = toppra.SplineInterpolator(way, way[:, None])
    velocity = toppra.constraint.JointVelocityConstraintVarying(speeds)
    a = float(profile.acceleration[0])
    acceleration = toppra.constraint.JointAccelerationConstraint(np.array([[-a, a]]))
    solver = toppra.algorithm.TOPPRA([velocity, acceleration], path, gridpoints=grid)
    _, sd, _ = solver.compute_parameterization(0.0, 0.0)
    return float(np.sum(2.0 * np.diff(grid) / (sd[1:] + sd[:-1])))


def graded_grid(lengths: np.ndarray, nodes: int) -> np.ndarray:
    """Nodes along a path with every joint among them, denser towards both ends of each segment.

    Near a rest v^2 grows as s^(4/3), so even steps would be too coarse there.
    """
    ends = np.concatenate(([0.0], np.cumsum(lengths)))
    share = lengths**0.5 / np.sum(lengths**0.5)
    pieces = []
    for low, length, part in zip(ends[:-1], lengths, share, strict=True):
        count = max(round(nodes * part), 4)
        t = np.arange(count) / count
        pieces.append(low + length * (t - 0.8 * np.sin(2 * np.pi * t) / (2 * np.pi)))
    return np.append(np.concatenate(pieces), ends[-1])


def slp_time(
    lengths: np.ndarray,
    ceilings: np.ndarray,
    joints: np.ndarray,
    a: float,
    j: float,
    nodes: int = 300,
    rounds: int = 60,
) -> float:
    """Least time with bounded acceleration and jerk, by a sequence of linear programmes.

    Unknown is x = v^2 on a grid: x <= cap, |x'| <= 2 a, and |x''| sqrt(x) <= 2 j.  The last is
    2 j / sqrt(x), convex in x, so its tangent is a safe bound; time is linearised inside a
    trust region that shrinks when a step does not pay.
    """
    grid = graded_grid(lengths, nodes)
    ends = np.concatenate(([0.0], np.cumsum(lengths)))
    middle = (grid[1:] + grid[:-1]) / 2.0
    inside = ceilings[np.clip(np.searchsorted(ends, middle) - 1, 0, len(lengths) - 1)]
    cap = np.minimum(np.append(inside, np.inf), np.append(np.inf, inside))
    for place, limit in zip(ends[1:-1], joints[1:], strict=True):
        k = int(np.argmin(np.abs(grid - place)))
        cap[k] = min(cap[k], limit)
    step = np.diff(grid)
    top = cap**2
    # from rest, without acceleration, nothing outruns full jerk: v = j t^2 / 2, s = j t^3 / 6
    way = np.minimum(grid, grid[-1] - grid)
    top = np.minimum(top, (j / 2.0 * (6.0 * way / j) ** (2.0 / 3.0)) ** 2)
    count = len(grid)
    slope = sp.diags([-1.0 / step, 1.0 / step], [0, 1], shape=(count - 1, count)).tocsr()
    mid = (step[1:] + step[:-1]) / 2.0
    bend = (sp.diags(1.0 / mid) @ sp.diags([-1.0, 1.0], [0, 1], shape=(count - 2, count - 1))
            @ slope).tocsr()  # fmt: skip

    # a step is run at the mean of both speeds, from rest at a third of the higher (v as s^(2/3))
    weight = np.full(count - 1, 2.0)
    weight[[0, -1]] = 3.0

    def time(x: np.ndarray) -> float:
        v = np.sqrt(np.maximum(x, 0.0))
        return float(np.sum(weight * step / (v[1:] + v[:-1])))

    # a slow start that keeps all limits: far below every one of them
    least = float(np.min(cap[1:-1])) ** 2
    x = np.minimum(least, 1e9) * 1e-3 * np.ones(count)
    x = np.minimum(x, 0.05 * (way * way * j) ** (2.0 / 3.0))
    x = np.maximum(x, 1e-9)
    x[[0, -1]] = 0.0
    best, trust = np.inf, 4.0
    for _ in range(rounds):
        v = np.sqrt(np.maximum(x, 1e-12))
        pay = np.zeros(count)
        d = -weight * step / (v[1:] + v[:-1]) ** 2
        pay[1:] += d / (2.0 * v[1:])
        pay[:-1] += d / (2.0 * v[:-1])
        pay[[0, -1]] = 0.0
        base = x[1:-1]
        tangent = sp.diags(j * base**-1.5)
        inner = sp.eye(count).tocsr()[1:-1]
        rows = sp.vstack((slope, -slope, bend + tangent @ inner, -bend + tangent @ inner))
        bound = np.concatenate((
            np.full(2 * (count - 1), 2.0 * a), np.tile(3.0 * j / np.sqrt(base), 2),
        ))  # fmt: skip
        scale = np.maximum(np.abs(rows).max(axis=1).toarray().ravel(), 1e-12)
        low, high = x / (1.0 + trust), np.minimum(top, x * (1.0 + trust) + 1e-9)
        low, high = np.minimum(low, top), np.maximum(high, np.minimum(low, top))
        answer = linprog(
            pay / np.abs(pay).max(), sp.diags(1.0 / scale) @ rows, bound / scale,
            bounds=np.column_stack((low, high)), method="highs",
        )  # fmt: skip
        if answer.x is None:
            trust /= 3.0
            if trust < 1e-3:
                break
            continue
        new = answer.x
        got = time(new)
        if got < best:
            done = best < np.inf and best - got < 1e-5 * got and trust < 1.0
            x, best = new, got
            if done:
                break
        else:
            trust /= 3.0
            if trust < 1e-3:
                break
    return best


def check_motion(
    profile: Profile, joints: np.ndarray, breaks: np.ndarray, samples: int = 9
) -> None:
    """Rebuild the speed curve from what is stored and hold it against every limit."""
    motion = profile.pieces
    a, j = profile.acceleration, profile.jerk
    tiny = 1e-6
    row = motion.row
    assert np.all(motion.duration > 0.0)
    if j is not None:
        assert np.all(np.abs(motion.jerk) <= j[row] * (1 + 1e-9))
    for t in np.linspace(0.0, 1.0, samples):
        tau = t * motion.duration
        rate = motion.rate + motion.jerk * tau
        speed = motion.speed + (motion.rate + motion.jerk * tau / 2.0) * tau
        assert np.all(np.abs(rate) <= a[row] * (1 + 1e-7) + tiny)
        assert np.all(speed <= profile.ceiling[row] * (1 + 1e-6) + 1e-6)
        assert np.all(speed >= -1e-6)
    length = np.bincount(row, motion.length, len(profile.lengths))
    np.testing.assert_allclose(length, profile.lengths, rtol=1e-7, atol=1e-8)
    np.testing.assert_allclose(motion.row_times, profile.times, rtol=1e-7, atol=1e-9)
    ending = motion.speed_after(np.arange(len(row)), motion.duration)
    last_rate = motion.rate + motion.jerk * motion.duration
    inner = np.setdiff1d(np.arange(len(profile.lengths)), breaks[:-1])
    assert np.all(profile.entry[inner] <= joints[inner] * (1 + 1e-6) + 1e-6)
    run = np.searchsorted(breaks, row, side="right")
    same = run[1:] == run[:-1]
    np.testing.assert_allclose(ending[:-1][same], motion.speed[1:][same], rtol=1e-6, atol=2e-5)
    if j is not None:  # acceleration is continuous, and none at rest
        gap = np.abs(last_rate[:-1] - motion.rate[1:])[same]
        assert np.all(gap <= 1e-3 * a.max())
        opens = np.flatnonzero(np.diff(run, prepend=-1))
        assert np.all(np.abs(motion.rate[opens]) <= 1e-6)
        assert np.all(motion.speed[opens] == 0.0)
