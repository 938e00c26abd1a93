"""The starter law of speed, and how thick a power cuts in each gas.

Formulas, ranges and sources: `data/speed.toml` and docs/process.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analyzer.process.load import band, between, data, number, table, words
from analyzer.process.material import CUTTABLE


@dataclass(frozen=True)
class StarterSpeed:
    """Speed by the starter law.

    Attributes
    ----------
    m_per_min : float
        Speed on a long straight cut. [m/min]
    formula : str
        How it was made, with its numbers.
    mark : str
        How sure it is.
    capped : bool
        The motion system limits it, not the beam.
    outside : str
        Said when thickness or power lies outside the range of the law; else empty.
    """

    m_per_min: float
    formula: str
    mark: str
    capped: bool = False
    outside: str = ""


@dataclass(frozen=True)
class PowerLimits:
    """Thickness up to which a gas is ok, and is cut with caution. [mm]"""

    ok: float
    caution: float
    source: str
    least_bar: float = 0.0

    def level(self, thickness_mm: float) -> str:
        """Return "ok", "caution" or "beyond"; a limit itself is still within."""
        if thickness_mm <= self.ok * (1.0 + 1e-9):
            return "ok"
        return "caution" if thickness_mm <= self.caution * (1.0 + 1e-9) else "beyond"


def speed_gap(material: str, gas: str, thickness_mm: float) -> str:
    """Return why the starter law has no speed here; empty where it has one."""
    if material not in CUTTABLE:
        return f"the starter tables have no {material}"
    if gas == "air":
        bands = table("speed", "air", material)["bands"]
        if band(bands, thickness_mm) is None:
            name = words("materials", material, "words")
            return f"the starter table has no air cutting of {name} above {bands[-1][0]:g} mm"
    return ""


def starter_speed(
    material: str, gas: str, thickness_mm: float, power_kw: float, share_percent: float = 0.0
) -> StarterSpeed | None:
    """Return the speed by the starter law; None where it has none (see `speed_gap`).

    Parameters
    ----------
    material, gas : str
        Canonical names.
    thickness_mm : float
        Sheet thickness, > 0. [mm]
    power_kw : float
        Laser power, > 0. [kW]
    share_percent : float
        Oxygen in the mixed gas; counts for aluminium only. [% by volume]

    Examples
    --------
    >>> round(starter_speed("mild-steel", "nitrogen", 10.0, 10.0).m_per_min, 3)
    4.641
    """
    if speed_gap(material, gas, thickness_mm):
        return None
    if gas == "oxygen":
        if material == "mild-steel":
            return oxygen_speed(thickness_mm, power_kw)
        return _oxygen_guess(material, thickness_mm, power_kw)
    if gas == "nitrogen":
        return nitrogen_speed(material, thickness_mm, power_kw)
    base = _fusion(material, thickness_mm, power_kw)
    factor, note, mark = gas_factor(material, gas, thickness_mm, share_percent)
    return _capped(
        base[0] * factor,
        f"{base[1]} x {factor:.3g} ({note})",
        f"{words('speed', 'fusion', material, 'mark')}; factor: {mark}",
        _outside("fusion", material, thickness_mm, power_kw),
    )


def nitrogen_speed(material: str, thickness_mm: float, power_kw: float) -> StarterSpeed:
    """Return the speed in nitrogen: C P^a / t^b, slower where the power is stretched."""
    speed, formula = _fusion(material, thickness_mm, power_kw)
    return _capped(
        speed,
        formula,
        words("speed", "fusion", material, "mark"),
        _outside("fusion", material, thickness_mm, power_kw),
    )


def oxygen_speed(thickness_mm: float, power_kw: float) -> StarterSpeed:
    """Return the speed in oxygen on mild steel: v0 (10 / t)^n f(P / t).

    Power helps little: f is 1 from 1 kW per mm up, falls as a quarter power to half of
    that, and steeper below.
    """
    law = table("speed", "oxygen", "mild-steel")
    n = law["exponent_to_10_mm" if thickness_mm <= 10.0 else "exponent_above_10_mm"]
    upper, lower = law["power_bounds_kw_per_mm"]
    gentle, steep = law["power_exponents"]
    p = power_kw / thickness_mm
    f = (min(max(p, lower), upper) / upper) ** gentle * (min(p, lower) / lower) ** steep
    v0 = law["m_per_min_at_10_mm"]
    return _capped(
        v0 * (10.0 / thickness_mm) ** n * f,
        f"{v0:g} x (10 mm / {thickness_mm:g} mm)^{n:g} x {f:.3g} for {p:.3g} kW/mm",
        words("speed", "oxygen", "mild-steel", "mark"),
        _outside("oxygen", "mild-steel", thickness_mm, power_kw),
    )


def gas_factor(
    material: str, gas: str, thickness_mm: float, share_percent: float
) -> tuple[float, str, str]:
    """Return factor on the nitrogen speed, a note on it, and its mark; mixed gas and air."""
    row = table("speed", gas, material)
    if gas == "air":
        factor = band(row["bands"], thickness_mm)
        if factor is None:
            raise KeyError(f"no air factor for {material} at {thickness_mm} mm")
        return factor, "air against nitrogen", row["mark"]
    if "per_percent_oxygen" in row:
        low, high = row["share_range_percent"]
        note = f"mixed gas, {share_percent:g} % oxygen"
        upper = 1.0 + row["per_percent_oxygen_upper"] * share_percent
        note += f"; up to {upper:.3g}"
        if not low <= share_percent <= high:
            note += f"; share outside {low:g} to {high:g} %, extrapolated"
        return 1.0 + row["per_percent_oxygen"] * share_percent, note, row["mark"]
    return between(row["knots"], thickness_mm), "mixed gas against nitrogen", row["mark"]


def power_limits(material: str, gas: str, power_kw: float) -> PowerLimits:
    """Return up to which thickness `power_kw` cuts in this gas.

    Oxygen on stainless and aluminium takes the limits of nitrogen, a guess.  Materials
    without starter values have no limits (infinite).
    """
    if material not in CUTTABLE:
        return PowerLimits(math.inf, math.inf, "no limit known")
    rows = table("speed", "limit", material)
    row = rows.get(gas, rows["nitrogen"])
    if "ok_kw_per_mm" in row:
        ok, caution = power_kw / row["ok_kw_per_mm"], power_kw / row["caution_kw_per_mm"]
    else:
        ok, caution = power_kw * row["ok_mm_per_kw"], power_kw * row["caution_mm_per_kw"]
    ok, caution = round(min(ok, row.get("ok_up_to_mm", math.inf)), 9), round(caution, 9)
    source = row["source"] if gas in rows else "limits of nitrogen; guess"
    return PowerLimits(ok, caution, source, row.get("least_bar", 0.0))


def _fusion(material: str, thickness_mm: float, power_kw: float) -> tuple[float, str]:
    """Return speed before the cap [m/min] and formula, nitrogen."""
    law = table("speed", "fusion", material)
    c, a, b = law["C"], law["a"], law["b"]
    speed = c * power_kw**a / thickness_mm**b
    formula = f"{c:g} x ({power_kw:g} kW)^{a:g} / ({thickness_mm:g} mm)^{b:g}"
    ratio, most = thickness_mm / power_kw, law.get("slow_beyond_mm_per_kw", math.inf)
    if ratio > most:
        speed *= most / ratio
        formula += f" x {most / ratio:.3g} ({ratio:.3g} mm/kW is beyond {most:g})"
    return speed, formula


def _oxygen_guess(material: str, thickness_mm: float, power_kw: float) -> StarterSpeed:
    """Return the lesser of this material's nitrogen and mild steel's oxygen speed.

    Nobody has a table for it: low-pressure oxygen does not blow the stiff oxide out, so
    neither law can be passed.
    """
    fusion = nitrogen_speed(material, thickness_mm, power_kw)
    burning = oxygen_speed(thickness_mm, power_kw)
    least = min(fusion, burning, key=lambda s: s.m_per_min)
    return StarterSpeed(
        least.m_per_min,
        f"guess, the lesser of nitrogen here and oxygen on mild steel: {least.formula}",
        "crude guess: oxygen does not suit this material",
        least.capped,
        least.outside,
    )


def _capped(speed: float, formula: str, mark: str, outside: str) -> StarterSpeed:
    cap = number("speed", "cap", "m_per_min")
    if speed >= cap:
        return StarterSpeed(cap, f"{formula}, held at {cap:g} m/min (motion)", mark, True, outside)
    return StarterSpeed(speed, formula, mark, False, outside)


def _outside(law: str, material: str, thickness_mm: float, power_kw: float) -> str:
    """Return in words what lies outside the range of the law; empty when nothing does."""
    row = data("speed")[law][material]
    said = []
    for value, key, unit in (
        (thickness_mm, "thickness_mm", "mm"),
        (power_kw, "power_kw", "kW"),
    ):
        low, high = row[key]
        if not low <= value <= high:
            said.append(f"{value:g} {unit} is outside {low:g}-{high:g} {unit}")
    return ", ".join(said)
