"""Numbered marks on a picture, pushed apart, with leader lines; the scale bar."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.report.labels import (
    FEWER_NUMBERED,
    MOST_NUMBERED,
    SMALL,
    put_apart,
    samples,
    small_insides,
)
from analyzer.report.marks import Mark
from analyzer.report.palette import (
    LEVEL_FILLS,
    LEVEL_LINES,
    LEVEL_NUMBERS,
    LEVEL_SHAPES,
    METAL,
    OUTLINE,
)  # fmt: skip
from analyzer.report.to_png_scene import CAPTION, LETTER, Scene, Shown, shown_on

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Rectangle

MARKERS = {"circle": "o", "diamond": "D", "square": "s"}
TEXT = 7.5
SPAN = {"circle": 12.0, "diamond": 11.0, "square": 11.0}
"""Number, and width of a marker as matplotlib counts it, for up to two digits. [pt]"""

HALF = {"circle": 7.5, "diamond": 9.5, "square": 7.0}
"""Half the room of a mark. [pt]"""

FOOT = 12.0
"""Height of the strip with the scale bar and the key to the edges. [pt]"""

BAR_STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True, eq=False)
class Frame:
    """Axes filled to their edge: limits `box` in data, `points` wide for one unit of data."""

    axes: Axes
    box: Floats
    points: float

    def on_paper(self, places: Floats) -> Floats:
        """Return data places in points from the lower left corner."""
        paper: Floats = (places - self.box[:2]) * self.points
        return paper

    def in_data(self, paper: Floats) -> Floats:
        """Return points from the lower left corner as data places."""
        data: Floats = paper / self.points + self.box[:2]
        return data


def marks_in(scene: Scene) -> list[Mark]:
    """Return all marks of a scene that have a place on it, losses first, their places as shown."""
    found = [
        mark
        for one in scene.parts
        for m in one.picture.marks
        if len((mark := shown_on(scene, one, m)).places)
    ]
    found += scene.marks
    levels = list(LEVEL_SHAPES)
    return sorted(found, key=lambda mark: -levels.index(mark.level))


def draw_marks(frame: Frame, scene: Scene, words: Sequence[Floats] = ()) -> None:
    """Draw the marks of a scene: numbered while there is room, else small shapes.

    They keep off the captions of its parts and the boxes of `words` on paper, shape (4,). [pt]
    """
    most = MOST_NUMBERED if len(scene.parts) == 1 else FEWER_NUMBERED
    captions = [_caption_box(frame, one) for one in scene.parts if one.caption]
    put_marks(frame, marks_in(scene), scene.contours, most, [*captions, *words])


def put_marks(
    frame: Frame, marks: Sequence[Mark], contours: Contours, most: int,
    keep_off: Sequence[Floats] = (),
) -> None:  # fmt: skip
    """Draw every place of every mark, at most `most` with a number, clear of lines and words.

    Parameters
    ----------
    frame : Frame
        Where they are drawn.
    marks : sequence of Mark
        With their places as shown, the most important first.
    contours : Contours
        Lines that are better not covered, as shown.
    most : int
        Numbers at most.
    keep_off : sequence of ndarray, shape (4,)
        Boxes of words on paper that no number may lie on. [pt]
    """
    if not marks:
        return
    numbered, bare = _chosen(marks, most)
    for level in LEVEL_SHAPES:
        small = [place for mark, place in bare if mark.level == level]
        if small:
            _shapes(frame, np.array(small), level, 0.32, 5.0)
    places = np.array([place for _, place in numbered])
    half = np.array([_half(mark) for mark, _ in numbered])
    paper = frame.on_paper(places)
    ink = frame.on_paper(samples(contours, 2.0 / frame.points))
    if bare:
        ink = np.vstack((ink, frame.on_paper(np.array([place for _, place in bare]))))
    room = np.concatenate((np.zeros(2), (frame.box[2:] - frame.box[:2]) * frame.points))
    room[1] = FOOT
    words = np.vstack((np.zeros((0, 4)), *keep_off))
    holes = contours.take(np.flatnonzero(contours.area < 0.0))
    size = SMALL * float(half.max()) / frame.points
    shut = frame.on_paper(small_insides(holes, size, 2.0 / frame.points))
    middles = frame.in_data(put_apart(paper, half, room, np.vstack((ink, paper)), shut, words))
    _leaders(frame, places, middles)
    for (mark, _), middle in zip(numbered, middles, strict=True):
        wide = 1.25 if mark.number > 99 else 1.0
        _shapes(frame, middle[None], mark.level, wide, 7.0, f"mark-{mark.number}")
        frame.axes.annotate(
            str(mark.number), (float(middle[0]), float(middle[1])), fontsize=TEXT, ha="center",
            va="center_baseline", color=LEVEL_NUMBERS[mark.level], zorder=8.0, parse_math=False,
            gid=f"number-{mark.number}",
        )  # fmt: skip


Spot = tuple[Mark, Floats]


def _chosen(marks: Sequence[Mark], most: int) -> tuple[list[Spot], list[Spot]]:
    """Return places with a number (the first of every mark, then as many as fit) and without."""
    first = [(mark, mark.places[0]) for mark in marks]
    more = [(mark, place) for mark in marks for place in mark.places[1:]]
    if len(first) + len(more) <= most:
        return first + more, []
    return first[:most], first[most:] + more


def _caption_box(frame: Frame, one: Shown) -> Floats:
    """Return the box of the caption of a part on paper, shape (4,)."""
    low = frame.on_paper(one.box[[0, 3]])
    size = np.array([LETTER * len(one.caption), CAPTION - 2.0])
    return np.concatenate((low + np.array([0.0, 2.0]), low + size))


def _half(mark: Mark) -> tuple[float, float]:
    wide = HALF[LEVEL_SHAPES[mark.level]] * (1.25 if mark.number > 99 else 1.0)
    return wide, wide


def _shapes(
    frame: Frame, places: Floats, level: str, scale: float, zorder: float, gid: str = ""
) -> None:
    shape = LEVEL_SHAPES[level]
    drawn = frame.axes.scatter(
        places[:, 0], places[:, 1], s=(SPAN[shape] * scale) ** 2, marker=MARKERS[shape],
        c=LEVEL_FILLS[level],
        edgecolors=LEVEL_LINES[level], linewidths=1.1 if scale >= 1.0 else 0.8, zorder=zorder,
    )  # fmt: skip
    drawn.set_gid(gid or f"places-{level}")


def _leaders(frame: Frame, places: Floats, middles: Floats) -> None:
    from matplotlib.collections import LineCollection

    lines = list(np.stack((places, middles), axis=1))
    halo = LineCollection(lines, colors=METAL, linewidths=2.4, zorder=5.5)
    drawn = LineCollection(lines, colors=OUTLINE, linewidths=0.8, zorder=6.0)
    drawn.set_gid("leaders")
    frame.axes.add_collection(halo)
    frame.axes.add_collection(drawn)
    frame.axes.scatter(places[:, 0], places[:, 1], s=7.0, c=OUTLINE, linewidths=0.0, zorder=6.1)


def round_length(wanted: float) -> float:
    """Return the greatest 1, 2 or 5 times a power of ten that is at most `wanted`.

    Examples
    --------
    >>> [round_length(x) for x in (0.7, 4.9, 130.0)]
    [0.5, 2.0, 100.0]
    """
    power = 10.0 ** math.floor(math.log10(wanted))
    return max(step * power for step in BAR_STEPS if step * power <= wanted * (1.0 + 1e-9))


def draw_scale(frame: Frame, y: float, most: float) -> None:
    """Draw a scale bar of a round length, at most `most` points long, `y` points above the foot."""
    length = round_length(most / frame.points)
    left, step = frame.box[0], length / 2.0
    height = 4.0 / frame.points
    low = frame.box[1] + y / frame.points
    for k, colour in enumerate((OUTLINE, METAL)):
        frame.axes.add_patch(_bar(left + k * step, low, step, height, colour))
    words = f"{length:g} mm" if length < 10000 else f"{length / 1000:g} m"
    frame.axes.annotate(
        words, (left + length, low + height / 2.0), (4.0, 0.0), textcoords="offset points",
        fontsize=TEXT, va="center", parse_math=False, gid="scale-words",
    )  # fmt: skip


def _bar(x: float, y: float, width: float, height: float, colour: str) -> Rectangle:
    from matplotlib.patches import Rectangle

    return Rectangle(
        (x, y), width, height, facecolor=colour, edgecolor=OUTLINE, linewidth=0.7, zorder=9.0,
        gid="scale",
    )  # fmt: skip
