"""The stations joined: a drawing and a job become parts, plans, edges and findings, per gas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from analyzer.drawing.drawing import Drawing
from analyzer.effects.edges import forecast_edges
from analyzer.effects.evidence import Evidence
from analyzer.geometry.contours import Contours, Floats
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Timing
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part, PartSet
from analyzer.process.choose import LeftOut, settings_for
from analyzer.process.material import material
from analyzer.process.rework import Rework, rework_minutes
from analyzer.process.setting import Setting
from analyzer.rules.judge import judge
from analyzer.rules.limits import load_limits
from analyzer.rules.rule import Finding
from analyzer.shop import Shop
from analyzer.tolerances import DEFAULT, Tolerances

OWN_SPEED, STARTER_SPEED = 0.10, 0.30  # spread of the shop's own rows and of the starter law [-]


@dataclass(frozen=True)
class Headline:
    """A number the reader may ask "why?" about: its name, unit, formula and how sure it is."""

    name: str
    what: str
    unit: str
    formula: str
    sure: str


_TIME_SURE = "+-25 % until calibrated on your own stop-watch times"
_BURR_SURE = "a table of common practice, no source: one class up or down"
HEADLINES: dict[str, Headline] = {
    row[0]: Headline(*row)
    for row in (
        ("total", "time of all copies", "s",
         "cut + slowed + leads + starts + pierce + traverse + marking", _TIME_SURE),
        ("cut", "contour path at table speed", "s",
         "path offset by half the kerf / table speed", "as sure as the table speed"),
        ("slowed", "what corners, curves, ramps and small contours cost more", "s",
         "time of the speed profile - cut - leads",
         "follows the machine's acceleration: +-30 % before you give your own"),
        ("leads", "lead-ins at table speed", "s", "length of lead-ins / table speed",
         "as sure as the table speed"),
        ("starts", "height sensing and gas settling", "s", "pierces x start overhead",
         "0.1 to 0.5 s a start on real machines"),
        ("pierce", "piercing", "s", "pierces x pierce time",
         "+-50 %: soft and fast piercing differ two to five times"),
        ("traverse", "moves between contours", "s",
         "sum over moves: rest-to-rest move at rapid speed and acceleration, + lift",
         "+-30 % before you give your own drives"),
        ("marking", "marking", "s", "length of mark lines / marking speed",
         "the marking speed is a start value"),
        ("speed", "table speed on a long straight cut", "m/min", "", ""),
        ("kerf", "mean width of the kerf", "mm",
         "coefficient x square root of the thickness, or your table",
         "start value, +-0.1 mm"),
        ("pierce-time", "one pierce", "s", "a + b x thickness^2 / power", "+-50 %"),
        ("burr-0", "edge without burr", "m", "drawn edge of class 0, all copies", _BURR_SURE),
        ("burr-1", "edge with burr that wipes off", "m", "drawn edge of class 1, all copies",
         _BURR_SURE),
        ("burr-2", "edge for brush or belt", "m", "drawn edge of class 2, all copies",
         _BURR_SURE),
        ("burr-3", "edge for the grinder", "m", "drawn edge of class 3, all copies",
         _BURR_SURE),
        ("rework", "hand work after cutting, all copies", "min",
         "metres by burr class x minutes per metre + oxide removal + handling",
         "common practice, no source: +-50 %"),
        ("weight", "weight of all copies", "kg", "area x thickness x density",
         "exact but for the density"),
        ("cut-length", "drawn cut lines, all copies", "mm",
         "sum of the drawn contours, open cut lines included", "exact"),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Number:
    """A headline number that can be asked "why?".

    Attributes
    ----------
    name : str
        Its name in `HEADLINES`.
    value : float
        In `unit`.
    unit, formula, source, sure : str
        How it was made, from whose values, and how far it may be off.
    inputs : tuple of (str, str)
        What went in, with units.
    """

    name: str
    value: float
    unit: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    source: str
    sure: str


@dataclass(frozen=True)
class Totals:
    """All copies of all parts, with open cut lines. Lengths [mm], area [mm^2], weight [kg]."""

    parts: int
    distinct_parts: int
    contours: int
    cut_length: float
    mark_length: float
    pierces: int
    area: float
    weight: float


@dataclass(frozen=True, eq=False)
class GasResult:
    """The drawing under one gas.

    Attributes
    ----------
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
    """

    setting: Setting
    evidence: tuple[Evidence, ...]
    loose: Evidence | None
    timing: Timing
    edge_m: tuple[float, float, float, float]
    rework: tuple[Rework, ...]
    rework_min: float
    findings: tuple[Finding, ...]
    numbers: tuple[Number, ...] = ()

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
    settings, left_out = settings_for(job, own_rows=shop.own_rows)
    limits = load_limits(shop.limits)
    parts = find_parts(drawing, job.thickness_mm, tolerances)
    whole = _Whole(parts, job, shop)
    looked_at = [_look_at(whole, setting) for setting in settings]
    findings = judge(
        parts, job, [on_parts for on_parts, _ in looked_at], [loose for _, loose in looked_at],
        settings, limits,
    )  # fmt: skip
    gases = tuple(
        _with_numbers(_sum_up(whole, setting, on_parts, loose, found), whole)
        for setting, (on_parts, loose), found in zip(settings, looked_at, findings, strict=True)
    )
    return Analysis(parts, job, shop, gases, left_out)


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

    def evidence(part: Part) -> Evidence:
        plan = plan_alone(part, setting, machine, job.thickness_mm)
        return Evidence(part, setting, plan, forecast_edges(part, plan, setting, job))

    loose = evidence(whole.loose) if whole.loose else None
    return tuple(evidence(part) for part in whole.parts.parts), loose


def _sum_up(
    whole: _Whole,
    setting: Setting,
    on_parts: tuple[Evidence, ...],
    loose: Evidence | None,
    findings: Sequence[Finding],
) -> GasResult:
    """Add up all copies under one gas, open lines and marks outside the parts included."""
    rework = tuple(rework_of(one, whole.job) for one in on_parts)
    timing = Timing(marking=whole.marks_outside / whole.shop.machine.marking_mm_s)
    metres = np.zeros(4)
    for one, copies in zip(on_parts, whole.drawn, strict=True):
        timing = timing + one.plan.timing * one.part.count
        metres = metres + one.edges.metres.sum(axis=0) * copies
    if loose is not None:
        timing = timing + loose.plan.timing
        metres = metres + loose.edges.metres.sum(axis=0)
    none, light, medium, heavy = map(float, metres)
    hand = sum(one.part.count * r.minutes for one, r in zip(on_parts, rework, strict=True))
    return GasResult(
        setting=setting,
        evidence=on_parts,
        loose=loose,
        timing=timing,
        edge_m=(none, light, medium, heavy),
        rework=rework,
        rework_min=float(hand),
        findings=tuple(findings),
    )


def rework_of(one: Evidence, job: Job, next_step: str | None = None) -> Rework:
    """Return the hand work on one copy of a part; for `next_step` instead of the job's if given."""
    asked = job if next_step is None else replace(job, next_step=next_step)
    metres = one.edges.metres
    return rework_minutes(
        asked, one.setting.gas, metres[0], metres[1:].sum(axis=0), weight_of(one.part, job)
    )


