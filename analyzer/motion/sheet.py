"""Plan a sheet: many copies, each as it is cut alone, one after the other.

A part is finished before the next begins, its outline last, so that nothing is cut from a part
that lies loose.  Parts that lie in a cut-out of another come before it.  The pierce of every
outline keeps clear of the neighbours: where it is too near, another corner or side is entered.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analyzer.geometry.clearance import box_pairs, contains_points
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.layout.clear import Lines, blocked, distances, lines_of
from analyzer.layout.layout import Layout
from analyzer.motion.alone import PartPlans, plans_of
from analyzer.motion.order import GRID, kept
from analyzer.motion.plan import Plan, Timing
from analyzer.motion.running import move_times
from analyzer.motion.tour import short_tour
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting

BESIDE_CRATER = 1.0
"""Metal left between the crater of a pierce and a neighbour's kerf (common practice, no
source). [mm]"""


@dataclass(frozen=True, eq=False)
class SheetPlan:
    """One sheet under one gas.

    Attributes
    ----------
    layout : Layout
        Where the copies lie.
    plans : tuple of Plan, one a placement
        Each in the axes of its drawing; equal copies share one.
    copies : ndarray of int, shape (m,)
        Placements in cutting order.
    order : ndarray of int, shape (n, 2)
        Placement and contour row of everything cut, in cutting order.
    pierces : ndarray, shape (n, 2)
        Where each is pierced, on the sheet. [mm]
    begins : ndarray, shape (n,)
        When its path is entered, from the first start on. [s]
    crowded : ndarray of int, shape (k,)
        Placements whose outline cannot be pierced clear of the neighbours.
    timing : Timing
        The whole sheet, pallet change under `handling`.
    """

    layout: Layout
    plans: tuple[Plan, ...]
    copies: Ints
    order: Ints
    pierces: Floats
    begins: Floats
    crowded: Ints
    timing: Timing


def plan_sheet(
    layout: Layout, setting: Setting, machine: Machine, thickness: float, *,
    plate: str = "clean", kicks: int | None = None,
) -> SheetPlan:  # fmt: skip
    """Return the plan of all copies of a layout.

    Parameters
    ----------
    layout : Layout
        Copies and where they lie.
    setting : Setting
        Speed, kerf, lead-in and pierce of one gas.
    machine : Machine
        Drives, head, pallet change.
    thickness : float
        Sheet thickness. [mm]
    plate : str
        Surface, one of `analyzer.job.PLATES`.
    kicks : int, optional
        Tries to shorten the way from part to part; by default few.
    """
    made = tuple(plans_of(part, setting, machine, thickness, plate) for part in layout.parts)
    plans, crowded = _clear_plans(layout, made, setting)
    copies = _order(layout, plans, kicks)
    order, pierces, begins, timing = _strung(layout, plans, copies, machine)
    if len(copies):
        timing = replace(timing, handling=machine.pallet_change_s)
    return SheetPlan(layout, plans, copies, order, pierces, begins, crowded, timing)


def _clear_plans(
    layout: Layout, made: tuple[PartPlans, ...], setting: Setting
) -> tuple[tuple[Plan, ...], Ints]:
    """Plan of every placement, its outline pierced clear of the neighbours if that can be."""
    plans = [made[p.part].plan for p in layout.placements]
    lines = lines_of([layout.outlines()])
    bad = np.arange(len(plans))
    tries = 0
    while len(bad):
        trial = {int(k): made[layout.placements[k].part].variant(tries) for k in bad}
        good = _clear(layout, trial, lines, setting)
        for k, fits in zip(trial, good, strict=True):
            if fits:
                plans[k] = trial[k]
        bad = bad[~good]
        tries += 1
        bad = bad[[made[layout.placements[k].part].count > tries for k in bad]]
        if not len(bad):
            break
    left = _clear(layout, dict(enumerate(plans)), lines, setting)
    return tuple(plans), np.flatnonzero(~left)


def _clear(layout: Layout, plans: dict[int, Plan], lines: Lines, setting: Setting) -> Bools:
    """Whether lead-in and pierce of the outlines keep clear of all other outlines."""
    pierces = np.array([
        layout.placements[k].points(plan.pierces[:1])[0] for k, plan in plans.items()
    ]).reshape(-1, 2)  # fmt: skip
    starts = np.array([
        layout.placements[k].points(plan.path.starts[:1])[0] for k, plan in plans.items()
    ]).reshape(-1, 2)  # fmt: skip
    closed = np.array([bool(plan.path.closed[0]) for plan in plans.values()], dtype=bool)
    room = setting.crater_mm + setting.kerf_mm / 2.0 + BESIDE_CRATER
    # its own outline is a lead-in away from the pierce: nearer than asked in a short lead-in only
    own = np.array([float(plan.leads[0]) for plan in plans.values()])
    away = distances(pierces, lines, room)
    ends = starts + 0.02 * (pierces - starts)
    fits = (away >= np.minimum(room, own) - 1e-6) & ~blocked(pierces, ends, lines)
    clear: Bools = np.asarray(fits | ~closed, dtype=bool)
    return clear


def _order(layout: Layout, plans: tuple[Plan, ...], kicks: int | None) -> Ints:
    """Placements in cutting order."""
    if not plans:
        return np.zeros(0, dtype=np.int64)
    places = np.array([
        p.points(plan.pierces[plan.order[-1:]])[0]
        for p, plan in zip(layout.placements, plans, strict=True)
    ])  # fmt: skip
    cells = np.rint((places - places.min(axis=0)) / GRID).astype(np.int64)
    rows = np.lexsort(cells.T[::-1])
    tour = rows[short_tour(cells[rows], kicks=kicks)]
    return kept(tour, _guests_first(layout))


def _guests_first(layout: Layout) -> list[tuple[int, int]]:
    """Pairs (guest, host) of placements: the guest lies within the outline of the host."""
    outlines = layout.outlines()
    start = outlines.starts[outlines.offsets[:-1]]
    host, guest = box_pairs(outlines.box, np.hstack((start, start)), 0.0)
    apart = (host != guest) & outlines.closed[host]
    host, guest = host[apart], guest[apart]
    larger = np.abs(outlines.area[host]) > np.abs(outlines.area[guest])
    host, guest = host[larger], guest[larger]
    within = contains_points(outlines, host, start[guest])
    pairs = np.column_stack((guest[within], host[within]))
    return [(int(g), int(h)) for g, h in pairs]


def _strung(
    layout: Layout, plans: tuple[Plan, ...], copies: Ints, machine: Machine
) -> tuple[Ints, Floats, Floats, Timing]:
    """All contours of all copies one after the other."""
    orders, pierces, begins = [np.zeros((0, 2), np.int64)], [np.zeros((0, 2))], [np.zeros(0)]
    timing = Timing()
    clock, here = 0.0, None
    between = 0.0
    for copy in copies.tolist():
        plan = plans[copy]
        rows = plan.order
        if not len(rows):
            continue
        at = layout.placements[copy].points(plan.pierces[rows])
        if here is not None:
            way = np.hypot(*(at[0] - here))
            move = float(move_times(np.array([way]), machine)[0])
            clock, between = clock + move, between + move
        orders.append(np.column_stack((np.full(len(rows), copy), rows)))
        pierces.append(at)
        begins.append(clock + plan.begins[rows])
        clock += float(plan.begins[rows[-1]] + plan.contour_times[rows[-1]])
        here = at[-1]
        timing = timing + plan.timing
    passes = 1 + (timing.film > 0.0)
    timing = replace(
        timing, traverse=timing.traverse + between, film=timing.film + (passes - 1) * between
    )
    return np.vstack(orders), np.vstack(pierces), np.concatenate(begins), timing
