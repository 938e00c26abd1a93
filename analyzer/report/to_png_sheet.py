"""One sheet as a page: where every copy lies, in which order it is cut, and how long it takes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.one_sheet import SheetGas, SheetResult
from analyzer.process.material import material
from analyzer.reasons import spoken
from analyzer.report.escape import shown
from analyzer.report.labels import FEWER_NUMBERED
from analyzer.report.letters import boxes_of, put_letters
from analyzer.report.marks import bars_of, marks_of
from analyzer.report.palette import LETTER, LEVEL_SHAPES, METAL, OUTLINE, SHEET, TRAVERSE
from analyzer.report.sheet_words import part_names
from analyzer.report.to_png_bars import burr_bars, time_bars
from analyzer.report.to_png_lines import draw_ends, draw_outlines, polylines
from analyzer.report.to_png_marks import Frame, draw_scale, put_marks
from analyzer.report.to_png_page import blank, draw_bars, filled, new_axes
from analyzer.report.to_png_words import (
    DPI,
    EDGE,
    WIDE,
    Words,
    draw_header,
    draw_list,
    wrapped,
    write,
)  # fmt: skip
from analyzer.report.to_png_words import (
    LETTER as LETTER_WIDE,
)
from analyzer.report.to_svg_sheet import letter_of, parts_on, title_of
from analyzer.report.verdict import verdict_words
from analyzer.report.view import Line
from analyzer.report.wording import short_forms
from analyzer.sheeting import SheetJob
from analyzer.units import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FOOT = (
    "Scale bar true in both directions. First pierce: white triangle; last: black triangle on its"
    " point. Blue: the moves."
)
LEAST_LETTER = 12.0
"""Copies whose shorter side is at least so long carry their letter. [pt]"""

LETTER_SIZE, KEEP = 11.0, 4.5
"""Of letters, and from them to places of marks and to the first and last pierce. [pt]"""

DASHED = 400  # moves up to which they are dashed
COLUMN = 3.7  # width of the list of parts [in]


@dataclass(frozen=True, eq=False)
class SheetPage:
    """One sheet of a job, and which of how many it is."""

    job: SheetJob
    sheet: SheetResult
    more: str = ""

    @property
    def words(self) -> Words:
        """Header and list of the page."""
        answer, sheet = self.job.answer, self.sheet
        one = self.one
        told = f"{title_of(sheet)}; {counted(len(sheet.layout.placements), 'part')}"
        if one is not None:
            told += f"; {one.timing.total / 60.0:,.1f} min a sheet in {spoken(one.gas)}"
        job = self.job.job
        lines = (
            ()
            if one is None
            else tuple(
                Line((f.mark,), f.level, shown(f.message, 400), shown(f.remedy, 400))
                for f in sorted(one.findings, key=lambda f: -list(LEVEL_SHAPES).index(f.level))
            )
        )
        return Words(
            shown(self.job.file),
            f"{material(job.material).words} {job.thickness_mm:g} mm, {job.power_kw:g} kW",
            verdict_words(answer.analysis, answer.advice, listed_below=False, command="sheet"),
            told, lines,
            FOOT + (f" {self.more}" if self.more else ""),
        )  # fmt: skip

    @property
    def one(self) -> SheetGas | None:
        """The sheet under the gas shown."""
        return self.sheet.under(self.job.read)

    @cached_property
    def contours(self) -> Contours:
        """Contours of all copies where they lie; metal on the left of closed ones."""
        placed = []
        for copy in self.sheet.layout.placements:
            own = self.sheet.layout.parts[copy.part].contours
            moved = own.moved(copy.matrix, (copy.x, copy.y))
            placed.append(moved.reversed() if copy.mirrored else moved)
        return Contours.join(placed)

    @cached_property
    def edge(self) -> Contours:
        """Edge of the sheet; empty where it is not known."""
        layout = self.sheet.layout
        if len(self.sheet.outline):
            return self.sheet.outline.take([0])
        if layout.length_mm <= 0.0 or layout.width_mm <= 0.0:
            return Contours.empty()
        x, y = layout.length_mm, layout.width_mm
        return Contours.from_points([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]])

    @property
    def box(self) -> Floats:
        """Around the sheet and all copies, shape (4,). [mm]"""
        box = Contours.join([self.edge, self.contours]).box
        if not len(box):
            return np.array([0.0, 0.0, 1.0, 1.0])
        return np.concatenate((box[:, :2].min(axis=0), box[:, 2:].max(axis=0)))

    def draw(self, figure: Figure) -> None:
        """Draw the page into an empty figure of A4 size."""
        words = self.words
        top = draw_header(figure, words)
        one = self.one
        placed = {f.mark for f in one.findings if f.places} if one else set()
        foot = draw_list(figure, words, placed)
        width, bars = WIDE - 2.0 * EDGE, 1.5
        box = self.box
        needed = width * float((box[3] - box[1]) / (box[2] - box[0])) + 0.45
        tall = min(needed, top - foot - bars - 0.1)
        self._main(figure, (EDGE, top - tall, width, tall))
        y = top - tall - 0.1
        self._parts(figure, y)
        left = EDGE + COLUMN + 0.6
        wide = (WIDE - EDGE - left - 0.7) / 2.0
        gases = [gas.gas for gas in self.sheet.gases]
        shown_gas = self.job.read

        def times(axes: Axes) -> None:
            split = [bars_of(gas.timing) for gas in self.sheet.gases]
            time_bars(axes, gases, split, shown_gas, "one sheet")

        def burrs(axes: Axes) -> None:
            burr_bars(axes, gases, [gas.edge_m for gas in self.sheet.gases], shown_gas, "one sheet")

        if gases:
            draw_bars(figure, times, (left, y - bars, wide, bars))
            draw_bars(figure, burrs, (left + wide + 0.7, y - bars, wide, bars))

    def _main(self, figure: Figure, place: tuple[float, float, float, float]) -> None:
        axes = new_axes(figure, place)
        axes.set_gid("main")
        limits, points = filled(self.box, place[2], place[3], (4.0, 18.0, 4.0, 4.0))
        blank(axes, limits)
        frame = Frame(axes, limits, points)
        self._sheet(axes)
        draw_outlines(axes, self.contours, 0.2 * 72.0 / (points * DPI), 0.7)
        one = self.one
        if one is not None:
            self._order(axes, one)
        letters = self._letters(frame)
        if one is not None:
            levels = list(LEVEL_SHAPES)
            marks = [mark for mark in marks_of(one.findings) if len(mark.places)]
            marks.sort(key=lambda mark: -levels.index(mark.level))
            put_marks(frame, marks, self.contours, FEWER_NUMBERED, list(letters))
        draw_scale(frame, 3.0, 110.0)

    def _sheet(self, axes: Axes) -> None:
        from matplotlib.collections import PolyCollection

        if len(self.edge):
            sheet = PolyCollection(
                polylines(self.edge, 0.1), facecolors=SHEET, edgecolors=OUTLINE, linewidths=1.2,
                zorder=0.2,
            )  # fmt: skip
            sheet.set_gid("sheet")
            axes.add_collection(sheet)

    def _order(self, axes: Axes, one: SheetGas) -> None:
        places = one.plan.pierces
        if not len(places):
            return
        few = len(places) <= DASHED
        (line,) = axes.plot(
            places[:, 0], places[:, 1], color=TRAVERSE, zorder=4.0, linewidth=0.7 if few else 0.35,
            linestyle=(0, (4.0, 2.0)) if few else "solid",
        )  # fmt: skip
        line.set_gid("moves")
        draw_ends(axes, places[:1], places[-1:])

    def _letters(self, frame: Frame) -> Floats:
        """Write the letter of its part into every copy that is large enough on paper.

        Return their boxes on paper, shape (k, 4). [pt]
        """
        from matplotlib.patheffects import withStroke

        if len(self.sheet.counts) < 2:
            return np.zeros((0, 4))
        layout, one = self.sheet.layout, self.one
        told = [letter_of(part) for part in range(len(layout.parts))]
        half = np.array([(0.4 * LETTER_SIZE * len(letter), 0.42 * LETTER_SIZE) for letter in told])
        box = layout.outlines().box
        large = (box[:, 2:] - box[:, :2]).min(axis=1) * frame.points >= LEAST_LETTER
        own = half.max(axis=1)[[placed.part for placed in layout.placements]]
        taken = [np.zeros((0, 2))]
        if one is not None:
            taken += [np.array(f.places).reshape(-1, 2) for f in one.findings]
            taken += [one.plan.pierces[:1], one.plan.pierces[-1:]]
        put = put_letters(
            layout, half / frame.points, own * large / frame.points, np.vstack(taken),
            KEEP / frame.points,
        )  # fmt: skip
        for copy, x, y in put:
            frame.axes.annotate(
                told[layout.placements[copy].part], (x, y), fontsize=LETTER_SIZE, ha="center",
                va="center", zorder=5.0, style="italic", family="serif", color=LETTER, gid="letter",
                path_effects=[withStroke(linewidth=2.0, foreground=METAL)],
            )  # fmt: skip
        places = frame.on_paper(np.array([(x, y) for _, x, y in put]).reshape(-1, 2))
        return boxes_of(list(places), [half[layout.placements[copy].part] for copy, _, _ in put])

    def _parts(self, figure: Figure, top: float) -> None:
        """List what lies on the sheet, letter by letter."""
        write(figure, EDGE, top, "On the sheet", 8.0, fontweight="bold")
        names = part_names(self.job)
        here = [names[self.sheet.names[part]] for part in self.sheet.counts]
        short = short_forms(here, int(COLUMN / (LETTER_WIDE * 7.2)) - 8)
        rows = parts_on(self.sheet, {key: short.get(name, name) for key, name in names.items()})
        most = 9 if len(rows) <= 9 else 8
        if len(rows) > most:
            rows = [*rows[:most], f"and {len(rows) - most} parts more"]
        for k, row in enumerate(rows):
            line = wrapped(row, 7.2, COLUMN, 1)
            write(figure, EDGE, top - 0.17 - 0.135 * k, line[0] if line else "", 7.2)
