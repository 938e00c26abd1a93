"""Lines of care: once each, where gas, material or plate bring them in, with their source.

practice.md 4 and physics.md 7 of the trade notes; limits of 29 CFR 1910.146 and 1910.1026.
"""

from dataclasses import replace

import pytest
from hand_made import JOB, Case, analysis

from analyzer.comparison import advise
from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.process.choose import settings_for
from analyzer.process.material import material_named
from analyzer.process.recipe import checked_share
from analyzer.report.cautions import cautions
from analyzer.shop import Shop

BURRED = (0.0, 0.0, 0.3577, 0.0)


def lines_of(cases: dict[str, Case], job: Job = JOB, shop: Shop | None = None) -> tuple[str, ...]:
    made = analysis(cases, job=job, **({"shop": shop} if shop else {}))
    return cautions(made, advise(made))


@pytest.mark.parametrize(
    ("cases", "said", "unsaid"),
    [
        ({"nitrogen": Case(60.0)}, ["displace air", "19.5 %", "Nm3/h per head"], ["mixer", "23.5"]),
        ({"oxygen": Case(60.0)}, ["Oxygen lines", "23.5 %"], ["displace", "mixer"]),
        ({"air": Case(60.0)}, ["pressure rules", "ozone"], ["displace", "Oxygen lines"]),
        (
            {"nitrogen": Case(60.0, 2.0, BURRED), "mixed": Case(50.0)},
            ["displace air", "A mixer wants oxygen", "licensed gas installer only"],
            ["Oxygen lines"],
        ),
    ],
)
def test_gases_bring_their_own(cases: dict[str, Case], said: list[str], unsaid: list[str]) -> None:
    lines = lines_of(cases)
    text = " ".join(lines)
    assert all(words in text for words in said), text
    assert not [words for words in unsaid if words in text]
    assert len(set(lines)) == len(lines)
    for start in ("Nitrogen and mixed", "A mixer", "Oxygen lines", "Air at", "A planning aid"):
        assert sum(line.startswith(start) for line in lines) <= 1


def test_what_a_head_takes_stands_beside_the_ventilation() -> None:
    """70-140 Nm3/h per head at 10-20 mm: common practice, no source."""
    (line,) = (row for row in lines_of({"nitrogen": Case(60.0)}) if "displace" in row)
    assert "about 69 Nm3/h per head; 70-140 are usual at 10-20 mm" in line
    thin = lines_of({"nitrogen": Case(60.0)}, replace(JOB, thickness_mm=3.0))
    assert "70-140" not in " ".join(thin)


def test_a_mixer_the_shop_lacks_brings_its_caution_with_the_what_if() -> None:
    cases = {"nitrogen": Case(60.0, 5.0, BURRED), "mixed": Case(50.0)}
    lines = lines_of(cases, shop=Shop(gases=("nitrogen",)))
    assert any(line.startswith("A mixer wants oxygen") for line in lines)


@pytest.mark.parametrize(
    ("material", "words"),
    [("aluminium", "NFPA 660"), ("stainless", "29 CFR 1910.1026"), ("mild-steel", "")],
)
def test_materials(material: str, words: str) -> None:
    text = " ".join(lines_of({"nitrogen": Case(60.0)}, replace(JOB, material=material)))
    assert words in text
    assert ("dust" in text) == (material == "aluminium")
    assert ("chromium" in text) == (material == "stainless")


@pytest.mark.parametrize(("plate", "words"), [("galvanised", "Zinc fume"), ("film", "Film smokes")])
def test_plates(plate: str, words: str) -> None:
    told = lines_of({"nitrogen": Case(60.0)}, replace(JOB, plate=plate))
    assert any(line.startswith(words) for line in told)
    assert not any(line.startswith(words) for line in lines_of({"nitrogen": Case(60.0)}))


def test_no_line_gives_settings_of_the_oxygen_side() -> None:
    text = " ".join(lines_of({"mixed": Case(50.0)}))
    assert "bar" not in text.replace("barrier", "")


def test_what_is_refused() -> None:
    """Above 23.5 % a gas feeds fire (29 CFR 1910.146(b)); titanium and magnesium burn."""
    with pytest.raises(InputError, match=r"above 23\.5 %"):
        checked_share(23.6)
    assert checked_share(23.5) == 23.5
    with pytest.raises(InputError, match="oxygen-enriched"):
        settings_for(replace(JOB, gases=("mixed",), oxygen_share_percent=30.0))
    for name in ("titanium", "magnesium", "Ti-6Al-4V", "AZ31"):
        with pytest.raises(InputError, match="burns"):
            material_named(name)


def test_oxygen_advised_beside_a_mixer_that_would_help() -> None:
    cases = {"oxygen": Case(60.0, 5.0), "mixed": Case(50.0)}
    text = " ".join(lines_of(cases, shop=Shop(gases=("oxygen",))))
    assert "Oxygen lines" in text
    assert "A mixer wants oxygen" in text
