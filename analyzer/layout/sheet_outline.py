"""Which line of a drawn sheet is the outline of the sheet itself.

Decided before containment: taken for a part, it would turn every part in it into a cut-out.
The order is: a sheet layer, the size the user gave, the size of a stock sheet, and last a line
around several parts with cut-outs of their own, which may be a remnant.
"""

from __future__ import annotations

import numpy as np

from analyzer.drawing.drawing import Drawing, Fact
from analyzer.geometry.circles import Circles
from analyzer.geometry.contours import Bools, Contours, Ints
from analyzer.parts.containment import Containment, find_containment
from analyzer.parts.frames import AGREE, SHEET, STOCK, paper_of, with_cut_outs
from analyzer.parts.holes import find_slots, round_cut_outs
from analyzer.tolerances import DEFAULT, Tolerances

DEEPEST = 3
"""The edge of the paper, a frame and the sheet may lie in each other."""

HOLE = 60.0
"""Round and slotted lines up to this extent may all be holes of one plate (ours). [mm]"""

Size = tuple[float, float]


def set_sheet_aside(
    drawing: Drawing, sheet: Size | None = None, tolerances: Tolerances = DEFAULT
) -> Drawing:
    """Return the drawing with the outline of its sheet set aside, if it has one.

    Parameters
    ----------
    drawing : Drawing
        As read, before its parts are looked for.
    sheet : (float, float), optional
        Length and width the user gave. [mm]
    tolerances : Tolerances

    Returns
    -------
    Drawing
        Its `sheets` tell the outline; a fact says why, and that it may be read otherwise.
    """
    if len(drawing.sheets):
        return drawing
    cuts = drawing.cuts
    held = find_containment(cuts, tolerances)
    around = [row for row in _around_everything(cuts, held) if not paper_of(cuts, row)]
    told = [row for row in around if sheet and _has_size(cuts, row, (sheet,))]
    circles = round_cut_outs(cuts, tolerances)
    stock = [row for row in around if _has_size(cuts, row, STOCK)]
    stock = [row for row in stock if not _only_holes(cuts, held, circles, row)]
    several = [row for row in around if _holds_parts(cuts, held, circles, row)]
    for rows, why in (
        (told, "it has the size you gave"),
        (stock, "it has the size of a stock sheet"),
        (several, "several parts with cut-outs of their own lie in it"),
    ):
        if rows:
            return drawing.sheet_aside(rows[0], SHEET, _fact(cuts, rows[0], why))
    return drawing


def _fact(cuts: Contours, row: int, why: str) -> Fact:
    x, y = cuts.box[row, :2].tolist()
    across, up = (cuts.box[row, 2:] - cuts.box[row, :2]).tolist()
    form = "" if is_rectangle(cuts, row) else ", no rectangle (a remnant)"
    return Fact(
        "sheet-outline",
        f"line around everything, {across:.6g} x {up:.6g}{form}: taken for the outline of the "
        f"sheet, so not cut, because {why}; if it is a part, check it with burrcast check",
        x, y,
    )  # fmt: skip


def is_rectangle(contours: Contours, row: int) -> bool:
    """Return whether a closed contour is a rectangle along x and y."""
    mine = contours.segments_of(row)
    side = contours.box[row, 2:] - contours.box[row, :2]
    whole = float(side.prod())
    straight = bool((contours.bulges[mine] == 0.0).all())
    return straight and abs(abs(float(contours.area[row])) - whole) <= 1e-6 * whole


def _around_everything(cuts: Contours, held: Containment) -> list[int]:
    """Closed contours that hold all that does not hold them, the outermost first."""
    found: list[int] = []
    for depth in range(DEEPEST):
        rows = np.flatnonzero(held.depth == depth)
        if len(rows) != 1 or not cuts.closed[rows[0]] or not (held.parent == rows[0]).any():
            break
        found.append(int(rows[0]))
    return found


def _has_size(cuts: Contours, row: int, sizes: tuple[Size, ...]) -> bool:
    if not is_rectangle(cuts, row):
        return False
    low, high = sorted((cuts.box[row, 2:] - cuts.box[row, :2]).tolist())
    return any(abs(low - min(size)) <= AGREE and abs(high - max(size)) <= AGREE for size in sizes)


def _only_holes(cuts: Contours, held: Containment, circles: Circles, row: int) -> bool:
    """Whether all that lies in it could be the holes of a plate: small round ones and slots."""
    inside = np.flatnonzero((held.parent == row) & cuts.closed)
    extent = (cuts.box[inside, 2:] - cuts.box[inside, :2]).max(initial=0.0)
    if (held.depth > held.depth[row] + 1).any() or extent > HOLE:
        return False
    plain: Bools = circles.round[inside]
    others = inside[~plain]
    slots = find_slots(cuts.take(others).reversed(), np.arange(len(others)))
    return len(slots) == len(others)


def _holds_parts(cuts: Contours, held: Containment, circles: Circles, row: int) -> bool:
    inside: Ints = np.flatnonzero((held.parent == row) & cuts.closed)
    return len(with_cut_outs(cuts, held, circles, inside)) > 1
