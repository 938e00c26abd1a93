"""The first lines of the page: verdicts a programmer can act on, on sample drawings and by hand."""

from dataclasses import replace

import pytest
from click.testing import CliRunner
from hand_made import NO_SHOP, Case, analysis
from shared import CORPUS, ROOT, needs_corpus

from analyzer.cli import burrcast
from analyzer.comparison import advise, check
from analyzer.flips import BreakEven
from analyzer.job import Job
from analyzer.report.verdict import far_off_words, verdict_words
from analyzer.spread import Band

SAMPLES = ROOT / "sample_drawings"


def page(what: str, name: str, *words: str) -> str:
    result = CliRunner().invoke(burrcast, [what, str(SAMPLES / name), *words])
    assert result.exit_code == 0, result.output
    return " ".join(result.stdout.split())


def test_a_gas_that_does_not_cut_through_is_worse_than_any_lost_places() -> None:
    """15 mm on 10 kW: oxygen cuts it (common practice, no source) but burns the two webs of 4."""
    words = ("--material", "S235", "--thickness", "15", "--power", "10", "--next", "weld")
    said = page("compare", "splice_plate.dxf", *words)
    assert "Not on this laser" not in said
    assert "Cut with OXYGEN. Mend the losses" in said
    assert "no gas is without loss; oxygen has the fewest of its own" in said
    assert "the others lose all that is cut" in said


def test_a_gas_the_shop_has_not_is_no_way_out() -> None:
    cases = {
        "oxygen": Case(50.0, losses=[("web-too-thin", (1.0, 1.0)), ("web-too-thin", (2.0, 2.0))]),
        "nitrogen": Case(60.0, losses=[("thickness-beyond-power", (0.0, 0.0))]),
    }
    job = Job("mild-steel", 15.0, 6.0)
    free = analysis(cases, job=job)
    assert advise(free).gas == "oxygen"
    assert "Cut with OXYGEN. Mend the losses" in verdict_words(free, advise(free))
    bound = analysis(cases, job=job, shop=replace(NO_SHOP, gases=("nitrogen",)))
    assert verdict_words(bound, advise(bound)).startswith("Not on this laser: too thick")


def test_air_after_mixed_gas_is_an_if_too() -> None:
    """A high-pressure compressor is not in every shop (common practice, no source)."""
    words = ("--material", "AlMg3", "--thickness", "8", "--power", "10")
    said = page("check", "deck_plate.dxf", *words)
    assert "if your laser has a mixer, else with AIR if you have it, else NITROGEN." in said
    assert "Without air: nitrogen" in said


@pytest.mark.parametrize(("what", "where"), [("check", "below"), ("compare", "burrcast check")])
def test_losses_are_sought_where_they_are_listed(what: str, where: str) -> None:
    words = ("--material", "S235", "--thickness", "10", "--power", "10", "--next", "powder")
    (said,) = [s for s in page(what, "gusset.dxf", *words).split(". ") if "Mend the losses" in s]
    assert where in said


@pytest.mark.parametrize(("at", "said"), [(0.1, False), (0.4, True), (6.0, True), (900.0, False)])
def test_only_a_break_even_somebody_could_reach_is_said(at: float, said: bool) -> None:
    base = advise(analysis({"nitrogen": Case(100.0), "air": Case(300.0)}))
    point = BreakEven("oxygen_per_nm3", 1.0, at, "EUR/Nm3", 9.0, "if it were so, air would win")
    advice = replace(base, flip="", more=Band(3.0, 2.0, 4.0), break_evens=(point,))
    (line,) = far_off_words(advice)
    assert ("air would win" in line) == said
    assert said or line == "Nothing we know would change it."


def test_what_the_edge_decided_has_no_break_even() -> None:
    """Nitrogen taken although mixed gas is as cheap: "0 % longer" would turn nothing."""
    words = ("--material", "S235", "--thickness", "0.1875in", "--power", "10")
    assert "compressed air for 11.8 bar at the head" in page("compare", "rough_plate.dxf", *words)
    words = (*words, "--gas", "nitrogen", "--gas", "mixed")
    said = page("compare", "rough_plate.dxf", *words)
    assert "Cut with NITROGEN" in said
    assert "would change it" not in said


@needs_corpus
@pytest.mark.parametrize(
    ("name", "asks"),
    [("m17rru__chassis.dxf", "are all 51 outlines parts?"),
     ("bb3__EEZ_BB3_chassis_rear_panel.dxf", "are all 4 outlines parts?"),
     ("compass__facePlate.dxf", "")],
)  # fmt: skip
def test_a_count_of_parts_in_doubt_is_asked_in_the_verdict(name: str, asks: str) -> None:
    """An arrangement, and a panel in four views: every outline is timed and priced for now."""
    found = check(CORPUS / name, Job("mild-steel", 5.0, 10.0, gases=("nitrogen",)))
    said = verdict_words(found.analysis, found.advice)
    assert (f"Look first: {asks} See" in said) if asks else ("Look first" not in said)


def test_a_share_of_oxygen_has_no_false_digits() -> None:
    """Between 5 % at 4 mm and 4 % at 5 mm; a gauge number of an inch needs no four decimals."""
    said = page("check", "rough_plate.dxf", "--material", "S235", "--thickness", "4.7625",
                "--power", "10kW")  # fmt: skip
    assert "4.2 %" in said
    assert "4.2375" not in said
