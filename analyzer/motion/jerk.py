"""The fastest speed along a path under a ceiling, a largest acceleration and a largest jerk.

Valleys are the local minima of the acceleration-limited speed.  The head passes them without
acceleration; between two of them lies a hill (`jerk_hills`).  A valley that the ramp from a
lower neighbour does not even reach is none: it becomes a corner of the climb from there.
Every other joint and arc is a corner of a climb as well, passed with acceleration, so a curve
of many arcs is as fast as one of few.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk_climbs import Corners
from analyzer.motion.jerk_hills import Hills, pieces_of, solve
from analyzer.motion.jerk_ramps import reach
from analyzer.motion.pieces import Pieces

EQUAL = 1e-9
"""Speeds that differ by less than this share are equal."""

LEFT, RIGHT, BOTH = 1, 2, 3
"""Climbs that have to keep below a node: that from the left, from the right, either."""


@dataclass(frozen=True, eq=False)
class Nodes:
    """Joints of all runs, both ends included; a run of k segments has k + 1 of them.

    Attributes
    ----------
    place : ndarray, shape (n,)
        Way from the start of the run. [mm]
    cap : ndarray, shape (n,)
        Speed allowed there. [mm/s]
    before : ndarray of int, shape (s,)
        Node at the start of every segment.
    opens, closes : ndarray of int, shape (r,)
        First and last node of every run.
    ceiling, peak, acceleration, jerk : ndarray, shape (s,)
        Of every segment: speed allowed, highest speed under the acceleration limit, limits.
    """

    place: Floats
    cap: Floats
    before: Ints
    opens: Ints
    closes: Ints
    ceiling: Floats
    peak: Floats
    acceleration: Floats
    jerk: Floats


@dataclass(eq=False)
class _Work:
    """What is known so far: valleys, sides of nodes, and where nodes lie on their hills."""

    valley: Bools
    side: Ints
    piece: Ints
    after: Floats
    time: Floats
    speed: Floats


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
    whole = np.zeros(count, dtype=np.int64)
    valley = _valleys(nodes, speed)
    # a valley has the speed allowed there, or that of its neighbour at the same place
    nodes = replace(nodes, cap=np.where(valley, speed, nodes.cap))
    work = _Work(valley, whole.copy(), whole.copy(), np.zeros(count),
                 np.zeros(count), nodes.cap.copy())  # fmt: skip
    _prune(nodes, work)
    done: list[Pieces] = []
    owner = np.full(count, -1)  # hill (as solved) that begins at a node
    until = np.full(count, -1)  # and the node it ends at
    total = 0
    while True:
        left, right = _hill_ends(nodes, work.valley)
        dirty = until[left] != right
        if not dirty.any():
            break
        a, b = left[dirty], right[dirty]
        pieces, good = _round(nodes, work, a, b)
        owner[a], until[a] = total + np.arange(len(a)), np.where(good, b, -1)
        total += len(a)
        done.append(pieces)
    return _along(nodes, work, done, owner[left], left, right)


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


def _hill_ends(nodes: Nodes, valley: Bools) -> tuple[Ints, Ints]:
    at = np.flatnonzero(valley)
    ends = np.zeros(len(valley), dtype=bool)
    ends[nodes.closes] = True
    inside = ~ends[at[:-1]]
    return at[:-1][inside], at[1:][inside]


def _prune(nodes: Nodes, work: _Work) -> None:
    """Drop valleys that no plain ramp from a lower neighbour reaches."""
    least_a, least_j = nodes.acceleration.max(), nodes.jerk.max()  # generous: more is kept
    while True:
        left, right = _hill_ends(nodes, work.valley)
        length = nodes.place[right] - nodes.place[left]
        a, b = nodes.cap[left], nodes.cap[right]
        got = reach(np.minimum(a, b), length, least_a, least_j) * (1.0 + EQUAL)
        drop_right, drop_left = b > np.maximum(got, a), a > np.maximum(got, b)
        if not (drop_right.any() or drop_left.any()):
            return
        _drop(work, left[drop_left], right[drop_right])


def _drop(work: _Work, from_right: Ints, from_left: Ints) -> None:
    work.valley[from_right] = False
    work.valley[from_left] = False
    work.side[from_right] |= RIGHT
    work.side[from_left] |= LEFT


def _round(nodes: Nodes, work: _Work, a: Ints, b: Ints) -> tuple[Pieces, Bools]:
    """Solve the hills from node a to b; note what does not fit, and who is too fast."""
    begin, counts = np.searchsorted(nodes.before, a), b - a
    first = np.cumsum(counts) - counts
    hill = np.repeat(np.arange(len(a)), counts)
    segment = np.arange(len(hill)) + np.repeat(begin - first, counts)
    split = _splits(nodes, work, segment, first, hill)
    inner = np.ones(len(hill), dtype=bool)
    inner[first] = False
    node, home = nodes.before[segment[inner]], hill[inner]
    hills = Hills(
        nodes.place[b] - nodes.place[a], nodes.cap[a], nodes.cap[b], nodes.ceiling[split],
        np.minimum.reduceat(nodes.acceleration[segment], first),
        np.minimum.reduceat(nodes.jerk[segment], first),
    )  # fmt: skip
    solved = solve(hills, _corners(nodes, work, node, home, split, a, b, hills.top))
    pieces = pieces_of(solved)
    poor = ~solved.fits
    higher = hills.left > hills.right
    _drop(work, a[poor & higher], b[poor & ~higher])
    good = solved.fits & _below(nodes, work, pieces, node, home, a)
    return pieces, good


def _splits(nodes: Nodes, work: _Work, segment: Ints, first: Ints, hill: Ints) -> Ints:
    """Segment of every hill on which it peaks under the acceleration limit.

    It lies beyond all that the climb from the left cannot get over, and before all that
    the one from the right cannot.
    """
    index = np.arange(len(segment))
    before = nodes.before[segment]
    inner = np.ones(len(segment), dtype=bool)
    inner[first] = False
    side = np.where(inner, work.side[before], 0)
    low = np.maximum.reduceat(np.where(side == LEFT, index, -1), first)
    high = np.minimum.reduceat(np.where(side == RIGHT, index, len(index)), first)
    allowed = (index >= low[hill]) & (index < high[hill])
    weight = np.where(allowed | (low >= high)[hill], nodes.peak[segment], -1.0)
    most = np.maximum.reduceat(weight, first)
    found = np.minimum.reduceat(np.where(weight >= most[hill], index, len(index)), first)
    return segment[found]


def _corners(
    nodes: Nodes, work: _Work, node: Ints, home: Ints, split: Ints, a: Ints, b: Ints, top: Floats
) -> Corners:
    """Corners of both climbs of every hill."""
    cap = nodes.cap[node]
    low = cap < top[home]
    middle = nodes.before[split][home]
    both = work.side[node] == BOTH
    left = np.flatnonzero(low & ((node <= middle) | both))
    right = np.flatnonzero(low & ((node > middle) | both))[::-1]
    climb = np.concatenate((2 * home[left], 2 * home[right] + 1))
    place = np.concatenate((
        nodes.place[node[left]] - nodes.place[a[home[left]]],
        nodes.place[b[home[right]]] - nodes.place[node[right]],
    ))  # fmt: skip
    order = np.argsort(climb, kind="stable")
    caps = np.concatenate((cap[left], cap[right]))
    return Corners(climb[order], place[order], caps[order])


def _below(nodes: Nodes, work: _Work, pieces: Pieces, node: Ints, home: Ints, a: Ints) -> Bools:
    """Note where the nodes between valleys lie in time; tell which hills keep below them all.

    A node that is passed too fast is a corner of both climbs from now on.
    """
    good = np.ones(len(a), dtype=bool)
    if not len(node):
        return good
    moving = np.diff(pieces.first)[home] > 0
    node, home = node[moving], home[moving]
    piece, after = pieces.locate(home, nodes.place[node] - nodes.place[a[home]])
    work.piece[node], work.after[node] = piece - pieces.first[home], after
    work.time[node] = pieces.time[piece] + after
    work.speed[node] = pieces.speed_after(piece, after)
    fast = work.speed[node] > nodes.cap[node] * (1.0 + 1e-7) + 1e-7
    good[home[fast]] = False
    work.side[node[fast]] = BOTH
    return good


def _along(
    nodes: Nodes, work: _Work, done: list[Pieces], order: Ints, left: Ints, right: Ints
) -> tuple[Floats, Floats, Pieces]:
    """Cut the hills at their nodes, and count by segments."""
    pieces = Pieces.joined(done, order) if done else Pieces.none()
    segments = len(nodes.before)
    speed = np.where(work.valley, nodes.cap, np.minimum(work.speed, nodes.cap))
    ends = np.zeros(len(speed))  # time at which the hill that ends here began, to its end
    ends[right] = pieces.row_times
    begins = np.where(work.valley, 0.0, work.time)
    stops = np.where(work.valley, ends, work.time)
    times = np.maximum(stops[nodes.before + 1] - begins[nodes.before], 0.0)
    # segment that begins at a node
    begin = np.zeros(len(speed), dtype=np.int64)
    begin[nodes.before] = np.arange(segments)
    inner = np.flatnonzero(~work.valley)
    hill = np.searchsorted(left, inner, side="right") - 1
    alive = np.diff(pieces.first)[hill] > 0
    inner, hill = inner[alive], hill[alive]
    cut = pieces.split(
        begin[left], pieces.first[hill] + work.piece[inner], work.after[inner], begin[inner],
        segments,
    )  # fmt: skip
    return speed, times, cut
