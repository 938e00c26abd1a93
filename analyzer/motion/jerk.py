"""The fastest speed along a path under a ceiling, a largest acceleration and a largest jerk.

Valleys are the local minima of the acceleration-limited speed.  The head passes them without
acceleration; between two of them lies a hill (`jerk_hills`).  A valley that the ramp from a
lower neighbour does not even reach is none: it becomes a corner of the climb from there.
Every other joint and arc is a corner of a climb as well, passed with acceleration, so a curve
of many arcs is as fast as one of few.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk_dips import dip
from analyzer.motion.jerk_nodes import BOTH, LEFT, RIGHT, Done, Nodes, Work, attempt_hills
from analyzer.motion.jerk_ramps import reach
from analyzer.motion.pieces import Pieces

EQUAL = 1e-9
"""Speeds that differ by less than this share are equal."""


def jerk_limited(nodes: Nodes, speed: Floats) -> tuple[Floats, Floats, Pieces]:
    """Return speeds, times and pieces of the jerk-limited motion.

    Parameters
    ----------
    nodes : Nodes
        Joints and segments of all runs.
    speed : ndarray, shape (n,)
        Acceleration-limited speed at every node. [mm/s]

    Returns
    -------
    speed : ndarray, shape (n,)
        Speed at every node. [mm/s]
    times : ndarray, shape (s,)
        Time of every segment. [s]
    pieces : Pieces
        Motion along every segment.
    """
    count = len(speed)
    if not len(nodes.before):
        return speed, np.zeros(0), Pieces.none()
    valley = _valleys(nodes, speed)
    # a valley has the speed allowed there, or that of its neighbour at the same place
    nodes = replace(nodes, cap=_levelled(nodes, valley, np.where(valley, speed, nodes.cap)))
    whole = np.zeros(count, dtype=np.int64)
    work = Work(valley, nodes.cap.copy(), np.zeros(count), whole.copy(), whole.copy(),
                np.zeros(count), np.zeros(count), speed.copy())  # fmt: skip
    _prune(nodes, work)
    done = Done(count)
    while True:
        left, right = hill_ends(nodes, work.valley)
        dirty = done.until[left] != right
        if not dirty.any():
            break
        a, b = left[dirty], right[dirty]
        attempt = attempt_hills(nodes, work, a, b)
        attempt.note(work)
        done.add(attempt, a, b)
        higher = nodes.cap[a] > nodes.cap[b]
        poor = ~attempt.fits
        _drop(work, a[poor & higher], b[poor & ~higher])
        work.side[attempt.node[attempt.fast]] = BOTH
    dip(nodes, work, done, left, right)
    return _along(nodes, work, done.pieces(left), left, right)


def _valleys(nodes: Nodes, speed: Floats) -> Bools:
    """Nodes where the acceleration-limited speed has come down and goes up again."""
    slack = 1.0 + EQUAL
    up = nodes.peak > speed[nodes.before] * slack
    down = nodes.peak > speed[nodes.before + 1] * slack
    comes, goes = np.zeros((2, len(speed)), dtype=np.int64)
    comes[nodes.before + 1] = np.where(down, -1, np.where(up, 1, 0))
    goes[nodes.before] = np.where(up, 1, np.where(down, -1, 0))
    comes[nodes.opens], goes[nodes.closes] = -1, 1
    turns = (comes != 0) | (goes != 0)
    # a flat stretch passes on where the speed came from and where it goes
    index = np.arange(len(speed))
    last = np.maximum.accumulate(np.where(comes != 0, index, 0))
    ahead = np.where(goes != 0, index, len(speed) - 1)[::-1]
    ahead = np.minimum.accumulate(ahead)[::-1]
    found: Bools = (comes[last] == -1) & (goes[ahead] == 1) & turns
    found[nodes.opens] = found[nodes.closes] = True
    return found


def _levelled(nodes: Nodes, valley: Bools, cap: Floats) -> Floats:
    """Give neighbouring valleys that differ by rounding the same speed.

    A ramp over a rise of one bit would need a way, and a flat stretch has none to give.
    """
    left, right = hill_ends(nodes, valley)
    for _ in range(2):
        low = np.minimum(cap[left], cap[right])
        same = np.maximum(cap[left], cap[right]) <= low * (1.0 + EQUAL)
        np.minimum.at(cap, left[same], low[same])
        np.minimum.at(cap, right[same], low[same])
    return cap


def hill_ends(nodes: Nodes, valley: Bools) -> tuple[Ints, Ints]:
    """Return the nodes at which hills begin and end."""
    at = np.flatnonzero(valley)
    ends = np.zeros(len(valley), dtype=bool)
    ends[nodes.closes] = True
    inside = ~ends[at[:-1]]
    return at[:-1][inside], at[1:][inside]


def _prune(nodes: Nodes, work: Work) -> None:
    """Drop valleys that no plain ramp from a lower neighbour reaches."""
    least_a, least_j = nodes.acceleration.max(), nodes.jerk.max()  # generous: more is kept
    while True:
        left, right = hill_ends(nodes, work.valley)
        length = nodes.place[right] - nodes.place[left]
        a, b = nodes.cap[left], nodes.cap[right]
        got = reach(np.minimum(a, b), length, least_a, least_j) * (1.0 + EQUAL)
        drop_right, drop_left = b > np.maximum(got, a), a > np.maximum(got, b)
        if not (drop_right.any() or drop_left.any()):
            return
        _drop(work, left[drop_left], right[drop_right])


def _drop(work: Work, from_right: Ints, from_left: Ints) -> None:
    work.valley[from_right] = False
    work.valley[from_left] = False
    work.side[from_right] |= RIGHT
    work.side[from_left] |= LEFT


def _along(
    nodes: Nodes, work: Work, pieces: Pieces, left: Ints, right: Ints
) -> tuple[Floats, Floats, Pieces]:
    """Cut the hills at their nodes, and count by segments."""
    segments = len(nodes.before)
    begin = np.zeros(len(nodes.cap), dtype=np.int64)  # segment that begins at a node
    begin[nodes.before] = np.arange(segments)
    shifted = work.shift != 0.0
    speed = np.where(work.valley & ~shifted, work.knot, np.minimum(work.speed, nodes.cap))
    inner = np.flatnonzero(~work.valley | shifted)
    hill = np.searchsorted(left, inner, side="right") - 1
    hill -= work.shift[inner] > 0.0  # it lies in the hill that ends behind it
    clock = np.concatenate((np.zeros(1), np.cumsum(pieces.row_times, dtype=np.longdouble)))
    at = np.zeros(len(speed), dtype=np.longdouble)
    at[left], at[right] = clock[:-1], clock[1:]
    at[inner] = np.add(clock[hill], work.time[inner])
    times = np.maximum(at[nodes.before + 1] - at[nodes.before], 0.0).astype(float)
    alive = np.diff(pieces.first)[hill] > 0
    inner, hill = inner[alive], hill[alive]
    base = begin[left] - (work.shift[left] < 0.0)
    cut = pieces.split(
        base, pieces.first[hill] + work.piece[inner], work.after[inner], begin[inner], segments
    )
    return speed, times, cut
