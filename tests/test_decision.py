"""The advice a practitioner would give, from a drawing to `burrcast compare`.

All expected advice: common practice, no source, unless another stands beside the check.
"""

import json
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import ezdxf
import jsonschema
import pytest
from click.testing import CliRunner
from shared import ROOT

from analyzer.cli import burrcast

Json = dict[str, Any]
Compare = Callable[..., Any]
RATES = "[rates]\nmachine_per_h = 110\nlabour_per_h = 55\n"
STEEL = "mild-steel"
SCHEMA = json.loads((ROOT / "docs/schemas/burrcast.compare-1.json").read_text(encoding="utf-8"))


@pytest.fixture
def compare(tmp_path: Path) -> Compare:
    """Return a function that compares the gases on a plate with up to four holes."""

    def run(
        material: str, thickness: float, power: float, *words: str, shop: str = "",
        holes: Sequence[float] = (20.0,), size: tuple[float, float] = (300.0, 200.0),
        form: str = "json",
    ) -> Any:  # fmt: skip
        document = ezdxf.new("R2010", units=4)
        space, (w, h) = document.modelspace(), size
        space.add_lwpolyline([(0, 0), (w, 0), (w, h), (0, h)], close=True)
        for n, diameter in enumerate(holes):
            place = (40 + (w - 80) * (n % 2), 40 + (h - 80) * (n // 2))
            space.add_circle(place, diameter / 2)
        document.saveas(tmp_path / "part.dxf")
        (tmp_path / "burrcast.toml").write_text(shop, encoding="utf-8")
        asked = ["--material", material, "--thickness", str(thickness), "--power", str(power)]
        result = CliRunner().invoke(
            burrcast, ["compare", str(tmp_path / "part.dxf"), *asked, *words, "--format", form]
        )
        assert result.exit_code == 0, result.output
        if form != "json":
            return result.stdout
        answer = json.loads(result.stdout)
        jsonschema.validate(answer, SCHEMA)
        return answer

    return run


def under(answer: Json, gas: str) -> Json:
    found: Json = next(row for row in answer["gases"] if row["gas"] == gas)
    return found


BIG = (26.0, 30.0, 40.0, 26.0)


@pytest.mark.parametrize("shop", ["", RATES])
def test_20_mm_on_20_kw_before_paint(compare: Compare, shop: str) -> None:
    """Same speed as nitrogen, a third of its burr, and no oxide to take off."""
    answer = compare(STEEL, 20, 20, "--next", "paint", "--why", shop=shop, holes=BIG)
    advice = answer["advice"]
    assert advice["gas"] == "mixed"
    assert "hand" in advice["reason"]
    assert advice["without_mixer"]["gas"] == "nitrogen"
    assert advice["runner_up"] in ("nitrogen", "air")
    assert advice["proven"] is True
    more = advice["runner_up_costs_more"]
    assert 0.0 < more["low"] < more["value"] < more["high"]
    inputs = {point["input"] for point in advice["break_even"]}
    assert {"hand work after mixed", "time in mixed"} <= inputs
    if shop:
        assert more["unit"] == "EUR"
        costs = {row["gas"]: row["cost"] for row in answer["gases"]}
        assert min(costs, key=lambda gas: costs[gas]) == "mixed"


def test_the_page_of_20_mm_says_reason_money_and_what_would_flip_it(compare: Compare) -> None:
    page = compare(STEEL, 20, 20, "--next", "paint", shop=RATES, holes=BIG, form="text")
    assert max(map(len, page.splitlines())) <= 80
    words = " ".join(page.split())
    assert "Cut with MIXED GAS (nitrogen with 1 % oxygen)" in words
    assert re.search(r"\d+ EUR \(\d+-\d+\); [\d.]+ of it plate", words)
    assert re.search(r"Why: \w+ costs [\d.]+ EUR more \([\d.]+ for hand work\)", words)
    assert re.search(r"would win", words)
    assert "Otherwise" in page
    assert "burr for the grinder" in words
    assert "oxygen 0.2 (tank, typical)" in words
    assert "typical, not yours" in words


def test_a_shop_without_a_mixer(compare: Compare) -> None:
    shop = RATES + '[gases]\navailable = ["oxygen", "nitrogen"]\n'
    answer = compare(STEEL, 20, 20, "--next", "paint", shop=shop, holes=BIG)
    assert answer["advice"]["gas"] == "nitrogen"
    page = compare(STEEL, 20, 20, "--next", "paint", shop=shop, holes=BIG, form="text")
    words = " ".join(page.split())
    had = "If the shop had a mixer (its file lists none), mixed gas would win: nitrogen costs"
    assert had in words


def test_the_only_gas_of_the_shop_is_said_to_be_that(compare: Compare) -> None:
    shop = RATES + '[gases]\navailable = ["nitrogen"]\n'
    answer = compare(STEEL, 10, 10, "--next", "paint", shop=shop, holes=BIG)
    assert answer["advice"]["gas"] == "nitrogen"
    assert answer["advice"]["reason"] == "the shop file lists no other gas that cuts this"


@pytest.mark.parametrize("shop", ["", RATES])
def test_two_holes_lost_in_every_gas_decide_nothing(compare: Compare, shop: str) -> None:
    """One job for the drill, said once; the rest decides."""
    lost = compare(STEEL, 10, 10, "--next", "powder", shop=shop, holes=(3.5, 3.5, 20, 20))
    sound = compare(STEEL, 10, 10, "--next", "powder", shop=shop, holes=(20, 20, 20, 20))
    assert lost["advice"]["in_every_gas"] == ["hole-too-small"]
    assert lost["advice"]["gas"] == sound["advice"]["gas"] == "mixed"
    assert not lost["advice"]["reason"].startswith("no gas is without loss")


@pytest.mark.parametrize(
    ("power", "speed", "gas"), [(3, 0.99, "oxygen"), (6, 1.55, "oxygen"), (12, 1.85, "mixed")]
)
@pytest.mark.parametrize("shop", ["", RATES])
def test_12_mm_up_the_ladder_of_power(
    compare: Compare, shop: str, power: float, speed: float, gas: str
) -> None:
    """1 mm per kW for nitrogen and mixed gas; oxygen takes 12 mm on 3 kW."""
    answer = compare(STEEL, 12, power, "--next", "none", shop=shop)
    assert under(answer, "oxygen")["speed_m_per_min"] == pytest.approx(speed, abs=0.006)
    assert answer["advice"]["gas"] == gas
    assert under(answer, "nitrogen")["within_power"] == (power == 12)


def test_stainless_10_mm_on_6_kw_is_offered_with_caution(compare: Compare) -> None:
    """There is no other gas to fall back on: about 1.4 m/min, one burr class more."""
    answer = compare("stainless", 10, 6, "--next", "none", shop=RATES)
    nitrogen = under(answer, "nitrogen")
    assert nitrogen["speed_m_per_min"] == pytest.approx(1.40, abs=0.01)
    levels = {f["level"] for f in nitrogen["findings"] if f["rule"] == "thickness-beyond-power"}
    assert levels == {"rework"}
    assert answer["advice"]["gas"] is not None


def test_nitrogen_from_bundles_turns_the_verdict(compare: Compare) -> None:
    """Bundles cost ten times the tank; the page names the supply."""
    size, holes = (900.0, 500.0), (60.0, 60.0)
    two = '[gases]\navailable = ["oxygen", "nitrogen"]\n'
    both = {
        kind: compare(STEEL, 10, 10, "--next", "none", holes=holes, size=size,
                      shop=f'{RATES}{two}[gases.nitrogen]\nsupply = "{kind}"\n')
        for kind in ("tank", "bundle")
    }  # fmt: skip
    assert under(both["bundle"], "nitrogen")["cost_split"]["gas"] == pytest.approx(
        10 * under(both["tank"], "nitrogen")["cost_split"]["gas"], rel=1e-4
    )
    # grinding nothing (next none), nitrogen is twice as fast: the tank wins
    assert both["tank"]["advice"]["gas"] == "nitrogen"
    assert both["bundle"]["advice"]["gas"] == "oxygen"
    assert "gas" in both["bundle"]["advice"]["reason"]
    page = compare(STEEL, 10, 10, "--next", "none", holes=holes, size=size, form="text",
                   shop=f'{RATES}{two}[gases.nitrogen]\nsupply = "bundle"\n')  # fmt: skip
    assert "nitrogen 2 (bundle, typical)" in " ".join(page.split())


@pytest.mark.parametrize("shop", ["", RATES])
def test_rusty_plate(compare: Compare, shop: str) -> None:
    """Nitrogen loses the cut, mixed gas copes."""
    answer = compare(STEEL, 10, 10, "--plate", "rusty", "--next", "none", shop=shop)
    assert answer["advice"]["gas"] == "mixed"
    assert any(f["level"] == "loss" for f in under(answer, "nitrogen")["findings"])


@pytest.mark.parametrize("shop", ["", RATES])
def test_stainless_with_a_visible_edge(compare: Compare, shop: str) -> None:
    """Mixed gas is faster, but its edge has to be pickled."""
    answer = compare("stainless", 6, 10, "--next", "visible", shop=shop)
    assert answer["advice"]["gas"] == "nitrogen"
    mixed, nitrogen = under(answer, "mixed"), under(answer, "nitrogen")
    assert mixed["speed_m_per_min"] > nitrogen["speed_m_per_min"]
    assert mixed["rework_min"] > nitrogen["rework_min"]


@pytest.mark.parametrize("shop", ["", RATES])
def test_aluminium_8_mm(compare: Compare, shop: str) -> None:
    """Oxygen in the gas: faster, one burr class less; nitrogen is the dearest of the three."""
    answer = compare("aluminium", 8, 10, "--next", "none", shop=shop)
    assert answer["advice"]["gas"] in ("mixed", "air")
    if shop:
        costs = {row["gas"]: row["cost"] for row in answer["gases"]}
        assert max(costs, key=lambda gas: costs[gas]) == "nitrogen"
    assert answer["advice"]["without_mixer"]["gas"] == "air"
    only = shop + '[gases]\navailable = ["nitrogen", "mixed"]\n'
    assert compare("aluminium", 8, 10, "--next", "none", shop=only)["advice"]["gas"] == "mixed"


@pytest.mark.parametrize("shop", ["", RATES])
def test_thin_sheet_never_takes_mixed_gas(compare: Compare, shop: str) -> None:
    words = (STEEL, 2, 6, "--next", "none", "--why")
    advice = compare(*words, shop=shop, holes=(9.0,))["advice"]
    assert advice["gas"] in ("nitrogen", "air")
    # between their speeds lies a guess of 5 %; that air costs a sixth of nitrogen is known
    assert advice["proven"] is bool(shop)
    has = shop + '[gases]\navailable = ["oxygen", "nitrogen", "mixed"]\n'
    assert compare(*words, shop=has, holes=(9.0,))["advice"]["gas"] == "nitrogen"


@pytest.mark.parametrize("shop", ["", RATES])
def test_12_mm_on_6_kw_before_welding(compare: Compare, shop: str) -> None:
    """Oxygen, its oxide brushed off: the others do not cut through."""
    answer = compare(STEEL, 12, 6, "--next", "weld", shop=shop)
    assert answer["advice"]["gas"] == "oxygen"
    assert "thickness-beyond-power" in answer["advice"]["reason"]
    assert under(answer, "oxygen")["rework_min"] > 0.0


def test_no_next_step_says_what_stays_on_and_what_to_take_where_the_edge_matters(
    compare: Compare,
) -> None:
    """Aluminium 8 mm: air is quicker by less than is known; its holes of 11 burr (d / t < 3)."""
    words = ("aluminium", 8, 10, "--next")
    answer = compare(*words, "none", holes=(11.0, 11.0))
    page = " ".join(compare(*words, "none", holes=(11.0, 11.0), form="text").split())
    assert answer["advice"]["gas"] == "air"
    air, mixed = (under(answer, gas) for gas in ("air", "mixed"))
    assert sum(air["edge_m_by_burr_class"][2:]) > sum(mixed["edge_m_by_burr_class"][2:])
    assert air["rework_min"] == 0.0
    assert "we can prove: where the edge matters take mixed gas, which leaves less burr." in page
    (burr,) = (f for f in air["findings"] if f["rule"] == "small-contour-burrs")
    assert burr["remedy"].startswith("Left as cut with no next step; brush or belt it where")
    # proven by money, the burr is still said
    shop = RATES + '[gases]\navailable = ["nitrogen", "air", "mixed"]\n'
    page = " ".join(compare(*words, "none", shop=shop, holes=(11.0, 11.0), form="text").split())
    assert (
        "With no next step burr for brush or belt stays on: where the edge matters take mixed gas"
    ) in page
    told = compare(*words, "powder", holes=(11.0, 11.0), form="text")
    assert "edge matters" not in told
    assert "Left as cut" not in told


def test_of_a_range_of_nozzles_the_page_says_how_the_gas_is_counted(compare: Compare) -> None:
    page = " ".join(compare(STEEL, 12, 10, "--why", form="text").split())
    said = "nozzle S4-5, counted with 4 mm; with 5 mm 1.5 times as much gas"
    assert f"nitrogen: {said}" in page
    assert f"10 bar, {said}, purge" in " ".join(
        compare(STEEL, 12, 10, "--why", "--gas", "nitrogen", form="text").split()
    )
    assert "counted with" not in compare(STEEL, 15, 20, "--gas", "nitrogen", form="text")


def test_no_difference_we_can_prove(compare: Compare) -> None:
    shop = '[gases]\navailable = ["nitrogen", "air"]\n'
    page = compare(STEEL, 2, 6, "--next", "none", shop=shop, holes=(9.0,), form="text")
    assert "we can prove: choose by the edge" in " ".join(page.split())


def test_the_split_adds_up_and_each_part_is_its_share(compare: Compare) -> None:
    answer = compare(STEEL, 10, 10, "--next", "powder", shop=RATES, holes=BIG)
    for row in answer["gases"]:
        assert sum(row["cost_split"].values()) == pytest.approx(row["cost"], abs=1e-5)
        assert [each["id"] for each in row["cost_each"]] == [part["id"] for part in answer["parts"]]
        pairs = zip(answer["parts"], row["cost_each"], strict=True)
        each = sum(part["count"] * one["cost"] for part, one in pairs)
        assert each == pytest.approx(row["cost"], rel=1e-6)
        assert row["cost_low"] < row["cost"] < row["cost_high"]


def test_the_same_every_time(compare: Compare) -> None:
    """Fixed seed: the same bytes."""
    once, again = (compare(STEEL, 15, 20, shop=RATES, holes=BIG, form="text") for _ in range(2))
    assert once == again
