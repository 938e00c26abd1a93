"""What the head does besides speed: kerf, pierce, lead-in, crater, pressure, nozzle, share.

Starter values by thickness; sources in `data/cut.toml` and `data/settings.toml`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analyzer.errors import InputError
from analyzer.process.gas import AIR_OXYGEN_PERCENT
from analyzer.process.load import band, between, data, number, table, words


@dataclass(frozen=True)
class HeadSetting:
    """Pressure [bar gauge], its usual range, nozzle, focus [mm above the surface], source."""

    bar: float
    bar_range: tuple[float, float]
    nozzle: str
    focus_mm: float
    source: str


def _row(gas: str) -> str:
    return "oxygen" if gas == "oxygen" else "other"


def kerf_rule(material: str, gas: str, thickness_mm: float) -> float:
    """Return the mean kerf width: factor x sqrt(thickness). [mm]"""
    return kerf_factor(material, gas) * math.sqrt(thickness_mm)


def kerf_factor(material: str, gas: str) -> float:
    """Return kerf / sqrt(thickness), both in mm."""
    if gas != "oxygen" and material == "aluminium":
        return number("cut", "kerf", "aluminium")
    return number("cut", "kerf", _row(gas))


def pierce_rule(material: str, gas: str, thickness_mm: float, power_kw: float) -> float:
    """Return the time of one pierce: (base + slope t^2 / P) x material. [s]"""
    law = table("cut", "pierce", _row(gas))
    factor = table("cut", "pierce").get(material, 1.0)
    return float((law["base_s"] + law["slope"] * thickness_mm**2 / power_kw) * factor)


def lead_rule(gas: str, thickness_mm: float) -> float:
    """Return the length of the lead-in of outlines and large cut-outs. [mm]"""
    return between(table("cut", "lead")[_row(gas)], thickness_mm)


def pierce_distance_rule(gas: str, thickness_mm: float) -> float:
    """Return the least distance from the pierce to the contour. [mm]"""
    bands = table("cut", "distance")[_row(gas)]
    found = band(bands, thickness_mm)
    return float(bands[-1][1] if found is None else found)


def crater_rule(gas: str, thickness_mm: float) -> float:
    """Return the radius of the pierce crater; in oxygen that of the controlled pierce. [mm]"""
    law = table("cut", "crater", _row(gas))
    return float(law["base_mm"] + law["slope"] * thickness_mm)


def small_contour_rule(material: str, gas: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return equivalent diameter / thickness, rising, and the speed factor at each. [-]

    Materials without a row of their own take stainless steel's, the slower of the steels.
    """
    rows = table("cut", "small")
    return tuple(rows["ratios"]), tuple(rows.get(material, rows["stainless"])[gas])


def head_setting(material: str, gas: str, thickness_mm: float) -> HeadSetting:
    """Return pressure, nozzle and focus by thickness.

    Between rows pressure and focus are linear and the nozzle is the next thicker row's;
    beyond the rows the last one holds.  A gas without rows of its own borrows, and the
    source says so: mixed gas from nitrogen, air nozzle and focus from nitrogen and pressure
    from mild steel, oxygen from mild steel.
    """
    known = material if material in data("settings") else "stainless"
    said = "" if known == material else f"; {material} has no rows, stainless steel's taken"
    rows = _rows_of(known, gas)
    if rows:
        return _interpolated(rows, thickness_mm, words("settings", known, "source") + said)
    if gas == "oxygen":
        source = "mild steel's oxygen rows; guess"
        return _interpolated(_rows_of("mild-steel", "oxygen"), thickness_mm, source)
    found = _interpolated(_rows_of(known, "nitrogen"), thickness_mm, "")
    if gas == "mixed":
        source = "set as nitrogen; guess" + said
        return HeadSetting(found.bar, found.bar_range, found.nozzle, found.focus_mm, source)
    air = _interpolated(_rows_of("mild-steel", "air"), thickness_mm, "")
    source = "nozzle and focus as nitrogen, pressure as mild steel; guess" + said
    return HeadSetting(air.bar, air.bar_range, found.nozzle, found.focus_mm, source)


def share_set_point(material: str, gas: str, thickness_mm: float) -> float:
    """Return the oxygen in the gas by the starter tables, mixed gas to the tenth. [% by volume]"""
    fixed = {"oxygen": 100.0, "nitrogen": 0.0, "air": AIR_OXYGEN_PERCENT}
    if gas in fixed:
        return fixed[gas]
    known = material if material in data("settings") else "stainless"
    rows = table("settings", known)["rows"]
    share = between([(r["thickness_mm"], r["share"]) for r in rows], thickness_mm)
    return round(share, 1)  # no mixer is set finer, and the number shown is the number used


def checked_share(share_percent: float, *, where: str = "") -> float:
    """Return `share_percent` if it can be the oxygen share of a mixed gas.

    Raises
    ------
    InputError
        If it is not above 0, or above 23.5 % (oxygen-enriched).
    """
    most = number("settings", "share", "most_percent")
    if not share_percent > 0.0:
        raise InputError(
            f"an oxygen share of {share_percent:g} % is no mixed gas",
            where=where,
            hint="give a share above 0 %, or cut with nitrogen",
        )
    if not share_percent <= most:
        raise InputError(
            f"an oxygen share of {share_percent:g} % is refused: above {most:g} % a gas counts "
            "as oxygen-enriched and feeds fire",
            where=where,
            hint=f"stay at or below {most:g} %; steel needs 1-5 %, aluminium 7-20 %",
        )
    return share_percent


def asked_share(share_percent: float, gases: Sequence[str]) -> None:
    """Check an oxygen share asked for beside gases, of which none are all.

    Raises
    ------
    InputError
        If it can be no share of a mixed gas, or no mixed gas is among them.
    """
    checked_share(share_percent, where="--share")
    if gases and "mixed" not in gases:
        raise InputError(
            "an oxygen share belongs to mixed gas, which is not among the gases asked for",
            where="--share", hint="add --gas mixed, or leave it out",
        )  # fmt: skip


def _rows_of(material: str, gas: str) -> list[Mapping[str, Any]]:
    rows = table("settings", material)["rows"]
    return [{"t": r["thickness_mm"], **r[gas]} for r in rows if gas in r]


def _interpolated(rows: list[Mapping[str, Any]], thickness_mm: float, source: str) -> HeadSetting:
    low = [(r["t"], r.get("bar_range", (r["bar"],) * 2)[0]) for r in rows]
    high = [(r["t"], r.get("bar_range", (r["bar"],) * 2)[1]) for r in rows]
    thicker = next((r for r in rows if r["t"] >= thickness_mm), rows[-1])
    return HeadSetting(
        between([(r["t"], r["bar"]) for r in rows], thickness_mm),
        (between(low, thickness_mm), between(high, thickness_mm)),
        thicker["nozzle"],
        between([(r["t"], r["focus_mm"]) for r in rows], thickness_mm),
        source,
    )
