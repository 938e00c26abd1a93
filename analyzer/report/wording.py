"""How quantities are spoken: times with their band, weights, counts, gases."""

from __future__ import annotations

from collections.abc import Iterable

from analyzer.reasons import TERM_WORDS
from analyzer.report.line_ends import broken
from analyzer.spread import Band
from analyzer.units import digits_of, unit_of

TERM_LABELS = {
    "cut": "cutting", "slowed": "slowed", "leads": "lead-ins", "starts": "starts",
    "pierce": "pierces", "traverse": "moves", "marking": "marking", "film": "film pass",
    "slugs": "slug cuts", "cool": "cool points", "handling": "pallet change",
}  # fmt: skip
"""Terms of the time split as every table, bar and key names them."""

_ROWS = {
    "total": "time", "fly": "time with fly cutting", "burr-0": "no burr", "burr-1": "wipes off",
    "burr-2": "brush or belt", "burr-3": "grinder", "rework": "hand work", "gas-use": "gas",
    "energy": "electricity",
}  # fmt: skip
PAGE_LABELS = {
    **{f"cost-{term}": words for term, words in TERM_WORDS.items() if words not in _ROWS.values()},
    **TERM_LABELS, **_ROWS,
}  # fmt: skip
"""What the tables call a number that can be asked "why?", by its name."""

TERMS = {
    "cut": "the table speed", "slowed": "corners, curves and small contours",
    "leads": "the lead-ins", "starts": "the starts (sensing and gas settling)",
    "pierce": "the pierces", "traverse": "the moves between contours", "marking": "the marking",
    "film": "the pass over the film", "slugs": "cutting up slugs", "cool": "the cool points",
    "handling": "changing the pallet",
}  # fmt: skip


HEADS = (0.5, 0.75, 0.25, 1.0, 0.0)
"""Shares of a short name before its gap, tried until all can be told apart. [-]"""


def with_band(time: Band) -> str:
    """Return a time as spoken, with its honest band. [s]

    Examples
    --------
    >>> with_band(Band(1518.0, 1140.0, 1920.0)), with_band(Band(4.2, 3.2, 5.2))
    ('25 min (19-32)', '4.2 s (3.2-5.2)')
    """
    unit, scale = unit_of(time.value)
    value, low, high = time.value / scale, time.low / scale, time.high / scale
    digits = digits_of(value)
    return f"{value:.{digits}f} {unit} ({low:.{digits}f}-{high:.{digits}f})"


def money_with_band(cost: Band, currency: str) -> str:
    """Return money as spoken, with its band.

    Examples
    --------
    >>> money_with_band(Band(76.7, 61.0, 96.2), "EUR")
    '77 EUR (61-96)'
    """
    digits = 0 if abs(cost.value) >= 10.0 else 2
    value, low, high = (f"{amount:,.{digits}f}" for amount in (cost.value, cost.low, cost.high))
    return f"{value} {currency} ({low}-{high})"


def weight(kilograms: float) -> str:
    """Return a weight, grams below one kilogram. [kg]

    Examples
    --------
    >>> weight(2.46), weight(0.457), weight(0.0004)
    ('2.5 kg', '457 g', '0.4 g')
    """
    if kilograms >= 0.9995:
        return f"{kilograms:,.1f} kg"
    grams = 1000.0 * kilograms
    return f"{grams:.0f} g" if grams >= 9.95 else f"{grams:.2g} g"


def shortened(name: str, room: int, head: float = 0.5) -> str:
    """Return a name in at most `room` characters; a longer one loses its middle.

    `head` is the share of what is left that stands before the gap.
    """
    if len(name) <= room:
        return name
    left = int(head * (room - 3))
    return name[:left] + "..." + name[len(name) - (room - 3 - left) :]


def short_forms(names: Iterable[str], room: int) -> dict[str, str]:
    """Return names in at most `room` characters that can be told apart, all cut in one way.

    Lists in which a name has one line only call things so; where lines may be broken names stand
    whole, on the same page or in the other formats.

    Examples
    --------
    >>> list(short_forms(["deck_plate_left_hand.dxf", "deck_plate_right_hand.dxf"], 16).values())
    ['deck_plate_le...', 'deck_plate_ri...']
    """
    every = list(dict.fromkeys(names))
    for head in HEADS:
        short = [shortened(name, room, head) for name in every]
        if len(set(short)) == len(every):
            return dict(zip(every, short, strict=True))
    # alike at both ends: a number tells which, as there is no room for more
    return {
        name: name if len(name) <= room else shortened(name, room - len(f"~{k}")) + f"~{k}"
        for k, name in enumerate(every, 1)
    }


def wrapped(text: str, indent: int = 2) -> list[str]:
    """Return lines of a page of 80 columns, all but the first two blanks further in."""
    return broken(text, 80, first=" " * indent, rest=" " * (indent + 2))
