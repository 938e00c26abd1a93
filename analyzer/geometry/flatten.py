"""Splines and ellipses become lines and arcs within a tolerance, with their true lengths.

Every curve is cut into smooth pieces; a piece is replaced by the arc through its two ends
and its middle once that arc stays within the tolerance, else it is halved.  All pieces of
all curves go through the same few numpy rounds.  The length of a piece is the integral of
the speed of the *source* curve (Gauss-Legendre), and the headings at its ends are those
of the source curve, so that the joint between two pieces is known to be smooth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.geometry.splines import Spline, all_pieces

# Where a piece is compared with its arc: both ends, the middle, and six places between
# that are not mirror images of the zeros an arc through three points always has.
_SPOTS = np.array([0.0, 0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 1.0])
_MIDDLE = 4
_MOST_BULGE = float(np.tan(np.radians(100.0) / 4.0))  # an arc turns by at most 100 degrees
_SHARE = 0.8  # part of the tolerance we use: the greatest deviation lies between the spots
_STRAIGHT = 1e-7  # an arc that bows less than this is a line [mm]
_ROUNDS = 30
_AT_ONCE = 20_000  # pieces of splines flattened together, so that memory stays bounded
_GAUSS = 16  # nodes of the quadrature over one piece


class Curves(Protocol):
    """Many curves with a parameter from 0 to 1."""

    @property
    def owner(self) -> Ints:
        """Curve every row belongs to, in order."""
        ...

    def at(self, rows: Ints, s: Floats) -> tuple[Floats, Floats]:
        """Return points and derivatives at `s`, shape (k, m), of `rows`, shape (k,)."""
        ...


@dataclass(frozen=True, eq=False)
class EllipseArcs:
    """Arcs of ellipses: centre + major cos t + minor sin t, from t0 to t1.

    Attributes
    ----------
    centre, major, minor : ndarray, shape (n, 2)
        Centre and two conjugate half axes (they need not be perpendicular). [mm]
    t0, t1 : ndarray, shape (n,)
        Range of the parameter; t1 < t0 runs clockwise. [rad]
    """

    centre: Floats
    major: Floats
    minor: Floats
    t0: Floats
    t1: Floats

    @property
    def owner(self) -> Ints:
        """Every row is its own curve, shape (n,)."""
        return np.arange(len(self.t0))

    def at(self, rows: Ints, s: Floats) -> tuple[Floats, Floats]:
        """Return points [mm] and derivatives by s [mm], shape (k, m, 2)."""
        sweep = (self.t1 - self.t0)[rows][:, None]
        t = self.t0[rows][:, None] + sweep * s
        cos, sin = np.cos(t), np.sin(t)
        points, speeds = np.empty((2, *t.shape, 2))
        for k in (0, 1):  # numpy is slow along an axis of two
            major, minor = self.major[rows, k][:, None], self.minor[rows, k][:, None]
            points[:, :, k] = self.centre[rows, k][:, None] + major * cos + minor * sin
            speeds[:, :, k] = (minor * cos - major * sin) * sweep
        return points, speeds


@dataclass(frozen=True, eq=False)
class Beziers:
    """Rational Bezier pieces of one degree.

    Attributes
    ----------
    control : ndarray, shape (n, degree + 1, 3)
        Homogeneous control points (w x, w y, w). [mm, -]
    owner : ndarray of int, shape (n,)
        Curve every piece belongs to, in order.
    """

    control: Floats
    owner: Ints

    def at(self, rows: Ints, s: Floats) -> tuple[Floats, Floats]:
        """Return points [mm] and derivatives by s [mm], shape (k, m, 2), by de Casteljau."""
        # numpy is slow along axes of three and four: each coordinate by itself, rows last
        t, control = np.ascontiguousarray(s.T), self.control[rows].T  # (m, k), (3, degree + 1, k)
        rest, degree = 1.0 - t, control.shape[1] - 1
        point, fast = [], []
        for level in control:
            while len(level) > 2:
                level = [a * rest + b * t for a, b in pairwise(level)]
            fast.append(degree * (level[1] - level[0]))
            point.append(level[0] * rest + level[1] * t)
        weight = point[2]
        points, speeds = np.empty((2, *s.shape, 2))
        for k in (0, 1):
            place = point[k] / weight
            points[:, :, k] = place.T
            speeds[:, :, k] = ((fast[k] - fast[2] * place) / weight).T
        return points, speeds


@dataclass(frozen=True, eq=False)
class Flattened:
    """Curves as lines and arcs.

    Attributes
    ----------
    contours : Contours
        One row per curve, with smooth flags at inner joints and true lengths.
    headings : ndarray, shape (s, 2)
        Direction of the *source* curve at both ends of every segment. [rad]
    """

    contours: Contours
    headings: Floats


def flatten_splines(
    splines: Sequence[Spline], tolerance: float, *, most: int = 50_000, smooth_deg: float = 3.0
) -> Flattened:
    """Return splines as lines and arcs within `tolerance` [mm], one contour per spline.

    Parameters
    ----------
    splines : sequence of Spline
    tolerance : float
        Greatest distance between spline and its arcs. [mm]
    most : int
        Segments one curve may become.
    smooth_deg : float
        A joint inside the spline that turns more is a corner. [degrees]

    Raises
    ------
    InputError
        If a spline is not one, or becomes more than `most` segments.
    """
    by_degree: dict[int, list[tuple[int, Floats]]] = {}
    for row, (spline, pieces) in enumerate(zip(splines, all_pieces(splines), strict=True)):
        by_degree.setdefault(spline.degree, []).append((row, pieces))
    parts = []
    for _, group in sorted(by_degree.items()):
        size = np.cumsum([len(pieces) for _, pieces in group]) // _AT_ONCE
        cuts = np.flatnonzero(np.diff(size)) + 1
        for begin, end in pairwise([0, *cuts.tolist(), len(group)]):
            some = group[begin:end]
            owner = np.repeat([row for row, _ in some], [len(pieces) for _, pieces in some])
            curves = Beziers(np.concatenate([pieces for _, pieces in some]), owner)
            parts.append(_flatten(curves, tolerance, most))
    return _collect(parts, len(splines), smooth_deg)


def flatten_ellipses(
    arcs: EllipseArcs, tolerance: float, *, most: int = 50_000, smooth_deg: float = 3.0
) -> Flattened:
    """Return arcs of ellipses as lines and arcs within `tolerance` [mm], one contour each.

    Raises
    ------
    InputError
        If one becomes more than `most` segments.
    """
    return _collect([_flatten(arcs, tolerance, most)], len(arcs.t0), smooth_deg)


# --- halving until it fits ------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Accepted pieces: curve, piece of it, place in it, both ends, bulge, length, headings."""

    owner: Ints
    row: Ints
    place: Floats
    starts: Floats
    ends: Floats
    bulges: Floats
    lengths: Floats
    headings: Floats


