"""Fit machine and hand work to the shop's own stop-watch times: `burrcast fit`.

Bounded least squares on logarithms (scipy).  Every parameter is also held, weakly, to its
start value, so that one the times say nothing about stays where it is, and is named.
docs/calibration.md has the formulas and the limits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.analysis import Analysis, GasResult, rework_of
from analyzer.errors import InputError
from analyzer.geometry.contours import Floats
from analyzer.least_squares import Fit, Parameter, fitted_to
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Timing
from analyzer.process.calibrated import FACTORS, NUMBERS, Calibration, faster
from analyzer.process.machine import Machine
from analyzer.shop import Shop

LEAST_TIMES = 3
NOISE, HAND_NOISE = 0.03, 0.15  # what a stop-watch time may be off by chance [-]


@dataclass(frozen=True, eq=False)
class Timed:
    """One row of the list: a drawing in one gas and what the stop-watch said.

    Attributes
    ----------
    line : int
        Line in the list.
    analysis : Analysis
        The drawing under that gas alone, with the shop's machine before calibration.
    minutes : float
        Machine time of all copies. [min]
    count : int
        Copies of the drawing.
    deburr_minutes : float or None
        Hand work on all copies; None where not timed. [min]
    """

    line: int
    analysis: Analysis
    minutes: float
    count: int = 1
    deburr_minutes: float | None = None

    @property
    def result(self) -> GasResult:
        """The one gas it was cut in."""
        return self.analysis.gases[0]


@dataclass(frozen=True, eq=False)
class Calibrated:
    """What the times gave: machine, and hand work where enough of it was timed."""

    machine: Fit
    hand: Fit | None
    gases: tuple[str, ...]


def fit(times: Sequence[Timed], shop: Shop) -> Calibrated:
    """Return machine and hand work that fit the times best.

    Parameters
    ----------
    times : sequence of Timed
        At least three, each looked at with the machine of `undone(shop)`.
    shop : Shop
        Machine and hand rates to start from, calibration undone.

    Raises
    ------
    InputError
        If there are fewer than three times.
    """
    if len(times) < LEAST_TIMES:
        raise InputError(
            f"{len(times)} time{'s' if len(times) != 1 else ''}: too few to fit anything",
            hint=f"time at least {LEAST_TIMES} sheets: one with long contours, one with many"
            " holes, one mixed",
        )
    gases = tuple(dict.fromkeys(time.result.gas for time in times))
    by_hand = [time for time in times if _hand_is_fit(time)]
    hand = _fit_hand(by_hand, shop) if len(by_hand) >= LEAST_TIMES else None
    return Calibrated(_fit_machine(times, shop), hand, gases)


def undone(shop: Shop) -> Shop:
    """Return the shop as its file tells it without [calibration]."""
    told = shop.calibration
    if told is None:
        return shop
    return replace(shop, machine=told.machine_before, rework=told.rework_before, calibration=None)


def calibrated(shop: Shop, found: Calibrated) -> Shop:
    """Return the shop (calibration undone) with what was found."""
    machine, hand = found.machine, found.hand
    told = Calibration(
        sheets=len(machine.residuals),
        residual=machine.residual,
        gases=found.gases,
        speed_factor=machine.value("speed_factor", 1.0),
        oxygen_speed_factor=machine.value("oxygen_speed_factor", 1.0),
        rework_times=len(hand.residuals) if hand else 0,
        rework_residual=hand.residual if hand else 0.0,
        machine_before=shop.machine,
        rework_before=shop.rework,
    )
    rework = shop.rework
    if hand:
        rework = replace(
            rework, burr_factor=hand.value("burr_factor", 1.0),
            oxide_factor=hand.value("oxide_factor", 1.0),
            handling_factor=hand.value("handling_factor", 1.0),
        )  # fmt: skip
    return replace(
        shop, machine=_machine(shop.machine, _values(machine)), rework=rework, calibration=told
    )


def _values(found: Fit) -> dict[str, float]:
    return {one.parameter.key: one.value for one in found.fitted}


def _rows(times: Sequence[Timed]) -> list[tuple[int, str, str]]:
    return [(time.line, time.analysis.drawing.file, time.result.gas) for time in times]


# --- machine -----------------------------------------------------------------------------


def _fit_machine(times: Sequence[Timed], shop: Shop) -> Fit:
    gases = {time.result.gas for time in times}
    start = shop.machine
    parameters = [
        _parameter("start_overhead_s", "s", max(start.start_overhead_s, 0.02), 0.8),
        _parameter("cut_acceleration_m_per_s2", "m/s2", start.cut_acceleration, 0.5),
    ]
    if gases - {"oxygen"}:
        parameters.append(_parameter("speed_factor", "x", 1.0, 0.3))
    if "oxygen" in gases:
        parameters.append(_parameter("oxygen_speed_factor", "x", 1.0, 0.3))
    clocks = {id(time.analysis): _Clock(time, start) for time in times}

    def reckon(values: Floats) -> Floats:
        by_key = {p.key: float(v) for p, v in zip(parameters, values, strict=True)}
        each = {key: clock.minutes(by_key) for key, clock in clocks.items()}
        return np.array([time.count * each[id(time.analysis)] for time in times])

    measured = np.array([time.minutes for time in times])
    return fitted_to(_rows(times), parameters, reckon, measured, NOISE)


def _parameter(key: str, unit: str, start: float, spread: float) -> Parameter:
    low, high = NUMBERS[key]
    return Parameter(key, unit, start, max(low, start / 20.0), min(high, start * 20.0), spread)


def _machine(machine: Machine, values: dict[str, float]) -> Machine:
    return replace(
        machine,
        start_overhead_s=values.get("start_overhead_s", machine.start_overhead_s),
        cut_acceleration=values.get("cut_acceleration_m_per_s2", machine.cut_acceleration),
    )


class _Clock:
    """Machine time of one drawing under any parameters; plans kept where only starts change."""

    def __init__(self, time: Timed, machine: Machine) -> None:
        self.time, self.machine = time, machine
        result = time.result
        ours = [*result.evidence, *([result.loose] if result.loose else [])]
        self.parts = [(one.part, one.part.count) for one in ours]
        planned = sum((one.plan.timing * one.part.count for one in ours), Timing())
        # marks outside the parts: nothing of it is fitted
        self.outside = result.timing.total - planned.total
        self.kept: dict[tuple[float, float], tuple[float, float]] = {}

    def minutes(self, values: dict[str, float]) -> float:
        oxygen = self.time.result.gas == "oxygen"
        factor = values["oxygen_speed_factor" if oxygen else "speed_factor"]
        machine = _machine(self.machine, values)
        key = machine.cut_acceleration, factor
        if key not in self.kept:
            self.kept[key] = self._planned(machine, factor)
        rest, starts = self.kept[key]
        seconds = rest + starts * machine.start_overhead_s + self.outside
        return seconds / 60.0

    def _planned(self, machine: Machine, factor: float) -> tuple[float, float]:
        """Return the seconds without starts, and the number of starts."""
        job = self.time.analysis.job
        setting = faster(self.time.result.setting, factor)
        unit = replace(machine, start_overhead_s=1.0)
        whole, starts = Timing(), 0.0
        for part, count in self.parts:
            timing = plan_alone(part, setting, unit, job.thickness_mm, job.plate).timing
            whole, starts = whole + timing * count, starts + timing.starts * count
        return whole.total - whole.starts, starts


# --- hand work ---------------------------------------------------------------------------


def _hand_is_fit(time: Timed) -> bool:
    return time.deburr_minutes is not None and time.result.rework_min > 0.0


def _fit_hand(times: Sequence[Timed], shop: Shop) -> Fit:
    kinds = ("burr", "oxide", "handling")
    table = np.zeros((len(times), len(kinds)))
    fixed = np.zeros(len(times))
    for row, time in enumerate(times):
        job = time.analysis.job
        for one in time.result.evidence:
            work = rework_of(one, job, rates=shop.rework)
            copies = time.count * one.part.count
            table[row] += [copies * float(getattr(work, f"{kind}_min")) for kind in kinds]
            fixed[row] += copies * work.rounding_min
    used = [column for column in range(len(kinds)) if table[:, column].any()]
    parameters = [Parameter(f"{kinds[c]}_factor", "x", 1.0, *FACTORS, 0.5) for c in used]

    def reckon(values: Floats) -> Floats:
        total: Floats = table[:, used] @ values + fixed
        return total

    measured = np.array([time.deburr_minutes or 0.0 for time in times])
    return fitted_to(_rows(times), parameters, reckon, measured, HAND_NOISE)
