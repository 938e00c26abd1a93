"""What a job costs under one gas, term by term, at the shop's rates.  Formulas: docs/money.md."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields

from analyzer.headlines import Headline, Number
from analyzer.motion.plan import Timing
from analyzer.process.flow import GasUse
from analyzer.process.rates import GAS_KEYS, Price, Rates


@dataclass(frozen=True)
class Cost:
    """Money by term, in the currency of the rates.

    machine, operator = time at the machine; gas; energy = electricity; consumables = by
    beam-on hour; rework = hand work after cutting; unloading; material = plate by net weight.
    """

    machine: float = 0.0
    operator: float = 0.0
    gas: float = 0.0
    energy: float = 0.0
    consumables: float = 0.0
    rework: float = 0.0
    unloading: float = 0.0
    material: float = 0.0

    @property
    def total(self) -> float:
        """Sum of the terms."""
        return float(sum(getattr(self, f.name) for f in fields(self)))

    @property
    def of_the_gas(self) -> float:
        """What the choice of gas can change: all but plate and unloading."""
        return self.total - self.material - self.unloading

    def __add__(self, other: Cost) -> Cost:
        return Cost(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    def times(self, count: float) -> Cost:
        """Return what `count` of it cost."""
        return Cost(*(getattr(self, f.name) * count for f in fields(self)))


TERMS = tuple(f.name for f in fields(Cost))


@dataclass(frozen=True)
class Bill:
    """Quantities that cost money.

    Attributes
    ----------
    timing : Timing
        Time at the machine. [s]
    use : GasUse
        Gas. [Nm3]
    energy_kwh, rework_min, weight_kg, parts : float
        Electricity [kWh], hand work [min], net weight [kg] and number of parts.
    material : str
        Canonical name.
    """

    timing: Timing
    use: GasUse
    energy_kwh: float
    rework_min: float
    weight_kg: float
    parts: float
    material: str


def beam_on(timing: Timing) -> float:
    """Return the time the beam is on at full power: cutting, lead-ins, piercing, slugs. [s]"""
    return timing.cut + timing.slowed + timing.leads + timing.pierce + timing.slugs


def cost_of(bill: Bill, rates: Rates) -> Cost:
    """Return what `bill` costs at `rates`.

    Examples
    --------
    >>> from analyzer.process.flow import GasUse
    >>> from analyzer.process.supply import NO_SUPPLIES
    >>> told = dict.fromkeys(("electricity_per_kwh", "consumables_per_beam_h",
    ...     "unloading_min_per_part", "mild_steel_per_kg"), 0.0)
    >>> told |= {"machine_per_h": 120.0, "labour_per_h": 60.0, "nitrogen_per_nm3": 0.2}
    >>> bill = Bill(Timing(cut=1515.0), GasUse(26.9), 0.0, 20.8, 0.0, 40, "mild-steel")
    >>> round(cost_of(bill, Rates("EUR", told, NO_SUPPLIES)).total, 1)
    76.7
    """

    def price(key: str) -> float:
        return rates.price(key).value

    hours = bill.timing.total * price("planned_time_factor") / 3600.0
    labour = price("labour_per_h")
    return Cost(
        machine=hours * price("machine_per_h"),
        operator=hours * price("operator_share") * labour,
        gas=sum(bill.use.of(gas) * price(key) for gas, key in GAS_KEYS.items()),
        energy=bill.energy_kwh * price("electricity_per_kwh"),
        consumables=beam_on(bill.timing) / 3600.0 * price("consumables_per_beam_h"),
        rework=bill.rework_min / 60.0 * labour,
        unloading=bill.parts * price("unloading_min_per_part") / 60.0 * labour,
        material=bill.weight_kg * rates.material_per_kg(bill.material).value,
    )


def prices_used(bill: Bill, rates: Rates) -> dict[str, Price]:
    """Return every rate that changes what `bill` costs, by its key in [rates]."""
    keys = ["machine_per_h", "labour_per_h"]
    keys += [
        key
        for key, none in (("operator_share", 0.0), ("planned_time_factor", 1.0))
        if rates.price(key).value != none
    ]
    keys += [key for gas, key in GAS_KEYS.items() if bill.use.of(gas) > 0.0]
    keys += ["electricity_per_kwh", "consumables_per_beam_h", "unloading_min_per_part"]
    used = {key: rates.price(key) for key in keys}
    used[f"{bill.material.replace('-', '_')}_per_kg"] = rates.material_per_kg(bill.material)
    return used


# --- numbers that can be asked "why?" ----------------------------------------------------

_SURE = "as sure as the quantity; your rates are taken as exact"
MONEY: dict[str, Headline] = {
    row[0]: Headline(row[0], row[1], "money", row[2], row[3])
    for row in (
        ("cost", "cost of all copies", "machine + operator + gas + energy + consumables +"
         " rework + unloading + material", "see the band on the page"),
        ("cost-machine", "time at the machine", "machine hours x planned_time_factor x"
         " machine_per_h", _SURE),
        ("cost-operator", "operator at the machine", "machine hours x planned_time_factor x"
         " operator_share x labour_per_h", _SURE),
        ("cost-gas", "gas", "sum over nitrogen, oxygen, air: Nm3 x price", _SURE),
        ("cost-energy", "electricity", "kWh x electricity_per_kwh", _SURE),
        ("cost-consumables", "window and nozzles", "beam-on hours x consumables_per_beam_h",
         _SURE),
        ("cost-rework", "work after cutting", "minutes / 60 x labour_per_h", _SURE),
        ("cost-unloading", "taking parts off", "parts x unloading_min_per_part / 60 x"
         " labour_per_h", _SURE),
        ("cost-material", "plate", "net weight x price per kg; the skeleton is not counted",
         _SURE),
    )
}  # fmt: skip


def money_numbers(bill: Bill, cost: Cost, rates: Rates) -> tuple[Number, ...]:
    """Return the cost and its terms as numbers that can be asked "why?"."""
    hours = {"machine": f"{bill.timing.total / 3600.0:.4g} h"}
    gas = {f"{gas} used": f"{bill.use.of(gas):.4g} Nm3" for gas in GAS_KEYS
           if bill.use.of(gas) > 0.0}  # fmt: skip
    quantities: dict[str, dict[str, str]] = {
        "machine": hours,
        "operator": hours,
        "gas": gas | {f"{name} from": rates.supply(name) for name in GAS_KEYS
                      if bill.use.of(name) > 0.0},
        "energy": {"electricity": f"{bill.energy_kwh:.4g} kWh"},
        "consumables": {"beam on": f"{beam_on(bill.timing) / 3600.0:.4g} h"},
        "rework": {"work": f"{bill.rework_min:.4g} min"},
        "unloading": {"parts": f"{bill.parts:g}"},
        "material": {"weight": f"{bill.weight_kg:.4g} kg"},
    }  # fmt: skip
    used = prices_used(bill, rates)
    numbers = [_number("cost", cost.total, {t: f"{getattr(cost, t):.2f}" for t in TERMS}, {},
                       rates.currency)]  # fmt: skip
    for term in TERMS:
        head = MONEY[f"cost-{term}"]
        mine = {key: price for key, price in used.items() if _belongs(key, term, head.formula)}
        numbers.append(
            _number(head.name, getattr(cost, term), quantities[term], mine, rates.currency)
        )
    return tuple(numbers)


def _belongs(key: str, term: str, formula: str) -> bool:
    if term == "gas":
        return key.endswith("_per_nm3")
    return key.endswith("_per_kg") if term == "material" else key in formula


def _number(
    name: str, value: float, quantities: Mapping[str, str], prices: Mapping[str, Price],
    currency: str,
) -> Number:  # fmt: skip
    head = MONEY[name]
    inputs = dict(quantities) | {key: f"{price.value:g}" for key, price in prices.items()}
    sources = dict.fromkeys(price.source for price in prices.values()) or {"its terms": None}
    typical = [key for key, price in prices.items() if not price.told]
    sure = head.sure
    if typical:
        sure = "typical, not yours: " + ", ".join(
            f"{key} +-{prices[key].spread:.0%}".replace("%", " %") for key in typical
        )
    return Number(name, value, currency, head.formula, tuple(inputs.items()),
                  "; ".join(sources), sure)  # fmt: skip
