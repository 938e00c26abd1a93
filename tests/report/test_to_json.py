"""JSON: strict, in the order of the contract, rounded as it says, and true to its schema."""

import json
import math
from dataclasses import replace
from typing import Any

import jsonschema
import pytest
from hand_made import NO_SHOP, Case, analysis, loss, part_set, plate
from hypothesis import given
from hypothesis import strategies as st
from shared import ROOT

from analyzer.comparison import Answer, advise
from analyzer.drawing.drawing import Fact, Ignored
from analyzer.motion.plan import Timing
from analyzer.process.choose import LeftOut
from analyzer.process.rates import Rates
from analyzer.process.supply import NO_SUPPLIES
from analyzer.report.strict import dumps
from analyzer.report.to_json import check_object, compare_object, set_object, timing

SCHEMAS = ROOT / "docs" / "schemas"
# Key order of contract.md and design.md 6, by where the keys stand.
ORDER = {
    "": ["schema", "drawing", "job", "totals", "parts", "gases", "left_out", "advice"],
    "drawing": ["file", "units", "entities", "facts"],
    "entities": ["total", "used", "ignored", "in_blocks"],
    "job": ["material", "thickness_mm", "power_kw", "plate", "next"],
    "totals": ["parts", "distinct_parts", "contours", "cut_length_mm", "mark_length_mm",
               "pierces", "area_mm2", "weight_kg"],
    "advice": ["gas", "reason", "without_mixer", "in_every_gas"],
}  # fmt: skip
FINDING = ["mark", "rule", "level", "part", "count", "places", "x", "y", "measured", "limit",
           "unit", "message", "remedy"]  # fmt: skip
GAS = ["gas", "oxygen_share_percent", "speed_m_per_min", "within_power", "edge_m_by_burr_class",
       "parts", "time_s", "findings"]  # fmt: skip


def schema(name: str) -> dict[str, Any]:
    return json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))


def answer(**more: Any) -> Answer:
    cases = {
        "oxygen": Case(100.0, 1.0, findings=[loss("hole-too-small")]),
        "nitrogen": Case(60.123456, 2.0, (0.0, 0.0, 0.3577, 0.0)),
    }
    parts = part_set(
        plate("P1", 2), file="teil\udc80.dxf", ignored=[Ignored("TEXT", "N\x1b", "words", 3)],
        facts=[Fact("gap-closed", "a gap", 1.0, 2.0), Fact("recovered", "mended")],
    )  # fmt: skip
    found = analysis(cases, parts=parts, left_out=[LeftOut("air", "too thick")], **more)
    return Answer(found, advise(found))


@pytest.mark.parametrize("why", [False, True])
def test_true_to_the_schema(why: bool) -> None:
    for make, name in (
        (check_object, "burrcast.check-1"), (compare_object, "burrcast.compare-1"),
    ):  # fmt: skip
        written = json.loads(dumps(make(answer(), why=why)))
        jsonschema.validate(written, schema(name))
    jsonschema.validate(
        set_object([check_object(answer())], [("x.dxf", "no DXF")]), schema("burrcast.set-1")
    )


def test_the_schema_can_fail() -> None:
    written = check_object(answer())
    del written["totals"]["pierces"]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(written, schema("burrcast.check-1"))
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({**check_object(answer()), "more": 1}, schema("burrcast.check-1"))


def test_order_of_keys() -> None:
    written = check_object(answer())
    assert list(written) == ORDER[""]
    assert list(written["drawing"]) == ORDER["drawing"]
    assert list(written["drawing"]["entities"]) == ORDER["entities"]
    for key in ("job", "totals", "advice"):
        assert list(written[key]) == ORDER[key]
    assert list(written["gases"][0]) == GAS
    assert list(written["gases"][0]["findings"][0]) == FINDING
    more = ["gas_nm3", "energy_kwh", "rework_min"]
    compared = compare_object(answer())
    assert list(compared["gases"][0]) == [*GAS[:-1], *more, GAS[-1]]
    extra = ["runner_up", "runner_up_costs_more", "proven", "with_runner_up", "break_even"]
    assert list(compared["advice"]) == ORDER["advice"]
    assert list(compare_object(answer(), why=True)["advice"]) == [*ORDER["advice"], *extra]


def test_money_only_where_the_shop_has_rates() -> None:
    told = {"machine_per_h": 120.0, "labour_per_h": 60.0}
    shop = replace(NO_SHOP, rates=Rates("EUR", told, NO_SUPPLIES))
    weighed = analysis({"oxygen": Case(100.0, 1.0), "nitrogen": Case(60.0, 2.0)}, shop=shop)
    written = json.loads(dumps(compare_object(Answer(weighed, advise(weighed)))))
    jsonschema.validate(written, schema("burrcast.compare-1"))
    assert "cost" not in compare_object(answer())["gases"][0]
    for gas in written["gases"]:
        assert gas["cost"] == pytest.approx(sum(gas["cost_split"].values()), abs=1e-5)
        assert gas["cost_low"] <= gas["cost"] <= gas["cost_high"]
        assert gas["currency"] == "EUR"
    assert written["advice"]["runner_up_costs_more"]["unit"] == "EUR"
    assert {"labour_per_h", "machine_per_h"} <= {
        p["input"] for p in written["advice"]["break_even"]
    }


def test_half_characters_and_controls() -> None:
    text = dumps(check_object(answer()))
    assert text.isascii()
    assert "\x1b" not in text
    assert "\\udc80" not in text
    assert json.loads(text)["drawing"]["file"] == "teil\ufffd.dxf"


TERM = st.floats(0.0, 1e5, allow_nan=False)


@given(st.tuples(*[TERM] * 7))
def test_total_is_the_sum_of_the_written_terms(terms: tuple[float, ...]) -> None:
    written = json.loads(json.dumps(timing(Timing(*terms))))
    total = written.pop("total")
    assert math.isclose(total, sum(written.values()), rel_tol=0.0, abs_tol=5e-5)
    assert total == round(total, 4)
    assert all(value == round(value, 4) for value in written.values())


def test_totals_cover_all_copies_parts_one() -> None:
    written = check_object(answer())
    gas = written["gases"][1]
    assert gas["time_s"]["total"] == pytest.approx(60.1235)
    assert gas["parts"][0]["time_s"] == pytest.approx(30.0617)
    assert written["totals"]["parts"] == 2
    # density of mild steel: EN 1993-1-1, 3.2.6
    area = 100 * 60 - math.pi * 36
    assert written["parts"][0]["weight_kg"] == pytest.approx(area * 10 * 7850e-9, rel=1e-6)
    assert written["totals"]["weight_kg"] == pytest.approx(2 * area * 10 * 7850e-9, rel=1e-6)


def test_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        dumps({"x": math.nan})
