"""Entities of one layout or block, as the library holds them, become plain numbers.

Lines and arcs are rows (x, y, x, y, bulge); ellipses are centre, two half axes and a
range; splines keep their control points.  Everything is in drawing units and in the
plane; what cannot be cut carries the reason why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.tags import SUB_ENTITIES, RawEntity, match_raw
from analyzer.geometry.flatten import Spline

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

Floats = NDArray[np.float64]

FLAT = 1e-3  # heights that differ less are one plane [drawing units]
FAR = 1e12  # no coordinate of a real drawing is beyond this [drawing units]
_UPRIGHT = 1e-6  # a normal leaning less is upright [-]
_MOST_DEGREE = 25

ZERO_LENGTH = "zero length"
NOT_FLAT = "not flat: it does not lie in the drawing plane"
OUT_OF_RANGE = "a number is missing, not finite or out of range"

_WITHOUT_GEOMETRY: dict[str, str] = {
    **dict.fromkeys(("TEXT", "MTEXT", "ATTDEF"), "text is evidence, not a cut line"),
    **dict.fromkeys(
        ("DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "TOLERANCE"),
        "dimension is evidence, not a cut line",
    ),
    **dict.fromkeys(("HATCH", "MPOLYGON"), "hatch fills an area, it is not a cut line"),
    "POINT": "point has no length",
    **dict.fromkeys(("SOLID", "TRACE", "3DFACE"), "filled face is not a cut line"),
    **dict.fromkeys(("LEADER", "MLEADER", "MULTILEADER"), "leader is not a cut line"),
    **dict.fromkeys(
        ("IMAGE", "WIPEOUT", "OLE2FRAME", "OLEFRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY"),
        "picture is not a cut line, and its file is never opened",
    ),
    "VIEWPORT": "viewport is a window, not a cut line",
    **dict.fromkeys(("RAY", "XLINE"), "construction line without an end"),
    **dict.fromkeys(
        ("3DSOLID", "BODY", "REGION", "SURFACE", "MESH", "EXTRUDEDSURFACE", "LOFTEDSURFACE",
         "REVOLVEDSURFACE", "SWEPTSURFACE", "PLANESURFACE", "HELIX"),
        "solid model or surface, not a flat line",
    ),
}  # fmt: skip


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

    def all_segments(self) -> tuple[Floats, NDArray[np.int64]]:
        """Return every line and arc, shape (n, 5), and its entity, shape (n,)."""
        single = np.array(self.segments, dtype=float).reshape(-1, 5)
        source = np.array(self.segment_source, dtype=np.int64)
        if not self.polylines:
            return single, source
        sizes = [len(rows) for rows in self.polylines]
        more = np.repeat(np.array(self.polyline_source, dtype=np.int64), sizes)
        return np.vstack([single, *self.polylines]), np.concatenate((source, more))


def read_content(entities: Iterable[DXFEntity], raw: list[RawEntity] | None = None) -> Content:
    """Return the content of a layout or block.

    Parameters
    ----------
    entities : iterable of DXFEntity
        The library's entities, in drawing order.
    raw : list of RawEntity, optional
        The same as the tags tell it.  An entity that lacks something there is not used,
        because the library puts a default in its place.
    """
    content = Content()
    # a vertex or attribute without its owner is no entity
    entities = [e for e in entities if e.dxftype() not in SUB_ENTITIES]
    types = [e.dxftype() for e in entities]
    told = match_raw(raw or [], types)
    for index, (entity, kind) in enumerate(zip(entities, types, strict=True)):
        dxf: Any = entity.dxf
        handle = dxf.get("handle") or f"#{index}"
        tags = told(index, handle)
        content.types.append(kind)
        content.layers.append(_value(dxf, "layer", tags.layer if tags else "0"))
        content.linetypes.append(_value(dxf, "linetype", "BYLAYER"))
        content.handles.append(handle)
        content.reasons.append(_reason(entity, kind, index, content, tags))
    return content


def _reason(entity: Any, kind: str, index: int, content: Content, tags: RawEntity | None) -> str:
    """Read one entity into `content`; return why it is not used, or nothing."""
    if tags is not None and tags.lacks:
        return f"incomplete: without {tags.lacks}"
    if _value(entity.dxf, "invisible", 0):
        return "invisible: flagged so in the drawing"
    read = _READERS.get(kind)
    try:
        if read is not None:
            return read(entity, index, content)
        _read_words(entity, kind, content)
    except Exception as error:  # the library computes some values only when asked
        return f"cannot be read ({type(error).__name__})"
    return _WITHOUT_GEOMETRY.get(kind, "type of entity not known")


def _value(dxf: Any, name: str, default: Any) -> Any:
    """Return a value every entity should have, but types the library does not know have not."""
    try:
        return dxf.get(name, default)
    except Exception:  # an error class of the library, which is not imported for this
        return default


def _fine(*values: float) -> bool:
    return all(math.isfinite(v) and abs(v) < FAR for v in values)


def _facing(entity: Any) -> int:
    """Return 1 for a normal along +z, -1 along -z (x is mirrored then), 0 for another."""
    if not entity.dxf.hasattr("extrusion"):
        return 1
    n = entity.dxf.extrusion
    size = math.sqrt(n.x * n.x + n.y * n.y + n.z * n.z)
    if not math.isfinite(size) or size == 0.0 or math.hypot(n.x, n.y) > _UPRIGHT * size:
        return 0
    return 1 if n.z > 0 else -1


# --- one reader per type --------------------------------------------------


def _read_line(entity: Any, index: int, content: Content) -> str:
    a, b = entity.dxf.start, entity.dxf.end
    if not _fine(a.x, a.y, a.z, b.x, b.y, b.z):
        return OUT_OF_RANGE
    if abs(a.z - b.z) > FLAT:
        return NOT_FLAT
    content.segments.append((a.x, a.y, b.x, b.y, 0.0))
    content.segment_source.append(index)
    return ""


def _read_arc(entity: Any, index: int, content: Content) -> str:
    first, last = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    if not _fine(first, last) or max(abs(first), abs(last)) > 1e6:
        return "angle not finite or out of range"
    sweep = math.fmod(last - first, 360.0)
    sweep += 360.0 if sweep < 0.0 else 0.0
    if min(sweep, 360.0 - sweep) < 1e-9:
        if abs(last - first) < 1.0:
            return ZERO_LENGTH
        sweep = 360.0
    return _add_arc(entity, index, content, math.radians(first), math.radians(sweep))


def _read_circle(entity: Any, index: int, content: Content) -> str:
    return _add_arc(entity, index, content, math.pi, 2.0 * math.pi)


def _add_arc(entity: Any, index: int, content: Content, first: float, sweep: float) -> str:
    """Add an arc as one or two rows, so that none turns by more than 180 degrees."""
    centre, radius = entity.dxf.center, float(entity.dxf.radius)
    facing = _facing(entity)
    if facing == 0:
        return NOT_FLAT
    if not _fine(centre.x, centre.y, radius):
        return OUT_OF_RANGE
    if radius <= 0.0:
        return "radius is not positive"
    pieces = 1 if sweep <= math.pi * (1.0 + 1e-12) else 2
    full = sweep >= 2.0 * math.pi * (1.0 - 1e-12)
    points = []
    for k in range(pieces + 1):
        angle = first + sweep * k / pieces
        points.append(
            (facing * (centre.x + radius * math.cos(angle)), centre.y + radius * math.sin(angle))
        )
    if full:  # both ends exactly one point, at the same height
        points = [
            (facing * (centre.x - radius), centre.y),
            (facing * (centre.x + radius), centre.y),
            (facing * (centre.x - radius), centre.y),
        ]
        content.closed.add(index)
    bulge = facing * math.tan(sweep / pieces / 4.0)
    for (ax, ay), (bx, by) in pairwise(points):
        content.segments.append((ax, ay, bx, by, bulge))
        content.segment_source.append(index)
    return ""


def _read_lwpolyline(entity: Any, index: int, content: Content) -> str:
    rows = np.array(entity.lwpoints.values, dtype=float).reshape(-1, 5)
    facing = _facing(entity)
    if facing == 0:
        return NOT_FLAT
    return _add_polyline(
        rows[:, 0] * facing, rows[:, 1], rows[:, 4] * facing, bool(entity.closed), index, content
    )


def _read_polyline(entity: Any, index: int, content: Content) -> str:
    if entity.is_polygon_mesh or entity.is_poly_face_mesh:
        return "mesh is not a flat line"
    # with a fitted curve, the frame it was fitted to (vertex flag 16) is not drawn
    corners = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]
    places = np.array([tuple(v.dxf.location) for v in corners], dtype=float).reshape(-1, 3)
    if not len(places):
        return ZERO_LENGTH
    if entity.is_3d_polyline:
        if not np.isfinite(places).all():
            return OUT_OF_RANGE
        if np.ptp(places[:, 2]) > FLAT:
            return NOT_FLAT
        bulges = np.zeros(len(places))
        return _add_polyline(
            places[:, 0], places[:, 1], bulges, bool(entity.is_closed), index, content
        )
    facing = _facing(entity)
    if facing == 0:
        return NOT_FLAT
    bulges = np.array([v.dxf.get("bulge", 0.0) for v in corners], dtype=float) * facing
    return _add_polyline(
        places[:, 0] * facing, places[:, 1], bulges, bool(entity.is_closed), index, content
    )


def _add_polyline(
    x: Floats, y: Floats, bulges: Floats, closed: bool, index: int, content: Content
) -> str:
    """Add the segments of a polyline; arcs of more than 180 degrees become two."""
    points = np.column_stack((x, y))
    if not (np.isfinite(points).all() and np.isfinite(bulges).all()) or (
        points.size and np.abs(points).max() >= FAR
    ):
        return OUT_OF_RANGE
    rows = np.column_stack((points, np.roll(points, -1, axis=0), bulges))
    rows = rows if closed else rows[:-1]
    chord = np.hypot(rows[:, 2] - rows[:, 0], rows[:, 3] - rows[:, 1])
    content.repeated_points += int((chord == 0.0).sum()) - int(closed and len(rows) == 1)
    rows = rows[chord > 0.0]
    if not len(rows):
        return ZERO_LENGTH
    if (np.abs(rows[:, 4]) * np.hypot(*(rows[:, 2:4] - rows[:, :2]).T)).max() >= FAR:
        return "bulge out of range"
    rows = split_wide(rows)
    if closed or (rows[0, :2] == rows[-1, 2:4]).all():
        content.closed.add(index)
    content.polylines.append(rows)
    content.polyline_source.append(index)
    return ""


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


def _read_ellipse(entity: Any, index: int, content: Content) -> str:
    dxf = entity.dxf
    centre, major, ratio = dxf.center, dxf.major_axis, float(dxf.ratio)
    first, last = float(dxf.get("start_param", 0.0)), float(dxf.get("end_param", 2.0 * math.pi))
    facing = _facing(entity)
    if not _fine(centre.x, centre.y, major.x, major.y, major.z, ratio, first, last):
        return OUT_OF_RANGE
    size = math.hypot(major.x, major.y)
    if facing == 0 or abs(major.z) > FLAT:
        return NOT_FLAT
    if not 1e-6 <= abs(ratio) <= 1e6 or size == 0.0 or max(abs(first), abs(last)) > 1e6:
        return "axis or ratio of the ellipse out of range"
    sweep = math.fmod(last - first, 2.0 * math.pi)
    sweep += 2.0 * math.pi if sweep < 0.0 else 0.0
    if min(sweep, 2.0 * math.pi - sweep) < 1e-9:
        sweep = 2.0 * math.pi
        content.closed.add(index)
    minor = (-major.y * ratio * facing, major.x * ratio * facing)
    content.conics.append(
        (centre.x, centre.y, major.x, major.y, *minor, first, first + sweep)
    )  # fmt: skip
    content.conic_source.append(index)
    return ""


def _read_spline(entity: Any, index: int, content: Content) -> str:
    control = np.array(entity.control_points.values, dtype=float).reshape(-1, 3)
    degree = int(entity.dxf.degree)
    if len(control):
        knots = np.array(entity.knots, dtype=float)
        weights = np.array(entity.weights, dtype=float) if len(entity.weights) else None
    else:
        fitted = _through_points(entity)
        if fitted is None:
            return "spline without points"
        degree, control, knots, weights = fitted
    everything = np.concatenate((control.ravel(), knots, [] if weights is None else weights))
    if not np.isfinite(everything).all() or np.abs(control).max() >= FAR:
        return OUT_OF_RANGE
    if np.ptp(control[:, 2]) > FLAT:
        return NOT_FLAT
    if not 1 <= degree <= _MOST_DEGREE:
        return f"spline of degree {degree}"
    if len(control) < degree + 1 or len(knots) != len(control) + degree + 1:
        return "spline whose knots and control points do not belong together"
    if (np.diff(knots) < 0.0).any() or not knots[degree] < knots[len(control)]:
        return "spline whose knots do not increase"
    if weights is not None and (len(weights) != len(control) or not (weights > 0.0).all()):
        return "spline with a weight that is not positive"
    if np.ptp(control[:, :2], axis=0).max() == 0.0:
        return ZERO_LENGTH
    content.splines.append(Spline(degree, control[:, :2].copy(), knots, weights))
    content.spline_source.append(index)
    return ""


def _through_points(entity: Any) -> tuple[int, Floats, Floats, Floats | None] | None:
    """Return degree, control points, knots and weights of a spline given by fit points only."""
    points = list(entity.fit_points)
    if len(points) < 2:
        return None
    if entity.closed and not (points[0] - points[-1]).magnitude < 1e-9:
        points.append(points[0])
    from ezdxf.math import fit_points_to_cad_cv

    tangents = None
    if entity.dxf.hasattr("start_tangent") and entity.dxf.hasattr("end_tangent"):
        tangents = (entity.dxf.start_tangent, entity.dxf.end_tangent)
    curve = fit_points_to_cad_cv(points, tangents=tangents)
    control = np.array([tuple(p) for p in curve.control_points], dtype=float)
    return curve.degree, control, np.array(curve.knots(), dtype=float), None


def _read_insert(entity: Any, index: int, content: Content) -> str:
    dxf = entity.dxf
    for attribute in entity.attribs:
        _add_text(attribute, attribute.dxf.get("text", ""), "attribute", content)
    at = dxf.insert
    sx, sy = float(dxf.get("xscale", 1.0)), float(dxf.get("yscale", 1.0))
    turn = float(dxf.get("rotation", 0.0))
    columns, rows = (
        abs(int(dxf.get("column_count", 1))) or 1,
        abs(int(dxf.get("row_count", 1))) or 1,
    )
    step_x, step_y = float(dxf.get("column_spacing", 0.0)), float(dxf.get("row_spacing", 0.0))
    facing = _facing(entity)
    if facing == 0:
        return NOT_FLAT
    if not _fine(at.x, at.y, sx, sy, turn, step_x, step_y):
        return OUT_OF_RANGE
    if not (1e-9 < abs(sx) < 1e9 and 1e-9 < abs(sy) < 1e9):
        return f"block inserted at scale {sx:g}, {sy:g}: out of range"
    if entity.dxf.name.lower().startswith(("*model_space", "*paper_space", "$model_space")):
        return "block reference to a layout"
    cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    linear = np.array([[cos * sx, -sin * sy], [sin * sx, cos * sy]])
    i, j = np.meshgrid(np.arange(columns) * step_x, np.arange(rows) * step_y)
    shift = np.column_stack((i.ravel(), j.ravel())) @ np.array([[cos, sin], [-sin, cos]])
    matrices = np.empty((columns * rows, 2, 3))
    matrices[:, :, :2] = linear
    matrices[:, :, 2] = shift + np.array([at.x, at.y])
    matrices[:, 0] *= facing
    content.inserts.append(BlockInsert(dxf.name.lower(), dxf.name, matrices, index))
    return ""


_READERS: dict[str, Callable[[Any, int, Content], str]] = {
    "LINE": _read_line,
    "ARC": _read_arc,
    "CIRCLE": _read_circle,
    "LWPOLYLINE": _read_lwpolyline,
    "POLYLINE": _read_polyline,
    "ELLIPSE": _read_ellipse,
    "SPLINE": _read_spline,
    "INSERT": _read_insert,
}


# --- words ----------------------------------------------------------------


def _read_words(entity: Any, kind: str, content: Content) -> None:
    if kind == "TEXT":
        _add_text(entity, entity.dxf.get("text", ""), "text", content)
    elif kind == "MTEXT":
        _add_text(entity, entity.plain_text(), "text", content)
    elif kind == "DIMENSION":
        shown = entity.dxf.get("text", "")
        if shown in ("", "<>"):
            size = entity.dxf.get("actual_measurement")
            shown = f"{size:g}" if size is not None else ""
        _add_text(entity, shown, "dimension", content)


def _add_text(entity: Any, text: str, kind: str, content: Content) -> None:
    dxf = entity.dxf
    name = "text_midpoint" if kind == "dimension" else "insert"
    at = dxf.get(name) if dxf.hasattr(name) else None
    x, y = (float(at.x), float(at.y)) if at is not None else (0.0, 0.0)
    height = float(dxf.get("char_height", 0.0) if kind == "text" and dxf.hasattr("char_height")
                   else dxf.get("height", 0.0) if kind != "dimension" else 0.0)  # fmt: skip
    if text.strip() and _fine(x, y, height):
        content.texts.append(RawText(text.strip(), x, y, height, dxf.get("layer", "0"), kind))
