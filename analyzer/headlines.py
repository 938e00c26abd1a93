"""The headline numbers: what can be asked "why?", with formula, inputs, source and how sure."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analyzer.effects.drop import DropForecast
from analyzer.effects.speeds import SlowPlace
from analyzer.job import Job
from analyzer.motion.plan import Timing
from analyzer.process.electricity import electric_draw
from analyzer.process.flow import GasUse, range_words
from analyzer.process.hand_rates import START_RATES
from analyzer.process.load import words
from analyzer.process.machine import START_VALUES, Machine
from analyzer.process.rework import step_reason
from analyzer.process.setting import Setting
from analyzer.shop import Shop

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
_DROP_SURE = "exact for slats as told, all offsets alike likely; teeth and sagging are left out"
HEADLINES: dict[str, Headline] = {
    row[0]: Headline(*row)
    for row in (
        ("total", "time of all copies", "s",
         "cut + slowed + leads + starts + pierce + traverse + marking, + film, slugs and cool"
         " where there are", _TIME_SURE),
        ("cut", "contour path at table speed", "s",
         "path offset by half the kerf, overlap included / table speed",
         "as sure as the table speed"),
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
         "sum over moves: rest-to-rest move at rapid speed, acceleration and jerk, + lift",
         "+-30 % before you give your own drives"),
        ("marking", "marking", "s",
         "mark lines at marking speed from rest to rest, corners slowed, + moves between them",
         "the marking speed is a start value"),
        ("film", "the pass that burns the film off", "s",
         "every contour at film speed from rest to rest, + a start and a move each",
         "15 to 25 m/min on real machines"),
        ("slugs", "cutting large cut-outs into pieces", "s",
         "lines across at table speed from rest to rest, + start, pierce and move each",
         "+-50 %: shops cut slugs up in different ways"),
        ("cool", "pauses at sharp outside corners in oxygen", "s", "corners x pause",
         "as sure as your pause"),
        ("fly", "time of all copies with grids fly cut", "s",
         "total - what grids of equal holes save at constant speed, without a stop each",
         "+-40 %: follows what your control makes of a grid"),
        ("spread", "what keeping cuts apart costs in moves", "s",
         "moves in this order - moves in the shortest order found",
         "as sure as the moves"),
        ("speed", "table speed on a long straight cut", "m/min", "", ""),
        ("slowest", "least speed of the head under way, and where", "m/min",
         "least of table speed x small-contour factor, sqrt(acceleration x radius) in curves and"
         " rounded corners, and what acceleration and jerk allow between neighbours",
         "follows the machine's acceleration, jerk and corner tolerance: +-30 %"),
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
        ("gas-use", "gas used by all copies", "Nm3",
         "flow through the nozzle x (cut + slowed + leads + pierce + purge x pierces)",
         "+-25 %: discharge factor and stand-off; read your meter once"),
        ("energy", "electricity of the whole machine, all copies", "kWh",
         "draw with the beam on x beam-on time + draw without x the rest",
         "common practice, no source: +-20 %; oxygen often runs on less power"),
        ("lies-along", "chance of the worst part to lie still, slats along its long side", "-",
         "share of all slat offsets with the centroid in the hull of contact", _DROP_SURE),
        ("lies-across", "chance of the worst part to lie still, slats across its long side", "-",
         "share of all slat offsets with the centroid in the hull of contact", _DROP_SURE),
        ("drop-ease", "how readily slugs and parts drop", "-",
         "(2 x kerf - taper of the cut) / thickness x gas factor",
         "a hunch to rank gases by: kerf +-0.1 mm, gas factor common practice, no source"),
        ("jet", "push of the jet on a loose part", "N", "pressure x bore area of the nozzle",
         "an upper bound: the jet spreads, and the kerf lets most of it pass"),
        ("weight", "weight of all copies", "kg", "area x thickness x density",
         "exact but for the density"),
        ("cut-length", "drawn cut lines, all copies", "mm",
         "sum of the drawn contours, open cut lines included", "exact"),
    )
}  # fmt: skip

SOMETIMES = ("slowest", "film", "slugs", "cool", "fly", "spread",
             "lies-along", "lies-across", "drop-ease", "jet")  # fmt: skip
"""Headlines that an answer has only where they are not 0, or where there are parts."""


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


def numbers_of(
    setting: Setting, timing: Timing, edge_m: Sequence[float], rework_min: float,
    totals: Totals, job: Job, shop: Shop, use: GasUse, energy_kwh: float,
) -> tuple[Number, ...]:  # fmt: skip
    """Return the headline numbers of one gas, with what they were made from."""
    machine = shop.machine
    whose, sources = setting.speed_source, dict(setting.sources)
    starter = machine == START_VALUES
    drives = "start values, common practice" if starter else "machine data of the shop file"
    values: dict[str, tuple[float, str, dict[str, str]]] = {
        "speed": (setting.speed_m_per_min, whose, {
            "thickness": f"{job.thickness_mm:g} mm", "power": f"{job.power_kw:g} kW"}),
        "kerf": (setting.kerf_mm, sources.get("kerf_mm", whose), {
            "thickness": f"{job.thickness_mm:g} mm"}),
        "pierce-time": (setting.pierce_s, sources.get("pierce_s", whose), {
            "thickness": f"{job.thickness_mm:g} mm", "power": f"{job.power_kw:g} kW"}),
        "rework": (rework_min, _whose_hand_rates(shop), {
            f"class {n}": f"{m:.3f} m" for n, m in enumerate(edge_m)} | _asked_by(job)),
        "weight": (totals.weight, "drawing and density", {"area": f"{totals.area:.1f} mm2"}),
        "cut-length": (totals.cut_length, "drawing", {"contours": str(totals.contours)}),
        "total": (timing.total, f"{whose}; {drives}", {
            name: f"{value:.2f} s" for name, value in timing.terms().items()}),
    }  # fmt: skip
    values |= _consumed(setting, job, shop, use, energy_kwh)
    speed = {"table speed": f"{setting.speed_m_per_min:.2f} m/min"}
    pierces = {"pierces": str(totals.pierces)}
    terms: dict[str, tuple[str, dict[str, str]]] = {
        "cut": (whose, speed | {"kerf": f"{setting.kerf_mm:.2f} mm"}),
        "slowed": (drives, {
            "acceleration": f"{machine.cut_acceleration:g} m/s2",
            "jerk": f"{machine.jerk:g} m/s3",
            "corner tolerance": f"{machine.corner_tolerance_mm:g} mm"}),
        "leads": (whose, speed),
        "starts": (drives, pierces | {"start overhead": f"{machine.start_overhead_s:g} s"}),
        "pierce": (sources.get("pierce_s", whose), pierces | {
            "pierce time": f"{setting.pierce_s:.2f} s"}),
        "traverse": (drives, {
            "rapid": f"{machine.rapid_m_per_min:g} m/min",
            "acceleration": f"{machine.rapid_acceleration:g} m/s2",
            "jerk": f"{machine.jerk:g} m/s3",
            "lift": f"{machine.lift_s:g} s"}),
        "marking": (drives, {
            "mark lines": f"{totals.mark_length:.1f} mm",
            "speed": f"{machine.marking_m_per_min:g} m/min"}),
    }  # fmt: skip
    for name, (source, inputs) in terms.items():
        values[name] = getattr(timing, name), source, inputs
    for number, metres in enumerate(edge_m):
        values[f"burr-{number}"] = metres, "burr table and speed profile", {}
    return tuple(
        _number(name, *values[name], setting=setting) for name in HEADLINES if name in values
    )


def slow_numbers(places: Mapping[str, SlowPlace | None], machine: Machine) -> tuple[Number, ...]:
    """Return the least speed of the head and why it is so low; parts by their id."""
    known = [(place.speed, part, place) for part, place in places.items() if place is not None]
    if not known:
        return ()
    speed, part, place = min(known, key=lambda row: row[:2])
    head = HEADLINES["slowest"]
    inputs = {
        "where": f"{part} at ({place.x:.2f}, {place.y:.2f})", "because": place.because,
        "set there": f"{place.programmed * 0.06:.2f} m/min",
        "acceleration": f"{machine.cut_acceleration:g} m/s2", "jerk": f"{machine.jerk:g} m/s3",
    }  # fmt: skip
    if math.isfinite(place.radius):
        inputs["radius"] = f"{place.radius:.3f} mm"
    source = "start values" if machine == START_VALUES else "machine data of the shop file"
    return (
        Number("slowest", speed * 0.06, head.unit, head.formula, tuple(inputs.items()),
               f"speed profile; {source}", head.sure),
    )  # fmt: skip


def motion_numbers(
    timing: Timing, machine: Machine, flown_s: float, spread_s: float, crowded: int
) -> tuple[Number, ...]:
    """Return the numbers of motion that only some jobs have: those that are not 0.

    Parameters
    ----------
    timing : Timing
        All copies.
    machine : Machine
        Its film speed, slug limit, pause and fly cutting.
    flown_s, spread_s : float
        What fly cutting would save, and what keeping cuts apart costs, all copies. [s]
    crowded : int
        Contours that follow one nearer than wanted all the same.
    """
    machine_file = "machine data of the shop file"
    start = "start value, common practice"
    film = machine_file if machine.film_m_per_min != START_VALUES.film_m_per_min else start
    rows: tuple[tuple[str, float, str, dict[str, str]], ...] = (
        ("film", timing.film, film, {"speed": f"{machine.film_m_per_min:g} m/min"}),
        ("slugs", timing.slugs, machine_file, {
            "pieces up to": f"{machine.slug_cut_from_mm:g} mm"}),
        ("cool", timing.cool, machine_file, {"pause": f"{machine.cool_point_s:g} s"}),
        ("fly", timing.total - flown_s if flown_s > 0.0 else 0.0, machine_file, {
            "saves": f"{flown_s:.2f} s", "up to": f"{machine.fly_cutting_up_to_mm:g} mm",
            "acceleration": f"{machine.cut_acceleration:g} m/s2"}),
        ("spread", spread_s, "order against heat: common practice, no source", {
            "apart": "2 x thickness", "nearer all the same": str(crowded)}),
    )  # fmt: skip
    numbers = []
    for name, value, source, inputs in rows:
        if value != 0.0 or (name == "spread" and crowded):
            head = HEADLINES[name]
            numbers.append(
                Number(name, value, head.unit, head.formula, tuple(inputs.items()), source,
                       head.sure)
            )  # fmt: skip
    return tuple(numbers)


def drop_numbers(
    drops: Mapping[str, DropForecast], setting: Setting, job: Job
) -> tuple[Number, ...]:
    """Return the numbers of what comes loose; none without a part.

    Parameters
    ----------
    drops : mapping of str to DropForecast
        By name of the part.
    setting, job : Setting, Job
        The gas; material and thickness.
    """
    if not drops:
        return ()
    any_one = next(iter(drops.values()))
    machine, numbers = any_one.machine, []
    slats = "slats of the shop file"
    if machine.slat_pitch_mm == START_VALUES.slat_pitch_mm:
        slats = "start value of the slats, common practice"
    for name, way in (("lies-along", "along"), ("lies-across", "across")):
        lies = {part: getattr(drop, way) for part, drop in drops.items()}
        part, lie = min(lies.items(), key=lambda pair: pair[1].still)
        numbers.append(_of(name, lie.still, slats, {
            "part": part, "wide across the slats": f"{lie.width:.1f} mm",
            "no slat under it": f"{lie.falls:.3f}", "tips": f"{lie.tips:.3f}",
            "pitch": f"{machine.slat_pitch_mm:g} mm",
            "slat": f"{machine.slat_thickness_mm:g} mm"}))  # fmt: skip
    lightest, drop = min(drops.items(), key=lambda pair: pair[1].weight_n)
    made_from = {
        "kerf": f"{setting.kerf_mm:.2f} mm",
        "play": f"{drop.clearance:.2f} mm",
        "thickness": f"{job.thickness_mm:g} mm",
        "jams at": f"{drop.jam_deg:.1f} degrees",
    }
    numbers.append(_of("drop-ease", drop.ease, "ISO 9013 range of u and gas factor", made_from))
    numbers.append(_of("jet", drop.jet_n, setting.speed_source, {
        "at the head": f"{setting.pressure_bar:.3g} bar, nozzle {setting.nozzle}",
        "lightest part": f"{lightest}, {drop.weight_n:.1f} N"}))  # fmt: skip
    return tuple(numbers)


def _of(name: str, value: float, source: str, inputs: dict[str, str]) -> Number:
    head = HEADLINES[name]
    return Number(name, value, head.unit, head.formula, tuple(inputs.items()), source, head.sure)


def _whose_hand_rates(shop: Shop) -> str:
    timed = shop.calibration.rework_times if shop.calibration else 0
    if timed:
        return f"{shop.rework.words}; calibrated on {timed} times"
    if shop.rework == START_RATES:
        return "rates of common practice, no source"
    return f"{shop.rework.words}; rates of the shop file, the rest common practice, no source"


def _asked_by(job: Job) -> dict[str, str]:
    """Return what the next step asks of the edge, and the standard that says so."""
    if job.next_step is None:
        return {}
    why = step_reason(job.next_step)
    said = f"{why.reason} ({why.standard}; {why.mark})" if why.standard else why.reason
    return {f"before {job.next_step}:": said}


def _consumed(
    setting: Setting, job: Job, shop: Shop, use: GasUse, energy_kwh: float
) -> dict[str, tuple[float, str, dict[str, str]]]:
    """Return gas and electricity with what they were made from."""
    machine = shop.machine
    draw = electric_draw(job.power_kw, machine)
    bores = range_words(setting, machine.standoff_mm)
    split = {
        f"{gas} used": f"{use.of(gas):.4g} Nm3"
        for gas in ("nitrogen", "oxygen", "air")
        if use.of(gas) > 0.0
    }
    source = dict(setting.sources).get("pressure_bar", setting.speed_source)
    return {
        "gas-use": (use.total_nm3, f"ideal nozzle flow; nozzle and pressure: {source}", {
            "flow": f"{use.flow_nm3_per_h:.3g} Nm3/h while it blows",
            "at the head": f"{setting.pressure_bar:.3g} bar, nozzle {setting.nozzle}"
            + (f", {bores}" if bores else ""),
            "purge": f"{setting.purge_s:g} s", **split}),
        "energy": (energy_kwh, words("electricity", "cutting", "source"), {
            "beam on": f"{draw.cutting_kw:.3g} kW", "beam off": f"{draw.idle_kw:.3g} kW"}),
    }  # fmt: skip


def _number(
    name: str, value: float, source: str, inputs: dict[str, str], *, setting: Setting
) -> Number:
    head = HEADLINES[name]
    formula, sure = head.formula, head.sure
    if name == "speed":
        spread = OWN_SPEED if setting.own_table else STARTER_SPEED
        formula, sure = setting.speed_formula, f"+-{spread:.0%}".replace("%", " %")
    return Number(name, value, head.unit, formula, tuple(inputs.items()), source, sure)
