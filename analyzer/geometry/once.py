"""Lengths with nothing counted twice: a line that is the edge of two contours is cut once."""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.geometry.repeats import maybe_repeated


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
