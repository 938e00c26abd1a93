"""One page on paper: header, the part with its marks, small maps, bars, list of the marks.

Everything is placed in inches from the top, so that the same picture comes out every time.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.process.burr import class_words
from analyzer.report.palette import (
    BURR_COLOURS,
    BURR_WIDTHS,
    LEVEL_FILLS,
    LEVEL_LINES,
    LEVEL_SHAPES,
    OUTLINE,
)  # fmt: skip
from analyzer.report.to_png_lines import (
    caption_parts,
    draw_burr,
    draw_heat,
    draw_order,
    draw_outlines,
    draw_speeds,
    draw_uncut,
)  # fmt: skip
from analyzer.report.to_png_marks import MARKERS, Frame, draw_marks, draw_scale, marks_in
from analyzer.report.to_png_scene import CAPTION, Scene
from analyzer.report.view import Line

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

WIDE, TALL = 11.69, 8.27
"""A4 lying. [in]"""

EDGE = 0.42
DPI = 150
POINT = 1.0 / 72.0
LONG, BAR_HEIGHT = 1.9, 1.45
"""Parts longer than so many times their width stand on top of the page [-]; bars then [in]."""

STACKED = 4.5
"""Parts longer than so many times their width have their maps one under another. [-]"""

BRACKETS = " In brackets: numbers without a place on this picture."
BOLD = 1.11
"""How much wider bold letters are. [-]"""

LETTER = 0.0073
"""Mean width of a letter for one point of type. [in]"""


Place = tuple[float, float, float, float]
"""Left, foot, width, height on the page. [in]"""

Draw = Callable[["Axes", Floats, tuple[int, int]], str]
Map = tuple[str, Floats, Draw]
"""Title of a small map, its box, and what draws it into axes and returns the words beneath."""


@dataclass(frozen=True)
class Words:
    """Header and list of one page, made safe already."""

    title: str
    job: str
    verdict: str
    minutes: str
    lines: tuple[Line, ...]
    foot: str = ""


@dataclass(frozen=True, eq=False)
class Page:
    """One page: what the scene shows under one gas, and the bars beside it.

    `bars` are functions that draw into the axes they are given; without `maps` the scene has
    their room.
    """

    words: Words
    scene: Scene | None
    gas: str
    bars: tuple[Callable[[Axes], None], ...] = ()
    heat_from: Scene | None = None
    heat_gas: str = ""
    caption: str = ""
    maps: bool = True

    def draw(self, figure: Figure) -> None:
        """Draw the page into an empty figure of A4 size."""
        draw_page(figure, self)


def draw_page(figure: Figure, page: Page) -> None:
    """Draw a page into an empty figure of A4 size."""
    top = draw_header(figure, page.words)
    placed = {mark.number for mark in marks_in(page.scene)} if page.scene else set()
    foot = draw_list(figure, page.words, placed)
    if page.scene is None:
        return
    box = page.scene.box
    aspect = float((box[2] - box[0]) / (box[3] - box[1]))
    maps = standard_maps(page) if page.maps else ()
    if aspect > LONG and (maps or not page.bars) and _fits(aspect, len(maps), top - foot):
        _wide(figure, page, maps, aspect, top, foot)
    else:
        _upright(figure, page, maps, top, foot)


def _fits(aspect: float, maps: int, height: float) -> bool:
    """Whether a long part keeps enough room on top of its maps and bars."""
    width = WIDE - 2.0 * EDGE
    small, rows = _map_height(aspect, maps)
    left = height - BAR_HEIGHT - small * rows
    return left > min(2.2, width / aspect + 0.7)


def _map_height(aspect: float, maps: int) -> tuple[float, int]:
    """Return how tall a small map of a long part is, and how many stand one under another."""
    width = WIDE - 2.0 * EDGE
    if not maps:
        return 0.0, 0
    across = width if aspect > STACKED else (width - 0.3 * (maps - 1)) / maps
    return min(max(across / aspect, 0.25), 1.2) + 0.46, maps if aspect > STACKED else 1


def standard_maps(page: Page) -> tuple[Map, ...]:
    """Return the small maps of a page: title, and what draws it and returns words beneath."""
    scene, heat = page.scene, page.heat_from
    assert scene is not None

    def speeds(axes: Axes, box: Floats, pixels: tuple[int, int]) -> str:
        draw_speeds(axes, scene, box, pixels)
        table = scene.parts[0].picture.evidence.setting.speed_m_per_min
        return f"dark: slow; light: {table:.3g} m/min"

    def order(axes: Axes, box: Floats, pixels: tuple[int, int]) -> str:
        draw_order(axes, scene, box, pixels)
        return "triangle first, square last"

    def warm(axes: Axes, box: Floats, pixels: tuple[int, int]) -> str:
        most = draw_heat(axes, heat, box, pixels) if heat else 0.0
        return f"dark, large: up to +{most:.0f} K"

    found: list[Map] = [
        ("Local speed", scene.box, speeds), ("Cutting order, moves", scene.reach, order),
    ]  # fmt: skip
    if heat is not None:
        title = "Heat at pierces"
        found.append(
            (title + (f", {page.heat_gas}" if page.heat_gas != page.gas else ""), heat.reach, warm)
        )
    return tuple(found)


# --- words -------------------------------------------------------------------------------


def wrapped(words: str, size: float, width: float, lines: int) -> list[str]:
    """Break words to lines of a width [in] in a size [pt]; what is too long ends in "..."."""
    room = max(int(width / (LETTER * size)), 12)
    return textwrap.wrap(words, room, max_lines=lines, placeholder=" ...") if words else []


def write(figure: Figure, x: float, y: float, words: str, size: float, **look: Any) -> None:
    figure.text(
        x / WIDE, y / TALL, words, fontsize=size, va="top", parse_math=False, **look
    )  # fmt: skip


def draw_header(figure: Figure, words: Words) -> float:
    """Write file, job, verdict and minutes; return where the page goes on. [in]"""
    width, y = WIDE - 2.0 * EDGE, TALL - 0.36
    title = wrapped(words.title, 13.0, width * 0.62, 1)
    write(figure, EDGE, y, title[0] if title else "", 13.0, fontweight="bold")
    job = wrapped(words.job, 8.0, width * 0.5, 2)
    write(figure, WIDE - EDGE, y, "\n".join(job), 8.0, ha="right", color="#333333")
    y -= 0.30
    for line in wrapped(words.verdict, 10.5 * BOLD, width, 2):
        write(figure, EDGE, y, line, 10.5, fontweight="bold")
        y -= 0.19
    for line in wrapped(words.minutes, 9.0, width, 1):
        write(figure, EDGE, y, line, 9.0)
        y -= 0.18
    return y - 0.06


def draw_list(figure: Figure, words: Words, placed: set[int]) -> float:
    """Write what the marks mean at the foot of the page; return where it begins. [in]

    Numbers that are not on the picture stand in brackets.
    """
    rows: list[tuple[str, str, str]] = []
    most = 7
    for line in words.lines[:most]:
        numbers = _numbers(line.marks, placed)
        rows.append((numbers, line.level, f"{line.what} {line.remedy}"))
    left = len(words.lines) - most
    if left > 0:
        rows.append(("", "", f"and {left} more: see the page of burrcast check"))
    size, step = 7.2, 0.135
    text_x = EDGE + 1.45
    room = WIDE - EDGE - text_x
    broken = [wrapped(text, size, room, 2 if k < 3 else 1) for k, (_, _, text) in enumerate(rows)]
    height = sum(len(lines) for lines in broken) * step + 0.05 * len(rows)
    y = top = 0.36 + height + (0.06 if rows else 0.0)
    if rows:
        figure.add_artist(_rule(top + 0.03))
    for (numbers, level, _), lines in zip(rows, broken, strict=True):
        if level:
            _level_shape(figure, EDGE + 0.07, y - 0.055, level)
            write(figure, EDGE + 0.22, y, level.upper(), size, fontweight="bold")
            write(figure, EDGE + 0.82, y, numbers, size)
        for text in lines:
            write(figure, text_x, y, text, size)
            y -= step
        y -= 0.05
    bare = any(mark not in placed for line in words.lines[:most] for mark in line.marks[:2])
    foot = words.foot + (BRACKETS if bare and placed else "")
    write(figure, EDGE, 0.26, foot, 6.5, color="#444444")
    return top + 0.12


def _numbers(marks: Sequence[int], placed: set[int]) -> str:
    told = ", ".join(f"{mark}" if mark in placed else f"({mark})" for mark in marks[:2])
    return told + (f" +{len(marks) - 2}" if len(marks) > 2 else "")


def _rule(y: float) -> Line2D:
    from matplotlib.lines import Line2D

    return Line2D([EDGE / WIDE, 1.0 - EDGE / WIDE], [y / TALL] * 2, color=OUTLINE, linewidth=0.6)


def _level_shape(figure: Figure, x: float, y: float, level: str) -> None:
    from matplotlib.lines import Line2D

    shape = LEVEL_SHAPES[level]
    size = 5.5 if shape == "diamond" else 7.0
    figure.add_artist(
        Line2D(
            [x / WIDE], [y / TALL], marker=MARKERS[shape], markersize=size, linestyle="none",
            markerfacecolor=LEVEL_FILLS[level], markeredgecolor=LEVEL_LINES[level],
        )
    )  # fmt: skip


# --- places ------------------------------------------------------------------------------


def _wide(
    figure: Figure, page: Page, maps: Sequence[Map], aspect: float, top: float, foot: float
) -> None:
    """Lay out a long part: on top in full width, maps beneath, then bars."""
    width = WIDE - 2.0 * EDGE
    bars = BAR_HEIGHT if page.bars else 0.0
    stacked = aspect > STACKED
    across = width if stacked else (width - 0.3 * (len(maps) - 1)) / max(len(maps), 1)
    small, rows = _map_height(aspect, len(maps))
    room = top - foot - bars - small * rows - 0.15
    tall = min(room, width / aspect + 0.75)
    _main(figure, page, (EDGE, top - tall, width, tall))
    y = top - tall - 0.12
    for k, one in enumerate(maps):
        x = EDGE if stacked else EDGE + k * (across + 0.3)
        _map(figure, one, (x, y - small, across, small))
        y -= small if stacked else 0.0
    y += small if stacked else 0.0
    y -= small + 0.05
    wide = (width - 0.6) / 2.0
    for k, bar in enumerate(page.bars):
        left = EDGE + k * (wide + 0.6) + 0.55
        draw_bars(figure, bar, (left, y - bars, wide - 0.55, bars))


def _upright(figure: Figure, page: Page, maps: Sequence[Map], top: float, foot: float) -> None:
    """Lay out any other part: on the left; maps and bars in two columns on the right."""
    width, height = WIDE - 2.0 * EDGE, top - foot
    left = width * (0.52 if maps else 0.68)
    _main(figure, page, (EDGE, foot, left - 0.15, height))
    x, across = EDGE + left + 0.1, width - left - 0.1
    bars = min(1.5, height * (0.34 if maps else 0.5)) if page.bars else 0.0
    cell_h = min(height - bars * len(page.bars), 3.4)
    cell_w = across / max(len(maps), 1)
    box = page.scene.box if page.scene else np.array([0.0, 0.0, 1.0, 1.0])
    cell_h = min(cell_h, cell_w * float((box[3] - box[1]) / (box[2] - box[0])) + 0.6)
    for k, one in enumerate(maps):
        _map(figure, one, (x + k * cell_w, top - cell_h, cell_w - 0.12, cell_h - 0.06))
    y = top - cell_h - 0.1 if maps else top - 0.2
    for bar in page.bars:
        draw_bars(figure, bar, (x + 0.6, y - bars, across - 0.6, bars))
        y -= bars


def new_axes(figure: Figure, place: Place) -> Axes:
    x, y, width, height = place
    axes = figure.add_axes((x / WIDE, y / TALL, width / WIDE, height / TALL))
    return axes


def filled(box: Floats, width: float, height: float, pad: tuple[float, float, float, float]
            ) -> tuple[Floats, float]:  # fmt: skip
    """Return limits that fill axes of a size [in], true to scale, and points for one unit.

    `pad` keeps so much free on the left, at the foot, on the right and on top. [pt]
    """
    room = np.array([width / POINT - pad[0] - pad[2], height / POINT - pad[1] - pad[3]])
    size = box[2:] - box[:2]
    points = float((np.maximum(room, 1.0) / size).min())
    spare = (room / points - size) / 2.0
    low = box[:2] - spare - np.array(pad[:2]) / points
    high = low + np.array([width, height]) / POINT / points
    return np.concatenate((low, high)), points


def blank(axes: Axes, limits: Floats) -> None:
    axes.set_xlim(limits[0], limits[2])
    axes.set_ylim(limits[1], limits[3])
    axes.axis("off")


def _main(figure: Figure, page: Page, place: Place) -> None:
    scene = page.scene
    assert scene is not None
    axes = new_axes(figure, place)
    axes.set_gid("main")
    pad = 16.0 if marks_in(scene) else 6.0
    head = pad + (8.0 if page.caption else 0.0) + (CAPTION if len(scene.parts) > 1 else 0.0)
    limits, points = filled(scene.box, place[2], place[3], (pad, 14.0 + pad, pad, head))
    blank(axes, limits)
    step = 0.2 / (points * DPI * POINT)  # a fifth of a pixel
    classes = draw_burr(axes, scene, step, points)
    width = 0.9 if len(scene.contours) < 2000 else 0.6
    draw_outlines(axes, scene.contours, step, width)
    draw_uncut(axes, scene, step)
    frame = Frame(axes, limits, points)
    caption_parts(axes, scene.parts, 7.5)
    draw_marks(frame, scene)
    draw_scale(frame, 3.0, 110.0)
    _burr_legend(axes, classes)
    if page.caption:
        axes.annotate(
            page.caption, (0.0, 1.0), xycoords="axes fraction", fontsize=8.5, va="top",
            parse_math=False,
        )  # fmt: skip


def _burr_legend(axes: Axes, classes: Sequence[int]) -> None:
    """Say what the bands along the edge mean, right below the part."""
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], color=BURR_COLOURS[c], linewidth=BURR_WIDTHS[c] + (1.0 if c else 0.0))
        for c in classes
    ]
    words = [f"burr class {c}: {class_words(c)}" for c in classes]
    axes.legend(
        handles, words, loc="lower right", ncols=max(len(words), 1), fontsize=7.0, frameon=False,
        borderaxespad=0.0, handlelength=1.6, columnspacing=1.0,
    )  # fmt: skip


def _map(figure: Figure, one: Map, place: Place) -> None:
    title, box, draw = one
    x, y, width, height = place
    write(figure, x, y + height - 0.02, title, 8.0, fontweight="bold")
    axes = new_axes(figure, (x, y + 0.18, width, height - 0.40))
    axes.set_gid(title)
    limits, _ = filled(box, width, height - 0.40, (6.0, 6.0, 6.0, 6.0))
    pixels = (int(width * DPI), max(int((height - 0.40) * DPI), 8))
    words = draw(axes, limits, pixels)
    blank(axes, limits)
    for k, line in enumerate(wrapped(words, 6.8, width, 1)):
        write(figure, x, y + 0.15 - 0.12 * k, line, 6.8, color="#333333")


def draw_bars(figure: Figure, draw: Callable[[Axes], None], place: Place) -> None:
    x, y, width, height = place
    draw(new_axes(figure, (x, y + 0.62, width, max(height - 0.90, 0.2))))
