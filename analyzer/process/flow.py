"""Gas through the nozzle: ideal flow, choked or not, and what a job uses of each gas.

Choked where p_ambient / p0 <= (2 / (k + 1))^(k / (k - 1)), 0.528 for k = 1.4; below that
(oxygen at 0.5 to 0.9 bar) the subsonic form.  Standard gas dynamics, as in ISO 9300 for
critical-flow nozzles; docs/gas.md has formulas, sources and limits of validity.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, fields

from analyzer.errors import InputError
from analyzer.process.load import between, number, table
from analyzer.process.setting import Setting
from analyzer.process.supply import split_flow

_R = 8.31446261815324  # molar gas constant [J/mol K]
_NOZZLE = re.compile(r"\s*([SD]?)\s*(\d+(?:\.\d+)?)\s*(?:-\s*(\d+(?:\.\d+)?)\s*)?", re.IGNORECASE)
_BORES = (0.3, 15.0)  # nozzles that can be meant [mm]


@dataclass(frozen=True)
class Nozzle:
    """Bore [mm] of a nozzle, and whether it is a double one."""

    bore_mm: float
    double: bool


@dataclass(frozen=True)
class GasUse:
    """Gas used, in normal cubic metres (0 C, 1.01325 bar).

    Attributes
    ----------
    nitrogen_nm3, oxygen_nm3, air_nm3 : float
        What was used of each; mixed gas is split into the first two. [Nm3]
    flow_nm3_per_h : float
        All gas through the head while it blows. [Nm3/h]
    """

    nitrogen_nm3: float = 0.0
    oxygen_nm3: float = 0.0
    air_nm3: float = 0.0
    flow_nm3_per_h: float = 0.0

    @property
    def total_nm3(self) -> float:
        """All gas together. [Nm3]"""
        return self.nitrogen_nm3 + self.oxygen_nm3 + self.air_nm3

    def of(self, gas: str) -> float:
        """Return what was used of "nitrogen", "oxygen" or "air". [Nm3]"""
        return float(getattr(self, f"{gas}_nm3"))

    def per_hour(self, machine_s: float) -> GasUse:
        """Return the use in an hour of work like that which took `machine_s` seconds."""
        if not machine_s > 0.0:
            return GasUse(flow_nm3_per_h=self.flow_nm3_per_h)
        factor = 3600.0 / machine_s
        used = {f.name: getattr(self, f.name) * factor for f in fields(self)}
        return GasUse(**(used | {"flow_nm3_per_h": self.flow_nm3_per_h}))


NO_GAS = GasUse()


def bore_of(nozzle: str) -> Nozzle:
    """Return the nozzle that "S4", "D1.4" or "3.0" names; of a range ("S4-5") the smaller bore.

    Raises
    ------
    InputError
        If it is no nozzle.

    Examples
    --------
    >>> bore_of("S4-5"), bore_of("D1.4")
    (Nozzle(bore_mm=4.0, double=False), Nozzle(bore_mm=1.4, double=True))
    """
    return _bores(nozzle)[0]


def _bores(nozzle: str) -> tuple[Nozzle, Nozzle]:
    """Return the smaller and the larger bore of a nozzle; twice the same where it is no range."""
    match = _NOZZLE.fullmatch(nozzle)
    bore = float(match[2]) if match else 0.0
    if match is None or not _BORES[0] <= bore <= _BORES[1]:
        raise InputError(
            f"{nozzle!r} is no nozzle known here",
            hint="write the bore in mm, S before a single nozzle and D before a double one: S4.0",
        )
    double = match[1].upper() == "D"
    return Nozzle(bore, double), Nozzle(float(match[3] or bore), double)


def critical_ratio(heat_ratio: float = 1.4) -> float:
    """Return ambient over stagnation pressure at and below which the flow is choked. [-]

    Examples
    --------
    >>> round(critical_ratio(), 5)
    0.52828
    """
    k = heat_ratio
    return float((2.0 / (k + 1.0)) ** (k / (k - 1.0)))


def molar_mass(oxygen_percent: float) -> float:
    """Return the molar mass of nitrogen with this share of oxygen by volume. [g/mol]

    Not for air, which holds argon as well and has a molar mass of its own.
    """
    x = oxygen_percent / 100.0
    return x * number("flow", "gas", "oxygen_g_mol") + (1.0 - x) * number(
        "flow", "gas", "nitrogen_g_mol"
    )


def mass_flow(
    area_mm2: float, gauge_bar: float, molar_g: float, *, celsius: float = 20.0,
    ambient_bar: float = 1.01325, heat_ratio: float = 1.4,
) -> float:  # fmt: skip
    """Return the ideal mass flow through a throat, discharge factor 1. [kg/s]

    Parameters
    ----------
    area_mm2 : float
        Throat. [mm^2]
    gauge_bar : float
        Gauge pressure before the nozzle, >= 0. [bar]
    molar_g : float
        Molar mass. [g/mol]
    celsius : float
        Temperature before the nozzle. [C]
    ambient_bar : float
        Pressure behind the nozzle. [bar]
    heat_ratio : float
        Ratio of specific heats. [-]

    Examples
    --------
    >>> round(1000 * mass_flow(3.14159 / 4 * 4, 10.0, 28.0134), 3)  # g/s, 2 mm, 10 bar
    8.032
    """
    k, p0 = heat_ratio, gauge_bar + ambient_bar
    ratio = ambient_bar / p0
    through = p0 * 1e5 * area_mm2 * 1e-6 * math.sqrt(molar_g * 1e-3 / (_R * (celsius + 273.15)))
    if ratio <= critical_ratio(k):
        return through * math.sqrt(k) * math.pow(2.0 / (k + 1.0), (k + 1.0) / (2.0 * (k - 1.0)))
    swell = max(math.pow(ratio, 2.0 / k) - math.pow(ratio, (k + 1.0) / k), 0.0)
    return through * math.sqrt(2.0 * k / (k - 1.0) * swell)


def normal_flow(area_mm2: float, gauge_bar: float, molar_g: float) -> float:
    """Return the ideal flow at 20 C in normal cubic metres, discharge factor 1. [Nm3/h]

    Examples
    --------
    >>> round(normal_flow(3.14159 / 4 * 2.0**2, 10.0, 28.0134), 2)
    23.13
    """
    moles = mass_flow(
        area_mm2, gauge_bar, molar_g, celsius=number("flow", "gas", "gas_temperature_c"),
        ambient_bar=number("flow", "gas", "ambient_bar"),
        heat_ratio=number("flow", "gas", "heat_ratio"),
    ) / (molar_g * 1e-3)  # fmt: skip
    return moles * number("flow", "gas", "normal_litres_per_mol") * 1e-3 * 3600.0


def volume_at(normal_m3: float, reference: str) -> float:
    """Return a normal volume at another reference condition ("15C", "free-air", ...). [m3]

    Examples
    --------
    >>> round(volume_at(1.0, "15C"), 5)
    1.05491
    """
    row = table("flow", "reference")[reference]
    normal = table("flow", "reference")["normal"]
    warm = (row["celsius"] + 273.15) / (normal["celsius"] + 273.15)
    return float(normal_m3 * warm * normal["bar"] / row["bar"])


def throat_area(bore_mm: float, standoff_mm: float, kerf_mm: float) -> float:
    """Return the throat: the bore, or the gap to the sheet and kerf where that is less. [mm^2]

    The curtain is pi d h, through the kerf goes w d more.
    """
    bore = math.pi / 4.0 * bore_mm**2
    return min(bore, math.pi * bore_mm * standoff_mm + kerf_mm * bore_mm)


def discharge_factor(nozzle: Nozzle) -> float:
    """Return real over ideal flow; start values by bore. [-]"""
    return between(table("flow", "discharge")["double" if nozzle.double else "single"],
                   nozzle.bore_mm)  # fmt: skip


def head_flow(
    gas: str, oxygen_percent: float, gauge_bar: float, nozzle: str, *,
    standoff_mm: float = math.inf, kerf_mm: float = 0.0, factor: float = 1.0,
) -> float:  # fmt: skip
    """Return the gas through the head while it blows. [Nm3/h]

    Parameters
    ----------
    gas : str
        "oxygen", "nitrogen", "mixed" or "air".
    oxygen_percent : float
        Oxygen in it. [% by volume]
    gauge_bar, nozzle : float, str
        Pressure at the head [bar] and nozzle ("S4", "D1.4").
    standoff_mm, kerf_mm : float
        Gap between nozzle and sheet, and kerf; the gap does not limit where infinite. [mm]
    factor : float
        Your own meter over this forecast. [-]
    """
    told = bore_of(nozzle)
    area = throat_area(told.bore_mm, standoff_mm, kerf_mm)
    molar = number("flow", "gas", "air_g_mol") if gas == "air" else molar_mass(oxygen_percent)
    return normal_flow(area, gauge_bar, molar) * discharge_factor(told) * factor


def range_factor(setting: Setting, standoff_mm: float) -> float:
    """Return the flow with the larger bore of a range of nozzles over that with the smaller. [-]"""
    _, larger = _bores(setting.nozzle)
    either = (setting.nozzle, f"{'D' if larger.double else 'S'}{larger.bore_mm:g}")
    counted, most = (
        head_flow(
            setting.gas, setting.oxygen_share_percent, setting.pressure_bar, nozzle,
            standoff_mm=standoff_mm, kerf_mm=setting.kerf_mm,
        )
        for nozzle in either
    )  # fmt: skip
    return most / counted


def range_words(setting: Setting, standoff_mm: float) -> str:
    """Say which bore of a range of nozzles is counted, and what the other takes; else empty."""
    counted, larger = (nozzle.bore_mm for nozzle in _bores(setting.nozzle))
    if larger <= counted:
        return ""
    factor = range_factor(setting, standoff_mm)
    return f"counted with {counted:g} mm; with {larger:g} mm {factor:.2g} times as much gas"


def gas_use(
    setting: Setting, beam_on_s: float, starts: float, *, purge_s: float | None = None
) -> GasUse:
    """Return the gas a job uses: while the beam is on, and purging before every start.

    Parameters
    ----------
    setting : Setting
        Cutting data of the gas, with its flow and purge.
    beam_on_s : float
        Cutting, lead-ins and piercing. [s]
    starts : float
        Number of starts.
    purge_s : float, optional
        Gas that blows before each, where it is not that of the setting. [s]
    """
    purge = setting.purge_s if purge_s is None else purge_s
    flow = setting.flow_nm3_per_h
    used = flow * (beam_on_s + starts * purge) / 3600.0
    parts = split_flow(setting.gas, used, setting.oxygen_share_percent)
    return GasUse(**{f"{gas}_nm3": part for gas, part in parts.items()}, flow_nm3_per_h=flow)