def _flatten(curves: Curves, tolerance: float, most: int) -> _Pieces:
    owner = curves.owner
    rows = np.arange(len(owner))
    low, high = np.zeros(len(rows)), np.ones(len(rows))
    done: list[tuple[Ints, Floats, Floats, Floats, Floats]] = []
    taken = np.bincount(owner, minlength=1)
    for turn in range(_ROUNDS):
        points, speeds = curves.at(rows, low[:, None] + (high - low)[:, None] * _SPOTS)
        fits = _fits_an_arc(points, tolerance) | (turn == _ROUNDS - 1)
        done.append((rows[fits], low[fits], high[fits], points[fits], speeds[fits]))
        rows, low, high = rows[~fits], low[~fits], high[~fits]
        if not len(rows):
            break
        taken = taken + np.bincount(owner[rows], minlength=len(taken))  # each becomes two
        if taken.max() > most:
            raise InputError(
                f"a curve needs more than {most:,} arcs within {tolerance:g} mm: over the limit"
                f" curve_vertices = {most:,}",
                hint="simplify the curve, or raise it: --limit curve_vertices=...",
            )
        middle = (low + high) / 2.0
        rows = np.repeat(rows, 2)
        low = np.column_stack((low, middle)).ravel()
        high = np.column_stack((middle, high)).ravel()
    return _measured(curves, *(np.concatenate(column) for column in zip(*done, strict=True)))


