"""How crowded cut-outs lie: edge and missing plate around each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.geometry.contours import Contours, Floats

REACH = 4.0
"""Neighbours count out to this many spreads of the bell they are weighed with. [-]"""

MOST_SHARE = 0.8
"""Cut-outs that lap over one another are not let take more of the plate than this. [-]"""


@dataclass(frozen=True, eq=False)
class Crowding:
    """The plate around every contour, weighed with a bell as wide as the way to its neighbour.

    Attributes
    ----------
    density : ndarray, shape (n,)
        Length of cut-out edge per area of plate. [1/mm]
    share : ndarray, shape (n,)
        Share of the plate that cut-outs take away; 0 for outlines and open cuts. [-]
    """

    density: Floats
    share: Floats


def crowding(contours: Contours, islands: Sequence[int] = ()) -> Crowding:
    """Return how crowded the cut-outs of a part lie.

    In a grid of pitch p the bell of spread p gives length / p^2 and area / p^2 of one cut-out to
    1e-8, since the sum of a bell over a lattice hardly differs from its integral.  A cut-out wider
    than the way to its neighbour is no part of a pattern.
    """
    count = len(contours)
    density, share = np.zeros(count), np.zeros(count)
    wanted = contours.area < 0.0
    wanted[list(islands)] = False
    rows = np.flatnonzero(wanted)
    if len(rows) < 2:
        return Crowding(density, share)
    middle = contours.centroid[rows]
    points = shapely.points(middle)
    tree = shapely.STRtree(points)
    (home, _), spread = tree.query_nearest(
        points, exclusive=True, return_distance=True, all_matches=False
    )
    pitch = np.full(len(rows), np.inf)
    pitch[home] = spread
    size = contours.length[rows] / np.pi
    fits = np.isfinite(pitch) & (pitch > 0.0) & (size <= pitch)
    rows, middle, pitch = rows[fits], middle[fits], pitch[fits]
    if not len(rows):
        return Crowding(density, share)
    tree = shapely.STRtree(shapely.points(middle))
    low, high = middle - REACH * pitch[:, None], middle + REACH * pitch[:, None]
    one, two = tree.query(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    far = ((middle[one] - middle[two]) ** 2).sum(axis=1)
    square = pitch[one] ** 2
    weight = np.where(
        far <= REACH**2 * square, np.exp(-far / (2.0 * square)) / (2.0 * np.pi * square), 0.0
    )
    density[rows] = np.bincount(one, weight * contours.length[rows][two], len(rows))
    taken = np.bincount(one, weight * np.abs(contours.area[rows][two]), len(rows))
    share[rows] = np.minimum(taken, MOST_SHARE)
    return Crowding(density, share)
