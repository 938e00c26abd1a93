"""How fast the head may go at every place of a path, before its acceleration is asked.

Three limits: the table speed times the small-contour factor, sqrt(a r) on arcs, and a
corner rounded within the machine's tolerance.  All radii in mm, speeds in mm/s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analyzer.geometry.contours import Bools, Contours, Floats, wrapped
from analyzer.process.machine import Machine

STRAIGHT = 1e-6
"""A joint turning less is none: the same line drawn in two pieces. [rad]"""


def corner_radius(turn: Floats, tolerance: float) -> Floats:
    """Return the radius of the arc that rounds a corner within `tolerance`. [mm]

    r = delta s / (1 - s), s = sin(theta / 2) with theta the angle between both legs:
    the arc tangent to both legs that passes delta from the corner.  Infinite when the
    turn is nothing, 0 for a reversal.

    Parameters
    ----------
    turn : ndarray
        Change of heading, 0 (straight) to pi. [rad]
    tolerance : float
        How far the head may cut the corner, delta. [mm]

    Examples
    --------
    >>> radius = corner_radius(np.radians([90.0, 120.0]), 0.05)
    >>> (np.sqrt(10000.0 * radius) * 0.06).round(4)
    array([2.0846, 1.3416])
    """
    half = np.minimum(np.abs(turn), np.pi) / 2.0
    # 1 - cos(half) without cancellation
    rise = 2.0 * np.sin(half / 2.0) ** 2
    with np.errstate(divide="ignore"):
        radius: Floats = tolerance * np.cos(half).clip(0.0) / rise
    return radius


def equivalent_ratios(contours: Contours, thickness: float) -> Floats:
    """Return 4 area / perimeter over thickness of closed contours, shape (n,). [-]

    Infinite for open ones.  Of a circle it is diameter / thickness.
    """
    length = np.where(contours.length > 0.0, contours.length, 1.0)
    ratio = 4.0 * np.abs(contours.area) / length / thickness
    return np.where(contours.closed, ratio, np.inf)


@dataclass(frozen=True, eq=False)
class AxisLimits:
    """Limits of the machine's axes, and how the path lies to them.

    Attributes
    ----------
    x, y : float
        Largest acceleration (or jerk) of each axis; infinite where it is not told.
    matrix : ndarray, shape (2, 2)
        Rotation from the axes of the path to those of the machine.
    """

    x: float
    y: float
    matrix: Floats

    def along(self, path: Contours) -> Floats:
        """Return the limit along every segment, shape (s,): the least over its headings."""
        return self._least(path, 0.0)

    def across(self, path: Contours) -> Floats:
        """Return the limit square to every segment, shape (s,): the least over its headings."""
        return self._least(path, np.pi / 2.0)

    def _least(self, path: Contours, quarter: float) -> Floats:
        turned = np.arctan2(self.matrix[1, 0], self.matrix[0, 0]) + quarter
        first = path.start_directions + turned
        low = np.minimum(first, first + path.sweeps)
        span = np.abs(path.sweeps)
        limit = np.full(len(low), np.inf)
        for most, axis in ((self.x, 0.0), (self.y, np.pi / 2.0)):
            # share of the axis: |cos| of the angle to it, 1 where an arc passes along it
            off = np.mod(low - axis, np.pi)
            share = np.maximum(np.abs(np.cos(off)), np.abs(np.cos(off + span)))
            share = np.where(off + span >= np.pi, 1.0, share)
            with np.errstate(divide="ignore"):
                limit = np.minimum(limit, most / share)
        return limit


@dataclass(frozen=True, eq=False)
class DriveLimits:
    """What the drives allow on every segment of a path.

    Attributes
    ----------
    along, across : ndarray, shape (s,)
        Largest acceleration along and square to the path. [mm/s^2]
    jerk : ndarray, shape (s,)
        Largest jerk along it. [mm/s^3]
    acceleration_anyhow, jerk_anyhow : float
        The same in the worst direction, for stretches whose heading is not known.
    """

    along: Floats
    across: Floats
    jerk: Floats
    acceleration_anyhow: float
    jerk_anyhow: float


def drive_limits(path: Contours, machine: Machine, matrix: Floats | None = None) -> DriveLimits:
    """Return the limits of the drives: of the path as a whole, and of each axis where told.

    Parameters
    ----------
    path : Contours
        What the head follows.
    machine : Machine
        Cutting acceleration and jerk; those of the axes where they are above 0.
    matrix : ndarray, shape (2, 2), optional
        Rotation from the axes of the path to those of the machine; none if they agree.
    """
    pose = np.eye(2) if matrix is None else matrix

    def least(whole: float, x: float, y: float) -> tuple[Floats, Floats, float]:
        in_x, in_y = (1000.0 * value if value > 0.0 else np.inf for value in (x, y))
        axes = AxisLimits(in_x, in_y, pose)
        bound = 1000.0 * whole
        return (
            np.minimum(axes.along(path), bound), np.minimum(axes.across(path), bound),
            min(axes.x, axes.y, bound),
        )  # fmt: skip

    m = machine
    along, across, worst = least(m.cut_acceleration, m.x_acceleration, m.y_acceleration)
    jerk, _, worst_jerk = least(m.jerk, m.x_jerk, m.y_jerk)
    return DriveLimits(along, across, jerk, worst, worst_jerk)


def path_ceilings(
    path: Contours, speeds: Floats, acceleration: ArrayLike, tolerance: float
) -> tuple[Floats, Floats]:
    """Return the speed limit inside every segment and at its start joint, shapes (s,). [mm/s]

    Parameters
    ----------
    path : Contours
        What the head follows.
    speeds : ndarray, shape (n,)
        Speed of every contour on a long straight line: table speed times factor. [mm/s]
    acceleration : float or array_like, shape (s,)
        Largest acceleration across the path; in a corner the less of both segments
        counts. [mm/s^2]
    tolerance : float
        Corner rounding tolerance. [mm]

    Notes
    -----
    An arc smaller than the rounding a corner may have anyway is not slower than that
    corner (a fillet of 0.01 mm is a corner).
    """
    base = speeds[path.owner]
    rounding = np.minimum(
        corner_radius(path.sweeps, tolerance), corner_radius(np.array(np.pi / 2), tolerance)
    )
    radius = np.maximum(path.radii, np.where(path.bulges == 0.0, 0.0, rounding))
    limit = np.broadcast_to(np.asarray(acceleration, dtype=float), base.shape)
    inside = np.minimum(base, np.sqrt(limit * radius))
    reach = float(speeds.max(initial=0.0)) ** 2 / float(limit.min(initial=np.inf))
    least = np.minimum(limit, limit[path.previous])
    joints = np.minimum(base, np.sqrt(least * joint_radii(path, tolerance, reach)))
    return inside, joints


def joint_radii(path: Contours, tolerance: float, reach: float) -> Floats:
    """Return the radius the head can take at the start joint of every segment, shape (s,). [mm]

    One corner alone may be rounded within `tolerance`.  Several that turn the same way
    close together are a curve: k joints turning by Phi over the length W have the radius
    W / Phi, plus what rounding Phi as a whole allows.  The least over k = 1, 2, 4, ...
    counts, so ten short chords are as slow as the arc they stand for, neither a false
    corner each nor no corner at all.  Joints inside a smooth source curve (spline,
    ellipse) are never a corner: their radius is W / Phi of neighbours.

    Parameters
    ----------
    path : Contours
        Lines and arcs.
    tolerance : float
        Corner rounding tolerance. [mm]
    reach : float
        Radii above this limit nothing; longer windows are not looked at. [mm]
    """
    limit = np.full(len(path.bulges), np.inf)
    turn = _true_turns(path)
    bends = np.flatnonzero(np.abs(turn) > STRAIGHT)
    if not len(bends):
        return limit
    owner, smooth = path.owner[bends], path.smooth[bends]
    before = np.concatenate(([0.0], np.cumsum(path.lengths)))[bends]
    radius = np.where(smooth, np.inf, corner_radius(turn[bends], tolerance))
    heading = np.concatenate(([0.0], np.cumsum(turn[bends])))
    rough = np.concatenate(([0], np.cumsum(~smooth)))
    k = 2
    while k <= len(bends):
        span = before[k - 1 :] - before[: len(bends) - k + 1]
        together = owner[k - 1 :] == owner[: len(bends) - k + 1]
        together &= span <= np.pi * reach
        if not together.any():
            break
        around = np.abs(heading[k:] - heading[:-k])
        corners = (rough[k:] - rough[:-k]) > 0
        found = _window_radius(span * (k / (k - 1.0)), around, corners, tolerance)
        # a curve from a spline bends differently from place to place: neighbours only
        found[~together | (~corners & (k > 2))] = np.inf
        for middle in (k // 2 - 1, k // 2):
            part = radius[middle : middle + len(found)]
            np.minimum(part, found, out=part)
        k *= 2
    limit[bends] = radius
    return limit


def _window_radius(length: Floats, turn: Floats, corners: Bools, tolerance: float) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = length / turn
    radius[turn <= STRAIGHT] = np.inf
    rounding = np.where(corners, corner_radius(turn, tolerance), 0.0)
    found: Floats = radius + rounding
    return found


def _true_turns(path: Contours) -> Floats:
    """Change of heading at every start joint, smooth ones too; 0 where a contour starts. [rad]"""
    change = path.start_directions - path.end_directions[path.previous]
    change = wrapped(change)
    change[path.offsets[:-1]] = 0.0
    return change
