"""The shop's own rows: interpolation, range, and the check of typing errors."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.process.doubts import row_doubts
from analyzer.process.speed import starter_speed
from analyzer.process.tables import OwnRow, believed, matching, own_values


def row(t: float, v: float, gas: str = "nitrogen", power: float = 10.0, **more: Any) -> OwnRow:
    return OwnRow("mild-steel", gas, power, t, v, **more)


@given(
    c=st.floats(1.0, 100.0),
    b=st.floats(0.3, 2.5),
    where=st.floats(0.0, 1.0),
    ts=st.lists(st.floats(0.6, 30.0), min_size=2, max_size=6, unique=True),
)
def test_a_power_law_passes_exactly(c: float, b: float, where: float, ts: list[float]) -> None:
    """Log-log interpolation of v = c / t^b gives c / t^b between the rows, nothing outside."""
    rows = matching([row(t, c / t**b) for t in ts], "mild-steel", "nitrogen", 10.0)
    low, high = min(ts), max(ts)
    t = low + where * (high - low)
    found = own_values(rows, t)
    assert found is not None
    assert found.speed_m_per_min == pytest.approx(c / t**b, rel=1e-5)
    assert own_values(rows, low * 0.99) is None
    assert own_values(rows, high * 1.01) is None


def test_a_row_is_read_as_typed_and_named() -> None:
    rows = [row(8, 6.0), row(10, 5.0, kerf_mm=0.48, pierce_s=0.7)]
    found = own_values(rows, 10.0)
    assert found is not None
    assert (found.speed_m_per_min, found.kerf_mm, found.pierce_s) == (5.0, 0.48, 0.7)
    assert found.source == "your table, row 10 mm / 10 kW"
    between = own_values(rows, 9.0)
    assert between is not None
    assert between.source == "your table, between rows 8 mm / 10 kW and 10 mm / 10 kW"
    assert between.kerf_mm is None  # one row alone says nothing of its neighbours


def test_a_single_row_covers_its_own_thickness_only() -> None:
    assert own_values([row(10, 5.0)], 10.0) is not None
    assert own_values([row(10, 5.0)], 10.1) is None
    assert own_values([], 10.0) is None


def test_oxygen_share_is_linear() -> None:
    rows = [
        row(10, 5, "mixed", oxygen_share_percent=2),
        row(20, 2, "mixed", oxygen_share_percent=1),
    ]
    found = own_values(rows, 15.0)
    assert found is not None
    assert found.oxygen_share_percent == pytest.approx(1.5)


def test_rows_of_other_material_gas_or_power_do_not_match() -> None:
    rows = [
        row(10, 5),
        row(10, 5, "air"),
        row(10, 5, power=12),
        replace(row(10, 5), material="stainless"),
    ]
    assert matching(rows, "mild-steel", "nitrogen", 10.0) == (rows[0],)
    with pytest.raises(ValueError, match="more than one"):
        own_values(rows, 10.0)


def test_typing_error_of_a_decimal_point() -> None:
    """46 for 4.6 m/min at 10 mm on 10 kW: absorption of about 4.5 would be needed."""
    (doubt,) = row_doubts([row(10, 46)])
    assert doubt.set_aside
    assert doubt.measured == pytest.approx(4.5, abs=0.05)
    assert doubt.limit == 0.85
    assert "faster than the beam energy allows" in doubt.words
    assert believed([doubt.row], [doubt]) == ()
    confirmed = replace(row(10, 46), confirmed=True)
    assert believed([confirmed], row_doubts([confirmed])) == (confirmed,)


@pytest.mark.parametrize("power", [3.0, 6.0, 10.0, 20.0, 30.0])
@pytest.mark.parametrize("thickness", [1.0, 3.0, 6.0, 10.0, 20.0])
@pytest.mark.parametrize("material", ["mild-steel", "stainless", "aluminium"])
@pytest.mark.parametrize("gas", ["oxygen", "nitrogen", "mixed", "air"])
def test_starter_speeds_themselves_are_believed(
    material: str, gas: str, thickness: float, power: float
) -> None:
    """The check must not cry over ordinary rows, a fifth faster included."""
    starter = starter_speed(material, gas, thickness, power, 10.0)
    if starter is None or thickness > 1.2 * power:
        return
    typed = OwnRow(material, gas, power, thickness, 1.2 * starter.m_per_min)
    assert not [d for d in row_doubts([typed]) if d.set_aside]


def test_millimetres_per_second_typed_as_metres_per_minute() -> None:
    """Thin sheet passes the energy check (60 x / 1000 = 16.7 times); the starter value does not."""
    (doubt,) = row_doubts([row(1.5, 20 / 0.06, power=30.0)])
    assert doubt.set_aside


def test_a_throttled_row_is_only_hinted_at() -> None:
    (doubt,) = row_doubts([row(3, 3.0)])
    assert not doubt.set_aside
    assert doubt.measured < doubt.limit == 0.15
    # where motion limits the speed a small share is ordinary, and nothing is said
    assert row_doubts([row(1, 30.0, power=20.0)]) == ()


def test_oxygen_rows_are_checked_against_their_neighbours() -> None:
    """Slower with thickness, and by less than 2.2 times per 1.5 times the thickness."""
    good = [row(8, 2.6, "oxygen"), row(12, 1.8, "oxygen"), row(20, 0.85, "oxygen")]
    assert row_doubts(good) == ()
    rising = [good[0], row(12, 2.9, "oxygen"), good[2]]
    assert [d.row.thickness_mm for d in row_doubts(rising)] == [12]
    steep = [good[0], row(12, 0.9, "oxygen")]
    (doubt,) = row_doubts(steep)
    assert doubt.row is steep[1]
    assert (doubt.measured, doubt.limit) == (pytest.approx(2.6 / 0.9), pytest.approx(2.2))
    assert doubt.set_aside


def test_fast_oxygen_recipes_are_plausible() -> None:
    """20 mm at about 2 m/min from 12 kW up (common practice, no source)."""
    assert row_doubts([row(20, 2.0, "oxygen", 12.0), row(25, 1.6, "oxygen", 12.0)]) == ()


def test_fusion_rows_get_slower_with_thickness() -> None:
    """A little faster is looked at; a quarter faster and more is not believed."""
    good = [row(6, 9.5), row(8, 6.4), row(10, 4.6)]
    assert row_doubts(good) == ()
    assert row_doubts([row(1, 40.0, power=20.0), row(2, 40.0, power=20.0)]) == ()  # held by motion
    (hint,) = row_doubts([good[1], row(10, 6.6)])
    assert not hint.set_aside
    (grave,) = row_doubts([good[0], row(8, 5.0), row(10, 6.6)])
    assert grave.set_aside
    assert grave.row.thickness_mm == 10
    assert grave.measured == pytest.approx(6.6 / 5.0)
    # a row that is refused already casts no doubt on its neighbours
    (typed,) = row_doubts([good[0], row(8, 64.0), good[2]])
    assert typed.row.thickness_mm == 8


def test_pressure_and_nozzle_of_own_rows() -> None:
    rows = [
        row(8, 6.4, pressure_bar=12.0, nozzle="S3.5"), row(10, 4.6, pressure_bar=14.0),
        row(12, 3.6, pressure_bar=16.0, nozzle="S5"),
    ]  # fmt: skip
    at = {t: own_values(rows, t) for t in (8.0, 9.0, 10.0, 12.0)}
    assert all(at.values())
    assert [v.pressure_bar for v in at.values() if v] == [12.0, 13.0, 14.0, 16.0]
    assert [v.nozzle for v in at.values() if v] == ["S3.5", "S5", "S5", "S5"]
    (single,) = [own_values([row(10, 4.6)], 10.0)]
    assert single is not None
    assert (single.pressure_bar, single.nozzle) == (None, None)
