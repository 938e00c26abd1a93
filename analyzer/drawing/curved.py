"""Ellipses and splines, as the library holds them, become plain numbers."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from analyzer.drawing.content import (
    FAR,
    FLAT,
    NOT_FLAT,
    OUT_OF_RANGE,
    ZERO_LENGTH,
    Content,
    facing_of,
    fine,
)
from analyzer.geometry.contours import Floats
from analyzer.geometry.splines import Spline

_MOST_DEGREE = 25


def read_ellipse(entity: Any, index: int, content: Content) -> str:
    """Read an ELLIPSE into `content`; return why it is not used, or nothing."""
    dxf = entity.dxf
    centre, major, ratio = dxf.center, dxf.major_axis, float(dxf.ratio)
    first, last = float(dxf.get("start_param", 0.0)), float(dxf.get("end_param", 2.0 * math.pi))
    facing = facing_of(entity)
    if not fine(centre.x, centre.y, major.x, major.y, major.z, ratio, first, last):
        return OUT_OF_RANGE
    size = math.hypot(major.x, major.y)
    if facing == 0 or abs(major.z) > FLAT:
        return NOT_FLAT
    if not 1e-6 <= abs(ratio) <= 1e6 or size == 0.0 or max(abs(first), abs(last)) > 1e6:
        return "axis or ratio of the ellipse out of range"
    sweep = math.fmod(last - first, 2.0 * math.pi)
    sweep += 2.0 * math.pi if sweep < 0.0 else 0.0
    if min(sweep, 2.0 * math.pi - sweep) < 1e-9:
        sweep = 2.0 * math.pi
        content.closed.add(index)
    minor = (-major.y * ratio * facing, major.x * ratio * facing)
    content.conics.append(
        (centre.x, centre.y, major.x, major.y, *minor, first, first + sweep)
    )  # fmt: skip
    content.conic_source.append(index)
    return ""


def read_spline(entity: Any, index: int, content: Content) -> str:
    """Read a SPLINE into `content`; return why it is not used, or nothing."""
    control = np.array(entity.control_points.values, dtype=float).reshape(-1, 3)
    degree = int(entity.dxf.degree)
    if len(control):
        knots = np.array(entity.knots, dtype=float)
        weights = np.array(entity.weights, dtype=float) if len(entity.weights) else None
    else:
        fitted = _through_points(entity)
        if fitted is None:
            return "spline without points"
        degree, control, knots, weights = fitted
    everything = np.concatenate((control.ravel(), knots, [] if weights is None else weights))
    if not np.isfinite(everything).all() or np.abs(control).max() >= FAR:
        return OUT_OF_RANGE
    if np.ptp(control[:, 2]) > FLAT:
        return NOT_FLAT
    if not 1 <= degree <= _MOST_DEGREE:
        return f"spline of degree {degree}"
    if len(control) < degree + 1 or len(knots) != len(control) + degree + 1:
        return "spline whose knots and control points do not belong together"
    if (np.diff(knots) < 0.0).any() or not knots[degree] < knots[len(control)]:
        return "spline whose knots do not increase"
    if weights is not None and (len(weights) != len(control) or not (weights > 0.0).all()):
        return "spline with a weight that is not positive"
    if np.ptp(control[:, :2], axis=0).max() == 0.0:
        return ZERO_LENGTH
    content.splines.append(Spline(degree, control[:, :2].copy(), knots, weights))
    content.spline_source.append(index)
    return ""


def _through_points(entity: Any) -> tuple[int, Floats, Floats, Floats | None] | None:
    """Return degree, control points, knots and weights of a spline given by fit points only."""
    points = list(entity.fit_points)
    if len(points) < 2:
        return None
    if entity.closed and not (points[0] - points[-1]).magnitude < 1e-9:
        points.append(points[0])
    from ezdxf.math import fit_points_to_cad_cv

    tangents = None
    if entity.dxf.hasattr("start_tangent") and entity.dxf.hasattr("end_tangent"):
        tangents = (entity.dxf.start_tangent, entity.dxf.end_tangent)
    curve = fit_points_to_cad_cv(points, tangents=tangents)
    control = np.array([tuple(p) for p in curve.control_points], dtype=float)
    return curve.degree, control, np.array(curve.knots(), dtype=float), None
