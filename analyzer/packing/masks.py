"""Where one shape may not lie against another, on a grid of places.

Shapes lie with the corner of their box on grid points.  Two of them meet exactly where the
step between their corners lies inside the Minkowski sum of the one and the other mirrored
through the origin (the "no-fit polygon" of the packing literature).  It is made of the sums
of convex pieces, each a convex hull, and written down once for every pair of shapes, so
that only places are rounded, never shapes.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints, wrapped
from analyzer.packing.shapes import Shape

TOUCH = 1e-7
"""Shapes may reach into one another by less than this, so that touching is allowed. [mm]"""

AT_ONCE = 2_000_000
"""Cells of masks made in one go, about: bounds the memory."""


@dataclass(frozen=True, eq=False)
class Rings:
    """Convex rings, counter-clockwise, closed, one after the other.

    Attributes
    ----------
    points : ndarray, shape (k, 2)
        Corners; the first of every ring again at its end. [mm]
    owner : ndarray of int, shape (k,)
        Ring of every corner, in order.
    """

    points: Floats
    owner: Ints

    @cached_property
    def extent(self) -> tuple[Floats, Floats]:
        """Least and greatest x of every ring, shape (n,). [mm]"""
        return self._reach(0)

    @cached_property
    def rise(self) -> tuple[Floats, Floats]:
        """Least and greatest y of every ring, shape (n,). [mm]"""
        return self._reach(1)

    def _reach(self, axis: int) -> tuple[Floats, Floats]:
        if not len(self.owner):
            return np.zeros(0), np.zeros(0)
        at = np.flatnonzero(np.diff(self.owner, prepend=-1))
        values = self.points[:, axis]
        return np.minimum.reduceat(values, at), np.maximum.reduceat(values, at)


@dataclass(frozen=True, eq=False)
class Mask:
    """Steps on the grid at which two shapes meet.

    Attributes
    ----------
    meets : ndarray of bool, shape (m, n)
        Along x, along y.
    first : tuple of int
        Step of its first cell.
    """

    meets: Bools
    first: tuple[int, int]

    @property
    def flipped(self) -> Mask:
        """The same with both shapes changing places."""
        m, n = self.meets.shape
        return Mask(self.meets[::-1, ::-1], (1 - m - self.first[0], 1 - n - self.first[1]))


@dataclass(frozen=True, eq=False)
class _Edges:
    """Edges of convex pieces: lowest corner of every piece, edges, their headings, how many."""

    starts: Floats
    edges: Floats
    headings: Floats
    counts: Ints


@dataclass(eq=False)
class Masks:
    """Masks of all pairs of shapes, made when first asked for.

    Attributes
    ----------
    shapes : sequence of Shape
    cell : float
        Side of the grid. [mm]
    cells : int
        Cells of all masks made so far.
    """

    shapes: Sequence[Shape]
    cell: float
    made: dict[tuple[int, int], Mask] = field(default_factory=dict)
    cells: int = 0
    _edges: dict[tuple[int, float, bool], _Edges] = field(default_factory=dict, repr=False)

    def between(self, fixed: int, moving: int) -> Mask:
        """Return the steps from the corner of `fixed` to that of `moving` at which they meet."""
        mask = self.made.get((fixed, moving))
        if mask is None:
            self._make([fixed], moving)
            mask = self.made[fixed, moving]
        return mask

    def prepare(self, fixed: Iterable[int], moving: int) -> None:
        """Make the masks of one shape against many at once: hundreds of times fewer array steps."""
        missing = [k for k in dict.fromkeys(fixed) if (k, moving) not in self.made]
        start, cells = 0, 0
        for at, k in enumerate(missing):
            cells += int(np.prod((self.shapes[k].size + self.shapes[moving].size) / self.cell + 2))
            if cells > AT_ONCE or at == len(missing) - 1:
                self._make(missing[start : at + 1], moving)
                start, cells = at + 1, 0

    def _make(self, fixed: Sequence[int], moving: int) -> None:
        """Make several; shapes that may lie in a cut-out of the moving one apart."""
        other = self.shapes[moving]
        within = [other.holds(self.shapes[k]) for k in fixed]
        for whole in (False, True):
            rows = [k for k, inside in zip(fixed, within, strict=True) if inside == whole]
            if rows:
                self._make_alike(rows, moving, whole)

    def _make_alike(self, fixed: Sequence[int], moving: int, whole: bool) -> None:
        other = self.shapes[moving]
        sizes = np.array([self.shapes[k].size for k in fixed])
        low = np.ceil((-other.size + TOUCH) / self.cell).astype(np.int64)
        high = np.floor((sizes - TOUCH) / self.cell).astype(np.int64)
        shapes = np.maximum(high - low + 1, 0)
        edges = [self._edges_of(k, 1.0, self.shapes[k].holds(other)) for k in fixed]
        turned = self._edges_of(moving, -1.0, whole)
        sums = _summed(_joined(edges), turned)
        pieces = [len(one.starts) for one in edges]
        board = np.repeat(np.arange(len(fixed)), np.array(pieces) * len(turned.starts))
        first = (int(low[0]), int(low[1]))
        for k, meets in zip(fixed, rasters(sums, board, self.cell, low, shapes), strict=True):
            self.cells += meets.size
            mask = Mask(meets, first)
            self.made[k, moving] = mask
            if k != moving:
                self.made[moving, k] = mask.flipped

    def _edges_of(self, index: int, sign: float, whole: bool) -> _Edges:
        """Edges of the pieces of a shape, its cut-outs closed where not `whole`."""
        shape = self.shapes[index]
        key = index, sign, whole
        if key not in self._edges:
            pieces = shape.pieces if whole else shape.solid
            self._edges[key] = _edges([sign * piece for piece in pieces])
        return self._edges[key]


def minkowski(one: Sequence[Floats], other: Sequence[Floats]) -> Rings:
    """Return the sums of every convex piece of the one with every one of the other. [mm]

    The edges of both by their heading, from the sum of both lowest corners.  (A convex hull of
    all sums of corners would do, but loses corners where two are a rounding error apart.)

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> minkowski([square], [2.0 * square]).points.max(axis=0).tolist()
    [3.0, 3.0]
    """
    return _summed(_edges(one), _edges(other))


def _summed(one: _Edges, other: _Edges) -> Rings:
    pair_a = np.repeat(np.arange(len(one.starts)), len(other.starts))
    pair_b = np.tile(np.arange(len(other.starts)), len(one.starts))
    rows_a, owner_a = _picked(one.counts, pair_a)
    rows_b, owner_b = _picked(other.counts, pair_b)
    edges = np.concatenate((one.edges[rows_a], other.edges[rows_b]))
    owner = np.concatenate((owner_a, owner_b))
    heading = np.concatenate((one.headings[rows_a], other.headings[rows_b]))
    order = np.lexsort((heading, owner))
    edges, owner = edges[order], owner[order]
    many = np.bincount(owner, minlength=len(pair_a))
    first = np.concatenate(([0], np.cumsum(many + 1)[:-1]))
    steps = np.zeros((len(edges) + len(pair_a), 2))
    steps[np.arange(len(edges)) + owner + 1] = edges
    steps[first] = 0.0
    points = np.cumsum(steps, axis=0)
    ring = np.repeat(np.arange(len(pair_a)), many + 1)
    points += (one.starts[pair_a] + other.starts[pair_b] - points[first])[ring]
    points[first + many] = points[first]  # closed to the last digit: no column slips through
    return Rings(points, ring)


def _edges(pieces: Sequence[Floats]) -> _Edges:
    """Lowest corner of every piece, its edges from there, their headings, how many it has.

    Headings grow along the piece from 0 to one turn whatever rounding says: of two edges along
    a bottom that dips by a last digit one would otherwise come first and the other last.
    """
    starts, edges, headings = [], [], []
    for piece in pieces:
        turn = int(np.lexsort((piece[:, 0], piece[:, 1]))[0])
        ring = np.vstack((piece[turn:], piece[: turn + 1]))
        edge = ring[1:] - ring[:-1]
        angle = np.arctan2(edge[:, 1], edge[:, 0])
        turns = wrapped(np.diff(angle, prepend=0.0))
        starts.append(ring[0])
        edges.append(edge)
        headings.append(np.maximum.accumulate(np.cumsum(turns)))
    many = np.array([len(e) for e in edges], np.int64)
    return _Edges(np.array(starts), np.concatenate(edges), np.concatenate(headings), many)


def _joined(several: Sequence[_Edges]) -> _Edges:
    if len(several) == 1:
        return several[0]
    return _Edges(
        np.concatenate([one.starts for one in several]),
        np.concatenate([one.edges for one in several]),
        np.concatenate([one.headings for one in several]),
        np.concatenate([one.counts for one in several]),
    )


def _picked(counts: Ints, groups: Ints) -> tuple[Ints, Ints]:
    """Rows of all members of groups, one group after the other, and which each belongs to."""
    many = counts[groups]
    first = (np.cumsum(counts) - counts)[groups]
    within = np.arange(int(many.sum())) - np.repeat(np.cumsum(many) - many, many)
    return np.repeat(first, many) + within, np.repeat(np.arange(len(groups)), many)


def rastered(rings: Rings, cell: float, low: Ints, shape: tuple[int, int]) -> Bools:
    """Return which grid points lie inside convex rings, shape `shape`.

    Parameters
    ----------
    rings : Rings
        [mm]
    cell : float
        Side of the grid. [mm]
    low : ndarray of int, shape (2,)
        Grid coordinates of the first point.
    shape : tuple of int
        Points along x and y.
    """
    board = np.zeros(int(rings.owner[-1]) + 1 if len(rings.owner) else 0, np.int64)
    return rasters(rings, board, cell, low, np.array([shape], np.int64))[0]


def rasters(rings: Rings, board: Ints, cell: float, low: Ints, shapes: Ints) -> list[Bools]:
    """Return which grid points of several boards lie inside their convex rings.

    Parameters
    ----------
    rings : Rings
        [mm]
    board : ndarray of int, shape (n,)
        Which board every ring belongs to.
    cell, low
        As for `rastered`, the same for all boards.
    shapes : ndarray of int, shape (k, 2)
        Points along x and y of every board.
    """
    width, height = shapes[:, 0], shapes[:, 1]
    ring, column, bottom, top = _spans(rings, cell, int(low[0]), width[board])
    own = board[ring]
    tall = height[own]
    first = np.clip(np.floor((bottom + TOUCH) / cell) + 1 - low[1], 0, tall)
    last = np.clip(np.ceil((top - TOUCH) / cell) - low[1], 0, tall)
    keep = last > first
    sizes = width * (height + 1)
    begin = np.cumsum(sizes) - sizes
    base = (begin[own] + column * (tall + 1))[keep]
    size = int(sizes.sum())
    change = np.bincount(base + first[keep].astype(np.int64), minlength=size)
    change -= np.bincount(base + last[keep].astype(np.int64), minlength=size)
    # the changes of a column add up to nothing, so one running sum serves all columns
    inside = np.cumsum(change.astype(np.int16), dtype=np.int16) > 0
    return [
        np.ascontiguousarray(inside[at : at + n].reshape(w, h + 1)[:, :h])
        for at, n, w, h in zip(
            begin.tolist(), sizes.tolist(), width.tolist(), height.tolist(), strict=True
        )
    ]


def _spans(rings: Rings, cell: float, low: int, width: Ints) -> tuple[Ints, Ints, Floats, Floats]:
    """Ring and grid column strictly inside it, and the least and greatest y of the ring there.

    `width` is that of the board of every ring.

    Both ends of an edge count to it: least and greatest do not mind a corner met twice, nor
    edges that run back by a rounding error.
    """
    same = np.flatnonzero(rings.owner[1:] == rings.owner[:-1])
    a, b, owner = rings.points[same], rings.points[same + 1], rings.owner[same]
    swap = (a[:, 0] > b[:, 0])[:, None]
    left, right = np.where(swap, b, a), np.where(swap, a, b)
    start, end = rings.extent
    first = np.maximum(np.ceil(left[:, 0] / cell), np.floor((start[owner] + TOUCH) / cell) + 1)
    last = np.minimum(np.floor(right[:, 0] / cell), np.ceil((end[owner] - TOUCH) / cell) - 1)
    begin = np.maximum(first.astype(np.int64), low)
    many = np.maximum(np.minimum(last.astype(np.int64), low + width[owner] - 1) - begin + 1, 0)
    edge = np.repeat(np.arange(len(many)), many)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(many) - many, many) + begin[edge]
    run = right[:, 0] - left[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(run > 0.0, (right[:, 1] - left[:, 1]) / run, 0.0)
    y = left[edge, 1] + slope[edge] * (column * cell - left[edge, 0])
    y = np.clip(
        y, np.minimum(left[edge, 1], right[edge, 1]), np.maximum(left[edge, 1], right[edge, 1])
    )
    most = int(width.max(initial=1))
    key = owner[edge] * most + column - low
    order = np.argsort(key, kind="stable")
    key, y = key[order], y[order]
    if not len(key):
        return key, key, y, y
    at = np.flatnonzero(np.diff(key, prepend=-1))
    ring, column = np.divmod(key[at], most)
    return ring, column, np.minimum.reduceat(y, at), np.maximum.reduceat(y, at)
