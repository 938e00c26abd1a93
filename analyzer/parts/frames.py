"""Rectangles around everything: the frame of a drawing, the outline of a sheet, or a part.

Taken for a part, such a rectangle would turn every part in it into a cut-out.  It is set
aside where its size is that of paper or of a stock sheet and what lies in it has
cut-outs of its own; where only the second holds, it stays and the question is asked.

Sizes of paper: ISO 216 (A0 to A4), frames in them by ISO 5457 (20 mm at the binding edge,
10 mm elsewhere), ASME Y14.1 (A to E).  Stock sheets: common practice, no source.
"""

from __future__ import annotations

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.geometry.circles import Circles
from analyzer.geometry.contours import Contours, Ints
from analyzer.parts.containment import Containment
from analyzer.parts.lettering import lettering_islands
from analyzer.units import counted

ISO_PAPER = ((841.0, 1189.0), (594.0, 841.0), (420.0, 594.0), (297.0, 420.0), (210.0, 297.0))
US_PAPER = ((215.9, 279.4), (279.4, 431.8), (431.8, 558.8), (558.8, 863.6), (863.6, 1117.6))
"""Width and height. [mm]"""

SCALES = (1.0, 2.0, 2.5, 5.0, 10.0, 20.0, 25.0, 50.0, 0.5, 0.2, 0.1)
"""A drawing at a scale of 1:n has its frame n times as large beside parts in full size. [-]"""

STOCK = ((1000.0, 2000.0), (1250.0, 2500.0), (1500.0, 3000.0), (1000.0, 3000.0), (1500.0, 4000.0),
         (2000.0, 4000.0), (2000.0, 6000.0), (1500.0, 6000.0), (1219.2, 2438.4), (1220.0, 2440.0),
         (1524.0, 3048.0))  # fmt: skip
"""Common stock sheets, width and length. [mm]"""

CENTRED = 0.05
"""Centres of a ring's circles agree within this. [mm]"""

SHEET = "sheet outline, not a part"
"""Why the outline of a sheet is not cut."""

AGREE = 0.2
"""A side has the size of paper or of a sheet within this, times the scale. [mm]"""


def surrounding(
    cuts: Contours, held: Containment, circles: Circles
) -> tuple[int, str, Fact] | None:
    """Return the rectangle around everything that is no part, or may be none.

    Parameters
    ----------
    cuts : Contours
    held : Containment
    circles : Circles
        Of the cuts, both.

    Returns
    -------
    (row, reason, fact) or None
        The reason is empty where it stays a part.
    """
    row = _around_everything(cuts, held)
    if row is None:
        return None
    parent = held.parent
    inside = np.flatnonzero((parent == row) & cuts.closed)
    like_parts = with_cut_outs(cuts, held, circles, inside)
    if not len(like_parts):
        return None
    low, high = sorted((cuts.box[row, 2:] - cuts.box[row, :2]).tolist())
    size = f"rectangle {high:.6g} x {low:.6g} around {counted(len(inside), 'closed contour')}"
    paper, stock = _paper(low, high), _is_near((low, high), STOCK, 1.0)
    middle = (cuts.box[row, :2] + cuts.box[row, 2:]) / 2.0
    what = f"the frame of the drawing ({paper})" if paper else "the outline of the sheet"
    if paper or (stock and len(inside) > 1):
        words = f"{size}: taken for {what}, so not cut; or is it a part with cut-outs?"
        reason = "drawing frame, not a part" if paper else SHEET
    elif len(like_parts) > 1:
        reason = ""
        words = (
            f"{size}, {len(like_parts)} of which have cut-outs of their own: read as a part; "
            "or is it the outline of a sheet? Then give --layer sheet=NAME"
        )
    else:
        return None
    return row, reason, Fact("view-not-part", words, float(middle[0]), float(middle[1]))


def with_cut_outs(cuts: Contours, held: Containment, circles: Circles, inside: Ints) -> Ints:
    """Return contours with others in them that are neither letters nor circles about one centre."""
    children = np.flatnonzero((held.parent >= 0) & cuts.closed)
    children = np.setdiff1d(children, lettering_islands(cuts, held, circles))
    above = held.parent[children]
    both = circles.round[children] & circles.round[above]
    ring = both & (np.hypot(*(circles.centre[children] - circles.centre[above]).T) <= CENTRED)
    hold: Ints = np.intersect1d(inside, above[~ring])
    return hold


def paper_of(cuts: Contours, row: int) -> str:
    """Return the paper whose edge or frame contour `row` is, empty for none."""
    low, high = sorted((cuts.box[row, 2:] - cuts.box[row, :2]).tolist())
    return _paper(low, high)


def _around_everything(cuts: Contours, held: Containment) -> int | None:
    """Row of the one rectangle along x and y that holds every other contour."""
    if len(cuts) < 3:
        return None
    top = np.flatnonzero((held.depth == 0) & (held.parent < 0))
    if len(top) != 1 or not cuts.closed[top[0]]:
        return None
    row = int(top[0])
    mine = slice(cuts.offsets[row], cuts.offsets[row + 1])
    side = cuts.box[row, 2:] - cuts.box[row, :2]
    straight = bool((cuts.bulges[mine] == 0.0).all())
    full = abs(abs(float(cuts.area[row])) - float(side.prod())) <= 1e-6 * float(side.prod())
    return row if straight and full and _few(cuts, row) else None


def _few(cuts: Contours, row: int) -> bool:
    return bool(cuts.offsets[row + 1] - cuts.offsets[row] <= 8)


def _paper(low: float, high: float) -> str:
    """Return the paper whose edge or frame a rectangle is, empty for none."""
    for names, sizes in (("A0 A1 A2 A3 A4", ISO_PAPER), ("A B C D E", US_PAPER)):
        for name, (width, height) in zip(names.split(), sizes, strict=True):
            sheets = [(width, height)]
            if sizes is ISO_PAPER:  # the binding edge is on the left
                sheets += [(width - 20.0, height - 30.0), (width - 30.0, height - 20.0)]
            for scale in SCALES:
                if _is_near((low, high), sheets, scale):
                    kind = "ISO" if sizes is ISO_PAPER else "ASME"
                    return f"{kind} {name}" + ("" if scale == 1.0 else f" at 1:{scale:g}")
    return ""


def _is_near(
    size: tuple[float, float], sheets: list[tuple[float, float]] | tuple[tuple[float, float], ...],
    scale: float,
) -> bool:  # fmt: skip
    return any(
        max(abs(size[0] - scale * min(s)), abs(size[1] - scale * max(s))) <= AGREE * max(scale, 1.0)
        for s in sheets
    )
