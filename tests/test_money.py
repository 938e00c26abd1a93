"""Money: the worked sheet, the split, and what a rate does.

The sheet (92 m, 200 pierces, 40 parts of mild steel 10 mm on 10 kW) was worked by hand from
settings of common practice, no source: 25.25 / 23.32 / 49.87 min and 76.7 / 70.6 / 126.0 EUR
in nitrogen, mixed gas and oxygen.
"""

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.money import MONEY, TERMS, Bill, Cost, cost_of, money_numbers, prices_used
from analyzer.motion.plan import Timing
from analyzer.process.choose import settings_for
from analyzer.process.flow import GasUse
from analyzer.process.hand_rates import HandRates
from analyzer.process.rates import Rates
from analyzer.process.rework import Body, rework_minutes
from analyzer.process.supply import NO_SUPPLIES, Supplies, Supply
from analyzer.shop import parse_shop

# The rates stated with the worked sheet: nothing but machine, labour and gas.
STATED = {
    "machine_per_h": 120.0, "labour_per_h": 60.0, "nitrogen_per_nm3": 0.2,
    "oxygen_per_nm3": 0.2, "electricity_per_kwh": 0.0, "consumables_per_beam_h": 0.0,
    "unloading_min_per_part": 0.0, "mild_steel_per_kg": 0.0,
}  # fmt: skip
FLOW = {"nitrogen": 69.4, "mixed": 69.3, "oxygen": 1.4}  # stated with it [Nm3/h]
BURR = {"nitrogen": 2, "mixed": 1, "oxygen": 0}
ROUND = {"nitrogen": (25.25, 76.7), "mixed": (23.32, 70.6), "oxygen": (49.87, 126.0)}


def sheet(gas: str) -> Bill:
    """Return the worked sheet as a bill."""
    (setting,), _ = settings_for(Job("mild-steel", 10.0, 10.0, gases=(gas,)))
    cut = 92_000.0 / setting.speed_mm_s
    timing = Timing(cut=cut, slowed=0.08 * cut, pierce=200 * setting.pierce_s, traverse=200 * 0.6)
    blown = FLOW[gas] * (timing.total - timing.traverse) / 3600.0
    oxygen = blown * setting.oxygen_share_percent / 100.0
    metres = [0.0] * 4
    metres[BURR[gas]] = 92.0 / 40
    rates = HandRates(burr="belt", oxide="machine", told=(("brush_passes", 1.0),))
    each = rework_minutes(Job("mild-steel", 10.0, 10.0, next_step="powder"), gas, metres,
                          (0.0,) * 4, 3.0, rates=rates, body=Body(300.0))  # fmt: skip
    return Bill(timing, GasUse(blown - oxygen, oxygen), 0.0, 40 * each.minutes, 0.0, 40,
                "mild-steel")  # fmt: skip


@pytest.mark.outside(
    "Minutes and money of a sheet of 92 m [min, EUR]", "worked by hand, common practice, no source"
)
@pytest.mark.parametrize("gas", ROUND)
def test_the_worked_sheet(gas: str) -> None:
    bill, (minutes, euros) = sheet(gas), ROUND[gas]
    assert bill.timing.total / 60.0 == pytest.approx(minutes, rel=0.002)
    cost = cost_of(bill, Rates("EUR", STATED, NO_SUPPLIES))
    assert cost.total == pytest.approx(euros, abs=0.15)
    assert cost.machine == pytest.approx(2.0 * minutes, rel=0.002)


def test_the_order_of_the_worked_sheet() -> None:
    """Mixed gas is cheapest, oxygen dearest; bundles at ten times the price turn it over."""
    tank = Rates("EUR", STATED, NO_SUPPLIES)
    costs = {gas: cost_of(sheet(gas), tank).total for gas in ROUND}
    assert sorted(costs, key=lambda gas: costs[gas]) == ["mixed", "nitrogen", "oxygen"]
    bundles = Rates("EUR", STATED | {"nitrogen_per_nm3": 3.0}, NO_SUPPLIES)
    costs = {gas: cost_of(sheet(gas), bundles).total for gas in ROUND}
    assert min(costs, key=lambda gas: costs[gas]) == "oxygen"


AMOUNT = st.floats(0.0, 1e4)
BILL = st.builds(
    Bill, st.builds(Timing, AMOUNT, AMOUNT, AMOUNT, AMOUNT, AMOUNT, AMOUNT, AMOUNT),
    st.builds(GasUse, AMOUNT, AMOUNT, AMOUNT), AMOUNT, AMOUNT, AMOUNT, st.integers(1, 99),
    st.sampled_from(["mild-steel", "stainless", "aluminium", "copper"]),
)  # fmt: skip


@given(BILL, st.floats(1.0, 300.0), st.floats(1.0, 300.0), st.floats(1.1, 3.0))
def test_a_dearer_rate_costs_more_by_its_own_term(
    bill: Bill, machine: float, labour: float, factor: float
) -> None:
    told = {"machine_per_h": machine, "labour_per_h": labour}
    base = cost_of(bill, Rates("EUR", told, NO_SUPPLIES))
    assert base.total == pytest.approx(sum(getattr(base, term) for term in TERMS))
    assert min(getattr(base, term) for term in TERMS) >= 0.0
    up = cost_of(bill, Rates("EUR", told | {"machine_per_h": machine * factor}, NO_SUPPLIES))
    assert up.machine == pytest.approx(factor * base.machine)
    assert replace(up, machine=0.0) == replace(base, machine=0.0)
    twice = cost_of(replace(bill, timing=bill.timing * 2.0), Rates("EUR", told, NO_SUPPLIES))
    assert twice.machine == pytest.approx(2.0 * base.machine)
    assert (base + base).total == pytest.approx(2.0 * base.total)


