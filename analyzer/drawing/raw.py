"""Entities and blocks as the raw tags tell them.

It is the witness against which the account of entities is held: what stands here and is
not delivered by the reader is reported as lost, and what an entity lacks here is not
made up there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from analyzer.drawing.tags import RawTags
from analyzer.geometry.contours import Ints

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
_SUBCLASS = {b"ELLIPSE": b"AcDbEllipse", b"LWPOLYLINE": b"AcDbPolyline", b"SPLINE": b"AcDbSpline"}
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


class RawDrawing(RawTags):
    """The tags of a drawing, read as entities, blocks and block references."""

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
        return found

    @cached_property
    def unmarked(self) -> list[tuple[int, int, bytes]]:
        """Entities without the marker (group 100) under which their reader looks for values.

        First tag, tag after the last, and the marker that belongs there.
        """
        ends = np.append(self.zeros[1:], len(self.codes))
        rows = [i for i, kind in enumerate(self.zero_values) if kind in _SUBCLASS]
        markers = np.flatnonzero(self.codes == 100)
        begin = np.searchsorted(markers, self.zeros[rows]).tolist() if rows else []
        found = []
        for row, at in zip(rows, begin, strict=True):
            start, stop = int(self.zeros[row]), int(ends[row])
            marker = _SUBCLASS[self.zero_values[row]]
            own = markers[at : at + 8]  # an entity has two or three
            if marker not in [self.value(tag) for tag in own[own < stop].tolist()]:
                found.append((start, stop, marker))
        return found

    @cached_property
    def too_old(self) -> bool:
        """Whether the version has no entities of a type that is there all the same.

        The reader of such a version would take them half: a closed polyline as an open one.
        """
        old = self.header.get("$ACADVER", "AC1009") <= "AC1009"
        return old and not _SUBCLASS.keys().isdisjoint(self.zero_values)

    @cached_property
    def version_tags(self) -> list[int]:
        """Tags of the header that tell the version: its name and its value."""
        found = []
        for section in self.of("HEADER"):
            names = np.flatnonzero(self.codes[section.start : section.stop] == 9) + section.start
            for tag in names.tolist():
                if self.value(tag).upper() == b"$ACADVER":
                    found += [tag, tag + 1]
        return found

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


def match_raw(raw: list[RawEntity], types: list[str]) -> Callable[[int, str], RawEntity | None]:
    """Return a function (position, handle) -> that entity as the tags tell it, or None.

    Entities are told apart by their position where the reader delivered the same types
    in the same order, else by their handles.
    """
    if [entity.type for entity in raw] == types:
        return lambda position, handle: raw[position]
    by_handle = {entity.handle: entity for entity in raw if entity.handle}
    return lambda position, handle: by_handle.get(handle)
