"""What a gas can do at a thickness and power, as a programmer expects it: ladders and plates.

Common practice, no source, unless a test says more.
"""

from typing import Any

import pytest
from rules.build import findings_by_gas

from analyzer.job import Job
from analyzer.process.burr import burr_terms
from analyzer.process.choose import LeftOut, settings_for
from analyzer.process.flow import head_flow
from analyzer.process.setting import Setting
from analyzer.process.supply import Supplies, Supply
from analyzer.process.tables import OwnRow
from analyzer.rules.rule import Finding


def offered(material: str, thickness: float, power: float, **more: Any) -> dict[str, Setting]:
    job = {k: v for k, v in more.items() if k in Job.__dataclass_fields__}
    shop = {k: v for k, v in more.items() if k not in job}
    return {s.gas: s for s in settings_for(Job(material, thickness, power, **job), **shop)[0]}


def found(material: str, thickness: float, power: float, gas: str, **more: Any) -> list[Finding]:
    job = {"material": material, "thickness": thickness, "power": power, **more.pop("job", {})}
    case = {"job": job, "parts": [{"plate": [300, 200]}], **more}
    return list(findings_by_gas(case, (gas,))[0])


def levels(findings: list[Finding], rule: str) -> list[str]:
    return [f.level for f in findings if f.rule == rule]


@pytest.mark.parametrize(("power", "speed"), [(3, 0.99), (6, 1.55), (12, 1.85)])
def test_oxygen_12_mm_ladder(power: float, speed: float) -> None:
    """Oxygen cuts 12 mm on every laser from 3 kW up, and power helps it little."""
    rows = offered("mild-steel", 12, power)
    assert rows["oxygen"].speed_m_per_min == pytest.approx(speed, abs=0.006)
    assert rows["oxygen"].within_power
    assert rows["nitrogen"].within_power == (power == 12)
    gain = offered("mild-steel", 12, 12)["oxygen"].speed_m_per_min / speed
    assert gain < 12 / power or power == 12


def test_12_mm_on_6_kw() -> None:
    """2 mm per kW, the efficient limit is 1: not advisable in nitrogen, oxygen does it."""
    rows = offered("mild-steel", 12, 6)
    assert {gas: row.power_level for gas, row in rows.items()} == {
        "oxygen": "ok", "nitrogen": "beyond", "mixed": "beyond", "air": "beyond",
    }  # fmt: skip
    (loss,) = [
        f for f in found("mild-steel", 12, 6, "nitrogen") if f.rule == "thickness-beyond-power"
    ]
    assert (loss.level, loss.measured) == ("loss", 2.0)
    assert not levels(found("mild-steel", 12, 6, "oxygen"), "thickness-beyond-power")


def test_stainless_10_mm_on_6_kw_is_offered_with_caution() -> None:
    """No other gas to fall back on: about 1.4 m/min, cut one test piece."""
    rows = offered("stainless", 10, 6)
    assert rows["nitrogen"].speed_m_per_min == pytest.approx(1.40, abs=0.01)
    assert rows["nitrogen"].power_level == "caution"
    assert levels(found("stainless", 10, 6, "nitrogen"), "thickness-beyond-power") == ["rework"]
    assert "oxygen" not in rows


@pytest.mark.parametrize(("thickness", "power", "level"), [
    (10, 10, "ok"), (10, 9, "caution"), (10, 8, "caution"), (10, 7.9, "beyond"),
    (20, 20, "ok"), (25, 20, "caution"), (30, 20, "beyond"),
])  # fmt: skip
def test_nitrogen_is_good_to_a_millimetre_per_kilowatt(
    thickness: float, power: float, level: str
) -> None:
    assert offered("mild-steel", thickness, power)["nitrogen"].power_level == level
    mixed = offered("mild-steel", thickness, power)["mixed"].power_level  # a little further
    order = ("ok", "caution", "beyond")
    assert order.index(mixed) <= order.index(level)


def test_aluminium_8_mm_with_10_percent() -> None:
    """Nitrogen 5.84, mixed about 6.4 and at most 7.0 m/min; one burr class less."""
    rows = offered("aluminium", 8, 10)
    assert rows["nitrogen"].speed_m_per_min == pytest.approx(5.84, abs=0.01)
    assert rows["mixed"].oxygen_share_percent == 10
    assert rows["mixed"].speed_m_per_min == pytest.approx(6.4, abs=0.05)
    upper = rows["nitrogen"].speed_m_per_min * (1.0 + 0.02 * 10)
    assert upper == pytest.approx(7.0, abs=0.02)
    assert "up to 1.2" in rows["mixed"].speed_formula
    classes = {gas: burr_terms(gas, "aluminium", 8.0, 10.0).classes[0] for gas in rows}
    assert classes["mixed"] == classes["nitrogen"] - 1
    more = offered("aluminium", 8, 10, oxygen_share_percent=20.0)["mixed"]
    assert more.speed_mm_s > rows["mixed"].speed_mm_s


