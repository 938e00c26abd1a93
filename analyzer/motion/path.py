"""What the head follows: every contour half a kerf to the scrap side, from its entry on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.offset import Offset, State, offset_contours
from analyzer.motion.order import Route


@dataclass(frozen=True, eq=False)
class HeadPath:
    """Path of the head, row for row with the part's contours.

    Attributes
    ----------
    path : Contours
        Every closed row starts and ends where it is entered.
    source : ndarray of int, shape (s,)
        Drawn segment that every path segment came from.
    state : ndarray of int, shape (n,)
        What became of each contour, one `analyzer.geometry.offset.State`.
    """

    path: Contours
    source: Ints
    state: Ints


def kerf_offset(contours: Contours, kerf: float) -> Offset:
    """Return the contours moved to the scrap side by half the kerf.

    Outlines run counter-clockwise and cut-outs clockwise, so scrap is always on the
    right.  Open cut lines stay as drawn.
    """
    return offset_contours(contours, kerf / 2.0)


def head_path(moved: Offset, route: Route) -> HeadPath:
    """Return the moved contours, each rolled so that it starts at its entry.

    A contour entered in the middle of a segment has that segment in two pieces.
    """
    entry, middle = _entries_on(moved, route)
    path = moved.path
    counts = np.diff(path.offsets)
    pieces = counts + middle
    offsets = np.concatenate(([0], np.cumsum(pieces)))
    row = np.repeat(np.arange(len(path)), pieces)
    place = np.arange(offsets[-1]) - offsets[:-1][row]
    first = path.offsets[:-1][row]
    index = first + np.mod(entry[row] - first + place, np.maximum(counts[row], 1))
    opening = middle[row] & (place == 0)
    closing = middle[row] & (place == counts[row])
    half = opening | closing
    starts, ends = path.starts[index].copy(), path.ends[index].copy()
    bulges = np.where(half, np.tan(np.arctan(path.bulges[index]) / 2.0), path.bulges[index])
    if half.any():
        starts[opening] = path.points_at(index[opening], np.full(int(opening.sum()), 0.5))
        ends[closing] = path.points_at(index[closing], np.full(int(closing.sum()), 0.5))
    rolled = Contours(
        starts, ends, bulges, np.where(half, path.lengths[index] / 2.0, path.lengths[index]),
        path.smooth[index] & ~opening, offsets, path.closed,
    )  # fmt: skip
    return HeadPath(rolled, moved.source[index], moved.state)


def _entries_on(moved: Offset, route: Route) -> tuple[Ints, Bools]:
    """Path segment on which each contour is entered, and whether at its middle."""
    path = moved.path
    if not len(path):
        return np.zeros(0, np.int64), np.zeros(0, bool)
    first, home = path.offsets[:-1], path.owner
    fits = moved.source == route.entry[home]
    length: Floats = np.where(fits & route.middle[home], path.lengths, 0.0)
    longest = np.maximum.reduceat(length, first)
    fits &= length >= longest[home] * (1.0 - 1e-9)
    none = len(home)
    index = np.where(fits, np.arange(none), none)
    found = np.minimum.reduceat(index, first)
    lost = (found == none) | ~path.closed | (moved.state == State.COLLAPSED)
    return np.where(lost, first, found), route.middle & ~lost
