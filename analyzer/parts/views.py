"""Views in projection: outlines in line with a larger one, asked about and never taken away.

A drawing that shows a bent part from the front, the side and above has three outlines with
sides in common, each in line with the front view (ISO 128-3: views are placed in line).
Cut as parts, two of them are scrap.  It is asked only in a drawing that is dimensioned or
has centre lines, holds few outlines and has one that stands alone as the largest: rows of
parts for cutting look much the same.  Of a dimensioned drawing with more outlines than that it
is asked whether it is an assembly.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from analyzer.drawing.annotation import DIMENSIONS
from analyzer.drawing.drawing import CUT_FOR_NOW, Drawing, Fact
from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Floats, Ints
from analyzer.geometry.near import components
from analyzer.parts.containment import Containment
from analyzer.parts.part import Part
from analyzer.units import counted

MOST = 24
"""More outlines than these are parts to be cut. Common practice, no source."""

VIEWS = 6
"""More views than six there are not (ISO 128-3)."""

SMALLER = 0.6
"""A view in line with the main one has at most this share of its area. [-]"""

IN_LINE = 0.1
"""Ends of views in line agree within this. [mm]"""

TOUCH = 0.01
"""Outlines as near as this are pieces of one view, parted by the lines of its bends. [mm]"""

_CENTRE = re.compile(r"linetype (?:CENT|MITTE|DASHDOT|ACAD_ISO(?:04|10))")
_WRITTEN = ("DIMENSION", "LEADER", "MULTILEADER", "MLEADER")


@dataclass(frozen=True, eq=False)
class _Views:
    """Groups of outlines that touch.

    box and area by group, the rows of their outlines, and the names of their parts.
    """

    box: Floats
    area: Floats
    names: list[str]
    pieces: Ints

    def __len__(self) -> int:
        return len(self.area)


def views_in_line(drawing: Drawing, held: Containment, parts: tuple[Part, ...]) -> list[Fact]:
    """Return a question for every outline that may be a view of the largest one.

    Parameters
    ----------
    drawing : Drawing
        Without what was set aside.
    held : Containment
        Of its cuts.
    parts : tuple of Part
    """
    outline = {copy[0]: part.id for part in parts for copy in part.copies}
    rows = np.array(sorted(row for row in outline if held.depth[row] == 0), np.int64)
    if len(outline) > MOST:
        return _arrangement(drawing, np.array(sorted(outline), np.int64))
    if len(rows) < 2 or not _is_dimensioned(drawing):
        return []
    views = _grouped(drawing, rows, [outline[row] for row in rows.tolist()])
    if not 2 <= len(views) <= VIEWS:
        return []
    main = int(views.area.argmax())
    found = []
    for k in range(len(views)):
        axis = _axis_in_line(views.box[k], views.box[main])
        if k != main and axis is not None and views.area[k] <= SMALLER * views.area[main]:
            found.append(_question(views, k, main, axis))
    return found


def _arrangement(drawing: Drawing, rows: Ints) -> list[Fact]:
    """Ask about a whole drawing of many outlines that has dimensions: a cut file has none."""
    said = (
        (drawing.dimensions.count + _ignored(drawing, _WRITTEN[1:]), "dimension", "dimensions"),
        (_ignored(drawing, ("HATCH",)), "hatch", "hatches"),
        (sum(text.kind != "dimension" for text in drawing.texts), "note", "notes"),
    )
    if not said[0][0]:
        return []
    words = _and([counted(n, one, many) for n, one, many in said if n])
    x, y = drawing.cuts.box[rows, :2].min(axis=0).tolist()
    return [
        Fact(
            "view-not-part",
            f"{counted(len(rows), 'outline')} with {words}: an assembly with its views and "
            "details? All are cut as drawn; or which of them are parts?",
            x, y, sort=CUT_FOR_NOW,
        )
    ]  # fmt: skip


def _ignored(drawing: Drawing, types: tuple[str, ...]) -> int:
    """How many entities of these types were set aside."""
    every = (drawing.account, drawing.in_blocks)
    return sum(row.count for one in every for row in one.ignored if row.type in types)


def _is_dimensioned(drawing: Drawing) -> bool:
    """Whether the drawing has dimensions or centre lines: it shows a part, or more."""
    return drawing.dimensions.count > 0 or any(
        row.type in _WRITTEN or DIMENSIONS in row.reason or _CENTRE.search(row.reason)
        for account in (drawing.account, drawing.in_blocks)
        for row in account.ignored
    )


def _grouped(drawing: Drawing, rows: Ints, names: list[str]) -> _Views:
    box, area = drawing.cuts.box[rows], np.abs(drawing.cuts.area[rows])
    i, j = box_pairs(box, box, TOUCH)
    label = components(len(rows), np.column_stack((i, j)))
    count = int(label.max()) + 1
    whole = np.array(
        [[*box[label == k, :2].min(axis=0), *box[label == k, 2:].max(axis=0)] for k in range(count)]
    )
    said = [
        _and(list(dict.fromkeys(n for n, of in zip(names, label.tolist(), strict=True) if of == k)))
        for k in range(count)
    ]
    return _Views(whole, np.bincount(label, area).astype(float), said, np.bincount(label))


def _and(names: list[str]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + f" and {names[-1]}"


def _axis_in_line(one: Floats, main: Floats) -> int | None:
    """0 where both reach from the same x to the same x, one above the other; 1 beside."""
    for axis in (0, 1):
        across = 1 - axis
        ends = np.abs(one[[axis, axis + 2]] - main[[axis, axis + 2]])
        apart = max(one[across] - main[across + 2], main[across] - one[across + 2])
        if ends.max() <= IN_LINE and apart > 0.0:
            return axis
    return None


def _question(views: _Views, k: int, main: int, axis: int) -> Fact:
    side = views.box[:, 2:] - views.box[:, :2]
    x, y = ((views.box[k, :2] + views.box[k, 2:]) / 2.0).tolist()
    one = views.pieces[k] == 1
    return Fact(
        "view-not-part",
        f"{views.names[k]}{'' if one else ', together'} {side[k, 0]:.4g} x {side[k, 1]:.4g}"
        f"{' lies' if one else ', lie'} in line with {views.names[main]}, {side[k, axis]:.4g} in "
        f"common: cut as {'a part' if one else 'parts'}; or is it another view of the same part?",
        x, y, sort=CUT_FOR_NOW,
    )  # fmt: skip
