"""Entities of one layout or block, as the library holds them, become plain numbers.

What cannot be cut carries the reason why.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer.drawing.content import (
    FAR,
    FLAT,
    NOT_FLAT,
    OUT_OF_RANGE,
    ZERO_LENGTH,
    BlockInsert,
    Content,
    facing_of,
    fine,
    split_wide,
    value,
)
from analyzer.drawing.curved import read_ellipse, read_spline
from analyzer.drawing.raw import SUB_ENTITIES, RawEntity, match_raw
from analyzer.drawing.words import add_text, read_words
from analyzer.geometry.contours import Floats

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity


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


def read_content(
    entities: Iterable[DXFEntity], raw: Sequence[RawEntity] | None = None,
    numbers: Sequence[int] | None = None,
) -> Content:  # fmt: skip
    """Return the content of a layout or block.

    Parameters
    ----------
    entities : iterable of DXFEntity
        The library's entities, in drawing order.
    raw : sequence of RawEntity, optional
        The same as the tags tell it.  An entity that lacks something there is not used,
        because the library puts a default in its place.
    numbers : sequence of int, optional
        The place of every entity in the drawing, its name where it has no handle; by default
        its place here.
    """
    content = Content()
    # a vertex or attribute without its owner is no entity
    entities = [e for e in entities if e.dxftype() not in SUB_ENTITIES]
    types = [e.dxftype() for e in entities]
    told = match_raw(raw or [], types)
    for index, (entity, kind) in enumerate(zip(entities, types, strict=True)):
        dxf: Any = entity.dxf
        handle = dxf.get("handle") or ""
        tags = told(index, handle)
        if not handle or (tags is not None and tags.handle != handle.upper()):  # one made up
            handle = f"#{numbers[index] if numbers is not None else index}"
        content.types.append(kind)
        content.layers.append(value(dxf, "layer", tags.layer if tags else "0"))
        content.linetypes.append(value(dxf, "linetype", "BYLAYER"))
        content.handles.append(handle)
        content.reasons.append(_reason(entity, kind, index, content, tags))
    return content


def _reason(entity: Any, kind: str, index: int, content: Content, tags: RawEntity | None) -> str:
    """Read one entity into `content`; return why it is not used, or nothing."""
    if tags is not None and tags.lacks:
        return f"incomplete: without {tags.lacks}"
    if value(entity.dxf, "invisible", 0):
        return "invisible: flagged so in the drawing"
    read = _READERS.get(kind)
    try:
        if read is not None:
            return read(entity, index, content)
        read_words(entity, kind, content)
    except Exception as error:  # the library computes some values only when asked
        return f"cannot be read ({type(error).__name__})"
    return _WITHOUT_GEOMETRY.get(kind, "type of entity not known")


# --- one reader per type --------------------------------------------------


def _read_line(entity: Any, index: int, content: Content) -> str:
    a, b = entity.dxf.start, entity.dxf.end
    if not fine(a.x, a.y, a.z, b.x, b.y, b.z):
        return OUT_OF_RANGE
    if abs(a.z - b.z) > FLAT:
        return NOT_FLAT
    content.segments.append((a.x, a.y, b.x, b.y, 0.0))
    content.segment_source.append(index)
    return ""


def _read_arc(entity: Any, index: int, content: Content) -> str:
    first, last = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    if not fine(first, last) or max(abs(first), abs(last)) > 1e6:
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
    centre, radius = entity.dxf.center, float(entity.dxf.radius)
    facing = facing_of(entity)
    if facing == 0:
        return NOT_FLAT
    if not fine(centre.x, centre.y, radius):
        return OUT_OF_RANGE
    if radius <= 0.0:
        return "radius is not positive"
    if sweep >= 2.0 * math.pi * (1.0 - 1e-12):
        content.closed.add(index)
    content.arcs.append((centre.x, centre.y, radius, first, sweep, facing))
    content.arc_source.append(index)
    return ""


def _read_lwpolyline(entity: Any, index: int, content: Content) -> str:
    rows = np.array(entity.lwpoints.values, dtype=float).reshape(-1, 5)
    facing = facing_of(entity)
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
    facing = facing_of(entity)
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


def _read_insert(entity: Any, index: int, content: Content) -> str:
    dxf = entity.dxf
    for attribute in entity.attribs:
        add_text(attribute, attribute.dxf.get("text", ""), "attribute", content)
    at = dxf.insert
    sx, sy = float(dxf.get("xscale", 1.0)), float(dxf.get("yscale", 1.0))
    turn = float(dxf.get("rotation", 0.0))
    columns, rows = (
        abs(int(dxf.get("column_count", 1))) or 1,
        abs(int(dxf.get("row_count", 1))) or 1,
    )
    step_x, step_y = float(dxf.get("column_spacing", 0.0)), float(dxf.get("row_spacing", 0.0))
    facing = facing_of(entity)
    if facing == 0:
        return NOT_FLAT
    if not fine(at.x, at.y, sx, sy, turn, step_x, step_y):
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
    "ELLIPSE": read_ellipse,
    "SPLINE": read_spline,
    "INSERT": _read_insert,
}