def weight_of(part: Part, job: Job) -> float:
    """Return the weight of one copy. [kg]"""
    return material(job.material).weight_kg(part.area, job.thickness_mm)


def lengths_once(contours: Contours) -> Floats:
    """Return the length of every contour, shape (n,), a segment drawn in two counted once. [mm]

    The second contour that runs along a shared segment does not count it.
    """
    low_first = (contours.starts[:, 0] < contours.ends[:, 0]) | (
        (contours.starts[:, 0] == contours.ends[:, 0])
        & (contours.starts[:, 1] <= contours.ends[:, 1])
    )
    first = np.where(low_first[:, None], contours.starts, contours.ends)
    last = np.where(low_first[:, None], contours.ends, contours.starts)
    bulge = np.where(low_first, contours.bulges, -contours.bulges)
    key = np.column_stack((first, last, bulge)).round(6) + 0.0  # no negative zero
    order = np.lexsort(key.T)
    again = np.zeros(len(key), dtype=bool)
    again[order[1:]] = (key[order[1:]] == key[order[:-1]]).all(axis=1)
    once = np.where(again, 0.0, contours.lengths)
    return np.bincount(contours.owner, weights=once, minlength=len(contours))


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


def _with_numbers(result: GasResult, whole: _Whole) -> GasResult:
    """Add the headline numbers, with what they were made from."""
    setting, totals, job = result.setting, whole.totals, whole.job
    machine = whole.shop.machine
    whose, sources = setting.speed_source, dict(setting.sources)
    drives = "machine data of the shop file" if whole.shop.path else "start values, common practice"
    values: dict[str, tuple[float, str, dict[str, str]]] = {
        "speed": (setting.speed_m_per_min, whose, {
            "thickness": f"{job.thickness_mm:g} mm", "power": f"{job.power_kw:g} kW"}),
        "kerf": (setting.kerf_mm, sources.get("kerf_mm", whose), {
            "thickness": f"{job.thickness_mm:g} mm"}),
        "pierce-time": (setting.pierce_s, sources.get("pierce_s", whose), {
            "thickness": f"{job.thickness_mm:g} mm", "power": f"{job.power_kw:g} kW"}),
        "rework": (result.rework_min, "rates of common practice, no source", {
            f"class {n}": f"{m:.3f} m" for n, m in enumerate(result.edge_m)}),
        "weight": (totals.weight, "drawing and density", {"area": f"{totals.area:.1f} mm2"}),
        "cut-length": (totals.cut_length, "drawing", {"contours": str(totals.contours)}),
        "total": (result.timing.total, f"{whose}; {drives}", {
            f.name: f"{getattr(result.timing, f.name):.2f} s" for f in fields(Timing)}),
    }  # fmt: skip
    speed = {"table speed": f"{setting.speed_m_per_min:.2f} m/min"}
    pierces = {"pierces": str(totals.pierces)}
    terms: dict[str, tuple[str, dict[str, str]]] = {
        "cut": (whose, speed | {"kerf": f"{setting.kerf_mm:.2f} mm"}),
        "slowed": (drives, {
            "acceleration": f"{machine.cut_acceleration:g} m/s2",
            "corner tolerance": f"{machine.corner_tolerance_mm:g} mm"}),
        "leads": (whose, speed),
        "starts": (drives, pierces | {"start overhead": f"{machine.start_overhead_s:g} s"}),
        "pierce": (sources.get("pierce_s", whose), pierces | {
            "pierce time": f"{setting.pierce_s:.2f} s"}),
        "traverse": (drives, {
            "rapid": f"{machine.rapid_m_per_min:g} m/min",
            "acceleration": f"{machine.rapid_acceleration:g} m/s2",
            "lift": f"{machine.lift_s:g} s"}),
        "marking": (drives, {
            "mark lines": f"{totals.mark_length:.1f} mm",
            "speed": f"{machine.marking_m_per_min:g} m/min"}),
    }  # fmt: skip
    for name, (source, inputs) in terms.items():
        values[name] = getattr(result.timing, name), source, inputs
    for number, metres in enumerate(result.edge_m):
        values[f"burr-{number}"] = metres, "burr table and speed profile", {}
    return replace(result, numbers=tuple(
        _number(name, *values[name], setting=setting) for name in HEADLINES
    ))  # fmt: skip


def _number(
    name: str, value: float, source: str, inputs: dict[str, str], *, setting: Setting
) -> Number:
    head = HEADLINES[name]
    formula, sure = head.formula, head.sure
    if name == "speed":
        spread = OWN_SPEED if setting.own_table else STARTER_SPEED
        formula, sure = setting.speed_formula, f"+-{spread:.0%}".replace("%", " %")
    return Number(name, value, head.unit, formula, tuple(inputs.items()), source, sure)
