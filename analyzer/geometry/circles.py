"""Which contours are circles: drawn as arcs, or near enough to one that fits."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints

SAME_CENTRE = 1e-6
"""Arcs of one circle have centres and radii that agree within this. [mm]"""

LONGEST_SIDE = np.radians(45.5)
"""A straight side may span this much of a round contour: that of a regular octagon, the
coarsest circle that programs without arcs write for small holes. [rad]"""


@dataclass(frozen=True, eq=False)
class Circles:
    """The circle of every contour.

    Attributes
    ----------
    round : ndarray of bool, shape (n,)
        Whether the contour is that circle.
    centre : ndarray, shape (n, 2)
        Its centre. [mm]
    radius : ndarray, shape (n,)
        Its radius. [mm]
    """

    round: Bools
    centre: Floats
    radius: Floats


_KNOWN: WeakKeyDictionary[Contours, Circles] = WeakKeyDictionary()


def true_circles(contours: Contours) -> Circles:
    """Return the contours made of arcs of one and the same circle, once around.

    Two halves, four quarters or any other parts; exact, no fit.  Kept while the contours live:
    one station after the other asks.
    """
    if contours not in _KNOWN:
        _KNOWN[contours] = _true_circles(contours)
    return _KNOWN[contours]


def _true_circles(contours: Contours) -> Circles:
    if not len(contours):
        return Circles(np.zeros(0, bool), np.zeros((0, 2)), np.zeros(0))
    first = contours.offsets[:-1]
    arc = contours.bulges != 0.0
    longest = _longest(contours)
    centre, radius = contours.centres[longest], contours.radii[longest]
    with np.errstate(invalid="ignore"):
        apart = np.abs(contours.centres - centre[contours.owner]).max(axis=1)
        apart = np.maximum(apart, np.abs(contours.radii - radius[contours.owner]))
    alike = arc & (apart <= np.maximum(SAME_CENTRE, 1e-9 * radius[contours.owner]))
    # where a short arc leaves its centre open, its ends say as much
    on_it = np.abs(np.hypot(*(contours.starts - centre[contours.owner]).T) - radius[contours.owner])
    alike |= arc & (on_it <= SAME_CENTRE) & (np.abs(contours.sweeps) < 0.1)
    whole = np.logical_and.reduceat(alike, first)
    turn = np.add.reduceat(contours.sweeps, first)
    around = np.abs(np.abs(turn) - 2.0 * np.pi) < 1e-6
    one_way = np.add.reduceat(np.abs(contours.sweeps), first) < 2.0 * np.pi + 1e-6
    found = contours.closed & whole & around & one_way & np.isfinite(radius)
    return Circles(
        found,
        np.where(found[:, None], centre, 0.0),
        np.where(found, radius, 0.0),
    )


def _longest(contours: Contours) -> Ints:
    """Longest segment of every contour, the first of equals, shape (n,)."""
    first, length = contours.offsets[:-1], contours.lengths
    most = np.maximum.reduceat(length, first)[contours.owner]
    row = np.arange(len(length))
    picked: Ints = np.minimum.reduceat(np.where(length == most, row, len(length)), first)
    return picked


def fitted_circles(contours: Contours, share: float, least: float) -> Circles:
    """Return the contours that stay near the circle fitted to them.

    The circle is that of least squares through the ends of all segments and the middles
    of all arcs (algebraic fit, weighed by length), so for a polygon it is the circle
    *through its vertices*, not one of the same area.  Round is what keeps all those
    points within `share` of the radius, or `least`, of that circle, goes once around it
    and has no straight side longer than that of a regular octagon: a hexagon or a square
    is not round, however finely its sides are split.

    Parameters
    ----------
    contours : Contours
        Closed contours; open ones are never round.
    share : float
        Deviation in proportion to the radius. [-]
    least : float
        Deviation always allowed. [mm]
    """
    exact = true_circles(contours)
    if not len(contours):
        return exact
    middle = contours.points_at(np.arange(len(contours.bulges)), np.full(len(contours.bulges), 0.5))
    origin = (contours.box[:, :2] + contours.box[:, 2:]) / 2.0
    size = np.maximum((contours.box[:, 2:] - contours.box[:, :2]).max(axis=1), 1e-12)
    own = contours.owner
    arc = contours.bulges != 0.0
    before = contours.lengths[np.where(contours.previous >= 0, contours.previous, 0)]
    weights = np.concatenate((contours.lengths + before, np.where(arc, contours.lengths, 0.0)))
    both = np.concatenate((own, own))
    points = (np.vstack((contours.starts, middle)) - origin[both]) / size[both, None]
    centre, radius = _least_squares(points, weights, both, len(contours))
    off = np.abs(np.hypot(*(points - centre[both]).T) - radius[both])
    off = np.where(weights > 0.0, off, 0.0)
    worst = np.zeros(len(contours))
    np.maximum.at(worst, both, off)
    centre, radius, worst = origin + centre * size[:, None], radius * size, worst * size
    with np.errstate(divide="ignore", invalid="ignore"):
        side = 2.0 * np.arcsin(np.minimum(contours.chords / (2.0 * radius[own]), 1.0))
        near = worst <= np.maximum(share * radius, least)
    straight = np.where(arc, 0.0, side)
    longest = np.zeros(len(contours))
    np.maximum.at(longest, own, straight)
    # once around: the area is that of the disc, less what the chords of an octagon cut off
    full = np.abs(np.abs(contours.area) / np.maximum(np.pi * radius**2, 1e-300) - 1.0) < 0.11
    found = contours.closed & near & full & (longest <= LONGEST_SIDE)
    return Circles(
        found | exact.round,
        np.where(exact.round[:, None], exact.centre, centre),
        np.where(exact.round, exact.radius, radius),
    )


def _least_squares(
    points: Floats, weights: Floats, owner: Ints, count: int
) -> tuple[Floats, Floats]:
    """Centre and radius of the circle x^2 + y^2 = 2 a x + 2 b y + c of least squares."""
    x, y = points.T
    z = x**2 + y**2

    def total(values: Floats) -> Floats:
        return np.bincount(owner, weights=values * weights, minlength=count).astype(float)

    one = np.maximum(total(np.ones_like(x)), 1e-300)
    mx, my, mz = total(x) / one, total(y) / one, total(z) / one
    u, v, w = x - mx[owner], y - my[owner], z - mz[owner]
    uu, vv, uv, uw, vw = total(u * u), total(v * v), total(u * v), total(u * w), total(v * w)
    determinant = uu * vv - uv**2
    with np.errstate(divide="ignore", invalid="ignore"):
        a = np.where(determinant > 0.0, (uw * vv - vw * uv) / determinant / 2.0, mx)
        b = np.where(determinant > 0.0, (vw * uu - uw * uv) / determinant / 2.0, my)
    radius = np.sqrt(np.maximum(mz + a**2 + b**2 - 2.0 * (a * mx + b * my), 0.0))
    return np.column_stack((a, b)), radius
