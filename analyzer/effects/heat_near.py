"""Which pieces of cut lie near which points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.effects.heat_sources import Sources
from analyzer.geometry.contours import Bools, Floats, Ints


@dataclass(frozen=True, eq=False)
class Near:
    """Pairs of a target and a piece near it, sorted by target, then by time.

    Attributes
    ----------
    count : int
        Targets.
    target, piece : ndarray of int, shape (p,)
        The pairs.
    far : ndarray, shape (p,)
        Distance between both. [mm]
    when : ndarray, shape (p,)
        When the piece was cut. [s]
    """

    count: int
    target: Ints
    piece: Ints
    far: Floats
    when: Floats

    def take(self, some: Bools) -> Near:
        """Return the chosen pairs."""
        return Near(
            self.count, self.target[some], self.piece[some], self.far[some], self.when[some]
        )

    def of(self, targets: Ints, count: int) -> Near:
        """Return the pairs with target k called targets[k] of `count`."""
        return Near(count, targets[self.target], self.piece, self.far, self.when)

    @staticmethod
    def join(several: Sequence[Near], count: int) -> Near:
        """Return the pairs of all."""
        target, piece, far, when = (
            np.concatenate([getattr(near, name) for near in several])
            for name in ("target", "piece", "far", "when")
        )
        order = np.lexsort((when, target))
        return Near(count, target[order], piece[order], far[order], when[order])

    def times(self) -> tuple[Floats, Floats]:
        """Return the first and the last time a piece near each target is cut; infinite if none."""
        first, last = np.full(self.count, np.inf), np.full(self.count, -np.inf)
        np.minimum.at(first, self.target, self.when)
        np.maximum.at(last, self.target, self.when)
        return first, last

    def nearest(self, sources: Sources, xy: Floats) -> Floats:
        """Return the nearest point of cut to every target, shape (count, 2). [mm]

        Each piece is taken as straight; `xy` are the targets, and the answer without a piece.
        """
        inward = sources.inward[self.piece]
        along = np.column_stack((inward[:, 1], -inward[:, 0]))
        way = xy[self.target] - sources.xy[self.piece]
        half = sources.lengths[self.piece] / 2.0
        foot = np.clip((way * along).sum(axis=1), -half, half)
        points = sources.xy[self.piece] + foot[:, None] * along
        far = np.hypot(*(points - xy[self.target]).T)
        found = xy.copy()
        order = np.lexsort((-far, self.target))  # the nearest is written last
        found[self.target[order]] = points[order]
        return found

    def leavings(self) -> tuple[Floats, Floats]:
        """Return two times for every target: before the longest pause near it, and the last."""
        _, last = self.times()
        pause = np.diff(self.when, append=-np.inf)[: len(self.when)]
        follows = np.diff(self.target, append=-1)[: len(self.when)] == 0
        pause = np.where(follows, pause, -np.inf)
        order = np.lexsort((pause, self.target))
        paused = np.where(np.isfinite(last), last, 0.0)
        fits = np.isfinite(pause[order])
        paused[self.target[order][fits]] = self.when[order][fits]
        return paused, np.where(np.isfinite(last), last, 0.0)


def near_pieces(sources: Sources, xy: Floats, reach: Floats, rows: Ints) -> Near:
    """Return the pieces of contour rows[k] whose middle lies within reach[k] of xy[k].

    Parameters
    ----------
    sources : Sources
        All pieces.
    xy : ndarray, shape (k, 2)
        Targets. [mm]
    reach : ndarray, shape (k,)
        How far. [mm]
    rows : ndarray of int, shape (k,)
        Contour each asks for.
    """
    if not len(xy) or not len(sources):
        none: Ints = np.zeros(0, np.int64)
        return Near(len(xy), none, none, np.zeros(0), np.zeros(0))
    low, high = xy - reach[:, None], xy + reach[:, None]
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    target, piece = sources.places.query(boxes)
    far = np.hypot(*(sources.xy[piece] - xy[target]).T)
    fits = (sources.rows[piece] == rows[target]) & (far <= reach[target] * (1.0 + 1e-9))
    target, piece, far = target[fits], piece[fits], far[fits]
    order = np.lexsort((piece, target))  # pieces lie in the order of time
    return Near(len(xy), target[order], piece[order], far[order], sources.times[piece[order]])