def _measured(
    curves: Curves, rows: Ints, low: Floats, high: Floats, points: Floats, speeds: Floats
) -> _Pieces:
    """Return accepted pieces in order, with arcs, true lengths and true headings."""
    order = np.lexsort((low, rows))
    rows, low, high = rows[order], low[order], high[order]
    points, speeds = points[order], speeds[order]
    span = (high - low)[:, None]
    starts, ends, middle = points[:, 0], points[:, -1], points[:, _MIDDLE]
    bulges = _bulge(starts, middle, ends)
    chord = np.hypot(*(ends - starts).T)
    bulges[np.abs(bulges) * chord / 2.0 < _STRAIGHT] = 0.0
    bulges[np.abs(bulges) > _MOST_BULGE] = 0.0  # a cusp too small to see, no arc round the world
    nodes, weights = np.polynomial.legendre.leggauss(_GAUSS)
    _, inside = curves.at(rows, low[:, None] + span * (nodes + 1.0) / 2.0)
    lengths = np.hypot(inside[:, :, 0], inside[:, :, 1]) @ weights / 2.0 * span[:, 0]
    first = _heading(speeds[:, 0], points[:, 1] - starts)
    last = _heading(speeds[:, -1], ends - points[:, -2])
    return _Pieces(
        curves.owner[rows], rows, low, starts, ends, bulges, lengths,
        np.column_stack((first, last)),
    )  # fmt: skip


def _heading(speed: Floats, step: Floats) -> Floats:
    """Return the direction of `speed`, or of the step nearby where the curve stands still."""
    still = np.hypot(*speed.T) <= 1e-9 * np.maximum(np.hypot(*step.T), 1e-30)
    way = np.where(still[:, None], step, speed)
    return np.arctan2(way[:, 1], way[:, 0])


def _bulge(start: Floats, middle: Floats, end: Floats) -> Floats:
    """Return the bulge of the arc from start to end through middle, shape (k,).

    The turn from one chord to the next is half the sweep.
    """
    a, b = middle - start, end - middle
    turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    bulge: Floats = np.tan(turn / 2.0)
    return bulge


def _fits_an_arc(points: Floats, tolerance: float) -> Bools:
    """Return which rows of points, shape (k, spots, 2), follow the arc through their ends."""
    start, end = points[:, 0], points[:, -1]
    b = _bulge(start, points[:, _MIDDLE], end)
    chord = end - start
    c = np.hypot(*chord.T)
    px, py = np.ascontiguousarray(points.T)  # (spots, k) each: numpy is slow along short axes
    with np.errstate(divide="ignore", invalid="ignore"):
        ux, uy = chord.T / c
        lx, ly = px - px[0], py - py[0]
        x, y = lx * ux + ly * uy, ly * ux - lx * uy
        # the circle's equation over its gradient: well behaved down to a straight line
        away = 4.0 * b * (x * (x - c) + y * y) - 2.0 * c * (1.0 - b * b) * y
        away = np.abs(away) / (2.0 * c * (1.0 + b * b))
        onward = (np.diff(x, axis=0) >= -1e-12 * c).all(axis=0)
    fits = (away.max(axis=0) <= _SHARE * tolerance) & onward & (np.abs(b) <= _MOST_BULGE)
    size = np.maximum(px.max(axis=0) - px.min(axis=0), py.max(axis=0) - py.min(axis=0))
    tiny = size <= tolerance / 10.0
    accepted: Bools = fits | tiny
    return accepted


def _collect(parts: Sequence[_Pieces], count: int, smooth_deg: float) -> Flattened:
    """Return pieces of several kinds as one contour per curve."""
    if not parts:
        return Flattened(Contours.empty(), np.zeros((0, 2)))
    owner = np.concatenate([part.owner for part in parts])
    order = np.argsort(owner, kind="stable")
    flat = {
        name: np.concatenate([getattr(part, name) for part in parts])[order]
        for name in ("starts", "ends", "bulges", "lengths", "headings")
    }
    headings = flat.pop("headings")
    counts = np.bincount(owner, minlength=count)
    offsets = np.concatenate(([0], np.cumsum(counts)))
    first, last = offsets[:-1], offsets[1:] - 1
    starts, ends = flat["starts"], flat["ends"]
    size = np.maximum(np.abs(ends).max(axis=1), 1.0)[last]
    closed = np.hypot(*(ends[last] - starts[first]).T) <= 1e-9 * size
    before = np.arange(len(starts)) - 1
    before[first] = last
    turn = headings[:, 0] - headings[before, 1]
    turn = np.abs(wrapped(turn))
    smooth = turn <= np.radians(smooth_deg)
    smooth[first] &= closed
    inner = np.flatnonzero(before == np.arange(len(starts)) - 1)
    inner = inner[inner > 0]
    starts[inner] = ends[inner - 1]
    starts[first] = np.where(closed[:, None], ends[last], starts[first])
    return Flattened(Contours(**flat, smooth=smooth, offsets=offsets, closed=closed), headings)
