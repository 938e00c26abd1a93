"""Which gases a job is offered, and what it is told about each."""

import math
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.process.choose import LeftOut, settings_for
from analyzer.process.gas import GASES
from analyzer.process.material import CUTTABLE
from analyzer.process.setting import Setting
from analyzer.process.tables import OwnRow


def offered(job: Job, *rows: OwnRow) -> dict[str, Setting]:
    return {s.gas: s for s in settings_for(job, own_rows=rows)[0]}


def test_gases_without_asking() -> None:
    assert list(offered(Job("mild-steel", 10, 10))) == ["oxygen", "nitrogen", "mixed", "air"]
    for material in ("stainless", "aluminium"):
        assert list(offered(Job(material, 3, 10))) == ["nitrogen", "mixed", "air"]


def test_a_gas_without_a_speed_is_left_out_with_the_reason() -> None:
    settings, left = settings_for(Job("stainless", 10, 12))
    assert [s.gas for s in settings] == ["nitrogen", "mixed"]
    assert left == (
        LeftOut("air", "the starter table has no air cutting of stainless steel above 5 mm"),
    )
    with pytest.raises(InputError, match="air has no speed for 10 mm") as caught:
        settings_for(Job("stainless", 10, 12, gases=("air",)))
    assert caught.value.exit_code == 2


def test_gases_asked_for_come_in_the_same_order_once() -> None:
    job = Job("mild-steel", 6, 6, gases=("mixed", "oxygen", "mixed"))
    settings, left = settings_for(job)
    assert [s.gas for s in settings] == ["oxygen", "mixed"]
    assert left == ()


def test_oxygen_on_stainless_only_when_asked_and_called_a_guess() -> None:
    (found,) = settings_for(Job("stainless", 6, 6, gases=("oxygen",)))[0]
    assert found.oxygen_share_percent == 100
    assert "guess" in found.speed_formula
    assert found.speed_mm_s > 0


def test_ten_stainless_on_six_kilowatt() -> None:
    """Offered with caution at about 1.40 m/min (common practice, no source)."""
    found = offered(Job("stainless", 10, 6))["nitrogen"]
    assert found.power_level == "caution"
    assert not found.within_power
    assert found.speed_m_per_min == pytest.approx(1.40, abs=0.005)
    assert "beyond 1.2" in found.speed_formula


def test_twelve_mild_steel_on_six_kilowatt() -> None:
    """2.0 mm per kW: nitrogen is far beyond about 1 mm per kW, oxygen is ordinary."""
    found = offered(Job("mild-steel", 12, 6))
    assert found["nitrogen"].power_level == "beyond"
    assert found["nitrogen"].power_ok == 6.0
    assert found["oxygen"].power_level == "ok"
    assert found["oxygen"].speed_m_per_min == pytest.approx(1.55, abs=0.005)


@pytest.mark.parametrize(
    ("thickness", "speeds"),
    [
        (10.0, {"oxygen": 2.30, "nitrogen": 4.64, "mixed": 5.11}),
        (20.0, {"oxygen": 1.00, "nitrogen": 3.60, "mixed": 3.60}),
    ],
)
def test_anchors_reach_the_settings(thickness: float, speeds: dict[str, float]) -> None:
    """Facts of the trade (common practice, no source), 10 mm 10 kW and 20 mm 20 kW."""
    found = offered(Job("mild-steel", thickness, thickness))
    for gas, expected in speeds.items():
        assert found[gas].speed_m_per_min == pytest.approx(expected, abs=0.006)
        assert found[gas].speed_source == "starter value, not your machine"
        assert f"{found[gas].speed_m_per_min:.3g} m/min" in found[gas].speed_formula
    assert found["mixed"].oxygen_share_percent == {10.0: 2.0, 20.0: 1.0}[thickness]


