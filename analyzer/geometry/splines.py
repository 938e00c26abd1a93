"""Splines as a drawing holds them, and the Bezier pieces they are made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.contours import Floats


@dataclass(frozen=True, eq=False)
class Spline:
    """A B-spline curve as a drawing holds it.

    Attributes
    ----------
    degree : int
        Polynomial degree, at least 1.
    control : ndarray, shape (n, 2)
        Control points. [mm]
    knots : ndarray, shape (n + degree + 1,)
        Knot values, not decreasing; the curve runs over knots[degree]..knots[n].
    weights : ndarray, shape (n,), or None
        Weights of a rational spline, > 0. [-]
    """

    degree: int
    control: Floats
    knots: Floats
    weights: Floats | None = None


def spline_pieces(spline: Spline) -> Floats:
    """Return the Bezier pieces of one spline, shape (pieces, degree + 1, 3), homogeneous.

    Every span of the proper domain knots[degree]..knots[n] becomes one piece; control
    point j of a piece is the blossom of the span with j arguments at its end [1]_.
    Splines that are not clamped (periodic ones) are right too.

    Raises
    ------
    InputError
        If degree, knots and control points do not belong together.

    References
    ----------
    .. [1] L. Ramshaw, "Blossoms are polar forms", Computer Aided Geometric Design 6
       (1989) 323-358.
    """
    _check(spline)
    pieces: Floats = _pieces_of([spline])[0]
    return pieces


def _check(spline: Spline) -> None:
    """Refuse what is no spline."""
    p, knots, count = spline.degree, np.asarray(spline.knots, float), len(spline.control)
    if p < 1 or count < p + 1 or len(knots) != count + p + 1:
        raise InputError(f"spline of degree {p} with {count} control points, {len(knots)} knots")
    if (knots[1:] < knots[:-1]).any() or not knots[p] < knots[count]:
        raise InputError("spline with knots that do not increase")
    weights = spline.weights
    if weights is not None and (len(weights) != count or not (np.asarray(weights) > 0).all()):
        raise InputError("spline with a weight that is not positive")


def _pieces_of(alike: Sequence[Spline]) -> Floats:
    """Return the pieces of splines of one degree and the same knots, one row each."""
    p, knots = alike[0].degree, np.asarray(alike[0].knots, float)
    count = len(alike[0].control)
    poles = np.ones((len(alike), count, 3))
    for row, spline in enumerate(alike):
        poles[row, :, :2] = spline.control
        if spline.weights is not None:
            poles[row, :, 2] = spline.weights
    poles[:, :, :2] *= poles[:, :, 2:]
    spans = np.flatnonzero(knots[p:count] < knots[p + 1 : count + 1]) + p
    pieces = np.empty((len(alike), len(spans), p + 1, 3))
    low, high = knots[spans], knots[spans + 1]
    for j in range(p + 1):
        level = poles[:, spans[:, None] - p + np.arange(p + 1)]
        for r in range(1, p + 1):
            argument = high if r <= j else low
            i = spans[:, None] - p + np.arange(r, p + 1)
            left, right = knots[i], knots[i + p - r + 1]
            with np.errstate(divide="ignore", invalid="ignore"):
                share = np.where(right > left, (argument[:, None] - left) / (right - left), 0.0)
            more = share[:, :, None]
            level = level[:, :, :-1] * (1.0 - more) + level[:, :, 1:] * more
        pieces[:, :, j] = level[:, :, 0]
    return pieces


def all_pieces(splines: Sequence[Spline]) -> list[Floats]:
    """Return `spline_pieces` of every spline; those with the same knots are done together."""
    alike: dict[tuple[int, bytes], list[int]] = {}
    for row, spline in enumerate(splines):
        _check(spline)
        key = spline.degree, np.asarray(spline.knots, float).tobytes()
        alike.setdefault(key, []).append(row)
    found: list[Floats] = [np.zeros((0, 0, 3))] * len(splines)
    for rows in alike.values():
        for row, pieces in zip(rows, _pieces_of([splines[k] for k in rows]), strict=True):
            found[row] = pieces
    return found
