"""The table of tables."""

from dataclasses import fields

import pytest
from shared import ROOT

from analyzer.errors import InputError
from analyzer.process.doubts import row_doubts
from analyzer.process.gas import GASES
from analyzer.process.hand_rates import START_RATES
from analyzer.process.listing import THICKNESSES, process_table, starter_sources
from analyzer.process.load import table
from analyzer.process.machine import START_VALUES, Machine, assumptions
from analyzer.process.tables import OwnRow
from analyzer.shop import parse_shop


def test_every_material_gas_and_thickness_is_there_once() -> None:
    rows = process_table(10.0)
    keys = [(r.material, r.gas, r.thickness_mm) for r in rows]
    assert len(set(keys)) == len(keys)
    assert {k for k in keys if k[0] == "mild-steel"} == {
        ("mild-steel", gas, t) for gas in GASES for t in THICKNESSES
    }
    assert len(keys) == (4 + 3 + 3) * len(THICKNESSES)
    assert keys == sorted(
        keys,
        key=lambda k: (
            ["mild-steel", "stainless", "aluminium"].index(k[0]),
            GASES.index(k[1]),
            k[2],
        ),
    )


def test_a_row_has_a_setting_or_a_reason_and_a_mark() -> None:
    for row in process_table(6.0):
        assert (row.setting is None) == bool(row.reason)
        assert (row.setting is None) == (row.mark == "")
    air = [r for r in process_table(6.0, materials=["stainless"]) if r.gas == "air"]
    assert [r.thickness_mm for r in air if r.setting is None] == [6, 8, 10, 12, 15, 20, 25]


def test_own_rows_are_in_force_and_add_their_thickness() -> None:
    own = OwnRow("mild-steel", "nitrogen", 10.0, 7.0, 9.0)
    rows = process_table(10.0, materials=["mild-steel"], own_rows=[own])
    (found,) = [r for r in rows if r.gas == "nitrogen" and r.thickness_mm == 7.0]
    assert found.setting is not None
    assert found.setting.own_table
    assert found.mark == "your own table"


def test_impossible_power() -> None:
    with pytest.raises(InputError):
        process_table(0.0)


def test_sources_are_listed() -> None:
    sources = dict(starter_sources())
    assert "speed.fusion.mild-steel" in sources
    assert all(sources.values())


def test_assumptions_tell_start_values_from_own_ones() -> None:
    """Start values of the trade notes (common practice, no source)."""
    m = START_VALUES
    assert (m.rapid_m_per_min, m.rapid_acceleration, m.cut_acceleration) == (120, 15, 8)
    assert (m.jerk, m.corner_tolerance_mm, m.start_overhead_s) == (200, 0.05, 0.3)
    lines = assumptions(Machine(jerk=400.0, lift_s=0.2))
    assert "jerk 400 m/s3 (your value)" in lines
    assert "head lift 0.2 s each (your value)" in lines
    assert sum("start value" in line for line in lines) == len(lines) - 2
    assert "head lift overlapped with the move (start value)" in assumptions(START_VALUES)
    for f in fields(Machine):  # every field shows up: changing it changes the lines
        changed = Machine(**{f.name: getattr(START_VALUES, f.name) + 1.0})
        assert assumptions(changed) != assumptions(START_VALUES)


def test_docs_show_the_numbers_in_force() -> None:
    """docs/process.md: the example shop file is valid and says the start values."""
    text = (ROOT / "docs" / "process.md").read_text(encoding="utf-8")
    example = text.split("```toml\n")[1].split("```")[0]
    shop = parse_shop(example, ROOT / "burrcast.toml")
    assert shop.machine == START_VALUES
    assert len(shop.own_rows) == 2
    assert row_doubts(shop.own_rows) == ()
    for material in ("mild-steel", "stainless", "aluminium"):
        law = table("speed", "fusion", material)
        assert f"{law['C']} P^{law['a']} / t^{law['b']}" in text
    oxygen = table("speed", "oxygen", "mild-steel")
    assert f"n = {oxygen['exponent_to_10_mm']} to 10 mm, {oxygen['exponent_above_10_mm']}" in text
    rates = START_RATES.minutes_per_m()
    assert " / ".join(f"{r:g}" for r in rates[1:]) in text
    gas = (ROOT / "docs" / "gas.md").read_text(encoding="utf-8")
    for name in ("single", "double"):
        for bore, factor in table("flow", "discharge")[name]:
            assert f"{bore:g}" in gas
            assert f"{factor:.2f}" in gas
    for gas in ("nitrogen", "mixed"):
        for material in ("mild-steel", "stainless", "aluminium"):
            row = table("speed", "limit", material, gas)
            assert f"{row['ok_mm_per_kw']} / {row['caution_mm_per_kw']}" in text
