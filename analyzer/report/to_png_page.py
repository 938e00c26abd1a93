"""One page on paper: header, the part with its marks, small maps, bars, list of the marks.

Everything is placed in inches from the top, so that the same picture comes out every time.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.process.burr import class_words
from analyzer.report.palette import (
    BURR_COLOURS,
    BURR_WIDTHS,
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
from analyzer.report.to_png_marks import Frame, draw_marks, draw_scale, marks_in
from analyzer.report.to_png_scene import CAPTION, Scene
from analyzer.report.to_png_words import (
    DPI,
    EDGE,
    POINT,
    TALL,
    WIDE,
    Words,
    draw_header,
    draw_list,
    wrapped,
    write,
)  # fmt: skip

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LONG, BAR_HEIGHT = 1.9, 1.45
"""Parts longer than so many times their width stand on top of the page [-]; bars then [in]."""

STACKED = 4.5
"""Parts longer than so many times their width have their maps one under another. [-]"""

ENDS = "\N{WHITE UP-POINTING TRIANGLE} first, \N{BLACK DOWN-POINTING TRIANGLE} last"
"""What the signs of the first and the last pierce are."""

Place = tuple[float, float, float, float]
"""Left, foot, width, height on the page. [in]"""

Draw = Callable[["Axes", Floats, tuple[int, int]], str]
Map = tuple[str, Floats, Draw]
"""Title of a small map, its box, and what draws it into axes and returns the words beneath."""


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
        numbered = draw_order(axes, scene, box, pixels)
        which = numbered.removeprefix("numbers ").removeprefix("first, last and ")
        return ENDS + (f"; numbered: {which}" if which else "")

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
    tall = float(limits[3] - limits[1]) * points
    caption = np.array([0.0, tall - 11.0, 5.5 * len(page.caption), tall])
    draw_marks(frame, scene, [caption] if page.caption else ())
    draw_scale(frame, 3.0, 110.0)
    _burr_legend(axes, classes)
    if page.caption:
        axes.annotate(
            page.caption, (0.0, 1.0), xycoords="axes fraction", fontsize=8.5, va="top",
            parse_math=False,
        )  # fmt: skip


def _burr_legend(axes: Axes, classes: Sequence[int]) -> None:
    """Say what the bands along the edge mean, right below the part."""
    from matplotlib.legend_handler import HandlerTuple
    from matplotlib.lines import Line2D

    edge = Line2D([], [], color=OUTLINE, linewidth=0.9)
    handles = [
        (Line2D([], [], color=BURR_COLOURS[c], linewidth=BURR_WIDTHS[c] + 1.0), edge)
        if c
        else (edge,)
        for c in classes
    ]
    words = [f"burr class {c}: {class_words(c)}" for c in classes]
    axes.legend(
        handles, words, loc="lower right", ncols=max(len(words), 1), fontsize=7.0, frameon=False,
        borderaxespad=0.0, handlelength=1.6, columnspacing=1.0,
        handler_map={tuple: HandlerTuple(ndivide=1, pad=0.0)},
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
    for k, line in enumerate(wrapped(words, 6.8, width, 2)):
        write(figure, x, y + 0.15 - 0.12 * k, line, 6.8, color="#333333")


def draw_bars(figure: Figure, draw: Callable[[Axes], None], place: Place) -> None:
    x, y, width, height = place
    draw(new_axes(figure, (x, y + 0.62, width, max(height - 0.90, 0.2))))
