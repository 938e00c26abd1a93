"""How far a time, a cost or a difference may be off: the stated spreads carried through.

Every uncertain input is a factor around 1, log-normal, so that 19 of 20 lie within the spread
that is stated for it.  The same factor goes into every gas that shares the input, so what two
gases share cancels in their difference.  4,096 draws with a fixed seed: the same input gives
the same band.  Spreads and their marks: docs/money.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from zlib import crc32

import numpy as np

from analyzer.analysis import GasResult
from analyzer.geometry.contours import Floats
from analyzer.headlines import OWN_SPEED, STARTER_SPEED
from analyzer.money import Cost, beam_on
from analyzer.motion.plan import Timing
from analyzer.process.calibrated import Calibration
from analyzer.process.rates import GAS_KEYS, Rates
from analyzer.process.setting import Setting
from analyzer.shop import Shop

DRAWS, SEED = 4096, 20
WITHIN = 1.96  # standard deviations that hold 19 of 20
LOW, HIGH = 2.5, 97.5  # what a band leaves out on both sides [%]
# How sure the ratio of two speeds is: gases that cut by the same law times a factor against
# gases of two laws.  Our own guess, no source.
SAME_LAW, OTHER_LAW = 0.05, 0.15
HAND_WORK = 0.5  # rates of hand work, common practice, no source
# Common practice, no source: starts 0.1 to 0.5 s, piercing two to five times, drives.
STARTS, PIERCING, CORNERS, MOVES, MARKING = 0.65, 0.5, 0.3, 0.3, 0.3
GAS_FLOW, ELECTRICITY = 0.25, 0.2


@dataclass(frozen=True)
class Band:
    """A value, and between what it lies 19 times out of 20."""

    value: float
    low: float
    high: float

    @property
    def spans_zero(self) -> bool:
        """Whether the sign is not known."""
        return self.low <= 0.0 <= self.high


@dataclass(frozen=True, eq=False)
class Drawn:
    """One gas in every draw, shape (DRAWS,): machine [s], beam on [s], hand work [min], money."""

    machine: Floats
    beam: Floats
    rework: Floats
    money: Floats | None
    money_of_the_gas: Floats | None

    @property
    def minutes(self) -> Floats:
        """Machine and hand work together. [min]"""
        total: Floats = self.machine / 60.0 + self.rework
        return total


@cache
def factor(name: str, spread: float) -> Floats:
    """Return the draws of the input called `name`, off by up to `spread` 19 times out of 20.

    Two inputs of one name are the same draws, whatever their spread.
    """
    drawn: Floats = np.exp(_normal(crc32(name.encode()) + (SEED << 32)) * np.log1p(spread) / WITHIN)
    drawn.setflags(write=False)
    return drawn


def _normal(stream: int) -> Floats:
    """Return DRAWS normal deviates of one stream: splitmix64 counters, then Box and Muller.

    The same in every version of numpy, and without the 30 ms its random module takes to load.
    Steele, Lea & Flood, OOPSLA 2014; Box & Muller, Ann. Math. Stat. 29 (1958) 610-611 (both
    from memory).
    """
    with np.errstate(over="ignore"):  # modulo 2^64 is meant
        z = np.arange(1, 2 * DRAWS + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
        z += np.uint64(stream) * np.uint64(0xD1342543DE82EF95)
        z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        z ^= z >> np.uint64(31)
    one, two = ((z >> np.uint64(11)).astype(float) * 2.0**-53).reshape(2, DRAWS)
    deviate: Floats = np.sqrt(-2.0 * np.log1p(-one)) * np.cos(2.0 * np.pi * two)
    return deviate


def band(value: float, drawn: Floats) -> Band:
    """Return the band of `drawn`, held so that it contains `value`."""
    low, high = np.percentile(drawn, (LOW, HIGH))
    return Band(value, min(float(low), value), max(float(high), value))


# --- machine time ------------------------------------------------------------------------


def time_band(timing: Timing, setting: Setting, shop: Shop) -> Band:
    """Return the time of `timing` with its band. [s]"""
    machine, _ = _times(timing, setting, shop)
    return band(timing.total, machine)


def _times(timing: Timing, setting: Setting, shop: Shop) -> tuple[Floats, Floats]:
    """Return machine time and beam-on time in every draw. [s]"""
    if shop.calibration is not None and shop.calibration.covers(setting.gas):
        off = _calibrated(setting, shop.calibration)
        return timing.total * off, beam_on(timing) * off
    pace = _pace(setting)
    law = "oxygen" if setting.gas == "oxygen" else "melting gas"
    beam = (
        (timing.cut + timing.leads + timing.slugs) * pace
        + timing.slowed * factor("corners", CORNERS)
        + timing.pierce * factor(f"piercing in {law}", PIERCING)
    )
    rest = (
        timing.starts * factor("starts", STARTS)
        + timing.traverse * factor("moves", MOVES)
        + (timing.marking + timing.film) * factor("marking", MARKING)
        + timing.cool
        + timing.handling
    )
    return beam + rest, beam


def _pace(setting: Setting) -> Floats:
    """Return time at table speed over the time reckoned, in every draw."""
    own = setting.own_table or "your own" in dict(setting.sources).get("speed_mm_s", "")
    level = factor("own speeds", OWN_SPEED) if own else factor("speeds", STARTER_SPEED)
    return level * _ratio(setting.gas)


def _ratio(gas: str) -> Floats:
    """Return how far the speed of a gas may be off against that of nitrogen."""
    if gas == "nitrogen":
        return np.ones(DRAWS)
    return factor(f"speed of {gas}", law_spread(gas))


def law_spread(gas: str, other: str = "nitrogen") -> float:
    """Return how sure the ratio of the speeds of two gases is. [-]"""
    return OTHER_LAW if "oxygen" in (gas, other) else SAME_LAW


def _calibrated(setting: Setting, calibration: Calibration) -> Floats:
    """Return the measured residual: half of its square of this gas alone, half of the part.

    A gas that was not timed is off by the ratio of the speeds as well.
    """
    share = np.sqrt(0.5)
    both = factor("times", calibration.residual) ** share
    alone = factor(f"times in {setting.gas}", calibration.residual) ** share
    drawn: Floats = both * alone
    if setting.gas not in calibration.gases:
        drawn = drawn * _ratio(setting.gas)
    return drawn


# --- hand work and money -----------------------------------------------------------------


def drawn_of(result: GasResult, shop: Shop) -> Drawn:
    """Return one gas in every draw."""
    machine, beam = _times(result.timing, result.setting, shop)
    rework = _rework(result, shop)
    if result.cost is None or shop.rates is None:
        return Drawn(machine, beam, rework, None, None)
    on = beam / max(beam_on(result.timing), 1e-12)
    of_the_gas = _of_the_gas(result, result.cost, shop.rates, machine, on, rework)
    plate = shop.rates.material_per_kg(result.material)
    parts = shop.rates.price("unloading_min_per_part")
    money = (
        of_the_gas
        + result.cost.material * factor("price of plate", plate.spread)
        + result.cost.unloading * factor("unloading", parts.spread)
    )
    return Drawn(machine, beam, rework, money, of_the_gas)


def _rework(result: GasResult, shop: Shop) -> Floats:
    """Return the hand work of all copies in every draw. [min]"""
    if result.rework_min <= 0.0:
        return np.zeros(DRAWS)
    calibration = shop.calibration
    if calibration and calibration.rework_times:
        return result.rework_min * factor("hand work timed", calibration.rework_residual)
    counts = [one.part.count for one in result.evidence]
    kinds = {"oxide": 0.0, "handling": 0.0, "rounding": 0.0}
    for count, one in zip(counts, result.rework, strict=False):
        for kind in kinds:
            kinds[kind] += count * float(getattr(one, f"{kind}_min"))
    rest = max(result.rework_min - sum(kinds.values()), 0.0)  # burr
    drawn: Floats = rest * factor("burr", HAND_WORK)
    for kind, minutes in kinds.items():
        drawn = drawn + minutes * factor(kind, HAND_WORK)
    return drawn


def _of_the_gas(
    result: GasResult, cost: Cost, rates: Rates, machine: Floats, on: Floats,
    rework: Floats,
) -> Floats:  # fmt: skip
    """Return the money that the choice of gas can change, in every draw."""
    slower = machine / max(result.timing.total, 1e-12)
    flow, current = factor("gas flow", GAS_FLOW), factor("electricity", ELECTRICITY)
    money: Floats = (cost.machine + cost.operator) * slower
    for gas, key in GAS_KEYS.items():
        price = rates.price(key)
        spent = result.gas_nm3.of(gas) * price.value
        if spent:
            money = money + spent * on * flow * factor(f"price of {gas}", price.spread)
    power = rates.price("electricity_per_kwh")
    window = rates.price("consumables_per_beam_h")
    money = money + cost.energy * slower * current * factor("price of power", power.spread)
    money = money + cost.consumables * on * factor("consumables", window.spread)
    if result.rework_min > 0.0:
        money = money + cost.rework * rework / result.rework_min
    return money


# --- what is weighed ---------------------------------------------------------------------


def worth(result: GasResult) -> float:
    """Return what the gases are weighed by: money the gas can change, else minutes."""
    return result.minutes if result.cost is None else result.cost.of_the_gas


def difference(best: GasResult, rival: GasResult, shop: Shop) -> Band:
    """Return what the rival costs more, with its own band; in money, else minutes."""
    one, other = drawn_of(best, shop), drawn_of(rival, shop)
    if one.money_of_the_gas is None or other.money_of_the_gas is None:
        return band(rival.minutes - best.minutes, other.minutes - one.minutes)
    return band(worth(rival) - worth(best), other.money_of_the_gas - one.money_of_the_gas)


def cost_band(result: GasResult, shop: Shop) -> Band | None:
    """Return the cost of all copies with its band; None where the shop has no rates."""
    if result.cost is None:
        return None
    money = drawn_of(result, shop).money
    return None if money is None else band(result.cost.total, money)
