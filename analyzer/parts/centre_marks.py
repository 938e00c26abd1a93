"""Centre marks: short crosses at holes and centre lines through them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Contours, Floats, Ints

SMALL = 4.0
"""A mark belongs to one hole when it extends at most this many diameters. [-]"""

APART = np.radians(30.0)
"""Lines of a cross differ in direction by more than this. [rad]"""


@dataclass(frozen=True, eq=False)
class _Through:
    """An open contour of straight lines that all run through one hole's centre."""

    row: int
    hole: int
    directions: Floats  # of its lines, 0..pi [rad]
    small: bool  # not much larger than the hole
    across: bool  # beyond the hole on both sides
    even: bool  # as long on one side as on the other


def centre_marks(cuts: Contours, centres: Floats, radii: Floats) -> tuple[list[int], list[Floats]]:
    """Return rows of open cuts that mark holes, and the centre of the (first) hole of each.

    A mark is made of straight lines only, all through the hole's centre, and either part
    of a cross of two directions there (small, or beyond the hole on both sides), or a
    single small line even about the centre, or a line through the centres of several
    holes that goes on beyond the last ones.  A line that merely ends at a hole, or joins
    the centres of two, may be a slit with stop holes and stays a cut.

    Parameters
    ----------
    cuts : Contours
        Cut contours.
    centres, radii : ndarray, shape (h, 2) and (h,)
        Round cut-outs. [mm]
    """
    found = _through(cuts, centres, radii)
    at_hole: dict[int, list[_Through]] = {}
    of_row: dict[int, list[_Through]] = {}
    for one in found:
        of_row.setdefault(one.row, []).append(one)
        if one.small or one.across:
            at_hole.setdefault(one.hole, []).append(one)
    crossed = {hole for hole, several in at_hole.items() if _is_cross(several)}
    rows, places = [], []
    for row, several in sorted(of_row.items()):
        cross = any(t.hole in crossed and (t.small or t.across) for t in several)
        lone = any(t.small and t.even for t in several)
        several_holes = len(several) > 1 and all(t.across for t in several)
        if cross or lone or several_holes:
            rows.append(row)
            places.append(centres[several[0].hole])
    return rows, places


def _is_cross(several: list[_Through]) -> bool:
    angles = np.concatenate([t.directions for t in several])
    turn = np.abs(angles[:, None] - angles[None, :])
    return bool((np.minimum(turn, np.pi - turn) > APART).any())


def _through(cuts: Contours, centres: Floats, radii: Floats) -> list[_Through]:
    """All pairs of straight open contours and holes whose centre all their lines run through."""
    straight = np.zeros(len(cuts), bool)
    if len(cuts) and len(centres):
        straight = np.logical_and.reduceat(cuts.bulges == 0.0, cuts.offsets[:-1]) & ~cuts.closed
    lines = np.flatnonzero(straight[cuts.owner])
    if not len(lines):
        return []
    slack = np.maximum(0.05, 0.02 * radii)
    line, hole = box_pairs(
        cuts.segment_box[lines], np.hstack((centres, centres)), float(slack.max())
    )
    segment = lines[line]
    start, end = cuts.starts[segment], cuts.ends[segment]
    step, arm = end - start, centres[hole] - start
    length = np.maximum(cuts.chords[segment], 1e-12)
    along = np.clip(np.einsum("ij,ij->i", step, arm) / length, 0.0, length)
    off = np.hypot(*(start + step * (along / length)[:, None] - centres[hole]).T)
    on = off <= slack[hole]
    segment, hole, along, length = segment[on], hole[on], along[on], length[on]
    row = cuts.owner[segment]
    order = np.lexsort((segment, hole, row))
    groups = np.flatnonzero(np.diff(row[order], prepend=-1) | np.diff(hole[order], prepend=-1))
    count = np.diff(cuts.offsets)
    found = []
    for members in np.split(order, groups[1:]) if len(order) else []:
        if len(members) == count[row[members[0]]]:
            found.append(_describe(cuts, members, segment, hole, along, length, radii))
    return found


def _describe(
    cuts: Contours, members: Ints, segment: Ints, hole: Ints, along: Floats, length: Floats,
    radii: Floats,
) -> _Through:  # fmt: skip
    row, at = int(cuts.owner[segment[members[0]]]), int(hole[members[0]])
    step = cuts.ends[segment[members]] - cuts.starts[segment[members]]
    before, after = along[members], length[members] - along[members]
    radius = float(radii[at])
    box = cuts.box[row]
    extent = float(np.hypot(*(box[2:] - box[:2])))
    single = len(members) == 1
    slack = max(0.05, 0.05 * extent)
    return _Through(
        row, at, np.mod(np.arctan2(step[:, 1], step[:, 0]), np.pi),
        small=extent <= SMALL * 2.0 * radius,
        across=bool(single and before[0] > radius and after[0] > radius),
        even=bool(single and abs(before[0] - after[0]) <= slack),
    )  # fmt: skip
