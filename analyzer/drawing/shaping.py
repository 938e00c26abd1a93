"""Shapes in drawing units become edges in millimetres; curves become lines and arcs."""

from __future__ import annotations

import numpy as np

from analyzer.budgets import Budgets
from analyzer.drawing.content import split_wide
from analyzer.drawing.edges import Edges
from analyzer.drawing.sources import Shapes
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.flatten import (
    EllipseArcs,
    Flattened,
    flatten_ellipses,
    flatten_splines,
)
from analyzer.geometry.near import distinct
from analyzer.geometry.splines import Spline
from analyzer.tolerances import Tolerances

_SHARE = 0.6  # part of `flatten` used for curves; merging short segments uses the rest
_ROUND = 1e-9  # half axes that differ less, relatively, make a circle


def extent(shapes: Shapes, wanted: Bools) -> Floats | None:
    """Return least x, least y, greatest x, greatest y of the wanted entities, or None.

    Arcs are boxed exactly, ellipses whole, splines by their control points. [drawing units]
    """
    boxes = []
    rows = shapes.segments[wanted[shapes.segment_source]]
    if len(rows):
        source = np.zeros(len(rows), dtype=np.int64)
        box = Edges.of(rows[:, :2], rows[:, 2:4], rows[:, 4], source).as_contours.segment_box
        boxes.append(np.concatenate((box[:, :2].min(axis=0), box[:, 2:].max(axis=0))))
    conics = shapes.conics[wanted[shapes.conic_source]]
    if len(conics):
        reach = np.hypot(conics[:, 2:4], conics[:, 4:6])
        low, high = conics[:, :2] - reach, conics[:, :2] + reach
        boxes.append(np.concatenate((low.min(axis=0), high.max(axis=0))))
    control = [
        s.control
        for s, row in zip(shapes.splines, shapes.spline_source.tolist(), strict=True)
        if wanted[row]
    ]
    if control:
        points = np.concatenate(control)
        boxes.append(np.concatenate((points.min(axis=0), points.max(axis=0))))
    if not boxes:
        return None
    every = np.array(boxes)
    return np.concatenate((every[:, :2].min(axis=0), every[:, 2:].max(axis=0)))


def hole_sizes(shapes: Shapes, wanted: Bools) -> Floats:
    """Return the diameters of full circles, each size once. [drawing units]"""
    rows = shapes.segments[wanted[shapes.segment_source]]
    half = rows[np.abs(np.abs(rows[:, 4]) - 1.0) < 1e-9]
    diameter = np.hypot(half[:, 2] - half[:, 0], half[:, 3] - half[:, 1])
    with np.errstate(divide="ignore"):
        digits = 4 - np.floor(np.log10(np.maximum(diameter, 1e-300)))
    scale = 10.0**digits
    sizes: Floats = distinct(np.round(diameter * scale) / scale)
    return sizes


def to_edges(
    shapes: Shapes, wanted: Bools, factor: float, origin: Floats, tolerances: Tolerances,
    budgets: Budgets, where: str,
) -> Edges:  # fmt: skip
    """Return the geometry of the wanted entities as edges about `origin`. [mm]

    Raises
    ------
    DrawingError
        If a curve or all of them need more vertices than the budgets allow.
    """
    keep = wanted[shapes.segment_source]
    rows = shapes.segments[keep]
    parts = [
        Edges.of(
            rows[:, :2] * factor - origin, rows[:, 2:4] * factor - origin,
            _without_hair(rows, factor), shapes.segment_source[keep],
        )
    ]  # fmt: skip
    allowance, most = _SHARE * tolerances.flatten, budgets.curve_vertices
    keep = wanted[shapes.conic_source]
    if keep.any():
        parts += _conic_edges(
            shapes.conics[keep], shapes.conic_source[keep], factor, origin, allowance, most
        )
    chosen = np.flatnonzero(wanted[shapes.spline_source])
    if len(chosen):
        splines = [
            Spline(s.degree, s.control * factor - origin, s.knots, s.weights)
            for s in (shapes.splines[i] for i in chosen)
        ]
        flat = flatten_splines(splines, allowance, most=most, smooth_deg=tolerances.smooth_deg)
        parts.append(_as_edges(flat, shapes.spline_source[chosen]))
    edges = Edges.join(parts)
    budgets.check("vertices", len(edges), where=where)
    return edges


def _without_hair(rows: Floats, factor: float) -> Floats:
    """Return bulges, 0 where the arc bows less than anybody can draw."""
    chord = np.hypot(rows[:, 2] - rows[:, 0], rows[:, 3] - rows[:, 1])
    return np.where(np.abs(rows[:, 4]) * chord * factor / 2.0 < 1e-7, 0.0, rows[:, 4])


def _conic_edges(
    conics: Floats, source: Ints, factor: float, origin: Floats, tolerance: float, most: int
) -> list[Edges]:
    """Return arcs of circles as they are, arcs of ellipses flattened."""
    centre = conics[:, :2] * factor - origin
    major, minor = conics[:, 2:4] * factor, conics[:, 4:6] * factor
    size = np.hypot(*major.T)
    is_round = (np.abs(size - np.hypot(*minor.T)) <= _ROUND * size) & (
        np.abs((major * minor).sum(axis=1)) <= _ROUND * size**2
    )
    parts = []
    if is_round.any():
        parts.append(
            _circle_edges(centre, major, minor, conics[:, 6:8], source, np.flatnonzero(is_round))
        )
    rows = np.flatnonzero(~is_round)
    if len(rows):
        arcs = EllipseArcs(centre[rows], major[rows], minor[rows], conics[rows, 6], conics[rows, 7])
        parts.append(_as_edges(flatten_ellipses(arcs, tolerance, most=most), source[rows]))
    return parts


def _circle_edges(
    centre: Floats, major: Floats, minor: Floats, span: Floats, source: Ints, rows: Ints
) -> Edges:
    """Return arcs of circles as rows of at most 180 degrees."""
    centre, major, minor, span = centre[rows], major[rows], minor[rows], span[rows]
    sense = np.sign(major[:, 0] * minor[:, 1] - major[:, 1] * minor[:, 0])
    t = span[:, :1] + (span[:, 1:] - span[:, :1]) * np.array([0.0, 0.5, 1.0])
    point = (
        centre[:, None] + major[:, None] * np.cos(t)[:, :, None]
        + minor[:, None] * np.sin(t)[:, :, None]
    )  # fmt: skip
    full = np.abs(span[:, 1] - span[:, 0]) >= 2.0 * np.pi * (1.0 - 1e-12)
    point[full, 2] = point[full, 0]
    bulge = np.tan((span[:, 1] - span[:, 0]) / 8.0) * sense
    lines = np.concatenate([np.column_stack((point[:, k], point[:, k + 1], bulge)) for k in (0, 1)])
    lines = split_wide(lines)
    return Edges.of(lines[:, :2], lines[:, 2:4], lines[:, 4], np.tile(source[rows], 2))


def _as_edges(flat: Flattened, source: Ints) -> Edges:
    contours = flat.contours
    return Edges(
        contours.starts, contours.ends, contours.bulges, contours.lengths, flat.headings,
        np.ones(len(contours.bulges), dtype=bool), source[contours.owner],
    )  # fmt: skip