@pytest.mark.parametrize(
    ("material", "thickness", "low", "high"),
    [("mild-steel", 3, 2, 5), ("mild-steel", 8, 2, 5), ("mild-steel", 10, 1, 2),
     ("mild-steel", 15, 1, 2), ("mild-steel", 20, 1, 2), ("mild-steel", 25, 1, 2),
     ("stainless", 6, 3, 5), ("stainless", 20, 1, 3), ("aluminium", 3, 7, 20),
     ("aluminium", 8, 10, 10), ("aluminium", 20, 7, 20)],
)  # fmt: skip
def test_share_set_point(material: str, thickness: float, low: float, high: float) -> None:
    """1 to 2 % from 10 mm of mild steel, to 5 % below; aluminium 7 to 20 %, 10 unless set."""
    share = offered(material, thickness, 30)["mixed"].oxygen_share_percent
    assert low <= share <= high


def test_a_share_far_from_the_usual_is_said() -> None:
    usual = offered("mild-steel", 10, 10, oxygen_share_percent=2.0)["mixed"]
    odd = offered("mild-steel", 10, 10, oxygen_share_percent=15.0)["mixed"]
    assert "told for" not in usual.speed_source
    assert "told for 1 to 5 % oxygen, not 15 %" in odd.speed_source


def test_46_for_4_6_is_not_used_until_confirmed() -> None:
    row = OwnRow("mild-steel", "nitrogen", 10.0, 10.0, 46.0)
    typed = offered("mild-steel", 10, 10, own_rows=[row])["nitrogen"]
    assert typed.speed_m_per_min == pytest.approx(4.64, abs=0.01)
    assert not typed.own_table
    assert typed.doubts[0].measured == pytest.approx(4.5, abs=0.05)
    confirmed = OwnRow("mild-steel", "nitrogen", 10.0, 10.0, 46.0, confirmed=True)
    assert offered("mild-steel", 10, 10, own_rows=[confirmed])["nitrogen"].own_table


def test_own_pressure_and_nozzle_are_those_of_the_gas_used() -> None:
    row = OwnRow("mild-steel", "nitrogen", 10.0, 10.0, 4.6, pressure_bar=14.0, nozzle="S3.0")
    own = offered("mild-steel", 10, 10, own_rows=[row])["nitrogen"]
    assert (own.pressure_bar, own.nozzle) == (14.0, "S3.0")
    flow = head_flow("nitrogen", 0.0, 14.0, "S3.0", standoff_mm=1.0, kerf_mm=own.kerf_mm)
    assert own.flow_nm3_per_h == pytest.approx(flow)
    assert "your table" in dict(own.sources)["pressure_bar"]


@pytest.mark.parametrize(
    ("gas", "level"),
    [("nitrogen", ["loss"]), ("oxygen", ["rework"]), ("air", ["rework"]), ("mixed", [])],
)
def test_rusty_plate(gas: str, level: list[str]) -> None:
    """Mixed gas cuts poor plate reliably (a fact of the trade); nitrogen loses cuts above 6 mm."""
    findings = found("mild-steel", 10, 10, gas, job={"plate": "rusty"})
    assert levels(findings, "plate-unsuited") == level


@pytest.mark.parametrize(
    ("bar", "level"), [(6.0, "beyond"), (9.9, "beyond"), (10.0, "caution"), (11.9, "caution"),
                       (12.0, "ok"), (15.0, "ok")],
)  # fmt: skip
def test_air_needs_a_high_pressure_compressor(bar: float, level: str) -> None:
    """10 bar at the head and more; the table wants 12 at 6 mm."""
    has = Supplies(by_gas={"air": Supply("compressor", pressure_bar=bar)})
    rows = offered("mild-steel", 6, 10, supplies=has)
    assert rows["air"].pressure_level == level
    assert rows["air"].within_power == (level == "ok")
    assert rows["nitrogen"].pressure_level == "ok"  # not told of nitrogen
    thin = offered("mild-steel", 1, 10, supplies=has)["air"]  # 9 bar do for 1 mm
    assert (thin.pressure_level == "ok") == (bar >= 9.0)


def test_air_on_thick_mild_steel() -> None:
    """10 to 20 mm is ordinary with 15 to 30 kW; 20 mm is caution on any laser."""
    assert offered("mild-steel", 12, 15)["air"].power_level == "ok"
    assert offered("mild-steel", 20, 30)["air"].power_level == "caution"
    _, left = settings_for(Job("stainless", 10, 12))
    assert [x.gas for x in left if isinstance(x, LeftOut)] == ["air"]
