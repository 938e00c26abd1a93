"""Places of a tour, what going between them costs, and which lie near which."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints

NEIGHBOURS = 8
"""Nearest places a move may join one with."""

FAR_NEIGHBOURS = 60
"""Places looked at for those far enough, where places must keep apart."""

MOST_IN_CELL = 24
"""Places of one grid cell that are looked at; more lie on top of one another."""

_AT_ONCE = 20_000  # places asked for their nearest together, so that memory stays bounded


@dataclass(frozen=True, eq=False)
class Extents:
    """How far places reach, for keeping them apart.

    Attributes
    ----------
    box : ndarray, shape (n, 4)
        Least x, least y, greatest x, greatest y, in the unit of the places.
    radius : ndarray, shape (n,)
        Of round places, 0 of others.
    distance : float
        Least gap of two places in a row, in the same unit.
    """

    box: Floats
    radius: Floats
    distance: float


class Ways:
    """Cost of going from place to place; rows n and n + 1 are start and goal."""

    def __init__(
        self, places: Ints, start: Ints | None, goal: Ints | None, extents: Extents | None
    ) -> None:
        count = len(places)
        self.count = count
        ends = np.zeros((2, 2))
        if start is not None:
            ends[0] = start
        if goal is not None:
            ends[1] = goal
        self.at: Floats = np.vstack((places.astype(float), ends))
        self.free: Bools = np.zeros(count + 2, dtype=bool)
        self.free[count:] = start is None, goal is None
        low, high = self.at[~self.free].min(axis=0), self.at[~self.free].max(axis=0)
        self.size = max(float(np.hypot(*(high - low))), 1.0)
        self.box: Floats | None = None
        if extents is not None:
            self.box = np.vstack((extents.box, np.hstack((ends, ends))))
            self.radius = np.concatenate((extents.radius, np.zeros(2)))
            self.apart, self.dear = extents.distance, 4.0 * self.size

    def between(self, a: Ints, b: Ints) -> Floats:
        """Return the cost from rows `a` to rows `b`, any shape; nothing to or from a free end."""
        step = self.at[a] - self.at[b]
        cost = np.hypot(step[..., 0], step[..., 1])
        if self.box is not None:
            cost = cost + self.dear * self.near(a, b)
        return np.where(self.free[a] | self.free[b], 0.0, cost)

    def near(self, a: Ints, b: Ints) -> Bools:
        """Return whether the extents of rows `a` and `b` come nearer than they may."""
        assert self.box is not None
        one, other = self.box[a], self.box[b]
        gap = np.maximum(one[..., :2] - other[..., 2:], other[..., :2] - one[..., 2:]).clip(0.0)
        away = np.hypot(gap[..., 0], gap[..., 1])
        step = self.at[a] - self.at[b]
        both = (self.radius[a] > 0.0) & (self.radius[b] > 0.0)
        round_ones = np.hypot(step[..., 0], step[..., 1]) - self.radius[a] - self.radius[b]
        return np.asarray(np.where(both, round_ones, away) < self.apart * (1.0 - 1e-9))

    def total(self, order: Ints) -> float:
        """Return the cost of the whole way."""
        way = np.concatenate(([self.count], order, [self.count + 1]))
        return float(self.between(way[:-1], way[1:]).sum())


def neighbours(places: Ints, ways: Ways) -> Ints:
    """Return the rows each place may be joined with, nearest first, shape (n, k)."""
    count = len(places)
    if ways.box is None:
        return nearest(places, min(NEIGHBOURS, count - 1))
    near = nearest(places, min(FAR_NEIGHBOURS, count - 1))
    bad = ways.near(np.arange(count)[:, None], near)
    last = np.argsort(bad, axis=1, kind="stable")  # the far enough first, else as they come
    found: Ints = np.take_along_axis(near, last, axis=1)[:, : min(2 * NEIGHBOURS, count - 1)]
    return found


def nearest(places: Ints, wanted: int) -> Ints:
    """Return the rows of the `wanted` nearest places of every place, shape (n, wanted).

    Cells of a grid: of nine cells around a place those no farther than a cell are surely the
    nearest; places that want more look again in cells twice as large.
    """
    count = len(places)
    found = np.zeros((count, wanted), dtype=np.int64)
    if count <= 300:
        step = places[:, None, :] - places[None, :, :]
        far = step[..., 0] ** 2 + step[..., 1] ** 2
        np.fill_diagonal(far, np.iinfo(np.int64).max)
        return np.argsort(far, axis=1, kind="stable")[:, :wanted]
    low = places.min(axis=0)
    wide, high = (int(v) + 1 for v in np.ptp(places, axis=0))
    cell = max(int((float(wide) * high * wanted / count) ** 0.5 / 4.0), max(wide, high) // count, 1)
    while cell > 1 and _crowded((places - low) // cell) > 0.02 * count:
        cell = max(cell // 2, 1)
    left = np.arange(count)
    while len(left):
        last = cell > 2 * max(wide, high)
        cells = _Cells((places - low) // cell)
        more = []
        for begin in range(0, len(left), _AT_ONCE):
            some = left[begin : begin + _AT_ONCE]
            got, done = _in_cells(places, some, cells, cell, wanted, last)
            found[some[done]] = got[done]
            more.append(some[~done])
        left = np.concatenate(more)
        cell *= 2
    return found


class _Cells:
    """Places by the cell of a grid they lie in, keys of neighbours in a row and column apart."""

    def __init__(self, cells: Ints) -> None:
        self.width = int(cells[:, 1].max()) + 3
        self.key = (cells[:, 0] + 1) * self.width + cells[:, 1] + 1
        self.order = np.argsort(self.key, kind="stable")
        self.sorted_key = self.key[self.order]


def _crowded(cells: Ints) -> int:
    """Places in cells that hold more than are looked at."""
    width = int(cells[:, 1].max()) + 1
    many = np.unique(cells[:, 0] * width + cells[:, 1], return_counts=True)[1]
    return int(many[many > MOST_IN_CELL].sum())


def _in_cells(
    places: Ints, rows: Ints, cells: _Cells, size: int, wanted: int, last: bool
) -> tuple[Ints, Bools]:
    """Nearest places in the nine cells around `rows`, and for which that is sure."""
    width, key, order, sorted_key = cells.width, cells.key, cells.order, cells.sorted_key
    owners, others = [], []
    around = np.add.outer(np.array([-width, 0, width]), np.array([-1, 0, 1])).ravel()
    most = max(MOST_IN_CELL, wanted + 1)
    for step in around:
        begin = np.searchsorted(sorted_key, key[rows] + step, "left")
        size_here = np.searchsorted(sorted_key, key[rows] + step, "right") - begin
        size_here = np.minimum(size_here, most)
        total = int(size_here.sum())
        at = np.arange(total) - np.repeat(np.cumsum(size_here) - size_here, size_here)
        owners.append(np.repeat(np.arange(len(rows)), size_here))
        others.append(order[np.repeat(begin, size_here) + at])
    owner, other = np.concatenate(owners), np.concatenate(others)
    keep = rows[owner] != other
    owner, other = owner[keep], other[keep]
    step_xy = places[rows[owner]] - places[other]
    far = step_xy[:, 0] ** 2 + step_xy[:, 1] ** 2
    sort = np.lexsort((other, far, owner))
    owner, other, far = owner[sort], other[sort], far[sort]
    counts = np.bincount(owner, minlength=len(rows))
    enough = counts >= wanted
    first = np.cumsum(counts) - counts
    pick = first[:, None] + np.minimum(np.arange(wanted), np.maximum(counts - 1, 0)[:, None])
    if not len(other):
        return np.zeros((len(rows), wanted), np.int64), np.zeros(len(rows), bool)
    pick = np.minimum(pick, len(other) - 1)
    sure = enough & (last | (far[pick[:, -1]] <= size**2))
    return other[pick], sure
