"""Chances that a free piece lies still, tips or falls between slats, over all offsets.

The slats lie along y, `pitch` apart and `thickness` wide; every offset of their pattern
against the piece is equally likely.  A piece lies still when its centroid is in the convex
hull of what it has on the slats.  The corners of that hull are always on the outline, so
cut-outs move the centroid and nothing else.  Formulas: docs/drop.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.effects.drop_offsets import still_by_offsets
from analyzer.geometry.circles import true_circles
from analyzer.geometry.contours import Bools, Contours, Floats, Ints

FLATTEN = 0.002
"""Arcs are looked at as chords this near. [mm]"""

ALIKE = 1e-6
"""Pieces drawn alike within this are looked at once. [mm]"""

TOUCH = 1e-7
"""Rounding allowed where stretches meet. [mm]"""


@dataclass(frozen=True)
class Slats:
    """Slats of the bed: distance from slat to slat and thickness, 0 <= thickness < pitch. [mm]"""

    pitch: float
    thickness: float

    @property
    def gap(self) -> float:
        """Clear width between two slats. [mm]"""
        return self.pitch - self.thickness


@dataclass(frozen=True, eq=False)
class Chances:
    """How pieces lie, one row each.

    Attributes
    ----------
    falls, tips, still : ndarray, shape (n,)
        Chance that no slat is touched; that one is, but the centroid lies outside the hull
        of contact; that it lies still.  They add up to 1. [-]
    width : ndarray, shape (n,)
        Extent across the slats. [mm]
    lever : ndarray, shape (n,)
        Longest side that can come up when the piece tips, 0 where it cannot. [mm]
    """

    falls: Floats
    tips: Floats
    still: Floats
    width: Floats
    lever: Floats


@dataclass(frozen=True, eq=False)
class Bent:
    """Pieces that are no discs about their centroid: their rows, and their chords."""

    rows: Ints
    chords: Contours

    def moved(self, matrix: Floats) -> Bent:
        """Return them turned."""
        return Bent(self.rows, self.chords.moved(matrix))


def bent_ones(outlines: Contours, centroids: Floats) -> Bent:
    """Return the pieces that are no discs about their centroid."""
    circles = true_circles(outlines)
    disc = circles.round & (np.hypot(*(circles.centre - centroids).T) <= ALIKE)
    rows = np.flatnonzero(~disc)
    return Bent(rows, outlines.take(rows).flattened(FLATTEN))


def lie_chances(
    outlines: Contours, centroids: Floats, slats: Slats, bent: Bent | None = None
) -> Chances:
    """Return the chances of pieces on slats along y.

    Parameters
    ----------
    outlines : Contours
        Outline of every piece, closed, either way round.
    centroids : ndarray, shape (n, 2)
        Centroid of the metal of each. [mm]
    slats : Slats
        The bed.
    bent : Bent, optional
        What `bent_ones` gives, where it is at hand.

    Notes
    -----
    Three cases.  Where every line across the slats through the piece meets the level of
    its centroid, a slat on both sides of the centroid is enough; where the piece is no
    wider than the gap and its centroid lies between its edges, only a slat under the
    centroid is.  Both are in closed form.  The rest is found offset by offset
    (`analyzer.effects.drop_offsets`).
    """
    box, g, p = outlines.box, slats.gap, slats.pitch
    left = centroids[:, 0] - box[:, 0]
    right = box[:, 2] - centroids[:, 0]
    width = left + right
    falls = np.clip(g - width, 0.0, None) / p
    both = np.clip(np.minimum(right, g) - np.clip(g - left, 0.0, None), 0.0, None)
    still = (slats.thickness + both) / p
    bent = bent_ones(outlines, centroids) if bent is None else bent
    unlevel = _unlevel(bent.chords, centroids[bent.rows], (width > g)[bent.rows])
    rest = bent.rows[unlevel]
    still[rest] = _by_offsets(bent.chords.take(unlevel), centroids[rest], slats)
    still = np.minimum(still, 1.0 - falls)
    low = centroids[:, 1] - box[:, 1]
    high = box[:, 3] - centroids[:, 1]
    lever = np.maximum(np.where(right < g, left, 0.0), np.where(left < g, right, 0.0))
    tips = np.clip(1.0 - falls - still, 0.0, None)
    sideways = (lever == 0.0) & (tips > 1e-9)
    lever = np.where(sideways, np.maximum(low, high), np.where(tips > 1e-9, lever, 0.0))
    return Chances(falls, tips, still, width, lever)


def _unlevel(chords: Contours, centroids: Floats, wide: Bools) -> Ints:
    """Return the rows that no closed form holds for."""
    unlevel = np.zeros(len(chords), dtype=bool)
    for rows, holds in ((np.flatnonzero(~wide), _holds_centroid), (np.flatnonzero(wide), _level)):
        some = chords.take(rows)
        middle = centroids[rows][some.owner]
        unlevel[rows] = ~holds(some.starts - middle, some.ends - middle, some.owner, len(some))
    return np.flatnonzero(unlevel)


def _level(first: Floats, last: Floats, owner: Ints, count: int) -> Bools:
    """Whether every line x = constant through a piece meets y = 0 inside its hull."""
    above = _covers(first, last, owner, count, 1.0)
    return np.logical_and(above, _covers(first, last, owner, count, -1.0))


def _holds_centroid(first: Floats, last: Floats, owner: Ints, count: int) -> Bools:
    """Whether the centroid (0, 0) lies between the lowest and the highest edge at x = 0."""
    over = np.flatnonzero((first[:, 0] <= 0.0) != (last[:, 0] <= 0.0))
    a, b = first[over], last[over]
    y = a[:, 1] - a[:, 0] * (b[:, 1] - a[:, 1]) / (b[:, 0] - a[:, 0])
    high, low = np.full(count, -np.inf), np.full(count, np.inf)
    np.maximum.at(high, owner[over], y)
    np.minimum.at(low, owner[over], y)
    return np.logical_and(high >= -TOUCH, low <= TOUCH)


def _covers(first: Floats, last: Floats, owner: Ints, count: int, sign: float) -> Bools:
    """Whether the edges on one side of y = 0 leave no stretch of x free, shape (count,)."""
    v0, v1 = sign * first[:, 1] + TOUCH, sign * last[:, 1] + TOUCH
    with np.errstate(divide="ignore", invalid="ignore"):
        at = first[:, 0] + (last[:, 0] - first[:, 0]) * v0 / (v0 - v1)
    begin = np.where(v0 >= 0.0, first[:, 0], at)
    end = np.where(v1 >= 0.0, last[:, 0], at)
    keep = (v0 >= 0.0) | (v1 >= 0.0)
    least, most = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(least, owner, first[:, 0])
    np.maximum.at(most, owner, first[:, 0])
    rows = np.arange(count)
    low = np.concatenate((np.minimum(begin, end)[keep], least, most))
    high = np.concatenate((np.maximum(begin, end)[keep], least, most))
    whose = np.concatenate((owner[keep], rows, rows))
    apart = 2.0 * float((most - least).max(initial=1.0)) + 1.0
    low, high = low - least[whose] + whose * apart, high - least[whose] + whose * apart
    order = np.argsort(low, kind="stable")
    low, high, whose = low[order], high[order], whose[order]
    reached = np.maximum.accumulate(high)
    same = np.diff(whose) == 0
    free = same & (low[1:] > reached[:-1] + 10.0 * TOUCH)
    covered = np.ones(count, dtype=bool)
    covered[whose[1:][free]] = False
    return covered


def _by_offsets(chords: Contours, centroids: Floats, slats: Slats) -> Floats:
    """Chance to lie still of every piece, one by one, shape (n,)."""
    return np.array(
        [
            still_by_offsets(
                chords.starts[chords.segments_of(row)] - centroids[row],
                slats.pitch, slats.thickness,
            )
            for row in range(len(chords))
        ]
    )  # fmt: skip


def alike(contours: Contours) -> tuple[Ints, Ints]:
    """Return one of each sort of closed contour, alike but for its place, shape (m,), and
    the sort of every contour, shape (n,).

    Alike are contours of the same area, length, extents about the centroid and moments of
    their corners, within `ALIKE`, run the same way round.
    """
    count = len(contours)
    if not count:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    measure = _measures(contours)
    sum_up = measure @ np.sqrt(np.arange(2.0, 2.0 + measure.shape[1]))
    order = np.argsort(sum_up, kind="stable")
    fresh = np.diff(sum_up[order], prepend=-np.inf) > 10.0 * ALIKE
    first = order[np.flatnonzero(fresh)][np.cumsum(fresh) - 1]  # of the run, in sorted order
    same = np.abs(measure[order] - measure[first]).max(axis=1) <= 10.0 * ALIKE
    stands_for = np.empty(count, dtype=np.int64)
    stands_for[order] = np.where(same, first, order)
    chosen, sort = np.unique(stands_for, return_inverse=True)
    return chosen, sort.ravel()


def _measures(contours: Contours) -> Floats:
    """Measures of every contour that a move does not change, all lengths, shape (n, 11). [mm]"""
    size = np.maximum(contours.length, 1e-12)
    box = contours.box - np.tile(contours.centroid, 2)
    x, y = (contours.starts - contours.centroid[contours.owner]).T
    weight = contours.lengths
    moments = [
        np.bincount(contours.owner, weight * value, len(contours)) / size**power
        for value, power in (
            (x, 1), (y, 1), (x * x, 2), (x * y, 2), (y * y, 2), (x**3, 3), (y**3, 3),
        )
    ]  # fmt: skip
    return np.column_stack((contours.area / size, size, box, *moments))
