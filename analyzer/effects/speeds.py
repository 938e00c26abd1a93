"""The head's speed carried over from the path to the drawn contours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part
from analyzer.process.setting import Setting


def programmed_speeds(plan: Plan, setting: Setting) -> Floats:
    """Return the speed set for every contour, shape (n,): table speed x small-contour factor.

    [mm/s]
    """
    return setting.speed_mm_s * setting.small_contour_factor(plan.ratios)


def slow_lengths(contours: Contours, plan: Plan, limits: Floats) -> Floats:
    """Return the drawn length of every segment run slower than its contour's limit.

    Parameters
    ----------
    contours : Contours
        The part's drawn contours, n contours with s segments.
    plan : Plan
        Plan whose path follows them.
    limits : ndarray, shape (n,)
        Speed of every contour below which an edge counts as slow. [mm/s]

    Returns
    -------
    ndarray, shape (s,)
        Between 0 and the segment's drawn length. [mm]

    Notes
    -----
    The path is shorter or longer than the drawing by the kerf, so a segment's slow share
    on the path is taken for its slow share as drawn.  A drawn segment that the offset
    swallowed (an inside fillet smaller than half the kerf) is cut while the head turns on
    the spot: it is slow if the head is slow where the segment before it ends.
    """
    path, profile = plan.path, plan.profile
    count = len(contours.bulges)
    if not count or not len(path.bulges):
        return np.zeros(count)
    limit = limits[path.owner]
    below = np.bincount(plan.source, weights=profile.length_below(limit), minlength=count)
    whole = np.bincount(plan.source, weights=profile.lengths, minlength=count)
    run = whole > 0.0
    share = np.divide(below, whole, out=np.zeros(count), where=run)
    if not run.all():
        slow_at_end = np.zeros(count, dtype=bool)
        slow_at_end[plan.source] = profile.exit < limit  # the last of a segment's pieces counts
        share = np.where(run, share, _carried(contours, slow_at_end, run))
    slow: Floats = contours.lengths * np.clip(share, 0.0, 1.0)
    return slow


def _carried(contours: Contours, flags: Bools, run: Bools) -> Floats:
    """Return `flags` with each segment not run taking that of the one before it, shape (s,)."""
    index = np.arange(len(run))
    last = np.maximum.accumulate(np.where(run, index, -1))
    first = contours.offsets[:-1][contours.owner]
    # at the start of a contour: what comes before is the contour's last segment that was run
    ends = np.maximum(last[contours.offsets[1:] - 1], 0)[contours.owner]
    found = np.where(last >= first, last, ends)
    return flags[found].astype(float)


def joint_speeds(contours: Contours, plan: Plan) -> Floats:
    """Return the head's speed at the start joint of every drawn segment, shape (s,). [mm/s]

    Infinite where the path has no such joint, and where a contour is begun and ended: the
    head stands there because the cut starts, not because of the drawing.
    """
    path, profile = plan.path, plan.profile
    speeds = np.full(len(contours.bulges), np.inf)
    before = path.previous
    enters = (before < 0) | (plan.source[before] != plan.source)
    enters[path.offsets[:-1]] = False
    at = np.flatnonzero(enters)
    np.minimum.at(speeds, plan.source[at], np.minimum(profile.entry[at], profile.exit[before[at]]))
    return speeds


def moving_least(plan: Plan) -> tuple[Floats, Floats]:
    """Return the least speed of every path segment while the head is under way.

    Returns
    -------
    speeds, fractions : ndarray, shape (s,)
        Least speed without the start and the end of each contour [mm/s], and where on
        the segment it is: 0 at its start, 1 at its end, 0.5 all along or dipping in between.
    """
    profile, path = plan.profile, plan.path
    entry, leave = profile.entry.copy(), profile.exit.copy()
    entry[path.offsets[:-1]] = np.inf
    leave[path.offsets[1:] - 1] = np.inf
    rows = np.stack((entry, leave, np.minimum(profile.ceiling, profile.dips)))
    return rows.min(axis=0), np.array([0.0, 1.0, 0.5])[rows.argmin(axis=0)]


def slowest_under_way(contours: Contours, plan: Plan) -> tuple[Floats, Floats]:
    """Return where every contour is slowest without its start and its end.

    Returns
    -------
    least : ndarray, shape (n,)
        Least speed; infinite for a contour without a path. [mm/s]
    places : ndarray, shape (n, 2)
        Where that is on the drawing. [mm]
    """
    places = contours.centroid.copy()
    least = np.full(len(places), np.inf)
    if not len(plan.path.bulges):
        return least, places
    speeds, fractions = moving_least(plan)
    order = np.lexsort((speeds, plan.path.owner))
    rows, first = np.unique(plan.path.owner[order], return_index=True)
    pick = order[first]
    least[rows] = speeds[pick]
    places[rows] = contours.points_at(plan.source[pick], fractions[pick])
    return least, places


@dataclass(frozen=True)
class SlowPlace:
    """Where the head is slowest under way, and what holds it back.

    Attributes
    ----------
    speed, programmed : float
        Speed there, and what is set for this contour. [mm/s]
    x, y : float
        Place on the path, in the drawing's axes. [mm]
    because : str
        What limits it there, in words.
    radius : float
        Radius that the head takes there, infinite where none limits it. [mm]
    """

    speed: float
    programmed: float
    x: float
    y: float
    because: str
    radius: float


def slowest_place(plan: Plan, setting: Setting) -> SlowPlace | None:
    """Return where the head is slowest while under way; None where it never is."""
    if not len(plan.path.bulges):
        return None
    speeds, fractions = moving_least(plan)
    k = int(np.argmin(speeds))
    path, profile = plan.path, plan.profile
    programmed = float(programmed_speeds(plan, setting)[path.owner[k]])
    x, y = path.points_at([k], [fractions[k]])[0].tolist()
    speed, ceiling = float(speeds[k]), float(profile.ceiling[k])
    next_one = k if fractions[k] < 0.5 else min(k + 1, len(speeds) - 1)
    turn = 0.0 if fractions[k] == 0.5 else float(abs(path.turns[next_one]))
    if turn > np.radians(1.0):
        because = f"a corner that turns by {np.degrees(turn):.0f} degrees, rounded within tolerance"
    elif speed < 0.999 * min(ceiling, programmed):
        because = "ramps: jerk and acceleration leave no way to be faster between its neighbours"
    elif ceiling < 0.999 * programmed:
        because = "a curve"
    else:
        because = "nothing but the speed set for this contour"
    held = turn > np.radians(1.0) or because == "a curve"
    radius = speed**2 / float(profile.acceleration[k]) if held else np.inf
    return SlowPlace(speed, programmed, x, y, because, float(radius))


def corner_speeds(part: Part, plan: Plan, window: float) -> Floats:
    """Return the head's least speed in every corner of the part, shape (k,). [mm/s]

    Infinite for a corner at which its contour is begun.

    Parameters
    ----------
    window : float
        Length of edge that is one corner; a longer fillet counts whole. [mm]
    """
    corners = part.corners
    contours = part.contours
    if not corners or not len(plan.path.bulges):
        return np.full(len(corners), np.inf)
    row = np.array([c.row for c in corners])
    fillet = np.array([c.radius * np.radians(c.turn) for c in corners])
    ways = np.cumsum(contours.lengths) - contours.lengths  # way to the start of every segment
    position = np.array([c.position for c in corners]) + ways[contours.offsets[row]]
    half = np.maximum(fillet, window) / 2.0 + 1e-6
    joints = joint_speeds(contours, plan)
    ceilings = np.full(len(ways), np.inf)
    inner = np.minimum(plan.profile.ceiling, plan.profile.dips)
    np.minimum.at(ceilings, plan.source, inner)
    first = np.maximum(np.searchsorted(ways, position - half), contours.offsets[row])
    stop = np.searchsorted(ways, position + half, side="right")
    stop = np.minimum(stop, contours.offsets[row + 1])
    at_joints = _least_between(joints, first, stop)
    inside = _least_between(ceilings, first, np.maximum(stop - 1, first))
    return np.minimum(at_joints, inside)


def _least_between(values: Floats, first: Ints, stop: Ints) -> Floats:
    """Return the least of values[first:stop] for every pair, shape (k,); infinite if empty."""
    padded = np.append(values, np.inf)
    pairs = np.column_stack((first, np.maximum(stop, first))).ravel()
    least = np.minimum.reduceat(padded, np.minimum(pairs, len(values)))[::2]
    return np.where(stop > first, least, np.inf)
