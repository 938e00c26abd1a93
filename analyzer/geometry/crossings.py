"""Where lines that do not close run across other lines."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.geometry.contours import Bools, Contours, Floats

_AT_ONCE = 200_000  # pairs of boxes looked at together, roughly


def open_crossings(contours: Contours, tolerance: float, most: int) -> tuple[Floats, int]:
    """Return where open contours run across others or themselves, shape (k, 2), and the work.

    Arcs are looked at as chords within `tolerance`; lines that only touch, or end on each
    other, do not cross.  The work is the number of pairs of chords whose boxes overlap;
    looking ends once it is more than `most`, and the places are those found so far.

    Parameters
    ----------
    contours : Contours
        Open and closed.
    tolerance : float
        [mm]
    most : int
        Pairs of boxes.
    """
    nowhere = np.zeros((0, 2))
    if contours.closed.all():
        return nowhere, 0
    flat = contours.flattened(tolerance)
    loose: Bools = ~flat.closed[flat.owner]
    boxes = shapely.box(*flat.segment_box.T)
    tree = shapely.STRtree(boxes)
    rows = np.flatnonzero(loose)
    places, work, begin, step = [nowhere], 0, 0, 64
    while begin < len(rows) and work <= most:
        some = rows[begin : begin + step]
        i, j = tree.query(boxes[some])
        i = some[i]
        once = np.where(loose[j], i < j, True)
        i, j = i[once], j[once]
        work += len(i)
        places.append(_where_across(flat, i, j, tolerance))
        begin += step
        step = max(1, int(step * min(4.0, _AT_ONCE / max(len(i), 1))))
    return np.concatenate(places), work


def _where_across(flat: Contours, i: np.ndarray, j: np.ndarray, hair: float) -> Floats:
    """Return where chords `i` and `j` cross, further than `hair` from all four ends."""
    a, b = flat.starts[i], flat.starts[j]
    u, v = flat.ends[i] - a, flat.ends[j] - b
    gap = b - a
    turn = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (gap[:, 0] * v[:, 1] - gap[:, 1] * v[:, 0]) / turn
        t = (gap[:, 0] * u[:, 1] - gap[:, 1] * u[:, 0]) / turn
        inner = np.ones(len(i), dtype=bool)
        for share, way in ((s, u), (t, v)):
            slack = hair / np.hypot(way[:, 0], way[:, 1])
            inner &= (share > slack) & (share < 1.0 - slack)
    rows = np.flatnonzero(inner)
    places: Floats = a[rows] + u[rows] * s[rows, None]
    return places
