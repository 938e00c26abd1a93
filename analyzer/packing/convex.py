"""Polygons cut into few convex pieces: triangles first, then merged over needless diagonals.

The merging is that of Hertel and Mehlhorn ("Fast triangulation of simple polygons", 1983,
from memory): never more than four times as many pieces as the fewest possible.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from analyzer.geometry.contours import Bools, Floats

_STRAIGHT = 1e-9


def convex_pieces(polygon: Polygon) -> list[Floats]:
    """Return convex pieces that make up a polygon with holes, corners counter-clockwise. [mm]

    Examples
    --------
    >>> corner = shapely.Polygon([(0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)])
    >>> sum(shapely.Polygon(piece).area for piece in convex_pieces(corner)) == corner.area
    True
    """
    ring = _corners(polygon)
    if not polygon.interiors and _is_convex(ring):
        return [ring]
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    triangles = shapely.orient_polygons(triangles)
    coordinates = shapely.get_coordinates(triangles).reshape(-1, 4, 2)[:, :3]
    points, index = np.unique(coordinates.reshape(-1, 2), axis=0, return_inverse=True)
    hollow = {tuple(p) for p in _hollow_corners(polygon).tolist()}
    reflex = np.array([tuple(p) in hollow for p in points.tolist()])
    pieces = _merged(points, index.reshape(-1, 3).tolist(), reflex)
    return [points[piece] for piece in pieces]


def _corners(polygon: Polygon) -> Floats:
    ring: Floats = shapely.get_coordinates(shapely.orient_polygons(polygon).exterior)[:-1]
    return ring


def _is_convex(ring: Floats) -> bool:
    step = np.roll(ring, -1, axis=0) - ring
    after = np.roll(step, -1, axis=0)
    cross = step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0]
    size = np.hypot(*step.T) * np.hypot(*after.T)
    return bool((cross >= -_STRAIGHT * size).all())


def _hollow_corners(polygon: Polygon) -> Floats:
    """Corners the metal surrounds by more than half a turn, shape (k, 2)."""
    found = []
    whole = shapely.orient_polygons(polygon)  # holes clockwise: metal on the left throughout
    for ring in (whole.exterior, *whole.interiors):
        points = shapely.get_coordinates(ring)[:-1]
        into, out = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
        found.append(points[into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0] < 0.0])
    corners: Floats = np.concatenate(found)
    return corners


def _merged(points: Floats, pieces: list[list[int]], reflex: Bools) -> list[list[int]]:
    """Join pieces over shared edges while both ends stay convex.

    Edges at no hollow corner first, which must go anyhow; then the longest.
    """
    living: dict[int, list[int]] = dict(enumerate(pieces))
    owner: dict[tuple[int, int], int] = {}
    for name, piece in living.items():
        for a, b in zip(piece, piece[1:] + piece[:1], strict=True):
            owner[a, b] = name
    shared = [edge for edge in owner if edge[0] < edge[1] and (edge[1], edge[0]) in owner]
    size = {e: float(np.hypot(*(points[e[0]] - points[e[1]]))) for e in shared}
    shared.sort(key=lambda e: (int(reflex[e[0]]) + int(reflex[e[1]]), -size[e], e))
    for a, b in shared:
        one, other = owner[a, b], owner[b, a]
        if one == other:
            continue
        joined = _joined(living[one], living[other], a, b)
        if not _is_convex(points[joined]):
            continue
        living[one] = joined
        for c, d in zip(joined, joined[1:] + joined[:1], strict=True):
            owner[c, d] = one
        del living[other]
    return list(living.values())


def _joined(one: list[int], other: list[int], a: int, b: int) -> list[int]:
    """Both rings as one, the edge a-b between them left out."""
    at = one.index(b)
    first = one[at:] + one[:at]  # starts at b, ends at a
    at = other.index(a)
    second = other[at:] + other[:at]  # starts at a, ends at b
    return first + second[1:-1]
