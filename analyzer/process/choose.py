"""Which gases a job can be cut with, and all that the tables say for each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.process.doubts import row_doubts
from analyzer.process.flow import head_flow
from analyzer.process.gas import GASES, gas_named
from analyzer.process.load import number, table, words
from analyzer.process.machine import START_VALUES, Machine
from analyzer.process.material import CUTTABLE
from analyzer.process.recipe import (
    HeadSetting,
    checked_share,
    crater_rule,
    head_setting,
    kerf_factor,
    kerf_rule,
    lead_rule,
    pierce_distance_rule,
    pierce_rule,
    share_set_point,
    small_contour_rule,
)
from analyzer.process.setting import Setting
from analyzer.process.speed import (
    PowerLimits,
    gas_factor,
    power_limits,
    speed_gap,
    starter_speed,
)
from analyzer.process.supply import NO_SUPPLIES, Supplies, pressure_level, shortages
from analyzer.process.tables import (
    OwnRow,
    OwnValues,
    RowDoubt,
    believed,
    matching,
    own_values,
)

STARTER = "starter value, not your machine"
"""How a number that is not the shop's own is called everywhere."""


@dataclass(frozen=True)
class LeftOut:
    """A gas that cannot be offered, and why."""

    gas: str
    reason: str


@dataclass(frozen=True)
class _Speed:
    """Speed with its story."""

    m_per_min: float
    source: str
    formula: str
    mark: str
    own: OwnValues | None


@dataclass(frozen=True)
class _Own:
    """Own rows of one gas at this power, and the doubts about them."""

    rows: tuple[OwnRow, ...]
    doubts: tuple[RowDoubt, ...]
    elsewhere: bool  # rows of this material and gas exist at other powers

    @property
    def usable(self) -> tuple[OwnRow, ...]:
        return believed(self.rows, self.doubts)


@dataclass(frozen=True)
class _Shop:
    """What of the shop a setting hangs on."""

    rows: Sequence[OwnRow]
    supplies: Supplies
    machine: Machine


def settings_for(
    job: Job, *, own_rows: Sequence[OwnRow] = (), supplies: Supplies = NO_SUPPLIES,
    machine: Machine = START_VALUES,
) -> tuple[tuple[Setting, ...], tuple[LeftOut, ...]]:  # fmt: skip
    """Return the setting of every gas the job can be cut with, and the gases left out.

    Without `job.gases`: every gas in the order of `GASES` that has a speed, oxygen on mild
    steel only.  With them: these, each once, in the same order.

    Raises
    ------
    InputError
        If thickness or power is impossible, the oxygen share is refused, or a gas asked
        for has no speed at this thickness.
    """
    check_range(job.thickness_mm, job.power_kw)
    if job.oxygen_share_percent is not None:
        checked_share(job.oxygen_share_percent)
    asked = {gas_named(gas) for gas in job.gases}
    wanted = [g for g in GASES if g in asked] if asked else _usual(job.material)
    shop = _Shop(own_rows, supplies, machine)
    settings, left_out = [], []
    for gas in wanted:
        made = _setting(job, gas, shop)
        if isinstance(made, Setting):
            settings.append(made)
        else:
            left_out.append(made)
    if asked and left_out:
        raise InputError(
            f"{left_out[0].gas} has no speed for {job.thickness_mm:g} mm: {left_out[0].reason}",
            where="--gas",
            hint="leave it out, or enter your own row as [[cutting]] in burrcast.toml",
        )
    return tuple(settings), tuple(left_out)


def check_range(thickness_mm: float, power_kw: float, *, where: str = "") -> None:
    """Raise InputError when a sheet or a laser is impossible here."""
    low, high = table("speed", "range")["thickness_mm"]
    if not low <= thickness_mm <= high:
        raise InputError(
            f"a thickness of {thickness_mm:g} mm is impossible here",
            where=where,
            hint=f"laser cutting is covered from {low:g} to {high:g} mm (ISO 9013); "
            "write inches as 0.25in",
        )
    low, high = table("speed", "range")["power_kw"]
    if not low <= power_kw <= high:
        raise InputError(
            f"a laser of {power_kw:g} kW is impossible here",
            where=where,
            hint=f"use {low:g} to {high:g} kW; write watts as 6000W",
        )


