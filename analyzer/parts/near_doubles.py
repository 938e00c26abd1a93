"""Contours drawn nearly twice: equal in shape and size, a fraction of a millimetre apart.

A copy pasted by eye, or two sketches on one plane.  Lines on each other are taken out where the
drawing is read; these are too far apart for that, and which of both is meant nobody can tell.
"""

from __future__ import annotations

import numpy as np

from analyzer.drawing.drawing import NEARLY_TWICE, Fact
from analyzer.geometry.circles import true_circles
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.units import counted

OFFSET_MM, OFFSET_SHARE = 0.25, 0.1
"""Copies lie no further apart than this, and this share of their lesser extent."""

ON_EACH_OTHER = 0.005
"""Nearer copies are taken out where the drawing is read. [mm]"""

ALIKE = 0.02
"""Extents, and places of the centroid in them, of copies agree within this. [mm]"""


def near_doubles(contours: Contours, pairs: Ints) -> Bools:
    """Return which pairs of closed contours are one contour drawn nearly twice, shape (k,)."""
    one, two = pairs.T
    box = contours.box
    extent = box[:, 2:] - box[:, :2]
    least = extent.min(axis=1)[one]
    away = _offsets(contours, pairs)
    moved = contours.centroid[two] - contours.centroid[one]
    middle = (box[two] - box[one])[:, :2] + (extent[two] - extent[one]) / 2.0
    alike = (np.abs(extent[two] - extent[one]) <= ALIKE).all(axis=1)
    alike &= (np.abs(moved - middle) <= ALIKE).all(axis=1)
    alike &= np.abs(contours.length[two] - contours.length[one]) <= 4.0 * ALIKE
    near: Bools = alike & (away <= np.minimum(OFFSET_MM, OFFSET_SHARE * least))
    near &= away > ON_EACH_OTHER
    near &= contours.closed[one] & contours.closed[two]
    return near


def _offsets(contours: Contours, pairs: Ints) -> Floats:
    box = contours.box
    middle = (box[:, :2] + box[:, 2:]) / 2.0
    away: Floats = np.hypot(*(middle[pairs[:, 0]] - middle[pairs[:, 1]]).T)
    return away


def near_double_facts(contours: Contours, pairs: Ints) -> list[Fact]:
    """Return one fact for all near doubles of one size, each with a place of its own."""
    if not len(pairs):
        return []
    one = pairs[:, 0]
    round_ones = true_circles(contours).round[one]
    extent = np.round((contours.box[:, 2:] - contours.box[:, :2])[one], 1)
    away = _offsets(contours, pairs)
    keys = np.column_stack((round_ones, extent))
    _, group = np.unique(keys, axis=0, return_inverse=True)
    facts = []
    for which in range(int(group.max()) + 1):
        rows = np.flatnonzero(group.reshape(-1) == which)
        width, height = (contours.box[one[rows[0]], 2:] - contours.box[one[rows[0]], :2]).tolist()
        name = "circle" if round_ones[rows[0]] else "contour"
        size = f"{width:.4g}" if name == "circle" else f"{width:.4g} x {height:.4g}"
        many = counted(len(rows), f"{name} {size} is", f"{name}s {size} are")
        words = f"{many} drawn nearly twice, up to {away[rows].max():.2f} mm off, "
        words += "and would be cut twice"
        facts += [
            Fact("crossing-contour", words, x, y, sort=NEARLY_TWICE)
            for x, y in contours.centroid[one[rows]].tolist()
        ]
    return facts
