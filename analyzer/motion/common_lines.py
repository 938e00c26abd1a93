"""Common lines: an edge of two parts is cut with the first, the second has only the rest.

The rest of an outline is one open cut or several.  Each begins in a kerf that is there already,
so it needs a start (the head comes down and senses) but neither pierce nor lead-in.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints, wrapped
from analyzer.layout.layout import Layout
from analyzer.layout.touching import SharedLines
from analyzer.motion.alone import PartPlans, Work
from analyzer.motion.cool import cool_joints
from analyzer.motion.film import film_time
from analyzer.motion.path import HeadPath
from analyzer.motion.plan import Plan, Timing
from analyzer.motion.running import NO_STOPS, run_along

NEAR_END = 0.05
"""A stretch that ends nearer to a corner reaches it; half a kerf comes on top. [mm]"""

BESIDE = 0.05
"""How far off half a kerf the head's path may lie beside a common line. [mm]"""


@dataclass(frozen=True, eq=False)
class Rest:
    """What is left to cut of an outline, in the axes of its drawing.

    Attributes
    ----------
    path : Contours
        Open pieces in the order along the outline; none where the neighbours cut it all.
    times : ndarray, shape (k,)
        Of every piece from rest to rest. [s]
    timing : Timing
        Of all pieces, moves between them not counted.
    instead_of : Timing
        Of the whole outline with its start, pierce and lead-in, which they stand for.
    """

    path: Contours
    times: Floats
    timing: Timing
    instead_of: Timing


@dataclass(frozen=True, eq=False)
class CommonCuts:
    """What common lines change on one sheet.

    Attributes
    ----------
    lines : SharedLines
        The lines cut once.
    rests : dict of int to Rest
        By placement: outlines of which only a rest is cut.
    pierces_saved : int
        Outlines that need no pierce.
    length_mm : float
        Cut that is saved, at the head. [mm]
    saved_s : float
        What is saved, moves not counted. [s]
    """

    lines: SharedLines
    rests: dict[int, Rest]
    pierces_saved: int
    length_mm: float
    saved_s: float


def common_cuts(
    layout: Layout, made: tuple[PartPlans, ...], plans: tuple[Plan, ...], lines: SharedLines,
    copies: Ints,
) -> CommonCuts:  # fmt: skip
    """Return what is left of every outline when a common line is cut with the first part.

    Parameters
    ----------
    layout : Layout
    made : tuple of PartPlans, one a part
    plans : tuple of Plan, one a placement
    lines : SharedLines
        Between the outlines of placements.
    copies : ndarray of int
        Placements in the order their outlines are cut.
    """
    rank = np.empty(len(copies), np.int64)
    rank[copies] = np.arange(len(copies))
    later_is_low = rank[lines.copies[:, 0]] > rank[lines.copies[:, 1]]
    later = np.where(later_is_low, lines.copies[:, 0], lines.copies[:, 1])
    away = np.where(later_is_low[:, None], 0.0, lines.across)
    known: dict[tuple[int, int, bytes], Rest] = {}
    rests: dict[int, Rest] = {}
    order = np.argsort(later, kind="stable")
    for rows in np.split(order, np.flatnonzero(np.diff(later[order])) + 1) if len(order) else []:
        copy = int(later[rows[0]])
        placed = layout.placements[copy]
        # the two run it against each other: the upper one from its end to its start
        ends = [_back(placed.matrix, p[rows] + away[rows] - (placed.x, placed.y))
                for p in (lines.starts, lines.middles, lines.ends)]  # fmt: skip
        cell = np.column_stack(ends).round(2) + 0.0
        key = (placed.part, id(plans[copy]), cell[np.lexsort(cell.T)].tobytes())
        if key not in known:
            known[key] = rest_of(
                made[placed.part],
                plans[copy],
                np.stack(ends, axis=1),
                np.abs(4.0 * np.arctan(lines.bulges[rows])),
            )
        rests[copy] = known[key]
    return CommonCuts(
        lines, rests, len(rests),
        float(sum((r.instead_of.cut - r.timing.cut) for r in rests.values()))
        * (made[0].work.setting.speed_mm_s if made else 0.0),
        float(sum(r.instead_of.total - r.timing.total for r in rests.values())),
    )  # fmt: skip