def test_operator_and_planned_time() -> None:
    """Half an operator, and time planned at 1.15 of the program (common practice: 1.1 to 1.2)."""
    bill = sheet("nitrogen")
    told = STATED | {"operator_share": 0.5, "planned_time_factor": 1.15}
    cost = cost_of(bill, Rates("EUR", told, NO_SUPPLIES))
    hours = 1.15 * bill.timing.total / 3600.0
    assert cost.machine == pytest.approx(hours * 120.0)
    assert cost.operator == pytest.approx(0.5 * hours * 60.0)


def test_numbers_say_formula_inputs_and_whose_prices() -> None:
    bill = replace(sheet("mixed"), energy_kwh=20.0, weight_kg=100.0)
    rates = Rates("EUR", {"machine_per_h": 120.0, "labour_per_h": 60.0}, NO_SUPPLIES)
    cost = cost_of(bill, rates)
    numbers = {number.name: number for number in money_numbers(bill, cost, rates)}
    assert set(numbers) == set(MONEY)
    assert numbers["cost"].value == pytest.approx(cost.total)
    assert numbers["cost-machine"].source == "your [rates]"
    assert dict(numbers["cost-gas"].inputs)["nitrogen from"] == "tank"
    assert "typical, not yours" in numbers["cost-gas"].sure
    for number in numbers.values():
        assert number.unit == "EUR"
        assert number.formula
        assert number.source


def test_a_material_without_a_typical_price_is_not_priced() -> None:
    rates = Rates("EUR", {"machine_per_h": 1.0, "labour_per_h": 1.0}, NO_SUPPLIES)
    bill = replace(sheet("nitrogen"), weight_kg=10.0, material="copper")
    assert cost_of(bill, rates).material == 0.0
    assert prices_used(bill, rates)["copper_per_kg"].source == "not priced"


@pytest.mark.parametrize(("kind", "price"), [("tank", 0.2), ("bundle", 2.0), ("generator", 0.08)])
def test_the_typical_price_follows_the_supply(kind: str, price: float) -> None:
    """Nitrogen from bundles costs ten times that of a tank (common practice, no source)."""
    rates = Rates("EUR", {}, Supplies(None, {"nitrogen": Supply(kind)}))
    assert rates.price("nitrogen_per_nm3").value == price
    assert rates.supply("nitrogen") == kind
    assert kind in rates.price("nitrogen_per_nm3").source or kind == "tank"


def shop(text: str) -> Rates | None:
    return parse_shop(text, Path("burrcast.toml")).rates


def test_rates_of_the_shop_file() -> None:
    rates = shop("[rates]\nmachine_per_h = 90\nlabour_per_h = 50\nnitrogen_per_nm3 = 0.31\n"
                 '[gases.oxygen]\nsupply = "bundle"\n')  # fmt: skip
    assert rates is not None
    assert rates.price("nitrogen_per_nm3").told
    assert rates.price("oxygen_per_nm3").value == 3.0
    assert not rates.price("electricity_per_kwh").told
    assert shop("[machine]\npower_kw = 5\n") is None


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("machine_per_h = 90", "no labour_per_h"),
        ("machine_per_hour = 90\nlabour_per_h = 1", "did you mean machine_per_h"),
        ("machine_per_h = -1\nlabour_per_h = 1", "cannot be meant"),
        ("machine_per_h = nan\nlabour_per_h = 1", "cannot be meant"),
        ('machine_per_h = 900\nlabour_per_h = 500\ncurrency = "SEK"', "in SEK every price"),
        ('machine_per_h = 900\nlabour_per_h = 500\ncurrency = ""', "cannot be meant"),
        ('machine_per_h = 900\nlabour_per_h = 500\ncurrency = "E\\n"', "cannot be meant"),
    ],
)  # fmt: skip
def test_rates_that_cannot_be_used(lines: str, says: str) -> None:
    with pytest.raises(InputError, match=says.replace("[", "\\[")) as error:
        shop(f"[rates]\n{lines}\n")
    assert "burrcast.toml, line" in str(error.value)


def test_another_currency_with_every_price() -> None:
    keys = ("nitrogen_per_nm3", "oxygen_per_nm3", "air_per_nm3", "electricity_per_kwh",
            "consumables_per_beam_h", "mild_steel_per_kg", "stainless_per_kg",
            "aluminium_per_kg")  # fmt: skip
    lines = "\n".join(f"{key} = 1" for key in ("machine_per_h", "labour_per_h", *keys))
    rates = shop(f'[rates]\ncurrency = "SEK"\n{lines}\n')
    assert rates is not None
    assert rates.currency == "SEK"
    assert isinstance(cost_of(sheet("oxygen"), rates), Cost)
