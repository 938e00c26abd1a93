"""Lengths with nothing counted twice: a line that is the edge of two contours is cut once."""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints

_MIX = np.uint64(0x9E3779B97F4A7C15)  # odd, so that multiplying loses nothing


def lengths_once(contours: Contours) -> Floats:
    """Return the length of every contour, shape (n,), a segment drawn in two counted once. [mm]

    The second contour that runs along a shared segment does not count it.
    """
    starts, ends = contours.starts, contours.ends
    low_first = (starts[:, 0] < ends[:, 0]) | (
        (starts[:, 0] == ends[:, 0]) & (starts[:, 1] <= ends[:, 1])
    )
    first = np.where(low_first[:, None], starts, ends)
    last = np.where(low_first[:, None], ends, starts)
    bulge = np.where(low_first, contours.bulges, -contours.bulges)
    key = np.column_stack((first, last, bulge)).round(6) + 0.0  # no negative zero
    rows = maybe_repeated(key)
    key = key[rows]
    order = np.lexsort(key.T)
    again = rows[order[1:]][(key[order[1:]] == key[order[:-1]]).all(axis=1)]
    once = contours.lengths.copy()
    once[again] = 0.0
    total: Floats = np.bincount(contours.owner, once, len(contours)).astype(float)
    return total


def maybe_repeated(rows: Floats) -> Ints:
    """Return which rows may equal another one: all that do, and hardly any that do not.

    Sorting one number a row is a fifth of the work of sorting by all columns.

    Parameters
    ----------
    rows : ndarray, shape (n, k)
        Without negative zeros.
    """
    mixed = np.zeros(len(rows), dtype=np.uint64)
    for column in rows.T:
        mixed = (mixed ^ np.ascontiguousarray(column).view(np.uint64)) * _MIX
        mixed ^= mixed >> np.uint64(29)
    ordered = np.sort(mixed)
    several = ordered[1:][ordered[1:] == ordered[:-1]]
    if not len(several):
        return np.zeros(0, dtype=np.int64)
    at = np.searchsorted(several, mixed)
    at[at == len(several)] = 0
    found: Ints = np.flatnonzero(several[at] == mixed)
    return found
