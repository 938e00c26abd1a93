"""A sheet as a picture: every part drawn once and used where its copies lie, and the head's way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.layout.layout import Placement
from analyzer.one_sheet import SheetGas, SheetResult
from analyzer.reasons import spoken
from analyzer.report.escape import shown
from analyzer.report.letters import boxes_of, put_letters
from analyzer.report.palette import LETTER, OUTLINE
from analyzer.report.sheet_words import job_words, part_names, verdict_of
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_svg import file_of, found_line, key_of, words_of
from analyzer.report.to_svg_bands import stroke
from analyzer.report.to_svg_figure import Figure, figure_of_part, traverse_lines
from analyzer.report.to_svg_marks import Room, Sides, Spot, room_of
from analyzer.report.to_svg_paths import Frame, box_of, path_of
from analyzer.report.to_svg_pictures import SIDES, Block, marks_in, panel, turn_numbers
from analyzer.report.turns import MIDDLE_ON_SCREEN, turns_of
from analyzer.report.verdict import verdict_words
from analyzer.report.view import Line
from analyzer.rules.rule import LEVELS, Finding
from analyzer.sheeting import Sheeting, SheetJob
from analyzer.units import span

STEPS = 100_000  # units along a sheet: a hundredth of a millimetre on three metres
MOST_MOVES = 3000  # moves drawn one by one; beyond, those from copy to copy
MOST_LINES = 20_000  # contours that marks keep clear of; of more, the outlines only
TALLEST, ROOM = 700.0, 950.0
GREY = "#EDEDED"  # sheet between the parts
EACH = 6  # how often one number is written on a sheet
TURN = "#004488"  # places in the order, as the scheme "high-contrast" has it
LEAST_LETTER = 26.0  # copies at least so large carry their letter [px]
LETTER_SIZE, LETTER_BASE, KEEP = 18.0, 6.0, 8.0  # of letters: size, base below, from marks [px]

Written = tuple[float, float, str]
"""Shares across and down a picture, and what stands there."""


@dataclass(frozen=True, eq=False)
class SheetFigure:
    """The picture of one sheet.

    Attributes
    ----------
    sheet : SheetResult
        What lies on it.
    key : str
        Name of it that may stand in an id.
    frame : Frame
        Of the picture.
    parts : tuple of Figure
        Every part about the origin of its drawing, in units of the sheet.
    """

    sheet: SheetResult
    key: str
    frame: Frame
    parts: tuple[Figure, ...]

    def drawn(self, px: float | None = None) -> Raw:
        """Return sheet and copies in units of the frame; px as for `Figure.drawn`."""
        parts = [
            el("g", figure.drawn(px), id=f"{self.key}-{n}") for n, figure in enumerate(self.parts)
        ]
        return together(el("defs", *parts), self.again(px))

    def again(self, px: float | None = None) -> Raw:
        """Return the same where its parts are defined already."""
        copies = [
            el("use", href=f"#{self.key}-{placed.part}", transform=self._transform(placed))
            for placed in self.sheet.layout.placements
        ]
        return together(self._edge(px), *copies)

    def _edge(self, px: float | None) -> Raw:
        outline, layout = self.sheet.outline, self.sheet.layout
        if len(outline):
            data = path_of(outline.take([0]), self.frame)
        elif layout.length_mm > 0.0 and layout.width_mm > 0.0:
            corners = np.array([[0.0, 0.0], [layout.length_mm, layout.width_mm]])
            (left, low), (right, high) = self.frame.units(corners).tolist()
            data = f"M{left} {low}H{right}V{high}H{left}z"
        else:
            return Raw("")
        return el("path", d=data, fill=GREY, **stroke(OUTLINE, 1.5, px))

    def _transform(self, placed: Placement) -> str:
        x, y = self.frame.units(np.array([[placed.x, placed.y]]))[0].tolist()
        turn = round(-placed.turn_deg, 6) + 0.0
        words = f"translate({x} {y})"
        if turn % 360.0:
            words += f"rotate({turn:g})"
        return words + ("scale(-1 1)" if placed.mirrored else "")

    @cached_property
    def middles(self) -> Floats:
        """Middle of the box of every copy, shape (k, 2). [mm]"""
        box = self.sheet.layout.outlines().box
        middle: Floats = (box[:, :2] + box[:, 2:]) / 2.0
        return middle

    @cached_property
    def sizes(self) -> Floats:
        """Shorter side of the box of every copy, shape (k,). [mm]"""
        box = self.sheet.layout.outlines().box
        size: Floats = (box[:, 2:] - box[:, :2]).min(axis=1)
        return size

    def room(self, seen: float, sides: Sides, letters: Sequence[Written]) -> Room:
        """Return the picture so wide, with what marks should not cover: lines, letters. [px]"""
        size = np.array([seen, seen * self.frame.height / self.frame.width])
        middles = [size * (across, down) for across, down, _ in letters]
        words = boxes_of(middles, [letter_half(letter) for _, _, letter in letters])
        return replace(self._lines(seen, sides), words=words)

    def _lines(self, seen: float, sides: Sides) -> Room:
        layout = self.sheet.layout
        size = sum(len(layout.parts[placed.part].contours) for placed in layout.placements)
        if size > MOST_LINES:
            return room_of(self.frame, seen, sides, layout.outlines(), Contours.empty())
        lines = Contours.join(
            [placed.contours(layout.parts[placed.part].contours) for placed in layout.placements]
        )
        return room_of(self.frame, seen, sides, lines, Contours.empty())

    def letters(self, seen: float, narrowest: float | None = None) -> list[Written]:
        """Return letters of the parts where they fit, clear of the places of all findings.

        Parameters
        ----------
        seen : float
            How wide the picture is seen: copies too small on it have none. [px]
        narrowest : float, optional
            Least width at which they must be clear; as seen if not given. [px]

        Returns
        -------
        list of (across, down, letter)
            Shares from the upper left corner; none where all copies are of one part.
        """
        if len(self.sheet.counts) < 2:
            return []
        layout, px = self.sheet.layout, self.frame.width / (narrowest or seen)
        told = [letter_of(part) for part in range(len(layout.parts))]
        half = px * np.array([letter_half(letter) for letter in told])
        own = half.max(axis=1)[[placed.part for placed in layout.placements]]
        fit = self.sizes * (seen / self.frame.width) >= LEAST_LETTER
        places = [place for one in self.sheet.gases for f in one.findings for place in f.places]
        taken = np.array(places).reshape(-1, 2)
        return [
            (*self.frame.share(x, y), told[layout.placements[copy].part])
            for copy, x, y in put_letters(layout, half, own * fit, taken, KEEP * px)
        ]

    def turns(self, one: SheetGas) -> Floats:
        """Return the middles of all copies in the order of cuts, shape (k, 2). [mm]"""
        middles: Floats = self.middles[one.plan.copies]
        return middles

    def moves(self, one: SheetGas, px: float | None = None) -> Raw:
        """Return the way of the head; only from copy to copy where pierces are too many."""
        places = one.plan.pierces
        if len(places) > MOST_MOVES:
            copy = one.plan.order[:, 0]
            places = places[np.flatnonzero(np.diff(copy, prepend=-1) != 0)]
        return traverse_lines(places, self.frame, px)


def sheet_figure(sheet: SheetResult, key: str) -> SheetFigure:
    """Return the picture of a sheet."""
    layout = sheet.layout
    box = box_of(sheet.outline, layout.outlines())
    if layout.length_mm > 0.0 and layout.width_mm > 0.0 and not len(sheet.outline):
        box = np.array([0.0, 0.0, layout.length_mm, layout.width_mm])
    frame = Frame.around(box, 0.003 * float(max(box[2] - box[0], box[3] - box[1])), STEPS)
    at_origin = replace(frame, x=0.0, y=0.0)
    parts = tuple(replace(figure_of_part(part, ""), frame=at_origin) for part in layout.parts)
    return SheetFigure(sheet, key, frame, parts)


def letter_of(part: int) -> str:
    """Return A, B, ... Z, AA, AB, ...

    Examples
    --------
    >>> letter_of(0), letter_of(25), letter_of(26)
    ('A', 'Z', 'AA')
    """
    word = ""
    part += 1
    while part:
        part, rest = divmod(part - 1, 26)
        word = chr(ord("A") + rest) + word
    return word


def letter_half(letter: str) -> Floats:
    """Return half the width and half the height of a letter on a page, shape (2,). [px]"""
    return np.array([0.4 * LETTER_SIZE * len(letter), 0.45 * LETTER_SIZE])


def parts_on(sheet: SheetResult, names: Mapping[str, str]) -> list[str]:
    """Return what lies on a sheet, part by part: its letter where there are several, count, name.

    `names` says what every part is called, as `sheet_words.part_names` does.
    """
    alone = len(sheet.counts) < 2
    return [
        f"{'' if alone else letter_of(part) + ' '}{count} x {_called(sheet.names[part], names)}"
        for part, count in sheet.counts.items()
    ]


def _called(name: str, names: Mapping[str, str]) -> str:
    return names.get(name) or shown(name)


def title_of(sheet: SheetResult) -> str:
    """Return what a sheet is: its number, how many alike, its size, how much of it is used."""
    words = f"Sheet {sheet.number}"
    if sheet.copies > 1:
        words += f", {sheet.copies} alike"
    layout = sheet.layout
    if layout.length_mm > 0.0 and layout.width_mm > 0.0:
        words += f", {layout.length_mm:g} x {layout.width_mm:g} mm"
    if sheet.use > 0.0:
        words += f", {100.0 * sheet.use:.0f} % used"
    return words


def sheet_spots(findings: Sequence[Finding]) -> list[Spot]:
    """Return the places of findings on a sheet; the first of every number is marked so."""
    spots: list[Spot] = []
    seen: set[int] = set()
    for f in sorted(findings, key=lambda one: (-LEVELS.index(one.level), one.mark)):
        for x, y in f.places:
            spots.append(Spot(x, y, f.level, f.mark, shown(f.message, 160), f.mark not in seen))
            seen.add(f.mark)
    return spots


# --- a file of its own --------------------------------------------------------------------


def sheet_svg(sheeting: Sheeting, *, gas: str | None = None) -> str:
    """Return all sheets as one picture: parts, order of cuts, the head's way, findings.

    Parameters
    ----------
    sheeting : Sheeting
        The whole answer.
    gas : str, optional
        Gas to show; the one each job reads first, also where a job does not have this one.
    """
    blocks: list[Block] = []
    for number, job in enumerate(sheeting.jobs):
        known = [result.gas for result in job.answer.analysis.gases]
        blocks += _job_blocks(job, gas if gas in known else job.read, f"j{number}")
    return file_of(shown(sheeting.path.name), blocks)


def _job_blocks(job: SheetJob, gas: str, key: str) -> list[Block]:
    answer = job.answer
    verdict = verdict_words(answer.analysis, answer.advice, listed_below=False, command="sheet")
    _, *lines = verdict_of(job)
    shown_in = f" Shown in {spoken(gas)}." if gas else ""
    blocks = [
        Block(Raw(""), 20.0), *words_of(verdict, size=18, weight=700),
        *words_of(f"{job_words(job)}.{shown_in}"),
        *(block for line in lines[:2] for block in words_of(line)), key_of(),
    ]  # fmt: skip
    for sheet in job.sheets:
        figure = sheet_figure(sheet, f"{key}s{sheet.number}")
        blocks += _sheet_blocks(figure, sheet.under(gas), part_names(job))
    return blocks


def _sheet_blocks(
    figure: SheetFigure, one: SheetGas | None, names: Mapping[str, str]
) -> list[Block]:
    frame, sheet = figure.frame, figure.sheet
    scale = min(ROOM / frame.across, TALLEST / frame.down)
    wide, tall = frame.across * scale, frame.down * scale
    findings = one.findings if one is not None else ()
    written = figure.letters(wide)
    letters = [_letter(letter, across * wide, down * tall) for across, down, letter in written]
    marks = marks_in(figure.room(wide, SIDES, written), sheet_spots(findings), EACH)
    time = f", {span(one.timing.total)} a sheet" if one is not None else ""
    blocks = [panel(frame, scale, figure.drawn(1.0 / scale), together(*letters, marks),
                    f"{title_of(sheet)}{time}")]  # fmt: skip
    if one is not None:
        at = frame.units(figure.turns(one)).astype(np.float64) * scale
        turns = turns_of(at, MIDDLE_ON_SCREEN, (wide, tall))
        lines = together(figure.again(1.0 / scale), figure.moves(one, 1.0 / scale))
        blocks.append(panel(frame, scale, lines, turn_numbers(turns, at, TURN), turns.title))
    blocks += words_of("; ".join(parts_on(sheet, names)))
    levels = {f.mark: f.level for f in findings}
    for f in findings:
        line = Line((f.mark,), f.level, shown(f.message, 400), shown(f.remedy, 400))
        blocks.append(found_line(line, levels))
    return blocks


def _letter(letter: str, x: float, y: float) -> Raw:
    return el(
        "text", letter, x=f"{x:.1f}", y=f"{y + LETTER_BASE:.1f}", text_anchor="middle", fill=LETTER,
        stroke="#FFFFFF", stroke_width="3", paint_order="stroke", font_style="italic",
        font_family="serif", font_size=f"{LETTER_SIZE:g}", class_="letter",
    )  # fmt: skip
