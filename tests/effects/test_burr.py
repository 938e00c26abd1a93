"""Burr class by gas, material, thickness, power and plate.

The expected classes are a shop rule of thumb: common practice, no source.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.process.burr import (
    base_table,
    burr_data,
    burr_terms,
    class_words,
    round_class,
    slow_fraction,
)
from analyzer.process.gas import GASES
from analyzer.process.material import CUTTABLE

# Thickness in the middle of each band, and the range of the shop rule at 0.8 mm per kW.
SHOP_RULE = {
    ("mild-steel", "oxygen"): ((0, 0), (0, 0), (0, 1), (0, 1)),
    ("mild-steel", "nitrogen"): ((0, 1), (1, 1), (2, 2), (3, 3)),
    ("mild-steel", "mixed"): ((0, 0), (0, 1), (1, 1), (1, 1)),
    ("mild-steel", "air"): ((0, 1), (1, 1), (2, 2), (3, 3)),
    ("stainless", "nitrogen"): ((0, 0), (0, 1), (1, 2), (2, 2)),
    ("stainless", "mixed"): ((0, 0), (0, 0), (0, 1), (1, 1)),
    ("aluminium", "nitrogen"): ((1, 1), (1, 2), (2, 3), (3, 3)),
    ("aluminium", "mixed"): ((0, 1), (1, 1), (1, 2), (2, 2)),
    ("aluminium", "air"): ((0, 1), (1, 1), (1, 2), (2, 2)),
}
MIDDLES = (2.0, 5.0, 10.0, 20.0)


@pytest.mark.parametrize(("material", "gas"), SHOP_RULE)
def test_middles_of_the_bands_lie_in_the_range_of_the_shop_rule(material: str, gas: str) -> None:
    for t, (low, high) in zip(MIDDLES, SHOP_RULE[material, gas], strict=True):
        assert low <= burr_terms(gas, material, t, t / 0.8).classes[0] <= high, t


@pytest.mark.parametrize(
    ("gas", "t", "base"),
    [
        ("oxygen", 1.0, 0.0), ("oxygen", 25.0, 0.0),
        ("nitrogen", 3.0, 0.5), ("nitrogen", 5.0, 1.0), ("nitrogen", 7.5, 1.5),
        ("nitrogen", 10.0, 2.0), ("nitrogen", 17.0, 3.0), ("nitrogen", 25.0, 3.0),
        ("air", 3.0, 0.5), ("air", 10.0, 2.0),
        ("mixed", 1.0, 0.0), ("mixed", 3.0, 0.0), ("mixed", 4.0, 0.25), ("mixed", 5.0, 0.5),
        ("mixed", 8.0, 1.0), ("mixed", 25.0, 1.0),
    ],
)  # fmt: skip
def test_numbers_named_outright_for_mild_steel(gas: str, t: float, base: float) -> None:
    assert burr_terms(gas, "mild-steel", t, t / 0.8).base == pytest.approx(base)


def test_facts_of_the_trade() -> None:
    """Burr strongest with nitrogen on thick mild steel, much less with mixed gas.

    20 mm on 20 kW: 3 / 1 / 0-1 in nitrogen, mixed gas and oxygen.  8 mm aluminium on
    10 kW: one class less in mixed gas than in nitrogen.
    """
    thick = {gas: burr_terms(gas, "mild-steel", 20.0, 20.0).classes[0] for gas in GASES}
    assert (thick["nitrogen"], thick["mixed"]) == (3, 1)
    assert thick["oxygen"] in (0, 1)
    plain, mixed = (burr_terms(g, "aluminium", 8.0, 10.0).classes[0] for g in ("nitrogen", "mixed"))
    assert mixed == plain - 1


def test_power_shift_at_its_bounds() -> None:
    """Plenty of power up to 0.5 mm per kW, too little above 1.0."""
    shifts = [
        burr_terms("nitrogen", "mild-steel", 10.0, p).power_shift for p in (20, 19.9, 10, 9.9)
    ]
    assert shifts == [-1.0, 0.0, 0.0, 1.0]


def test_stainless_beyond_its_ok_limit_is_one_class_worse_not_two() -> None:
    inside, beyond = (burr_terms("nitrogen", "stainless", 10.0, p).straight for p in (10.0, 6.0))
    assert beyond - inside == 1.0


def test_poor_plate() -> None:
    def straight(gas: str, plate: str) -> float:
        return burr_terms(gas, "mild-steel", 5.0, 6.0, plate).straight

    for plate in ("rusty", "scale"):
        more = {gas: straight(gas, plate) - straight(gas, "clean") for gas in GASES}
        assert more == {"oxygen": 1.0, "nitrogen": 1.0, "mixed": 0.0, "air": 1.0}
    for plate in ("film", "galvanised"):
        assert all(straight(gas, plate) == straight(gas, "clean") for gas in GASES)


@given(
    gas=st.sampled_from(GASES), material=st.sampled_from(CUTTABLE), t=st.floats(0.5, 30.0),
    power=st.floats(1.0, 40.0), plate=st.sampled_from(["clean", "rusty", "scale", "film"]),
)  # fmt: skip
def test_classes_stay_in_range(gas: str, material: str, t: float, power: float, plate: str) -> None:
    straight, slow = burr_terms(gas, material, t, power, plate).classes
    assert 0 <= straight <= slow <= (2 if gas == "mixed" else 3)
    if gas == "mixed":
        assert straight == slow


@given(st.sampled_from(GASES), st.sampled_from(CUTTABLE), st.floats(0.5, 30.0))
def test_base_never_falls_with_thickness(gas: str, material: str, t: float) -> None:
    thin, thick = (burr_terms(gas, material, x, x).base for x in (t, t * 1.1))
    assert thin <= thick + 1e-12


@given(st.floats(-3.0, 6.0))
def test_rounding_is_half_up(value: float) -> None:
    assert int(round_class(value)) == int(np.floor(min(max(value, 0.0), 3.0) + 0.5 + 1e-9))
    assert int(round_class(value, 2.0)) <= 2


def test_every_value_has_a_source_mark() -> None:
    data = burr_data()
    rows = [*data["base"], data["power_shift"], data["slow"], *data["slow"]["fraction"]]
    rows += [data["poor_plate"], data["scale"], data["most_by_gas"]]
    assert all(row["source"] in data["marks"] for row in rows)
    for gas in GASES:
        for material in CUTTABLE:
            t, value = base_table(gas, material)
            assert len(t) == len(value)
            assert (np.diff(t) > 0).all()


def test_slow_fractions_are_bands_half_open() -> None:
    said = [slow_fraction("nitrogen", t) for t in (3.0, 3.01, 6.0, 6.01, 12.0, 12.01)]
    assert said == [0.0, 0.15, 0.15, 0.3, 0.3, 0.4]
    assert [slow_fraction("mixed", t) for t in (6.0, 6.01)] == [0.0, 0.25]
    assert slow_fraction("oxygen", 20.0) == 0.0


def test_words_and_unknown() -> None:
    assert class_words(2) == "brush or belt"
    with pytest.raises(InputError, match="no burr class is known for gas 'argon'"):
        burr_terms("argon", "mild-steel", 5.0, 6.0)
    assert "analogy" in burr_terms("nitrogen", "copper", 3.0, 6.0).source
