"""The palette is readable without colour: widths, shapes and tones differ as well."""

import itertools

import pytest

from analyzer.motion.timing import EXTRAS, TERMS
from analyzer.process.burr import CLASSES
from analyzer.report import palette
from analyzer.report.palette import contrast, luminance
from analyzer.rules.rule import LEVELS

# Paul Tol, "Colour Schemes", SRON/EPS/TN/09-002, issue 3.2 (2021), figures 1, 3, 8.
HIGH_CONTRAST = ("#DDAA33", "#BB5566", "#004488")
BRIGHT = {"#4477AA", "#EE6677", "#228833", "#CCBB44", "#66CCEE", "#AA3377", "#BBBBBB"}


def test_burr_classes_are_the_published_scheme_light_to_dark() -> None:
    """The note orders "high-contrast" so that it survives a black and white copy."""
    assert palette.BURR_COLOURS[1:] == HIGH_CONTRAST
    tones = [luminance(colour) for colour in HIGH_CONTRAST]
    assert tones == sorted(tones, reverse=True)
    for one, other in itertools.pairwise(HIGH_CONTRAST):
        assert contrast(one, other) > 1.8


def test_widths_grow_with_the_class() -> None:
    assert len(palette.BURR_WIDTHS) == len(palette.BURR_COLOURS) == CLASSES
    for one, other in itertools.pairwise(palette.BURR_WIDTHS):
        assert other >= 1.4 * one


def test_levels_differ_in_shape_and_numbers_can_be_read() -> None:
    """WCAG 2.1, 1.4.3: contrast of text at least 4.5; 1.4.11: of graphics at least 3."""
    assert set(palette.LEVEL_SHAPES) == set(LEVELS)
    assert len(set(palette.LEVEL_SHAPES.values())) == len(LEVELS)
    for level in LEVELS:
        assert contrast(palette.LEVEL_FILLS[level], palette.LEVEL_NUMBERS[level]) >= 4.5
        assert contrast(palette.LEVEL_LINES[level], palette.METAL) >= 3.0


def test_neighbours_of_a_bar_differ_in_tone_or_pattern() -> None:
    names = (*TERMS, *EXTRAS)
    assert set(palette.TERM_COLOURS) == set(palette.TERM_HATCHES) == set(names)
    for one, other in itertools.pairwise(names):
        tones = contrast(palette.TERM_COLOURS[one], palette.TERM_COLOURS[other])
        assert tones > 1.5 or palette.TERM_HATCHES[one] != palette.TERM_HATCHES[other]
    assert {palette.TRAVERSE, palette.LEAD, palette.PIERCE} <= BRIGHT


def test_ramp_darkens_step_by_step() -> None:
    for one, other in itertools.pairwise(palette.RAMP):
        assert 1.15 < contrast(one, other) < 2.2
        assert luminance(other) < luminance(one)


@pytest.mark.parametrize("colours", [palette.SPEED_COLOURS[1:], palette.WARM_COLOURS])
def test_speed_and_heat_need_no_colour(colours: tuple[str, ...]) -> None:
    """Classes tell apart by tone, and by width or size as well.

    WCAG 2.1, 1.4.11 asks 3 : 1 of what is needed to understand a picture.  The lightest tones
    have less against metal.  They need not: the black line runs along every band and around
    every pierce, and has it against both; the class is the width, the rise the size.
    """
    for one, other in itertools.pairwise(colours):
        assert contrast(one, other) > 1.5
        assert luminance(other) < luminance(one)
    for ground in (palette.METAL, palette.CUT_OUT):
        assert contrast(palette.OUTLINE, ground) >= 3.0
    for colour in colours:  # where the line is lost in a band, the band has it against metal
        assert max(contrast(palette.OUTLINE, colour), contrast(colour, palette.METAL)) >= 3.0


@pytest.mark.parametrize(("colour", "value"), [("#FFFFFF", 1.0), ("#777777", 0.18447)])
def test_luminance_of_known_colours(colour: str, value: float) -> None:
    """WCAG 2.1: #777777 on white has the contrast 4.48, just not enough for text."""
    assert luminance(colour) == pytest.approx(value, abs=1e-4)
    if colour == "#777777":
        assert contrast(colour, "#FFFFFF") == pytest.approx(4.48, abs=0.005)