def _usual(material: str) -> list[str]:
    """Return the gases compared when none is asked for."""
    return [g for g in GASES if g != "oxygen" or material not in ("stainless", "aluminium")]


def _own(job: Job, gas: str, rows: Sequence[OwnRow]) -> _Own:
    same = matching(rows, job.material, gas, job.power_kw)
    elsewhere = any((r.material, r.gas) == (job.material, gas) for r in rows)
    return _Own(same, row_doubts(same), elsewhere and not same)


def _setting(job: Job, gas: str, shop: _Shop) -> Setting | LeftOut:
    material, t, rows = job.material, job.thickness_mm, shop.rows
    own = _own(job, gas, rows)
    values = own_values(own.usable, t)
    share = _share(job, gas, values)
    speed = _speed(job, gas, own, values, share, rows)
    if speed is None:
        return LeftOut(gas, speed_gap(material, gas, t) + _beside(own, t))
    limits = _limits(job, gas, own)
    head = _head(material, gas, t, values)
    ratios, factors = small_contour_rule(material, gas)
    kerf, kerf_source = kerf_rule(material, gas, t), f"{kerf_factor(material, gas):g} x sqrt(t)"
    kerf_source += f", {words('cut', 'kerf', 'source')}"
    pierce = pierce_rule(material, gas, t, job.power_kw)
    pierce_source = words("cut", "pierce", "source")
    if values and values.kerf_mm is not None:
        kerf, kerf_source = values.kerf_mm, values.source
    if values and values.pierce_s is not None:
        pierce, pierce_source = values.pierce_s, values.source
    flow = head_flow(
        gas, share, head.bar, head.nozzle, standoff_mm=shop.machine.standoff_mm, kerf_mm=kerf,
        factor=shop.machine.gas_flow_factor,
    )  # fmt: skip
    has_bar = shop.supplies.pressure_bar(gas)
    return Setting(
        gas=gas,
        oxygen_share_percent=share,
        speed_mm_s=speed.m_per_min * 1000.0 / 60.0,
        speed_source=speed.source,
        speed_formula=speed.formula,
        own_table=values is not None,
        power_level=limits.level(t),
        power_ok=limits.ok,
        power_caution=limits.caution,
        kerf_mm=kerf,
        pierce_s=pierce,
        lead_mm=lead_rule(gas, t),
        crater_mm=crater_rule(gas, t),
        factor_ratios=ratios,
        factors=factors,
        pressure_bar=head.bar,
        nozzle=head.nozzle,
        focus_mm=head.focus_mm,
        pierce_distance_mm=pierce_distance_rule(gas, t),
        least_bar=limits.least_bar,
        sources=(
            ("speed_mm_s", speed.mark),
            ("power_ok", limits.source),
            ("kerf_mm", kerf_source),
            ("pierce_s", pierce_source),
            ("lead_mm", words("cut", "lead", "source")),
            ("crater_mm", words("cut", "crater", "source")),
            ("factors", words("cut", "small", "source")),
            ("pressure_bar", head.source),
        ),
        doubts=own.doubts,
        pressure_level=pressure_level(gas, head.bar, limits.least_bar, has_bar),
        supplied_bar=has_bar,
        flow_nm3_per_h=flow,
        shortages=shortages(gas, flow, share, shop.supplies),
        purge_s=shop.machine.purge_s,
        supplies=shop.supplies,
    )


def _head(material: str, gas: str, thickness_mm: float, values: OwnValues | None) -> HeadSetting:
    """Return pressure, nozzle and focus; the shop's own where its rows say them."""
    head = head_setting(material, gas, thickness_mm)
    if values is None or (values.pressure_bar is None and values.nozzle is None):
        return head
    said = f"nozzle: {head.source}; pressure: {values.source}"
    if values.nozzle is not None:
        head = replace(head, nozzle=values.nozzle)
        said = f"nozzle: {values.source}; pressure: {head.source}"
    if values.pressure_bar is not None:
        head = replace(head, bar=values.pressure_bar, bar_range=(values.pressure_bar,) * 2)
        said = values.source if values.nozzle is not None else said
    return replace(head, source=said)


