"""Electricity of a laser: P / 0.38, its chiller, drives and extraction; less with the beam off.

Sources and spreads: `data/electricity.toml` and docs/gas.md.
"""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.process.load import number, table
from analyzer.process.machine import Machine


@dataclass(frozen=True)
class Draw:
    """Electric power of the whole machine with the beam on, and off but running. [kW]"""

    cutting_kw: float
    idle_kw: float

    def energy_kwh(self, beam_on_s: float, beam_off_s: float) -> float:
        """Return the electricity of so much time. [kWh]"""
        return (self.cutting_kw * beam_on_s + self.idle_kw * beam_off_s) / 3600.0


def electric_draw(power_kw: float, machine: Machine) -> Draw:
    """Return what the machine draws; the shop's own values where it tells them.

    The laser is taken at full power: right for fusion cutting, too much for oxygen on thin
    sheet, which many shops cut with less.

    Examples
    --------
    >>> from analyzer.process.machine import START_VALUES
    >>> round(electric_draw(10.0, START_VALUES).cutting_kw, 1)
    51.7
    """
    laser = power_kw / number("electricity", "cutting", "wall_plug")
    chiller = laser * number("electricity", "cutting", "chiller")
    fans = max(_sloped("extraction_kw", power_kw),
               number("electricity", "cutting", "extraction_least_kw"))  # fmt: skip
    whole = laser + chiller + _sloped("drives_kw", power_kw) + fans
    cutting = machine.electric_cutting_kw or whole
    idle = machine.electric_idle_kw or cutting * number("electricity", "idle", "share")
    return Draw(cutting, idle)


def _sloped(name: str, power_kw: float) -> float:
    """Return least + slope x power, held at the most. [kW]"""
    least, slope, most = table("electricity", "cutting")[name]
    return float(min(least + slope * power_kw, most))