@given(
    material=st.sampled_from(CUTTABLE),
    t=st.floats(0.5, 32.0),
    p=st.floats(0.5, 60.0),
    asked=st.sets(st.sampled_from(("oxygen", "nitrogen", "mixed"))),
)
def test_every_number_is_finite_and_positive(
    material: str, t: float, p: float, asked: set[str]
) -> None:
    settings, left = settings_for(Job(material, t, p, gases=tuple(asked)))
    assert settings
    order = [s.gas for s in settings]
    assert order == sorted(order, key=GASES.index)
    assert {s.gas for s in settings}.isdisjoint(x.gas for x in left)
    for setting in settings:
        for f in fields(setting):
            value = getattr(setting, f.name)
            if isinstance(value, float | int):
                assert math.isfinite(value), f.name
        assert min(setting.speed_mm_s, setting.kerf_mm, setting.pierce_s, setting.lead_mm) > 0
        assert 0 < setting.power_ok <= setting.power_caution
        assert setting.within_power == (t <= setting.power_ok * (1 + 1e-9))


@pytest.mark.parametrize(
    ("thickness", "power", "said"),
    [
        (0.4, 10, "0.4 mm is impossible"), (32.1, 10, "32.1 mm is impossible"),
        (0.0, 10, "impossible"), (-3.0, 10, "impossible"), (math.nan, 10, "impossible"),
        (math.inf, 10, "impossible"), (10, 0.0, "0 kW is impossible"),
        (10, 6000.0, "write watts as 6000W"), (10, math.nan, "impossible"),
    ],
)  # fmt: skip
def test_impossible_sheet_or_laser(thickness: float, power: float, said: str) -> None:
    """Laser cutting is covered from 0.5 to 32 mm: ISO 9013, scope."""
    with pytest.raises(InputError, match=said):
        settings_for(Job("mild-steel", thickness, power))


def test_outside_the_range_of_the_law_the_source_says_extrapolated() -> None:
    found = offered(Job("mild-steel", 30, 40))["nitrogen"]
    assert "extrapolated" in found.speed_source
    assert "30 mm is outside 1-25 mm" in found.speed_source
    assert "40 kW is outside 3-30 kW" in found.speed_source


def test_oxygen_share() -> None:
    assert offered(Job("aluminium", 8, 10))["mixed"].oxygen_share_percent == 10
    set_to = offered(Job("aluminium", 8, 10, oxygen_share_percent=15))["mixed"]
    assert set_to.oxygen_share_percent == 15
    assert set_to.speed_m_per_min == pytest.approx(5.84 * 1.15, rel=1e-3)
    assert "up to 1.3" in set_to.speed_formula
    shares = {g: s.oxygen_share_percent for g, s in offered(Job("mild-steel", 10, 10)).items()}
    assert shares == {"oxygen": 100, "nitrogen": 0, "mixed": 2, "air": 21}
    for share in (0.0, 24.0, math.nan):
        with pytest.raises(InputError, match="oxygen share"):
            settings_for(Job("mild-steel", 10, 10, oxygen_share_percent=share))


def own(t: float, v: float, gas: str = "nitrogen", **more: object) -> OwnRow:
    return OwnRow("mild-steel", gas, 10.0, t, v, **more)  # type: ignore[arg-type]


def test_own_row_wins_and_names_itself() -> None:
    found = offered(Job("mild-steel", 10, 10), own(10, 5.2, kerf_mm=0.45, pierce_s=0.9))
    nitrogen = found["nitrogen"]
    assert nitrogen.own_table
    assert nitrogen.speed_m_per_min == pytest.approx(5.2)
    assert nitrogen.speed_source == "your table, row 10 mm / 10 kW"
    assert (nitrogen.kerf_mm, nitrogen.pierce_s) == (0.45, 0.9)
    assert dict(nitrogen.sources)["kerf_mm"] == "your table, row 10 mm / 10 kW"
    assert not found["oxygen"].own_table
    assert found["oxygen"].speed_m_per_min == pytest.approx(2.3)


def test_mixed_gas_and_air_follow_the_own_nitrogen() -> None:
    """Both are factors on nitrogen: a faster machine must not make mixed gas look slow."""
    found = offered(Job("mild-steel", 10, 10), own(10, 6.0))
    assert found["mixed"].speed_m_per_min == pytest.approx(6.6)
    assert found["air"].speed_m_per_min == pytest.approx(6.0)
    assert not found["mixed"].own_table
    assert "your table, row 10 mm / 10 kW for nitrogen" in found["mixed"].speed_source
    both = offered(Job("mild-steel", 10, 10), own(10, 6.0), own(10, 6.1, "mixed"))
    assert both["mixed"].speed_m_per_min == pytest.approx(6.1)