def _back(matrix: Floats, points: Floats) -> Floats:
    """From the sheet to the axes of the drawing; the matrix is orthogonal."""
    back: Floats = points @ matrix
    return back


def rest_of(made: PartPlans, plan: Plan, stretches: Floats, sweeps: Floats) -> Rest:
    """Return what is left of the outline of a part without some stretches of it.

    Parameters
    ----------
    made : PartPlans
        Of the part.
    plan : Plan
        As its outline is entered here.
    stretches : ndarray, shape (k, 3, 2)
        Start, middle and end of every stretch, in the axes of the drawing. [mm]
    sweeps : ndarray, shape (k,)
        How far each turns; 0 for a line. [rad]
    """
    work = made.work
    outline = plan.path.take([0])
    half = work.setting.kerf_mm / 2.0
    taken = _taken(outline, stretches, sweeps, half)
    path, segment = _left(outline, taken)
    stops = NO_STOPS
    if work.machine.cool_point_s > 0.0:
        head = HeadPath(plan.path, plan.source, plan.states)
        stops = cool_joints(work.part, head, work.setting.gas, work.thickness)
        stops = stops[stops < plan.path.offsets[1]]
    whole, _ = _timing(made, outline, plan.leads[:1], plan.ratios[:1], stops, pierced=True)
    begun = np.zeros(len(segment), bool)
    begun[path.offsets[:-1]] = True
    still = np.flatnonzero(np.isin(segment, stops) & ~begun)
    ratios = np.repeat(plan.ratios[:1], len(path))
    timing, times = _timing(made, path, np.zeros(len(path)), ratios, still, pierced=False)
    return Rest(path, times, timing, whole)


def _timing(
    made: PartPlans, path: Contours, leads: Floats, ratios: Floats, stops: Ints, *, pierced: bool
) -> tuple[Timing, Floats]:
    """Time split of lines without the moves to them, and the time along each."""
    if not len(path):
        return Timing(), np.zeros(0)
    work: Work = made.work
    setting, machine = work.setting, work.machine
    speeds = setting.speed_mm_s * setting.small_contour_factor(ratios)
    run = run_along(path, leads, speeds, machine, stops, made.route.pose.matrix)
    running = run.contour_times(path)
    cut = float(path.lengths.sum() + run.overlaps.sum()) / setting.speed_mm_s
    lead = float(leads.sum()) / setting.speed_mm_s
    starts = len(path) * machine.start_overhead_s * (2.0 if work.pre_pierced and pierced else 1.0)
    cool = np.bincount(path.owner[stops], minlength=len(path)) * machine.cool_point_s
    timing = Timing(
        cut=cut, slowed=max(float(running.sum() + run.leads.sum()) - cut - lead, 0.0),
        leads=lead, starts=starts, pierce=len(path) * setting.pierce_s if pierced else 0.0,
        film=film_time(path, np.zeros(0), machine) if work.plate == "film" else 0.0,
        cool=float(cool.sum()),
    )  # fmt: skip
    return timing, running + cool


# --- the line without its stretches -------------------------------------------


Taken = dict[int, list[tuple[float, float]]]
"""By segment: shares of it, from and to, that a neighbour has cut."""


def _taken(path: Contours, stretches: Floats, sweeps: Floats, half: float) -> Taken:
    """Shares of the path's segments that run half a kerf beside the stretches."""
    taken: Taken = {}
    for points, sweep in zip(stretches, sweeps.tolist(), strict=True):
        if sweep > 0.0:
            low, high = _beside_arc(path, points, sweep, half)
        else:
            low, high = _beside_line(path, points, half)
        span = path.lengths
        reach = (half + NEAR_END) / np.maximum(span, 1e-12)
        low = np.where(low <= reach, 0.0, low)
        high = np.where(high >= 1.0 - reach, 1.0, high)
        for k in np.flatnonzero((high - low) * span > NEAR_END).tolist():
            taken.setdefault(k, []).append((float(low[k]), float(high[k])))
    return taken