def _share(job: Job, gas: str, values: OwnValues | None) -> float:
    if gas != "mixed":
        return share_set_point(job.material, gas, job.thickness_mm)
    if job.oxygen_share_percent is not None:
        return job.oxygen_share_percent
    if values and values.oxygen_share_percent is not None:
        return checked_share(values.oxygen_share_percent, where=values.source)
    return share_set_point(job.material, gas, job.thickness_mm)


def _speed(
    job: Job,
    gas: str,
    own: _Own,
    values: OwnValues | None,
    share: float,
    rows: Sequence[OwnRow],
) -> _Speed | None:
    """Return own speed, else own nitrogen speed x factor, else the starter law."""
    if values:
        said = values.source
        row_share = values.oxygen_share_percent
        if gas == "mixed" and row_share is not None and not math.isclose(row_share, share):
            said += f" (for {row_share:.3g} % oxygen, not {share:.3g} %)"
        return _Speed(values.speed_m_per_min, said, values.formula, "your own table", values)
    beside = _beside(own, job.thickness_mm)
    if speed_gap(job.material, gas, job.thickness_mm):
        return None
    if gas in ("mixed", "air"):
        nitrogen = own_values(_own(job, "nitrogen", rows).usable, job.thickness_mm)
        if nitrogen:
            return _from_own_nitrogen(job, gas, nitrogen, share, beside)
    law = starter_speed(job.material, gas, job.thickness_mm, job.power_kw, share)
    if law is None:
        return None
    beside += _odd_share(job, gas, share)
    said = STARTER + (f"; extrapolated, {law.outside}" if law.outside else "") + beside
    formula = f"{law.formula} = {law.m_per_min:.3g} m/min"
    return _Speed(law.m_per_min, said, formula, law.mark, None)


def _odd_share(job: Job, gas: str, share: float) -> str:
    """Say where the share is far from what the speed is told for; empty elsewhere.

    Aluminium's speed follows the share and says so itself.
    """
    usual = table("settings", "share")["usual_percent"].get(job.material)
    if gas != "mixed" or usual is None or usual[0] <= share <= usual[1]:
        return ""
    return f"; told for {usual[0]:g} to {usual[1]:g} % oxygen, not {share:.3g} %"


def _from_own_nitrogen(
    job: Job, gas: str, nitrogen: OwnValues, share: float, beside: str
) -> _Speed:
    """Return the speed from the shop's nitrogen, so that both gases are of one machine."""
    factor, note, mark = gas_factor(job.material, gas, job.thickness_mm, share)
    base = nitrogen.speed_m_per_min
    speed = min(base * factor, max(base, number("speed", "cap", "m_per_min")))
    return _Speed(
        speed,
        f"{nitrogen.source} for nitrogen, times a starter factor{beside}",
        f"{base:.3g} m/min x {factor:.3g} ({note}) = {speed:.3g} m/min",
        f"your own nitrogen table; factor: {mark}",
        None,
    )


def _limits(job: Job, gas: str, own: _Own) -> PowerLimits:
    """Return the limits of power; own rows in use move the caution limit out to theirs."""
    limits = power_limits(job.material, gas, job.power_kw)
    if not own.usable:
        return limits
    thickest = own.usable[-1].thickness_mm
    if job.material not in CUTTABLE:
        return PowerLimits(thickest, thickest, "your table, thickest row")
    if thickest <= limits.caution:
        return limits
    source = f"{limits.source}; your table reaches {thickest:g} mm"
    return PowerLimits(limits.ok, thickest, source, limits.least_bar)


def _beside(own: _Own, thickness_mm: float) -> str:
    """Return in words why own rows that exist are not used here; empty without any."""
    aside = [d for d in own.doubts if d.set_aside and not d.row.confirmed]
    near = sorted(aside, key=lambda d: abs(d.row.thickness_mm - thickness_mm))[:1]
    said = [f"your row {d.row.label} is not used until confirmed: {d.words}" for d in near]
    usable = own.usable
    if usable:
        thin, thick = usable[0].thickness_mm, usable[-1].thickness_mm
        covers = f"{thin:g} mm" if thin == thick else f"{thin:g}-{thick:g} mm"
        said.append(f"your rows for this gas and power cover {covers} only")
    elif own.elsewhere:
        said.append("your rows for this gas are for other powers")
    return "".join(f"; {s}" for s in said)
