"""What one layout or block holds, as plain numbers, and the tests every entity passes.

Lines and arcs are rows (x, y, x, y, bulge); ellipses are centre, two half axes and a
range; splines keep their control points.  Everything is in drawing units and in the
plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyzer.geometry.contours import Floats
from analyzer.geometry.flatten import Spline

FLAT = 1e-3  # heights that differ less are one plane [drawing units]
FAR = 1e12  # no coordinate of a real drawing is beyond this [drawing units]
_UPRIGHT = 1e-6  # a normal leaning less is upright [-]

ZERO_LENGTH = "zero length"
NOT_FLAT = "not flat: it does not lie in the drawing plane"
OUT_OF_RANGE = "a number is missing, not finite or out of range"


@dataclass(frozen=True)
class BlockInsert:
    """A block reference: the block, and where every copy of it goes."""

    block: str  # name in lower case
    name: str  # as the drawing writes it
    matrices: Floats  # shape (k, 2, 3): p -> m[:, :2] @ p + m[:, 2]
    source: int


@dataclass(frozen=True)
class RawText:
    """Words with their place in drawing units."""

    text: str
    x: float
    y: float
    height: float
    layer: str
    kind: str


@dataclass(frozen=True)
class RawDimension:
    """A dimension that measures a length, in drawing units, and its style's length factor."""

    text: str
    measured: float
    shows: float
    x: float
    y: float


@dataclass
class Content:
    """What one layout or block holds; lists run in step with `types` or their own source.

    Attributes
    ----------
    types, layers, linetypes, handles, reasons : list of str, one per entity
        `reasons` is empty for what is geometry.
    segments, segment_source : rows (x, y, x, y, bulge) and the entity of each
    polylines, polyline_source : the same in blocks of rows
    conics, conic_source : rows (centre, half axis, half axis, t0, t1)
    splines, spline_source, inserts, texts : the rest
    closed : set of int
        Entities that close upon themselves.
    dimensions : list of RawDimension
        Those that measure a length.
    """

    types: list[str] = field(default_factory=list)
    layers: list[str] = field(default_factory=list)
    linetypes: list[str] = field(default_factory=list)
    handles: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    segments: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    segment_source: list[int] = field(default_factory=list)
    polylines: list[Floats] = field(default_factory=list)
    polyline_source: list[int] = field(default_factory=list)
    conics: list[tuple[float, ...]] = field(default_factory=list)
    conic_source: list[int] = field(default_factory=list)
    splines: list[Spline] = field(default_factory=list)
    spline_source: list[int] = field(default_factory=list)
    inserts: list[BlockInsert] = field(default_factory=list)
    texts: list[RawText] = field(default_factory=list)
    closed: set[int] = field(default_factory=set)
    repeated_points: int = 0
    dimensions: list[RawDimension] = field(default_factory=list)

    def all_segments(self) -> tuple[Floats, NDArray[np.int64]]:
        """Return every line and arc, shape (n, 5), and its entity, shape (n,)."""
        single = np.array(self.segments, dtype=float).reshape(-1, 5)
        source = np.array(self.segment_source, dtype=np.int64)
        if not self.polylines:
            return single, source
        sizes = [len(rows) for rows in self.polylines]
        more = np.repeat(np.array(self.polyline_source, dtype=np.int64), sizes)
        return np.vstack([single, *self.polylines]), np.concatenate((source, more))


def value(dxf: Any, name: str, default: Any) -> Any:
    """Return a value every entity should have, but types the library does not know have not."""
    try:
        return dxf.get(name, default)
    except Exception:  # an error class of the library, which is not imported for this
        return default


def fine(*values: float) -> bool:
    return all(math.isfinite(v) and abs(v) < FAR for v in values)


def facing_of(entity: Any) -> int:
    """Return 1 for a normal along +z, -1 along -z (x is mirrored then), 0 for another."""
    if not entity.dxf.hasattr("extrusion"):
        return 1
    n = entity.dxf.extrusion
    size = math.sqrt(n.x * n.x + n.y * n.y + n.z * n.z)
    if not math.isfinite(size) or size == 0.0 or math.hypot(n.x, n.y) > _UPRIGHT * size:
        return 0
    return 1 if n.z > 0 else -1


def split_wide(rows: Floats) -> Floats:
    """Return rows (x, y, x, y, bulge) with every arc of more than 180 degrees in two."""
    wide = np.abs(rows[:, 4]) > 1.0 + 1e-12
    if not wide.any():
        return rows
    a, b, bulge = rows[:, :2], rows[:, 2:4], rows[:, 4:5]
    step = b - a
    right = np.column_stack((step[:, 1], -step[:, 0]))
    top = (a + b) / 2.0 + right * bulge / 2.0  # the arc bows by chord * bulge / 2
    half = np.tan(np.arctan(bulge) / 2.0)
    count = np.where(wide, 2, 1)
    index = np.repeat(np.arange(len(rows)), count)
    second = np.zeros(len(index), dtype=bool)
    second[1:] = index[1:] == index[:-1]
    two = wide[index]
    out = rows[index]
    out[two & ~second, 2:4] = top[index][two & ~second]
    out[two & second, :2] = top[index][two & second]
    out[two, 4] = half[index][two, 0]
    return out
