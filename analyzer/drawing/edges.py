"""Lines and arcs on their way to contours: one row per edge, with the entity it came from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, arc_lengths
from analyzer.geometry.near import welded

_FIELDS = ("starts", "ends", "bulges", "lengths", "headings", "curved", "source")


@dataclass(frozen=True, eq=False)
class Edges:
    """Lines and arcs that are not chained yet.

    Attributes
    ----------
    starts, ends : ndarray, shape (n, 2)
        [mm]
    bulges : ndarray, shape (n,)
        tan(sweep / 4). [-]
    lengths : ndarray, shape (n,)
        As drawn: of the source curve where one was flattened. [mm]
    headings : ndarray, shape (n, 2)
        Direction at both ends; of the source curve where one was flattened. [rad]
    curved : ndarray of bool, shape (n,)
        Came from a flattened spline or ellipse.
    source : ndarray of int, shape (n,)
        Row of the table of entities; -1 for a gap we closed.
    """

    starts: Floats
    ends: Floats
    bulges: Floats
    lengths: Floats
    headings: Floats
    curved: Bools
    source: Ints

    def __len__(self) -> int:
        return len(self.bulges)

    @staticmethod
    def of(starts: Floats, ends: Floats, bulges: Floats, source: Ints) -> Edges:
        """Return lines and arcs with their own lengths and headings."""
        starts, ends = starts.reshape(-1, 2), ends.reshape(-1, 2)
        return Edges(
            starts, ends, bulges, arc_lengths(np.hypot(*(ends - starts).T), bulges),
            headings_of(starts, ends, bulges), np.zeros(len(bulges), dtype=bool), source,
        )  # fmt: skip

    @staticmethod
    def join(several: Sequence[Edges]) -> Edges:
        """Return all edges of `several`, in order."""
        if not several:
            pairs, none = np.zeros((0, 2)), np.zeros(0)
            return Edges(pairs, pairs, none, none, pairs, none > 0, none.astype(np.int64))
        return Edges(*(np.concatenate([getattr(e, name) for e in several]) for name in _FIELDS))

    def take(self, rows: ArrayLike) -> Edges:
        """Return the edges at `rows` (integers or a mask)."""
        index = np.asarray(rows)
        if index.dtype == bool and index.all():
            return self
        return Edges(*(getattr(self, name)[index] for name in _FIELDS))

    @cached_property
    def as_contours(self) -> Contours:
        """Every edge as an open contour of its own, for its boxes and points along it."""
        count = len(self)
        return Contours(
            self.starts, self.ends, self.bulges, self.lengths, np.zeros(count, dtype=bool),
            np.arange(count + 1), np.zeros(count, dtype=bool),
        )  # fmt: skip

    def nodes(self, weld: float) -> tuple[Ints, Floats]:
        """Return the node of every start, then of every end, and the place of every node.

        As in `near.welded`; the same question is asked by one step after the other.
        """
        if weld not in self._welded:
            self._welded[weld] = welded(np.vstack((self.starts, self.ends)), weld)
        return self._welded[weld]

    @cached_property
    def _welded(self) -> dict[float, tuple[Ints, Floats]]:
        return {}

    def points_at(self, rows: Ints, fractions: Floats) -> Floats:
        """Return the point at a fraction of the length of `rows`, shape (k, 2). [mm]"""
        point = self.as_contours.points_at(rows, fractions)
        point = np.where((fractions <= 0.0)[:, None], self.starts[rows], point)
        exact: Floats = np.where((fractions >= 1.0)[:, None], self.ends[rows], point)
        return exact

    def pieces(self, rows: Ints, low: Floats, high: Floats) -> Edges:
        """Return the stretch of every edge of `rows` between two fractions of its length."""
        starts, ends = self.points_at(rows, low), self.points_at(rows, high)
        bulges = np.tan(np.arctan(self.bulges[rows]) * (high - low))
        cut = headings_of(starts, ends, bulges)
        whole = np.column_stack((low <= 0.0, high >= 1.0))
        return Edges(
            starts, ends, bulges, self.lengths[rows] * (high - low),
            np.where(whole, self.headings[rows], cut), self.curved[rows], self.source[rows],
        )  # fmt: skip

    def moved_ends(self, starts: Floats, ends: Floats) -> Edges:
        """Return the edges with other end points; what is no flattened curve is measured anew."""
        lengths = arc_lengths(np.hypot(*(ends - starts).T), self.bulges)
        keep = self.curved
        return Edges(
            starts, ends, self.bulges, np.where(keep, self.lengths, lengths),
            np.where(keep[:, None], self.headings, headings_of(starts, ends, self.bulges)),
            self.curved, self.source,
        )  # fmt: skip


def headings_of(starts: Floats, ends: Floats, bulges: Floats) -> Floats:
    """Return the direction at both ends of lines and arcs, shape (n, 2). [rad]"""
    step = ends - starts
    along = np.arctan2(step[:, 1], step[:, 0])
    half = 2.0 * np.arctan(bulges)
    return np.column_stack((along - half, along + half))
