"""Kerf, pierce, lead-in, crater, pressure, nozzle, share."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.process.gas import GASES
from analyzer.process.load import data
from analyzer.process.material import CUTTABLE
from analyzer.process.recipe import (
    checked_share,
    crater_rule,
    head_setting,
    kerf_rule,
    lead_rule,
    pierce_distance_rule,
    pierce_rule,
    share_set_point,
    small_contour_rule,
)

# Remembered mean kerfs, mm (from memory, not verified): thickness, nitrogen, oxygen.
STEEL_KERFS = [
    (1, 0.16, 0.18), (2, 0.23, 0.25), (3, 0.28, 0.31), (4, 0.32, 0.36), (5, 0.36, 0.40),
    (6, 0.39, 0.44), (8, 0.45, 0.51), (10, 0.51, 0.57), (12, 0.55, 0.62), (15, 0.62, 0.70),
    (20, 0.72, 0.80), (25, 0.80, 0.90),
]  # fmt: skip
ALUMINIUM_KERFS = [
    (1, 0.17), (2, 0.24), (3, 0.30), (4, 0.34), (5, 0.38), (6, 0.42), (8, 0.48), (10, 0.54),
    (12, 0.58), (15, 0.66), (20, 0.76),
]  # fmt: skip


@pytest.mark.outside("Kerf by thickness [mm]", "from memory")
def test_kerf_rule_gives_the_remembered_kerfs() -> None:
    for t, nitrogen, oxygen in STEEL_KERFS:
        assert kerf_rule("mild-steel", "nitrogen", t) == pytest.approx(nitrogen, abs=0.0051)
        assert kerf_rule("mild-steel", "oxygen", t) == pytest.approx(oxygen, abs=0.0055)
    for t, kerf in ALUMINIUM_KERFS:
        assert kerf_rule("aluminium", "nitrogen", t) == pytest.approx(kerf, abs=0.01)


# Rule of this project, +-50 %: t, P, nitrogen s, oxygen s (no nitrogen beyond its power).
PIERCES = [
    (3, 3, 0.20, 0.56), (6, 6, 0.35, 0.92), (10, 10, 0.55, 1.40), (10, 4, 1.30, 3.20),
    (15, 6, None, 4.70), (20, 20, 1.05, 2.60), (20, 6, None, 8.20), (25, 30, 1.09, 2.70),
    (25, 10, None, 7.70),
]  # fmt: skip


@pytest.mark.outside("Pierce times [s]", "common practice, no source")
def test_pierce_times() -> None:
    for t, power, nitrogen, oxygen in PIERCES:
        assert pierce_rule("mild-steel", "oxygen", t, power) == pytest.approx(oxygen, abs=0.005)
        if nitrogen is not None:
            for gas in ("nitrogen", "mixed", "air"):
                found = pierce_rule("mild-steel", gas, t, power)
                assert found == pytest.approx(nitrogen, abs=0.005)
    steel = pierce_rule("mild-steel", "nitrogen", 8, 10)
    assert pierce_rule("stainless", "nitrogen", 8, 10) == pytest.approx(1.2 * steel)
    assert pierce_rule("aluminium", "nitrogen", 8, 10) == pytest.approx(0.8 * steel)


# Lead-in ranges and least pierce distances (common practice, no source):
# thicknesses, nitrogen range, oxygen range, distance nitrogen, distance oxygen.
LEADS = [
    ((1, 3), (1.5, 3), (2, 3), 1.5, 1.5),
    ((4, 6), (3, 4), (4, 5), 3, 3),
    ((8, 10), (4, 6), (6, 8), 4, 6),
    ((12, 15), (6, 8), (8, 12), 6, 8),
    ((20, 25), (8, 12), (12, 18), 8, 12),
]


def test_lead_ins_lie_in_their_range_and_keep_the_pierce_off_the_contour() -> None:
    for (thin, thick), (low, high), (low_o, high_o), distance, distance_o in LEADS:
        for t in (thin, 0.5 * (thin + thick), thick):
            assert low <= lead_rule("nitrogen", t) <= high
            assert low_o <= lead_rule("oxygen", t) <= high_o
            assert pierce_distance_rule("nitrogen", t) == distance
            assert pierce_distance_rule("oxygen", t) == distance_o
            assert lead_rule("nitrogen", t) >= distance
            assert lead_rule("oxygen", t) >= distance_o


def test_lead_in_of_the_check_drawing() -> None:
    """10 mm, 10 kW: 6 mm leads in nitrogen and mixed gas."""
    assert lead_rule("nitrogen", 10) == lead_rule("mixed", 10) == 6.0


@given(t=st.floats(0.5, 32.0), more=st.floats(0.0, 10.0))
def test_everything_grows_with_thickness(t: float, more: float) -> None:
    for gas in GASES:
        assert lead_rule(gas, t) <= lead_rule(gas, t + more)
        assert pierce_distance_rule(gas, t) <= pierce_distance_rule(gas, t + more)
        assert crater_rule(gas, t) <= crater_rule(gas, t + more)


@pytest.mark.outside("Crater of a pierce [mm]", "common practice, no source")
def test_craters() -> None:
    """0.5 + 0.05 t, oxygen 1.0 + 0.05 t with a controlled pierce (common practice)."""
    assert crater_rule("mixed", 20) == pytest.approx(1.5)
    assert crater_rule("oxygen", 20) == pytest.approx(2.0)


@pytest.mark.parametrize("material", CUTTABLE)
@pytest.mark.parametrize("gas", GASES)
def test_small_contour_factors(material: str, gas: str) -> None:
    """Rising to 1 at six times the thickness; mixed gas never below nitrogen."""
    ratios, factors = small_contour_rule(material, gas)
    assert list(ratios) == sorted(ratios)
    assert list(factors) == sorted(factors)
    assert (ratios[-1], factors[-1]) == (6.0, 1.0)
    assert factors[0] >= 0.3
    nitrogen = small_contour_rule(material, "nitrogen")[1]
    if gas == "mixed":
        assert all(m >= n for m, n in zip(factors, nitrogen, strict=True))


@pytest.mark.parametrize(
    ("material", "gas", "thickness", "bar", "nozzle"),
    [
        ("mild-steel", "nitrogen", 3.0, 12.0, "S2"),
        ("mild-steel", "nitrogen", 10.0, 10.0, "S4"),
        ("mild-steel", "oxygen", 10.0, 0.7, "D1.4-1.5"),
        ("mild-steel", "nitrogen", 9.0, 11.0, "S4"),  # linear; nozzle of the next row
        ("mild-steel", "nitrogen", 30.0, 9.0, "S6-7"),  # the last row holds
        ("mild-steel", "air", 12.0, 12.0, "S5"),
        ("stainless", "nitrogen", 6.0, 17.0, "S3"),
        ("stainless", "mixed", 6.0, 17.0, "S3"),  # borrowed
        ("aluminium", "air", 8.0, 12.0, "S3.5"),  # pressure of mild steel, nozzle of nitrogen
        ("aluminium", "oxygen", 8.0, 0.7, "D1.4"),
    ],
)
def test_head_settings(material: str, gas: str, thickness: float, bar: float, nozzle: str) -> None:
    """From memory, not verified; common practice, no source."""
    found = head_setting(material, gas, thickness)
    assert (found.bar, found.nozzle) == (pytest.approx(bar), nozzle)
    assert found.bar_range[0] <= found.bar <= found.bar_range[1]
    borrowed = material != "mild-steel" and gas != "nitrogen"
    assert ("guess" in found.source) == borrowed


@pytest.mark.parametrize(
    ("material", "thickness", "share"),
    [
        ("mild-steel", 10.0, 2.0),
        ("mild-steel", 20.0, 1.0),
        ("mild-steel", 3.0, 5.0),
        ("aluminium", 2.0, 10.0),
        ("aluminium", 20.0, 10.0),
    ],
)
def test_share_set_points(material: str, thickness: float, share: float) -> None:
    """2 % at 10 mm and 1 % at 20 mm are facts of the trade (common practice, no source)."""
    assert share_set_point(material, "mixed", thickness) == pytest.approx(share)


@given(t=st.floats(0.5, 32.0))
def test_share_of_mild_steel_is_one_to_two_from_ten_up_and_to_five_below(t: float) -> None:
    share = share_set_point("mild-steel", "mixed", t)
    assert (1.0 <= share <= 2.0) if t >= 10.0 else (2.0 <= share <= 5.0)


def test_shares_of_the_pure_gases() -> None:
    assert [share_set_point("stainless", g, 5) for g in ("oxygen", "nitrogen", "air")] == [
        100,
        0,
        21,
    ]


@pytest.mark.parametrize("share", [23.6, 100.0, 0.0, -1.0, math.nan, math.inf])
def test_share_refused(share: float) -> None:
    """Above 23.5 % an atmosphere counts as oxygen-enriched: 29 CFR 1910.146(b)."""
    with pytest.raises(InputError):
        checked_share(share)


def test_share_at_the_limit_is_accepted() -> None:
    assert checked_share(23.5) == 23.5
    with pytest.raises(InputError, match="oxygen-enriched"):
        checked_share(23.51)


@pytest.mark.parametrize("name", ["materials", "speed", "settings", "cut", "rework"])
def test_every_value_has_a_source(name: str) -> None:
    """Every number in the data files stands in a table with a source, or below one."""

    def walk(node: object, path: str, sourced: bool) -> None:
        if isinstance(node, dict):
            sourced = sourced or bool(node.get("source"))
            for key, below in node.items():
                walk(below, f"{path}.{key}", sourced)
        elif isinstance(node, list):
            for below in node:
                walk(below, path, sourced)
        elif isinstance(node, int | float):
            assert sourced, f"{path} = {node} has no source"

    walk(data(name), name, False)
