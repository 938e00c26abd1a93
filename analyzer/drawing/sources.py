"""The table of all entities of a drawing, and their geometry in final place."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.content import RawText
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.splines import Spline

Names = NDArray[np.object_]

EXPANDED = "\x00expanded"  # mark of a nested block reference: counted by what it holds


@dataclass
class Sources:
    """Table of entities, top level first, then what block references hold.

    Attributes
    ----------
    types, layers, linetypes, handles, reasons : ndarray of str, shape (n,)
        Layer and linetype as in force: layer 0 and BYBLOCK in a block follow the reference.
    top : ndarray of int, shape (n,)
        Row of the top-level entity it belongs to: itself, or the block reference.
    closed : ndarray of bool, shape (n,)
        The entity closes upon itself.
    count_top : int
        Rows before this are top level.
    around : ndarray of str, shape (n,)
        Layers of the block references around it, joined by line ends.
    lost : Counter
        Entities in blocks that the reader did not deliver, by type and layer.
    """

    types: Names
    layers: Names
    linetypes: Names
    handles: Names
    reasons: Names
    top: Ints
    closed: Bools
    count_top: int
    around: Names
    lost: Counter[tuple[str, str]]


@dataclass
class Shapes:
    """Geometry of the whole drawing in drawing units; the entity of each row in `*_source`.

    segments rows are (x, y, x, y, bulge), conics (centre, half axis, half axis, t0, t1).
    """

    segments: Floats
    segment_source: Ints
    conics: Floats
    conic_source: Ints
    splines: list[Spline]
    spline_source: Ints
    texts: list[RawText]
    repeated_points: int


def missing(
    raw: Counter[tuple[str, str]], given: Counter[tuple[str, str]]
) -> Counter[tuple[str, str]]:
    """Return the entities, by type and layer, that stand in the tags but were not delivered.

    Types are counted first: a layer name that the reader spells another way loses nothing.
    """
    lost: Counter[tuple[str, str]] = Counter()
    by_type = Counter[str]()
    for (kind, _), count in raw.items():
        by_type[kind] += count
    for (kind, _), count in given.items():
        by_type[kind] -= count
    for (kind, layer), count in sorted(raw.items()):
        gone = min(by_type[kind], count - given[kind, layer])
        if gone > 0:
            lost[kind, layer] += gone
            by_type[kind] -= gone
    return lost
