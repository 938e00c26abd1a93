"""Plan one part alone under one gas: path, lead-ins, local speed, order and time."""

from __future__ import annotations

from weakref import WeakKeyDictionary

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.geometry.offset import Offset
from analyzer.layout.alone import canonical_poses
from analyzer.motion.ceiling import equivalent_ratios, path_ceilings
from analyzer.motion.leads import Leads, lead_ins
from analyzer.motion.order import Route, route_of
from analyzer.motion.path import head_path, kerf_offset
from analyzer.motion.plan import Plan, Profile, Timing
from analyzer.motion.profile import speed_profile
from analyzer.motion.traverse import rest_to_rest_times, traverse_lengths
from analyzer.parts.part import Part
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting

_ROUTES: WeakKeyDictionary[Part, tuple[Route, ...]] = WeakKeyDictionary()


def plan_alone(part: Part, setting: Setting, machine: Machine, thickness: float) -> Plan:
    """Return the plan of `part` lying alone in its canonical pose.

    Parameters
    ----------
    part : Part
        A part, or loose cut lines handed around as a part without closed contours.
    setting : Setting
        Speed, kerf, lead-in and pierce of one gas.
    machine : Machine
        Accelerations, rapid speed, corner tolerance, start overhead.  Jerk is not used.
    thickness : float
        Sheet thickness. [mm]

    Returns
    -------
    Plan
        Of poses that tie for the least width, the one that takes longest.
    """
    moved = kerf_offset(part.contours, setting.kerf_mm)
    plans = [_plan(part, moved, route, setting, machine, thickness) for route in routes(part)]
    return max(plans, key=lambda plan: plan.timing.total)


def routes(part: Part) -> tuple[Route, ...]:
    """Return order and entries for every canonical pose; the same for all gases, so kept."""
    if part not in _ROUTES:
        poses = canonical_poses(part.contours)
        _ROUTES[part] = tuple(route_of(part.contours, part.marks, pose) for pose in poses)
    return _ROUTES[part]


def _plan(
    part: Part, moved: Offset, route: Route, setting: Setting, machine: Machine, thickness: float
) -> Plan:
    head = head_path(moved, route)
    path = head.path
    leads = lead_ins(part, head, setting.lead_mm, setting.kerf_mm)
    ratios = equivalent_ratios(part.contours, thickness)
    speeds = setting.speed_mm_s * setting.small_contour_factor(ratios)
    profile, lead_times = _head_speed(path, leads.lengths, speeds, machine)
    contour_times: Floats = np.zeros(len(path))
    np.add.at(contour_times, path.owner, profile.times)
    leave, pierces = _ends(part.contours, leads, route)
    moves = rest_to_rest_times(
        traverse_lengths(leave[route.order], pierces[route.order]),
        machine.rapid_mm_s, machine.rapid_acceleration * 1000.0,
    )  # fmt: skip
    cut = float(path.lengths.sum()) / setting.speed_mm_s
    lead = float(leads.lengths.sum()) / setting.speed_mm_s
    moving = float(contour_times.sum() + lead_times.sum())
    timing = Timing(
        cut=cut, slowed=max(moving - cut - lead, 0.0), leads=lead,
        starts=len(path) * machine.start_overhead_s, pierce=len(path) * setting.pierce_s,
        traverse=float(moves.sum()) + len(moves) * machine.lift_s,
        marking=marking_time(part.marks, route.marks, machine),
    )  # fmt: skip
    return Plan(
        order=route.order, path=path, source=head.source, profile=profile,
        leads=leads.lengths, pierces=pierces, ratios=ratios, timing=timing,
        contour_times=contour_times, lead_rooms=leads.rooms, states=head.state,
        begins=_begins(
            route.order, machine.start_overhead_s + setting.pierce_s + lead_times, contour_times,
            moves + machine.lift_s,
        ),
    )  # fmt: skip


def _begins(order: Ints, before: Floats, contour_times: Floats, moves: Floats) -> Floats:
    """When each contour's path is entered, by row: what comes before it, in cutting order."""
    begins: Floats = np.zeros(len(order))
    ready = np.cumsum(before[order])
    ready[1:] += np.cumsum(contour_times[order][:-1] + moves)
    begins[order] = ready
    return begins


def _head_speed(
    path: Contours, leads: Floats, speeds: Floats, machine: Machine
) -> tuple[Profile, Floats]:
    """Speed from pierce to end of every contour: along the path, and the lead-in times."""
    acceleration = machine.cut_acceleration * 1000.0
    inside, joints = path_ceilings(path, speeds, acceleration, machine.corner_tolerance_mm)
    first = path.offsets[:-1]
    # one lead-in before every contour (of length 0 it changes nothing)
    profile = speed_profile(
        np.insert(path.lengths, first, leads), np.insert(inside, first, speeds),
        np.insert(joints, first, np.inf), path.offsets + np.arange(len(path) + 1), acceleration,
    )  # fmt: skip
    entering = first + np.arange(len(path))
    keep = np.ones(len(profile.lengths), dtype=bool)
    keep[entering] = False
    along = profile.take(keep)
    return along, profile.times[entering]


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


def marking_time(marks: Contours, order: Ints, machine: Machine) -> float:
    """Return the time of all mark lines, each from rest to rest, and the moves between. [s]

    Corners of marks are not counted; moves go from the middle of one to the next.
    """
    if not len(marks):
        return 0.0
    lines = rest_to_rest_times(
        marks.length, machine.marking_mm_s, machine.cut_acceleration * 1000.0
    )
    place = ((marks.box[:, :2] + marks.box[:, 2:]) / 2.0)[order]
    moves = rest_to_rest_times(
        traverse_lengths(place, place), machine.rapid_mm_s, machine.rapid_acceleration * 1000.0
    )
    return float(lines.sum() + moves.sum())
