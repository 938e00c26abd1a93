"""Marks in a picture: their shapes, and where to put them so that numbers can be read.

A mark points at its place by a short line and stands beside it, so that it does not hide what it
is about.  Where places lie so near each other that numbers would cover one another, the rest of
a kind shows its shape without a number.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.report.labels import (
    MOST_NUMBERED,
    SMALL,
    Sight,
    put_beside,
    samples,
    small_insides,
)
from analyzer.report.palette import LEVEL_FILLS, LEVEL_LINES, LEVEL_NUMBERS
from analyzer.report.to_html_element import Look, Raw, el, together
from analyzer.report.to_svg_paths import Frame

REACH = {"note": 11.0, "rework": 17.0, "loss": 11.5}
"""From the middle of a shape to its furthest point along x. [px]"""

TALL = {"note": 11.0, "rework": 17.0, "loss": 11.5}
WIDER = {1: 1.0, 2: 1.0, 3: 1.3}
"""How much larger a shape is for numbers of so many digits. [-]"""

FURTHEST = 4.0  # a place that is not a finding's first has a number up to here [half sizes]
MOST_EACH = 24  # how often one number is written in one picture
EACH_SMALL = 6  # the same in one of several small pictures, and on a sheet
GRAIN = 3.0  # between points that stand for a line [px]

Sides = tuple[float, float, float, float]
"""How far marks may stand outside a picture on the left, on top, on the right, below. [px]"""


class Spot(NamedTuple):
    """One place of a finding: where, which number and level, its words.

    `first` is True for the place that must show the number: links lead there.
    """

    x: float
    y: float
    level: str
    number: int
    words: str
    first: bool


class Placed(NamedTuple):
    """A mark in a picture: of which spot, and how far beside it the number stands.

    `dx`, `dy` [px] are None where there was no room: a small shape without number at the place.
    """

    spot: int
    dx: float | None
    dy: float | None


@dataclass(frozen=True, eq=False)
class Room:
    """A picture at one width, and what marks should not cover there; y points down. [px]

    Attributes
    ----------
    frame : Frame
        Of the picture.
    seen : float
        Its width.
    sides : Sides
        How far marks may stand outside it.
    ink, shut : ndarray, shape (k, 2)
        Points of its lines and of its small cut-outs.
    words : ndarray, shape (w, 4)
        Boxes of words no number may lie on.
    """

    frame: Frame
    seen: float
    sides: Sides
    ink: Floats
    shut: Floats
    words: Floats = field(default_factory=lambda: np.zeros((0, 4)))

    def at(self, points: Floats) -> Floats:
        """Return places of the drawing in this picture, shape (k, 2)."""
        return _seen(self.frame, self.seen, points)

    def sight(self, spots: Floats) -> Sight:
        """Return the picture with the places of its marks, shape (k, 2) [mm]."""
        places = self.at(spots)
        left, top, right, low = self.sides
        tall = self.seen * self.frame.height / self.frame.width
        box = np.array([-left, -top, self.seen + right, tall + low])
        return Sight(places, box, np.vstack((self.ink, places)), self.shut, self.words)


def room_of(frame: Frame, seen: float, sides: Sides, lines: Contours, cut_outs: Contours) -> Room:
    """Return a picture at one width: `lines` better not covered, small `cut_outs` still less."""
    step = GRAIN * frame.width / seen
    size = SMALL * REACH["loss"] * frame.width / seen
    ink = _seen(frame, seen, samples(Contours.join([lines, cut_outs]), step))
    return Room(frame, seen, sides, ink, _seen(frame, seen, small_insides(cut_outs, size, step)))


def place_marks(
    spots: Sequence[Spot], rooms: Sequence[Room], each: int = MOST_EACH
) -> list[Placed]:
    """Return how marks are put, in the order given, right at every width.

    Parameters
    ----------
    spots : sequence of Spot
        The first place of every finding shows its number whatever happens.
    rooms : sequence of Room
        The picture at every width it is seen at.
    each : int
        How often one number is written.
    """
    placed = [Placed(k, None, None) for k in range(len(spots))]
    chosen = _numbered(spots, each)
    if not chosen:
        return placed
    half = np.array([size_of(spots[k].level, spots[k].number) for k in chosen])
    at = np.array([(spots[k].x, spots[k].y) for k in chosen])
    offsets, over = put_beside(half, [room.sight(at) for room in rooms])
    far = (np.abs(offsets) / half).max(axis=1)
    for k, (dx, dy), on, away in zip(
        chosen, offsets.round(1).tolist(), over.tolist(), far.tolist(), strict=True
    ):
        if spots[k].first or (on == 0.0 and away <= FURTHEST):
            placed[k] = Placed(k, dx, dy)
    return placed


def _numbered(spots: Sequence[Spot], each: int) -> list[int]:
    """Return which spots get a number: the first of every finding, then as many as fit."""
    first = [k for k, spot in enumerate(spots) if spot.first]
    written = Counter(spots[k].number for k in first)
    chosen = list(first)
    for k, spot in enumerate(spots):
        if len(chosen) >= MOST_NUMBERED:
            break
        if not spot.first and written[spot.number] < each:
            written[spot.number] += 1
            chosen.append(k)
    return chosen


def _seen(frame: Frame, seen: float, points: Floats) -> Floats:
    places: Floats = (points - (frame.x, frame.y)) * (1.0, -1.0) * (seen / frame.width)
    return places


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
