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

from analyzer.geometry.contours import Floats, Ints
from analyzer.geometry.splines import Spline

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


@dataclass(frozen=True, eq=False)
class Rows:
    """Lines, arcs and polylines as arrays, and the entity of every row.

    Attributes
    ----------
    segments, segment_source : ndarray, shapes (n, 5) and (n,)
        Lines as rows (x, y, x, y, 0). [drawing units]
    arcs, arc_source : ndarray, shapes (k, 6) and (k,)
        As in `arc_rows`.
    polylines, polyline_source : ndarray, shapes (p, 5) and (p,)
        Rows (x, y, x, y, bulge) of all polylines.
    """

    segments: Floats
    segment_source: Ints
    arcs: Floats
    arc_source: Ints
    polylines: Floats
    polyline_source: Ints

    def owned_by(self, entity: Ints) -> Rows:
        """Return the same rows, every source k replaced by `entity[k]`."""
        return Rows(
            self.segments, entity[self.segment_source], self.arcs, entity[self.arc_source],
            self.polylines, entity[self.polyline_source],
        )  # fmt: skip


NO_ROWS = Rows(
    np.zeros((0, 5)), np.zeros(0, dtype=np.int64), np.zeros((0, 6)), np.zeros(0, dtype=np.int64),
    np.zeros((0, 5)), np.zeros(0, dtype=np.int64),
)  # fmt: skip


@dataclass
class Content:
    """What one layout or block holds; lists run in step with `types` or their own source.

    Attributes
    ----------
    types, layers, linetypes, handles, reasons : list of str, one per entity
        `reasons` is empty for what is geometry.
    segments, segment_source : rows (x, y, x, y, bulge) and the entity of each
    arcs, arc_source : rows (centre x, y, radius, first angle, sweep, facing) [rad]
    polylines, polyline_source : rows as of segments, in blocks
    conics, conic_source : rows (centre, half axis, half axis, t0, t1)
    splines, spline_source, inserts, texts : the rest
    closed : set of int
        Entities that close upon themselves.
    dimensions : list of RawDimension
        Those that measure a length.
    direct : Rows
        What was read straight from the tags.
    """

    types: list[str] = field(default_factory=list)
    layers: list[str] = field(default_factory=list)
    linetypes: list[str] = field(default_factory=list)
    handles: list[str] = field(default_factory=list)
    reasons: list[str] = field(default_factory=list)
    segments: list[tuple[float, float, float, float, float]] = field(default_factory=list)
    segment_source: list[int] = field(default_factory=list)
    arcs: list[tuple[float, float, float, float, float, float]] = field(default_factory=list)
    arc_source: list[int] = field(default_factory=list)
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
    direct: Rows = NO_ROWS

    def all_segments(self) -> tuple[Floats, Ints]:
        """Return every line and arc, shape (n, 5), and its entity, shape (n,).

        Lines and arcs come in drawing order, polylines after them.
        """
        direct = self.direct
        straight = np.vstack((np.array(self.segments, dtype=float).reshape(-1, 5), direct.segments))
        arcs = np.vstack((np.array(self.arcs, dtype=float).reshape(-1, 6), direct.arcs))
        bent, owner = arc_rows(arcs)
        source = np.concatenate((
            np.array(self.segment_source, dtype=np.int64), direct.segment_source,
            np.concatenate((np.array(self.arc_source, dtype=np.int64), direct.arc_source))[owner],
        ))  # fmt: skip
        order = np.argsort(source, kind="stable")
        sizes = [len(rows) for rows in self.polylines]
        more = np.concatenate((
            np.repeat(np.array(self.polyline_source, dtype=np.int64), sizes),
            direct.polyline_source,
        ))  # fmt: skip
        after = np.argsort(more, kind="stable")
        strung = np.vstack([*self.polylines, direct.polylines])
        return (
            np.vstack((np.vstack((straight, bent))[order], strung[after])),
            np.concatenate((source[order], more[after])),
        )


def arc_rows(arcs: Floats) -> tuple[Floats, Ints]:
    """Return arcs as rows (x, y, x, y, bulge) of at most 180 degrees, and the arc of each row.

    Parameters
    ----------
    arcs : ndarray, shape (n, 6)
        Centre, radius, first angle, sweep [rad], and 1, or -1 where x is mirrored.
    """
    wide = arcs[:, 4] > math.pi * (1.0 + 1e-12)
    owner = np.repeat(np.arange(len(arcs)), np.where(wide, 2, 1))
    second = np.zeros(len(owner), dtype=bool)
    second[1:] = owner[1:] == owner[:-1]
    x, y, radius, first, sweep, facing = arcs[owner].T
    step = np.where(wide[owner], sweep / 2.0, sweep)
    a = first + np.where(second, step, 0.0)
    b = np.where(second | ~wide[owner], first + sweep, first + step)
    rows = np.column_stack((
        facing * (x + radius * np.cos(a)), y + radius * np.sin(a),
        facing * (x + radius * np.cos(b)), y + radius * np.sin(b),
        facing * np.tan(step / 4.0),
    ))  # fmt: skip
    full = sweep >= 2.0 * math.pi * (1.0 - 1e-12)
    # both ends of a full circle exactly one point, at the same height
    left, right = (np.column_stack((facing * (x + side * radius), y)) for side in (-1.0, 1.0))
    rows[full & ~second] = np.hstack((left, right, rows[:, 4:]))[full & ~second]
    rows[full & second] = np.hstack((right, left, rows[:, 4:]))[full & second]
    return rows, owner


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