def _beside_line(path: Contours, points: Floats, half: float) -> tuple[Floats, Floats]:
    """From where to where every straight segment runs beside a stretch; nothing: 0 to 0."""
    size = np.maximum(path.chords, 1e-12)
    unit = (path.ends - path.starts) / size[:, None]
    left = np.column_stack((-unit[:, 1], unit[:, 0]))
    arms = [point - path.starts for point in points[[0, 2]]]
    off = np.stack([np.einsum("ij,ij->i", arm, left) for arm in arms])
    at = np.stack([np.einsum("ij,ij->i", arm, unit) for arm in arms]) / size
    fits = (np.abs(off - half) <= BESIDE).all(axis=0) & (path.bulges == 0.0)
    low, high = np.clip(at.min(axis=0), 0.0, 1.0), np.clip(at.max(axis=0), 0.0, 1.0)
    return np.where(fits, low, 0.0), np.where(fits, high, 0.0)


def _beside_arc(path: Contours, points: Floats, sweep: float, half: float) -> tuple[Floats, Floats]:
    """From where to where every arc runs beside a stretch of arc; nothing: 0 to 0."""
    arc = np.flatnonzero(path.bulges != 0.0)
    low, high = np.zeros(len(path.bulges)), np.zeros(len(path.bulges))
    centre, sign = path.centres[arc], np.sign(path.bulges[arc])
    drawn = path.radii[arc] - sign * half  # counter-clockwise: the path lies outside
    own = np.abs(path.sweeps[arc])
    fits = np.ones(len(arc), bool)
    for point in points:
        fits &= np.abs(np.hypot(*(point - centre).T) - drawn) <= BESIDE
    arm, middle = points[1] - centre, path.points_at(arc, np.full(len(arc), 0.5)) - centre
    ahead = np.arctan2(arm[:, 1], arm[:, 0]) - np.arctan2(middle[:, 1], middle[:, 0])
    ahead = wrapped(ahead) * sign
    least = np.maximum(ahead - sweep / 2.0, -own / 2.0)
    most = np.minimum(ahead + sweep / 2.0, own / 2.0)
    fits &= most > least
    low[arc] = np.where(fits, least / own + 0.5, 0.0)
    high[arc] = np.where(fits, most / own + 0.5, 0.0)
    return low, high


def _left(outline: Contours, taken: Taken) -> tuple[Contours, Ints]:
    """Open pieces of a closed line without the shares taken, and the segment of each piece of it.

    A line of which nothing is taken stays as it is.
    """
    count = len(outline.bulges)
    if not taken:
        return outline, np.arange(count)
    kept: list[tuple[int, float, float]] = []
    for k in range(count):
        kept += [(k, *share) for share in _without(taken.get(k, []))]
    if not kept:
        return Contours.empty(), np.zeros(0, np.int64)
    joined = [
        one[2] == 1.0 and two[1] == 0.0 and two[0] == (one[0] + 1) % count
        for one, two in zip(kept, kept[1:] + kept[:1], strict=True)
    ]
    first = next(k for k, linked in enumerate(joined) if not linked) + 1
    kept, joined = kept[first:] + kept[:first], joined[first:] + joined[:first]
    segment = np.array([k[0] for k in kept], np.int64)
    low, high = np.array([k[1] for k in kept]), np.array([k[2] for k in kept])
    offsets = np.concatenate(([0], np.flatnonzero(~np.array(joined)) + 1)).astype(np.int64)
    begins = np.zeros(len(kept), bool)
    begins[offsets[:-1]] = True
    return Contours(
        outline.points_at(segment, low), outline.points_at(segment, high),
        np.tan(np.arctan(outline.bulges[segment]) * (high - low)),
        outline.lengths[segment] * (high - low), outline.smooth[segment] & ~begins & (low == 0.0),
        offsets, np.zeros(len(offsets) - 1, bool),
    ), segment  # fmt: skip


def _without(taken: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """What is left of 0 to 1.

    Examples
    --------
    >>> _without([(0.0, 0.2), (0.5, 0.6)])
    [(0.2, 0.5), (0.6, 1.0)]
    """
    left, at = [], 0.0
    for low, high in sorted(taken):
        if low > at + 1e-9:
            left.append((at, low))
        at = max(at, high)
    if at < 1.0 - 1e-9:
        left.append((at, 1.0))
    return left
