"""Our own view of the raw tags: sections, entities, blocks and header, before any library.

It is the witness against which the account of entities is held: what stands here and is
not delivered by the reader is reported as lost.  One numpy pass finds lines and group
codes; only the few tags that matter here are decoded.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.sniff import BINARY_MARK
from analyzer.errors import DrawingError

Ints = NDArray[np.int64]

# Tags of these types belong to the entity before them.
SUB_ENTITIES = frozenset({"VERTEX", "SEQEND", "ATTRIB"})
_NOT_ENTITIES = SUB_ENTITIES | {"ENDBLK", "BLOCK", "ENDSEC", "SECTION", "EOF"}

# What must stand in an entity, or its reader would make something up: group code, meaning.
_REQUIRED: dict[str, tuple[tuple[int, str], ...]] = {
    "LINE": ((10, "x"), (20, "y"), (11, "end x"), (21, "end y")),
    "CIRCLE": ((10, "x"), (20, "y"), (40, "radius")),
    "ARC": ((10, "x"), (20, "y"), (40, "radius"), (50, "start angle"), (51, "end angle")),
    "ELLIPSE": ((10, "x"), (20, "y"), (11, "axis x"), (21, "axis y"), (40, "ratio")),
    "LWPOLYLINE": ((10, "x"), (20, "y")),
    "INSERT": ((2, "block name"), (10, "x"), (20, "y")),
}
_SUBCLASS = {"ELLIPSE": b"AcDbEllipse", "LWPOLYLINE": b"AcDbPolyline", "SPLINE": b"AcDbSpline"}
_PAIRED = frozenset({"LWPOLYLINE", "SPLINE"})  # as many x as y


@dataclass(frozen=True)
class RawEntity:
    """One entity as the tags tell it."""

    type: str
    layer: str
    handle: str
    paper: bool = False
    lacks: str = ""  # what a complete entity of its type has and this one has not


@dataclass(frozen=True)
class RawInsert:
    """A block reference as the tags tell it."""

    block: str
    copies: int


@dataclass
class RawBlock:
    """What a block definition holds."""

    entities: list[RawEntity] = field(default_factory=list)
    inserts: list[RawInsert] = field(default_factory=list)


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
        for k in range(1, 6):
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
        plain &= ~alive
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
        zero = (codes == 0) | ~plain
        for tag in np.flatnonzero(zero & (size >= 3) & (size < 40)).tolist():
            code = self.data[self.code_start[tag] : self.code_end[tag]]
            if self.value(tag) == b"EOF" and code.strip() == b"0":
                self.has_end = True
                return tag + 1
        self.has_end = False
        return len(codes)

    def value(self, tag: int) -> bytes:
        """Return the value of a tag without the blanks around it."""
        return self.data[self.value_start[tag] : self.value_end[tag]].strip()

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
        return [self.value(tag) for tag in self.zeros.tolist()]

    def _find_sections(self) -> list[_Section]:
        sections: list[_Section] = []
        begin, name = -1, ""
        outside: list[int] = []
        for tag, value in zip(self.zeros.tolist(), self.zero_values, strict=True):
            if value in (b"SECTION", b"ENDSEC", b"EOF"):
                if begin >= 0:
                    sections.append(_Section(name, begin, tag, value == b"ENDSEC"))
                    begin = -1
                if value == b"SECTION" and tag + 1 < len(self.codes) and self.codes[tag + 1] == 2:
                    name = self.value(tag + 1).decode("latin-1").upper()
                    begin = tag + 2
            elif begin < 0:
                outside.append(tag)
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

    # --- entities ---------------------------------------------------------

    def _entities_between(self, start: int, stop: int) -> list[RawEntity]:
        """Return the entities whose first tag lies in start..stop."""
        first, last = np.searchsorted(self.zeros, (start, stop))
        begins = self.zeros[first:last]
        kinds = self.zero_values[first:last]
        if not len(begins):
            return []
        bounds = np.append(begins, stop)
        own = np.repeat(np.arange(len(begins)), np.diff(bounds))
        codes = self.codes[begins[0] : stop]

        def first_tag(code: int) -> Ints:
            """First tag with this code of every entity, -1 where there is none."""
            at = np.flatnonzero(codes == code)
            entity, where = np.unique(own[at], return_index=True)
            tags = np.full(len(begins), -1, dtype=np.int64)
            tags[entity] = at[where] + begins[0]
            return tags

        layer, handle, space = first_tag(8).tolist(), first_tag(5).tolist(), first_tag(67).tolist()
        lacks = self._incomplete(kinds, own, codes, begins)
        names: dict[bytes, str] = {}
        entities = []
        for i, kind in enumerate(kinds):
            if kind in _NOT_ENTITY_BYTES:
                continue
            raw = self.value(layer[i]) if layer[i] >= 0 else b"0"
            if raw not in names:
                names[raw] = self._text(layer[i]) if layer[i] >= 0 else "0"
            entities.append(
                RawEntity(
                    kind.decode("latin-1"), names[raw],
                    self.value(handle[i]).decode("latin-1").upper() if handle[i] >= 0 else "",
                    space[i] >= 0 and self.value(space[i]) == b"1", lacks.get(i, ""),
                )
            )  # fmt: skip
        return entities

    def _incomplete(
        self, kinds: list[bytes], own: Ints, codes: Ints, begins: Ints
    ) -> dict[int, str]:
        """Return what is missing, by entity, where something is."""
        present = {
            code: np.bincount(own[codes == code], minlength=len(kinds))
            for code in sorted({c for need in _REQUIRED.values() for c, _ in need})
        }
        kind_of = np.array(kinds, dtype=object)
        found: dict[int, str] = {}
        for kind, needs in _REQUIRED.items():
            rows = np.flatnonzero(kind_of == kind.encode())
            for code, meaning in needs:
                for row in rows[present[code][rows] == 0].tolist():
                    found.setdefault(row, f"{meaning} (group {code})")
            if kind in _PAIRED:
                for row in rows[present[10][rows] != present[20][rows]].tolist():
                    found.setdefault(row, "a coordinate (group 10 or 20)")
        if self.header.get("$ACADVER", "AC1009") > "AC1009":
            self._without_subclass(kind_of, own, codes, begins, found)
        return found

    def _without_subclass(
        self, kinds: NDArray[np.object_], own: Ints, codes: Ints, begins: Ints,
        found: dict[int, str],
    ) -> None:  # fmt: skip
        """Note entities without the marker under which their reader looks for the values."""
        markers = np.flatnonzero(codes == 100)
        for kind, marker in _SUBCLASS.items():
            rows = np.flatnonzero(kinds == kind.encode())
            if not len(rows):
                continue
            wanted = np.isin(own[markers], rows)
            have = {
                int(own[at]) for at in markers[wanted].tolist()
                if self.value(at + int(begins[0])) == marker
            }  # fmt: skip
            for row in rows.tolist():
                if row not in have:
                    found.setdefault(row, f"the marker {marker.decode()} (group 100)")

    @cached_property
    def entities(self) -> list[RawEntity]:
        """Entities of all ENTITIES sections, model space and paper space, in file order.

        Those that stand outside every section come last.
        """
        spans = [(section.start, section.stop) for section in self.of("ENTITIES")]
        return [
            entity
            for start, stop in spans + self.stray_spans
            for entity in self._entities_between(start, stop)
        ]

    @cached_property
    def stray_spans(self) -> list[tuple[int, int]]:
        """First tag and tag after the last of every entity outside all sections."""
        spans = []
        for tag in self.outside:
            after = int(np.searchsorted(self.zeros, tag, "right"))
            stop = int(self.zeros[after]) if after < len(self.zeros) else len(self.codes)
            spans.append((tag, stop))
        return spans

    @cached_property
    def blocks(self) -> dict[str, RawBlock]:
        """Block definitions by name in lower case."""
        blocks: dict[str, RawBlock] = {}
        for section in self.of("BLOCKS"):
            first, last = np.searchsorted(self.zeros, (section.start, section.stop))
            opened = [i for i in range(first, last) if self.zero_values[i] == b"BLOCK"]
            for i, after in pairwise([*opened, last]):
                stop = int(self.zeros[after]) if after < len(self.zeros) else section.stop
                start = int(self.zeros[i])
                body = int(self.zeros[i + 1]) if i + 1 < len(self.zeros) else stop
                name = self._code_value(start, body, 2)
                block = RawBlock(self._entities_between(body, stop))
                block.inserts = self._inserts_between(body, stop)
                blocks[name.lower()] = block
        return blocks

    @cached_property
    def inserts(self) -> list[RawInsert]:
        """Block references of model space (and paper space)."""
        return [
            insert
            for section in self.of("ENTITIES")
            for insert in self._inserts_between(section.start, section.stop)
        ]

    def _inserts_between(self, start: int, stop: int) -> list[RawInsert]:
        first, last = np.searchsorted(self.zeros, (start, stop))
        found = []
        for i in range(first, last):
            if self.zero_values[i] == b"INSERT":
                begin = int(self.zeros[i])
                end = int(self.zeros[i + 1]) if i + 1 < len(self.zeros) else stop
                columns = _count(self._code_value(begin, end, 70))
                rows = _count(self._code_value(begin, end, 71))
                name = self._code_value(begin, end, 2).lower()
                found.append(RawInsert(name, columns * rows))
        return found

    def _code_value(self, start: int, stop: int, code: int) -> str:
        at = np.flatnonzero(self.codes[start:stop] == code)
        return self._text(start + int(at[0])) if len(at) else ""

    def in_paper_space(self) -> int:
        """Return how many entities lie in paper space."""
        held = sum(e.paper for e in self.entities)
        return held + sum(
            len(block.entities)
            for name, block in self.blocks.items()
            if name.startswith(("*paper_space", "$paper_space"))
        )

    def bad_number(self) -> tuple[int, str] | None:
        """Return line and text of the first coordinate or size that is no number."""
        spans = [(s.start, s.stop) for s in self.sections if s.name in ("ENTITIES", "BLOCKS")]
        for start, stop in spans:
            codes = self.codes[start:stop]
            numeric = ((codes >= 10) & (codes < 60)) | ((codes >= 210) & (codes < 240))
            for tag in (np.flatnonzero(numeric) + start).tolist():
                try:
                    float(self.value(tag))
                except ValueError:
                    return self.line(tag), self.value(tag)[:20].decode("latin-1")
        return None


_NOT_ENTITY_BYTES = frozenset(name.encode() for name in _NOT_ENTITIES)


def _count(text: str) -> int:
    """Return the rows or columns of a block reference: 0 or nothing means 1."""
    try:
        return max(abs(int(float(text))), 1)
    except (ValueError, OverflowError):
        return 1


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


def match_raw(raw: list[RawEntity], types: list[str]) -> Callable[[int, str], RawEntity | None]:
    """Return a function (position, handle) -> that entity as the tags tell it, or None.

    Entities are told apart by their position where the reader delivered the same types
    in the same order, else by their handles.
    """
    if [entity.type for entity in raw] == types:
        return lambda position, handle: raw[position]
    by_handle = {entity.handle: entity for entity in raw if entity.handle}
    return lambda position, handle: by_handle.get(handle)
