"""Where one shape may not lie against another, on a grid of places.

Shapes lie with the corner of their box on grid points.  Two of them meet exactly where the
step between their corners lies inside the Minkowski sum of the one and the other mirrored
through the origin (the "no-fit polygon" of the packing literature).  It is made of the sums
of convex pieces, each a convex hull, and written down once for every pair of shapes, so
that only places are rounded, never shapes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints, wrapped
from analyzer.packing.shapes import Shape

TOUCH = 1e-7
"""Shapes may reach into one another by less than this, so that touching is allowed. [mm]"""


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

    def between(self, fixed: int, moving: int) -> Mask:
        """Return the steps from the corner of `fixed` to that of `moving` at which they meet."""
        mask = self.made.get((fixed, moving))
        if mask is None:
            mask = self._make(fixed, moving)
            self.made[fixed, moving] = mask
            if fixed != moving:
                self.made[moving, fixed] = mask.flipped
        return mask

    def _make(self, fixed: int, moving: int) -> Mask:
        one, other = self.shapes[fixed], self.shapes[moving]
        sums = minkowski(one.pieces, [-piece for piece in other.pieces])
        low = np.ceil((-other.size + TOUCH) / self.cell).astype(np.int64)
        high = np.floor((one.size - TOUCH) / self.cell).astype(np.int64)
        shape = tuple(np.maximum(high - low + 1, 0).tolist())
        meets = rastered(sums, self.cell, low, (int(shape[0]), int(shape[1])))
        self.cells += meets.size
        return Mask(meets, (int(low[0]), int(low[1])))


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
    start_a, edge_a, head_a, count_a = _edges(one)
    start_b, edge_b, head_b, count_b = _edges(other)
    pair_a = np.repeat(np.arange(len(one)), len(other))
    pair_b = np.tile(np.arange(len(other)), len(one))
    rows_a, owner_a = _picked(count_a, pair_a)
    rows_b, owner_b = _picked(count_b, pair_b)
    edges = np.concatenate((edge_a[rows_a], edge_b[rows_b]))
    owner = np.concatenate((owner_a, owner_b))
    heading = np.concatenate((head_a[rows_a], head_b[rows_b]))
    order = np.lexsort((heading, owner))
    edges, owner = edges[order], owner[order]
    many = np.bincount(owner, minlength=len(pair_a))
    first = np.concatenate(([0], np.cumsum(many + 1)[:-1]))
    steps = np.zeros((len(edges) + len(pair_a), 2))
    steps[np.arange(len(edges)) + owner + 1] = edges
    steps[first] = 0.0
    points = np.cumsum(steps, axis=0)
    ring = np.repeat(np.arange(len(pair_a)), many + 1)
    points += (start_a[pair_a] + start_b[pair_b] - points[first])[ring]
    points[first + many] = points[first]  # closed to the last digit: no column slips through
    return Rings(points, ring)


def _edges(pieces: Sequence[Floats]) -> tuple[Floats, Floats, Floats, Ints]:
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
    return np.array(starts), np.concatenate(edges), np.concatenate(headings), many


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
    width, height = shape
    column, bottom, top = _spans(rings, cell, int(low[0]), width)
    first = np.clip(np.floor((bottom + TOUCH) / cell) + 1 - low[1], 0, height)
    last = np.clip(np.ceil((top - TOUCH) / cell) - low[1], 0, height)
    keep = last > first
    base = column[keep] * (height + 1)
    size = width * (height + 1)
    change = np.bincount(base + first[keep].astype(np.int64), minlength=size)
    change -= np.bincount(base + last[keep].astype(np.int64), minlength=size)
    small = change.astype(np.int16).reshape(width, height + 1)
    inside = np.cumsum(small, axis=1, dtype=np.int16)[:, :height] > 0
    return np.ascontiguousarray(inside)


def _spans(rings: Rings, cell: float, low: int, width: int) -> tuple[Ints, Floats, Floats]:
    """Grid columns strictly inside each ring, and the least and greatest y of the ring there.

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
    many = np.maximum(np.minimum(last.astype(np.int64), low + width - 1) - begin + 1, 0)
    edge = np.repeat(np.arange(len(many)), many)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(many) - many, many) + begin[edge]
    run = right[:, 0] - left[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(run > 0.0, (right[:, 1] - left[:, 1]) / run, 0.0)
    y = left[edge, 1] + slope[edge] * (column * cell - left[edge, 0])
    y = np.clip(
        y, np.minimum(left[edge, 1], right[edge, 1]), np.maximum(left[edge, 1], right[edge, 1])
    )
    key = owner[edge] * width + column - low
    order = np.argsort(key, kind="stable")
    key, y = key[order], y[order]
    if not len(key):
        return key, y, y
    at = np.flatnonzero(np.diff(key, prepend=-1))
    return key[at] % width, np.minimum.reduceat(y, at), np.maximum.reduceat(y, at)
