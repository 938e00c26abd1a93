"""Sheets there are to cut from: sizes, how many, and left-over pieces of any outline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours

SHORTEST_MM, LONGEST_MM = 10.0, 100_000.0
"""Sheets outside this are a slip of typing (a unit, a dot). [mm]"""


@dataclass(frozen=True, eq=False)
class Stock:
    """One kind of sheet.

    Attributes
    ----------
    name : str
        What the shop calls it: "3000x1500", "rest 17".
    length_mm, width_mm : float
        Along x and y; of a left-over piece, those of its box. [mm]
    count : int or None
        How many there are; None: as many as needed.
    outline : Contours or None
        Of a left-over piece: the first contour is its edge, its lower left corner at
        0, 0; further closed contours are holes in it.  None is a whole rectangle.

    Raises
    ------
    InputError
        If a size cannot be meant, the count is negative or the outline is not closed.
    """

    name: str
    length_mm: float
    width_mm: float
    count: int | None = None
    outline: Contours | None = None

    def __post_init__(self) -> None:
        for size in (self.length_mm, self.width_mm):
            if not SHORTEST_MM <= size <= LONGEST_MM:  # refuses nan too
                raise InputError(
                    f"sheet {self.name}: {size:g} mm cannot be meant",
                    hint=f"between {SHORTEST_MM:g} and {LONGEST_MM:g} mm",
                )
        if self.count is not None and self.count < 0:
            raise InputError(f"sheet {self.name}: a stock of {self.count} cannot be meant")
        if self.outline is not None:
            self._check_outline(self.outline)

    def _check_outline(self, outline: Contours) -> None:
        if not len(outline) or not outline.closed.all():
            raise InputError(f"left-over piece {self.name}: its outline is not closed")
        low, high = outline.box[0][:2], outline.box[0][2:]
        if np.abs(low).max() > 1e-6 or np.abs(high - (self.length_mm, self.width_mm)).max() > 1e-6:
            raise InputError(
                f"left-over piece {self.name}: its outline lies from {low.tolist()} to "
                f"{high.tolist()}, its size is {self.length_mm:g} x {self.width_mm:g}",
                hint="move its lower left corner to 0, 0; Stock.left_over does",
            )

    @staticmethod
    def left_over(name: str, outline: Contours, count: int | None = 1) -> Stock:
        """Return a left-over piece of any outline, moved so that its box starts at 0, 0."""
        if not len(outline):
            raise InputError(f"left-over piece {name}: it has no outline")
        low = outline.box[0][:2]
        moved = outline.moved(np.eye(2), -low)
        length, width = (float(v) for v in moved.box[0][2:])
        return Stock(name, length, width, count, moved)

    @property
    def area_mm2(self) -> float:
        """Metal of one sheet, holes of a left-over piece taken off. [mm^2]"""
        if self.outline is None:
            return self.length_mm * self.width_mm
        sizes = np.abs(self.outline.area)
        return float(sizes[0] - sizes[1:].sum())
