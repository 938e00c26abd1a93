"""What the shop's own stop-watch times changed: section [calibration] of the shop file.

`burrcast fit --write` writes the section; taking it out undoes it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from analyzer.process.gas import GASES, gas_named
from analyzer.process.hand_rates import START_RATES, HandRates
from analyzer.process.machine import START_VALUES, Machine
from analyzer.process.setting import Setting
from analyzer.process.typed import TomlFile

SECTION = "calibration"
FACTORS = (0.2, 5.0)  # least and most a factor can be
# Key of the section: least and most that can be meant.
NUMBERS: dict[str, tuple[float, float]] = {
    "sheets": (3.0, 10_000.0),
    "residual_percent": (0.0, 200.0),
    "speed_factor": FACTORS,
    "oxygen_speed_factor": FACTORS,
    "start_overhead_s": (0.0, 30.0),
    "cut_acceleration_m_per_s2": (0.1, 100.0),
    "rework_times": (3.0, 10_000.0),
    "rework_residual_percent": (0.0, 400.0),
    "burr_factor": FACTORS,
    "oxide_factor": FACTORS,
    "handling_factor": FACTORS,
}


@dataclass(frozen=True)
class Calibration:
    """Own times, and what they changed.

    Attributes
    ----------
    sheets, rework_times : int
        How many machine and hand work times it rests on; 0 for none.
    residual, rework_residual : float
        How far a time not used in the fit may be off, 19 of 20, as a share. [-]
    gases : tuple of str
        Gases that were timed.
    speed_factor, oxygen_speed_factor : float
        Speed over table speed: nitrogen, mixed gas and air; oxygen. [-]
    machine_before, rework_before : Machine, HandRates
        As the shop file tells them without the section.
    """

    sheets: int = 0
    residual: float = 0.0
    gases: tuple[str, ...] = ()
    speed_factor: float = 1.0
    oxygen_speed_factor: float = 1.0
    rework_times: int = 0
    rework_residual: float = 0.0
    machine_before: Machine = field(default=START_VALUES, repr=False)
    rework_before: HandRates = field(default=START_RATES, repr=False)

    def factor(self, gas: str) -> float:
        """Return speed over table speed in one gas. [-]"""
        return self.oxygen_speed_factor if gas == "oxygen" else self.speed_factor

    def covers(self, gas: str) -> bool:
        """Return whether the times say anything of one gas: of its own law, melting or burning.

        A section that names no gas was written by hand: it is taken at its word.
        """
        return not self.gases or any((g == "oxygen") == (gas == "oxygen") for g in self.gases)

    def words(self, gas: str) -> str:
        """Say how far one gas is calibrated."""
        spoken = "mixed gas" if gas == "mixed" else gas
        if not self.covers(gas):
            return f"not calibrated: none of the {self.sheets} sheets timed was in {spoken}"
        none = f", none of them in {spoken}" if self.gases and gas not in self.gases else ""
        return f"calibrated on {self.sheets} sheets{none}"


@dataclass(frozen=True)
class Told:
    """The section as written: what changes the machine and the hand work beside the rest."""

    calibration: Calibration
    told: Mapping[str, float]

    def applied(self, machine: Machine, rework: HandRates) -> dict[str, Any]:
        """Return the fields of a shop whose file tells `machine` and `rework` besides."""
        told = self.told
        return {
            "machine": replace(
                machine,
                start_overhead_s=told.get("start_overhead_s", machine.start_overhead_s),
                cut_acceleration=told.get("cut_acceleration_m_per_s2", machine.cut_acceleration),
            ),
            "rework": replace(
                rework,
                burr_factor=told.get("burr_factor", rework.burr_factor),
                oxide_factor=told.get("oxide_factor", rework.oxide_factor),
                handling_factor=told.get("handling_factor", rework.handling_factor),
            ),
            "calibration": replace(self.calibration, machine_before=machine, rework_before=rework),
        }


def scaled(settings: Sequence[Setting], calibration: Calibration | None) -> tuple[Setting, ...]:
    """Return the settings with speeds as the stop-watch found them."""
    if calibration is None:
        return tuple(settings)
    return tuple(
        faster(setting, calibration.factor(setting.gas), " by your times") for setting in settings
    )


def faster(setting: Setting, factor: float, why: str = "") -> Setting:
    """Return `setting` with its speed times `factor`, said in its source and formula."""
    if factor == 1.0:
        return setting
    return replace(
        setting,
        speed_mm_s=setting.speed_mm_s * factor,
        speed_source=f"{setting.speed_source} x {factor:.3g}{why}",
        speed_formula=f"({setting.speed_formula}) x {factor:.3g}{why}",
    )


def parse_calibration(file: TomlFile, value: Any) -> Told:
    """Return what [calibration] tells.

    Raises
    ------
    InputError
        If a key is not known, a value cannot be meant, or it does not say how many sheets.
    """
    section = file.table(SECTION, value)
    file.known(SECTION, section, ("gases", *NUMBERS))
    told = {
        key: file.number(SECTION, section, key, *bounds)
        for key, bounds in NUMBERS.items()
        if key in section
    }
    for needed in ("sheets", "residual_percent"):
        if needed not in told:
            raise file.wrong(
                f"[calibration] has no {needed}", "let burrcast fit --write it, or take it out",
                SECTION,
            )  # fmt: skip
    gases = file.texts(SECTION, section, "gases") if "gases" in section else ()
    names = {file.placed(SECTION, "gases", partial(gas_named, gas)) for gas in gases}
    return Told(
        Calibration(
            sheets=int(told["sheets"]),
            residual=told["residual_percent"] / 100.0,
            gases=tuple(gas for gas in GASES if gas in names),
            speed_factor=told.get("speed_factor", 1.0),
            oxygen_speed_factor=told.get("oxygen_speed_factor", 1.0),
            rework_times=int(told.get("rework_times", 0)),
            rework_residual=told.get("rework_residual_percent", 0.0) / 100.0,
        ),
        told,
    )
