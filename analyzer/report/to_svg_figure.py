"""What one picture shows: a part, or the whole drawing, as outlines in the units of a frame.

The writers of SVG and of pages share it; they differ only in how strokes and numbers keep their
size: a page scales the lines and not the numbers, a file on its own scales both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.analysis import Analysis, weight_of
from analyzer.geometry.contours import Bools, Contours, Floats
from analyzer.parts.part import Part
from analyzer.report.escape import shown
from analyzer.report.marks import Mark
from analyzer.report.palette import (
    CUT_OUT,
    METAL,
    OUTLINE,
    TRAVERSE,
    WARM_COLOURS,
)
from analyzer.report.to_html_element import Look, Raw, el, together
from analyzer.report.to_svg_bands import path_element, stroke
from analyzer.report.to_svg_marks import Spot
from analyzer.report.to_svg_paths import Frame, box_of, path_of
from analyzer.report.wording import weight
from analyzer.rules.rule import LEVELS
from analyzer.units import counted

MARGIN = 0.01  # around what is shown, of its longer side [-]
MARKING = BENDING = "#5A5A5A"
WHOLE, LOOSE = "drawing", "loose"
MOST_FIGURES = 60
WIDENED = 1.3  # so much longer a lone part's picture may get for marks beside the part [-]
MOST_SPEEDS = 1000  # contours of a part up to which its local speed is drawn
MOST_DOTS = 400  # pierces shown as dots; beyond, the way alone can be seen


@dataclass(frozen=True, eq=False)
class Figure:
    """One picture.

    Attributes
    ----------
    id : str
        Of the part, or "drawing".
    key : str
        The same as a name that may stand in an id and a style rule.
    title, caption : str
        What it shows, in words.
    frame : Frame
        What part of the plane.
    outlines, cut_outs, islands, lines : Contours
        Closed contours with metal inside, closed ones without, islands of lettering that fall
        out with their cut-out, and open cut lines.
    marks, bends : Contours
        Lines that are not cut.
    """

    id: str
    key: str
    title: str
    caption: str
    frame: Frame
    outlines: Contours
    cut_outs: Contours
    islands: Contours
    lines: Contours
    marks: Contours
    bends: Contours

    @property
    def edges(self) -> Contours:
        """All contours but cut-outs."""
        return Contours.join([self.outlines, self.islands, self.lines])

    def drawn(
        self, px: float | None = None, edges: Iterable[Raw] = (), shared: str = "", *,
        again: bool = False,
    ) -> Raw:  # fmt: skip
        """Return the figure's lines as SVG, in units of its frame.

        Parameters
        ----------
        px : float, optional
            Size of a pixel in units; without it lines keep their width however they are scaled.
        edges : iterable of Raw
            Laid under the outline.
        shared : str
            Id under which the contours stand once for several pictures of a file.
        again : bool
            Whether they stand in the file already.
        """
        thin = stroke(OUTLINE, 1.0, px) | {"stroke_linejoin": "round", "fill": "none"}
        metal: Look = {"fill": METAL, "fill_rule": "evenodd"}
        both = Contours.join([self.outlines, self.cut_outs])
        if shared:
            ground = el("use", href=f"#{shared}", **metal)
            lines = together(
                el("use", href=f"#{shared}", **thin),
                path_element(Contours.join([self.islands, self.lines]), self.frame, **thin),
            )
            if not again:
                defined = el("path", d=path_of(both, self.frame), id=shared)
                ground = together(el("defs", defined), ground)
        else:
            ground = path_element(both, self.frame, **metal) or Raw("")
            lines = path_element(
                Contours.join([both, self.islands, self.lines]), self.frame, **thin
            ) or Raw("")
        return together(
            # grey below, metal on it but for its cut-outs: right for parts in cut-outs as well
            path_element(self.outlines, self.frame, fill=CUT_OUT) if len(self.cut_outs) else None,
            ground,
            path_element(self.islands, self.frame, fill=CUT_OUT),
            *edges,
            self.uncut(px),
            lines,
        )

    def uncut(self, px: float | None = None) -> Raw:
        """Return mark lines dotted and bend lines dashed, as `drawn` has them."""
        return together(
            path_element(self.marks, self.frame, fill="none", **stroke(MARKING, 1.0, px, 4.0, 3.0)),
            path_element(self.bends, self.frame, fill="none",
                  **stroke(BENDING, 1.0, px, 9.0, 3.0, 2.0, 3.0)),
        )  # fmt: skip


def figures_of(analysis: Analysis, marks: Sequence[Sequence[Mark]]) -> tuple[list[Figure], int]:
    """Return the pictures of all parts, and of the whole drawing where something is beside them.

    Parameters
    ----------
    analysis : Analysis
        Parts and drawing.
    marks : sequence of sequence of Mark
        All that will be shown, one sequence a gas.

    Returns
    -------
    figures : list of Figure
        In the order of the parts.
    left : int
        Parts without a picture: where there are many, those with least found.
    """
    parts, left = _chosen(analysis, marks)
    figures = [
        figure_of_part(part, _caption(part, analysis), f"part{n}") for n, part in enumerate(parts)
    ]
    beside = [
        mark.places[np.array(_where(mark, figures)) == WHOLE]
        for row in marks
        for mark in row
        if len(mark.places)
    ]
    places = np.vstack((np.zeros((0, 2)), *beside))
    if len(places) or not figures or len(analysis.parts.loose):
        wider = _widened(figures, places) if analysis.totals.parts == 1 else None
        if wider is not None and not len(analysis.parts.loose):
            return [wider], left
        figures.append(figure_of_drawing(analysis, places))
    return figures, left


def _widened(figures: Sequence[Figure], places: Floats) -> Figure | None:
    """Return the only picture so wide that places beside the part are on it; None if too far."""
    if len(figures) != 1 or not len(places):
        return None
    frame = figures[0].frame
    part = np.array([[frame.x, frame.y], [frame.x + frame.width, frame.y - frame.height]])
    rows = np.vstack((places, part))
    box = np.concatenate((rows.min(axis=0), rows.max(axis=0)))
    if max(box[2] - box[0], box[3] - box[1]) > WIDENED * max(frame.width, frame.height):
        return None
    return replace(figures[0], frame=_frame(box))


def _chosen(
    analysis: Analysis, marks: Sequence[Sequence[Mark]]
) -> tuple[list[Part], int]:  # fmt: skip
    """Return the parts to show, in their order: where there are many, those with most found."""
    parts = list(analysis.parts.parts)
    if len(parts) <= MOST_FIGURES:
        return parts, 0
    weights = dict.fromkeys((part.id for part in parts), 0)
    for mark in (mark for row in marks for mark in row):
        if mark.part in weights:
            weights[mark.part] += 100 ** LEVELS.index(mark.level)
    by_weight = sorted(range(len(parts)), key=lambda n: -weights[parts[n].id])
    kept = sorted(by_weight[:MOST_FIGURES])
    return [parts[n] for n in kept], len(parts) - len(kept)


def spots_on(marks: Iterable[Mark], figures: Sequence[Figure]) -> dict[str, list[Spot]]:
    """Return the places of all marks by picture; the first place of every number is marked so."""
    rows: dict[str, list[Spot]] = {}
    seen: set[int] = set()
    for mark in sorted(marks, key=lambda one: (-LEVELS.index(one.level), one.number)):
        words = shown(mark.words, 160)
        for (x, y), where in zip(mark.places.tolist(), _where(mark, figures), strict=True):
            spot = Spot(x, y, mark.level, mark.number, words, mark.number not in seen)
            rows.setdefault(where, []).append(spot)
            seen.add(mark.number)
    return rows


def _where(mark: Mark, figures: Sequence[Figure]) -> list[str]:
    """Return on which picture every place of a mark is shown.

    Its part's where that holds the place, else the smallest that does, else its part's all the
    same, else the whole drawing's.
    """
    own = next((figure for figure in figures if figure.id == mark.part), None)
    if own is not None and _holds(own, mark.places).all():
        return [own.id] * len(mark.places)
    chosen = np.full(len(mark.places), own.id if own is not None else WHOLE, dtype=object)
    by_size = sorted(figures, key=lambda one: one.frame.width * one.frame.height)
    for figure in [*by_size[::-1], *([own] if own is not None else [])]:
        chosen[_holds(figure, mark.places)] = figure.id
    where: list[str] = chosen.tolist()
    return where


def _holds(figure: Figure, places: Floats) -> Bools:
    """Whether places lie on a picture, shape (k,)."""
    frame = figure.frame
    across, down = (places[:, 0] - frame.x) / frame.width, (frame.y - places[:, 1]) / frame.height
    held: Bools = (across >= 0.0) & (across <= 1.0) & (down >= 0.0) & (down <= 1.0)
    return held


def _caption(part: Part, analysis: Analysis) -> str:
    return (
        f"{counted(part.pierces, 'pierce')}, {part.cut_length:,.0f} mm of cut,"
        f" {weight(weight_of(part, analysis.job))}"
    )


def figure_of_part(part: Part, caption: str, key: str = "part") -> Figure:
    """Return the picture of one part."""
    contours = part.contours
    outline, islands = np.zeros((2, len(contours)), dtype=bool)
    outline[:1] = contours.closed[:1]
    islands[list(part.islands)] = True
    title = f"{part.id}, {part.width:.1f} x {part.height:.1f} mm"
    if part.count > 1:
        title += f", {part.count} off"
    if part.other_hand_of:
        title += f", other hand of {part.other_hand_of}"
    return Figure(
        part.id, key, shown(title), caption, _frame(box_of(contours, part.marks, part.bends)),
        contours.take(outline), contours.take(contours.closed & ~outline & ~islands),
        contours.take(islands), contours.take(~contours.closed), part.marks, part.bends,
    )  # fmt: skip


def figure_of_drawing(analysis: Analysis, places: Floats | None = None) -> Figure:
    """Return the picture of the whole drawing, wide enough to show `places` as well, (k, 2)."""
    drawing = analysis.drawing
    cuts = drawing.cuts
    box = box_of(cuts, drawing.marks, drawing.bends)
    if places is not None and len(places):
        rows = np.vstack((places, box.reshape(2, 2))) if len(cuts) else places
        box = np.concatenate((rows.min(axis=0), rows.max(axis=0)))
    outer, islands = np.zeros((2, len(cuts)), dtype=bool)
    for part in analysis.parts.parts:
        for copy in part.copies:
            outer[list(copy[:1])] = True
            islands[[copy[row] for row in part.islands]] = True
    outer &= cuts.closed
    title = f"The whole drawing, {counted(analysis.totals.parts, 'part')}"
    return Figure(
        WHOLE, "whole", title, "", _frame(box), cuts.take(outer),
        cuts.take(cuts.closed & ~outer & ~islands), cuts.take(islands), cuts.take(~cuts.closed),
        drawing.marks, drawing.bends,
    )  # fmt: skip


def traverse_lines(places: Floats, frame: Frame, px: float | None = None) -> Raw:
    """Return the way from pierce to pierce as a broken line, a dot at every pierce.

    Parameters
    ----------
    places : ndarray, shape (n, 2)
        Pierces in cutting order. [mm]
    frame : Frame
        Of the picture.
    px : float, optional
        As for `Figure.drawn`.
    """
    if not len(places):
        return Raw("")
    at = frame.units(places)
    steps = np.concatenate((at[:1], np.diff(at, axis=0))).ravel().tolist()
    way = ("M%d %d" + "l%d %d" * (len(at) - 1)) % tuple(steps)
    dots = "".join(f"M{x} {y}h0" for x, y in at.tolist()) if len(at) <= MOST_DOTS else ""
    return together(
        el("path", d=way.replace(" -", "-"), fill="none", **stroke(TRAVERSE, 1.5, px, 6.0, 4.0)),
        el("path", d=dots, stroke_linecap="round", **stroke(TRAVERSE, 5.0, px)) if dots else None,
    )


def warm_look(rise: float, most: float) -> tuple[float, str]:
    """Return radius [px] and colour of a pierce by the rise it is met with, and the highest."""
    share = min(max(rise / max(most, 1.0), 0.0), 1.0)
    return 2.5 + 6.0 * share, WARM_COLOURS[min(int(3.0 * share), 2)]


def _frame(box: Floats) -> Frame:
    return Frame.around(box, MARGIN * max(float(box[2] - box[0]), float(box[3] - box[1]), 1.0))


def scale_of(width: float, height: float = 0.0) -> tuple[float, str]:
    """Return the length of a scale bar for a picture of that size, and what it says. [mm]

    The longest of 1, 2 or 5 times a power of ten that is at most a third of the width; of a
    narrow picture at most a sixth of its height, for there is room beside it.

    Examples
    --------
    >>> scale_of(310.0), scale_of(18.0), scale_of(11.0, 118.0)
    ((100.0, '100 mm'), (5.0, '5 mm'), (10.0, '10 mm'))
    """
    width = max(width, height / 2.0)
    tens = 10.0 ** math.floor(math.log10(max(width, 1e-6) / 3.0))
    length = max(step * tens for step in (1.0, 2.0, 5.0) if step * tens <= width / 3.0 * 1.000001)
    return length, f"{length:g} mm" if length < 10_000.0 else f"{length / 1000.0:g} m"
