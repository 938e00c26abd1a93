"""Shapes pushed apart on a strip that is a little too short, by guided local search.

All shapes lie on the strip and may lie on one another.  One that does is taken out and laid,
in every way it may lie, where it is least in the way: the depth it reaches into the others,
each pair with a weight.  Pairs that stay in each other's way grow heavier, so that the search
leaves the dead ends it gets into (guided local search: Voudouris and Tsang, European Journal
of Operational Research 113, 1999; for packing: Egeblad, Nielsen and Odgaard, same journal 183,
2007; both from memory).  Depths come from tables, one for each pair of shapes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analyzer.geometry.contours import Bools, Ints
from analyzer.packing.masks import Mask, Masks

if TYPE_CHECKING:
    from collections.abc import Sequence

Singles = NDArray[np.float32]

HEAVIER = 1.0
"""By how much the weight of the deepest pair grows in a round. [-]"""

LIGHTER = 0.95
"""What is left of the weight of a pair that lies apart. [-]"""


def depth_of(meets: Bools) -> Singles:
    """Return how far to the nearest free step, nearly, shape of `meets`. [cells]

    Layers are peeled off by turns over four and over eight neighbours: an octagon.

    Examples
    --------
    >>> depth_of(np.ones((3, 3), bool)).tolist()
    [[1.0, 1.0, 1.0], [1.0, 2.0, 1.0], [1.0, 1.0, 1.0]]
    """
    left = np.pad(meets, 1)
    depth = np.zeros(left.shape, np.float32)
    step = 0
    while left.any():
        depth += left
        inner = left.copy()
        inner[1:] &= left[:-1]
        inner[:-1] &= left[1:]
        base = inner.copy() if step % 2 else left
        inner[:, 1:] &= base[:, :-1]
        inner[:, :-1] &= base[:, 1:]
        left = inner
        step += 1
    return depth[1:-1, 1:-1]


@dataclass(frozen=True, eq=False)
class Depths:
    """A mask with depths instead of yes and no; `first` is the step of its first cell."""

    depth: Singles
    first: tuple[int, int]


class Tables:
    """Depth tables of all pairs of shapes, made when first asked for."""

    def __init__(self, masks: Masks) -> None:
        self.masks = masks
        self._made: dict[tuple[int, int], Depths] = {}

    def between(self, fixed: int, moving: int) -> Depths:
        """Return the table of `moving` against `fixed`."""
        table = self._made.get((fixed, moving))
        if table is None:
            mask: Mask = self.masks.between(fixed, moving)
            table = Depths(depth_of(mask.meets), mask.first)
            self._made[fixed, moving] = table
            if fixed != moving:
                m, n = mask.meets.shape
                back = (1 - m - mask.first[0], 1 - n - mask.first[1])
                flipped = np.ascontiguousarray(table.depth[::-1, ::-1])
                self._made[moving, fixed] = Depths(flipped, back)
        return table


class Separation:
    """Items on a strip, each with the shapes it may take.

    Attributes
    ----------
    shape, column, row : ndarray of int, shape (n,)
        How and where every item lies.
    cells, steps : int
        Cells of tables read, and in how many array steps: the measure of work.
    """

    def __init__(
        self,
        tables: Tables,
        options: Sequence[Sequence[int]],
        start: Sequence[tuple[int, int, int]],
        length: float,
        height: float,
        rng: np.random.Generator,
    ) -> None:
        self.tables, self.options, self.rng = tables, options, rng
        self.height, self.length = height, length
        at = np.array(start, np.int64).reshape(-1, 3)
        self.shape, self.column, self.row = (at[:, i].copy() for i in range(3))
        self.weight = np.ones((len(start), len(start)), np.float32)
        self.deep = np.zeros((len(start), len(start)), np.float32)
        self.cells = self.steps = 0
        self.size = np.array([s.size for s in tables.masks.shapes])
        for item in range(len(self.shape)):
            self._measure(item)

    def room(self, index: int) -> tuple[int, int]:
        """Return how many places a shape has along x and y."""
        cell = self.tables.masks.cell
        extent = (np.array([self.length, self.height]) - self.size[index] + 1e-7) / cell
        return int(np.floor(extent[0])) + 1, int(np.floor(extent[1])) + 1

    def set_length(self, length: float) -> None:
        """Shorten or lengthen the strip; items that stick out are laid anew at random."""
        self.length = length
        for item in range(len(self.shape)):
            columns, _ = self.room(int(self.shape[item]))
            if self.column[item] >= columns:
                self.column[item] = int(self.rng.integers(max(columns, 1)))
        self.weight[:] = 1.0
        for item in range(len(self.shape)):
            self._measure(item)

    def _measure(self, item: int) -> None:
        """Depths of one item against all others where they lie now."""
        mine, x, y = int(self.shape[item]), int(self.column[item]), int(self.row[item])
        row = self.deep[item]
        row[:] = 0.0
        for other, (shape, u, v) in enumerate(
            zip(self.shape.tolist(), self.column.tolist(), self.row.tolist(), strict=True)
        ):
            if other == item:
                continue
            table = self.tables.between(shape, mine)
            i, j = x - u - table.first[0], y - v - table.first[1]
            m, n = table.depth.shape
            if 0 <= i < m and 0 <= j < n:
                row[other] = table.depth[i, j]
        self.deep[:, item] = row

    def cost(self, item: int, index: int) -> Singles:
        """Return the weighted depth of an item at every place, taking shape `index`."""
        columns, rows = self.room(index)
        if columns <= 0 or rows <= 0:
            return np.full((1, 1), np.inf, np.float32)
        total = np.zeros((columns, rows), np.float32)
        weights = self.weight[item].tolist()
        for other, (shape, u, v) in enumerate(
            zip(self.shape.tolist(), self.column.tolist(), self.row.tolist(), strict=True)
        ):
            if other == item:
                continue
            table = self.tables.between(shape, index)
            depth = table.depth
            x, y = u + table.first[0], v + table.first[1]
            m, n = depth.shape
            left, low = max(x, 0), max(y, 0)
            right, high = min(x + m, columns), min(y + n, rows)
            if left < right and low < high:
                part = depth[left - x : right - x, low - y : high - y]
                weight = weights[other]
                total[left:right, low:high] += part if weight == 1.0 else part * weight
                self.cells += part.size
        self.steps += len(self.shape)
        self.cells += total.size
        return total

    def move(self, item: int) -> None:
        """Lay an item where it is least in the way."""
        best, found = np.inf, None
        for index in self.options[item]:
            total = self.cost(item, index)
            at = int(total.argmin())
            value = float(total.reshape(-1)[at])
            if value < best or (value == best and self.rng.random() < 0.5):
                if value == 0.0:
                    free = np.flatnonzero(total.reshape(-1) == 0.0)
                    at = int(free[self.rng.integers(len(free))])
                best, found = value, (index, *divmod(at, total.shape[1]))
        if found is not None:
            self.shape[item], self.column[item], self.row[item] = found
            self._measure(item)

    @property
    def overlap(self) -> float:
        """Sum of all depths; 0 where all lie apart. [cells]"""
        return float(self.deep.sum()) / 2.0

    def run(self, budget: int, per_cell: int, per_step: int, patience: int) -> bool:
        """Push apart until nothing meets, work is used up or nothing gets better.

        Parameters
        ----------
        budget : int
            Work to do at most.
        per_cell, per_step : int
            Work a cell and an array step count for.
        patience : int
            Rounds without a smaller overlap after which to give up.
        """
        end = self._spent(per_cell, per_step) + budget
        least, waited = np.inf, 0
        while True:
            bad = np.flatnonzero(self.deep.any(axis=1))
            if not len(bad):
                return True
            if self._spent(per_cell, per_step) >= end or waited > patience:
                return False
            for item in self.rng.permutation(bad).tolist():
                if self.deep[item].any():
                    self.move(item)
            overlap = self.overlap
            waited = 0 if overlap < 0.98 * least else waited + 1
            least = min(least, overlap)
            deepest = float(self.deep.max())
            if deepest > 0.0:
                grow = 1.0 + HEAVIER * self.deep / deepest
                self.weight *= np.where(self.deep > 0.0, grow, LIGHTER)
                np.maximum(self.weight, 1.0, out=self.weight)

    def _spent(self, per_cell: int, per_step: int) -> int:
        return per_cell * self.cells + per_step * self.steps

    def swap(self, one: int, other: int) -> None:
        """Let two items change places, as far as the strip has room."""
        for values in (self.column, self.row):
            values[one], values[other] = values[other], values[one]
        for item in (one, other):
            columns, rows = self.room(int(self.shape[item]))
            self.column[item] = max(min(int(self.column[item]), columns - 1), 0)
            self.row[item] = max(min(int(self.row[item]), rows - 1), 0)
        for item in (one, other):
            self._measure(item)

    def state(self) -> tuple[Ints, Ints, Ints]:
        """Return how and where all items lie."""
        return self.shape.copy(), self.column.copy(), self.row.copy()

    def restore(self, state: tuple[Ints, Ints, Ints]) -> None:
        """Lay all items as they lay."""
        self.shape, self.column, self.row = (v.copy() for v in state)
