"""Where copies on a sheet touch: stretches of outline that are one line for two of them.

Both outlines run with their metal on the left, so a common line is run one way by the one and
the other way by the other; two that run it the same way lie on one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Contours, Floats, Ints, wrapped

SAME_LINE = 0.02
"""Lines no farther apart are one: as far as two drawings of one part may differ. [mm]"""

LEAST_SHARED = 1.0
"""Shorter stretches are a touch, not a common cut. [mm]"""


@dataclass(frozen=True, eq=False)
class SharedLines:
    """Stretches of outline that two copies have in common.

    Attributes
    ----------
    copies : ndarray of int, shape (k, 2)
        Both placements, low first.
    starts, ends : ndarray, shape (k, 2)
        Both ends on the sheet, as the lower one runs it. [mm]
    lengths : ndarray, shape (k,)
        [mm]
    bulges : ndarray, shape (k,)
        0 for a line, else of the arc from start to end. [-]
    across : ndarray, shape (k, 2)
        From the lower one's line to the other's: nothing for a line they share, the gap
        where they only face each other. [mm]
    """

    copies: Ints
    starts: Floats
    ends: Floats
    lengths: Floats
    bulges: Floats
    across: Floats

    def __len__(self) -> int:
        return len(self.lengths)

    @property
    def total_mm(self) -> float:
        """Length of all of them. [mm]"""
        return float(self.lengths.sum())

    @property
    def middles(self) -> Floats:
        """Middle of every stretch on the sheet, shape (k, 2). [mm]"""
        step = self.ends - self.starts
        right = np.column_stack((step[:, 1], -step[:, 0]))  # an arc to the left bows there
        middle: Floats = (self.starts + self.ends + right * self.bulges[:, None]) / 2.0
        return middle

    @staticmethod
    def joined(several: Sequence[SharedLines]) -> SharedLines:
        """Return the stretches of all of them."""
        return SharedLines(
            *(np.concatenate([getattr(s, f.name) for s in several]) for f in fields(SharedLines))
        )

    @staticmethod
    def none() -> SharedLines:
        """Return no stretch at all."""
        return SharedLines(
            np.zeros((0, 2), np.int64), np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0),
            np.zeros(0), np.zeros((0, 2)),
        )  # fmt: skip


def shared_lines(
    outlines: Contours, tolerance: float = SAME_LINE, least: float = LEAST_SHARED
) -> SharedLines:
    """Return the stretches that two outlines share.

    Parameters
    ----------
    outlines : Contours
        One a copy, counter-clockwise.
    tolerance : float
        Lines no farther apart are one. [mm]
    least : float
        Shorter stretches do not count. [mm]

    Examples
    --------
    >>> square = Contours.from_points([[0, 0], [10, 0], [10, 10], [0, 10]])
    >>> two = Contours.join([square, square.moved(np.eye(2), (10.0, 4.0))])
    >>> shared_lines(two).lengths.tolist()
    [6.0]
    """
    return _facing(outlines, -tolerance, tolerance, least)


def facing_lines(
    outlines: Contours, gap: float, least: float, tolerance: float = SAME_LINE
) -> SharedLines:
    """Return straight stretches that face each other across no more than `gap`.

    What a common cut could be if the parts were pushed together; lines they share already
    are among them.

    Parameters
    ----------
    outlines : Contours
        One a copy, counter-clockwise.
    gap : float
        Widest distance. [mm]
    least : float
        Shorter stretches are not worth it. [mm]
    tolerance : float
        Lines no farther apart are one. [mm]

    Examples
    --------
    >>> square = Contours.from_points([[0, 0], [50, 0], [50, 50], [0, 50]])
    >>> two = Contours.join([square, square.moved(np.eye(2), (54.0, 0.0))])
    >>> facing_lines(two, 5.0, 20.0).lengths.tolist()
    [50.0]
    """
    return _facing(outlines, -tolerance, gap + tolerance, least)


def _facing(outlines: Contours, nearest: float, farthest: float, least: float) -> SharedLines:
    """Stretches that run against each other, the other one `nearest` to `farthest` outside."""
    if len(outlines) < 2:
        return SharedLines.none()
    i, j = box_pairs(outlines.segment_box, outlines.segment_box, max(farthest, -nearest))
    apart = outlines.owner[i] < outlines.owner[j]
    i, j = i[apart], j[apart]
    straight = np.abs(outlines.bulges) * outlines.chords <= SAME_LINE
    lines, arcs = straight[i] & straight[j], ~straight[i] & ~straight[j]
    found = [
        _on_lines(outlines, i[lines], j[lines], (nearest, farthest), least),
        _on_arcs(outlines, i[arcs], j[arcs], SAME_LINE, least),
    ]
    rows, starts, ends, lengths, bulges, across = (
        np.concatenate(f) for f in zip(*found, strict=True)
    )
    copies = outlines.owner[rows]
    order = np.lexsort((starts[:, 0], starts[:, 1], copies[:, 1], copies[:, 0]))
    return SharedLines(
        copies[order], starts[order], ends[order], lengths[order], bulges[order], across[order]
    )


Found = tuple[Ints, Floats, Floats, Floats, Floats, Floats]

PARALLEL = 2e-3
"""Lines that lean more against each other do not face each other. [rad]"""


def _on_lines(c: Contours, i: Ints, j: Ints, band: tuple[float, float], least: float) -> Found:
    """Overlaps of straight segments that run against one another within a band outside."""
    step = c.ends[i] - c.starts[i]
    size = np.maximum(c.chords[i], 1e-12)
    unit = step / size[:, None]
    right = np.column_stack((unit[:, 1], -unit[:, 0]))
    a, b = c.starts[j] - c.starts[i], c.ends[j] - c.starts[i]
    at_a, at_b = np.einsum("ij,ij->i", a, unit), np.einsum("ij,ij->i", b, unit)
    off_a, off_b = np.einsum("ij,ij->i", a, right), np.einsum("ij,ij->i", b, right)
    low, high = np.maximum(at_b, 0.0), np.minimum(at_a, size)
    span = at_b - at_a
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # how far off where the overlap ends
        lean = np.where(span != 0.0, (off_b - off_a) / span, np.inf)
        off = np.stack([off_a + lean * (at - at_a) for at in (low, high)])
    fits = (high - low >= least) & (off.min(axis=0) >= band[0]) & (off.max(axis=0) <= band[1])
    fits &= np.abs(lean) <= np.maximum(PARALLEL, 2.0 * SAME_LINE / size)
    rows, low, high = np.column_stack((i, j))[fits], low[fits], high[fits]
    start, along = c.starts[i][fits], unit[fits]
    gap = off.mean(axis=0)[fits]
    return (
        rows, start + along * low[:, None], start + along * high[:, None], high - low,
        np.zeros(len(rows)), right[fits] * np.where(np.abs(gap) > SAME_LINE, gap, 0.0)[:, None],
    )  # fmt: skip


def _on_arcs(c: Contours, i: Ints, j: Ints, tolerance: float, least: float) -> Found:
    """Overlaps of arcs about one centre that run against one another."""
    radius = c.radii
    same = (c.bulges[i] * c.bulges[j] < 0.0) & (np.abs(radius[i] - radius[j]) <= tolerance)
    same &= np.hypot(*(c.centres[i] - c.centres[j]).T) <= tolerance
    i, j = i[same], j[same]
    sign = np.sign(c.bulges[i])

    def angle(points: Floats) -> Floats:
        arm = points - c.centres[i]
        return np.arctan2(arm[:, 1], arm[:, 0])

    begin, sweep = angle(c.starts[i]), np.abs(c.sweeps[i])
    first = wrapped((angle(c.ends[j]) - begin) * sign)  # where the other ends, seen from the start
    low = np.maximum(first, 0.0)
    high = np.minimum(first + np.abs(c.sweeps[j]), sweep)
    fits = (high - low) * radius[i] >= least
    rows, low, high = np.column_stack((i, j))[fits], low[fits], high[fits]
    at = [begin[fits] + sign[fits] * share for share in (low, high)]
    ends = [
        c.centres[i][fits] + radius[i][fits, None] * np.column_stack((np.cos(t), np.sin(t)))
        for t in at
    ]
    bulge = sign[fits] * np.tan((high - low) / 4.0)
    return (
        rows, ends[0], ends[1], (high - low) * radius[i][fits], bulge, np.zeros((len(rows), 2))
    )  # fmt: skip
