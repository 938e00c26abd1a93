"""Polygons that hold all the metal of a part: arcs straightened to the outside, never inside.

Metal lies on the left of a contour, so an arc that turns left bulges out of the metal and
gets a chain of tangents; one that turns right is hollow and its chords lie outside already.
A layout of such polygons keeps every gap of the true contours.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from analyzer.geometry.contours import Contours, Floats
from analyzer.parts.part import Part

FLAT = 1e-8
"""An arc that bows less than this is a line. [mm]"""

MITRE = 1.5
"""A corner grown outward stays a corner up to this many times the growth, then is cut off."""


def outward_ring(contours: Contours, row: int, tolerance: float) -> Floats:
    """Return corners of a polygon around contour `row`, nowhere inside its metal, shape (k, 2).

    Parameters
    ----------
    contours : Contours
        Metal on the left.
    row : int
        A closed one.
    tolerance : float
        How far the polygon may lie outside. [mm]

    Examples
    --------
    >>> ring = outward_ring(Contours.circle(0.0, 0.0, 10.0), 0, 0.5)
    >>> bool(shapely.distance(shapely.linearrings(ring), shapely.Point(0, 0)) >= 10.0 - 1e-9)
    True
    """
    one = contours.take([row])
    bent = one.chords * np.abs(one.bulges) / 2.0 > FLAT
    radius = np.where(bent, one.radii, 1.0)
    sweep = np.where(bent, np.abs(one.sweeps), 0.0)
    step = 2.0 * np.arccos(np.clip(radius / (radius + tolerance), 0.0, 1.0))
    pieces = np.maximum(np.ceil(sweep / np.minimum(step, np.pi / 3.0)), 1).astype(np.int64)
    tangents = bent & (one.bulges > 0.0)
    count = np.where(tangents, pieces + 1, pieces)  # its start, then its tangents or chords
    index = np.repeat(np.arange(len(count)), count)
    within = np.arange(len(index)) - np.repeat(np.cumsum(count) - count, count)
    at = one.points_at(index, np.minimum(within / pieces[index], 1.0))
    lifted = tangents[index] & (within > 0)
    if lifted.any():
        rows = index[lifted]
        middle = one.points_at(rows, (within[lifted] - 0.5) / pieces[rows])
        centre = one.centres[rows]
        stretch = 1.0 / np.cos(sweep[rows] / pieces[rows] / 2.0)
        at[lifted] = centre + (middle - centre) * stretch[:, None]
    return at


def metal_of(part: Part, tolerance: float, cut_outs: bool = True) -> Polygon:
    """Return a polygon that holds the metal of a part. [mm]

    Parameters
    ----------
    part : Part
        Its first contour is the outline.
    tolerance : float
        How far the polygon may lie outside the contours. [mm]
    cut_outs : bool
        Whether cut-outs stay open.  Those with islands of lettering are closed: their
        scrap does not come out in one piece.
    """
    rings = [outward_ring(part.contours, 0, tolerance)]
    if cut_outs:
        lettered = _rows_with_islands(part)
        inner = part.contours.closed & (part.contours.area < 0.0)
        for row in np.flatnonzero(inner).tolist():
            if row and row not in lettered and row not in part.islands:
                rings.append(outward_ring(part.contours, row, tolerance))
    return _sound(rings)


def _rows_with_islands(part: Part) -> set[int]:
    found = set()
    for island in part.islands:
        at = Point(part.contours.starts[part.contours.offsets[island]])
        for row in range(1, len(part.contours)):
            if row != island and part.contours.closed[row]:
                hole = Polygon(part.contours.ring(row, 0.1))
                if hole.is_valid and hole.covers(at):
                    found.add(row)
    return found


def _sound(rings: list[Floats]) -> Polygon:
    """One polygon of an outline and its cut-outs; a crossing outline is filled."""
    outline = Polygon(rings[0])
    if not outline.is_valid:
        outline = filled(shapely.make_valid(outline))
    holes = [Polygon(ring) for ring in rings[1:]]
    kept = [hole for hole in holes if hole.is_valid and outline.contains_properly(hole)]
    if not kept:
        return outline
    whole = Polygon(outline.exterior, [hole.exterior for hole in kept])
    return whole if whole.is_valid else outline


def filled(shape: BaseGeometry) -> Polygon:
    """Return a shape as one polygon without holes; several pieces as their hull."""
    pieces = [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon"]
    if len(pieces) == 1:
        return Polygon(pieces[0].exterior)
    hull: Polygon = shapely.convex_hull(shape)
    return hull if hull.geom_type == "Polygon" else hull.buffer(1e-6)


def grown(polygon: Polygon, reach: float, *, most: int, least_hole: float) -> Polygon:
    """Return a polygon that holds every point within `reach` of another, with few corners.

    Parameters
    ----------
    polygon : Polygon
        What is to be kept clear.
    reach : float
        [mm]
    most : int
        Corners wished for at most; more are smoothed away to the outside.
    least_hole : float
        Holes into which a square of this side does not fit are closed. [mm]
    """
    wide = _no_small_holes(_buffered(polygon, reach), least_hole)
    slack = max(reach, 1e-3 * max(_extent(wide))) * 0.05
    for _ in range(6):
        if shapely.get_num_coordinates(wide) <= most:
            return wide
        smooth = _buffered(wide, slack).simplify(0.9 * slack)
        smooth = _no_small_holes(smooth, least_hole)
        if smooth.is_valid and smooth.covers(wide):
            wide = smooth
        slack *= 2.0
    return wide


def _buffered(polygon: Polygon, reach: float) -> Polygon:
    if reach <= 0.0:
        return polygon
    wide: Polygon = polygon.buffer(reach, join_style="mitre", mitre_limit=MITRE)
    kept = wide.exterior.distance(polygon) >= reach - 1e-9 and all(
        ring.distance(polygon) >= reach - 1e-9 for ring in wide.interiors
    )
    if not kept:  # a corner cut off too near
        wide = polygon.buffer(reach, join_style="mitre", mitre_limit=20.0)
    return wide if wide.geom_type == "Polygon" else filled(wide)


def _no_small_holes(polygon: Polygon, least: float) -> Polygon:
    if not polygon.interiors:
        return polygon
    kept = []
    for ring in polygon.interiors:
        low_x, low_y, high_x, high_y = ring.bounds
        thick = 2.0 * Polygon(ring).area / ring.length  # of a square: half its side
        if min(high_x - low_x, high_y - low_y) >= least and thick >= 0.25 * least:
            kept.append(ring)
    return Polygon(polygon.exterior, kept)


def _extent(polygon: Polygon) -> tuple[float, float]:
    low_x, low_y, high_x, high_y = polygon.bounds
    return high_x - low_x, high_y - low_y
