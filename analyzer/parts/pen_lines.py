"""Rings as thin as a pen: lines that a plot drew with their width, both sides as an outline.

A board outline exported "as plotted" is a ring 0.15 mm wide all around. Nobody can cut such a
part, and cutting both sides cuts the line twice; but which of the two is meant the drawing does
not say, so it is asked and cut as drawn.
"""

from __future__ import annotations

from analyzer.drawing.drawing import Fact
from analyzer.parts.part import Part
from analyzer.units import counted

WIDEST = 0.5
"""Lines are drawn up to this wide (ISO 128-20: 0.13 to 2 mm; a kerf takes wider ones too). [mm]"""

EVEN = 0.8
"""The thinnest place of a drawn line has at least this share of its mean width. [-]"""

LONG = 20.0
"""A drawn line is at least so many times as long as it is wide. [-]"""


def pen_wide_rings(parts: tuple[Part, ...]) -> list[Fact]:
    """Return a question where parts are closed lines drawn with a width."""
    found = [(part, width) for part in parts if (width := _width(part)) > 0.0]
    if not found:
        return []
    count = sum(part.count for part, _ in found)
    thin, wide = min(w for _, w in found), max(w for _, w in found)
    sizes = f"{thin:.3g}" if wide - thin <= 0.01 * wide else f"{thin:.3g} to {wide:.3g}"
    x, y = found[0][0].contours.starts[0].tolist()
    number = counted(count, "outline is a ring", "outlines are rings")
    return [
        Fact(
            "double-line",
            f"{number} {sizes} mm wide all around, a line drawn with the width of its pen: "
            "cut as drawn, on both sides; or is one line meant? Then draw it once",
            x, y, count,
        )
    ]  # fmt: skip


def _width(part: Part) -> float:
    """Return the width of the line a part is, 0 where it is none. [mm]"""
    if len(part.contours) != 2 or not part.contours.closed.all() or len(part.webs) != 1:
        return 0.0
    around = part.cut_length / 2.0
    width = part.area / around
    even = part.webs[0].width >= EVEN * width
    return width if width <= WIDEST and even and around >= LONG * width else 0.0
