"""One part alone on the sheet: its canonical pose, so that turning a drawing changes nothing.

The part is turned, never mirrored, until the direction of its least width lies along x.
The least width of a convex outline is always found square to one of its edges (Houle and
Toussaint, "Computing the width of a set", IEEE Trans. PAMI 10, 1988), so every edge of
the convex hull is one candidate and its widest point is looked up by angle.
"""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
import shapely

from analyzer.geometry.contours import Contours, Floats

TIE = 1e-6
"""Widths that differ by less than this count as equal. [mm]"""

MOST_POSES = 8
"""More tied directions than this mean that the hull is round."""


@dataclass(frozen=True, eq=False)
class Pose:
    """A way to lay the part.

    Attributes
    ----------
    matrix : ndarray, shape (2, 2)
        Rotation from the drawing's axes: p -> matrix @ p.
    width, height : float
        Extent along x (the least) and along y. [mm]
    middle : ndarray, shape (2,)
        Middle of that extent, in the turned axes. [mm]
    """

    matrix: Floats
    width: float
    height: float
    middle: Floats


_KNOWN: WeakKeyDictionary[Contours, tuple[Pose, ...]] = WeakKeyDictionary()  # asked for again


def canonical_poses(contours: Contours) -> tuple[Pose, ...]:
    """Return the pose of least width, or all of them where several tie.

    Parameters
    ----------
    contours : Contours
        A part: row 0 is the outline.  Open lines only: all rows count.

    Returns
    -------
    tuple of Pose
        At least one.  A turn by 180 degrees is not a pose of its own.  A round part
        has one, turned by where its cut-outs lie.
    """
    if contours not in _KNOWN:
        _KNOWN[contours] = _poses(contours)
    return _KNOWN[contours]


def _poses(contours: Contours) -> tuple[Pose, ...]:
    hull = _hull(contours)
    if len(hull) < 3:
        return (_pose(contours, hull, _flat_direction(hull)),)
    direction, width = _edge_widths(hull)
    tied = direction[width <= width.min() + TIE]
    angle = np.mod(np.arctan2(tied[:, 1], tied[:, 0]), np.pi)
    order = np.argsort(angle)
    angle, tied = angle[order], tied[order]
    fresh = np.diff(angle, prepend=angle[-1] - np.pi) > 1e-6
    fresh[0] |= not fresh.any()
    tied = tied[fresh]
    if len(tied) > MOST_POSES:
        tied = _round_direction(contours, hull)[None, :]
    return tuple(_pose(contours, hull, t) for t in tied)


def _outline_points(contours: Contours) -> Floats:
    outline = contours.take([0]) if contours.area[:1].sum() > 0.0 else contours
    chords = outline.flattened(1e-3)
    last = chords.offsets[1:][~chords.closed] - 1  # an open line has one point more
    return np.vstack((chords.starts, chords.ends[last]))


def _hull(contours: Contours) -> Floats:
    """Corners of the convex hull, counter-clockwise, shape (h, 2); 1 or 2 if it is flat."""
    if not len(contours):
        return np.zeros((1, 2))
    shape = shapely.convex_hull(shapely.multipoints(_outline_points(contours)))
    if shape.geom_type != "Polygon":
        return np.asarray(shapely.get_coordinates(shape))
    return np.asarray(shapely.get_coordinates(shapely.orient_polygons(shape))[:-1])


def _flat_direction(hull: Floats) -> Floats:
    """Across a hull that is only a line or a point."""
    along = hull[-1] - hull[0]
    size = float(np.hypot(*along))
    return np.array([-along[1], along[0]]) / size if size > 0.0 else np.array([1.0, 0.0])


def _edge_widths(hull: Floats) -> tuple[Floats, Floats]:
    """Outward unit normal of every hull edge and the width across it. [-], [mm]"""
    edge = np.roll(hull, -1, axis=0) - hull
    normal = np.column_stack((edge[:, 1], -edge[:, 0]))
    normal /= np.hypot(edge[:, 0], edge[:, 1])[:, None]
    heading = np.unwrap(np.arctan2(edge[:, 1], edge[:, 0]))
    # the corner where the hull has turned by half a circle lies farthest from the edge
    heading = np.concatenate((heading, heading + 2.0 * np.pi))
    far = np.searchsorted(heading, heading[: len(hull)] + np.pi) % len(hull)
    width = np.zeros(len(hull))
    for step in (-1, 0, 1):  # parallel edges: both ends are as far
        corner = hull[(far + step) % len(hull)]
        width = np.maximum(width, -np.einsum("ij,ij->i", corner - hull, normal))
    return normal, width


def _round_direction(contours: Contours, hull: Floats) -> Floats:
    """Return a direction fixed to a round part: to where its cut-outs are heavier."""
    middle = (hull.max(axis=0) + hull.min(axis=0)) / 2.0
    size = float(np.ptp(hull, axis=0).max())
    if len(contours) > 1:
        weight = contours.length[1:]
        arm = contours.centroid[1:] - middle
        pull = (arm * weight[:, None]).sum(axis=0) / weight.sum()
        if np.hypot(*pull) > 1e-6 * size:
            return np.asarray(pull / np.hypot(*pull))
        spread = (arm * weight[:, None]).T @ arm / weight.sum()
        values, vectors = np.linalg.eigh(spread)
        if values[1] - values[0] > 1e-6 * size**2:
            return np.asarray(vectors[:, 0])
        reach = np.hypot(arm[:, 0], arm[:, 1])
        far = int(np.argmax(reach))
        if reach[far] > 1e-6 * size:
            return np.asarray(arm[far] / reach[far])
    return np.array([1.0, 0.0])


def _pose(contours: Contours, hull: Floats, across: Floats) -> Pose:
    matrix = np.array([[across[0], across[1]], [-across[1], across[0]]])
    turned = hull @ matrix.T
    low, high = turned.min(axis=0), turned.max(axis=0)
    return Pose(matrix, float(high[0] - low[0]), float(high[1] - low[1]), (low + high) / 2.0)
