"""Which change of one input would turn the advice: break-even points, the nearest first."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from analyzer.analysis import GasResult
from analyzer.process.rates import GAS_KEYS, Rates
from analyzer.reasons import money, spoken
from analyzer.spread import HAND_WORK, law_spread, worth

NEAR = 3.0  # a point further off than so many spreads is not said [-]
# How far a price of today may move: our own guess, no source.
LABOUR, MACHINE, GAS_PRICE = 0.25, 0.25, 0.5


@dataclass(frozen=True)
class BreakEven:
    """One input at which two gases cost the same, all else as reckoned.

    Attributes
    ----------
    input : str
        Its key in [rates], or "speed of GAS", "hand work after GAS".
    value, at : float
        What it is taken to be, and what it would have to be.
    unit : str
        Of both; "x" for a factor on what was reckoned.
    far : float
        How far off, in spreads of the input; 1 is ordinary, above 3 is not near. [-]
    words : str
        The change in words.
    """

    input: str
    value: float
    at: float
    unit: str
    far: float
    words: str


@dataclass(frozen=True)
class _Lever:
    """An input, and how much the difference between the gases grows with it, in full."""

    input: str
    value: float
    unit: str
    slope: float
    spread: float
    up: str
    down: str


def break_evens(best: GasResult, rival: GasResult, rates: Rates | None) -> tuple[BreakEven, ...]:
    """Return every input that could turn `best` into `rival`, the nearest first.

    The difference D is linear in each input x: D + (f - 1) S, with S what of D is in
    proportion to x and f the factor on x, so the two are even at f = 1 - D / S.
    """
    gap = worth(rival) - worth(best)
    if gap <= 0.0:
        return ()
    levers = (
        _money(best, rival, rates) if rates and best.cost and rival.cost else _time(best, rival)
    )
    found = [_at(lever, gap, rival.gas) for lever in levers if lever.slope != 0.0]
    return tuple(sorted((one for one in found if one is not None), key=lambda one: one.far))


def nearest(points: tuple[BreakEven, ...]) -> str:
    """Return the nearest break-even in words; empty where none is near."""
    return points[0].words if points and points[0].far <= NEAR else ""


def _at(lever: _Lever, gap: float, rival: str) -> BreakEven | None:
    even = 1.0 - gap / lever.slope
    if even <= 0.01:
        return None  # not even for nothing
    far = abs(math.log(even)) / math.log1p(lever.spread)
    change = (lever.up if even > 1.0 else lever.down).format(
        percent=f"{abs(even - 1.0) * 100.0:.0f} %", at=_shown(even * lever.value),
        now=_shown(lever.value), longer=_longer(even),
    )  # fmt: skip
    words = f"if {change}, {spoken(rival)} would win"
    return BreakEven(lever.input, lever.value, even * lever.value, lever.unit, far, words)


def _longer(even: float) -> str:
    return f"{even:.1f} times as long" if even >= 2.0 else f"{(even - 1.0) * 100.0:.0f} % longer"


def _shown(value: float) -> str:
    return money(value) if value >= 1.0 else f"{value:.2g}"


def _time(best: GasResult, rival: GasResult) -> Iterator[_Lever]:
    """Speed of the best, hand work after either: minutes."""
    yield _speed(best, rival, best.timing.total / 60.0)
    yield _hand(best, -best.rework_min)
    yield _hand(rival, rival.rework_min)


def _money(best: GasResult, rival: GasResult, rates: Rates) -> Iterator[_Lever]:
    """The same in money, and the rates."""
    if best.cost is None or rival.cost is None:
        return
    one, other = best.cost, rival.cost
    running = one.machine + one.operator + one.gas + one.energy + one.consumables
    yield _speed(best, rival, running)
    yield _hand(best, -one.rework)
    yield _hand(rival, other.rework)
    labour = other.rework + other.operator - one.rework - one.operator
    per_hour = f"{rates.currency}/h"
    yield _rate("labour_per_h", "labour", rates, per_hour, labour, LABOUR)
    yield _rate(
        "machine_per_h", "the machine", rates, per_hour, other.machine - one.machine, MACHINE
    )
    for gas, key in GAS_KEYS.items():
        more = rival.gas_nm3.of(gas) - best.gas_nm3.of(gas)
        slope = more * rates.price(key).value
        yield _rate(key, gas, rates, f"{rates.currency}/Nm3", slope, GAS_PRICE)


def _speed(best: GasResult, rival: GasResult, running: float) -> _Lever:
    """Slower by a share takes as much longer; nothing else of the cost changes."""
    gas = spoken(best.gas)
    return _Lever(
        f"time in {best.gas}", 1.0, "x", -running, law_spread(best.gas, rival.gas),
        gas + " took {longer} at the machine", gas + " ran {percent} faster",
    )  # fmt: skip


def _hand(result: GasResult, slope: float) -> _Lever:
    work = f"hand work after {spoken(result.gas)} took"
    return _Lever(
        f"hand work after {result.gas}", 1.0, "x", slope, HAND_WORK,
        work + " {longer}", work + " {percent} less",
    )  # fmt: skip


def _rate(key: str, name: str, rates: Rates, unit: str, slope: float, spread: float) -> _Lever:
    price = rates.price(key)
    taken = "you pay" if price.told else "taken as"
    words = "{at} " + f"{unit} ({taken} " + "{now})"
    return _Lever(
        key, price.value, unit, slope, spread,
        f"{name} cost more than {words}", f"{name} cost less than {words}",
    )  # fmt: skip
