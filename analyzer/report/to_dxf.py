"""The user's drawing with our marks, sizes and remedies on layers of their own.

The original's bytes stay as they are: our layers, our entities and, where handles need it, digits
in front of the next free handle are put in between.  A binary drawing becomes a text drawing of the
same tags first: nothing is lost, but its bytes are other ones.
"""

from __future__ import annotations

from itertools import count

from analyzer.comparison import Answer
from analyzer.drawing.raw import RawDrawing
from analyzer.drawing.sniff import BINARY_MARK
from analyzer.report.to_dxf_shapes import LAYERS, shapes_of
from analyzer.report.to_dxf_splice import Insertion, Places, hex_value, spliced
from analyzer.report.to_dxf_tags import Dialect, coded, layer_tags, packed, shape_tags

PREFIX = "BURRCAST{}_LABELS_"
"""Beginning of our layers' names; "labels" tells us, and others, that nothing there is cut."""

FIRST_IN_UTF8 = "AC1021"


def marked_dxf(original: bytes, answer: Answer) -> bytes:
    """Return the drawing with the marks of the gas advised put in.

    Parameters
    ----------
    original : bytes
        The whole file, text or binary, as the answer was made from.
    answer : Answer

    Raises
    ------
    InputError
        If nothing can be added safely.
    """
    if original.startswith(BINARY_MARK):
        original = _as_text(original, answer.analysis.drawing.file)
    return spliced(original, insertions(original, answer))


def insertions(original: bytes, answer: Answer) -> list[Insertion]:
    """Return all that is put into the bytes of a text drawing."""
    shapes = shapes_of(answer)
    places = Places(original, answer.analysis.drawing.file)
    end = places.end_of_entities()
    table_end, table, extras = places.layers()
    dialect = Dialect(
        places.modern, places.model_space() if places.modern else "", table,
        extras if places.modern else (), places.line_end, _prefix(original),
    )  # fmt: skip
    seed = places.seed_tag()
    told = hex_value(places.tags.value(seed)) if seed is not None else 0
    numbers = count(max(told, places.highest_handle() + 1))

    def handle() -> str:
        return f"{next(numbers):X}"

    found: list[Insertion] = []
    if table_end is not None:
        tags = layer_tags(LAYERS, dialect, handle)
        found.append((table_end, packed(tags, dialect.line_end)))
    found.append((end, packed(shape_tags(shapes, dialect, handle), dialect.line_end)))
    if dialect.modern:
        found += places.seed_insertions(next(numbers))
    return found


def _prefix(original: bytes) -> str:
    """Return a beginning that no layer of the drawing has, not even of an earlier marking."""
    known = original.upper()
    return next(
        name
        for name in (PREFIX.format(number or "") for number in count())
        if name.encode() not in known
    )


# --- binary ------------------------------------------------------------------------------


def _as_text(original: bytes, where: str) -> bytes:
    """Return a binary drawing as the same tags in text, in the encoding its version wants."""
    tags = RawDrawing(original, where)
    if tags.header.get("$ACADVER", "").strip() >= FIRST_IN_UTF8:
        return tags.data
    from ezdxf.tools.codepage import toencoding

    encoding = str(toencoding(tags.header.get("$DWGCODEPAGE", "ANSI_1252")))
    words = tags.data.decode("utf-8", "surrogateescape")
    return "".join(_letter(c, encoding) for c in words).encode(encoding, "surrogateescape")


def _letter(character: str, encoding: str) -> str:
    """Return a letter, as a code where an encoding does not have it."""
    if character.isascii() or "\udc80" <= character <= "\udcff":
        return character
    try:
        character.encode(encoding)
    except UnicodeEncodeError:
        return coded(character)
    return character
