"""One picture on a page: lines that scale with it, marks that keep their size.

The outer SVG has no view box, so places are percentages and marks stay as large as text on a
telephone and on paper; the inner one stretches the drawing to the same box.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS, MARKED, OUTLINE, SPEED_COLOURS
from analyzer.report.to_html_edges import SCREEN, Edges
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_svg_figure import Figure, scale_of, warm_look
from analyzer.report.to_svg_marks import (
    EACH_SMALL,
    MOST_EACH,
    Room,
    Spot,
    place_marks,
    room_of,
    shape_of,
    size_of,
)
from analyzer.report.to_svg_paths import Frame
from analyzer.report.turns import (
    BASE,
    NARROWEST,
    ON_SCREEN,
    WARM,
    Lettering,
    Turns,
    turns_of,
    words_of,
)

SEEN = (640.0, 470.0, 250.0)
"""Width that marks are placed for where a picture is alone, one of two, one of many. [px]"""

TALLEST = (560.0, 420.0, 260.0)
"""Its largest height in the same cases. [px]"""

WIDEST = 1100.0
"""Width of a picture in a column as wide as the page. [px]"""

PAPER = (330.0, 260.0, 150.0)
"""The same on paper. [px]"""

NARROW = (340.0, 270.0, 160.0)
"""Width on paper or on a telephone, for which marks must be right as well. [px]"""

SIDES = (22.0, 22.0, 22.0, 8.0)
"""How far marks may stand outside: `.sheet` in the style has so much free around. [px]"""

MOST_WARMED = 40
"""Pierces of one picture whose rise can still be read beside them."""

MOST_SMALL = 600
"""Shapes without a number in one picture and gas."""


@dataclass(frozen=True)
class Layer:
    """What one gas puts on a picture: edges under the marks, marks, the order of cuts."""

    edges: Raw
    spots: Sequence[Spot]
    order: Raw
    numbers: Raw
    speed: Raw
    warm: Raw
    turns: str = ""


def picture(
    figure: Figure, layers: Mapping[str, Layer], *, beside: int = 0, shared: Edges | None = None
) -> Raw:
    """Return the picture with what every gas puts on it.

    Parameters
    ----------
    figure : Figure
        What it shows.
    layers : mapping of str to Layer
        By key of the gas: the prefix of the answer and the gas.
    beside : int
        How many more pictures stand beside it.
    shared : Edges, optional
        Its lines, where all gases share them.
    """
    frame = figure.frame
    edges = [
        el("g", el("g", layer.edges, class_="found"), el("g", layer.speed, class_="speed"),
           class_=f"in in-{key}")
        for key, layer in layers.items()
    ]  # fmt: skip
    ways = [
        el(
            "g",
            el("g", order, class_="order"),
            class_=f"in {' '.join(f'in-{key}' for key in keys)}",
        )
        for order, keys in _alike(layers).items()
    ]
    seen = mostly_seen(figure, beside)
    narrow = min(seen_width(figure, NARROW[min(beside, 2)], beside), _on_paper(figure, beside))
    cut_outs, widths = figure.cut_outs, (seen, (seen * narrow) ** 0.5, narrow)
    rooms = [room_of(frame, width, SIDES, figure.edges, cut_outs) for width in widths]
    each = MOST_EACH if beside < 2 else EACH_SMALL
    marks = [
        el("g", el("g", *marks_on(frame, key, layer.spots, rooms, each), class_="marks"),
           el("g", layer.numbers, class_="order"), el("g", layer.warm, class_="warm"),
           class_=f"in in-{key}")
        for key, layer in layers.items()
    ]  # fmt: skip
    drawn = together(shared.ground, *edges, shared.outline) if shared else figure.drawn(edges=edges)
    lines = together(drawn, *ways)
    return framed(figure.key, figure.title, frame, lines, together(*marks))


def _alike(layers: Mapping[str, Layer]) -> dict[Raw, list[str]]:
    """Return every way of the head with the gases that have it: mostly all have the same."""
    ways: dict[Raw, list[str]] = {}
    for key, layer in layers.items():
        ways.setdefault(layer.order, []).append(key)
    return ways


def framed(key: str, title: str, frame: Frame, lines: Raw, marks: Raw) -> Raw:
    """Return lines in units of a frame, marks in shares of it, and a scale bar below."""
    inner = el(
        "svg", lines, class_="line", viewBox=f"0 0 {frame.across} {frame.down}",
        preserveAspectRatio="none", aria_hidden="true", width="100%", height="100%",
    )  # fmt: skip
    pic = el(
        "svg", el("title", title),
        el("desc", "True to scale. Marks: circle to look at, diamond for hand work, black square"
           " for a loss; each leads to its finding."),
        inner, marks, id=f"pic-{key}", class_="pic", role="group",
    )  # fmt: skip
    return el("div", pic, _scale(key, frame), class_="sheet")


def rules_of(figure: Figure, beside: int) -> str:
    """Return the style rules that give a picture its shape."""
    paper = _on_paper(figure, beside)
    return rules_for(figure.key, figure.frame, seen_width(figure, 1e9, beside), paper)


def _on_paper(figure: Figure, beside: int) -> float:
    return PAPER[min(beside, 2)] * figure.frame.width / figure.frame.height


def rules_for(key: str, frame: Frame, width: float, paper: float) -> str:
    """Return the style rules of a picture at most so wide on a screen and on paper. [px]"""
    return (
        f"@media print{{#pic-{key},#scale-{key}{{width:min(100%,{paper:.0f}px)!important}}}}"
        f"#pic-{key},#scale-{key}{{width:min(100%,{width:.0f}px)}}"
        f"#pic-{key}{{aspect-ratio:{frame.across}/{frame.down}}}"
    )


def seen_width(figure: Figure, most: float, beside: int) -> float:
    """Return how wide a picture is seen in a column so wide. [px]"""
    return min(most, TALLEST[min(beside, 2)] * figure.frame.width / figure.frame.height)


def mostly_seen(figure: Figure, beside: int) -> float:
    """Return how wide a picture is on a usual screen. [px]"""
    return seen_width(figure, SEEN[min(beside, 2)], beside)


def marks_on(
    frame: Frame, key: str, spots: Sequence[Spot], rooms: Sequence[Room], each: int = MOST_EACH
) -> list[Raw]:
    """Return the marks of one gas: numbered ones as links, the rest as small shapes."""
    small, pointers, numbered = [], [], []
    for placed in place_marks(spots, rooms, each):
        spot = spots[placed.spot]
        across, down = frame.share(spot.x, spot.y)
        at = {"x": f"{across * 100:.2f}%", "y": f"{down * 100:.2f}%"}
        if placed.dx is None or placed.dy is None:
            small.append(el("use", href=f"#s-{spot.level}", **at))
        else:
            pointers.append(el("svg", *_pointer(placed.dx, placed.dy), class_="at", **at))
            mark = _mark(spot, key, placed.dx, placed.dy)
            numbered.append(el("svg", mark, class_="at", **at))
    return small[:MOST_SMALL] + pointers + numbered  # no pointer lies on a number


def _pointer(dx: float, dy: float) -> tuple[Raw, Raw]:
    """Return the line from a place to its mark, and a dot at the place."""
    line = el("path", d=f"M0 0L{dx:g} {dy:g}", class_="pointer")
    return line, el("circle", r="2.2")


def _mark(spot: Spot, gas_key: str, dx: float, dy: float) -> Raw:
    """Return the numbered shape, which links to its finding."""
    key = f"{gas_key}-{spot.number}"
    return el(
        "a", el("title", f"Mark {spot.number}, {spot.level}: {spot.words}"),
        shape_of(spot.level, spot.number, dx, dy), class_="mark",
        id=f"mark-{key}" if spot.first else None, href=f"#finding-{key}",
    )  # fmt: skip


def turns_on(places: Floats, figure: Figure, beside: int) -> Turns:
    """Return which pierces, shape (n, 2) [mm] in cutting order, have their number on a picture.

    They are right at every width: on telephone, screen and paper.
    """
    return turns_within(places, figure.frame, ON_SCREEN, _widths(figure, beside))


def _widths(figure: Figure, beside: int) -> tuple[float, float]:
    """Return the least and the greatest width a picture is seen at. [px]"""
    widest = seen_width(figure, WIDEST, beside)
    return min(NARROWEST[min(beside, 2)], _on_paper(figure, beside), widest), widest


def turns_within(
    places: Floats, frame: Frame, lettering: Lettering, widths: tuple[float, float]
) -> Turns:
    """Return the same for a frame seen at any width between two. [px]"""
    at = (places - (frame.x, frame.y)) * (1.0, -1.0) / frame.width
    return turns_of(at, lettering, (1.0, frame.height / frame.width), widths)


def turn_numbers(turns: Turns, places: Floats, frame: Frame) -> Raw:
    """Return the numbers of the order of cuts by their places."""
    made = []
    for number, dx, dy in turns.rows:
        across, down = frame.share(*places[number - 1].tolist())
        made.append(_beside(str(number), across, down, dx, dy))
    return together(*made)


def _beside(words: str, across: float, down: float, dx: float, dy: float) -> Raw:
    """Return words by a place: shares of the picture, and from there to their middle. [px]"""
    return el(
        "text", words, x=f"{across * 100:.2f}%", y=f"{down * 100:.2f}%",
        dx=round(dx, 1) or None, dy=round(dy + BASE, 1), text_anchor="middle", class_="turn",
    )  # fmt: skip


def warm_pierces(places: Floats, rises: Floats, figure: Figure, beside: int) -> Raw:
    """Return every pierce as large and dark as it is warm when the beam comes on, (n, 2), (n,).

    The rise is written beside the warmest, and beside others where there is room.
    """
    frame = figure.frame
    most = float(rises.max(initial=0.0))
    order = np.argsort(rises, kind="stable")[-MOST_SMALL:].tolist()
    made: list[Raw] = []
    for k in order:
        across, down = frame.share(*places[k].tolist())
        radius, colour = warm_look(float(rises[k]), most)
        made.append(el("circle", cx=f"{across * 100:.2f}%", cy=f"{down * 100:.2f}%",
                       r=f"{radius:.1f}", fill=colour, stroke=OUTLINE))  # fmt: skip
    told = [k for k in order[::-1] if rises[k] >= MARKED][:MOST_WARMED]
    words = [f"+{rises[k]:.0f} K" for k in told]
    at = (places[told] - (frame.x, frame.y)) * (1.0, -1.0) / frame.width
    size = (1.0, frame.height / frame.width)
    for row, (dx, dy) in words_of(at, words, WARM, size, _widths(figure, beside)).items():
        across, down = frame.share(*places[told[row]].tolist())
        made.append(_beside(words[row], across, down, dx, dy))
    return together(*made)


def badge(level: str, number: int, gas: str, *, on_picture: bool) -> Raw:
    """Return a mark as it stands beside its finding; a link where it is on the picture."""
    wide, tall = size_of(level, number)
    box = f"{-wide - 1.5:g} {-tall - 1.5:g} {2 * wide + 3:g} {2 * tall + 3:g}"
    shape = el(
        "svg", shape_of(level, number, 0.0, 0.0), width=2.0 * wide + 3.0, height=2.0 * tall + 3.0,
        viewBox=box, aria_hidden="true",
    )  # fmt: skip
    key = f"{gas}-{number}"
    if on_picture:
        return el(
            "a", shape, id=f"finding-{key}", class_="badge", href=f"#mark-{key}",
            aria_label=f"Mark {number} on the picture, {level}",
        )  # fmt: skip
    return el("span", shape, id=f"finding-{key}", class_="badge", role="img",
              aria_label=f"Mark {number}, {level}, on no picture")  # fmt: skip


def speed_sample(slow: int) -> Raw:
    """Return a short piece of edge of one class of speed, as a key."""
    return edge_sample(slow, SPEED_COLOURS)


def edge_sample(burr: int, colours: Sequence[str] = BURR_COLOURS) -> Raw:
    """Return a short piece of edge of one burr class, as a key."""
    width = BURR_WIDTHS[burr] * SCREEN + 1.0
    band = el("path", d="M1 7H31", stroke=colours[burr], stroke_width=width) if burr else None
    line = el("path", d="M1 7H31", stroke=OUTLINE)
    return el("svg", band, line, width="32", height="14", class_="sample", aria_hidden="true")


def _scale(key: str, frame: Frame) -> Raw:
    """Return the scale bar below a picture, as wide as the picture."""
    length, words = scale_of(frame.width, frame.height)
    share = 100.0 * length / frame.width
    bar = el("rect", x="0", y="0", width=f"{share:.3f}%", height="5", fill="#000")
    half = el("rect", x="1", y="1", width=f"{share / 2.0:.3f}%", height="3", fill="#fff")
    return el(
        "svg", bar, half, el("text", words, x="0", y="20"), id=f"scale-{key}",
        class_="scale", role="img", aria_label=f"Scale bar of {words}",
    )  # fmt: skip
