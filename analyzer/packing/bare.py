"""A part of which only the contours are known: for packing that is enough."""

from __future__ import annotations

from analyzer.geometry.contours import Contours
from analyzer.parts.part import Part


def bare_part(contours: Contours, name: str = "P1") -> Part:
    """Return a part without features.

    Parameters
    ----------
    contours : Contours
        The outline counter-clockwise, then cut-outs clockwise. [mm]
    name : str
        Its id.

    Examples
    --------
    >>> bare_part(Contours.from_points([[0, 0], [40, 0], [40, 30], [0, 30]])).area
    1200.0
    """
    nothing = Contours.empty()
    return Part(name, 1, None, contours, nothing, nothing, (), (), (), (), ())
