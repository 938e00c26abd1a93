"""Lead-ins and pierce points: in the scrap, as long as the table says where there is room.

Round holes are pierced at the centre, slots on their centre line with the lead-in along
it; other cut-outs square to where they are entered, outlines outside.  Rules of thumb of
laser shops (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.geometry.offset import ARC_STEP, State
from analyzer.motion.path import HeadPath
from analyzer.parts.part import Part


@dataclass(frozen=True, eq=False)
class Leads:
    """Lead-ins of one part.

    Attributes
    ----------
    lengths : ndarray, shape (n,)
        Length of every lead-in; 0 for open cut lines and where the kerf fills the
        cut-out. [mm]
    rooms : ndarray, shape (n,)
        From the pierce to the nearest kerf middle: d / 2 - w / 2 in a hole; infinite
        for outlines and open cut lines, which have the sheet around them; negative
        where the kerf fills the cut-out. [mm]
    pierces : ndarray, shape (n, 2)
        Where each is pierced, in the drawing's axes. [mm]
    """

    lengths: Floats
    rooms: Floats
    pierces: Floats


def lead_ins(part: Part, head: HeadPath, table: float, kerf: float) -> Leads:
    """Return lead-ins and pierce points.

    Parameters
    ----------
    part : Part
        Its `holes` and `slots` say which cut-outs are pierced in their middle.
    head : HeadPath
        Offset path, starting where each contour is entered.
    table : float
        Lead-in of outlines and large cut-outs. [mm]
    kerf : float
        Mean kerf width. [mm]
    """
    drawn, path = part.contours, head.path
    if not len(path):
        return Leads(np.zeros(0), np.zeros(0), np.zeros((0, 2)))
    first = path.offsets[:-1]
    start = path.starts[first]
    heading = path.start_directions[first]
    scrap = np.column_stack((np.sin(heading), -np.cos(heading)))  # right of travel
    outer = drawn.closed & (drawn.area > 0.0)
    inner = drawn.closed & ~outer
    gone = head.state == State.COLLAPSED

    rooms = np.full(len(path), np.inf)
    asked = inner & ~gone
    asked[[f.row for f in part.holes] + [f.row for f in part.slots]] = False  # known below
    rooms[asked] = inner_reach(path, asked)[asked]
    narrow = 2.0 * np.abs(drawn.area) / np.where(drawn.length > 0.0, drawn.length, 1.0)
    odd = inner & ~np.isfinite(rooms)
    rooms[odd] = (narrow - kerf / 2.0)[odd]
    for hole in part.holes:
        rooms[hole.row] = (hole.diameter - kerf) / 2.0
    along = rooms.copy()
    for slot in part.slots:  # pierced in the middle, joined one width before an end
        rooms[slot.row] = (slot.width - kerf) / 2.0
        along[slot.row] = max(rooms[slot.row], slot.length / 2.0 - slot.width)
    lengths = np.clip(np.minimum(table, along), 0.0, None)
    lengths[~drawn.closed | gone] = 0.0

    pierces = start + scrap * lengths[:, None]
    pierces[outer] = _outside(path, start, lengths)[outer]
    pierces[gone] = drawn.centroid[gone]
    middles = [(f.row, f.x, f.y) for f in part.holes] + [(f.row, f.x, f.y) for f in part.slots]
    for row, x, y in middles:
        pierces[row] = x, y
    return Leads(lengths, rooms, pierces)


def _outside(path: Contours, start: Floats, lengths: Floats) -> Floats:
    """Pierce an outline beyond its entry, on the bisector of a corner."""
    first, last = path.offsets[:-1], path.offsets[1:] - 1
    ahead, behind = path.start_directions[first], path.end_directions[last]
    middle = behind + wrapped(ahead - behind) / 2.0
    out = np.column_stack((np.sin(middle), -np.cos(middle)))
    return start + out * lengths[:, None]


def inner_reach(path: Contours, rows: Bools) -> Floats:
    """Return how far a pierce may lie from the entry of `rows`, shape (n,). [mm]

    The radius of the largest circle that touches the path at its entry, lies to the
    right of it and holds no other point of that path: the distance from its centre is
    then the same to the entry and to the next nearest stretch.  For a circle it is
    the radius, for a slot entered on its long side half the width.

    A line at distance c, its normal leaning mu against the scrap side's, is touched at
    q = c / (1 + mu); a point p at q = |p|^2 / (2 n p).  Arcs are taken at points.
    """
    reach = np.full(len(path), np.inf)
    index = np.flatnonzero(rows[path.owner])
    if not len(index):
        return reach
    first = path.offsets[:-1]
    heading = path.start_directions[first]
    scrap = np.column_stack((np.sin(heading), -np.cos(heading)))
    home = path.owner[index]
    for owner, point in _samples(path, index):
        _least(reach, owner, _touch_points(point - path.starts[first][owner], scrap[owner]))
    flat = index[path.bulges[index] == 0.0]
    home = path.owner[flat]
    a = path.starts[flat] - path.starts[first][home]
    b = path.ends[flat] - path.starts[first][home]
    _least(reach, home, _touch_lines(a, b, scrap[home]))
    return reach


def _samples(path: Contours, index: Ints) -> list[tuple[Ints, Floats]]:
    """Ends of all segments, and points along the arcs; with the contour of each."""
    bent = index[path.bulges[index] != 0.0]
    counts = np.ceil(np.abs(path.sweeps[bent]) / ARC_STEP).clip(1).astype(np.int64)
    segment = np.repeat(bent, counts)
    within = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    points = path.points_at(segment, (within + 0.5) / np.repeat(counts, counts))
    return [(path.owner[index], path.starts[index]), (path.owner[segment], points)]


def _least(reach: Floats, owner: Ints, found: Floats) -> None:
    np.minimum.at(reach, owner, found)


def _touch_points(arm: Floats, scrap: Floats) -> Floats:
    square = np.einsum("ij,ij->i", arm, arm)
    inward = np.einsum("ij,ij->i", arm, scrap)
    good = inward > 1e-9 * np.sqrt(square) + 1e-12
    return np.where(good, square / np.where(good, 2.0 * inward, 1.0), np.inf)


def _touch_lines(a: Floats, b: Floats, scrap: Floats) -> Floats:
    """Circle radius at which a line segment from a to b is touched between its ends."""
    step = b - a
    size = np.hypot(step[:, 0], step[:, 1])
    unit = step / np.where(size > 0.0, size, 1.0)[:, None]
    offset = a[:, 0] * unit[:, 1] - a[:, 1] * unit[:, 0]
    normal = np.column_stack((unit[:, 1], -unit[:, 0])) * np.sign(offset)[:, None]
    gap = np.abs(offset)
    lean = 1.0 + np.einsum("ij,ij->i", normal, scrap)
    good = (gap > 1e-9) & (lean > 1e-9)
    radius = gap / np.where(good, lean, 1.0)
    foot = np.einsum("ij,ij->i", scrap * radius[:, None] - a, unit)
    return np.where(good & (foot >= 0.0) & (foot <= size), radius, np.inf)
