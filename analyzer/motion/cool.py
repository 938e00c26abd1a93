"""Cool points: where the beam pauses at sharp outside corners of an oxygen cut.

The tip of a corner takes the heat of both edges; shops let it cool with the beam off before
they turn (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Ints
from analyzer.motion.path import HeadPath
from analyzer.parts.part import Part

FROM_MM = 6.0
"""Thinner plate keeps its corners in oxygen too (common practice, no source)."""

SHARPEST_KEPT = 100.0
"""Metal angles up to this are sharp, a right angle among them (ours). [degrees]"""

LARGEST_RADIUS = 0.5
"""A corner rounded more needs no pause (common practice, no source). [mm]"""


def cool_joints(part: Part, head: HeadPath, gas: str, thickness: float) -> Ints:
    """Return the path segments at whose start the head pauses, shape (k,).

    The start of a contour is no pause: the head stands there anyway.
    """
    if gas != "oxygen" or thickness < FROM_MM:
        return np.zeros(0, dtype=np.int64)
    drawn, path = part.contours, head.path
    starts = np.cumsum(drawn.lengths) - drawn.lengths
    found = set()
    for corner in part.corners:
        sharp = corner.angle <= SHARPEST_KEPT and corner.radius <= LARGEST_RADIUS
        if sharp and drawn.closed[corner.row]:
            own = drawn.segments_of(corner.row)
            ways = starts[own] - starts[own.start]
            gap = np.abs(ways - corner.position)
            gap = np.minimum(gap, drawn.length[corner.row] - gap)
            found.add(own.start + int(gap.argmin()))
    if not found:
        return np.zeros(0, dtype=np.int64)
    # the first piece of that drawn segment on the path
    sources, pieces = np.unique(head.source, return_index=True)
    wanted = pieces[np.isin(sources, list(found))]
    inside: Ints = np.setdiff1d(wanted, path.offsets[:-1])
    return inside
