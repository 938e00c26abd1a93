"""Corners: where a contour turns within a short window of its length."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.parts.part import Corner

LEAST_TURN = np.radians(15.0)
"""Less turn is no corner: chords of a coarsely flattened curve turn as much. [rad]"""

WINDOW_MM, WINDOW_PER_THICKNESS = 0.5, 0.1
"""Turning within this length, or this share of the thickness, is one corner (the larger)."""

TIGHT_MM, TIGHT_PER_THICKNESS = 2.0, 0.2
"""A curve is a rounded corner up to this radius, or this share of the thickness (the larger):
the largest inside radius any gas has a limit for."""

JOG = 0.1
"""Turns to either side as near as this cancel: a step where a gap was closed. [mm]"""


def corner_window(thickness: float) -> float:
    """Return the length within which turning is one corner. [mm]"""
    return max(WINDOW_MM, WINDOW_PER_THICKNESS * thickness)


def find_corners(contours: Contours, rows: Ints, thickness: float) -> list[list[Corner]]:
    """Return the corners of every contour, in drawn order.

    Joints and curves tighter than `TIGHT_MM` (or 0.2 t) that turn the same way and
    follow each other within the window are one corner, with their whole turn: a 0.2 mm
    fillet or ten micro-segments read as one.  Its radius is that of the curve, 0 where a
    single joint turns it all.  Joints inside a spline count by their curvature only.  A
    contour that is one such curve all around is a small hole, with no corners.

    Parameters
    ----------
    contours : Contours
        Outlines counter-clockwise, cut-outs clockwise: metal on the left.  An open
        contour has metal on both sides; its corners are told as tips.
    rows : ndarray of int, shape (n,)
        Row of every contour in its part.
    thickness : float
        Of the sheet. [mm]
    """
    found: list[list[Corner]] = [[] for _ in range(len(contours))]
    if not len(contours):
        return found
    window = corner_window(thickness)
    tight = max(TIGHT_MM, TIGHT_PER_THICKNESS * thickness)
    bends = _unwound(_Bends.of(contours, tight), contours, window)
    first, last = _runs(bends, window)
    turn = _sums(bends.turn, first, last)
    # legs within a jog are noise: there only the way in and the way out count
    jog = bends.end[last] - bends.begin[first] <= 2.0 * JOG
    turn = np.where(jog & ~bends.curve[first] & ~bends.curve[last], wrapped(turn), turn)
    radius = _radii(bends, turn, first, last)
    keep = (np.abs(turn) >= LEAST_TURN) & (radius <= tight * (1.0 + 1e-6))
    first, last, turn, radius = first[keep], last[keep], turn[keep], radius[keep]
    owner = bends.owner[first]
    position = (bends.begin[first] + bends.end[last]) / 2.0
    position = np.where(contours.closed[owner], np.mod(position, contours.length[owner]), position)
    points = _points_along(contours, owner, position)
    turn = np.clip(np.degrees(turn), -180.0, 180.0)
    angle = 180.0 - np.where(contours.closed[owner], turn, np.abs(turn))
    for k in np.lexsort((position, owner)).tolist():
        x, y = points[k].tolist()
        found[owner[k]].append(
            Corner(
                x, y, float(angle[k]), float(radius[k]), float(abs(turn[k])),
                int(rows[owner[k]]), float(position[k]),
            )
        )  # fmt: skip
    return found


def _points_along(contours: Contours, owner: Ints, position: Floats) -> Floats:
    """Points at drawn lengths from the starts of contours, shape (k, 2). [mm]"""
    done = np.concatenate(([0.0], np.cumsum(contours.lengths)))
    target = done[contours.offsets[:-1]][owner] + position
    segment = np.searchsorted(done, target, side="right") - 1
    segment = np.clip(segment, contours.offsets[:-1][owner], contours.offsets[1:][owner] - 1)
    length = contours.lengths[segment]
    share = (target - done[segment]) / np.where(length > 0.0, length, 1.0)
    return contours.points_at(segment, np.clip(share, 0.0, 1.0))


@dataclass(frozen=True, eq=False)
class _Bends:
    """Where contours turn tightly: joints and small arcs, in order along each contour.

    begin and end are positions along the contour [mm]; curve tells arcs from joints.
    """

    owner: Ints
    begin: Floats
    end: Floats
    turn: Floats
    curve: Bools

    @staticmethod
    def of(contours: Contours, tight: float) -> _Bends:
        """Collect joints sharp enough and arcs small enough."""
        done = np.cumsum(contours.lengths) - contours.lengths
        begin = done - done[contours.offsets[:-1]][contours.owner]
        turn = _raw_turns(contours)
        before = np.where(contours.previous >= 0, contours.previous, 0)
        near, far = contours.lengths, contours.lengths[before]
        # a joint within a curve turns for half of both its chords; one beside a long line
        # only for the short chord
        least = np.minimum(np.minimum(near, far), WINDOW_MM)
        apart = np.where(contours.smooth, (near + far) / 2.0, least)
        joint = np.abs(turn) > np.maximum(apart / tight, 1e-6)
        arc = (contours.bulges != 0.0) & (contours.radii <= tight * (1.0 + 1e-9))
        at = np.concatenate((np.flatnonzero(joint), np.flatnonzero(arc)))
        curve = np.repeat([False, True], [joint.sum(), arc.sum()])
        order = np.lexsort((curve, at))  # the joint stands at the start of its segment
        at, curve = at[order], curve[order]
        return _Bends(
            contours.owner[at],
            begin[at],
            begin[at] + np.where(curve, contours.lengths[at], 0.0),
            np.where(curve, contours.sweeps[at], turn[at]),
            curve,
        )

    def take(self, rows: Ints) -> _Bends:
        """Return the bends at `rows`, in that order."""
        return _Bends(
            self.owner[rows], self.begin[rows], self.end[rows], self.turn[rows], self.curve[rows]
        )


def _raw_turns(contours: Contours) -> Floats:
    """Turn at the start joint of every segment, smooth joints included. [rad]"""
    change = contours.start_directions - contours.end_directions[contours.previous]
    change = wrapped(change)
    return np.where(contours.previous < 0, 0.0, change)


def _joined(bends: _Bends, window: float, after: Ints, gap: Floats) -> Bools:
    """Whether a bend belongs together with the one after it."""
    same = np.sign(bends.turn) == np.sign(bends.turn[after])
    near = ((gap <= window) & same) | (gap <= JOG)
    joined: Bools = near & (bends.owner == bends.owner[after])
    return joined


def _unwound(bends: _Bends, contours: Contours, window: float) -> _Bends:
    """Begin each closed contour at a gap between bends, so that no run goes over its start.

    Contours without such a gap (one bend all around) are left out.
    """
    count = len(bends.turn)
    own = np.arange(count)
    begin = np.searchsorted(bends.owner, bends.owner, side="left")
    size = np.searchsorted(bends.owner, bends.owner, side="right") - begin
    after = begin + np.mod(own - begin + 1, size)
    gap = bends.begin[after] - bends.end
    around = after <= own
    gap = np.where(around, gap + contours.length[bends.owner], gap)
    parted = ~_joined(bends, window, after, gap) | (around & ~contours.closed[bends.owner])
    parted |= (size == 1) & ~bends.curve
    first = np.full(len(contours), -1)
    first[bends.owner[parted]] = after[parted]  # after the last gap
    start = first[bends.owner]
    start = np.where(contours.closed[bends.owner], start, begin)
    wound = own < start
    length = np.where(wound, contours.length[bends.owner], 0.0)
    turned = _Bends(bends.owner, bends.begin + length, bends.end + length, bends.turn, bends.curve)
    keep = np.flatnonzero(start >= 0)
    order = keep[np.lexsort((own[keep], wound[keep], bends.owner[keep]))]
    return turned.take(order)


def _runs(bends: _Bends, window: float) -> tuple[Ints, Ints]:
    """First and last bend of every run."""
    if not len(bends.turn):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    after = np.minimum(np.arange(len(bends.turn)) + 1, len(bends.turn) - 1)
    parted = ~_joined(bends, window, after, bends.begin[after] - bends.end)
    parted[-1] = True
    last = np.flatnonzero(parted)
    return np.concatenate(([0], last[:-1] + 1)), last


def _sums(values: Floats, first: Ints, last: Ints) -> Floats:
    total = np.concatenate(([0.0], np.cumsum(values)))
    return total[last + 1] - total[first]


def _radii(bends: _Bends, turn: Floats, first: Ints, last: Ints) -> Floats:
    """Radius of the curve of every run: its length by its turn, half the end joints left out."""
    ends = np.where(bends.curve[first], 0.0, np.abs(bends.turn[first]) / 2.0)
    ends = ends + np.where(bends.curve[last], 0.0, np.abs(bends.turn[last]) / 2.0)
    curved = np.maximum(np.abs(turn) - ends, 1e-9)
    radius = (bends.end[last] - bends.begin[first]) / curved
    return np.where((first == last) & ~bends.curve[first], 0.0, radius)
