"""What lies in the way: lead-ins against marks, bend lines and other contours."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from analyzer.geometry.contours import Bools, Contours, Floats, Ints

CHORD = 0.02
"""Arcs count as chords within this. [mm]"""


Lines = NDArray[np.object_]


def lines_of(several: Sequence[Contours]) -> Lines:
    """Return every contour as a line string, closed ones closed, shape (n,); arcs in chords."""
    coordinates, owners = [np.zeros((0, 2))], [np.zeros(0, dtype=np.int64)]
    count = 0
    for contours in several:
        flat = contours.flattened(CHORD)
        last = flat.offsets[1:]
        coordinates.append(np.insert(flat.starts, last, flat.ends[last - 1], axis=0))
        owners.append(np.repeat(np.arange(len(flat)), np.diff(flat.offsets) + 1) + count)
        count += len(flat)
    lines: Lines = shapely.linestrings(np.vstack(coordinates), indices=np.concatenate(owners))
    return lines


def blocked(starts: Floats, ends: Floats, obstacles: Lines) -> Bools:
    """Return which straight ways from `starts` to `ends` meet an obstacle, shape (k,).

    Parameters
    ----------
    starts, ends : ndarray, shape (k, 2)
        [mm]
    obstacles : ndarray of line strings
        From `lines_of`.
    """
    found = np.zeros(len(starts), dtype=bool)
    if len(starts) and len(obstacles):
        ways = shapely.linestrings(np.stack((starts, ends), axis=1))
        hit: Ints = shapely.STRtree(obstacles).query(ways, predicate="intersects")[0]
        found[hit] = True
    return found


def distances(points: Floats, obstacles: Lines, reach: float) -> Floats:
    """Return the distance from points to the nearest obstacle, `reach` at most, shape (k,). [mm]"""
    least = np.full(len(points), reach)
    if len(points) and len(obstacles):
        dots = shapely.points(points)
        tree = shapely.STRtree(obstacles)
        at, line = tree.query(dots, predicate="dwithin", distance=reach)
        away = shapely.distance(dots[at], obstacles[line])
        np.minimum.at(least, at, away)
    return least
