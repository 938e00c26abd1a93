"""Texts of a drawing: kept as evidence."""

from __future__ import annotations

from typing import Any

from analyzer.drawing.content import Content, RawText, fine
from analyzer.drawing.dimensions import read_dimension


def read_words(entity: Any, kind: str, content: Content) -> None:
    """Keep the words of a TEXT, MTEXT or DIMENSION."""
    if kind == "TEXT":
        add_text(entity, entity.dxf.get("text", ""), "text", content)
    elif kind == "MTEXT":
        add_text(entity, entity.plain_text(), "text", content)
    elif kind == "DIMENSION":
        shown, dimension = read_dimension(entity)
        add_text(entity, shown, "dimension", content)
        if dimension is not None and fine(dimension.measured, dimension.x, dimension.y):
            content.dimensions.append(dimension)


def add_text(entity: Any, text: str, kind: str, content: Content) -> None:
    """Keep `text` with the place of the entity."""
    dxf = entity.dxf
    name = "text_midpoint" if kind == "dimension" else "insert"
    at = dxf.get(name) if dxf.hasattr(name) else None
    x, y = (float(at.x), float(at.y)) if at is not None else (0.0, 0.0)
    height = float(dxf.get("char_height", 0.0) if kind == "text" and dxf.hasattr("char_height")
                   else dxf.get("height", 0.0) if kind != "dimension" else 0.0)  # fmt: skip
    if text.strip() and fine(x, y, height):
        content.texts.append(RawText(text.strip(), x, y, height, dxf.get("layer", "0"), kind))
