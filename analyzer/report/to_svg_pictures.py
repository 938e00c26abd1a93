"""Pictures of parts in an SVG file: marks, order of cuts, local speed, heat; how they are laid out.

All sizes are pixels of a picture 1000 wide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.report.along import SLOW_SHARES
from analyzer.report.escape import shown
from analyzer.report.line_ends import broken
from analyzer.report.marks import GasPicture, PartPicture
from analyzer.report.palette import MARKED, METAL, OUTLINE
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_svg_bands import burr_edges, speed_edges
from analyzer.report.to_svg_bars import time_bars
from analyzer.report.to_svg_figure import (
    LOOSE,
    MOST_SPEEDS,
    WHOLE,
    Figure,
    scale_of,
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
)
from analyzer.report.to_svg_paths import Frame
from analyzer.report.turns import BASE, ON_SCREEN, Turns, turns_of
from analyzer.report.wording import shortened

WIDE, EDGE, LINE = 1000.0, 24.0, 20.0
GAP = 40.0  # between pictures: room for marks that stand beside their place [px]
TALLEST, SMALL_TALLEST = 620.0, 260.0  # of pictures in one or two columns, and in more [px]
FULLY = 2  # parts up to which each has its order of cuts, local speed and heat
WARMEST = 8.5  # radius of the warmest pierce's dot [px]
LEAST_BARS, MOST_BARS = 440.0, 620.0  # width of the split of the time [px]
SIDES = (20.0, 18.0, 18.0, 4.0)  # how far marks may stand outside a picture [px]
ROOMY = 200.0  # pictures at least so wide and tall have numbers as often as on a page [px]
MOST_SMALL = 3000  # shapes without a number in one picture


@dataclass(frozen=True)
class Block:
    """A piece of the file and how tall it is. [px]"""

    markup: Raw
    height: float


def pictures_in(
    figures: Sequence[Figure], spots: dict[str, list[Spot]], gas: GasPicture | None,
    gases: Sequence[GasPicture],
) -> list[Block]:  # fmt: skip
    """Return all pictures, then the split of the time.

    One or two parts have the order of cuts, the local speed and the heat at the pierces beside
    them, two parts side by side; many stand in rows.
    """
    if not figures:
        return []
    own = [figure for figure in figures if figure.id != WHOLE]
    looked = gas if len(own) <= FULLY else None
    columns = 2 if looked else columns_for(len(figures))
    room = (WIDE - 2.0 * EDGE - (columns - 1) * GAP) / columns
    tallest = TALLEST if columns <= 2 else SMALL_TALLEST

    def found(figure: Figure) -> Block:
        return _found(figure, _part(figure, gas), spots.get(figure.id, []), room, tallest)

    cells = [found(figure) for figure in own]
    if looked:
        cells += _each_kind(own, looked, room, tallest, named=len(own) > 1)
    whole = [figure for figure in figures if figure.id == WHOLE]
    cells += [found(figure) for figure in whole]
    if looked:  # lines outside all parts are cut as well
        cells += _each_kind(whole, looked, room, tallest, named=bool(own))
    rows = [cells[k : k + columns] for k in range(0, len(cells), columns)]
    if gas is not None:
        free = columns - len(rows[-1])
        beside = free > 0 and free * (room + GAP) - GAP >= LEAST_BARS
        across = free * (room + GAP) - GAP if beside else WIDE - 2.0 * EDGE
        split, height = time_bars(gases, gas.gas, min(across, MOST_BARS))
        low = GAP / 2.0 if beside else 0.0  # as pictures begin
        bars = Block(el("g", split, transform=f"translate(0 {low:g})"), height + low)
        if beside:
            rows[-1].append(bars)
        else:
            rows.append([bars])
    blocks = []
    for row in rows:
        made = [
            el("g", cell.markup, transform=f"translate({k * (room + GAP):.1f} 0)")
            for k, cell in enumerate(row)
        ]
        blocks.append(Block(together(*made), max(cell.height for cell in row)))
    return blocks


def columns_for(count: int) -> int:
    """Return in how many columns so many pictures leave no room empty, bars in what is left."""
    if count % 4 in (0, 2) and count > 2:
        return 4
    if count % 3 in (0, 1) and count > 3:
        return 3
    return 2 if count <= 5 else 4


def _each_kind(
    figures: Sequence[Figure], gas: GasPicture, room: float, tallest: float, *, named: bool
) -> list[Block]:
    """Return the order of cuts of every part, then every local speed, then all heat.

    With `named` each says whose it is.
    """
    kinds: tuple[list[Block], ...] = ([], [], [])
    for figure in figures:
        part = _part(figure, gas)
        if part is None:
            continue
        whose = ("" if figure.id == WHOLE else f"{shortened(shown(figure.id), 16)}: ") * named
        for kind, draw in zip(kinds, (_order, _speed, _heat), strict=True):
            block = draw(figure, part, room, tallest, whose)
            if block is not None:
                kind.append(block)
    return [block for kind in kinds for block in kind]


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
    return panel(
        figure.frame,
        scale,
        figure.drawn(1.0 / scale, edges, _lines_of(figure)),
        marks,
        figure.title,
        room,
    )


def _order(figure: Figure, part: PartPicture, room: float, tallest: float, whose: str) -> Block:
    """Return a part with the way of the head."""
    scale = _fit(figure, room, tallest)
    places = part.pierces[part.order]
    drawn = figure.drawn(1.0 / scale, (), _lines_of(figure), again=True)
    lines = together(drawn, traverse_lines(places, figure.frame, 1.0 / scale))
    at = figure.frame.units(places).astype(np.float64) * scale
    turns = turns_of(at, ON_SCREEN, (figure.frame.across * scale, figure.frame.down * scale))
    return panel(figure.frame, scale, lines, turn_numbers(turns, at), _of(whose, turns.title), room)


def _of(whose: str, title: str) -> str:
    """Put the part a picture is of before its title."""
    return f"{whose}{title[0].lower()}{title[1:]}" if whose else title


def turn_numbers(turns: Turns, at: Floats, colour: str = OUTLINE) -> Raw:
    """Return numbers of the order of cuts by their places, shape (n, 2). [px]"""
    return together(*(
        el("text", str(number), x=f"{at[number - 1, 0] + dx:.1f}",
           y=f"{at[number - 1, 1] + dy + BASE:.1f}", text_anchor="middle", fill=colour,
           stroke="#FFFFFF", stroke_width="3", paint_order="stroke", font_weight="600",
           class_="turn")
        for number, dx, dy in turns.rows
    ))  # fmt: skip


def _speed(
    figure: Figure, part: PartPicture, room: float, tallest: float, whose: str
) -> Block | None:
    """Return a part with its local speed; None where it has too many contours."""
    if len(part.contours) > MOST_SPEEDS:
        return None
    scale = _fit(figure, room, tallest)
    frame, px = figure.frame, 1.0 / scale
    bands = speed_edges(part.speed_runs, frame, px, points=scale / frame.unit)
    below = ", ".join(f"{100.0 * share:.0f}" for share in SLOW_SHARES)
    words = _of(whose, f"Local speed: wider below {below} % of {_table(part):.3g} m/min")
    return panel(
        frame, scale, figure.drawn(px, [bands], _lines_of(figure), again=True), Raw(""), words, room
    )


def _heat(
    figure: Figure, part: PartPicture, room: float, tallest: float, whose: str
) -> Block | None:
    """Return a part with the heat at its pierces; None where there is hardly any."""
    rises = part.pierce_rises
    most = float(rises.max(initial=0.0)) if rises is not None else 0.0
    if rises is None or most < MARKED:
        return None
    scale = _fit(figure, room, tallest)
    frame = figure.frame
    order = np.argsort(rises, kind="stable")[-MOST_SMALL:]
    at = (frame.units(part.pierces[order]) * scale).tolist()
    looks = [warm_look(rise, most) for rise in rises[order].tolist()]
    # many pierces lie close: dots no larger than their distance
    apart = scale * float(np.sqrt(frame.across * frame.down / max(len(rises), 1)))
    small = min(1.0, apart / WARMEST)
    dots = Raw("".join(  # one by one through `el` they take longer than all lines
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{small * radius:.1f}" fill="{colour}" class="warm"/>'
        for (x, y), (radius, colour) in zip(at, looks, strict=True)
    ))  # fmt: skip
    words = _of(whose, f"Heat at the pierces: large and dark is up to {most:.0f} K warmer")
    drawn = figure.drawn(1.0 / scale, (), _lines_of(figure), again=True)
    return panel(
        frame,
        scale,
        drawn,
        el("g", dots, stroke=OUTLINE, stroke_width=round(small, 2)),
        words,
        room,
    )


def _table(part: PartPicture) -> float:
    return part.evidence.setting.speed_m_per_min


def _lines_of(figure: Figure) -> str:
    """Return the id under which the contours of a figure stand once for all its pictures."""
    return f"lines-{figure.key}"


def _fit(figure: Figure, room: float, tallest: float) -> float:
    """Return pixels in one unit of the picture."""
    return min(room / figure.frame.across, tallest / figure.frame.down)


def panel(
    frame: Frame, scale: float, lines: Raw, marks: Raw, title: str, room: float = WIDE - 2.0 * EDGE
) -> Block:
    """Return one picture with its scale bar and title.

    Parameters
    ----------
    frame : Frame
        Of the picture.
    scale : float
        One unit of the frame. [px]
    lines, marks : Raw
        In units of the frame, and in pixels.
    title : str
        Broken into lines of `room`.
    room : float
        Width it may take. [px]
    """
    height = frame.down * scale
    length, words = scale_of(frame.width, frame.height)
    bar = length / frame.unit * scale
    titles = broken(title, max(int(room / (0.55 * 14.0)), 12))
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
            *(el("text", line, x=0.0, y=f"{below + 49.0 + LINE * k:.1f}")
              for k, line in enumerate(titles)),
        ), below + 46.0 + LINE * len(titles),
    )  # fmt: skip


def marks_in(room: Room, spots: Sequence[Spot], each: int = MOST_EACH) -> Raw:
    """Return numbered marks with pointers, and small shapes where there is no room."""
    places = room.at(np.array([(spot.x, spot.y) for spot in spots]).reshape(-1, 2)).tolist()
    small: list[str] = []
    pointers, numbered = [], []
    for put, spot, (x, y) in zip(place_marks(spots, [room], each), spots, places, strict=True):
        if put.dx is None or put.dy is None:
            if len(small) < MOST_SMALL:
                small.append(f'<use href="#s-{spot.level}" x="{x:.1f}" y="{y:.1f}"/>')
            continue
        line = f"M{x:.1f} {y:.1f}l{put.dx:g} {put.dy:g}"
        pointers += [
            el("path", d=line, stroke=METAL, stroke_width="3"), el("path", d=line, stroke=OUTLINE),
            el("circle", cx=f"{x:.1f}", cy=f"{y:.1f}", r="2.2"),
        ]  # fmt: skip
        title = el("title", f"Mark {spot.number}, {spot.level}: {spot.words}")
        shape = shape_of(spot.level, spot.number, round(x + put.dx, 1), round(y + put.dy, 1))
        numbered.append(el("g", title, shape, class_=f"mark-{spot.number}"))
    return together(Raw("".join(small)), *pointers, *numbered)
