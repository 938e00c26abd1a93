"""The raw tags of a drawing: group codes, values, sections and header, before any library.

One numpy pass finds lines and group codes; only the few tags that matter are decoded.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.sniff import BINARY_MARK
from analyzer.errors import DrawingError
from analyzer.geometry.contours import Ints

_SECTION_MARKS = frozenset((b"SECTION", b"ENDSEC", b"EOF"))


@dataclass(frozen=True)
class _Section:
    name: str
    start: int  # first tag of the body
    stop: int  # tag after the body (ENDSEC, or where the next section begins)
    closed: bool


class RawTags:
    """Group codes and value spans of a drawing, and what they say about its structure.

    Parameters
    ----------
    data : bytes
        A drawing as `sniff.read_bytes` returns it.
    where : str
        Its name, for messages.

    Raises
    ------
    DrawingError
        If group codes are damaged, the file is cut off, or it has no ENTITIES section.
    """

    def __init__(self, data: bytes, where: str) -> None:
        self.where = where
        self.binary = data.startswith(BINARY_MARK)
        self.data = _binary_as_text(data, where) if self.binary else data
        self._split()
        self.sections = self._find_sections()
        if not any(s.name == "ENTITIES" for s in self.sections):
            raise DrawingError(
                "has no ENTITIES section, so nothing to cut",
                where=where, hint="save the drawing again as DXF",
            )  # fmt: skip

    # --- lines and codes --------------------------------------------------

    def _split(self) -> None:
        data = self.data if self.data.endswith(b"\n") else self.data + b"\n"
        self.data = data
        buffer = np.frombuffer(data, np.uint8)
        line_end = np.flatnonzero(buffer == 10)
        last = int(line_end[-2]) + 1 if len(line_end) > 1 else 0
        self.odd_line = len(line_end) % 2 == 1 and bool(data[last:].strip())
        line_end = line_end[: len(line_end) // 2 * 2]
        if not len(line_end):
            raise DrawingError("is not a DXF drawing: it holds one line", where=self.where)
        line_start = np.concatenate(([0], line_end[:-1] + 1))
        self.code_start, self.code_end = line_start[0::2], line_end[0::2]
        self.value_start, self.value_end = line_start[1::2], line_end[1::2]
        self.codes = self._parse_codes(buffer)

    def _parse_codes(self, buffer: NDArray[np.uint8]) -> Ints:
        """Return all group codes: right-aligned digits at once, the odd ones singly."""
        start, end = self.code_start, self.code_end
        codes = np.zeros(len(start), dtype=np.int64)
        alive = end > start
        plain = alive.copy()
        weight = 1
        longest = int((end - start).max(initial=0))
        for k in range(1, min(longest, 5) + 1):
            at = end - k
            inside = at >= start
            char = buffer[np.maximum(at, 0)]
            digit = inside & alive & (char >= 48) & (char <= 57)
            codes += np.where(digit, char.astype(np.int64) - 48, 0) * weight
            blank = ~inside | (char == 32)
            plain &= digit | blank
            if k == 1:
                plain &= digit
            alive = digit
            weight *= 10
        if longest > 5:
            plain &= ~alive  # more digits than were looked at
        end_of_file = self._first_end(codes, plain)
        for tag in np.flatnonzero(~plain[:end_of_file]).tolist():
            text = self.data[start[tag] : end[tag]].strip()
            try:
                codes[tag] = int(text)
            except (ValueError, OverflowError):
                raise DrawingError(
                    f"line {2 * tag + 1} should be a group code but is {text[:20]!r}: "
                    "the file is damaged",
                    where=self.where, hint="save or send the drawing again",
                ) from None  # fmt: skip
        self.code_start, self.code_end = start[:end_of_file], end[:end_of_file]
        self.value_start = self.value_start[:end_of_file]
        self.value_end = self.value_end[:end_of_file]
        return codes[:end_of_file]

    def _first_end(self, codes: Ints, plain: NDArray[np.bool_]) -> int:
        """Return the number of tags up to the EOF marker, and note whether there is one."""
        size = self.value_end - self.value_start
        may_be = ((codes == 0) | ~plain) & (size >= 3) & (size < 40)
        letters = np.frombuffer(self.data, np.uint8)
        # "EOF", or anything with blanks around it
        may_be &= (letters[self.value_start] == ord("E")) | self.padded(slice(None))
        may_be &= (letters[self.value_end - 1] == ord("F")) | self.padded(slice(None))
        for tag in np.flatnonzero(may_be).tolist():
            code = self.data[self.code_start[tag] : self.code_end[tag]]
            if self.value(tag) == b"EOF" and code.strip() == b"0":
                self.has_end = True
                return tag + 1
        self.has_end = False
        return len(codes)

    def value(self, tag: int) -> bytes:
        """Return the value of a tag without the blanks around it."""
        return self.data[self.value_start[tag] : self.value_end[tag]].strip()

    def values(self, tags: Ints) -> list[bytes]:
        """Return the values of many tags without the blanks around them."""
        data = self.data
        found = [
            data[a:b]
            for a, b in zip(self.value_start[tags].tolist(), self.value_end[tags].tolist(),
                            strict=True)
        ]  # fmt: skip
        for row in np.flatnonzero(self.padded(tags)).tolist():
            found[row] = found[row].strip()
        return found

    def padded(self, tags: Ints | slice) -> NDArray[np.bool_]:
        """Return which values may have blanks around them."""
        letters = np.frombuffer(self.data, np.uint8)
        start, end = self.value_start[tags], self.value_end[tags]
        blank = (letters[start] <= 32) | (letters[np.maximum(end - 1, 0)] <= 32)
        padded: NDArray[np.bool_] = blank & (end > start)
        return padded

    def line(self, tag: int) -> int:
        """Return the line number of a tag's value in the text file."""
        return 2 * int(tag) + 2

    # --- structure --------------------------------------------------------

    @cached_property
    def zeros(self) -> Ints:
        """Tags with group code 0, in order."""
        return np.flatnonzero(self.codes == 0)

    @cached_property
    def zero_values(self) -> list[bytes]:
        """Values of the tags with group code 0."""
        return self.values(self.zeros)

    def _find_sections(self) -> list[_Section]:
        sections: list[_Section] = []
        begin, name = -1, ""
        outside: list[int] = []
        values, next_row = self.zero_values, 0
        marks = [row for row, value in enumerate(values) if value in _SECTION_MARKS]
        for row in (*marks, len(values)):
            if begin < 0:
                outside += self.zeros[next_row:row].tolist()
            if row == len(values):
                break
            tag, value, next_row = int(self.zeros[row]), values[row], row + 1
            if begin >= 0:
                sections.append(_Section(name, begin, tag, value == b"ENDSEC"))
                begin = -1
            if value == b"SECTION" and tag + 1 < len(self.codes) and self.codes[tag + 1] == 2:
                name = self.value(tag + 1).decode("latin-1").upper()
                begin = tag + 2
        self.outside = outside
        if begin >= 0:
            sections.append(_Section(name, begin, len(self.codes), False))
        if not self.has_end and (not sections or begin >= 0 or self.odd_line):
            raise DrawingError(
                "is cut off" + (f" in its {name} section" if begin >= 0 else "")
                + ": the end-of-file marker is missing",
                where=self.where, hint="save or send the drawing again",
            )  # fmt: skip
        return sections

    def of(self, name: str) -> list[_Section]:
        """Return the sections called `name`."""
        return [section for section in self.sections if section.name == name]

    # --- header -----------------------------------------------------------

    @cached_property
    def header(self) -> dict[str, str]:
        """Header variables that one tag holds, by name; empty without a header."""
        found: dict[str, str] = {}
        for section in self.of("HEADER"):
            tags = np.arange(section.start, section.stop)
            for tag in tags[self.codes[tags] == 9].tolist():
                if tag + 1 < section.stop and self.codes[tag + 1] != 9:
                    name = self.value(tag).decode("latin-1").upper()
                    found.setdefault(name, self.value(tag + 1).decode("latin-1"))
        return found

    @cached_property
    def encoding(self) -> str:
        """Text encoding by version and code page, as the DXF reference tells."""
        if self.binary or self.header.get("$ACADVER", "") >= "AC1021":
            return "utf-8"
        from ezdxf.tools.codepage import toencoding

        return str(toencoding(self.header.get("$DWGCODEPAGE", "ANSI_1252")))

    def _text(self, tag: int) -> str:
        text = self.value(tag).decode(self.encoding, "surrogateescape")
        if "\\" in text:
            from ezdxf.lldxf.encoding import decode_dxf_unicode, has_dxf_unicode

            if has_dxf_unicode(text):
                text = str(decode_dxf_unicode(text))
        return text


def _binary_as_text(data: bytes, where: str) -> bytes:
    """Return a binary drawing as the same tags in text."""
    from ezdxf.lldxf.tagger import binary_tags_loader

    try:
        lines = list(_text_lines(binary_tags_loader(data)))
    except Exception as error:  # the library meets damaged bytes in many ways
        raise DrawingError(
            f"is a damaged or cut-off binary drawing ({type(error).__name__})",
            where=where, hint="save or send the drawing again",
        ) from None  # fmt: skip
    return "".join(lines).encode("utf-8", "surrogateescape")


def _text_lines(tags: Iterable[Any]) -> Iterable[str]:
    for code, value in tags:
        if isinstance(value, bytes):
            text = value.hex().upper()
        elif isinstance(value, float):
            text = repr(value)
        else:
            text = str(value).replace("\r", " ").replace("\n", " ")
        yield f"{code}\n{text}\n"
        if code == 0 and text == "EOF":
            return
