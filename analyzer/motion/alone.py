"""Plan one part alone under one gas: path, lead-ins, local speed, order and time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.geometry.offset import Offset
from analyzer.layout.alone import canonical_poses
from analyzer.motion.ceiling import equivalent_ratios
from analyzer.motion.cool import cool_joints
from analyzer.motion.entering import MOST_TRIES, entered
from analyzer.motion.film import film_time
from analyzer.motion.fly import Stopping, fly_saving
from analyzer.motion.leads import Leads
from analyzer.motion.marking import marking_time
from analyzer.motion.order import Route, entry_choices, route_of, spread_distance
from analyzer.motion.path import kerf_offset
from analyzer.motion.plan import Plan, Timing
from analyzer.motion.running import NO_STOPS, Run, Way, move_times, run_all
from analyzer.motion.slugs import slug_times
from analyzer.motion.traverse import traverse_lengths
from analyzer.parts.part import Part
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting

PRE_PIERCE_FROM = 15.0
"""Oxygen cuts of this thickness are pierced first, where the machine file says so
(common practice, no source). [mm]"""

_ROUTES: WeakKeyDictionary[Part, dict[float, tuple[Route, ...]]] = WeakKeyDictionary()


def plan_alone(
    part: Part, setting: Setting, machine: Machine, thickness: float, plate: str = "clean"
) -> Plan:
    """Return the plan of `part` lying alone in its canonical pose.

    Parameters
    ----------
    part : Part
        A part, or loose cut lines handed around as a part without closed contours.
    setting : Setting
        Speed, kerf, lead-in and pierce of one gas.
    machine : Machine
        Drives, corner tolerance, start overhead, and what the head does besides.
    thickness : float
        Sheet thickness. [mm]
    plate : str
        Surface of the plate, one of `analyzer.job.PLATES`: "film" is burnt off first.

    Returns
    -------
    Plan
        Of poses that tie for the least width, the one that takes longest.
    """
    return plans_of(part, setting, machine, thickness, plate).plan


def plans_of(
    part: Part, setting: Setting, machine: Machine, thickness: float, plate: str = "clean"
) -> PartPlans:
    """Return the plan of `plan_alone`, and how else the outline can be entered."""
    return plans_of_all([part], setting, machine, thickness, plate)[0]


def plans_of_all(
    parts: Sequence[Part], setting: Setting, machine: Machine, thickness: float,
    plate: str = "clean",
) -> tuple[PartPlans, ...]:  # fmt: skip
    """Return `plans_of` every part; their speeds are found together, which is much faster."""
    spread = spread_distance(setting.gas, thickness)
    works = [
        Work(part, kerf_offset(part.contours, setting.kerf_mm), setting, machine, thickness, plate)
        for part in parts
    ]
    ways = [routes(part, spread) for part in parts]
    every = iter(_plans([(w, r) for w, tried in zip(works, ways, strict=True) for r in tried]))
    found = []
    for work, tried in zip(works, ways, strict=True):
        plans = [next(every) for _ in tried]
        best = max(range(len(plans)), key=lambda k: plans[k].timing.total)
        plan = plans[best]
        if spread > 0.0:
            short = _moving(work, _Entry(work, routes(work.part)[best])).total
            plan = replace(plan, spread_s=plan.timing.traverse - short)
        found.append(PartPlans(work, tried[best], plan))
    return tuple(found)


class PartPlans:
    """The plan of a part, and plans that enter its outline elsewhere.

    Attributes
    ----------
    plan : Plan
        With the outline entered where it is best.
    count : int
        Plans there are, that one included.
    work : Work
        What is the same in every pose.
    route : Route
        Of the plan.
    """

    def __init__(self, work: Work, route: Route, plan: Plan) -> None:
        self.plan, self.work, self.route = plan, work, route
        contours = work.part.contours
        outlined = len(contours) > 0 and bool(contours.closed[0])
        self.count = 1 + (MOST_TRIES if outlined else 0)
        self._known = {0: plan}

    def variant(self, number: int) -> Plan:
        """Return plan `number`: 0 is the plan, the others enter the outline at the next choice."""
        if number not in self._known:
            route = self.route
            segments, middles = entry_choices(
                self.work.part.contours, np.zeros(1, np.int64), route.pose, MOST_TRIES
            )
            entry, middle = route.entry.copy(), route.middle.copy()
            entry[0], middle[0] = segments[0, number - 1], middles[0, number - 1]
            other = _plan(self.work, replace(route, entry=entry, middle=middle))
            self._known[number] = replace(other, spread_s=self.plan.spread_s)
        return self._known[number]


def routes(part: Part, spread: float = 0.0) -> tuple[Route, ...]:
    """Return order and entries for every canonical pose, kept for the next gas.

    Contours nearer than `spread` do not follow one another where that can be helped. [mm]
    """
    known = _ROUTES.setdefault(part, {})
    if spread not in known:
        poses = canonical_poses(part.contours)
        known[spread] = tuple(route_of(part.contours, part.marks, p, spread) for p in poses)
    return known[spread]


@dataclass(frozen=True, eq=False)
class Work:
    """What is the same in every pose."""

    part: Part
    moved: Offset
    setting: Setting
    machine: Machine
    thickness: float
    plate: str

    @property
    def pre_pierced(self) -> bool:
        """All pierces are made before the first contour."""
        thick = self.setting.gas == "oxygen" and self.thickness >= PRE_PIERCE_FROM
        return self.machine.pre_pierce and thick

    @property
    def flown(self) -> bool:
        """The machine cuts grids without stopping."""
        return self.thickness <= self.machine.fly_cutting_up_to_mm


class _Entry:
    """Where a part is entered on one route, and how fast each contour may be run."""

    def __init__(self, work: Work, route: Route) -> None:
        part, setting = work.part, work.setting
        self.route = route
        self.found = entered(part, work.moved, route, setting.lead_mm, setting.kerf_mm)
        self.leave, self.pierces = _ends(part.contours, self.found.leads, route)

    def way(self, work: Work, ratios: Floats) -> Way:
        """What the head runs along."""
        setting, machine, head = work.setting, work.machine, self.found.head
        speeds = setting.speed_mm_s * setting.small_contour_factor(ratios)
        stops = NO_STOPS
        if machine.cool_point_s > 0.0:
            stops = cool_joints(work.part, head, setting.gas, work.thickness)
        return Way(head.path, self.found.leads.lengths, speeds, stops, self.route.pose.matrix)


@dataclass(frozen=True, eq=False)
class _Moves:
    """Moves from contour to contour, and all of them together; times in [s]."""

    times: Floats
    total: float


def _moving(work: Work, entry: _Entry) -> _Moves:
    order, pierces, machine = entry.route.order, entry.pierces, work.machine
    times = move_times(traverse_lengths(entry.leave[order], pierces[order]), machine)
    total = float(times.sum())
    if work.pre_pierced and len(order):  # to all pierces first, and back to the first
        there = np.append(order, order[0])
        total += float(move_times(traverse_lengths(pierces[there], pierces[there]), machine).sum())
    return _Moves(times, total)


def _plan(work: Work, route: Route) -> Plan:
    return _plans([(work, route)])[0]


def _plans(wanted: Sequence[tuple[Work, Route]]) -> list[Plan]:
    """Return the plan of parts on routes, all of them for one machine."""
    if not wanted:
        return []
    entries = [_Entry(work, route) for work, route in wanted]
    ratios = [equivalent_ratios(work.part.contours, work.thickness) for work, _ in wanted]
    ways = [
        entry.way(work, own) for entry, (work, _), own in zip(entries, wanted, ratios, strict=True)
    ]
    runs = run_all(ways, wanted[0][0].machine)
    return [
        _timed(work, entry, own, way, run)
        for (work, _), entry, own, way, run in zip(wanted, entries, ratios, ways, runs, strict=True)
    ]


def _timed(work: Work, entry: _Entry, ratios: Floats, way: Way, run: Run) -> Plan:
    """Add up the times of a part that is run along."""
    part, setting, machine = work.part, work.setting, work.machine
    head, leads, path = entry.found.head, entry.found.leads, way.path
    order = entry.route.order
    pauses = np.bincount(path.owner[way.stops], minlength=len(path))
    cool: Floats = pauses.astype(float) * machine.cool_point_s
    running = run.contour_times(path)
    moving = _moving(work, entry)
    slugs = slug_times(part.contours, setting, machine)
    starts = np.full(len(path), machine.start_overhead_s)
    cut = float(path.lengths.sum() + run.overlaps.sum()) / setting.speed_mm_s
    lead = float(leads.lengths.sum()) / setting.speed_mm_s
    timing = Timing(
        cut=cut, slowed=max(float(running.sum() + run.leads.sum()) - cut - lead, 0.0), leads=lead,
        starts=float(starts.sum()), pierce=len(path) * setting.pierce_s,
        traverse=moving.total, marking=marking_time(part.marks, entry.route.marks, machine),
        film=film_time(path, moving.times, machine) if work.plate == "film" else 0.0,
        slugs=float(slugs.sum()), cool=float(cool.sum()),
    )  # fmt: skip
    before = starts + setting.pierce_s + run.leads + slugs
    if work.pre_pierced and len(path):  # a second start a pierce
        timing = replace(timing, starts=2.0 * timing.starts)
        before -= setting.pierce_s
    flown = 0.0
    if work.flown:
        usual = Stopping(starts + setting.pierce_s + run.leads + running, moving.times)
        flown = fly_saving(path, order, run.profile.ceiling, usual, machine)
    return Plan(
        order=order, path=path, source=head.source, profile=run.profile,
        leads=leads.lengths, pierces=entry.pierces, ratios=ratios, timing=timing,
        contour_times=running + cool, lead_rooms=leads.rooms, states=head.state,
        begins=_begins(order, before, running + cool, moving.times),
        blocked=entry.found.blocked, crowded=entry.route.crowded, fly_s=flown, befores=before,
    )  # fmt: skip


def _begins(order: Ints, before: Floats, contour_times: Floats, moves: Floats) -> Floats:
    """When each contour's path is entered, by row: what comes before it, in cutting order."""
    begins: Floats = np.zeros(len(order))
    ready = np.cumsum(before[order])
    ready[1:] += np.cumsum(contour_times[order][:-1] + moves)
    begins[order] = ready
    return begins


def _ends(contours: Contours, leads: Leads, route: Route) -> tuple[Floats, Floats]:
    """Where the head is after every contour, and where it pierces.

    After a closed contour it is within a lead-in of its pierce, on no known side, so the
    pierce stands for it.  An open cut line begins at whichever end is nearer.
    """
    leave, pierces = leads.pierces.copy(), leads.pierces.copy()
    place: Floats | None = None
    open_row = ~contours.closed
    if not open_row.any():
        return leave, pierces
    for row in route.order:
        if open_row[row]:
            part = contours.segments_of(int(row))
            ends = contours.starts[part.start], contours.ends[part.stop - 1]
            swap = place is not None and _far(ends[1], place) < _far(ends[0], place)
            pierces[row], leave[row] = (ends[1], ends[0]) if swap else ends
        place = leave[row]
    return leave, pierces


def _far(a: Floats, b: Floats) -> float:
    return float(np.hypot(*(a - b)))
