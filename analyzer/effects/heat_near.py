"""Contours cut up into short pieces, and which pieces lie near which points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from analyzer.geometry.contours import Bools, Contours, Floats, Ints

PIECE_PER_THICKNESS, LEAST_PIECE = 0.15, 1.0
"""Longest piece of a cut: this share of the thickness, at least that. [-], [mm]"""

PIECES_A_CONTOUR = 16
"""No contour is told by fewer pieces, or a small hole would be a point."""

FEW = 64
"""Contours of no more pieces are looked through; longer ones by an index. [-]"""


def cut_up(contours: Contours, thickness: float) -> tuple[Ints, Floats, Ints]:
    """Return segment and place on it (0 to 1) of every piece, and how many each segment has."""
    longest = max(PIECE_PER_THICKNESS * thickness, LEAST_PIECE)
    step = np.minimum(longest, contours.length / PIECES_A_CONTOUR)
    count = np.ceil(contours.lengths / np.maximum(step, 1e-9)[contours.owner] - 1e-9)
    count = np.clip(count, 1, None).astype(np.int64)
    segment = np.repeat(np.arange(len(count)), count)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
    return segment, (within + 0.5) / count[segment], count


def leftward(contours: Contours, segment: Ints, share: Floats) -> Floats:
    """Return unit vectors to the left of the way, where the metal of a part lies, shape (m, 2)."""
    heading = contours.start_directions[segment] + share * contours.sweeps[segment]
    return np.column_stack((-np.sin(heading), np.cos(heading)))


@dataclass(frozen=True, eq=False)
class Pieces:
    """Where pieces of contours lie.

    Attributes
    ----------
    xy : ndarray, shape (m, 2)
        Their middles. [mm]
    inward : ndarray, shape (m, 2)
        Unit vectors into the metal there. [-]
    rows : ndarray of int, shape (m,)
        Their contours.
    lengths : ndarray, shape (m,)
        [mm]
    """

    xy: Floats
    inward: Floats
    rows: Ints
    lengths: Floats

    @staticmethod
    def drawn(contours: Contours, thickness: float) -> Pieces:
        """Return the pieces of contours as drawn."""
        segment, share, count = cut_up(contours, thickness)
        return Pieces(
            contours.points_at(segment, share), leftward(contours, segment, share),
            contours.owner[segment], (contours.lengths / count)[segment],
        )  # fmt: skip

    @cached_property
    def by_row(self) -> Ints:
        """Pieces sorted by contour, in their order within each, shape (m,)."""
        return np.argsort(self.rows, kind="stable")

    @cached_property
    def counts(self) -> Ints:
        """Pieces of every contour."""
        return np.bincount(self.rows)

    @cached_property
    def long(self) -> tuple[Ints, shapely.STRtree]:
        """Pieces of contours of more than `FEW`, and an index of their middles."""
        index = np.flatnonzero(self.counts[self.rows] > FEW)
        return index, shapely.STRtree(shapely.points(self.xy[index]))


@dataclass(frozen=True, eq=False)
class Near:
    """Pairs of a target and a piece near it, sorted by target, then as asked.

    Attributes
    ----------
    count : int
        Targets.
    target, piece : ndarray of int, shape (p,)
        The pairs.
    far : ndarray, shape (p,)
        Distance between both. [mm]
    """

    count: int
    target: Ints
    piece: Ints
    far: Floats

    def take(self, some: Bools | Ints) -> Near:
        """Return the chosen pairs."""
        return Near(self.count, self.target[some], self.piece[some], self.far[some])

    def of(self, targets: Ints, count: int) -> Near:
        """Return the pairs with target k called targets[k] of `count`."""
        return Near(count, targets[self.target], self.piece, self.far)

    @staticmethod
    def join(several: Sequence[Near], count: int) -> Near:
        """Return the pairs of all."""
        target, piece, far = (
            np.concatenate([getattr(near, name) for near in several])
            for name in ("target", "piece", "far")
        )
        return Near(count, target, piece, far)

    def span(self, times: Floats) -> tuple[Floats, Floats]:
        """Return the first and the last time a piece near each target is cut; infinite if none."""
        first, last = np.full(self.count, np.inf), np.full(self.count, -np.inf)
        when = times[self.piece]
        np.minimum.at(first, self.target, when)
        np.maximum.at(last, self.target, when)
        return first, last

    def nearest(self, pieces: Pieces, xy: Floats) -> Floats:
        """Return the nearest point of cut to every target, shape (count, 2). [mm]

        Each piece is taken as straight; `xy` are the targets, and the answer without a piece.
        """
        inward = pieces.inward[self.piece]
        along = np.column_stack((inward[:, 1], -inward[:, 0]))
        way = xy[self.target] - pieces.xy[self.piece]
        half = pieces.lengths[self.piece] / 2.0
        foot = np.clip((way * along).sum(axis=1), -half, half)
        points = pieces.xy[self.piece] + foot[:, None] * along
        off = points - xy[self.target]
        far = (off * off).sum(axis=1)
        found = xy.copy()
        if len(far):
            begin = np.flatnonzero(np.diff(self.target, prepend=-1))
            least = np.repeat(np.minimum.reduceat(far, begin), np.diff(begin, append=len(far)))
            nearest = np.flatnonzero(far <= least)
            found[self.target[nearest]] = points[nearest]
        return found


def near_pieces(pieces: Pieces, xy: Floats, reach: Floats, rows: Ints) -> Near:
    """Return the pieces of contour rows[k] whose middle lies within reach[k] of xy[k].

    Parameters
    ----------
    pieces : Pieces
        All pieces.
    xy : ndarray, shape (k, 2)
        Targets. [mm]
    reach : ndarray, shape (k,)
        How far. [mm]
    rows : ndarray of int, shape (k,)
        Contour each asks for.
    """
    none: Ints = np.zeros(0, np.int64)
    if not len(xy) or not len(pieces.rows):
        return Near(len(xy), none, none, np.zeros(0))
    counts = pieces.counts
    known = np.where(rows < len(counts), rows, 0)
    size = np.where(rows < len(counts), counts[known], 0)
    few = np.flatnonzero((size <= FEW) & (size > 0))
    target = np.repeat(few, size[few])
    begin = np.cumsum(counts) - counts
    within = np.arange(len(target)) - np.repeat(np.cumsum(size[few]) - size[few], size[few])
    piece = pieces.by_row[begin[rows[target]] + within]
    many = np.flatnonzero(size > FEW)
    if len(many):
        index, places = pieces.long
        low, high = xy[many] - reach[many, None], xy[many] + reach[many, None]
        one, other = places.query(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
        fits = pieces.rows[index[other]] == rows[many[one]]
        target = np.concatenate((target, many[one[fits]]))
        piece = np.concatenate((piece, index[other[fits]]))
    far = np.hypot(*(pieces.xy[piece] - xy[target]).T)
    fits = far <= reach[target] * (1.0 + 1e-9)
    target, piece, far = target[fits], piece[fits], far[fits]
    if len(many):
        order = np.lexsort((piece, target))
        target, piece, far = target[order], piece[order], far[order]
    return Near(len(xy), target, piece, far)
