"""Marks in a picture: their shapes, and where to put them so that numbers can be read.

A mark points at its place by a short line and stands beside it, so that it does not hide what it
is about.  Where places lie so near each other that numbers would cover one another, the rest of
a kind shows its shape without a number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.report.palette import LEVEL_FILLS, LEVEL_LINES, LEVEL_NUMBERS
from analyzer.report.to_html_element import Look, Raw, el, together

REACH = {"note": 11.0, "rework": 17.0, "loss": 11.5}
"""From the middle of a shape to its furthest point along x. [px]"""

TALL = {"note": 11.0, "rework": 17.0, "loss": 11.5}
WIDER = {1: 1.0, 2: 1.0, 3: 1.3}
"""How much larger a shape is for numbers of so many digits. [-]"""

DIRECTIONS = ((0.7, -0.7), (-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (0, -1), (1, 0), (-1, 0), (0, 1))
AWAY = (7.0, 16.0, 30.0, 48.0, 70.0)  # from the place to the edge of the shape, tried in turn [px]
CELL = 40.0  # of the grid that finds neighbours [px]
MOST_EACH = 24  # how often one number is written in one picture
MOST_NUMBERED = 400  # marks with a number in one picture


@dataclass(frozen=True)
class Spot:
    """One place of a finding: where, which number and level, its words.

    `first` is True for the place that must show the number: links lead there.
    """

    x: float
    y: float
    level: str
    number: int
    words: str
    first: bool


@dataclass(frozen=True)
class Placed:
    """A mark in a picture: where it points, and how far beside it the number stands.

    `dx`, `dy` [px] are None where there was no room: a small shape without number at the place.
    """

    index: int
    dx: float | None
    dy: float | None


def place_marks(
    spots: Sequence[tuple[float, float, str, int]], pinned: Sequence[bool], each: int = MOST_EACH
) -> list[Placed]:
    """Return how marks are put, in the order given.

    Parameters
    ----------
    spots : sequence of (x, y, level, number)
        Where they point at in a picture as wide as it is usually seen. [px]
    pinned : sequence of bool
        Marks that must show their number even where it covers another: the first place of
        every finding.
    each : int
        How often one number is written.
    """
    written: dict[int, int] = {}
    grid: dict[tuple[int, int], list[tuple[float, float, float, float]]] = {}
    placed: list[Placed | None] = [None] * len(spots)
    order = sorted(range(len(spots)), key=lambda k: (not pinned[k], k))
    numbered = 0
    for k in order:
        x, y, level, number = spots[k]
        wide, tall = size_of(level, number)
        often = written.get(number, 0)
        if (numbered >= MOST_NUMBERED or often >= each) and not pinned[k]:
            placed[k] = Placed(k, None, None)
            continue
        offset = _room(grid, x, y, wide, tall, AWAY if pinned[k] else AWAY[:2])
        if offset is None and pinned[k]:
            offset = (0.7 * (wide + 9.0), -0.7 * (tall + 9.0))
        if offset is None:
            placed[k] = Placed(k, None, None)
            continue
        numbered += 1
        written[number] = often + 1
        dx, dy = round(offset[0], 1), round(offset[1], 1)
        _occupy(grid, x + dx, y + dy, wide, tall)
        placed[k] = Placed(k, dx, dy)
    return [one for one in placed if one is not None]


def size_of(level: str, number: int) -> tuple[float, float]:
    """Return half the width and half the height of a mark. [px]"""
    scale = WIDER[min(len(str(number)), 3)]
    return REACH[level] * scale, TALL[level] * scale


def shape_of(level: str, number: int, x: float, y: float) -> Raw:
    """Return the shape of a mark with its number, its middle at x, y. [px]

    Note: a circle.  Rework: a square on its corner.  Loss: a filled square, the number white.
    """
    wide, tall = size_of(level, number)
    look = _look(level, 2.0) | {"class_": f"shape {level}"}
    if level == "note":
        shape = el("circle", cx=x, cy=y, r=wide, **look)
    elif level == "rework":
        corners = f"M{x:g} {y - tall:g}l{wide:g} {tall:g}l{-wide:g} {tall:g}l{-wide:g} {-tall:g}z"
        shape = el("path", d=corners, **look)
    else:
        shape = el("rect", x=x - wide, y=y - tall, width=2.0 * wide, height=2.0 * tall, **look)
    number_text = el(
        "text",
        str(number),
        x=x,
        y=y + 5.0,
        text_anchor="middle",
        font_weight=600,
        fill=LEVEL_NUMBERS[level],
    )
    return together(shape, number_text)


def small_shapes() -> Raw:
    """Return the definitions of shapes without a number, by level."""
    return el(
        "defs",
        el("circle", id="s-note", r=4.5, **_look("note", 1.5)),
        el("path", id="s-rework", d="M0 -6l6 6l-6 6l-6 -6z", **_look("rework", 1.5)),
        el("rect", id="s-loss", x=-4.5, y=-4.5, width=9.0, height=9.0, **_look("loss", 1.5)),
    )  # fmt: skip


def _look(level: str, width: float) -> Look:
    return {"fill": LEVEL_FILLS[level], "stroke": LEVEL_LINES[level], "stroke_width": width}


def _room(
    grid: dict[tuple[int, int], list[tuple[float, float, float, float]]],
    x: float, y: float, wide: float, tall: float, reaches: Sequence[float],
) -> tuple[float, float] | None:  # fmt: skip
    """Return the first free place beside a point, None where there is none."""
    for away in reaches:
        for across, down in DIRECTIONS:
            dx, dy = across * (wide + away), down * (tall + away)
            if _free(grid, x + dx, y + dy, wide, tall):
                return dx, dy
    return None


def _free(
    grid: dict[tuple[int, int], list[tuple[float, float, float, float]]],
    x: float, y: float, wide: float, tall: float,
) -> bool:  # fmt: skip
    column, row = int(x // CELL), int(y // CELL)
    for i in range(column - 2, column + 3):
        for j in range(row - 2, row + 3):
            for other_x, other_y, other_wide, other_tall in grid.get((i, j), ()):
                apart_x = abs(other_x - x) >= wide + other_wide - 3.0
                apart_y = abs(other_y - y) >= tall + other_tall - 3.0
                if not apart_x and not apart_y:
                    return False
    return True


def _occupy(
    grid: dict[tuple[int, int], list[tuple[float, float, float, float]]],
    x: float, y: float, wide: float, tall: float,
) -> None:  # fmt: skip
    grid.setdefault((int(x // CELL), int(y // CELL)), []).append((x, y, wide, tall))
