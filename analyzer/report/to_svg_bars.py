"""Where the seconds go, gas by gas, as bars in an SVG."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.reasons import spoken
from analyzer.report.marks import GasPicture
from analyzer.report.palette import OUTLINE, TERM_COLOURS
from analyzer.report.to_html_element import Raw, el, together
from analyzer.units import span

NAMES, TOTALS = 90.0, 70.0  # room for the names of gases and for their times [px]
ROW, BAR, LINE = 24.0, 14.0, 21.0
LETTER = 7.5


def time_bars(gases: Sequence[GasPicture], read: str, room: float) -> tuple[Raw, float]:
    """Return one bar a gas, all to one scale, a key with the seconds of one gas, and the height.

    Tone and order tell the terms apart; the key is in the order of the bar and names the seconds,
    so the bars can be read without colour.

    Parameters
    ----------
    gases : sequence of GasPicture
        All gases.
    read : str
        The gas of the pictures.
    room : float
        Width. [px]
    """
    longest = max((gas.total for gas in gases), default=0.0)
    if longest <= 0.0:
        return Raw(""), 0.0
    scale = (room - NAMES - TOTALS) / longest
    made, down = [el("text", "Time split, all copies", x=0.0, y=16.0, font_weight="600")], 26.0
    for gas in gases:
        weight = "700" if gas.gas == read else "400"
        made.append(el("text", spoken(gas.gas), x=0.0, y=down + 12.0, font_weight=weight))
        across = NAMES
        for bar in gas.bars:
            if bar.seconds > 0.0:
                made.append(_box(bar.term, across, down, bar.seconds * scale, BAR, gas.gas))
                across += bar.seconds * scale
        made.append(el("text", span(gas.total), x=f"{across + 6.0:.1f}", y=down + 12.0))
        down += ROW
    key, down = _key(next((gas for gas in gases if gas.gas == read), gases[0]), room, down + 4.0)
    return together(*made, key), down + 14.0


def _key(gas: GasPicture, room: float, down: float) -> tuple[Raw, float]:
    """Return the terms with the seconds of one gas, in lines, and where they end."""
    head = f"In {spoken(gas.gas)}:"
    left = max(NAMES, LETTER * len(head) + 10.0)
    made, across = [el("text", head, x=0.0, y=down + 12.0)], left
    for bar in gas.bars:
        words = f"{bar.words} {span(bar.seconds)}"
        wide = 20.0 + LETTER * len(words) + 14.0
        if bar.seconds < 0.005 * gas.total:
            continue
        if across + wide > room and across > left:
            across, down = left, down + LINE
        made.append(_box(bar.term, across, down, 14.0, BAR))
        made.append(el("text", words, x=f"{across + 20.0:.1f}", y=down + 12.0))
        across += wide
    return together(*made), down + LINE


def _box(term: str, x: float, y: float, width: float, height: float, gas: str = "") -> Raw:
    return el(
        "rect", x=f"{x:.2f}", y=f"{y:.1f}", width=f"{width:.2f}", height=height,
        fill=TERM_COLOURS[term], stroke=OUTLINE, stroke_width="0.7",
        class_=f"time-{gas} {term}" if gas else None,
    )  # fmt: skip
