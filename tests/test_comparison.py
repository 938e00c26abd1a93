"""The advice, on results made by hand: the rules of docs/advice.md and contract.md "Advice"."""

from dataclasses import replace

import pytest
from hand_made import JOB, NO_SHOP, Case, analysis, loss, part_set
from hypothesis import given
from hypothesis import strategies as st

from analyzer.comparison import advise
from analyzer.job import Job
from analyzer.process.choose import LeftOut
from analyzer.reasons import losses_in_every_gas, slower, spoken
from analyzer.spread import difference
from analyzer.units import span

CLEAN = (0.3577, 0.0, 0.0, 0.0)
BURRED = (0.0, 0.0, 0.3577, 0.0)
HOLE = (50.0, 30.0)


def test_least_machine_and_hand_minutes_together() -> None:
    """Faster at the laser is not cheaper when someone grinds for longer."""
    cases = {"oxygen": Case(100.0), "nitrogen": Case(60.0, 1.5, BURRED), "air": Case(200.0)}
    advice = advise(analysis(cases))
    assert advice.gas == "oxygen"
    assert advice.runner_up == "nitrogen"
    assert advice.reason == "nitrogen is 40 s faster but needs 90 s more by hand"
    cases["nitrogen"] = Case(60.0, 0.5, BURRED)
    assert advise(analysis(cases)).gas == "nitrogen"


def test_a_gas_with_a_loss_of_its_own_is_out() -> None:
    cases = {"oxygen": Case(10.0, losses=[("hole-too-small", HOLE)]), "nitrogen": Case(60.0)}
    advice = advise(analysis(cases))
    assert advice.gas == "nitrogen"
    assert "hole-too-small" in advice.reason
    assert advice.in_every_gas == ()


def test_a_loss_in_every_gas_decides_nothing_and_is_listed() -> None:
    same = [("hole-too-small", HOLE)]
    cases = {"oxygen": Case(10.0, losses=same), "nitrogen": Case(60.0, losses=same)}
    advice = advise(analysis(cases))
    assert advice.gas == "oxygen"
    assert advice.in_every_gas == ("hole-too-small",)
    assert not advice.reason.startswith("no gas is without loss")


def test_the_same_rule_at_another_place_is_not_the_same_loss() -> None:
    cases = {
        "oxygen": Case(10.0, losses=[("hole-too-small", HOLE), ("hole-too-small", (9.0, 9.0))]),
        "nitrogen": Case(60.0, losses=[("hole-too-small", HOLE)]),
    }
    found = analysis(cases)
    assert losses_in_every_gas(found.gases) == {("hole-too-small", "P1", HOLE)}
    advice = advise(found)
    assert advice.gas == "nitrogen"
    assert advice.in_every_gas == ("hole-too-small",)


def test_none_without_loss_takes_the_fewest() -> None:
    cases = {
        "oxygen": Case(10.0, losses=[("a", (1.0, 1.0)), ("b", (2.0, 2.0))]),
        "nitrogen": Case(60.0, losses=[("c", (3.0, 3.0))]),
    }
    advice = advise(analysis(cases))
    assert advice.gas == "nitrogen"
    assert advice.reason.startswith("no gas is without loss")


def test_a_gas_past_its_power_only_when_nothing_else() -> None:
    """Mild steel 12 mm on 10 kW: nitrogen is past 1 mm per kW (practice: cutting_data.md A3)."""
    job = Job("mild-steel", 12.0, 10.0)
    advice = advise(analysis({"oxygen": Case(100.0), "nitrogen": Case(10.0)}, job=job))
    assert advice.gas == "oxygen"
    assert "past what this power cuts well" in advice.reason
    assert advise(analysis({"nitrogen": Case(10.0)}, job=job)).gas == "nitrogen"


def test_a_tie_goes_to_less_burr_then_to_no_mixer() -> None:
    cases = {"oxygen": Case(100.9, edge=CLEAN), "nitrogen": Case(100.0, edge=BURRED)}
    assert advise(analysis(cases)).gas == "oxygen"
    cases = {"oxygen": Case(102.0, edge=CLEAN), "nitrogen": Case(100.0, edge=BURRED)}
    assert advise(analysis(cases)).gas == "nitrogen"
    cases = {"nitrogen": Case(100.0, edge=BURRED), "mixed": Case(100.0, edge=BURRED)}
    assert advise(analysis(cases)).gas == "nitrogen"


def test_a_hair_of_burr_decides_nothing_and_is_not_said() -> None:
    """Millimetres at starts and ends differ from gas to gas."""
    clean, brushed, wiped, ground = BURRED
    hair = (clean, brushed, wiped + 1e-4, ground)
    cases = {"nitrogen": Case(100.0, edge=hair), "air": Case(99.5, edge=BURRED)}
    advice = advise(analysis(cases))
    assert advice.gas == "nitrogen"
    assert "air takes as long and gives no better edge than nitrogen" in advice.reason


