"""Hand work after cutting: rates and what must come off (common practice, no source)."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.job import NEXT_STEPS, Job
from analyzer.process.gas import GASES
from analyzer.process.hand_rates import HandRates, parse_rework
from analyzer.process.rework import (
    Body,
    handling_minutes,
    least_class_off,
    rework_minutes,
    step_reason,
)
from analyzer.process.typed import TomlFile

METRES = st.lists(st.floats(0.0, 20.0), min_size=4, max_size=4)
NONE = (0.0, 0.0, 0.0, 0.0)


def job(material: str = "mild-steel", t: float = 10.0, step: str | None = None) -> Job:
    return Job(material, t, 10.0, next_step=step)


@pytest.mark.outside("Hand work by burr class [min/m]", "common practice, no source")
def test_minutes_per_metre_by_class() -> None:
    """0.2, 0.6 and 2.25 min/m (1.5 to 3) with grinder or belt; cut-outs by hand double."""
    for burr, rate in enumerate((0.0, 0.2, 0.6, 2.25)):
        metres = [0.0] * 4
        metres[burr] = 2.0
        outer = rework_minutes(job(step="weld"), "nitrogen", metres, NONE, 1.0)
        inner = rework_minutes(job(step="weld"), "nitrogen", NONE, metres, 1.0)
        assert outer.burr_min == pytest.approx(2.0 * rate)
        assert inner.burr_min == pytest.approx(4.0 * rate)


def test_small_holes_with_burr_below() -> None:
    """8 holes of 9 mm with class 2: scraper, about 0.3 min per part (common practice)."""
    metres = (0.0, 0.0, 8 * 3.14159 * 0.009, 0.0)
    found = rework_minutes(job(), "nitrogen", NONE, metres, 1.0)
    assert found.burr_min == pytest.approx(0.3, abs=0.05)


@pytest.mark.parametrize(
    ("step", "least"),
    [("none", 3), (None, 2)] + [(s, 1) for s in NEXT_STEPS if s != "none"],
)
def test_which_burr_must_come_off(step: str | None, least: int) -> None:
    assert least_class_off(step) == least
    found = rework_minutes(job(step=step), "nitrogen", (1.0, 1.0, 1.0, 1.0), NONE, 1.0)
    assert found.burr_min == pytest.approx(sum((0.0, 0.2, 0.6, 2.25)[least:]))
    said = " ".join(found.words)
    assert ("left as cut" in said) == (least > 1)


def test_handling_once_if_any_work_is_done() -> None:
    """0.25 min per part, 0.5 above 2 kg."""
    assert (handling_minutes(2.0), handling_minutes(2.001)) == (0.25, 0.5)
    idle = rework_minutes(job(), "nitrogen", (5.0, 5.0, 0.0, 0.0), NONE, 10.0)
    assert (idle.minutes, idle.handling_min) == (0.0, 0.0)
    both = rework_minutes(job(step="paint"), "oxygen", (1.0, 1.0, 0.0, 0.0), NONE, 10.0)
    assert both.burr_min > 0
    assert both.oxide_min > 0
    assert both.handling_min == 0.5


@pytest.mark.parametrize("step", ["weld", "powder", "paint", "galvanise"])
def test_oxygen_oxide_comes_off_and_mixed_oxide_stays(step: str) -> None:
    """Trade fact: loose oxide of oxygen off before paint or weld, none of mixed gas."""
    outer, inner = (1.2, 0.0, 0.0, 0.0), (0.3, 0.0, 0.0, 0.0)
    oxygen = rework_minutes(job(step=step), "oxygen", outer, inner, 1.0)
    assert oxygen.oxide_min == pytest.approx((1.2 + 2 * 0.3) / 0.6)
    thick = rework_minutes(job(t=15.0, step=step), "oxygen", outer, inner, 1.0)
    assert thick.oxide_min == pytest.approx((1.2 + 2 * 0.3) / 0.3)
    mixed = rework_minutes(job(step=step), "mixed", outer, inner, 1.0)
    assert mixed.minutes == 0.0
    asked = {"powder": "coater", "paint": "coater", "galvanise": "galvaniser"}.get(step)
    if asked:
        assert f"confirm with the {asked}" in " ".join(mixed.words)
    nitrogen = rework_minutes(job(step=step), "nitrogen", outer, inner, 1.0)
    assert (nitrogen.minutes, nitrogen.words) == (0.0, ())


@pytest.mark.parametrize("step", [None, "none"])
def test_oxide_not_counted_is_said(step: str | None) -> None:
    found = rework_minutes(job(step=step), "oxygen", (0.54, 0.0, 0.0, 0.0), NONE, 1.0)
    assert found.minutes == 0.0
    assert found.words == ("if painted, coated or welded, its oxide off adds 54 s",)


def test_air_on_mild_steel_is_cleaned_before_welding_only() -> None:
    metres = (0.6, 0.0, 0.0, 0.0)
    assert rework_minutes(job(step="weld"), "air", metres, NONE, 1).oxide_min == pytest.approx(1.0)
    painted = rework_minutes(job(step="paint"), "air", metres, NONE, 1)
    assert painted.minutes == 0.0
    assert "test" in painted.words[0]


def test_oxidised_stainless_is_pickled_where_it_shows() -> None:
    """0.5 to 1 min per metre of pickling paste or brush."""
    metres = (2.0, 0.0, 0.0, 0.0)
    for gas, minutes in (("mixed", 1.5), ("air", 1.5), ("nitrogen", 0.0)):
        found = rework_minutes(job("stainless", 6, "visible"), gas, metres, NONE, 1.0)
        assert found.oxide_min == pytest.approx(minutes)
        assert found.handling_min == (0.25 if minutes else 0.0)
    plain = rework_minutes(job("stainless", 6, "none"), "mixed", metres, NONE, 1.0)
    assert plain.minutes == 0.0
    assert "visible" in plain.words[0]


@given(
    outer=METRES,
    inner=METRES,
    gas=st.sampled_from(GASES),
    step=st.sampled_from((None, *NEXT_STEPS)),
    material=st.sampled_from(("mild-steel", "stainless", "aluminium")),
    t=st.floats(0.5, 32.0),
)
def test_sums_and_order(
    outer: list[float], inner: list[float], gas: str, step: str | None, material: str, t: float
) -> None:
    found = rework_minutes(job(material, t, step), gas, outer, inner, 3.0)
    assert found.minutes == found.burr_min + found.oxide_min + found.handling_min
    assert found.rounding_min == 0.0
    assert min(found.burr_min, found.oxide_min, found.handling_min) >= 0.0
    # a step that asks for an edge never makes less work than none
    least = rework_minutes(job(material, t, "none"), gas, outer, inner, 3.0)
    assert found.minutes >= least.minutes - 1e-12


def test_nothing_cut_nothing_said() -> None:
    for gas in GASES:
        found = rework_minutes(job(step="paint"), gas, NONE, NONE, 1.0)
        assert (found.minutes, found.words) == (0.0, ())


def test_unknown_next_step() -> None:
    with pytest.raises(InputError, match=r"'plate' is not known.*weld"):
        rework_minutes(job(step="plate"), "nitrogen", NONE, NONE, 1.0)


# --- by machine --------------------------------------------------------------------------

SHEET = Body(length_mm=300.0, area_mm2=60_000.0)  # 40 of them: 12 m of part length in one lane


@pytest.mark.outside(
    "Hand work of a sheet of 92 m [min]", "worked by hand, common practice, no source"
)
@pytest.mark.parametrize(
    ("gas", "burr_class", "minutes"), [("nitrogen", 2, 20.8), ("oxygen", 0, 26.0),
                                       ("mixed", 1, 19.0)],
)  # fmt: skip
def test_worked_sheet_by_machine(gas: str, burr_class: int, minutes: float) -> None:
    """92 m of edge, 40 parts: 4.8 + 16, 10 + 16 and 3 + 16 min (worked by hand, no source)."""
    rates = HandRates(burr="belt", oxide="machine", told=(("brush_passes", 1.0),))
    metres = [0.0] * 4
    metres[burr_class] = 92.0 / 40
    each = rework_minutes(job(step="powder"), gas, metres, NONE, 3.0, rates=rates, body=SHEET)
    assert 40 * each.minutes == pytest.approx(minutes)
    assert each.handling_min == pytest.approx(0.4)


def test_two_passes_of_the_brush_machine_from_8_mm() -> None:
    """Oxide sits on both edges and the face (common practice, no source)."""
    rates, metres = HandRates(oxide="machine"), (2.0, 0.0, 0.0, 0.0)
    thin, thick = (
        rework_minutes(job(t=t, step="paint"), "oxygen", metres, NONE, 1, rates=rates, body=SHEET)
        for t in (7.9, 8.0)
    )
    assert thick.oxide_min == pytest.approx(2 * thin.oxide_min)


def test_a_few_millimetres_at_the_start_do_not_slow_the_belt() -> None:
    rates = HandRates(burr="belt")
    whole = rework_minutes(job(step="paint"), "nitrogen", (0.0, 2.0, 0.0, 0.01), NONE, 1.0,
                           rates=rates, body=SHEET)  # fmt: skip
    assert whole.burr_min == pytest.approx(0.3 / 4.0)


def test_blasting_goes_by_surface() -> None:
    """5 m2/h of both faces and the cut edge."""
    rates = HandRates(oxide="blast")
    found = rework_minutes(job(t=10, step="paint"), "oxygen", (1.0, 0, 0, 0), NONE, 1.0,
                           rates=rates, body=SHEET)  # fmt: skip
    assert found.oxide_min == pytest.approx(60 * (2 * 0.06 + 0.01) / 5)


def test_edges_are_rounded_only_where_the_shop_says_so() -> None:
    """R 2 by hand: 3 min/m for each of two edge lines (2 to 4; common practice, no source)."""
    metres = (2.0, 0.0, 0.0, 0.0)
    rounding = HandRates(round_edges_before=("paint",))
    found = rework_minutes(job(step="paint"), "nitrogen", metres, NONE, 1.0, rates=rounding)
    assert found.rounding_min == pytest.approx(12.0)
    assert found.minutes == pytest.approx(12.0 + 0.25)
    other = rework_minutes(job(step="weld"), "nitrogen", metres, NONE, 1.0, rates=rounding)
    assert other.minutes == 0.0
    machine = HandRates(round_edges_before=("paint",), rounding="machine")
    found = rework_minutes(job(step="paint"), "nitrogen", metres, NONE, 1.0, rates=machine,
                           body=SHEET)  # fmt: skip
    assert found.rounding_min == pytest.approx(2 * 0.3 / 0.75)


def test_the_shop_file_sets_tools_and_rates() -> None:
    text = '[rework]\nburr = "file"\nclass_1_min_per_m = 0.5\nround_edges_before = ["paint"]\n'
    rates = parse_rework(TomlFile(Path("x"), text), tomllib.loads(text)["rework"])["rework"]
    assert rates.minutes_per_m() == (0.0, 0.5, 1.0, 2.25)
    assert rates.rate("pickle_min_per_m") == 0.75
    assert "hand file" in rates.words


@pytest.mark.parametrize(
    ("line", "says"),
    [("burr = 'fire'", "is not known"), ("class_1_min = 1", "did you mean class_1_min_per_m"),
     ("round_edges_before = ['fly']", "'fly' is not known"), ("belt_part_min = -1", "cannot be")],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused(line: str, says: str) -> None:
    text = f"[rework]\n{line}\n"
    with pytest.raises(InputError, match=says):
        parse_rework(TomlFile(Path("x"), text), tomllib.loads(text)["rework"])


@pytest.mark.parametrize("step", NEXT_STEPS)
def test_every_next_step_has_its_reason(step: str) -> None:
    why = step_reason(step)
    assert why.reason
    assert why.mark
    assert bool(why.standard) == (step not in ("bend", "tap", "none"))


def test_a_trace_of_burr_left_is_not_told() -> None:
    """0.3 mm of class 2 would cost 0.01 s: nothing to say, and never in powers of ten."""
    left = rework_minutes(job(step="none"), "nitrogen", (1.0, 0.0, 3e-4, 0.0), NONE, 1.0)
    assert left.words == ()
    left = rework_minutes(job(step="none"), "nitrogen", (1.0, 0.0, 0.1, 0.0), NONE, 1.0)
    assert left.words == ("burr classes 1 and 2 left as cut; taking it off would add 4 s",)


@pytest.mark.parametrize("metres", [0.01, 0.37, 1.31, 7.9, 44.0, 400.0])
@pytest.mark.parametrize("gas", ["oxygen", "nitrogen"])
def test_the_shares_add_up_in_one_unit(metres: float, gas: str) -> None:
    found = rework_minutes(job(step="powder"), gas, (metres, metres / 7, 0.0, 0.0), NONE, 3.0)
    told = re.findall(r"([0-9.]+) (s|min|h)(?:,|$)", found.words[0])
    assert len({unit for _, unit in told}) == 1
    scale = 60.0 if told[0][1] == "s" else 1.0
    digits = 1 if "." in told[0][0] else 0
    assert sum(float(value) for value, _ in told) == pytest.approx(
        round(scale * found.minutes, digits), abs=1e-9
    )
    assert found.words[0].endswith(("turning 30 s", "turning 0.5 min", "turning 0 min")) or (
        found.minutes >= 9.95
    )
