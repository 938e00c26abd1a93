"""A setting: all that the process tables say for one job under one gas."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.process.machine import START_VALUES
from analyzer.process.supply import NO_SUPPLIES, Shortage, Supplies
from analyzer.process.tables import RowDoubt

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Setting:
    """Cutting data of one gas for one job.

    Attributes
    ----------
    gas : str
        "oxygen", "nitrogen", "mixed" or "air".
    oxygen_share_percent : float
        Oxygen in the gas: 100, 0, the set point, or 21. [% by volume]
    speed_mm_s : float
        Table speed on a long straight cut. [mm/s]
    speed_source, speed_formula : str
        Whose number it is ("starter value, not your machine", "your table, row ...")
        and how it was made.
    own_table : bool
        True where the speed comes from the shop's own rows.
    power_level : str
        "ok", "caution" or "beyond": thickness against what the power cuts in this gas.
    power_ok, power_caution : float
        Thickness up to which the gas is ok, and is cut with caution, at this power. [mm]
    kerf_mm : float
        Mean kerf width. [mm]
    pierce_s : float
        Time of one pierce. [s]
    lead_mm : float
        Length of the lead-in of outlines and large cut-outs. [mm]
    crater_mm : float
        Radius of the pierce crater. [mm]
    factor_ratios, factors : tuple of float
        Small-contour speed factor against equivalent diameter / thickness, rising.
    pressure_bar, nozzle : float, str
        Gauge pressure at the head [bar] and nozzle, for the table of settings.
    focus_mm : float
        Focus against the top surface, negative into the sheet. [mm]
    pierce_distance_mm : float
        Least distance from the pierce to the contour. [mm]
    least_bar : float
        Gauge pressure the gas must have at the head; 0 where not limited. [bar]
    sources : tuple of (str, str)
        Field name and where its value is from, for those that have a source of their own.
    pressure_level : str
        "ok", "caution" or "beyond": pressure the shop has against what the gas needs.
    supplied_bar : float or None
        Gauge pressure the shop has at the head; None where it does not say. [bar]
    flow_nm3_per_h : float
        Gas through the head while it blows. [Nm3/h]
    shortages : tuple of Shortage
        Supplies of the shop that deliver less than that.
    purge_s : float
        Gas that blows before every start. [s]
    supplies : Supplies
        What the shop says of its gas.
    doubts : tuple of RowDoubt
        Own rows of this material, gas and power the check doubts (rule table-implausible).
    """

    gas: str
    oxygen_share_percent: float
    speed_mm_s: float
    speed_source: str
    speed_formula: str
    own_table: bool
    power_level: str
    power_ok: float
    power_caution: float
    kerf_mm: float
    pierce_s: float
    lead_mm: float
    crater_mm: float
    factor_ratios: tuple[float, ...]
    factors: tuple[float, ...]
    pressure_bar: float
    nozzle: str
    focus_mm: float = 0.0
    pierce_distance_mm: float = 0.0
    least_bar: float = 0.0
    sources: tuple[tuple[str, str], ...] = ()
    doubts: tuple[RowDoubt, ...] = ()
    pressure_level: str = "ok"
    supplied_bar: float | None = None
    flow_nm3_per_h: float = 0.0
    shortages: tuple[Shortage, ...] = ()
    purge_s: float = START_VALUES.purge_s
    supplies: Supplies = NO_SUPPLIES

    @property
    def within_power(self) -> bool:
        """Power and gas pressure are enough to cut this thickness well in this gas."""
        return self.power_level == "ok" and self.pressure_level == "ok"

    @property
    def speed_m_per_min(self) -> float:
        """Table speed. [m/min]"""
        return self.speed_mm_s * 60.0 / 1000.0

    def small_contour_factor(self, ratio: Floats) -> Floats:
        """Return the speed factor by equivalent diameter over thickness, shape (n,). [-]"""
        return np.interp(ratio, self.factor_ratios, self.factors)
