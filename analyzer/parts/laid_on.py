"""Copies laid on each other, moved, turned or mirrored: does one cover the other?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.distance import Pieces, foot_on_pieces, pieces_of
from analyzer.parts.anchors import Anchors, anchors_of, rarest
from analyzer.parts.bodies import CUT, OPEN, Bodies

TRIED = 400
"""At most so many turns are tried per pair of copies."""

AT_ONCE = 500_000
"""Points placed at once, so that memory stays bounded."""


@dataclass(eq=False)
class Shapes:
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
    def anchors(self) -> Anchors:
        """Features that fix turns."""
        return anchors_of(self.bodies, self.centre)

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
        anchor = rarest(a, far, self.tolerance)
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
