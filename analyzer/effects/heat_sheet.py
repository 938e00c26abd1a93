"""Heat on a whole sheet: what the beam meets where it pierces, over all cuts made before.

The sum is that of a part alone (docs/heat.md) over all copies in the order of the sheet: the
pieces of every copy lie where the copy lies and are as old as the sheet's clock says.  The plate
is taken as unbounded and at room temperature at the first start; parts that dropped out are
counted as if they still carried heat away.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import shapely

from analyzer.effects.heat_pattern import crowding
from analyzer.effects.heat_sources import PlateHeat, Sources, sources_of
from analyzer.effects.heat_sum import BothHands
from analyzer.effects.heat_targets import asked_at
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.job import Job
from analyzer.layout.clear import lines_of
from analyzer.motion.plan import Plan
from analyzer.motion.sheet import SheetPlan
from analyzer.parts.part import Part
from analyzer.process.burr import burr_terms
from analyzer.process.setting import Setting

ON_REST = 0.1
"""A piece of an outline is still cut where the rest of it runs this near. [mm]"""


@dataclass(frozen=True, eq=False)
class SheetHeat:
    """Rises over the plate's start, along the cutting order of a sheet.

    Attributes
    ----------
    pierces : ndarray, shape (n,)
        Where everything in the plan's `order` is begun, as the beam comes on. [K]
    alone : ndarray, shape (n,)
        The same with the heat of its own copy only: the rest comes from the neighbours. [K]
    """

    pierces: Floats
    alone: Floats

    @property
    def worst(self) -> float:
        """Highest of all. [K]"""
        return float(self.pierces.max(initial=0.0))


def forecast_sheet_heat(plan: SheetPlan, setting: Setting, job: Job) -> SheetHeat | None:
    """Return what the beam meets at every pierce; None for gases in which heat decides nothing.

    Parameters
    ----------
    plan : SheetPlan
        Order, places and clock.
    setting, job : Setting, Job
        The gas, and material, thickness and power.
    """
    terms = burr_terms(setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    if terms.heat_add == 0.0 or not len(plan.order):
        return None
    sources, copy = sheet_sources(plan, setting, job)
    plate = PlateHeat.of(job)
    began = _beam_on(plan, setting)
    asked = asked_at(plan.pierces, began)
    met = BothHands(sources, plate).worse(asked, asked)
    return SheetHeat(met, _own(plan, sources, copy, plate, began))


def _beam_on(plan: SheetPlan, setting: Setting) -> Floats:
    """When the beam comes on at every pierce, shape (n,). [s]"""
    leads = np.array([plan.plans[c].leads[r] for c, r in plan.order.tolist()])
    began: Floats = plan.begins - setting.pierce_s - leads / setting.speed_mm_s
    rests = plan.common.rests if plan.common else {}
    of_rest = np.array([r == 0 and c in rests for c, r in plan.order.tolist()], dtype=bool)
    began[of_rest] = plan.begins[of_rest]
    return began


def _own(plan: SheetPlan, sources: Sources, copy: Ints, plate: PlateHeat, began: Floats) -> Floats:
    """Return the rise by the heat of its own copy only, copies that are cut alike looked up once.

    [K]
    """
    found = np.zeros(len(began))
    order = np.argsort(copy, kind="stable")
    first = np.searchsorted(copy[order], np.arange(len(plan.plans) + 1))
    joined = set(plan.common.lines.copies.ravel().tolist()) if plan.common else set()
    rows = np.argsort(plan.order[:, 0], kind="stable")
    begin = np.searchsorted(plan.order[rows, 0], np.arange(len(plan.plans) + 1))
    known: dict[int, Floats] = {}
    for k in range(len(plan.plans)):
        mine = rows[begin[k] : begin[k + 1]]
        key = id(plan.plans[k])
        if key not in known or k in joined:
            pieces = _take(sources, np.sort(order[first[k] : first[k + 1]]))
            asked = asked_at(plan.pierces[mine], began[mine])
            rise = BothHands(pieces, plate).worse(asked, asked)
            if k in joined:
                found[mine] = rise
                continue
            known[key] = rise
        found[mine] = known[key]
    return found


def sheet_sources(plan: SheetPlan, setting: Setting, job: Job) -> tuple[Sources, Ints]:
    """Return the pieces of all cuts of a sheet in the order of time, and the copy of each.

    What common lines save is left out; cuts through the skeleton come last and are too.
    """
    clock = np.zeros((len(plan.plans), max((len(p.begins) for p in plan.plans), default=0)))
    clock[plan.order[:, 0], plan.order[:, 1]] = plan.begins
    made: dict[int, Sources] = {}
    several: list[Sources] = []
    rests = plan.common.rests if plan.common else {}
    for k, placed in enumerate(plan.layout.placements):
        own = plan.plans[k]
        part = plan.layout.parts[placed.part]
        if id(own) not in made:
            made[id(own)] = _alone(part, own, setting, job)
        pieces = made[id(own)]
        if k in rests:
            pieces = _on_rest(pieces, rests[k].path, setting.kerf_mm)
        later = (clock[k, : len(own.begins)] - own.begins)[pieces.rows]
        moved = placed.points(pieces.xy), pieces.inward @ placed.matrix.T
        several.append(
            replace(pieces, xy=moved[0], inward=moved[1], times=pieces.times + later,
                    back=pieces.back + later)
        )  # fmt: skip
    copy = np.repeat(np.arange(len(several)), [len(s) for s in several])
    joined = _joined(several)
    order = np.lexsort((np.arange(len(copy)), joined.times))
    return _take(joined, order), copy[order]


def _alone(part: Part, plan: Plan, setting: Setting, job: Job) -> Sources:
    crowd = crowding(part.contours, part.islands)
    return sources_of(part.contours, plan, setting, job, crowd.share)


def _on_rest(pieces: Sources, rest: Contours, kerf: float) -> Sources:
    """Leave out the pieces of the outline that the neighbours have cut."""
    keep = pieces.rows != 0
    outline = np.flatnonzero(~keep)
    if len(rest) and len(outline):
        lines = shapely.STRtree(lines_of([rest]))
        at = pieces.xy[outline] - pieces.inward[outline] * (kerf / 2.0)
        near, _ = lines.query(shapely.points(at), predicate="dwithin", distance=ON_REST)
        keep[outline[np.unique(near)]] = True
    return _take(pieces, np.flatnonzero(keep))


def _take(sources: Sources, rows: Ints) -> Sources:
    return Sources(*(getattr(sources, f.name)[rows] for f in fields(Sources)))


def _joined(several: list[Sources]) -> Sources:
    return Sources(
        *(np.concatenate([getattr(s, f.name) for s in several]) for f in fields(Sources))
    )
