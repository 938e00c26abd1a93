"""One layout under every gas: planned as a whole, heat and drop looked at, money reckoned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from analyzer.analysis import Analysis, consumption, weight_of
from analyzer.effects.drop_sheet import PlacedDrops, drops_on_sheet
from analyzer.effects.evidence import Evidence
from analyzer.effects.heat_sheet import SheetHeat, forecast_sheet_heat
from analyzer.geometry.contours import Contours, Floats
from analyzer.job import Job
from analyzer.layout.layout import Layout
from analyzer.layout.read_sheet import DrawnSheet
from analyzer.layout.spacing import sheet_edge, spaces_of
from analyzer.money import Bill, Cost, beam_on, cost_of
from analyzer.motion.alone import PartPlans
from analyzer.motion.sheet import SheetPlan, part_plans, plan_sheet
from analyzer.one_sheet import Share, SheetGas, SheetResult
from analyzer.packing.stock import Stock
from analyzer.parts.part import Part
from analyzer.process.rates import Rates
from analyzer.process.rework import Rework
from analyzer.process.setting import Setting
from analyzer.process.unloading import part_minutes, sheet_minutes
from analyzer.rules.judge_sheet import judge_sheet
from analyzer.rules.limits import Limits
from analyzer.rules.rule import Finding
from analyzer.rules.sheet_scene import SheetCase
from analyzer.shop import Shop

TURNED = 90.0  # what a part that comes loose could be turned by [degrees]


@dataclass(frozen=True, eq=False)
class Bench:
    """What is the same for every sheet of a job.

    Attributes
    ----------
    job, shop, limits : Job, Shop, Limits
        Material and laser, the shop, limits in force.
    settings : tuple of Setting
        One a gas.
    parts : tuple of Part
        Distinct parts of the job, named.
    evidence : tuple of tuple of Evidence
        By gas, then by part.
    rework : tuple of tuple of Rework
        Hand work on one copy, by gas, then by part.
    kept : dict
        Plans of the parts by gas, made once for all sheets of the job and all other sizes.
    """

    job: Job
    shop: Shop
    limits: Limits
    settings: tuple[Setting, ...]
    parts: tuple[Part, ...]
    evidence: tuple[tuple[Evidence, ...], ...]
    rework: tuple[tuple[Rework, ...], ...]
    kept: dict[str, tuple[PartPlans, ...]] = field(default_factory=dict)

    def plans(self, gas: int) -> tuple[PartPlans, ...]:
        """Return the plans of the parts under gas number `gas`."""
        setting, machine, job = self.settings[gas], self.shop.machine, self.job
        if setting.gas not in self.kept:
            self.kept[setting.gas] = part_plans(
                self.parts, setting, machine, job.thickness_mm, job.plate
            )
        return self.kept[setting.gas]

    @staticmethod
    def of(
        job: Job, shop: Shop, limits: Limits, settings: tuple[Setting, ...],
        analyses: Sequence[Analysis],
    ) -> Bench:  # fmt: skip
        """Return the bench of a job from the analyses of its drawings, in their order."""
        gases = range(len(settings))
        return Bench(
            job, shop, limits, settings,
            tuple(part for one in analyses for part in one.parts.parts),
            tuple(tuple(e for one in analyses for e in one.gases[k].evidence) for k in gases),
            tuple(tuple(r for one in analyses for r in one.gases[k].rework) for k in gases),
        )  # fmt: skip

    @property
    def names(self) -> tuple[str, ...]:
        """Name of every part."""
        return tuple(part.id for part in self.parts)

    @cached_property
    def weights(self) -> tuple[float, ...]:
        """Weight of one copy of every part. [kg]"""
        return tuple(weight_of(part, self.job) for part in self.parts)


def sheet_result(
    number: int, layout: Layout, copies: int, bench: Bench, *, stock: Stock | None = None,
    drawn: DrawnSheet | None = None, judged: bool = True, kept: Mapping[int, str] | None = None,
) -> SheetResult:  # fmt: skip
    """Return one sheet under every gas.

    Parameters
    ----------
    number : int
        Of the sheet, from 1.
    layout : Layout
        Its parts are those of the bench.
    copies : int
        Sheets cut alike.
    bench : Bench
        What is the same for every sheet.
    stock : Stock, optional
        The sheet it is laid on.
    drawn : DrawnSheet, optional
        What reading the sheet found: common lines and cuts through the skeleton.
    judged : bool
        Whether heat and findings are wanted, too.
    kept : mapping of int to str, optional
        What kept the packer from laying a part safely, by part.
    """
    edge = _edge(layout, stock, drawn)
    drops = drops_on_sheet(layout, bench.shop.machine)
    counts = np.bincount([p.part for p in layout.placements], minlength=len(layout.parts))
    weights = [(bench.weights[p], int(n)) for p, n in enumerate(counts) if n]
    result = SheetResult(
        number, layout, copies, bench.names, stock, edge, (), drops,
        sheet_minutes(weights, bench.shop.rates), bench.job, drawn,
    )  # fmt: skip
    plans = [
        plan_sheet(
            layout, setting, bench.shop.machine, bench.job.thickness_mm, plate=bench.job.plate,
            common=drawn.shared if drawn else None, skeleton=drawn.skeleton if drawn else None,
            edge=edge, made=bench.plans(gas),
        )
        for gas, setting in enumerate(bench.settings)
    ]  # fmt: skip
    gases = tuple(gas_on_sheet(result, plan, k, bench) for k, plan in enumerate(plans))
    if not judged:
        return replace(result, gases=gases)
    heats = [
        forecast_sheet_heat(plan, setting, bench.job)
        for plan, setting in zip(plans, bench.settings, strict=True)
    ]
    found = _judged(result, plans, heats, bench, kept or {})
    gases = tuple(
        replace(one, findings=findings, heat=heat)
        for one, heat, findings in zip(gases, heats, found, strict=True)
    )
    return replace(result, gases=gases)


def _edge(layout: Layout, stock: Stock | None, drawn: DrawnSheet | None) -> Contours:
    if drawn is not None:
        return drawn.outline
    if stock is not None and stock.outline is not None:
        return stock.outline
    return sheet_edge(layout)


def _judged(
    result: SheetResult, plans: Sequence[SheetPlan], heats: Sequence[SheetHeat | None],
    bench: Bench, kept: Mapping[int, str],
) -> tuple[tuple[Finding, ...], ...]:  # fmt: skip
    """Return the findings of the sheet by gas."""
    spaces = (
        result.drawn.spaces if result.drawn
        else spaces_of(result.layout, result.outline if len(result.outline) else None)
    )  # fmt: skip
    turned = _turned(result.layout, bench)
    return judge_sheet([
        SheetCase(bench.job, setting, bench.shop.machine, bench.limits, plan, spaces,
                  result.names, heat, result.drops, turned, kept)
        for setting, plan, heat in zip(bench.settings, plans, heats, strict=True)
    ])  # fmt: skip


def _turned(layout: Layout, bench: Bench) -> PlacedDrops:
    """Return how the copies would lie with every one turned a quarter."""
    turned = tuple(replace(p, turn_deg=p.turn_deg + TURNED) for p in layout.placements)
    return drops_on_sheet(replace(layout, placements=turned), bench.shop.machine)


# --- one gas -----------------------------------------------------------------------------


def gas_on_sheet(result: SheetResult, plan: SheetPlan, gas: int, bench: Bench) -> SheetGas:
    """Return one sheet under gas number `gas`: time, gas, electricity, hand work, money, shares."""
    setting, timing, rates = bench.settings[gas], plan.timing, bench.shop.rates
    metres, hand = np.zeros(4), 0.0
    for part, count in result.counts.items():
        metres = metres + count * bench.evidence[gas][part].edges.metres.sum(axis=0)
        hand += count * bench.rework[gas][part].minutes
    use, energy = consumption(
        setting, timing, plan.pierces_count, bench.job.power_kw, bench.shop.machine
    )
    weight = result.sheet_kg or result.parts_kg
    bill = Bill(timing, use, energy, hand, weight, len(plan.plans), bench.job.material)
    cost = sheet_cost(bill, result.unload_min, rates)
    none, light, medium, heavy = (float(value) for value in metres)
    return SheetGas(
        setting, plan, timing, (none, light, medium, heavy), use, energy, hand, bill, cost,
        _shares(result, plan, gas, bench, cost),
    )  # fmt: skip


def sheet_cost(bill: Bill, unload_min: float, rates: Rates | None) -> Cost | None:
    """Return what a sheet costs: unloading by its own minutes; None without rates."""
    if rates is None:
        return None
    labour = rates.price("labour_per_h").value
    return replace(cost_of(bill, rates), unloading=unload_min / 60.0 * labour)


def _shares(
    result: SheetResult, plan: SheetPlan, gas: int, bench: Bench, cost: Cost | None
) -> tuple[Share, ...]:
    """Return what every part takes of the sheet; the shares add up to it."""
    own, beam = _own_times(plan)
    timing = plan.timing
    part_of = np.array([p.part for p in result.layout.placements], dtype=np.int64)
    area = np.array([part.area for part in bench.parts])
    by_area = area[part_of] / max(float(area[part_of].sum()), 1e-12)
    skeleton = plan.skeleton.timing.total if plan.skeleton else 0.0
    between = timing.total - timing.handling - skeleton - float(own.sum())
    times = own + between / max(len(own), 1) + (timing.handling + skeleton) * by_area
    joint = np.zeros(len(own))
    if plan.common is not None:
        for pair, length in zip(plan.common.lines.copies, plan.common.lines.lengths, strict=True):
            joint[pair] += length / 2.0
    shares = []
    for part, count in result.counts.items():
        mine = part_of == part
        hand = count * bench.rework[gas][part].minutes
        share = Share(
            part, count, float(times[mine].sum()),
            count * bench.parts[part].cut_length - float(joint[mine].sum()), hand,
        )  # fmt: skip
        if cost is not None:
            mine_by_area = float(by_area[mine].sum())
            work = _cost_share(
                cost, bench, result, share, timing.total, float(beam[mine].sum()),
                float(beam.sum()), mine_by_area,
            )  # fmt: skip
            net = cost.material * result.parts_kg / (result.sheet_kg or result.parts_kg)
            share = replace(
                share, cost=work + cost.material * mine_by_area, net_cost=work + net * mine_by_area
            )
        shares.append(share)
    return tuple(shares)


def _own_times(plan: SheetPlan) -> tuple[Floats, Floats]:
    """Return time and beam-on time of every copy, what common lines save taken off. [s]"""
    own = np.array([one.timing.total for one in plan.plans])
    beam = np.array([beam_on(one.timing) for one in plan.plans])
    if plan.common is not None:
        for copy, rest in plan.common.rests.items():
            own[copy] += rest.timing.total - rest.instead_of.total
            beam[copy] += beam_on(rest.timing) - beam_on(rest.instead_of)
    return own, beam


def _cost_share(
    cost: Cost, bench: Bench, result: SheetResult, share: Share, total_s: float, beam_s: float,
    beam_total_s: float, by_area: float,
) -> float:  # fmt: skip
    """Return the money of one part but for the plate, every term by its own measure."""
    rates = bench.shop.rates
    labour = rates.price("labour_per_h").value if rates else 0.0
    by_time = share.time_s / max(total_s, 1e-12)
    by_beam = beam_s / max(beam_total_s, 1e-12)
    own_min = share.count * part_minutes(bench.weights[share.part], rates)
    all_min = sum(n * part_minutes(bench.weights[p], rates) for p, n in result.counts.items())
    unload = own_min + (result.unload_min - all_min) * by_area
    return (
        (cost.machine + cost.operator + cost.energy) * by_time
        + (cost.gas + cost.consumables) * by_beam
        + (share.rework_min + unload) / 60.0 * labour
    )
