"""Drawings made by hand, as the reader would hand them over."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.drawing.drawing import Account, Drawing, Entity, Text, UnitsFound
from analyzer.geometry.contours import Contours


def drawing(
    *cuts: Contours,
    marks: Sequence[Contours] = (),
    bends: Sequence[Contours] = (),
    texts: Sequence[Text] = (),
) -> Drawing:
    """Drawing in mm, one entity a cut contour."""
    every = Contours.join(list(cuts))
    count = len(every)
    return Drawing(
        "by hand.dxf", UnitsFound("mm", "header", 1.0), every,
        tuple((Entity(f"{row:X}", "LWPOLYLINE", "0"),) for row in range(count)),
        Contours.join(list(marks)), Contours.join(list(bends)),
        Account(count, count), Account(0, 0), (), tuple(texts),
    )  # fmt: skip


def note(text: str, x: float, y: float) -> Text:
    """A text 3.5 mm high."""
    return Text(text, x, y, 3.5, "0", "text")
