"""The answer as one SVG file: parts true to scale, marks, burr along the edges, order of cuts.

Arcs stay arcs.  Nothing is loaded from elsewhere and there is no script; fonts are those of the
reader.  All sizes are pixels of a picture 1000 wide.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.comparison import Answer
from analyzer.geometry.contours import Floats
from analyzer.reasons import spoken
from analyzer.report.along import SLOW_SHARES
from analyzer.report.marks import GasPicture, PartPicture, drawing_marks, pictures_of
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS, MARKED, METAL, OUTLINE
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_svg_bars import time_bars
from analyzer.report.to_svg_figure import (
    LOOSE,
    MOST_SPEEDS,
    WHOLE,
    Figure,
    burr_edges,
    figures_of,
    scale_of,
    speed_edges,
    spots_on,
    traverse_lines,
    warm_look,
)
from analyzer.report.to_svg_marks import (
    EACH_SMALL,
    MOST_EACH,
    Room,
    Spot,
    place_marks,
    room_of,
    shape_of,
    size_of,
    small_shapes,
)
from analyzer.report.to_svg_paths import Frame
from analyzer.report.turns import BASE, ON_SCREEN, Turns, turns_of
from analyzer.report.verdict import verdict_words
from analyzer.report.view import Line, view_of
from analyzer.report.wording import several

WIDE, EDGE, LINE = 1000.0, 24.0, 20.0
GAP = 40.0  # between pictures: room for marks that stand beside their place [px]
TALLEST = 620.0
SIDES = (20.0, 18.0, 18.0, 4.0)  # how far marks may stand outside a picture [px]
EDGE_WORDS = ("no burr", "wipes off", "brush or belt", "grinder")
ROOMY = 200.0  # pictures at least so wide and tall have numbers as often as on a page [px]
MOST_SMALL = 3000  # shapes without a number in one picture
FONT = "system-ui, 'Liberation Sans', 'DejaVu Sans', sans-serif"


@dataclass(frozen=True)
class Block:
    """A piece of the file and how tall it is. [px]"""

    markup: Raw
    height: float


def answer_svg(answer: Answer, *, gas: str | None = None) -> str:
    """Return the picture of one drawing under one gas.

    Parameters
    ----------
    answer : Answer
        What is known and advised.
    gas : str, optional
        Gas to show; the advised one, else the first.
    """
    analysis = answer.analysis
    read = gas or answer.advice.gas or (analysis.gases[0].gas if analysis.gases else None)
    gases = pictures_of(answer)
    shown_gas = next((one for one in gases if one.gas == read), None)
    best = analysis.under(read) if read else None
    marks = shown_gas.marks if shown_gas else drawing_marks(answer)
    figures, left = figures_of(analysis, [marks])
    spots = spots_on(marks, figures)
    view = view_of(answer, gas=read)
    told = f"{view.title}: {verdict_words(analysis, answer.advice)}"
    head = [view.job, view.minutes, f"Shown in {spoken(read)}." if read else ""]
    levels = {mark.number: mark.level for mark in marks}
    blocks = [
        *words_of(told, size=18, weight=700),
        *(block for words in head for block in words_of(words)),
        key_of(best.edge_m if best else ()),
        *_pictures(figures, spots, shown_gas, gases),
        *(words_of(f"{several(left, 'part')} more without a picture.") if left else ()),
        *(found_line(line, levels) for line in (*view.change, *view.expect, *view.repaired)),
    ]
    return file_of(view.title, blocks)


def file_of(title: str, blocks: Iterable[Block]) -> str:
    """Return blocks one below the other as a whole file."""
    made, down = [], EDGE
    for block in blocks:
        made.append(el("g", block.markup, transform=f"translate({EDGE:g} {down:.1f})"))
        down += block.height
    height = down + EDGE
    whole = el(
        "svg", el("title", title), small_shapes(),
        el("rect", width=WIDE, height=f"{height:.0f}", fill="#FFFFFF"), *made,
        xmlns="http://www.w3.org/2000/svg", width=f"{WIDE:g}", height=f"{height:.0f}",
        viewBox=f"0 0 {WIDE:g} {height:.0f}", font_family=FONT, font_size="14",
    )  # fmt: skip
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{whole}\n'


# --- words -------------------------------------------------------------------------------


def words_of(words: str, *, size: int = 14, weight: int = 400, indent: float = 0.0) -> list[Block]:
    """Return words broken into lines; widths are guessed by the number of letters."""
    broad = 0.64 if weight > 400 else 0.55  # of a letter, against the size
    letters = int((WIDE - 2.0 * EDGE - indent) / (broad * size))
    step = 1.4 * size
    return [
        Block(el("text", line, x=indent, y=size, font_size=size, font_weight=weight), step)
        for line in textwrap.wrap(words, letters, break_on_hyphens=False)
    ]  # fmt: skip


def found_line(line: Line, levels: Mapping[int, str]) -> Block:
    """Return one kind of finding: its marks, what it is, what to do."""
    shapes, across, tall = [], 0.0, 0.0
    for number in line.marks[:4]:
        level = levels.get(number, line.level)
        wide, high = size_of(level, number)
        shapes.append(shape_of(level, number, across + wide, 20.0))
        across, tall = across + 2.0 * wide + 6.0, max(tall, 2.0 * high)
    if len(line.marks) > 4:
        shapes.append(el("text", f"+{len(line.marks) - 4}", x=across, y=25.0))
    rows = [*words_of(f"{line.level.upper()}: {line.what}", indent=200.0),
            *words_of(line.remedy, weight=600, indent=200.0)]  # fmt: skip
    made, down = [], 4.0
    for row in rows:
        made.append(el("g", row.markup, transform=f"translate(0 {down:.1f})"))
        down += row.height
    return Block(together(*shapes, *made), max(down, tall) + 10.0)


def key_of(edge_m: Sequence[float] = ()) -> Block:
    """Return the key to marks, and to the edges by their metres of every class."""
    shapes = [("note", "look once"), ("rework", "hand work"), ("loss", "scrap to expect")]
    made, across = [], 0.0
    for level, words in shapes:
        made.append(el("use", href=f"#s-{level}", x=across + 7.0, y=15.0))
        made.append(el("text", words, x=across + 20.0, y=20.0))
        across += 36.0 + 7.5 * len(words)
    for burr, metres in enumerate(edge_m):
        if metres < 0.005:
            continue
        words = f"{EDGE_WORDS[burr]} {metres:.2f} m"
        if burr:
            made.append(el("path", d=f"M{across:g} 15h28", stroke=BURR_COLOURS[burr],
                           stroke_width=BURR_WIDTHS[burr] + 1.0))  # fmt: skip
        made.append(el("path", d=f"M{across:g} 15h28", stroke=OUTLINE))
        made.append(el("text", words, x=across + 34.0, y=20.0))
        across += 50.0 + 7.5 * len(words)
    return Block(together(*made), 34.0)


# --- pictures ----------------------------------------------------------------------------


def _pictures(
    figures: Sequence[Figure], spots: dict[str, list[Spot]], gas: GasPicture | None,
    gases: Sequence[GasPicture],
) -> list[Block]:  # fmt: skip
    """Return all pictures, then the split of the time.

    One or two parts have the order of cuts, the local speed and the heat at the pierces beside
    them; many stand in rows.
    """
    if not figures:
        return []
    both = len(figures) <= 2 and gas is not None
    columns = 2 if both or len(figures) == 2 else min(len(figures), 4)
    room = (WIDE - 2.0 * EDGE - (columns - 1) * GAP) / columns
    tallest = TALLEST if columns <= 2 else 260.0
    rows: list[list[Block]] = [[]]
    for figure in figures:
        part = _part(figure, gas)
        cells = [_found(figure, part, spots.get(figure.id, []), room, tallest)]
        if both and part is not None:
            rows.append([])  # what belongs to one part begins a row
            cells.append(_order(figure, part, room, tallest))
            cells += _along(figure, part, room, tallest)
        for cell in cells:
            if len(rows[-1]) == columns:
                rows.append([])
            rows[-1].append(cell)
    if gas is not None:
        bars = Block(*time_bars(gases, gas.gas, (WIDE - 2.0 * EDGE - GAP) / 2.0))
        if columns > 2 or len(rows[-1]) == columns:
            rows.append([])
        rows[-1].append(bars)
    blocks = []
    for row in filter(None, rows):
        made = [
            el("g", cell.markup, transform=f"translate({k * (room + GAP):.1f} 0)")
            for k, cell in enumerate(row)
        ]
        blocks.append(Block(together(*made), max(cell.height for cell in row)))
    return blocks


def _part(figure: Figure, gas: GasPicture | None) -> PartPicture | None:
    wanted = LOOSE if figure.id == WHOLE else figure.id
    return next((one for one in gas.parts if one.part.id == wanted), None) if gas else None


def _found(
    figure: Figure, part: PartPicture | None, spots: Sequence[Spot], room: float, tallest: float
) -> Block:
    """Return a part with burr along its edges and marks."""
    scale = _fit(figure, room, tallest)
    points = scale / figure.frame.unit
    edges = [burr_edges(part.runs, figure.frame, 1.0 / scale, points=points)] if part else []
    seen = figure.frame.across * scale
    room_for = room_of(figure.frame, seen, SIDES, figure.edges, figure.cut_outs)
    each = MOST_EACH if min(seen, figure.frame.down * scale) >= ROOMY else EACH_SMALL
    marks = marks_in(room_for, spots, each)
    return panel(figure.frame, scale, figure.drawn(1.0 / scale, edges), marks, figure.title)


def _order(figure: Figure, part: PartPicture, room: float, tallest: float) -> Block:
    """Return a part with the way of the head."""
    scale = _fit(figure, room, tallest)
    places = part.pierces[part.order]
    lines = together(figure.drawn(1.0 / scale), traverse_lines(places, figure.frame, 1.0 / scale))
    at = figure.frame.units(places).astype(np.float64) * scale
    turns = turns_of(at, ON_SCREEN, (figure.frame.across * scale, figure.frame.down * scale))
    return panel(figure.frame, scale, lines, turn_numbers(turns, at), turns.title)


def turn_numbers(turns: Turns, at: Floats, colour: str = OUTLINE) -> Raw:
    """Return numbers of the order of cuts by their places, shape (n, 2). [px]"""
    return together(*(
        el("text", str(number), x=f"{at[number - 1, 0] + dx:.1f}",
           y=f"{at[number - 1, 1] + dy + BASE:.1f}", text_anchor="middle", fill=colour,
           stroke="#FFFFFF", stroke_width="3", paint_order="stroke", font_weight="600",
           class_="turn")
        for number, dx, dy in turns.rows
    ))  # fmt: skip


def _along(figure: Figure, part: PartPicture, room: float, tallest: float) -> list[Block]:
    """Return a part with its local speed, and with the heat at its pierces where there is any."""
    scale = _fit(figure, room, tallest)
    frame, px = figure.frame, 1.0 / scale
    made = []
    if len(part.contours) <= MOST_SPEEDS:
        bands = speed_edges(part.speed_runs, frame, px, points=scale / frame.unit)
        below = ", ".join(f"{100.0 * share:.0f}" for share in SLOW_SHARES)
        words = f"Local speed: wider below {below} % of {_table(part):.3g} m/min"
        made.append(panel(frame, scale, figure.drawn(px, [bands]), Raw(""), words))
    rises = part.pierce_rises
    most = float(rises.max(initial=0.0)) if rises is not None else 0.0
    if rises is None or most < MARKED:
        return made
    order = np.argsort(rises, kind="stable")[-MOST_SMALL:]
    dots = []
    for (x, y), rise in zip((frame.units(part.pierces[order]) * scale).tolist(),
                            rises[order].tolist(), strict=True):  # fmt: skip
        radius, colour = warm_look(rise, most)
        dots.append(el("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r=f"{radius:.1f}", fill=colour,
                       stroke=OUTLINE, class_="warm"))  # fmt: skip
    words = f"Heat at the pierces: large and dark is up to {most:.0f} K warmer"
    made.append(panel(frame, scale, figure.drawn(px), together(*dots), words))
    return made


def _table(part: PartPicture) -> float:
    return part.evidence.setting.speed_m_per_min


def _fit(figure: Figure, room: float, tallest: float) -> float:
    """Return pixels in one unit of the picture."""
    return min(room / figure.frame.across, tallest / figure.frame.down)


def panel(frame: Frame, scale: float, lines: Raw, marks: Raw, title: str) -> Block:
    """Return one picture with its scale bar and title; scale [px] is one unit of the frame."""
    height = frame.down * scale
    length, words = scale_of(frame.width, frame.height)
    bar = length / frame.unit * scale
    below = height + 22.0
    return Block(
        together(
            el("g", el("g", lines, transform=f"scale({scale:.9g})"), marks,
               transform=f"translate(0 {GAP / 2.0:g})"),
            el("rect", x=0.0, y=f"{below + 8.0:.1f}", width=f"{bar:.2f}", height="5",
               fill=OUTLINE),
            el("rect", x=1.0, y=f"{below + 9.0:.1f}", width=f"{bar / 2.0:.2f}", height="3",
               fill="#FFFFFF"),
            el("text", words, x=0.0, y=f"{below + 29.0:.1f}"),
            el("text", title, x=0.0, y=f"{below + 49.0:.1f}"),
        ), below + 66.0,
    )  # fmt: skip


def marks_in(room: Room, spots: Sequence[Spot], each: int = MOST_EACH) -> Raw:
    """Return numbered marks with pointers, and small shapes where there is no room."""
    places = room.at(np.array([(spot.x, spot.y) for spot in spots]).reshape(-1, 2)).tolist()
    small, pointers, numbered = [], [], []
    for put, spot, (x, y) in zip(place_marks(spots, [room], each), spots, places, strict=True):
        if put.dx is None or put.dy is None:
            small.append(el("use", href=f"#s-{spot.level}", x=f"{x:.1f}", y=f"{y:.1f}"))
            continue
        line = f"M{x:.1f} {y:.1f}l{put.dx:g} {put.dy:g}"
        pointers += [
            el("path", d=line, stroke=METAL, stroke_width="3"), el("path", d=line, stroke=OUTLINE),
            el("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r="2.2"),
        ]  # fmt: skip
        title = el("title", f"Mark {spot.number}, {spot.level}: {spot.words}")
        shape = shape_of(spot.level, spot.number, round(x + put.dx, 1), round(y + put.dy, 1))
        numbered.append(el("g", title, shape, class_=f"mark-{spot.number}"))
    return together(*small[:MOST_SMALL], *pointers, *numbered)
