"""Plan a sheet: many copies, each as it is cut alone, one after the other.

A part is finished before the next begins, its outline last, so that nothing is cut from a part
that lies loose.  Parts that lie in a cut-out of another come before it.  The pierce of every
outline keeps clear of the neighbours, of the cut-out it lies in and of the edge of the sheet:
where it is too near, another corner or side is entered.

Parts with common lines come loose together: all their cut-outs are cut first, then their
outlines one after the other, each common line with the first of its two.  Cuts through the
skeleton come last of all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.geometry.clearance import box_pairs, contains_points
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.layout.layout import Layout
from analyzer.layout.spacing import sheet_edge
from analyzer.layout.touching import SharedLines
from analyzer.motion.alone import PartPlans, plan_alone, plans_of_all
from analyzer.motion.clearing import clear_plans
from analyzer.motion.common_lines import CommonCuts, common_cuts
from analyzer.motion.order import GRID, kept
from analyzer.motion.plan import Plan, Timing
from analyzer.motion.running import move_times
from analyzer.motion.tour import short_tour
from analyzer.motion.visits import Visit, grouped_visits, joined_groups, string_together
from analyzer.parts.part import Part
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting


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
    common : CommonCuts or None
        What common lines change: outlines of which only a rest is cut; None without any.
    skeleton : Plan or None
        Cuts through the skeleton, the last of all, on the sheet; None without any.
    skeleton_s : float
        When the head arrives at the first of them. [s]
    spans : ndarray, shape (n,)
        How long each of `order` is cut, from `begins` on. [s]
    """

    layout: Layout
    plans: tuple[Plan, ...]
    copies: Ints
    order: Ints
    pierces: Floats
    begins: Floats
    crowded: Ints
    timing: Timing
    common: CommonCuts | None = None
    skeleton: Plan | None = None
    skeleton_s: float = 0.0
    spans: Floats = field(default_factory=lambda: np.zeros(0))

    @property
    def pierces_count(self) -> int:
        """How often the sheet is pierced."""
        saved = self.common.pierces_saved if self.common else 0
        more = len(self.skeleton.order) if self.skeleton else 0
        every = sum(len(plan.order) for plan in self.plans)
        return every - saved + more


def plan_sheet(
    layout: Layout, setting: Setting, machine: Machine, thickness: float, *,
    plate: str = "clean", kicks: int | None = None, common: SharedLines | None = None,
    skeleton: Contours | None = None, edge: Contours | None = None,
    made: tuple[PartPlans, ...] | None = None,
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
    common : SharedLines, optional
        Lines of two outlines that are cut once: those of a drawn sheet, or those parts that
        face each other could have (`analyzer.layout.touching.facing_lines`).
    skeleton : Contours, optional
        Cuts through the skeleton, on the sheet.
    edge : Contours, optional
        Outline of the sheet; without it the rectangle of the layout, where it has one.
    made : tuple of PartPlans, optional
        Plans of the layout's parts under the same setting, where another sheet of the same
        parts was planned before.
    """
    if made is None:
        made = part_plans(layout.parts, setting, machine, thickness, plate)
    rim = sheet_edge(layout) if edge is None else edge
    plans, crowded = clear_plans(layout, made, setting, rim)
    guests = _guests_first(layout)
    copies = _order(layout, plans, kicks, guests)
    if common is None or not len(common):
        visits = [Visit(copy, plans[copy].order) for copy in copies.tolist()]
        cuts = None
    else:
        groups = joined_groups(len(plans), common)
        copies, visits = grouped_visits(copies, groups, plans, guests)
        cuts = common_cuts(layout, made, plans, common, copies)
        crowded = np.array([k for k in crowded.tolist() if k not in cuts.rests], dtype=np.int64)
    strung = string_together(layout, plans, visits, machine, cuts)
    timing, cut_skeleton, at = strung.timing, None, 0.0
    if skeleton is not None and len(skeleton):
        cut_skeleton = _skeleton_plan(skeleton, setting, machine, thickness, plate)
        step = cut_skeleton.pierces[cut_skeleton.order[:1]] - strung.pierces[-1:]
        move = float(move_times(np.hypot(step[:, 0], step[:, 1]), machine).sum())
        at = strung.ended + move
        timing = timing + cut_skeleton.timing + Timing(traverse=move)
    if len(copies) or cut_skeleton:
        timing = replace(timing, handling=machine.pallet_change_s)
    return SheetPlan(
        layout, plans, copies, strung.order, strung.pierces, strung.begins, crowded, timing,
        cuts, cut_skeleton, at, strung.spans,
    )  # fmt: skip


def part_plans(
    parts: Sequence[Part], setting: Setting, machine: Machine, thickness: float,
    plate: str = "clean",
) -> tuple[PartPlans, ...]:  # fmt: skip
    """Return the plans of parts, to be used for every sheet they lie on."""
    return plans_of_all(parts, setting, machine, thickness, plate)


def _skeleton_plan(
    lines: Contours, setting: Setting, machine: Machine, thickness: float, plate: str
) -> Plan:
    nothing = Contours.empty()
    part = Part("skeleton", 1, None, lines, nothing, nothing, (), (), (), (), ())
    return plan_alone(part, setting, machine, thickness, plate)


def _order(
    layout: Layout, plans: tuple[Plan, ...], kicks: int | None, guests: list[tuple[int, int]]
) -> Ints:
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
    return kept(tour, guests)


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