def test_not_mixed_for_speed_alone_where_nitrogen_leaves_no_burr() -> None:
    cases = {"nitrogen": Case(100.0), "mixed": Case(50.0)}
    advice = advise(analysis(cases))
    assert advice.gas == "nitrogen"
    assert "mixed gas would only be 50 s faster" in advice.reason


def test_not_mixed_for_a_gain_smaller_than_what_is_known() -> None:
    cases = {"nitrogen": Case(100.0, 0.0, BURRED), "mixed": Case(96.0, 0.0, BURRED)}
    assert advise(analysis(cases)).gas == "nitrogen"
    cases["mixed"] = Case(90.0, 0.0, BURRED)
    assert advise(analysis(cases)).gas == "mixed"


@pytest.mark.parametrize("seconds", [98.0, 90.0])
def test_air_on_mild_steel_is_weighed_by_minutes_alone(seconds: float) -> None:
    cases = {"nitrogen": Case(100.0), "air": Case(seconds)}
    assert advise(analysis(cases)).gas == "air"


def test_air_says_why_mixed_gas_is_not_worth_a_mixer() -> None:
    """Not "why: mixed gas is faster"; and that mixed gas leaves the cleaner edge is told."""
    burred = (0.2, 0.1577, 0.0, 0.0)
    cases = {
        "nitrogen": Case(103.0, edge=burred), "mixed": Case(98.8), "air": Case(100.0, edge=burred)
    }  # fmt: skip
    advice = advise(analysis(cases))
    assert advice.gas == "air"
    assert advice.reason == (
        "mixed gas would only be 1.2 s faster and save no hand work unless burr left as cut has to "
        "come off; that is less than we know of the speeds"
    )
    assert advice.proven


def test_what_is_mended_in_the_drawing_may_turn_the_advice() -> None:
    lost = [("slot-too-narrow", HOLE)]
    cases = {"nitrogen": Case(60.0, losses=lost), "mixed": Case(60.0, 1.5, BURRED)}
    advice = advise(analysis(cases))
    assert advice.gas == "mixed"
    assert advice.if_mended == (
        "with slot-too-narrow mended nitrogen would win: mixed gas takes as long at the machine "
        "but needs 90 s more by hand"
    )
    cases["mixed"] = Case(60.0, 0.0)
    assert advise(analysis(cases)).if_mended == ""
    cases = {"nitrogen": Case(60.0, losses=[("gas-unsuited", HOLE)]), "mixed": Case(60.0, 1.5)}
    assert advise(analysis(cases)).if_mended == ""  # no change of the drawing helps it


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(99.98, "takes as long at the machine but"), (99.6, "is 0.4 s faster but"),
     (100.4, "needs 0.4 s more at the machine and")],
)  # fmt: skip
def test_as_long_is_said_where_the_times_shown_are_the_same(seconds: float, words: str) -> None:
    cases = analysis({"nitrogen": Case(100.0), "air": Case(seconds, 1.5)})
    best, rival = cases.under("nitrogen"), cases.under("air")
    assert best
    assert rival
    assert slower(best, rival) == f"air {words} needs 90 s more by hand".replace("and needs", "and")


def test_not_air_on_stainless_for_speed_alone() -> None:
    """Its edge oxidises in air (common practice, no source); on mild steel minutes decide."""
    cases = {"nitrogen": Case(100.0), "mixed": Case(98.0), "air": Case(90.0)}
    advice = advise(analysis(cases, job=replace(JOB, material="stainless", thickness_mm=3.0)))
    assert advice.gas == "nitrogen"
    assert "air and mixed gas would be at most 10 s faster, oxidise the edge" in advice.reason
    assert advise(analysis(cases)).gas == "air"


def test_mixed_where_it_saves_hand_work() -> None:
    cases = {"nitrogen": Case(100.0, 1.0, BURRED), "mixed": Case(98.0, 0.0, (0, 0.3577, 0, 0))}
    advice = advise(analysis(cases))
    assert advice.gas == "mixed"
    assert advice.without_mixer.gas == "nitrogen"


def test_without_mixer_is_the_same_gas_where_that_is_not_mixed() -> None:
    advice = advise(analysis({"oxygen": Case(10.0), "nitrogen": Case(60.0)}))
    assert advice.without_mixer.gas == advice.gas == "oxygen"
    assert advice.without_mixer.reason == advice.reason
    only = advise(analysis({"mixed": Case(10.0)}))
    assert only.gas == "mixed"
    assert only.without_mixer.gas is None
    assert only.without_mixer.reason