def test_outside_the_own_rows_the_starter_law_holds_and_says_so() -> None:
    found = offered(Job("mild-steel", 10, 10), own(4, 19.0), own(8, 6.9))["nitrogen"]
    assert not found.own_table
    assert found.speed_m_per_min == pytest.approx(4.641, abs=5e-4)
    assert found.speed_source.startswith("starter value, not your machine")
    assert "your rows for this gas and power cover 4-8 mm only" in found.speed_source
    elsewhere = OwnRow("mild-steel", "nitrogen", 6.0, 10.0, 2.0)
    found = offered(Job("mild-steel", 10, 10), elsewhere)["nitrogen"]
    assert "other powers" in found.speed_source


def test_implausible_own_row_is_not_used_until_confirmed() -> None:
    """46 typed for 4.6 m/min at 10 mm on 10 kW."""
    found = offered(Job("mild-steel", 10, 10), own(10, 46.0))
    nitrogen = found["nitrogen"]
    assert nitrogen.speed_m_per_min == pytest.approx(4.641, abs=5e-4)
    assert "your row 10 mm / 10 kW is not used until confirmed" in nitrogen.speed_source
    assert nitrogen.doubts[0].measured == pytest.approx(4.5, abs=0.05)
    assert found["mixed"].speed_m_per_min == pytest.approx(5.106, abs=5e-4)
    confirmed = offered(Job("mild-steel", 10, 10), own(10, 46.0, confirmed=True))["nitrogen"]
    assert confirmed.speed_m_per_min == pytest.approx(46.0)
    assert confirmed.doubts


def test_own_rows_move_the_caution_limit_to_what_the_shop_cuts() -> None:
    rows = own(10, 4.6), own(15, 2.4)
    found = offered(Job("mild-steel", 14, 10), *rows)["nitrogen"]
    assert (found.power_ok, found.power_caution, found.power_level) == (10.0, 15.0, "caution")
    assert offered(Job("mild-steel", 16, 10), *rows)["nitrogen"].power_level == "beyond"


def test_own_row_gives_a_speed_where_the_law_has_none() -> None:
    row = OwnRow("stainless", "air", 12.0, 8.0, 6.5)
    found = offered(Job("stainless", 8, 12, gases=("air",)), row)["air"]
    assert found.speed_m_per_min == pytest.approx(6.5)


def test_own_share_of_the_row_is_the_set_point() -> None:
    row = own(10, 5.3, "mixed", oxygen_share_percent=3.0)
    assert offered(Job("mild-steel", 10, 10), row)["mixed"].oxygen_share_percent == 3.0
    other = offered(Job("mild-steel", 10, 10, oxygen_share_percent=4.0), row)["mixed"]
    assert other.oxygen_share_percent == 4.0
    assert "for 3 % oxygen, not 4 %" in other.speed_source


def test_copper_lives_on_own_rows_alone() -> None:
    row = OwnRow("copper", "nitrogen", 6.0, 3.0, 5.0)
    settings, left = settings_for(Job("copper", 3, 6), own_rows=[row])
    assert [s.gas for s in settings] == ["nitrogen"]
    assert settings[0].power_level == "ok"
    assert {x.gas for x in left} == {"oxygen", "mixed", "air"}
    settings, left = settings_for(Job("copper", 4, 6), own_rows=[row])
    assert settings == ()
    assert "cover 3 mm only" in next(x.reason for x in left if x.gas == "nitrogen")


def test_every_setting_tells_its_sources() -> None:
    for setting in offered(Job("aluminium", 8, 10)).values():
        sources = dict(setting.sources)
        assert all(sources.values())
        assert set(sources) >= {"speed_mm_s", "power_ok", "kerf_mm", "pierce_s", "lead_mm"}
        assert all(hasattr(setting, name) for name in sources)
