"""Is a mixer or a compressor worth buying?  A month's parts, cut with and without it.

Every drawing is cut in the gas that is advised among those the shop has, and again among
those it would have.  docs/money.md has the formulas.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import advise
from analyzer.errors import InputError
from analyzer.geometry.contours import Floats
from analyzer.money import Bill
from analyzer.process.choose import STARTER
from analyzer.process.flow import NO_GAS, GasUse
from analyzer.process.invest import Invest
from analyzer.reasons import losses, losses_in_every_gas
from analyzer.shop import Shop
from analyzer.spread import DRAWS, Band, band, drawn_of

ADDS = {"mixer": ("mixed",), "compressor": ("air",), "mixer and compressor": ("mixed", "air")}
LONGEST = 1200.0  # payback times beyond a hundred years are "never" [months]


@dataclass(frozen=True, eq=False)
class MonthlyPart:
    """One row of the list: its analysis, and how many of the drawing a month."""

    line: int
    quantity: int
    analysis: Analysis


@dataclass(frozen=True)
class Hours:
    """Work of one material in one gas. [h/month]

    Attributes
    ----------
    material, gas : str
    machine, hand : float
        At the machine and by hand. [h/month]
    use : GasUse
        Gas it takes. [Nm3/month]
    """

    material: str
    gas: str
    machine: float
    hand: float
    use: GasUse = NO_GAS


@dataclass(frozen=True, eq=False)
class Month:
    """A month's work among some gases.

    Attributes
    ----------
    gases : tuple of str
        Gases to choose among.
    hours : tuple of Hours
        By material and gas.
    money : float
        What the choice of gas can change: all but plate and unloading.
    losses : int
        Places lost a month that another gas would not lose.
    chosen : tuple of str
        Gas of every row.
    drawn : ndarray, shape (DRAWS,)
        The money in every draw.
    bills : tuple of Bill
        What each drawing is charged for, one of it.
    starter : int
        Drawings cut at a starter speed.
    """

    gases: tuple[str, ...]
    hours: tuple[Hours, ...]
    money: float
    losses: int
    chosen: tuple[str, ...]
    drawn: Floats = field(repr=False)
    bills: tuple[Bill, ...] = field(default=(), repr=False)
    starter: int = 0

    @property
    def machine_hours(self) -> float:
        """Hours at the machine. [h/month]"""
        return sum(row.machine for row in self.hours)

    @property
    def hand_hours(self) -> float:
        """Hours of work after cutting. [h/month]"""
        return sum(row.hand for row in self.hours)


@dataclass(frozen=True)
class Purchase:
    """What something to buy would save.

    Attributes
    ----------
    name : str
        "mixer", "compressor" or both.
    month : Month
        The month with it.
    saved : Band
        Money saved a month, its own running cost taken off.
    price : float or None
        To buy; None where not told.
    months : Band or None
        Until it is paid; None where there is no price or nothing is saved.
    """

    name: str
    month: Month
    saved: Band
    price: float | None
    months: Band | None


@dataclass(frozen=True)
class Payback:
    """A month as it is today, and with what could be bought."""

    parts: int
    rows: int
    today: Month
    purchases: tuple[Purchase, ...]
    currency: str
    labour_per_h: float
    shop: Shop

    @property
    def months(self) -> tuple[Month, ...]:
        """Today and every month with a purchase."""
        return (self.today, *(purchase.month for purchase in self.purchases))


def payback(parts: Sequence[MonthlyPart], shop: Shop, invest: Invest | None = None) -> Payback:
    """Return what a mixer, a compressor or both would save a month.

    Parameters
    ----------
    parts : sequence of MonthlyPart
        What is cut every month.
    shop : Shop
        With rates, and the gases it has.
    invest : Invest, optional
        Prices; those of the shop file where not given.

    Raises
    ------
    InputError
        If the shop has no rates, does not say its gases, or no part is left.
    """
    prices = invest or shop.invest
    has = gases_of(shop)
    if shop.rates is None:  # said by gases_of already
        raise InputError("the shop file has no [rates]")
    if not parts:
        raise InputError("no row of the list can be used", hint="mend the rows named above")
    today = _month(parts, has)
    return Payback(
        parts=sum(part.quantity * part.analysis.totals.parts for part in parts),
        rows=len(parts),
        today=today,
        purchases=tuple(_purchases(parts, today, has, prices)),
        currency=shop.rates.currency,
        labour_per_h=shop.rates.price("labour_per_h").value,
        shop=shop,
    )


def gases_of(shop: Shop) -> tuple[str, ...]:
    """Return the gases the shop has today.

    Raises
    ------
    InputError
        If the shop file does not say, or has no rates.
    """
    if shop.rates is None:
        raise InputError(
            "what is saved is money, and the shop file has no [rates]",
            where=str(shop.path or "no shop file"),
            hint="write [rates] with machine_per_h and labour_per_h into burrcast.toml",
        )
    if not shop.gases:
        raise InputError(
            "the shop file does not say which gases you have",
            where=str(shop.path),
            hint='write available = ["oxygen", "nitrogen"] under [gases]',
        )
    return shop.gases


def reason_unusable(analysis: Analysis, has: Sequence[str]) -> str:
    """Return why a drawing cannot be counted; empty where it can."""
    if not analysis.parts.parts:
        return "the drawing has no closed contour that is a part"
    if not any(result.gas in has for result in analysis.gases):
        return "none of your gases has a speed for it"
    return ""


def _purchases(
    parts: Sequence[MonthlyPart], today: Month, has: tuple[str, ...], prices: Invest
) -> Iterable[Purchase]:
    for name, gases in ADDS.items():
        if any(gas in has for gas in gases):
            continue
        bought = [kind for kind in ("mixer", "compressor") if kind in name]
        running = sum(float(getattr(prices, f"{kind}_per_month")) for kind in bought)
        each = [getattr(prices, f"{kind}_price") for kind in bought]
        price = None if None in each else float(sum(each))
        month = _month(parts, (*has, *gases))
        saved = band(today.money - month.money - running, today.drawn - month.drawn - running)
        yield Purchase(name, month, saved, price, _months(price, saved))


def _months(price: float | None, saved: Band) -> Band | None:
    """Return how long until `price` is paid; its upper end is LONGEST where it may be never."""
    if price is None or saved.value <= 0.0:
        return None
    worst = price / saved.low if saved.low > 0.0 else LONGEST
    value = price / saved.value
    return Band(value, price / saved.high, max(min(worst, LONGEST), value))


def _month(parts: Sequence[MonthlyPart], gases: tuple[str, ...]) -> Month:
    hours: dict[tuple[str, str], Hours] = {}
    money, lost, chosen = 0.0, 0, []
    bills: list[Bill] = []
    starter = 0
    drawn: Floats = np.zeros(DRAWS)
    for part in parts:
        result = best_among(part.analysis, gases)
        chosen.append(result.gas)
        key = (result.material, result.gas)
        so_far = hours.get(key, Hours(*key, 0.0, 0.0))
        hours[key] = replace(
            so_far,
            machine=so_far.machine + part.quantity * result.timing.total / 3600.0,
            hand=so_far.hand + part.quantity * result.rework_min / 60.0,
            use=_more_gas(so_far.use, result.gas_nm3, part.quantity),
        )
        bills += [result.bill] if result.bill is not None else []
        starter += STARTER in result.setting.speed_source
        own = losses(result.findings) - losses_in_every_gas(part.analysis.gases)
        lost += part.quantity * len(own)
        money += part.quantity * (result.cost.of_the_gas if result.cost else 0.0)
        spent = drawn_of(result, part.analysis.shop).money_of_the_gas
        if spent is not None:
            drawn = drawn + part.quantity * spent
    rows = tuple(hours.values())
    return Month(gases, rows, money, lost, tuple(chosen), drawn, tuple(bills), starter)


def _more_gas(use: GasUse, one: GasUse, count: int) -> GasUse:
    """Return `use` and `count` times what `one` took; the flows are of no interest."""
    return GasUse(*(use.of(gas) + count * one.of(gas) for gas in ("nitrogen", "oxygen", "air")))


def best_among(analysis: Analysis, gases: Sequence[str]) -> GasResult:
    """Return the result under the gas advised among `gases`."""
    among = replace(analysis, shop=replace(analysis.shop, gases=tuple(gases)))
    advised = advise(among).gas
    result = analysis.under(advised) if advised else None
    if result is None:
        raise InputError("no gas can be advised for a row of the list", hint="check it alone")
    return result
