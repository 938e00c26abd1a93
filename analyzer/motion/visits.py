"""Visits of the head to the copies of a sheet, one after the other, and the clock along them.

A copy alone is one visit.  Copies joined by common lines are visited twice: for what is cut
inside them, all of them, and then for their outlines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analyzer.geometry.contours import Floats, Ints
from analyzer.geometry.near import components
from analyzer.layout.layout import Layout
from analyzer.layout.touching import SharedLines
from analyzer.motion.common_lines import CommonCuts, Rest
from analyzer.motion.order import kept
from analyzer.motion.plan import Plan, Timing
from analyzer.motion.running import move_times
from analyzer.process.machine import Machine


@dataclass(frozen=True, eq=False)
class Visit:
    """Some rows of one copy, in the order they are cut."""

    copy: int
    rows: Ints


@dataclass(frozen=True, eq=False)
class Strung:
    """All visits one after the other.

    Attributes
    ----------
    order : ndarray of int, shape (n, 2)
        Placement and contour row of everything cut, in cutting order.
    pierces : ndarray, shape (n, 2)
        Where each is begun, on the sheet. [mm]
    begins, spans : ndarray, shape (n,)
        When its path is entered, from the first start on, and how long it is cut. [s]
    timing : Timing
        All of it, without handling.
    ended : float
        When the last is done. [s]
    """

    order: Ints
    pierces: Floats
    begins: Floats
    spans: Floats
    timing: Timing
    ended: float


def joined_groups(count: int, common: SharedLines) -> Ints:
    """Return the group of every placement: those joined by common lines have one, shape (n,)."""
    return components(count, common.copies)


def grouped_visits(
    copies: Ints, groups: Ints, plans: tuple[Plan, ...], guests: list[tuple[int, int]]
) -> tuple[Ints, list[Visit]]:
    """Return placements in the order of their outlines, and the visits.

    A group comes where its first copy did; guests in a cut-out still come before their host.
    """
    _, first = np.unique(groups[copies], return_index=True)
    order = groups[copies[np.sort(first)]]
    between = {(int(groups[g]), int(groups[h])) for g, h in guests if groups[g] != groups[h]}
    order = kept(order, sorted(between))
    members: dict[int, list[int]] = {int(group): [] for group in order}
    for copy in copies.tolist():
        members[int(groups[copy])].append(copy)
    found: list[int] = []
    visits: list[Visit] = []
    for group in order.tolist():
        own = members[group]
        found += own
        if len(own) == 1:
            visits.append(Visit(own[0], plans[own[0]].order))
            continue
        inner = [Visit(copy, plans[copy].order[plans[copy].order != 0]) for copy in own]
        visits += [visit for visit in inner if len(visit.rows)]
        visits += [Visit(copy, np.zeros(1, np.int64)) for copy in own]
    return np.array(found, dtype=np.int64), visits


def string_together(
    layout: Layout, plans: tuple[Plan, ...], visits: list[Visit], machine: Machine,
    common: CommonCuts | None = None,
) -> Strung:  # fmt: skip
    """Return order, places and clock of all visits.

    Parameters
    ----------
    layout : Layout
    plans : tuple of Plan, one a placement
    visits : list of Visit
    machine : Machine
    common : CommonCuts, optional
        Outlines of which only a rest is cut.
    """
    rests = common.rests if common else {}
    orders, pierces = [np.zeros((0, 2), np.int64)], [np.zeros((0, 2))]
    begins, spans = [np.zeros(0)], [np.zeros(0)]
    timing, clock, here, between = Timing(), 0.0, None, 0.0
    seen: set[int] = set()
    for visit in visits:
        plan, rest = plans[visit.copy], rests.get(visit.copy)
        if not len(visit.rows):
            continue
        if visit.copy not in seen:
            timing = timing + plan.timing
            seen.add(visit.copy)
        elif visit.rows[0] == 0:  # the plan alone goes there from its last cut-out
            between -= _way_to_outline(plan)
        if rest is not None and (visit.rows == 0).all():
            timing = timing + rest.timing + rest.instead_of * -1.0
            here, clock, moved, begun, took = _along_rest(
                layout, visit.copy, rest, here, clock, machine
            )
            at = begun[1][None, :]
            begins.append(np.array([begun[0]]))
            spans.append(np.array([took]))
            between += moved
        else:
            at = layout.placements[visit.copy].points(plan.pierces[visit.rows])
            move = _move(here, at[0], machine)
            between += move
            clock += move
            own = plan.begins[visit.rows]
            own = own - (own[0] - plan.befores[visit.rows[0]])
            begins.append(clock + own)
            spans.append(plan.contour_times[visit.rows])
            clock += float(own[-1] + plan.contour_times[visit.rows[-1]])
            here = at[-1]
        orders.append(np.column_stack((np.full(len(visit.rows), visit.copy), visit.rows)))
        pierces.append(at)
    passes = 1 + (timing.film > 0.0)
    timing = replace(
        timing, traverse=timing.traverse + between, film=timing.film + (passes - 1) * between
    )
    return Strung(
        np.vstack(orders), np.vstack(pierces), np.concatenate(begins), np.concatenate(spans),
        timing, clock,
    )  # fmt: skip


def _move(here: Floats | None, there: Floats, machine: Machine) -> float:
    if here is None:
        return 0.0
    return float(move_times(np.array([np.hypot(*(there - here))]), machine)[0])


def _way_to_outline(plan: Plan) -> float:
    """Time of the move from the last cut-out to the outline in the plan of a part alone."""
    last, outline = int(plan.order[-2]), int(plan.order[-1])
    left = plan.begins[outline] - plan.befores[outline]
    return float(left - plan.begins[last] - plan.contour_times[last])


Along = tuple[Floats | None, float, float, tuple[float, Floats], float]


def _along_rest(
    layout: Layout, copy: int, rest: Rest, here: Floats | None, clock: float, machine: Machine
) -> Along:
    """Cut the pieces of a rest: where the head is then, the clock, moves, the begin, the span."""
    placed, path = layout.placements[copy], rest.path
    if not len(path):  # its neighbours have cut all of it
        return here, clock, 0.0, (clock, here if here is not None else np.zeros(2)), 0.0
    starts = placed.points(path.starts[path.offsets[:-1]])
    ends = placed.points(path.ends[path.offsets[1:] - 1])
    moves, begun = 0.0, 0.0
    for k in range(len(path)):
        move = _move(here, starts[k], machine)
        clock += move + machine.start_overhead_s
        moves += move
        begun = clock if k == 0 else begun
        clock += float(rest.times[k])
        here = ends[k]
    return here, clock, moves, (begun, starts[0]), clock - begun
