"""How quantities are spoken: times with their band, weights, counts, gases."""

from __future__ import annotations

from analyzer.reasons import digits_of, unit_of

BAND = 0.25  # band of a time until calibrated on own stop-watch times [-]
TERMS = {
    "cut": "the table speed", "slowed": "corners, curves and small contours",
    "leads": "the lead-ins", "starts": "the starts (sensing and gas settling)",
    "pierce": "the pierces", "traverse": "the moves between contours", "marking": "the marking",
}  # fmt: skip


def with_band(seconds: float) -> str:
    """Return a time as spoken, with its honest band. [s]

    Examples
    --------
    >>> with_band(1518.0), with_band(65.0), with_band(4.2)
    ('25 min (19-32)', '65 s (49-81)', '4.2 s (3.2-5.2)')
    """
    unit, scale = unit_of(seconds)
    value = seconds / scale
    low, high = (1.0 - BAND) * value, (1.0 + BAND) * value
    digits = digits_of(value)
    return f"{value:.{digits}f} {unit} ({low:.{digits}f}-{high:.{digits}f})"


def several(count: int, word: str) -> str:
    """Return "1 hole", "3 holes"."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def weight(kilograms: float) -> str:
    """Return a weight, grams below one kilogram. [kg]"""
    return f"{kilograms * 1000:.0f} g" if kilograms < 0.9995 else f"{kilograms:,.1f} kg"
