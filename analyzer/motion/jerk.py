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
from analyzer.motion import jerk_dips
from analyzer.motion.jerk_climbs import Corners
from analyzer.motion.jerk_hills import Hills, Solved, pieces_of, solve
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
class Work:
    """What is known so far of every node.

    Attributes
    ----------
    valley : ndarray of bool, shape (n,)
        Hills begin and end here, or `shift` beside.
    knot, shift : ndarray, shape (n,)
        Speed of a valley [mm/s], and how far along the path it lies from its node [mm].
    side : ndarray of int, shape (n,)
        Climbs that must keep below a node though the speed dips there.
    piece, after, time, speed : ndarray, shape (n,)
        Of nodes inside hills: piece of the hill and time since its start; time since the
        start of the hill [s], speed [mm/s].
    """

    valley: Bools
    knot: Floats
    shift: Floats
    side: Ints
    piece: Ints
    after: Floats
    time: Floats
    speed: Floats


@dataclass(frozen=True, eq=False)
class Attempt:
    """Hills solved once: their motion, what fits, and where the nodes inside them lie."""

    pieces: Pieces
    fits: Bools
    peak: Floats
    node: Ints
    home: Ints
    piece: Ints
    after: Floats
    speed: Floats
    fast: Bools

    @property
    def good(self) -> Bools:
        """Hills that fit, and keep below every node."""
        found = self.fits.copy()
        found[self.home[self.fast]] = False
        return found

    def note(self, work: Work) -> None:
        """Write down where the nodes inside lie."""
        node, piece = self.node, self.piece
        work.piece[node] = piece - self.pieces.first[self.home]
        work.after[node], work.speed[node] = self.after, self.speed
        work.time[node] = self.pieces.time[piece] + self.after


class Done:
    """Solved hills by the node they begin at."""

    def __init__(self, count: int) -> None:
        self.until = np.full(count, -1)
        self.peak, self.time = np.zeros(count), np.zeros(count)
        self._row = np.full(count, -1)
        self._several: list[Pieces] = []
        self._total = 0

    def add(self, attempt: Attempt, a: Ints, b: Ints) -> None:
        """Note the hills from nodes a to b; those that are not good stay open."""
        self.until[a] = np.where(attempt.good, b, -1)
        self.peak[a], self.time[a] = attempt.peak, attempt.pieces.row_times
        self._row[a] = self._total + np.arange(len(a))
        self._total += len(a)
        self._several.append(attempt.pieces)

    def pieces(self, left: Ints) -> Pieces:
        """Return the motion over the hills that begin at nodes, in that order."""
        return Pieces.joined(self._several, self._row[left]) if self._several else Pieces.none()


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
    jerk_dips.dip(nodes, work, done, left, right)
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


@dataclass(frozen=True, eq=False)
class _Inside:
    """Where hills begin and end, and the nodes inside them."""

    start: Floats
    node: Ints
    home: Ints


def solve_hills(nodes: Nodes, work: Work, a: Ints, b: Ints) -> tuple[Solved, _Inside]:
    """Solve the hills from node a to node b; changes nothing."""
    begin, counts = np.searchsorted(nodes.before, a), b - a
    first = np.cumsum(counts) - counts
    hill = np.repeat(np.arange(len(a)), counts)
    segment = np.arange(len(hill)) + np.repeat(begin - first, counts)
    split = _splits(nodes, work, segment, first, hill)
    least_a = np.minimum.reduceat(nodes.acceleration[segment], first)
    least_j = np.minimum.reduceat(nodes.jerk[segment], first)
    # a valley beside its node: the hill begins before it, or ends behind it
    early, late = np.flatnonzero(work.shift[a] < 0.0), np.flatnonzero(work.shift[b] > 0.0)
    for rows, more in ((early, begin[early] - 1), (late, (begin + counts)[late])):
        least_a[rows] = np.minimum(least_a[rows], nodes.acceleration[more])
        least_j[rows] = np.minimum(least_j[rows], nodes.jerk[more])
    start, end = nodes.place[a] + work.shift[a], nodes.place[b] + work.shift[b]
    hills = Hills(np.maximum(end - start, 0.0), work.knot[a], work.knot[b],
                  nodes.ceiling[split], least_a, least_j)  # fmt: skip
    inner = np.ones(len(hill), dtype=bool)
    inner[first] = False
    node = np.concatenate((nodes.before[segment[inner]], a[early], b[late]))
    home = np.concatenate((hill[inner], early, late))
    if len(early) or len(late):
        order = np.lexsort((node, home))
        node, home = node[order], home[order]
    solved = solve(hills, _corners(nodes, work, node, home, split, start, end, hills.top))
    return solved, _Inside(start, node, home)


def attempt_hills(nodes: Nodes, work: Work, a: Ints, b: Ints) -> Attempt:
    """Solve the hills from node a to node b and look at the nodes inside; changes nothing."""
    solved, inside = solve_hills(nodes, work, a, b)
    pieces, node, home = pieces_of(solved), inside.node, inside.home
    moving = np.diff(pieces.first)[home] > 0
    node, home = node[moving], home[moving]
    piece, after = np.zeros(0, dtype=np.int64), np.zeros(0)
    if len(node):
        piece, after = pieces.locate(home, nodes.place[node] - inside.start[home])
    speed = pieces.speed_after(piece, after)
    fast = speed > nodes.cap[node] * (1.0 + 1e-7) + 1e-7
    return Attempt(pieces, solved.fits, solved.peak, node, home, piece, after, speed, fast)


def _splits(nodes: Nodes, work: Work, segment: Ints, first: Ints, hill: Ints) -> Ints:
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
    nodes: Nodes, work: Work, node: Ints, home: Ints, split: Ints, start: Floats, end: Floats,
    top: Floats,
) -> Corners:  # fmt: skip
    """Corners of both climbs of every hill."""
    cap = nodes.cap[node]
    low = cap < top[home]
    middle = nodes.before[split][home]
    both = work.side[node] == BOTH
    left = np.flatnonzero(low & ((node <= middle) | both))
    right = np.flatnonzero(low & ((node > middle) | both))[::-1]
    climb = np.concatenate((2 * home[left], 2 * home[right] + 1))
    place = np.concatenate((
        nodes.place[node[left]] - start[home[left]], end[home[right]] - nodes.place[node[right]],
    ))  # fmt: skip
    order = np.argsort(climb, kind="stable")
    caps = np.concatenate((cap[left], cap[right]))
    return Corners(climb[order], place[order], caps[order])


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
