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
from analyzer.geometry.contours import Floats, Ints
from analyzer.motion.plan import Profile

BLOCK = 4096
"""Segments per running sum: keeps it short enough to stay exact."""


def speed_profile(
    lengths: ArrayLike, ceilings: ArrayLike, joint_limits: ArrayLike,
    breaks: ArrayLike, acceleration: float,
) -> Profile:  # fmt: skip
    """Return the time-optimal speed along runs that start and end at rest.

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
    acceleration : float
        Largest acceleration along the path, > 0. [mm/s^2]

    Returns
    -------
    Profile
        Times in closed form from both end speeds and the peak [1]_.

    Raises
    ------
    InputError
        If acceleration or a ceiling is not positive.

    References
    ----------
    .. [1] Standard kinematics of uniformly accelerated motion; the two passes are the
       usual look-ahead of motion control, here as min-plus scans.

    Examples
    --------
    >>> four = speed_profile([1.0] * 4, [1000.0] * 4, [1000.0] * 4, [0, 4], 10000.0)
    >>> (four.exit * 0.06).round(4), round(float(four.times.sum()), 6)
    (array([ 8.4853, 12.    ,  8.4853,  0.    ]), 0.04)
    """
    length = np.asarray(lengths, dtype=float)
    ceiling = np.asarray(ceilings, dtype=float)
    offsets = np.asarray(breaks, dtype=np.int64)
    if not acceleration > 0.0 or not np.all(ceiling > 0.0):
        raise InputError("acceleration and speeds must be positive", hint="check [machine]")
    counts = np.diff(offsets)
    first = np.arange(len(length)) + np.repeat(np.arange(len(counts)), counts)  # node before
    cap = np.zeros(len(length) + len(counts))
    cap[first] = np.minimum(ceiling, np.asarray(joint_limits, dtype=float)) ** 2
    cap[first + 1] = np.minimum(cap[first + 1], ceiling**2)
    runs = offsets[:-1] + np.arange(len(counts))
    cap[runs] = 0.0
    cap[runs + counts] = 0.0
    squared = _squared_speeds(cap, 2.0 * acceleration * length, runs, counts)
    entry, leave = np.sqrt(squared[first]), np.sqrt(squared[first + 1])
    times = segment_times(length, entry, leave, ceiling, acceleration)
    return Profile(length, entry, leave, ceiling, times, acceleration)


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
    lengths: Floats, entry: Floats, leave: Floats, ceilings: Floats, acceleration: float
) -> Floats:
    """Return the least time of segments with given end speeds, shape (s,). [s]

    The peak is min(ceiling, sqrt((2 a L + v0^2 + v1^2) / 2)); a ramp of length d from v
    to the peak p takes 2 d / (v + p), which does not cancel for short ramps.
    """
    peak_squared = acceleration * lengths + (entry**2 + leave**2) / 2.0
    peak = np.maximum(np.minimum(ceilings, np.sqrt(peak_squared)), np.maximum(entry, leave))
    rise = (peak - entry) * (peak + entry) / (2.0 * acceleration)
    fall = (peak - leave) * (peak + leave) / (2.0 * acceleration)
    cruise = np.maximum(lengths - rise - fall, 0.0)
    safe = np.where(peak > 0.0, peak, 1.0)
    times: Floats = 2.0 * rise / (safe + entry) + 2.0 * fall / (safe + leave) + cruise / safe
    return times
