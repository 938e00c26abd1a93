"""The fastest speed along a path under a ceiling and a largest acceleration: exact, no iteration.

Speed squared grows by at most 2 a L over a segment of length L, so the speed reachable
from the left is a running minimum: with S = cumsum(2 a L), reach = min.accumulate(cap - S)
+ S; from the right the same reversed.  Both are numpy scans.  Every contour starts and ends at
rest and has its own running sum, in blocks, or the sum over a whole drawing would cancel.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analyzer.errors import InputError
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk import jerk_limited
from analyzer.motion.jerk_nodes import Nodes
from analyzer.motion.plan import Profile

BLOCK = 4096
"""Segments per running sum: keeps it short enough to stay exact."""

SAME = 1e-7
"""Ceilings that differ by less than this share are one, the lower."""


def speed_profile(
    lengths: ArrayLike, ceilings: ArrayLike, joint_limits: ArrayLike,
    breaks: ArrayLike, acceleration: ArrayLike, jerk: ArrayLike | None = None,
) -> Profile:  # fmt: skip
    """Return the fastest speed along runs that start and end at rest.

    Parameters
    ----------
    lengths : array_like, shape (s,)
        Length of every segment, >= 0. [mm]
    ceilings : array_like, shape (s,)
        Speed allowed inside every segment, > 0. [mm/s]
    joint_limits : array_like, shape (s,)
        Speed allowed at the start joint of every segment; that of the first segment
        of a run is not used. [mm/s]
    breaks : array_like of int, shape (n + 1,)
        First segment of every run, and the number of segments at the end.
    acceleration : float or array_like, shape (s,)
        Largest acceleration along the path, > 0. [mm/s^2]
    jerk : float or array_like, shape (s,), optional
        Largest jerk along the path, > 0; without it jerk is free. [mm/s^3]

    Returns
    -------
    Profile
        Without jerk the exact optimum, times in closed form from both end speeds and
        the peak [1]_; with jerk within a few percent of it (docs/motion.md).

    Raises
    ------
    InputError
        If acceleration, jerk or a ceiling is not positive.

    References
    ----------
    .. [1] Standard kinematics of uniformly accelerated motion; the two passes are the
       usual look-ahead of motion control, here as min-plus scans.

    Examples
    --------
    >>> four = speed_profile([1.0] * 4, [1000.0] * 4, [1000.0] * 4, [0, 4], 10000.0)
    >>> (four.exit * 0.06).round(4), round(float(four.times.sum()), 6)
    (array([ 8.4853, 12.    ,  8.4853,  0.    ]), 0.04)
    >>> soft = speed_profile([100.0], [1000.0 / 3.0], [1.0], [0, 1], 1e4, 2e5)
    >>> round(float(soft.times.sum()), 6)
    0.38165
    """
    length = np.asarray(lengths, dtype=float)
    ceiling = np.asarray(ceilings, dtype=float)
    offsets = np.asarray(breaks, dtype=np.int64)
    limit = np.broadcast_to(np.asarray(acceleration, dtype=float), length.shape)
    softness = None if jerk is None else np.broadcast_to(np.asarray(jerk, float), length.shape)
    checked = [limit, ceiling] if softness is None else [limit, ceiling, softness]
    if not all(np.all(values > 0.0) for values in (*checked, np.asarray(acceleration))):
        raise InputError("acceleration, jerk and speeds must be positive", hint="check [machine]")
    counts = np.diff(offsets)
    first = np.arange(len(length)) + np.repeat(np.arange(len(counts)), counts)  # node before
    cap = np.full(len(length) + len(counts), np.inf)
    cap[first] = np.minimum(ceiling, np.asarray(joint_limits, dtype=float))
    cap[first + 1] = np.minimum(cap[first + 1], ceiling)
    runs = offsets[:-1] + np.arange(len(counts))
    cap[runs] = 0.0
    cap[runs + counts] = 0.0
    speed = np.sqrt(_squared_speeds(cap**2, 2.0 * limit * length, runs, counts))
    if softness is None:
        entry, leave = speed[first], speed[first + 1]
        times = segment_times(length, entry, leave, ceiling, limit)
        return Profile(length, entry, leave, ceiling, times, limit)
    return _with_jerk(length, ceiling, limit, softness, cap, speed, first, runs)


def _with_jerk(
    length: Floats, ceiling: Floats, acceleration: Floats, jerk: Floats, cap: Floats,
    speed: Floats, before: Ints, runs: Ints,
) -> Profile:  # fmt: skip
    """Give the acceleration-limited `speed` at the nodes the jerk limit.

    Nodes where nothing changes are left out and found again on the finished motion, so a
    line drawn in pieces, or a curve of equal arcs, is one segment.
    """
    place = _places(length, before, runs)
    closes = np.append(runs[1:] - 1, len(cap) - 1) if len(runs) else runs
    idle = _idle(ceiling, acceleration, jerk, cap, before)
    head = ~idle[before]  # segments that begin a longer one
    first = np.flatnonzero(head)
    number = np.cumsum(~idle) - 1
    if len(first):
        least = np.minimum.reduceat(ceiling, first)
        peak = np.maximum.reduceat(
            _peaks(length, speed[before], speed[before + 1], ceiling, acceleration), first
        )
    else:
        least = peak = np.zeros(0)
    nodes = Nodes(
        place[~idle], cap[~idle], number[before[first]], number[runs], number[closes], least,
        peak, acceleration[first], jerk[first],
    )  # fmt: skip
    speeds, times, pieces = jerk_limited(nodes, speed[~idle])
    at = np.zeros(len(cap))
    at[~idle] = speeds
    if idle.any():
        whole = np.cumsum(head) - 1
        node = np.flatnonzero(idle)
        segment = node - np.searchsorted(runs, node, side="right")  # that begins at the node
        segment += 1
        row = whole[segment]
        alive = np.diff(pieces.first)[row] > 0
        node, segment, row = node[alive], segment[alive], row[alive]
        piece, after = pieces.locate(row, place[node] - place[before[first[row]]])
        at[node] = pieces.speed_after(piece, after)
        pieces = pieces.split(first, piece, after, segment, len(length))
        times = pieces.row_times
    return Profile(
        length, at[before], at[before + 1], ceiling, times, acceleration, jerk, pieces
    )  # fmt: skip


def _idle(ceiling: Floats, acceleration: Floats, jerk: Floats, cap: Floats, before: Ints) -> Bools:
    """Nodes within a run at which no limit changes and none is lower, shape (n,)."""
    idle = np.zeros(len(cap), dtype=bool)
    if len(before) < 2:
        return idle
    low = np.minimum(ceiling[1:], ceiling[:-1])
    same = (np.diff(before) == 1) & (np.maximum(ceiling[1:], ceiling[:-1]) <= low * (1.0 + SAME))
    same &= (acceleration[1:] == acceleration[:-1]) & (jerk[1:] == jerk[:-1])
    idle[before[1:]] = same & (cap[before[1:]] >= low * (1.0 - 1e-12))
    return idle


def _places(length: Floats, before: Ints, runs: Ints) -> Floats:
    """Way from the start of its run of every node, shape (n,). [mm]"""
    step = np.zeros(len(length) + len(runs), dtype=np.longdouble)  # long sums cancel less
    step[before + 1] = length
    total = np.cumsum(step)
    home = np.repeat(runs, np.diff(np.append(runs, len(step))))
    places: Floats = (total - total[home]).astype(float)
    return places


def _squared_speeds(cap: Floats, gain: Floats, runs: Ints, counts: Ints) -> Floats:
    """Largest squared speed at every node; runs of equal length are done together."""
    squared = cap.copy()
    starts = runs - np.arange(len(runs))  # first segment of every run
    for count in np.unique(counts[counts > 0]):
        rows = np.flatnonzero(counts == count)
        nodes = runs[rows][:, None] + np.arange(count + 1)
        segments = starts[rows][:, None] + np.arange(count)
        forward = _reach(cap[nodes], gain[segments])
        both = _reach(forward[:, ::-1], gain[segments][:, ::-1])[:, ::-1]
        squared[nodes] = both
    return squared


def _reach(cap: Floats, gain: Floats) -> Floats:
    """min over earlier nodes of cap + the gain since, rows apart; cap (m, k + 1), gain (m, k)."""
    reach = cap.copy()
    for low in range(0, gain.shape[1], BLOCK):
        part = gain[:, low : low + BLOCK]
        span = slice(low, low + part.shape[1] + 1)
        total = np.concatenate((np.zeros((len(cap), 1)), np.cumsum(part, axis=1)), axis=1)
        least = np.minimum.accumulate(reach[:, span] - total, axis=1) + total
        reach[:, span] = np.clip(least, 0.0, reach[:, span])
    return reach


def segment_times(
    lengths: Floats, entry: Floats, leave: Floats, ceilings: Floats, acceleration: Floats | float
) -> Floats:
    """Return the least time of segments with given end speeds, shape (s,). [s]

    The peak is min(ceiling, sqrt((2 a L + v0^2 + v1^2) / 2)); a ramp of length d from v
    to the peak p takes 2 d / (v + p), which does not cancel for short ramps.
    """
    peak = _peaks(lengths, entry, leave, ceilings, acceleration)
    rise = (peak - entry) * (peak + entry) / (2.0 * acceleration)
    fall = (peak - leave) * (peak + leave) / (2.0 * acceleration)
    cruise = np.maximum(lengths - rise - fall, 0.0)
    safe = np.where(peak > 0.0, peak, 1.0)
    times: Floats = 2.0 * rise / (safe + entry) + 2.0 * fall / (safe + leave) + cruise / safe
    return times


def _peaks(
    lengths: Floats, entry: Floats, leave: Floats, ceilings: Floats, acceleration: Floats | float
) -> Floats:
    peak_squared = acceleration * lengths + (entry**2 + leave**2) / 2.0
    peaks: Floats = np.maximum(
        np.minimum(ceilings, np.sqrt(peak_squared)), np.maximum(entry, leave)
    )
    return peaks
