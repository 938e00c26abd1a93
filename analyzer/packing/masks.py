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

import numpy as np
import shapely

from analyzer.geometry.contours import Bools, Floats, Ints
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
    """Return the sums of every convex piece of the one with every one of the other. [mm]"""
    sums = [(a[:, None] + b[None, :]).reshape(-1, 2) for a in one for b in other]
    index = np.repeat(np.arange(len(sums)), [len(s) for s in sums])
    hulls = shapely.convex_hull(shapely.linestrings(np.concatenate(sums), indices=index))
    hulls = hulls[shapely.get_type_id(hulls) == shapely.GeometryType.POLYGON]
    points, owner = shapely.get_coordinates(shapely.orient_polygons(hulls), return_index=True)
    return Rings(points, owner)


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
    keys_a, bottom, keys_b, top = _crossings(rings, cell, int(low[0]), width)
    order_a, order_b = np.argsort(keys_a, kind="stable"), np.argsort(keys_b, kind="stable")
    column = keys_a[order_a] % width if width else keys_a
    first = np.clip(np.floor((bottom[order_a] + TOUCH) / cell) + 1 - low[1], 0, height)
    last = np.clip(np.ceil((top[order_b] - TOUCH) / cell) - low[1], 0, height)
    keep = last > first
    base = column[keep] * (height + 1)
    size = width * (height + 1)
    change = np.bincount(base + first[keep].astype(np.int64), minlength=size)
    change -= np.bincount(base + last[keep].astype(np.int64), minlength=size)
    small = change.astype(np.int16).reshape(width, height + 1)
    inside = np.cumsum(small, axis=1, dtype=np.int16)[:, :height] > 0
    return np.ascontiguousarray(inside)


def _crossings(
    rings: Rings, cell: float, low: int, width: int
) -> tuple[Ints, Floats, Ints, Floats]:
    """Where grid columns strictly inside a ring meet its lower and its upper edges.

    Every such column meets one edge below and one above, since edges count from their
    left end up to, not with, their right end.  A key is ring * width + column.
    """
    same = np.flatnonzero(rings.owner[1:] == rings.owner[:-1])
    a, b, owner = rings.points[same], rings.points[same + 1], rings.owner[same]
    upright = a[:, 0] == b[:, 0]
    a, b, owner = a[~upright], b[~upright], owner[~upright]
    below = a[:, 0] < b[:, 0]  # counter-clockwise: to the right along the bottom
    left = np.where(below[:, None], a, b)
    right = np.where(below[:, None], b, a)
    count = int(rings.owner[-1]) + 1 if len(rings.owner) else 0
    start, end = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(start, owner, left[:, 0])
    np.maximum.at(end, owner, right[:, 0])
    floor = np.floor((start + TOUCH) / cell).astype(np.int64) + 1
    ceil = np.ceil((end - TOUCH) / cell).astype(np.int64)
    first = np.maximum(np.ceil(left[:, 0] / cell).astype(np.int64), floor[owner])
    last = np.minimum(np.ceil(right[:, 0] / cell).astype(np.int64), ceil[owner])
    first, last = np.clip(first, low, low + width), np.clip(last, low, low + width)
    many = np.maximum(last - first, 0)
    edge = np.repeat(np.arange(len(many)), many)
    column = np.arange(len(edge)) - np.repeat(np.cumsum(many) - many, many) + first[edge]
    slope = (right[:, 1] - left[:, 1]) / (right[:, 0] - left[:, 0])
    y = left[edge, 1] + slope[edge] * (column * cell - left[edge, 0])
    key = owner[edge] * width + column - low
    under = below[edge]
    return key[under], y[under], key[~under], y[~under]
