"""Hills on the nodes of a path: what is known of every node, and hills solved from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk_climbs import Corners
from analyzer.motion.jerk_hills import Hills, Solved, pieces_of, solve
from analyzer.motion.pieces import Pieces

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
