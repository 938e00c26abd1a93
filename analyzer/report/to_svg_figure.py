"""What one picture shows: a part, or the whole drawing, as outlines in the units of a frame.

The writers of SVG and of pages share it; they differ only in how strokes and numbers keep their
size: a page scales the lines and not the numbers, a file on its own scales both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyzer.analysis import Analysis
from analyzer.geometry.contours import Contours
from analyzer.parts.part import Part
from analyzer.report.escape import shown
from analyzer.report.to_html_element import Look, Raw, el, together
from analyzer.report.to_svg_paths import Frame, box_of, path_of
from analyzer.report.wording import several

MARGIN = 0.01  # around what is shown, of its longer side [-]
METAL, CUT_OUT, OUTLINE, MARKING, BENDING = "#ffffff", "#d9dadc", "#000000", "#5a5a5a", "#5a5a5a"
WHOLE = "drawing"


@dataclass(frozen=True, eq=False)
class Figure:
    """One picture.

    Attributes
    ----------
    id : str
        Of the part, or "drawing".
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
    title: str
    caption: str
    frame: Frame
    outlines: Contours
    cut_outs: Contours
    islands: Contours
    lines: Contours
    marks: Contours
    bends: Contours

    def drawn(self, px: float = 1.0) -> Raw:
        """Return the figure's lines as SVG, in units of its frame; px [units] is one pixel."""
        thin: Look = {"stroke": OUTLINE, "stroke_width": px, "stroke_linejoin": "round"}
        return together(
            # grey below, metal on it but for its cut-outs: right for parts in cut-outs as well
            _path(self.outlines, self.frame, fill=CUT_OUT) if len(self.cut_outs) else None,
            _path(Contours.join([self.outlines, self.cut_outs]), self.frame, fill=METAL,
                  fill_rule="evenodd", **thin),
            _path(self.islands, self.frame, fill=CUT_OUT, **thin),
            _path(self.lines, self.frame, fill="none", **thin),
            _path(self.marks, self.frame, fill="none", stroke=MARKING, stroke_width=px,
                  stroke_dasharray=f"{4.0 * px:g} {3.0 * px:g}"),
            _path(self.bends, self.frame, fill="none", stroke=BENDING, stroke_width=px,
                  stroke_dasharray=f"{9.0 * px:g} {3.0 * px:g} {2.0 * px:g} {3.0 * px:g}"),
        )  # fmt: skip


def figure_of_part(part: Part, caption: str) -> Figure:
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
        part.id, shown(title), caption, _frame(box_of(contours, part.marks, part.bends)),
        contours.take(outline), contours.take(contours.closed & ~outline & ~islands),
        contours.take(islands), contours.take(~contours.closed), part.marks, part.bends,
    )  # fmt: skip


def figure_of_drawing(analysis: Analysis, places: np.ndarray | None = None) -> Figure:
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
    title = f"The whole drawing, {several(analysis.totals.parts, 'part')}"
    return Figure(
        WHOLE, title, "", _frame(box), cuts.take(outer),
        cuts.take(cuts.closed & ~outer & ~islands), cuts.take(islands), cuts.take(~cuts.closed),
        drawing.marks, drawing.bends,
    )  # fmt: skip


def _frame(box: np.ndarray) -> Frame:
    return Frame.around(box, MARGIN * max(float(box[2] - box[0]), float(box[3] - box[1]), 1.0))


def scale_of(width: float) -> tuple[float, str]:
    """Return the length of a scale bar for a picture so wide, and what it says. [mm]

    The longest of 1, 2 or 5 times a power of ten that is at most a third of the width.

    Examples
    --------
    >>> scale_of(310.0), scale_of(18.0)
    ((100.0, '100 mm'), (5.0, '5 mm'))
    """
    tens = 10.0 ** math.floor(math.log10(max(width, 1e-6) / 3.0))
    length = max(step * tens for step in (1.0, 2.0, 5.0) if step * tens <= width / 3.0 * 1.000001)
    return length, f"{length:g} mm" if length < 10_000.0 else f"{length / 1000.0:g} m"


def _path(contours: Contours, frame: Frame, **look: str | float) -> Raw | None:
    data = path_of(contours, frame)
    return el("path", d=data, **look) if data else None
