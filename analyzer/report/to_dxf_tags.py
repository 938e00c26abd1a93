"""Shapes and layers as DXF tags, in the words of the drawing's own version.

Up to R12 an entity needs neither handle nor class; from R13 on it needs both, and a handle that
nothing else has.  All text is ASCII: other letters stand as codes, which every version knows, so
that the drawing's own encoding does not matter.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from analyzer.report.escape import shown
from analyzer.report.to_dxf_shapes import Circle, Line, Point, Shape, Solid, Text

Tag = tuple[int, str]

_CODE = re.compile(r"\\(?=[UuMm]\+)")


@dataclass(frozen=True)
class Dialect:
    """How a drawing writes its tags.

    Attributes
    ----------
    modern : bool
        R13 or newer: handles, owners and class names.
    space : str
        Handle of model space; empty where not known.
    table : str
        Handle of the table of layers; empty where not known.
    layer_extras : tuple of (int, str)
        Tags that the drawing's own layers have and ours need too (plot style, material).
    line_end : bytes
        What ends every line.
    prefix : str
        Beginning of the names of our layers.
    """

    modern: bool
    space: str = ""
    table: str = ""
    layer_extras: tuple[Tag, ...] = ()
    line_end: bytes = b"\n"
    prefix: str = ""


def plain_text(words: str) -> str:
    r"""Return words as a TEXT may hold them: ASCII, one line, nothing that a reader obeys.

    Examples
    --------
    >>> plain_text("Ø 3.5 ^J %%d"), plain_text("\\U+0041")
    ('\\U+00D8 3.5 ^ J % % d', '\\ U+0041')
    """
    words = shown(words, 400)
    words = _CODE.sub(r"\\ ", words).replace("^", "^ ").replace("%%", "% % ")
    return "".join(c if c.isascii() else coded(c) for c in words)


def coded(character: str) -> str:
    """Return a letter as the code every DXF version knows."""
    code = ord(character)
    return f"\\U+{code:04X}" if code < 0x10000 else "?"


def packed(tags: Iterable[Tag], line_end: bytes) -> bytes:
    """Return tags as lines."""
    return b"".join(
        b"%3d" % code + line_end + value.encode("ascii") + line_end for code, value in tags
    )


def layer_tags(
    layers: dict[str, int], dialect: Dialect, handles: Callable[[], str]
) -> Iterator[Tag]:
    """Yield the entries of our layers in the table of layers."""
    for name, colour in layers.items():
        yield 0, "LAYER"
        if dialect.modern:
            yield 5, handles()
            if dialect.table:
                yield 330, dialect.table
            yield 100, "AcDbSymbolTableRecord"
            yield 100, "AcDbLayerTableRecord"
        yield 2, dialect.prefix + name
        yield 70, "0"
        yield 62, str(colour)
        yield 6, "CONTINUOUS"
        yield from dialect.layer_extras


def shape_tags(
    shapes: Iterable[Shape], dialect: Dialect, handles: Callable[[], str]
) -> Iterator[Tag]:
    """Yield the entities of all shapes."""
    for shape in shapes:
        kind = type(shape)
        yield 0, kind.__name__.upper()
        colour = getattr(shape, "colour", None)
        yield from _common(dialect.prefix + shape.layer, colour, dialect, handles)
        yield from _BODIES[kind](shape, dialect.modern)


def _common(
    layer: str, colour: int | None, dialect: Dialect, handles: Callable[[], str]
) -> Iterator[Tag]:
    if dialect.modern:
        yield 5, handles()
        if dialect.space:
            yield 330, dialect.space
        yield 100, "AcDbEntity"
    yield 8, layer
    if colour is not None:
        yield 62, str(colour)


def _number(value: float) -> str:
    text = f"{value:.9f}".rstrip("0")
    return text + "0" if text.endswith(".") else text


def _at(point: Point, code: int = 10) -> Iterator[Tag]:
    yield code, _number(point[0])
    yield code + 10, _number(point[1])
    yield code + 20, "0.0"


def _line(line: Line, modern: bool) -> Iterator[Tag]:
    if modern:
        yield 100, "AcDbLine"
    yield from _at(line.start)
    yield from _at(line.end, 11)


def _circle(circle: Circle, modern: bool) -> Iterator[Tag]:
    if modern:
        yield 100, "AcDbCircle"
    yield from _at(circle.middle)
    yield 40, _number(circle.radius)


def _solid(solid: Solid, modern: bool) -> Iterator[Tag]:
    if modern:
        yield 100, "AcDbTrace"
    first, second, third, fourth = solid.corners
    for code, corner in ((10, first), (11, second), (12, fourth), (13, third)):
        yield from _at(corner, code)  # the third and fourth corner of a SOLID lie crosswise


def _text(text: Text, modern: bool) -> Iterator[Tag]:
    if modern:
        yield 100, "AcDbText"
    yield from _at(text.at)
    yield 40, _number(text.height)
    yield 1, plain_text(text.words)
    if text.align != "left":
        yield 72, "1" if text.align == "middle" else "2"
        yield from _at(text.at, 11)
    if modern:
        yield 100, "AcDbText"
    if text.align == "middle":
        yield 73, "2"


_BODIES: dict[type, Callable[..., Iterator[Tag]]] = {
    Line: _line, Circle: _circle, Solid: _solid, Text: _text,
}  # fmt: skip
