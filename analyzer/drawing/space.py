"""Model space: what was read straight from the tags and what the library delivers, in one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analyzer.drawing.content import Content
from analyzer.drawing.entities import read_content
from analyzer.drawing.raw import RawDrawing
from analyzer.drawing.scan import Plain
from analyzer.geometry.contours import Ints

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document


def read_space(document: Document, tags: RawDrawing, plain: Plain | None) -> Content:
    """Return the content of model space, in drawing order.

    Parameters
    ----------
    document : ezdxf document
        The drawing, without what is in `plain`.
    tags : RawDrawing
    plain : Plain or None
        What was read straight from the tags.
    """
    entities = tags.entities
    here = ~entities.paper
    place = np.cumsum(here) - 1  # in model space, of every entity
    others = plain.others(tags) if plain is not None else np.flatnonzero(here)
    content = read_content(
        document.modelspace(), [entities[i] for i in others.tolist()], place[others].tolist()
    )
    if plain is None:
        return content
    own = place[np.searchsorted(entities.row, plain.row)]
    return _woven(content, place[others], plain, own, int(here.sum()), tags)


def _woven(
    rest: Content, rest_place: Ints, plain: Plain, place: Ints, count: int, tags: RawDrawing
) -> Content:
    """Return one content of both, each entity at its place."""
    names = {b"": "BYLAYER"}
    for word in {*plain.layers, *plain.linetypes} - names.keys():
        names[word] = word.decode(tags.encoding, "surrogateescape")
    kinds = {kind: kind.decode() for kind in set(plain.types.tolist())}
    types = [kinds[kind] for kind in plain.types.tolist()]
    told = b"\n".join(plain.handles).decode().split("\n")
    handles = [handle or f"#{k}" for handle, k in zip(told, place.tolist(), strict=True)]

    def column(mine: list[str], others: list[str]) -> list[str]:
        both = np.empty(count, dtype=object)
        both[place], both[rest_place] = mine, others
        merged: list[str] = both.tolist()
        return merged

    moved = rest_place.tolist()
    rest.types = column(types, rest.types)
    rest.layers = column([names[word] for word in plain.layers], rest.layers)
    rest.linetypes = column([names[word] for word in plain.linetypes], rest.linetypes)
    rest.handles = column(handles, rest.handles)
    rest.reasons = column([""] * len(place), rest.reasons)
    rest.segment_source = [moved[k] for k in rest.segment_source]
    rest.arc_source = [moved[k] for k in rest.arc_source]
    rest.polyline_source = [moved[k] for k in rest.polyline_source]
    rest.conic_source = [moved[k] for k in rest.conic_source]
    rest.spline_source = [moved[k] for k in rest.spline_source]
    rest.inserts = [replace(insert, source=moved[insert.source]) for insert in rest.inserts]
    rest.closed = {*(moved[k] for k in rest.closed), *place[plain.closed].tolist()}
    rest.repeated_points += plain.repeated_points
    rest.direct = plain.geometry.owned_by(place)
    return rest
