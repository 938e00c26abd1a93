"""Open a drawing file once and look at its first bytes before any library sees it."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from analyzer.budgets import Budgets
from analyzer.errors import DrawingError

BINARY_MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"

# First bytes of files that are often sent under the name of a drawing.
_FOREIGN: tuple[tuple[bytes, str], ...] = (
    (b"PK\x03\x04", "a zip archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"Rar!", "a rar archive"),
    (b"%PDF", "a PDF document"),
    (b"%!PS", "a PostScript document"),
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"{\\rtf", "a rich text document"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
    (b"AC10", "a DWG drawing"),
    (b"solid ", "an STL model"),
    (b"ISO-10303", "a STEP model"),
    (b"\xff\xfe", "text in UTF-16"),
    (b"\xfe\xff", "text in UTF-16"),
)
_MARKUP: tuple[tuple[bytes, str], ...] = (
    (b"<svg", "an SVG picture"),
    (b"<html", "a web page"),
    (b"<!doctype html", "a web page"),
    (b"<?xml", "an XML document"),
)
_SAVE_AS_DXF = "ask for the drawing saved as DXF"


def read_bytes(path: Path, budgets: Budgets) -> bytes:
    """Return the bytes of a regular file that may be a DXF drawing.

    The file is opened once and judged by what was opened, so that a pipe, a device or a
    link to one neither hangs nor floods us.  Line ends become "\\n" in a text drawing.

    Raises
    ------
    DrawingError
        If it cannot be opened, is no regular file, is empty, over the limit, or is
        recognised as something else.
    """
    where = path.name
    try:
        # not to wait for a pipe's other end
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not valid"
        raise DrawingError(
            f"cannot be opened: {reason}", where=where, hint="check the path and its permissions"
        ) from None
    state = os.fstat(handle)
    if not stat.S_ISREG(state.st_mode):
        os.close(handle)
        kind = "a folder" if stat.S_ISDIR(state.st_mode) else "a pipe or device"
        raise DrawingError(f"is {kind}, not a file", where=where, hint="give a DXF file")
    with os.fdopen(handle, "rb") as file:
        budgets.check("file_mb", state.st_size / 1e6, where=where)
        try:
            data = file.read(int(budgets.file_mb * 1e6) + 1)
        except OSError as error:
            raise DrawingError(f"cannot be read: {error.strerror}", where=where) from None
    budgets.check("file_mb", len(data) / 1e6, where=where)
    refuse_foreign(data, where)
    return data if data.startswith(BINARY_MARK) else _plain_lines(data)


def refuse_foreign(data: bytes, where: str) -> None:
    """Raise DrawingError when `data` does not begin like a DXF drawing, naming what it is."""
    if not data.strip(b"\x00\r\n\t "):
        raise DrawingError("is empty", where=where, hint="save or copy the drawing again")
    if data.startswith(BINARY_MARK):
        return
    for mark, name in _FOREIGN:
        if data.startswith(mark):
            raise DrawingError(f"is {name}, not a DXF drawing", where=where, hint=_SAVE_AS_DXF)
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    for mark, name in _MARKUP:
        if head.startswith(mark):
            raise DrawingError(f"is {name}, not a DXF drawing", where=where, hint=_SAVE_AS_DXF)
    first = head.splitlines()[0].strip() if head else b""
    if not first.isdigit() or len(first) > 4:
        raise DrawingError(
            "is not a DXF drawing: it does not begin with a group code",
            where=where, hint=_SAVE_AS_DXF,
        )  # fmt: skip


def _plain_lines(data: bytes) -> bytes:
    data = data.removeprefix(b"\xef\xbb\xbf").lstrip(b" \t\r\n")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data
