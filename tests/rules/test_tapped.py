"""Holes for threads: what a text is read as, and how much a hole tapers."""

import pytest
from rules.build import findings_of

from analyzer.drawing.drawing import Text
from analyzer.parts.threads import threads
from analyzer.rules.tapped import hints


@pytest.mark.parametrize(
    ("words", "found"),
    [
        ("4x M6", [("M6", 4)]), ("M10", [("M10", 1)]), ("2 X M8x1", [("M8x1", 2)]),
        ("M6x20", [("M6", 1)]), ("M3 zavit", [("M3", 1)]), ("(420..450MHz)", []),
        ("SUM10", []), ("M100", []), ("NO. 12M", []),
    ],
)  # fmt: skip
def test_hints(words: str, found: list[tuple[str, int]]) -> None:
    said = hints([Text(words, 0.0, 0.0, 3.5, "0", "text")])
    assert [(hint.thread.name, hint.holes) for hint in said] == found


def tapers(gas: str, t: float) -> float:
    """Return the taper a finding tells for an M10 tap drill. [mm]"""
    case = {
        "job": {"material": "mild-steel", "thickness": t, "power": 20},
        "gas": gas,
        "texts": [{"text": "M10"}],
        "parts": [{"plate": [100, 60], "holes": [[50, 30, 8.5]]}],
    }
    (found,) = [f for f in findings_of(case) if f.rule == "hole-likely-threaded"]
    return found.measured


@pytest.mark.parametrize("t", [1.0, 3.0, 6.0, 10.0, 15.0, 20.0])
def test_taper_stays_within_range_2_of_iso_9013(t: float) -> None:
    """u = 0.15 + 0.007 a a face, seen twice by a hole (ISO 9013:2017 range 2, secondary page).

    Range 2 is what fibre lasers usually reach (common practice, no source): a ceiling, so
    the taper we tell must lie below it, in oxygen too.
    """
    ceiling = 2.0 * (0.15 + 0.007 * t)
    assert 0.0 < tapers("nitrogen", t) < tapers("oxygen", t) < ceiling


@pytest.mark.outside("Band 6H of the minor diameter [mm]", "ISO 965-1, secondary and from memory")
def test_the_band_is_that_of_iso_965_1() -> None:
    """Widths of the 6H band of the minor diameter (ISO 965-1, secondary page and memory)."""
    wanted = {"M6": 0.236, "M8": 0.265, "M10": 0.300, "M12": 0.335, "M16": 0.375}
    for name, band in wanted.items():
        least, most = threads()[name].minor
        assert most - least == pytest.approx(band, abs=1e-9)
