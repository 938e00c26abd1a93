"""Which copies are the same part: moved or turned; a mirrored one is the other hand.

Copies are the same when one, moved and turned, covers the other: every end and middle of
every line of either lies on a line of the same kind of the other.  How the lines are
split, where they start and which way they run does not matter, so the same shape drawn
in two ways is one part.  The turn is tried from features that both must have.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from analyzer.geometry.circles import true_circles
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.distance import Pieces, foot_on_pieces, pieces_of
from analyzer.parts.bodies import CUT, OPEN, Bodies
from analyzer.tolerances import DEFAULT, Tolerances

TRIED = 400
"""At most so many turns are tried per pair of copies."""

AT_ONCE = 500_000
"""Points placed at once, so that memory stays bounded."""


@dataclass(frozen=True, eq=False)
class Sames:
    """Copies by part.

    Attributes
    ----------
    part : ndarray of int, shape (b,)
        The distinct part of every copy, numbered in order of their first copies.
    hand_of : dict of int to int
        Part -> the earlier part whose mirror image it is.
    turn : ndarray, shape (b,)
        How every copy is turned against the first of its part, counter-clockwise. [rad]
    """

    part: Ints
    hand_of: dict[int, int]
    turn: Floats


def find_same(bodies: Bodies, tolerances: Tolerances = DEFAULT) -> Sames:
    """Return which copies are the same part, and which parts are left and right hand."""
    count = len(bodies.outline)
    first_of = np.arange(count)  # the first copy of the same part
    hands: dict[int, int] = {}
    measures = _measures(bodies)
    buckets = [bucket for bucket in _buckets(measures, count) if len(bucket) > 1]
    if not buckets:
        return Sames(first_of, hands, np.zeros(count))
    shapes = _Shapes(bodies, tolerances.same_part)
    for bucket in buckets:
        firsts = _gather(shapes, _Close(bucket, measures), first_of)
        for earlier, later in _pair_hands(shapes, _Close(firsts, measures)):
            hands[later] = earlier
    firsts_all, part = np.unique(first_of, return_inverse=True)
    number = {int(body): k for k, body in enumerate(firsts_all)}
    hands = {number[later]: number[earlier] for later, earlier in hands.items()}
    return Sames(part, hands, shapes.turn)


Measures = tuple[tuple[Floats, Floats], ...]
"""Values that stay when a copy is moved, turned or mirrored, and how far the same may differ."""


class _Close:
    """Copies of a bucket, to ask which of them measure about the same.

    Copies that are all a little different would else be compared each with each: they are
    sorted by the measure that tells most of them apart, and only neighbours are looked at.
    """

    def __init__(self, bodies: Ints, measures: Measures) -> None:
        self.bodies = bodies
        self.values = np.array([value[bodies] for value, _ in measures])
        self.slack = np.array([np.broadcast_to(s, v.shape)[bodies] for v, s in measures])
        spread = np.ptp(self.values, axis=1) / self.slack.max(axis=1)
        self.key = int(spread.argmax())
        self.order = np.argsort(self.values[self.key], kind="stable")
        self.sorted = self.values[self.key][self.order]

    def to(self, index: int, free: Bools) -> Ints:
        """Indices after `index` of free copies that measure about the same, in order."""
        value, slack = self.values[self.key, index], self.slack[self.key].max()
        low, high = np.searchsorted(self.sorted, (value - slack, value + slack))
        near = self.order[low : min(high + 1, len(self.order))]
        near = np.sort(near[(near > index) & free[near]])
        room = np.maximum(self.slack[:, near], self.slack[:, [index]])
        fits = np.abs(self.values[:, near] - self.values[:, [index]]) <= room
        close: Ints = near[np.logical_and.reduce(fits, axis=0)]
        return close


def _gather(shapes: _Shapes, close: _Close, first_of: Ints) -> Ints:
    """Write the first same copy of every copy of a bucket; return those firsts."""
    firsts = []
    free = np.ones(len(close.bodies), bool)
    for index, body in enumerate(close.bodies.tolist()):
        if not free[index]:
            continue
        firsts.append(body)
        near = close.to(index, free)
        if len(near):
            same = shapes.moved(body, close.bodies[near])
            same[~same] = shapes.match(body, close.bodies[near[~same]])
            near = near[same]
        first_of[close.bodies[near]] = body
        free[near] = False
    return np.array(firsts)


def _pair_hands(shapes: _Shapes, close: _Close) -> list[tuple[int, int]]:
    """Pairs of parts of a bucket whose cuts mirror each other but are not the same."""
    pairs = []
    free = np.ones(len(close.bodies), bool)
    for index, body in enumerate(close.bodies.tolist()):
        near = close.to(index, free) if free[index] else np.zeros(0, np.int64)
        if not len(near):
            continue
        twins = near[shapes.match(body, close.bodies[near], mirrored=True, cuts_only=True)]
        twins = twins[~shapes.match(body, close.bodies[twins], cuts_only=True)]
        if len(twins):
            pairs.append((body, int(close.bodies[twins[0]])))
            free[twins[0]] = False
    return pairs


def _measures(bodies: Bodies) -> Measures:
    """Sizes of every copy that are those of any same or mirrored one too."""
    count = len(bodies.outline)
    lines = bodies.lines
    mine = np.flatnonzero(bodies.body >= 0)
    body, kind = bodies.body[mine], bodies.kind[mine]
    outer = lines.centroid[bodies.outline]

    def total(values: Floats, *, of: int) -> Floats:
        at = kind == of
        return np.bincount(body[at], weights=values[mine][at], minlength=count).astype(float)

    one = np.ones(len(lines))
    away = np.zeros(len(lines))
    away[mine] = np.hypot(*(lines.centroid[mine] - outer[body]).T)
    length, around = lines.length, lines.length[bodies.outline]
    ample, half = 0.5 + 0.002 * around, np.full(count, 0.5)
    return (
        (total(one, of=CUT), half), (total(one, of=OPEN), half),
        (around, ample), (lines.area[bodies.outline], 0.05 * around),
        (total(lines.area, of=CUT), 0.05 * total(length, of=CUT)),
        (total(away, of=CUT), 0.1 * total(one, of=CUT)),
        (total(away**2, of=CUT), 0.1 * (1.0 + total(away, of=CUT))),
    )  # fmt: skip


def _buckets(measures: Measures, count: int) -> list[Ints]:
    """Copies whose sizes are close, so that same and mirrored ones share a bucket.

    Sorted by one measure after the other and split only where neighbours differ by more
    than the same part ever could: equal parts are never split, unequal ones may stay.
    """
    label = np.zeros(count, np.int64)
    for value, slack in measures:
        width = np.broadcast_to(slack, value.shape)
        order = np.lexsort((value, label))
        step = np.diff(value[order]) > np.maximum(width[order][1:], width[order][:-1])
        step |= np.diff(label[order]) != 0
        label[order] = np.concatenate(([0], np.cumsum(step)))
    order = np.argsort(label, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1) if count else []


@dataclass(frozen=True, eq=False)
class _Anchors:
    """Features that fix how a copy is turned: sharp corners, circles and ends off its centre."""

    begin: Ints  # of each copy among them, shape (b + 1,)
    kind: Ints  # 0 corner, 1 circle, 2 end of an open cut, 3 end of a mark or bend
    size: Floats  # |turn| [rad] of a corner, radius [mm] of a circle, else 0
    away: Floats  # from the copy's centre [mm]
    angle: Floats  # seen from there [rad]


@dataclass(eq=False)
class _Shapes:
    """All copies as points, pieces and anchors, ready to be laid on each other."""

    bodies: Bodies
    tolerance: float

    def __post_init__(self) -> None:
        lines, self.body, self.kind = self.bodies.lines, self.bodies.body, self.bodies.kind
        mine = np.flatnonzero(self.body >= 0)
        self.centre = lines.centroid[self.bodies.outline]
        self.turn = np.zeros(len(self.centre))  # of each against the first it is the same as
        points, owner = _sample(lines.take(mine))
        row = mine[owner]
        self.rows = mine[np.argsort(self.body[mine], kind="stable")]
        every = np.arange(len(self.centre) + 1)
        self.rows_begin = np.searchsorted(self.body[self.rows], every)
        order = np.argsort(self.body[row], kind="stable")
        self.points, self.points_kind = points[order], self.kind[row][order]
        body = self.body[row][order]
        self.points_begin = np.searchsorted(body, every)
        self.counts = np.zeros((4, len(self.centre)), np.int64)
        np.add.at(self.counts, (self.kind[mine], self.body[mine]), 1)

    @cached_property
    def pieces(self) -> Pieces:
        """All lines in pieces."""
        return pieces_of(self.bodies.lines)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Boxes of the pieces, as wide as the tolerance."""
        reach = np.array([-1.0, -1.0, 1.0, 1.0]) * self.tolerance
        return shapely.STRtree(shapely.box(*(self.pieces.box + reach).T))

    @cached_property
    def anchors(self) -> _Anchors:
        """Features that fix turns."""
        return _anchors(self.bodies, self.centre)

    def moved(self, first: int, others: Ints) -> Bools:
        """Whether each of `others` is copy `first` moved only, point for point.

        Most copies on a sheet are; they need not be laid on each other.
        """
        size = np.diff(self.points_begin)
        fits: Bools = size[others] == size[first]
        own = slice(self.points_begin[first], self.points_begin[first + 1])
        arm = self.points[own] - self.centre[first]
        step = max(1, AT_ONCE // max(len(arm), 1))
        rows = np.flatnonzero(fits)
        for begin in range(0, len(rows), step):
            part = rows[begin : begin + step]
            point = self.points_begin[others[part]][:, None] + np.arange(len(arm))
            gap = self.points[point] - self.centre[others[part]][:, None] - arm
            near = (np.hypot(gap[..., 0], gap[..., 1]) <= self.tolerance).all(axis=1)
            fits[part] = near & (self.points_kind[point] == self.points_kind[own]).all(axis=1)
        return fits

    def match(
        self, first: int, others: Ints, *, mirrored: bool = False, cuts_only: bool = False
    ) -> Bools:
        """Whether copy `first`, turned (and mirrored), covers each of `others`."""
        kinds = (CUT, OPEN) if cuts_only else range(4)
        alike = np.all([self.counts[k, first] == self.counts[k, others] for k in kinds], axis=0)
        found = np.zeros(len(others), bool)
        wanted = np.flatnonzero(alike)
        which, turn = self._turns(first, others[wanted], mirrored, cuts_only)
        which = wanted[which]
        begin = np.searchsorted(which, np.arange(len(others) + 1))
        for nth in range(TRIED):
            active = np.flatnonzero(~found & (begin[:-1] + nth < begin[1:]))
            if not len(active):
                break
            turns = turn[begin[active] + nth]
            fits = self._covers(first, others[active], turns, mirrored, cuts_only)
            found[active] = fits
            if not mirrored and not cuts_only:
                self.turn[others[active[fits]]] = turns[fits]
        return found

    def _turns(
        self, first: int, others: Ints, mirrored: bool, cuts_only: bool
    ) -> tuple[Ints, Floats]:
        """Turns worth trying: index into `others` (sorted) and angle [rad]."""
        a = self.anchors
        mine = np.arange(a.begin[first], a.begin[first + 1])
        far = mine[a.away[mine] > 20.0 * self.tolerance]
        by_cuts = far[a.kind[far] < 3]
        far = by_cuts if len(by_cuts) or cuts_only else far
        if not len(far):
            return self._turns_of_moments(first, others, mirrored)
        anchor = _rarest(a, far, self.tolerance)
        size = a.begin[others + 1] - a.begin[others]
        slot = np.repeat(np.arange(len(others)), size)
        near = np.repeat(a.begin[others] - np.cumsum(size) + size, size) + np.arange(len(slot))
        alike = (
            (a.kind[near] == a.kind[anchor])
            & (np.abs(a.away[near] - a.away[anchor]) <= 3.0 * self.tolerance)
            & (np.abs(a.size[near] - a.size[anchor]) <= 0.1)
        )
        near, slot = near[alike], slot[alike]
        turn = a.angle[near] + (1.0 if mirrored else -1.0) * a.angle[anchor]
        return slot, turn

    def _turns_of_moments(self, first: int, others: Ints, mirrored: bool) -> tuple[Ints, Floats]:
        """Turns of smooth or round shapes, from the phase of a moment of their points."""
        best, fold = 0.0, 1
        own: complex = 0.0
        for n in range(1, 9):
            moment = self._moment(first, n)
            if abs(moment) > best + 1e-3:
                best, fold, own = abs(moment), n, moment
        index, turns = [], []
        for k, other in enumerate(others.tolist()):
            phase = 0.0
            if best > 0.0:
                phase = np.angle(self._moment(other, fold))
                phase = (phase + (1.0 if mirrored else -1.0) * np.angle(own)) / fold
            index += [k] * fold
            turns += [phase + 2.0 * np.pi * m / fold for m in range(fold)]
        return np.array(index, np.int64), np.array(turns)

    def _moment(self, body: int, n: int) -> complex:
        """Mean of (z / its greatest size)^n along the closed lines about the centre."""
        rows = self.rows[self.rows_begin[body] : self.rows_begin[body + 1]]
        rows = rows[self.kind[rows] == CUT]
        flat = self.bodies.lines.take(rows).flattened(self.tolerance)
        middle = (flat.starts + flat.ends) / 2.0 - self.centre[body]
        z = middle[:, 0] + 1j * middle[:, 1]
        return complex(np.sum((z / np.abs(z).max()) ** n * flat.chords) / flat.chords.sum())

    def _covers(
        self, first: int, others: Ints, turns: Floats, mirrored: bool, cuts_only: bool
    ) -> Bools:
        """Whether each turn lays the first on the other copy, both ways."""
        fits = np.ones(len(others), bool)
        ahead, back = _matrices(turns, mirrored)
        own = slice(self.points_begin[first], self.points_begin[first + 1])
        sizes = np.diff(self.points_begin)[others]
        step = max(1, AT_ONCE // max(own.stop - own.start, int(sizes.max(initial=1))))
        few = np.unique(np.linspace(own.start, own.stop - 1, 12).astype(int))
        for points in (few, np.arange(own.start, own.stop)):
            for begin in range(0, len(others), step):
                part = np.arange(begin, min(begin + step, len(others)))
                part = part[fits[part]]
                fits[part] = self._onto(first, others[part], ahead[part], points, cuts_only)
        for begin in range(0, len(others), step):
            part = np.arange(begin, min(begin + step, len(others)))
            part = part[fits[part]]
            fits[part] = self._back(first, others[part], back[part], cuts_only)
        return fits

    def _onto(
        self, first: int, others: Ints, matrix: Floats, points: Ints, cuts_only: bool
    ) -> Bools:
        """Whether points of the first lie on every other copy."""
        arm = self.points[points] - self.centre[first]
        placed = np.einsum("kij,pj->kpi", matrix, arm) + self.centre[others][:, None, :]
        kind = np.tile(self.points_kind[points], len(others))
        owner = np.repeat(others, len(points))
        on = self._on(placed.reshape(-1, 2), owner, kind, cuts_only)
        every: Bools = np.logical_and.reduce(on.reshape(len(others), len(points)), axis=1)
        return every

    def _back(self, first: int, others: Ints, matrix: Floats, cuts_only: bool) -> Bools:
        """Whether all points of every other copy lie on the first."""
        size = self.points_begin[others + 1] - self.points_begin[others]
        index = np.repeat(np.arange(len(others)), size)
        within = np.arange(len(index)) - np.repeat(np.cumsum(size) - size, size)
        point = self.points_begin[others][index] + within
        arm = self.points[point] - self.centre[others][index]
        placed = np.einsum("kij,kj->ki", matrix[index], arm) + self.centre[first]
        on = self._on(placed, np.full(len(point), first), self.points_kind[point], cuts_only)
        off: Ints = np.bincount(index[~on], minlength=len(others))
        none: Bools = off == 0
        return none

    def _on(self, points: Floats, body: Ints, kind: Ints, cuts_only: bool) -> Bools:
        """Whether every point lies on a line of that copy and kind."""
        on = np.zeros(len(points), bool)
        if cuts_only:
            on |= kind > OPEN
        asked = np.flatnonzero(~on)
        probe, piece = self.tree.query(shapely.points(points[asked]))
        probe = asked[probe]
        row = self.pieces.owner[piece]
        own = (self.body[row] == body[probe]) & (self.kind[row] == kind[probe])
        probe, piece = probe[own], piece[own]
        gap = points[probe] - foot_on_pieces(points[probe], self.pieces.take(piece))
        on[probe[np.hypot(gap[:, 0], gap[:, 1]) <= self.tolerance]] = True
        return on


def _matrices(turns: Floats, mirrored: bool) -> tuple[Floats, Floats]:
    """Turns, after a mirror at the x axis if wanted, and their inverses, shape (k, 2, 2)."""
    cos, sin = np.cos(turns), np.sin(turns)
    hand = -1.0 if mirrored else 1.0
    ahead = np.array([[cos, -hand * sin], [sin, hand * cos]]).transpose(2, 0, 1)
    return ahead, ahead.transpose(0, 2, 1)  # orthogonal


def _sample(lines: Contours) -> tuple[Floats, Ints]:
    """Ends and middles of all segments, and the contour each belongs to."""
    every = np.arange(len(lines.bulges))
    last = lines.offsets[1:] - 1
    halves = [lines.points_at(every, np.full(len(every), share)) for share in (0.0, 0.5)]
    points = np.vstack((*halves, lines.ends[last]))
    return points, np.concatenate((lines.owner, lines.owner, np.arange(len(lines))))


def _anchors(bodies: Bodies, centre: Floats) -> _Anchors:
    lines = bodies.lines
    mine = (bodies.body >= 0) & (bodies.kind == CUT)
    whole = true_circles(lines)
    circle = np.flatnonzero(mine & whole.round)
    sharp = np.flatnonzero(mine[lines.owner] & ~lines.smooth & (np.abs(lines.turns) > 0.2))
    loose = np.flatnonzero((bodies.body >= 0) & ~lines.closed)
    ends = [lines.starts[lines.offsets[loose]], lines.ends[lines.offsets[loose + 1] - 1]]
    point = np.vstack((lines.starts[sharp], whole.centre[circle], *ends))
    body = bodies.body[np.concatenate((lines.owner[sharp], circle, loose, loose))]
    arm = point - centre[body]
    open_kind = np.tile(np.where(bodies.kind[loose] == OPEN, 2, 3), 2)
    kind = np.concatenate((np.repeat([0, 1], [len(sharp), len(circle)]), open_kind))
    size = np.concatenate(
        (np.abs(lines.turns[sharp]), whole.radius[circle], np.zeros(2 * len(loose)))
    )
    order = np.argsort(body, kind="stable")
    arm = arm[order]
    return _Anchors(
        np.searchsorted(body[order], np.arange(len(centre) + 1)), kind[order], size[order],
        np.hypot(arm[:, 0], arm[:, 1]), np.arctan2(arm[:, 1], arm[:, 0]),
    )  # fmt: skip


def _rarest(a: _Anchors, rows: Ints, tolerance: float) -> int:
    """The anchor with the fewest like it, of those the farthest out."""
    outer = rows[a.away[rows] >= 0.3 * a.away[rows].max()]
    key = a.kind[outer] * 1e9 + a.away[outer]
    order = np.sort(key)
    alike = np.searchsorted(order, key + 6.0 * tolerance) - np.searchsorted(
        order, key - 6.0 * tolerance
    )
    best = np.lexsort((-a.away[outer], alike))[0]
    return int(outer[best])