def test_only_the_gases_of_the_shop_are_advised_the_rest_is_a_what_if() -> None:
    """practice.md 1, point 4: the advice is among the shop's gases."""
    cases = {"oxygen": Case(300.0), "nitrogen": Case(100.0, 2.0, BURRED), "mixed": Case(98.0)}
    shop = replace(NO_SHOP, gases=("oxygen", "nitrogen"))
    advice = advise(analysis(cases, shop=shop))
    assert advice.gas == "nitrogen"
    assert "mixer" in advice.what_if
    assert advise(analysis(cases)).gas == "mixed"
    assert advise(analysis(cases)).what_if == ""


def test_a_drawing_without_a_part_gets_no_gas_and_a_reason() -> None:
    advice = advise(analysis({"nitrogen": Case(1.0)}, parts=part_set()))
    assert advice.gas is None
    assert "no closed contour" in advice.reason
    assert advice.without_mixer.gas is None


def test_no_gas_with_a_speed() -> None:
    advice = advise(analysis({}, left_out=[LeftOut("nitrogen", "too thick")]))
    assert advice.gas is None
    assert "too thick" in advice.reason


def test_a_difference_smaller_than_its_band_is_not_proven() -> None:
    close = analysis({"nitrogen": Case(100.0), "air": Case(103.0)})
    assert difference(*close.gases, NO_SHOP).spans_zero
    assert not advise(close).proven
    far = analysis({"nitrogen": Case(100.0), "air": Case(120.0)})
    assert not difference(*far.gases, NO_SHOP).spans_zero


def test_what_would_change_it_is_said_only_when_near() -> None:
    near = advise(analysis({"nitrogen": Case(100.0), "air": Case(108.0)}))
    assert near.flip == "if nitrogen took 8 % longer at the machine, air would win"
    assert advise(analysis({"nitrogen": Case(100.0), "air": Case(300.0)})).flip == ""


def test_the_next_step_not_told_says_what_it_would_change() -> None:
    """practice.md 1, point 15; oxide must come off before paint (common practice, no source)."""
    cases = {"oxygen": Case(60.0), "nitrogen": Case(70.0)}
    assert "if painted or powder coated: nitrogen instead" in advise(analysis(cases)).next_step
    told = advise(analysis(cases, job=replace(JOB, next_step="none")))
    assert told.next_step == ""


EDGE = st.sampled_from([CLEAN, BURRED, (0.1, 0.2577, 0.0, 0.0)])
LOSS = st.lists(
    st.tuples(st.sampled_from("ab"), st.sampled_from([(1.0, 1.0), (2.0, 2.0)])), max_size=2
)
CASE = st.builds(Case, st.floats(1.0, 500.0), st.floats(0.0, 10.0), EDGE, LOSS)


@given(st.dictionaries(st.sampled_from(["oxygen", "nitrogen", "mixed", "air"]), CASE, min_size=1))
def test_properties(cases: dict[str, Case]) -> None:
    found = analysis(cases)
    advice = advise(found)
    everywhere = losses_in_every_gas(found.gases)
    own = {g: {(r, "P1", p) for r, p in c.losses} - everywhere for g, c in cases.items()}
    assert advice.gas in cases
    assert len(own[advice.gas]) == min(map(len, own.values()))
    if any(not found for found in own.values()) and "mixed" not in cases:
        assert not own[advice.gas]
        rivals = [r for r in found.gases if not own[r.gas]]
        best = min(r.minutes for r in rivals)
        assert found.under(advice.gas).minutes <= 1.01 * best
    assert advice.reason.startswith("no gas is without loss") == bool(own[advice.gas])
    assert advice.without_mixer.gas != "mixed"
    assert set(advice.in_every_gas) == {rule for rule, _, _ in everywhere}


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.0, "0.0 s"), (9.94, "9.9 s"), (9.96, "10 s"), (119.0, "119 s"), (120.0, "2.0 min"),
     (596.0, "9.9 min"), (600.0, "10 min"), (1500.0, "25 min"),
     (10_800.0, "3.0 h"), (44_600.0, "12 h")],
)  # fmt: skip
def test_spoken_times(seconds: float, words: str) -> None:
    assert span(seconds) == words


def test_no_difference_of_nothing_is_told() -> None:
    same = analysis({"nitrogen": Case(15.0), "air": Case(15.02), "mixed": Case(14.98)})
    best, *others = (same.under(gas) for gas in ("nitrogen", "air", "mixed"))
    assert best
    for rival in others:
        assert rival
        assert slower(best, rival) == f"{spoken(rival.gas)} takes as long at the machine"


def test_a_note_or_rework_is_no_loss() -> None:
    rework = replace(loss("hole-too-small"), level="rework")
    cases = {"oxygen": Case(10.0, findings=[rework]), "nitrogen": Case(60.0)}
    assert advise(analysis(cases)).gas == "oxygen"
