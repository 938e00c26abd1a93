"""Where and when temperatures are asked for, and which of them go through the tree together."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from analyzer.effects.heat_sources import PlateHeat
from analyzer.geometry.contours import Floats, Ints

TOGETHER_S = 4.0
"""Targets of one contour within this time, and within the way heat goes in it, go together. [s]"""


@dataclass(frozen=True, eq=False)
class Targets:
    """Places and times at which a rise is asked for, k of them.

    Attributes
    ----------
    xy : ndarray, shape (k, 2)
        Where. [mm]
    times : ndarray, shape (k,)
        When. [s]
    least_age : ndarray, shape (k,)
        Younger pieces do not count. [s]
    since : ndarray, shape (k,)
        Since when the contour is being cut that is open at that time; infinite for none. [s]
    rows : ndarray of int, shape (k,)
        Contour each belongs to; of one contour `since` is the same.
    """

    xy: Floats
    times: Floats
    least_age: Floats
    since: Floats
    rows: Ints

    @cached_property
    def until(self) -> Floats:
        """Pieces cut later do not count, shape (k,). [s]"""
        return self.times - self.least_age

    def take(self, some: Ints) -> Targets:
        """Return the chosen ones."""
        return Targets(*(getattr(self, f.name)[some] for f in fields(self)))

    def grouped(self, plate: PlateHeat) -> tuple[Ints, Ints]:
        """Return an order in which groups lie together, shape (k,), and where each begins in it.

        All targets of a small contour are one group; those of a longer one are cut into short
        stretches in the order of time.  So nothing depends on the axes of the drawing.
        """
        reach = np.sqrt(4.0 * plate.diffusivity * TOGETHER_S)
        order = np.lexsort((self.times, self.rows))
        rows, xy = self.rows[order], self.xy[order]
        first = np.flatnonzero(np.diff(rows, prepend=-1))
        row = np.cumsum(np.diff(rows, prepend=-1) != 0) - 1
        sizes = np.diff(np.append(first, len(order)))
        middle = np.add.reduceat(xy, first) / sizes[:, None]
        far = np.hypot(*(xy - middle[row]).T)  # no box of the axes: drawings are turned
        times = self.times[order]
        span = np.maximum.reduceat(times, first) - np.minimum.reduceat(times, first)
        small = (np.maximum.reduceat(far, first) <= reach) & (span <= TOGETHER_S)
        along = np.diff(row, prepend=-1) == 0
        step = np.zeros(len(order))
        step[1:] = np.hypot(*np.diff(xy, axis=0).T)
        gone = np.cumsum(np.where(along, step, 0.0))
        fresh = np.flatnonzero(~along)
        gone -= gone[fresh][np.cumsum(~along) - 1]
        stretch = np.floor(gone / reach)
        cut = ~along | (np.diff(stretch, prepend=-1.0) != 0.0)
        cut = np.where(small[row], np.diff(row, prepend=-1) != 0, cut)
        return order, np.flatnonzero(cut)


def asked_at(xy: Floats, times: Floats) -> Targets:
    """Return what is asked where nothing is open and nothing is too young to count."""
    count = len(times)
    return Targets(xy, times, np.zeros(count), np.full(count, np.inf), np.arange(count))
