"""Round cut-outs, and cut-outs that are long and narrow."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.geometry.circles import Circles, fitted_circles
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.parts.containment import polygons_of
from analyzer.parts.part import Hole, Slot
from analyzer.tolerances import DEFAULT, Tolerances

LONG = 1.5
"""A cut-out that fills its rectangle is a slot from this length / width on. [-]"""

FILLS = 0.75
"""Share of the least rectangle around it that a straight slot fills: an ellipse 0.785. [-]"""

STRIP = 3.0
"""Any other cut-out is a (bent, forked) slot from this length / width of its strip on. [-]"""


def round_cut_outs(contours: Contours, tolerances: Tolerances = DEFAULT) -> Circles:
    """Return which closed contours are round, with the circle of each.

    True arcs exactly, regular polygons from the octagon up and splines by the fitted
    circle, which for a polygon is the one through its vertices: the hole it was drawn for
    (the plate is cut along the chords, an octagon 7.6 % of the radius inside it).
    """
    return fitted_circles(contours, tolerances.round_hole, tolerances.flatten)


def find_holes(circles: Circles, rows: Ints, names: Ints) -> list[Hole]:
    """Return the circles at `rows` as holes; `names` are their rows in the part."""
    return [
        Hole(x, y, 2.0 * radius, name)
        for (x, y), radius, name in zip(
            circles.centre[rows].tolist(), circles.radius[rows].tolist(), names.tolist(),
            strict=True,
        )
    ]  # fmt: skip


def find_slots(contours: Contours, names: Ints) -> list[tuple[int, Slot]]:
    """Return the long and narrow ones of cut-outs that are not round, each with its index.

    A cut-out that fills the least rectangle around it (rectangular, round-ended,
    elliptic) has that rectangle's short side as its width, exactly where the sides are
    straight.  A bent or forked one (a curved slot, a cross of narrow arms) has the width
    and length of the strip of the same area and perimeter: a mean width, not the least,
    and a length along the bends; `angle` is then that of the rectangle.
    """
    if not len(contours):
        return []
    middle, length, width, angle = _least_rectangles(contours)
    area = np.abs(contours.area)
    with np.errstate(divide="ignore", invalid="ignore"):
        fills = area / (length * width)
    straight = (length >= LONG * width) & (fills >= FILLS)
    strip_length, strip_width = _strips(area, contours.length)
    bent = ~straight & (strip_length >= STRIP * strip_width) & (area > 0.0)
    length = np.where(bent, strip_length, length)
    width = np.where(bent, strip_width, width)
    return [
        (k, Slot(
            float(middle[k, 0]), float(middle[k, 1]), float(width[k]), float(length[k]),
            float(angle[k]), int(names[k]),
        ))
        for k in np.flatnonzero(straight | bent).tolist()
    ]  # fmt: skip


def _strips(area: Floats, around: Floats) -> tuple[Floats, Floats]:
    """Length and width of the rectangle with the same area and perimeter. [mm]"""
    half = around / 2.0
    root = np.sqrt(np.maximum(half**2 - 4.0 * area, 0.0))
    return (half + root) / 2.0, (half - root) / 2.0


def _least_rectangles(contours: Contours) -> tuple[Floats, Floats, Floats, Floats]:
    """Middle, length, width [mm] and angle of the length [degrees, 0..180) of the rectangles.

    The rectangle of least *width* along one of the sides of the convex hull, sides of
    flattened arcs included.
    """
    hulls = shapely.convex_hull(polygons_of(contours, 1e-4))
    points, owner = shapely.get_coordinates(hulls, return_index=True)
    begin = np.searchsorted(owner, np.arange(len(contours) + 1))
    middle, length = np.zeros((len(contours), 2)), np.zeros(len(contours))
    width, angle = np.zeros(len(contours)), np.zeros(len(contours))
    for k in range(len(contours)):
        hull = points[begin[k] : begin[k + 1]]
        middle[k], length[k], width[k], angle[k] = _least_rectangle(hull)
    return middle, length, width, angle


def _least_rectangle(hull: Floats) -> tuple[Floats, float, float, float]:
    step = np.diff(hull, axis=0)
    size = np.hypot(step[:, 0], step[:, 1])
    unit = step[size > 0.0] / size[size > 0.0, None]
    order = np.argsort(-size[size > 0.0], kind="stable")[:64]  # long sides come first
    unit = unit[order]
    along = hull @ unit.T
    across = hull @ np.column_stack((-unit[:, 1], unit[:, 0])).T
    spans = np.array([np.ptp(along, axis=0), np.ptp(across, axis=0)])
    narrow = spans.min(axis=0)
    best = int(np.flatnonzero(narrow <= narrow.min() + 1e-6)[0])
    u, v = unit[best], np.array([-unit[best][1], unit[best][0]])
    centre = (along[:, best].min() + along[:, best].max()) / 2.0 * u
    centre = centre + (across[:, best].min() + across[:, best].max()) / 2.0 * v
    long = u if spans[0, best] >= spans[1, best] else v
    angle = float(np.degrees(np.arctan2(long[1], long[0]))) % 180.0
    angle = 0.0 if angle > 180.0 - 1e-9 else angle
    return centre, float(spans[:, best].max()), float(narrow[best]), angle
