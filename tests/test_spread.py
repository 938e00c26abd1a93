"""Bands: what two gases share cancels, and the band follows what the time is made of."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hand_made import NO_SHOP, Case, analysis, part_set, plate
from hypothesis import given
from hypothesis import strategies as st
from outside import record

from analyzer.comparison import advise
from analyzer.flips import break_evens
from analyzer.motion.plan import Timing
from analyzer.process.calibrated import Calibration
from analyzer.process.flow import GasUse
from analyzer.process.rates import Rates
from analyzer.process.supply import NO_SUPPLIES
from analyzer.shop import Shop
from analyzer.spread import band, cost_band, difference, factor, time_band, worth

RATES = replace(NO_SHOP, rates=Rates("EUR", {"machine_per_h": 90.0, "labour_per_h": 55.0},
                                     NO_SUPPLIES))  # fmt: skip


def of(cases: dict[str, Case], shop: Shop = NO_SHOP):  # type: ignore[no-untyped-def]
    return analysis(cases, shop=shop, parts=part_set(plate())).gases


@pytest.mark.outside("Quantiles of the spread of a speed", "log-normal in closed form")
def test_draws_are_those_of_the_log_normal() -> None:
    """19 of 20 within the stated spread: the quantiles of exp(N(0, ln(1 + r) / 1.96))."""
    drawn = factor("speeds", 0.30)
    low, high = np.percentile(drawn, (2.5, 97.5))
    assert high == pytest.approx(1.30, rel=0.02)
    assert low == pytest.approx(1 / 1.30, rel=0.02)
    assert np.median(drawn) == pytest.approx(1.0, abs=0.01)
    assert factor("speeds", 0.30) is drawn  # the same again, to the last bit


@pytest.mark.outside(
    "Kolmogorov-Smirnov distance of the spreads", "library scipy, 1 % of samples are farther"
)
def test_streams_are_normal_and_independent() -> None:
    """Against SciPy: Kolmogorov-Smirnov, and no correlation between inputs."""
    from scipy.stats import kstest

    names = ("speeds", "starts", "speed of air", "speed of oxygen", "burr", "gas flow")
    drawn = [np.log(factor(name, 0.3)) / np.log(1.3) * 1.96 for name in names]
    for deviates in drawn:
        found = kstest(deviates, "norm")
        record(0.0, found.statistic, 1.628 / np.sqrt(len(deviates)))
        assert found.pvalue > 0.01
    apart = np.corrcoef(drawn) - np.eye(len(names))
    assert np.abs(apart).max() < 0.06  # 3.8 / sqrt(4096)


def test_the_band_follows_the_mix_of_starts_and_length() -> None:
    """A profile hangs on the speed, a perforated sheet on the starts (practice: no source)."""
    setting = of({"nitrogen": Case(1.0)})[0].setting
    profile = time_band(Timing(cut=600.0), setting, NO_SHOP)
    starts = time_band(Timing(starts=600.0), setting, NO_SHOP)
    both = time_band(Timing(cut=300.0, starts=300.0), setting, NO_SHOP)
    assert profile.high / profile.value == pytest.approx(1.30, rel=0.02)
    assert starts.high / starts.value == pytest.approx(1.65, rel=0.03)
    # independent parts of a sum: narrower than the wider, than the mean of both as well
    wide = [(b.high - b.low) / b.value for b in (profile, starts, both)]
    assert wide[2] < (wide[0] + wide[1]) / 2.0
    own = time_band(Timing(cut=600.0), replace(setting, own_table=True), NO_SHOP)
    assert own.high / own.value == pytest.approx(1.10, rel=0.02)


def test_the_speed_that_two_gases_share_cancels() -> None:
    nitrogen, air = of({"nitrogen": Case(600.0), "air": Case(690.0)})
    found = difference(nitrogen, air, NO_SHOP)
    assert found.value == pytest.approx(1.5)
    # the ratio is known to 5 %, the level only to 30 %: 0.5 min of 11.5, not 3
    assert found.low > 0.0
    assert found.high - found.low < 2.0
    oxygen = of({"nitrogen": Case(600.0), "oxygen": Case(660.0)})[0]
    assert oxygen.gas == "oxygen"
    one, other = of({"nitrogen": Case(600.0), "oxygen": Case(660.0)})[::-1]
    assert difference(one, other, NO_SHOP).spans_zero  # two laws: known to 15 % only


def test_hand_work_both_need_cancels_too() -> None:
    one, other = of({"nitrogen": Case(60.0, 10.0), "air": Case(120.0, 10.0)})
    assert not difference(one, other, NO_SHOP).spans_zero


CASE = st.builds(Case, st.floats(1.0, 900.0), st.floats(0.0, 20.0),
                 use=st.builds(GasUse, st.floats(0.0, 9.0), st.floats(0.0, 2.0)))  # fmt: skip


@given(CASE, CASE, st.booleans())
def test_bands_hold_their_value_and_turn_about(one: Case, other: Case, money: bool) -> None:
    shop = RATES if money else NO_SHOP
    a, b = of({"nitrogen": one, "mixed": other}, shop)
    there, back = difference(a, b, shop), difference(b, a, shop)
    assert there.low <= there.value <= there.high
    assert back.value == pytest.approx(-there.value, abs=1e-9)
    assert back.low == pytest.approx(-there.high, rel=1e-3, abs=1e-6)
    assert there.value == pytest.approx(worth(b) - worth(a))
    cost = cost_band(a, shop)
    assert (cost is None) == (not money)
    assert cost is None or cost.low <= cost.value <= cost.high


@given(CASE, CASE)
def test_a_break_even_is_where_both_cost_the_same(one: Case, other: Case) -> None:
    """Every rate put to its break-even makes the two gases cost the same."""
    a, b = of({"nitrogen": one, "mixed": other}, RATES)
    best, rival = (a, b) if worth(a) <= worth(b) else (b, a)
    for point in break_evens(best, rival, RATES.rates):
        if not point.input.endswith(("_per_h", "_per_nm3")):
            continue
        assert RATES.rates is not None
        told = {**RATES.rates.told, point.input: point.at}
        shop = replace(RATES, rates=replace(RATES.rates, told=told))
        again = {r.gas: r for r in of({"nitrogen": one, "mixed": other}, shop)}
        scale = max(worth(again[best.gas]), 1.0)
        assert worth(again[best.gas]) == pytest.approx(
            worth(again[rival.gas]), rel=1e-6, abs=1e-9 * scale
        )


def test_break_evens_come_nearest_first() -> None:
    a, b = of({"nitrogen": Case(100.0, 1.0), "mixed": Case(95.0, 1.5)}, RATES)
    points = break_evens(a, b, RATES.rates)
    assert [p.far for p in points] == sorted(p.far for p in points)
    assert break_evens(b, a, RATES.rates) == ()  # nothing turns what has lost already


def test_calibrated_the_band_is_the_measured_residual() -> None:
    shop = replace(NO_SHOP, calibration=Calibration(5, 0.06, ("nitrogen",)))
    nitrogen, mixed = of({"nitrogen": Case(600.0), "mixed": Case(600.0)}, shop)
    timed = time_band(nitrogen.timing, nitrogen.setting, shop)
    assert timed.high / timed.value == pytest.approx(1.06, rel=0.01)
    untimed = time_band(mixed.timing, mixed.setting, shop)
    assert untimed.high / untimed.value == pytest.approx(  # the ratio of speeds on top
        1.0 + math.hypot(0.06, 0.05), rel=0.01
    )


def test_times_in_one_law_say_nothing_of_the_other() -> None:
    """Only nitrogen was timed: oxygen keeps the band of its start values, and says so."""
    calibration = Calibration(5, 0.06, ("nitrogen",))
    shop = replace(NO_SHOP, calibration=calibration)
    cases = {"oxygen": Case(600.0), "nitrogen": Case(600.0)}
    oxygen, _ = of(cases, shop)
    plain, _ = of(cases, NO_SHOP)
    assert time_band(oxygen.timing, oxygen.setting, shop) == time_band(
        plain.timing, plain.setting, NO_SHOP
    )
    assert calibration.words("nitrogen") == "calibrated on 5 sheets"
    assert calibration.words("mixed") == "calibrated on 5 sheets, none of them in mixed gas"
    assert calibration.words("oxygen") == (
        "not calibrated: none of the 5 sheets timed was in oxygen"
    )
    burning = Calibration(5, 0.06, ("oxygen",))
    assert (burning.covers("oxygen"), burning.covers("air")) == (True, False)
    assert Calibration(5, 0.06).covers("oxygen")  # by hand, without gases


def test_money_turns_what_minutes_say() -> None:
    """Half a machine rate for an expensive gas: the faster gas is not the cheaper one."""
    cases = {"oxygen": Case(120.0, use=GasUse(0.0, 0.1)),
             "nitrogen": Case(60.0, use=GasUse(40.0))}  # fmt: skip
    assert advise(analysis(cases)).gas == "nitrogen"
    found = advise(analysis(cases, shop=RATES))
    assert found.gas == "oxygen"
    assert "nitrogen costs" in found.reason
    assert "for gas" in found.reason


def test_band_of_nothing() -> None:
    found = band(0.0, np.zeros(4))
    assert (found.low, found.value, found.high) == (0.0, 0.0, 0.0)
    assert found.spans_zero
