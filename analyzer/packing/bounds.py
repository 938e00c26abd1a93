"""How few sheets could do at best: two simple bounds shown beside every packing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.packing.board import Field


@dataclass(frozen=True)
class Bounds:
    """No packing of the parts that were laid does with fewer sheets than these.

    Attributes
    ----------
    by_area : int
        Metal of the parts over the metal of the largest sheet, rounded up.
    sheets : int
        The best of that, of parts with half the gap around them over the sheet less its
        margins, and of rectangles over half the sheet both ways, one a sheet.
    """

    by_area: int
    sheets: int


@dataclass(frozen=True, eq=False)
class Asked:
    """One demand as the bounds see it.

    Attributes
    ----------
    count : int
        How many were laid.
    area, grown_area : float
        Metal of one, and metal with half the gap around it (never too large). [mm^2]
    sizes : ndarray, shape (k, 2), or None
        Of a rectangle that may only lie square to the sheet: its sizes with half the gap
        around, in the ways it may lie. [mm]
    """

    count: int
    area: float
    grown_area: float
    sizes: Floats | None


def bounds_of(asked: Sequence[Asked], fields: Sequence[Field], areas: Sequence[float]) -> Bounds:
    """Return bounds on the number of sheets.

    Parameters
    ----------
    asked : sequence of Asked
    fields : sequence of Field
        Room of the kinds of sheet there are.
    areas : sequence of float
        Their metal. [mm^2]
    """
    laid = [a for a in asked if a.count]
    if not laid or not fields:
        return Bounds(0, 0)
    by_area = _up(sum(a.area * a.count for a in laid) / max(areas))
    room = max(float(field.size.prod()) for field in fields)
    grown = _up(sum(a.grown_area * a.count for a in laid) / room)
    half = np.max([field.size for field in fields], axis=0) / 2.0 + 1e-6
    # rectangles over half the sheet both ways all hold its middle: never two on one
    alone = sum(a.count for a in laid if a.sizes is not None and bool((a.sizes > half).all()))
    return Bounds(by_area, max(by_area, grown, alone))


def _up(value: float) -> int:
    return int(np.ceil(value - 1e-9))
