"""Dips: slower in a short low stretch, to leave it while already accelerating.

A fillet between two long sides has a valley at both ends of its arc, passed without
acceleration.  Where the arc is short the head gains more outside by being a little slower
inside: both valleys move into the arc and down, so far that full jerk from there is back at
the allowed speed where the arc ends.  How far pays is tried; nothing that is slower stays.
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk_hills import hill_times
from analyzer.motion.jerk_nodes import Done, Nodes, Work, attempt_hills, solve_hills
from analyzer.motion.jerk_ramps import launch_ways

SHARES = (1.0, 0.35, 0.1)
"""Tried shares of the deepest dip."""

WORTH = 1e-4
"""Share of the time a dip must save."""

FLAT = 1.6
"""Hills that peak higher than this above their valleys are no low stretch."""


def dip(nodes: Nodes, work: Work, done: Done, left: Ints, right: Ints) -> None:
    """Move the valleys at both ends of short low stretches into them where that is faster."""
    rows = _candidates(nodes, work, done, left, right)
    # hills that share a neighbour wait for one another; runs know nothing of other runs
    run = np.searchsorted(nodes.closes, left[rows])
    rank = np.arange(len(rows)) - np.searchsorted(run, run)
    for turn in range(3):
        chosen = rows[rank % 3 == turn]
        chosen = chosen[(work.shift[left[chosen]] == 0.0) & (work.shift[right[chosen]] == 0.0)]
        if len(chosen):
            _try(nodes, work, done, left, right, chosen)


def _candidates(nodes: Nodes, work: Work, done: Done, left: Ints, right: Ints) -> Ints:
    """Hills of one segment that are low, between neighbours that are not."""
    low = np.maximum(work.knot[left], work.knot[right])
    peak = done.peak[left]
    least = np.minimum(work.knot[left], work.knot[right])
    flat = (right == left + 1) & (least > 0.0) & (peak <= FLAT * low)
    rows = np.flatnonzero(flat)
    rows = rows[(rows > 0) & (rows < len(left) - 1)]
    rise = np.maximum(done.peak[left[rows - 1]], done.peak[left[rows + 1]]) - low[rows]
    jerk = nodes.jerk[np.searchsorted(nodes.before, left[rows])]
    length = nodes.place[right[rows]] - nodes.place[left[rows]]
    worth = (rise > 0.05 * low[rows]) & (2.0 * np.sqrt(rise.clip(0.0) / jerk)
                                         > 0.15 * length / low[rows])  # fmt: skip
    found: Ints = rows[worth & (length > 0.0)]
    return found


def _try(nodes: Nodes, work: Work, done: Done, left: Ints, right: Ints, rows: Ints) -> None:
    """Try dips of several depths in hills `rows`, and keep the fastest."""
    a = np.concatenate((left[rows - 1], left[rows], left[rows + 1]))
    b = np.concatenate((right[rows - 1], right[rows], right[rows + 1]))
    begin, end = left[rows], right[rows]
    best = done.time[a].reshape(3, -1).sum(axis=0) * (1.0 - WORTH)
    depth = np.zeros(len(rows))
    deepest = _deepest(nodes, work, begin, end)
    for share in SHARES:
        _set(nodes, work, begin, end, share * deepest)
        solved, _ = solve_hills(nodes, work, a, b)
        spent = np.where(solved.fits, hill_times(solved), np.inf).reshape(3, -1).sum(axis=0)
        depth = np.where(spent < best, share * deepest, depth)
        best = np.minimum(spent, best)
    _set(nodes, work, begin, end, depth)
    kept = np.flatnonzero(depth > 0.0)
    rows = (kept + np.arange(3)[:, None] * len(rows)).ravel()
    attempt = attempt_hills(nodes, work, a[rows], b[rows])
    good = attempt.good.reshape(3, -1).all(axis=0)
    if not good.all():  # a node between would be passed too fast: leave these as they were
        bad = kept[~good]
        _set(nodes, work, begin[bad], end[bad], np.zeros(len(bad)))
        rows = rows[np.tile(good, 3)]
        attempt = attempt_hills(nodes, work, a[rows], b[rows])
    attempt.note(work)
    done.add(attempt, a[rows], b[rows])


def _limits(nodes: Nodes, begin: Ints) -> tuple[Floats, Floats]:
    segment = np.searchsorted(nodes.before, begin)
    return nodes.acceleration[segment], nodes.jerk[segment]


def _deepest(nodes: Nodes, work: Work, begin: Ints, end: Ints) -> Floats:
    """How far a stretch can dip: full jerk from its middle to both ends, at most by half."""
    a, j = _limits(nodes, begin)
    one, two = nodes.cap[begin], nodes.cap[end]
    length = nodes.place[end] - nodes.place[begin]
    top = np.minimum(one, two)
    low, high = top / 2.0, top.copy()
    for _ in range(40):
        middle = (low + high) / 2.0
        long = launch_ways(middle, one, a, j) + launch_ways(middle, two, a, j) > length
        low, high = np.where(long, middle, low), np.where(long, high, middle)
    return top - high


def _set(nodes: Nodes, work: Work, begin: Ints, end: Ints, depth: Floats) -> None:
    """Move the valleys of stretches to where full jerk is back at the ends."""
    a, j = _limits(nodes, begin)
    one, two = nodes.cap[begin], nodes.cap[end]
    speed = np.minimum(one, two) - depth
    dips: Bools = depth > 0.0
    for node, cap, sign in ((begin, one, 1.0), (end, two, -1.0)):
        work.knot[node] = np.where(dips, speed, cap)
        work.shift[node] = np.where(dips, sign * launch_ways(speed, cap, a, j), 0.0)
