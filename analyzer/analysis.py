"""The stations joined: a drawing and a job become parts, plans, edges and findings, per gas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from analyzer.drawing.drawing import Drawing, Fact
from analyzer.effects.drop import OnSlats, forecast_drop, lay_on_slats
from analyzer.effects.edges import forecast_edges
from analyzer.effects.evidence import Evidence
from analyzer.effects.heat import HeatGround, forecast_heat, heat_ground
from analyzer.effects.speeds import slowest_place
from analyzer.geometry.contours import Contours
from analyzer.geometry.once import lengths_once
from analyzer.headlines import (
    Number,
    Totals,
    drop_numbers,
    motion_numbers,
    numbers_of,
    slow_numbers,
)
from analyzer.heat_headlines import heat_numbers
from analyzer.job import Job
from analyzer.layout.alone import canonical_poses
from analyzer.money import Bill, Cost, beam_on, cost_of, money_numbers
from analyzer.motion.alone import plans_of_all
from analyzer.motion.plan import Plan, Timing
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part, PartSet
from analyzer.process.calibrated import scaled
from analyzer.process.choose import LeftOut, settings_for
from analyzer.process.electricity import electric_draw
from analyzer.process.flow import NO_GAS, GasUse, gas_use
from analyzer.process.hand_rates import START_RATES, HandRates
from analyzer.process.machine import Machine
from analyzer.process.material import material, material_named
from analyzer.process.rework import Body, Rework, rework_minutes
from analyzer.process.setting import Setting
from analyzer.rules.judge import drawing_findings, facts_of, judge
from analyzer.rules.limits import load_limits
from analyzer.rules.rule import Finding
from analyzer.shop import Shop
from analyzer.tolerances import DEFAULT, Tolerances


@dataclass(frozen=True, eq=False)
class GasResult:
    """The drawing under one gas.

    Attributes
    ----------
    material : str
        Canonical name.
    setting : Setting
        Cutting data.
    evidence : tuple of Evidence
        One for every distinct part, in their order.
    loose : Evidence or None
        Open cut lines outside every part.
    timing : Timing
        All copies. [s]
    edge_m : tuple of four float
        Drawn edge by burr class 0..3, all copies; adds up to the drawn cut length. [m]
    rework : tuple of Rework
        Hand work on one copy of every distinct part.
    rework_min : float
        Hand work on all copies. [min]
    findings : tuple of Finding
        What goes wrong where.
    numbers : tuple of Number
        The headline numbers.
    gas_nm3 : GasUse
        Gas used by all copies, mixed gas split. [Nm3]
    energy_kwh : float
        Electricity of the whole machine, all copies. [kWh]
    bill : Bill or None
        Quantities that cost money, all copies.
    cost : Cost or None
        What they cost; None where the shop has no rates.
    fly_s : float
        What fly cutting of grids would save, all copies; 0 where the machine cannot. [s]
    """

    material: str
    setting: Setting
    evidence: tuple[Evidence, ...]
    loose: Evidence | None
    timing: Timing
    edge_m: tuple[float, float, float, float]
    rework: tuple[Rework, ...]
    rework_min: float
    findings: tuple[Finding, ...]
    numbers: tuple[Number, ...] = ()
    gas_nm3: GasUse = NO_GAS
    energy_kwh: float = 0.0
    bill: Bill | None = None
    cost: Cost | None = None
    fly_s: float = 0.0

    @property
    def gas(self) -> str:
        """Name of the gas."""
        return self.setting.gas

    @property
    def minutes(self) -> float:
        """Machine and hand work together, all copies. [min]"""
        return self.timing.total / 60.0 + self.rework_min


@dataclass(frozen=True, eq=False)
class Analysis:
    """All that is known of one drawing and job, for every gas."""

    parts: PartSet
    job: Job
    shop: Shop
    gases: tuple[GasResult, ...]
    left_out: tuple[LeftOut, ...]
    on_drawing: tuple[Finding, ...] = ()  # of the drawing rules, where no gas is listed

    @cached_property
    def facts(self) -> tuple[Fact, ...]:
        """What the stations measured and repaired, and what the drawing rules found."""
        return facts_of(self.parts, self.gases[0].findings if self.gases else self.on_drawing)

    @property
    def drawing(self) -> Drawing:
        """The drawing, with symbols that are not cuts set aside."""
        return self.parts.drawing

    @cached_property
    def totals(self) -> Totals:
        """Sums over all copies."""
        return totals_of(self.parts, self.job)

    def under(self, gas: str) -> GasResult | None:
        """Return the result under `gas`, None where it is not listed."""
        return next((result for result in self.gases if result.gas == gas), None)


def analyse(drawing: Drawing, job: Job, shop: Shop, tolerances: Tolerances = DEFAULT) -> Analysis:
    """Return what every gas does to the parts of `drawing`.

    Raises
    ------
    InputError
        If material, thickness, power or a gas asked for is not possible.
    """
    own = {row.material for row in shop.own_rows}
    job = replace(job, material=material_named(job.material, own).name)  # "S235" from Python
    settings, left_out = settings_in(job, shop)
    parts = find_parts(drawing, job.thickness_mm, tolerances)
    return analyse_parts(parts, job, shop, settings, left_out)


def settings_in(job: Job, shop: Shop) -> tuple[tuple[Setting, ...], tuple[LeftOut, ...]]:
    """Return what every gas can do for a job in a shop, and the gases left out.

    Raises
    ------
    InputError
        If material, thickness, power or a gas asked for is not possible.
    """
    settings, left_out = settings_for(
        job, own_rows=shop.own_rows, supplies=shop.supplies, machine=shop.machine
    )
    return scaled(settings, shop.calibration), left_out


def analyse_parts(
    parts: PartSet, job: Job, shop: Shop, settings: Sequence[Setting],
    left_out: tuple[LeftOut, ...] = (),
) -> Analysis:  # fmt: skip
    """Return what every gas does to parts that have been found already."""
    limits = load_limits(shop.limits)
    whole = _Whole(parts, job, shop)
    looked_at = [_look_at(whole, setting) for setting in settings]
    findings = judge(
        parts, job, [on_parts for on_parts, _ in looked_at], [loose for _, loose in looked_at],
        settings, limits,
    )  # fmt: skip
    gases = tuple(
        _sum_up(whole, setting, on_parts, loose, found)
        for setting, (on_parts, loose), found in zip(settings, looked_at, findings, strict=True)
    )
    on_drawing = () if gases else drawing_findings(parts, job, limits)
    return Analysis(parts, job, shop, gases, left_out, on_drawing)


@dataclass(frozen=True, eq=False)
class _Whole:
    """What is the same under every gas."""

    parts: PartSet
    job: Job
    shop: Shop

    @cached_property
    def totals(self) -> Totals:
        return totals_of(self.parts, self.job)

    @cached_property
    def loose(self) -> Part | None:
        """Open cut lines outside every part, as a pseudo part called "loose"."""
        nothing = Contours.empty()
        if not len(self.parts.loose):
            return None
        return Part("loose", 1, None, self.parts.loose, nothing, nothing, (), (), (), (), ())

    @cached_property
    def beds(self) -> tuple[OnSlats, ...]:
        """Every distinct part on the slats of the machine."""
        return tuple(lay_on_slats(part, self.shop.machine) for part in self.parts.parts)

    @cached_property
    def grounds(self) -> tuple[HeatGround, ...]:
        """What of every distinct part matters to heat, looked up once for all gases."""
        return tuple(heat_ground(part, self.job.thickness_mm) for part in self.parts.parts)

    @cached_property
    def drawn(self) -> tuple[float, ...]:
        """Length of all copies of every part as drawn, over the length of the one looked at.

        Copies are drawn alike only within a tolerance, and an edge that two parts share is
        cut once: so this is not quite their number.
        """
        own = lengths_once(self.parts.drawing.cuts)
        rows = [[row for copy in part.copies for row in copy] for part in self.parts.parts]
        return tuple(
            float(own[row].sum()) / part.cut_length
            for part, row in zip(self.parts.parts, rows, strict=True)
        )

    @cached_property
    def marks_outside(self) -> float:
        """Length of mark lines outside every part. [mm]"""
        inside = sum(part.count * float(part.marks.length.sum()) for part in self.parts.parts)
        return max(self.totals.mark_length - inside, 0.0)


def _look_at(whole: _Whole, setting: Setting) -> tuple[tuple[Evidence, ...], Evidence | None]:
    """Plan every distinct part alone and forecast its edges; the loose lines too."""
    job, machine = whole.job, whole.shop.machine
    thickness = job.thickness_mm

    def evidence(
        part: Part, plan: Plan, ground: HeatGround, bed: OnSlats | None = None
    ) -> Evidence:
        drop = forecast_drop(bed, setting, job) if bed else None
        heat = forecast_heat(part, plan, setting, job, ground)
        edges = forecast_edges(part, plan, setting, job, heat)
        return Evidence(part, setting, plan, edges, drop, heat)

    parts, alone = whole.parts.parts, whole.loose
    every = (*parts, alone) if alone else parts
    made = plans_of_all(every, setting, machine, thickness, job.plate)
    plans = [one.plan for one in made]
    loose = evidence(alone, plans[-1], heat_ground(alone, thickness)) if alone else None
    found = map(evidence, parts, plans, whole.grounds, whole.beds)
    return tuple(found), loose


def _sum_up(
    whole: _Whole,
    setting: Setting,
    on_parts: tuple[Evidence, ...],
    loose: Evidence | None,
    findings: Sequence[Finding],
) -> GasResult:
    """Add up all copies under one gas, open lines and marks outside the parts included."""
    rework = tuple(rework_of(one, whole.job, rates=whole.shop.rework) for one in on_parts)
    timing = Timing(marking=whole.marks_outside / whole.shop.machine.marking_mm_s)
    metres = np.zeros(4)
    for one, copies in zip(on_parts, whole.drawn, strict=True):
        timing = timing + one.plan.timing * one.part.count
        metres = metres + one.edges.metres.sum(axis=0) * copies
    if loose is not None:
        timing = timing + loose.plan.timing
        metres = metres + loose.edges.metres.sum(axis=0)
    none, light, medium, heavy = map(float, metres)
    edge_m = (none, light, medium, heavy)
    hand = float(sum(one.part.count * r.minutes for one, r in zip(on_parts, rework, strict=True)))
    use, energy = consumption(
        setting, timing, whole.totals.pierces, whole.job.power_kw, whole.shop.machine
    )
    totals, rates = whole.totals, whole.shop.rates
    bill = Bill(timing, use, energy, hand, totals.weight, totals.parts, whole.job.material)
    cost = cost_of(bill, rates) if rates else None
    numbers = numbers_of(setting, timing, edge_m, hand, totals, whole.job, whole.shop, use, energy)
    flown = float(sum(one.plan.fly_s * one.part.count for one in on_parts))
    spread = float(sum(one.plan.spread_s * one.part.count for one in on_parts))
    crowded = sum(one.plan.crowded * one.part.count for one in on_parts)
    numbers += motion_numbers(timing, whole.shop.machine, flown, spread, crowded)
    places = {one.part.id: slowest_place(one.plan, setting) for one in on_parts}
    numbers += slow_numbers(places, whole.shop.machine)
    drops = {one.part.id: one.drop for one in on_parts if one.drop}
    numbers += drop_numbers(drops, setting, whole.job)
    numbers += heat_numbers(on_parts, setting, whole.job)
    if rates and cost:
        numbers += money_numbers(bill, cost, rates)
    return GasResult(
        material=whole.job.material,
        setting=setting,
        evidence=on_parts,
        loose=loose,
        timing=timing,
        edge_m=edge_m,
        rework=rework,
        rework_min=hand,
        findings=tuple(findings),
        numbers=numbers,
        gas_nm3=use,
        energy_kwh=energy,
        bill=bill,
        cost=cost,
        fly_s=flown,
    )


def consumption(
    setting: Setting, timing: Timing, starts: float, power_kw: float, machine: Machine
) -> tuple[GasUse, float]:
    """Return gas [Nm3] and electricity [kWh] of work that takes `timing` with so many starts.

    Gas blows, and the laser draws its full power, while cutting, in lead-ins and piercing;
    gas purges before every start as well.  It blows all through the pass that burns a film off,
    at no more than the pressure of the cut: an upper bound.
    """
    on = beam_on(timing)
    use = gas_use(setting, on + timing.film, starts, purge_s=machine.purge_s)
    return use, electric_draw(power_kw, machine).energy_kwh(on, timing.total - on)


def cost_of_one(one: Evidence, rework: Rework, job: Job, shop: Shop) -> Cost | None:
    """Return what one copy of a part costs; None where the shop has no rates."""
    if shop.rates is None:
        return None
    use, energy = consumption(
        one.setting, one.plan.timing, one.part.pierces, job.power_kw, shop.machine
    )
    weight = weight_of(one.part, job)
    bill = Bill(one.plan.timing, use, energy, rework.minutes, weight, 1.0, job.material)
    return cost_of(bill, shop.rates)


def rework_of(
    one: Evidence, job: Job, next_step: str | None = None, rates: HandRates = START_RATES
) -> Rework:
    """Return the hand work on one copy of a part; for `next_step` instead of the job's if given."""
    asked = job if next_step is None else replace(job, next_step=next_step)
    metres = one.edges.metres
    return rework_minutes(
        asked, one.setting.gas, metres[0], metres[1:].sum(axis=0), weight_of(one.part, job),
        rates=rates, body=_body(one.part, rates),
    )  # fmt: skip


def _body(part: Part, rates: HandRates) -> Body:
    """Return the part as a machine sees it, laid lengthwise however it was drawn."""
    if not rates.by_machine:
        return Body(area_mm2=part.area)
    return Body(canonical_poses(part.contours)[0].height, part.area)


def weight_of(part: Part, job: Job) -> float:
    """Return the weight of one copy. [kg]"""
    return material(job.material).weight_kg(part.area, job.thickness_mm)


def totals_of(parts: PartSet, job: Job) -> Totals:
    """Return the sums over all copies as drawn."""
    return Totals(
        parts=sum(part.count for part in parts.parts),
        distinct_parts=len(parts.parts),
        contours=len(parts.drawing.cuts),
        cut_length=float(lengths_once(parts.drawing.cuts).sum()),
        mark_length=float(parts.drawing.marks.length.sum()),
        pierces=len(parts.drawing.cuts),
        area=float(sum(part.count * part.area for part in parts.parts)),
        weight=float(sum(part.count * weight_of(part, job) for part in parts.parts)),
    )
