"""Where in the bytes of a text DXF something may be put in, and what stands around it.

The drawing is never written anew: saving through a library loses what it did not read.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.drawing.raw import RawDrawing
from analyzer.errors import InputError
from analyzer.geometry.contours import Ints
from analyzer.report.to_dxf_tags import Tag

Insertion = tuple[int, bytes]
"""Offset in the original bytes, and what to put there."""

MARK = b"\xef\xbb\xbf"
BLANKS = b" \t\r\n"
FIRST_WITH_HANDLES = "AC1012"
LONGEST_HANDLE = 16  # hexadecimal digits of 64 bits
_LAYER_EXTRAS = (390, 347, 348)


def spliced(original: bytes, insertions: Sequence[Insertion]) -> bytes:
    """Return the bytes with all insertions in place."""
    pieces, done = [], 0
    for offset, more in sorted(insertions, key=lambda one: one[0]):
        pieces += [original[done:offset], more]
        done = offset
    return b"".join([*pieces, original[done:]])


@dataclass(frozen=True)
class Entry:
    """A table or one of its entries: tags from `start` to before `stop`."""

    kind: str
    start: int
    stop: int


class Places:
    """The bytes of a text drawing beside its tags.

    Parameters
    ----------
    original : bytes
        As they stand in the file.
    where : str
        Name of the drawing, for messages.
    """

    def __init__(self, original: bytes, where: str) -> None:
        self.where = where
        stripped = original.removeprefix(MARK).lstrip(BLANKS)
        self._skipped = len(original) - len(stripped)
        self._body = np.frombuffer(stripped, np.uint8)
        plain = stripped.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        self.tags = RawDrawing(plain, where)
        self.line_end = self._line_end(stripped)

    @staticmethod
    def _line_end(body: bytes) -> bytes:
        """Return what ends the first line: the drawing's own habit."""
        first = next((k for k, byte in enumerate(body) if byte in b"\r\n"), len(body))
        for end in (b"\r\n", b"\r"):
            if body.startswith(end, first):
                return end
        return b"\n"

    @cached_property
    def _lines(self) -> Ints:
        """Offset of every line of the body; a line ends as the reader counts it."""
        body = self._body
        after = np.append(body[1:], 0)
        ends = np.flatnonzero((body == 10) | ((body == 13) & (after != 10)))
        starts: Ints = np.concatenate(([0], ends + 1))
        return starts

    def before(self, tag: int) -> int:
        """Return the offset in the original bytes where a tag begins."""
        return self._skipped + int(self._lines[2 * tag])

    def value_at(self, tag: int) -> int:
        """Return the offset of the first letter of a tag's value."""
        line = int(self._lines[2 * tag + 1])
        begin = int(self.tags.value_start[tag])
        blanks = len(self.tags.data[begin:]) - len(self.tags.data[begin:].lstrip(b" \t"))
        return self._skipped + line + blanks

    # --- structure ----------------------------------------------------------

    @property
    def modern(self) -> bool:
        """Whether entities have handles and class names: R13 or newer."""
        return self.tags.header.get("$ACADVER", "").strip() >= FIRST_WITH_HANDLES

    def end_of_entities(self) -> int:
        """Return the offset where the section of entities ends.

        Raises
        ------
        InputError
            If it does not end: the drawing is damaged there.
        """
        section = self.tags.of("ENTITIES")[-1]
        if not section.closed:
            raise InputError(
                "the section of entities has no end: nothing can be added to it safely",
                where=self.where, hint="save the drawing again, or take --format svg",
            )  # fmt: skip
        return self.before(section.stop)

    def entries(self) -> Iterator[Entry]:
        """Yield every table, entry and end of the TABLES sections."""
        zeros = self.tags.zeros
        for section in self.tags.of("TABLES"):
            inside = np.flatnonzero((zeros >= section.start) & (zeros <= section.stop)).tolist()
            for row in inside:
                start = int(zeros[row])
                if start >= section.stop:
                    continue
                stop = int(zeros[row + 1]) if row + 1 < len(zeros) else len(self.tags.codes)
                kind = self.tags.zero_values[row].decode("latin-1").upper()
                yield Entry(kind, start, stop)

    def first(self, entry: Entry, code: int) -> str:
        """Return the first value of a group code in an entry, empty where there is none."""
        inside = self.tags.codes[entry.start : entry.stop]
        found = np.flatnonzero(inside == code)
        if not len(found):
            return ""
        return self.tags.value(entry.start + int(found[0])).decode("latin-1")

    def layers(self) -> tuple[int | None, str, tuple[Tag, ...]]:
        """Return where the table of layers ends, its handle, and tags that every layer has.

        The offset is None where there is no such table.
        """
        table: Entry | None = None
        extras: dict[int, str] = {}
        for entry in self.entries():
            if entry.kind == "TABLE":
                named = self.first(entry, 2).upper() == "LAYER"
                table = entry if named else None
            elif entry.kind == "LAYER" and table and not extras:
                extras = {c: self.first(entry, c) for c in _LAYER_EXTRAS if self.first(entry, c)}
            elif entry.kind == "ENDTAB" and table:
                return self.before(entry.start), self.first(table, 5), tuple(extras.items())
        return None, "", ()

    def model_space(self) -> str:
        """Return the handle of model space, empty where it is not told."""
        for entry in self.entries():
            if (
                entry.kind == "BLOCK_RECORD"
                and self.first(entry, 2).upper() == "*MODEL_SPACE"
            ):  # fmt: skip
                return self.first(entry, 5)
        return ""

    # --- handles ------------------------------------------------------------

    def highest_handle(self) -> int:
        """Return the highest handle in use, 0 where there is none."""
        codes = self.tags.codes
        values = self.tags.values(np.flatnonzero((codes == 5) | (codes == 105)))
        return max((hex_value(value) for value in values), default=0)

    def seed_tag(self) -> int | None:
        """Return the tag that holds the next free handle, None where the header has none."""
        for section in self.tags.of("HEADER"):
            tags = np.arange(section.start, section.stop - 1)
            for tag in tags[self.tags.codes[tags] == 9].tolist():
                if self.tags.value(tag).upper() == b"$HANDSEED" and self.tags.codes[tag + 1] == 5:
                    return int(tag) + 1
        return None

    def seed_insertions(self, wanted: int) -> list[Insertion]:
        """Return what makes the next free handle at least `wanted`: digits put before it.

        Digits in front make a number larger and change none of those that stand there; up to
        the leading zeros, so that it stays as short as it can.
        """
        tag = self.seed_tag()
        if tag is None:
            return self._new_seed(wanted)
        digits = self.tags.value(tag)
        shown = digits.lstrip(b"0")
        zeros = len(digits) - len(shown)
        if shown and hex_value(digits) >= wanted:
            return []
        front = 1
        while int(f"{front:X}" + shown.decode("latin-1"), 16) < wanted:
            front += 1
        return [(self.value_at(tag) + zeros, f"{front:X}".encode())]

    def _new_seed(self, wanted: int) -> list[Insertion]:
        for section in self.tags.of("HEADER"):
            if section.closed:
                lines = (b"  9", b"$HANDSEED", b"  5", f"{wanted:X}".encode())
                return [(self.before(section.stop), self.line_end.join((*lines, b"")))]
        return []


def hex_value(value: bytes) -> int:
    """Return the number of a handle, 0 where it is none."""
    if len(value) > LONGEST_HANDLE:
        return 0
    try:
        return int(value, 16)
    except ValueError:
        return 0
