"""Parts pushed left and down by exact lengths until they touch, after the grid has placed them.

Along a straight way a shape is stopped where the step to another enters one of the convex
pieces of their Minkowski sum; so every push ends exactly at the gap.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.packing.masks import TOUCH, Rings, minkowski
from analyzer.packing.shapes import Shape

PASSES = 12
"""Rounds of pushes on a strip at most; a round that moves nothing ends it."""

FEW = 2
"""Rounds on a sheet: more gain a millimetre."""

LEAST_GAIN = 1e-3
"""Shorter pushes are not worth another round. [mm]"""


class Slider:
    """Shapes lying on one board, pushed by exact lengths.

    Parameters
    ----------
    shapes : sequence of Shape
        All shapes.
    """

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.shapes = shapes
        self.steps = 0
        self._rings: dict[tuple[int, int], Rings] = {}

    def rings(self, fixed: int, moving: int) -> Rings:
        """Return where `moving` would meet `fixed`. [mm]"""
        rings = self._rings.get((fixed, moving))
        if rings is None:
            one, other = self.shapes[fixed], self.shapes[moving]
            within = other.pieces if other.holds(one) else other.solid
            rings = minkowski(
                one.pieces if one.holds(other) else one.solid, [-piece for piece in within]
            )
            self._rings[fixed, moving] = rings
        return rings

    def push(
        self,
        index: Sequence[int],
        corners: Floats,
        obstacles: Sequence[Floats] = (),
        passes: int = PASSES,
    ) -> Floats:
        """Return corners after pushing every shape left and down, by turns, until all rest.

        Parameters
        ----------
        index : sequence of int
            Shape of every item.
        corners : ndarray, shape (n, 2)
            Where they lie, none on another. [mm]
        obstacles : sequence of ndarray
            Convex pieces that do not move. [mm]
        passes : int
            Rounds at most.
        """
        blocks = (
            {
                i: minkowski(obstacles, [-piece for piece in self.shapes[i].pieces])
                for i in sorted(set(index))
            }
            if obstacles
            else {}
        )
        at = corners.copy()
        size = np.array([self.shapes[i].size for i in index]).reshape(-1, 2)
        for _ in range(passes):
            before = at.copy()
            for axis in (0, 1):
                for item in np.argsort(at[:, axis], kind="stable").tolist():
                    stop = self._stop(index, at, size, item, axis)
                    if blocks:
                        stop = max(stop, self._meets(blocks[index[item]], at[item], axis))
                    at[item, axis] = min(stop, float(at[item, axis]))
            if float(np.abs(at - before).max(initial=0.0)) < LEAST_GAIN:
                break
        return at

    def _stop(self, index: Sequence[int], at: Floats, size: Floats, item: int, axis: int) -> float:
        """How far along -axis an item can go: its new coordinate. [mm]"""
        across, own = 1 - axis, float(at[item, axis])
        stop = 0.0
        low, high = at[item, across], at[item, across] + size[item, across]
        beside = (at[:, across] < high - TOUCH) & (at[:, across] + size[:, across] > low + TOUCH)
        beside &= (at[:, axis] < own + size[item, axis]) & (at[:, axis] + size[:, axis] > stop)
        beside[item] = False
        order = np.flatnonzero(beside)
        order = order[np.argsort(-(at[order, axis] + size[order, axis]), kind="stable")]
        for other in order.tolist():
            if at[other, axis] + size[other, axis] <= stop:
                break  # all others end before
            rings = self.rings(index[other], index[item])
            stop = max(stop, self._meets(rings, at[item] - at[other], axis) + at[other, axis])
        return stop

    def _meets(self, rings: Rings, step: Floats, axis: int) -> float:
        """The last end of a ring before `step` on the way along -axis; -inf where none is."""
        self.steps += 1
        if not len(rings.owner):
            return -np.inf
        across = 1 - axis
        level = step[across]
        same = rings.owner[1:] == rings.owner[:-1]
        a, b = rings.points[:-1], rings.points[1:]
        rise = b[:, across] - a[:, across]
        meets = same & (
            (np.minimum(a[:, across], b[:, across]) <= level)
            & (np.maximum(a[:, across], b[:, across]) >= level)
            & (rise != 0.0)
        )
        rows = np.flatnonzero(meets)
        if not len(rows):
            return -np.inf
        share = (level - a[rows, across]) / rise[rows]
        ends = a[rows, axis] + share * (b[rows, axis] - a[rows, axis])
        owner = rings.owner[rows]
        fresh = np.concatenate(([True], owner[1:] != owner[:-1]))
        starts = np.flatnonzero(fresh)
        far, near = np.maximum.reduceat(ends, starts), np.minimum.reduceat(ends, starts)
        ring = owner[starts]
        low, top = (v[ring] for v in (rings.rise if across else rings.extent))
        crossed = (level > low + TOUCH) & (level < top - TOUCH) & (far - near > TOUCH)
        before = crossed & (far <= step[axis] + 2.0 * TOUCH)
        return float(far[before].max(initial=-np.inf))
