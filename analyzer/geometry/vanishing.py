"""One contour in which something vanishes when it is offset, through a polygon buffer.

Arcs are cut every 3 degrees.  What is left keeps to the offset side, mitred; when nothing is
left the path shrinks to the centre line or the centre, and where the offset would fall apart or
lose a slit it follows the drawn line, so that lengths and times stay finite.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
import shapely

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, arc_lengths
from analyzer.tolerances import Tolerances

MITRE_LIMIT = 10.0
"""Longest mitre in distances; a sharper tip (below 11.5 degrees) is squared off there. [-]"""

ARC_STEP = np.radians(3.0)
"""Step by which arcs become chords where a contour needs the polygon buffer. [rad]"""


class State(IntEnum):
    """What became of a contour."""

    KEPT = 0
    """Every segment has its offset."""
    TRIMMED = 1
    """Something smaller than the distance vanished; the rest was joined."""
    DRAWN = 2
    """The offset would fall apart or lose a slit: the path follows the drawn line."""
    COLLAPSED = 3
    """Nothing is left: the path is the centre line, or the centre with length 0."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Path segments in the order of their rows."""

    starts: Floats
    ends: Floats
    bulges: Floats
    stretch: Floats
    smooth: Bools
    source: Ints
    row: Ints


def stretch_of(c: Contours) -> Floats:
    """Drawn length over the length of the line or arc, above 1 for flattened curves."""
    plain = arc_lengths(c.chords, c.bulges)
    return np.where(plain > 0.0, c.lengths / np.where(plain > 0.0, plain, 1.0), 1.0)


def offset_alone(
    contours: Contours, row: int, distance: float, tolerances: Tolerances
) -> tuple[Pieces, State]:
    """Offset one contour through a polygon buffer."""
    points, origin = _chords(contours, row)
    sign = 1.0 if contours.area[row] >= 0.0 else -1.0
    if len(points) < 3:
        return _centre_line(contours, row, points, distance), State.COLLAPSED
    polygon = shapely.polygons(points)
    if not polygon.is_valid:
        return _as_drawn(contours, row), State.DRAWN
    grown = polygon.buffer(sign * distance, join_style="mitre", mitre_limit=MITRE_LIMIT)
    pieces = [g for g in shapely.get_parts(grown) if g.area > 1e-6 * distance**2]
    if not pieces:
        return _centre_line(contours, row, points, distance), State.COLLAPSED
    if len(pieces) > 1 or len(pieces[0].interiors):
        return _as_drawn(contours, row), State.DRAWN
    ring = shapely.get_coordinates(shapely.orient_polygons(pieces[0], exterior_cw=sign < 0.0))[:-1]
    step = np.roll(ring, -1, axis=0) - ring
    ring = ring[np.hypot(step[:, 0], step[:, 1]) > tolerances.vanish]
    first = contours.starts[contours.offsets[row]]
    ring = np.roll(ring, -int(np.argmin(np.hypot(*(ring - first).T))), axis=0)
    ends = np.roll(ring, -1, axis=0)
    lines = shapely.linestrings(np.stack((points, np.roll(points, -1, axis=0)), axis=1))
    tree = shapely.STRtree(lines)
    source = origin[tree.nearest(shapely.points((ring + ends) / 2.0))]
    missing = np.setdiff1d(np.unique(origin), source)
    if np.any(contours.lengths[missing] > 4.0 * abs(distance)):
        return _as_drawn(contours, row), State.DRAWN  # a slit narrower than the kerf
    earlier = np.roll(source, 1)
    within = (source == earlier) & (contours.bulges[source] != 0.0)
    within |= contours.smooth[source] & (contours.previous[source] == earlier)
    count = len(ring)
    stretch = np.where(contours.bulges[source] == 0.0, stretch_of(contours)[source], 1.0)
    piece = Pieces(
        ring, ends, np.zeros(count), stretch, within, source, np.full(count, row)
    )  # fmt: skip
    return piece, State.TRIMMED


def _chords(contours: Contours, row: int) -> tuple[Floats, Ints]:
    """Points along one contour, arcs cut every ARC_STEP, and the segment each starts on."""
    part = contours.segments_of(row)
    index = np.arange(part.start, part.stop)
    index = index[contours.lengths[part] > 0.0]
    counts = np.ceil(np.abs(contours.sweeps[index]) / ARC_STEP).clip(1).astype(np.int64)
    origin = np.repeat(index, counts)
    within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return contours.points_at(origin, within / np.repeat(counts, counts)), origin


def _as_drawn(contours: Contours, row: int) -> Pieces:
    part = contours.segments_of(row)
    index = np.arange(part.start, part.stop)
    return Pieces(
        contours.starts[part], contours.ends[part], contours.bulges[part],
        stretch_of(contours)[part], contours.smooth[part], index, np.full(len(index), row),
    )  # fmt: skip


def _centre_line(contours: Contours, row: int, points: Floats, distance: float) -> Pieces:
    """One straight segment along the longer axis, kept the distance off both ends."""
    part = contours.segments_of(row)
    box = shapely.get_coordinates(shapely.oriented_envelope(shapely.multipoints(points)))
    longest = part.start + int(np.argmax(contours.lengths[part]))
    middle = contours.centroid[row]
    half = np.zeros(2)
    if len(box) > 3:
        sides = np.diff(box[:3], axis=0)
        size = np.hypot(sides[:, 0], sides[:, 1])
        long = int(np.argmax(size))
        half = sides[long] / size[long] * max(size[long] / 2.0 - abs(distance), 0.0)
    ends = np.array([middle - half, middle + half])
    return Pieces(
        ends[:1], ends[1:], np.zeros(1), np.ones(1), np.zeros(1, bool),
        np.array([longest]), np.array([row]),
    )  # fmt: skip


def with_slit_lengths(path: Contours, drawn: Contours, state: Ints, distance: float) -> Contours:
    """Give a collapsed slit that bends its true centre line: half its outline less the kerf."""
    rows = np.flatnonzero(state == State.COLLAPSED)
    if not len(rows):
        return path
    lengths = path.lengths.copy()
    segment = path.offsets[:-1][rows]
    bent = drawn.length[rows] / 2.0 - 2.0 * abs(distance)
    slit = drawn.length[rows] ** 2 > 40.0 * np.abs(drawn.area[rows])  # a circle has 4 pi
    lengths[segment] = np.where(slit & (bent > 1.2 * lengths[segment]), bent, lengths[segment])
    return replace(path, lengths=lengths)
