"""Entities and blocks as the raw tags tell them.

It is the witness against which the account of entities is held: what stands here and is
not delivered by the reader is reported as lost, and what an entity lacks here is not
made up there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise
from typing import overload

import numpy as np

from analyzer.drawing.tags import RawTags
from analyzer.geometry.contours import Bools, Ints

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


@dataclass(frozen=True, eq=False)
class RawEntities(Sequence[RawEntity]):
    """Entities in file order, kept as columns, read one by one.

    Attributes
    ----------
    types, layers, handles : list of str, one an entity
    paper : ndarray of bool, shape (n,)
        Lies in paper space.
    lacks : dict of int to str
        What is missing, where something is.
    row : ndarray of int, shape (n,)
        The tag with group code 0 that begins each, counted among those.
    """

    types: list[str] = field(default_factory=list)
    layers: list[str] = field(default_factory=list)
    handles: list[str] = field(default_factory=list)
    paper: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))
    lacks: dict[int, str] = field(default_factory=dict)
    row: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))

    def __len__(self) -> int:
        return len(self.types)

    @overload
    def __getitem__(self, at: int) -> RawEntity: ...

    @overload
    def __getitem__(self, at: slice) -> list[RawEntity]: ...

    def __getitem__(self, at: int | slice) -> RawEntity | list[RawEntity]:
        if isinstance(at, slice):
            return [self[i] for i in range(*at.indices(len(self)))]
        at = range(len(self))[at]
        return RawEntity(
            self.types[at], self.layers[at], self.handles[at], bool(self.paper[at]),
            self.lacks.get(at, ""),
        )  # fmt: skip

    @staticmethod
    def join(several: Sequence[RawEntities]) -> RawEntities:
        """Return several in one, in order."""
        if len(several) == 1:
            return several[0]
        lacks: dict[int, str] = {}
        before = 0
        for one in several:
            lacks.update({before + i: what for i, what in one.lacks.items()})
            before += len(one)
        every = RawEntities()
        return RawEntities(
            [kind for one in several for kind in one.types],
            [layer for one in several for layer in one.layers],
            [handle for one in several for handle in one.handles],
            np.concatenate([every.paper, *(one.paper for one in several)]), lacks,
            np.concatenate([every.row, *(one.row for one in several)]),
        )  # fmt: skip


@dataclass
class RawBlock:
    """What a block definition holds."""

    entities: RawEntities = field(default_factory=RawEntities)
    inserts: list[RawInsert] = field(default_factory=list)


class RawDrawing(RawTags):
    """The tags of a drawing, read as entities, blocks and block references."""

    def _entities_between(self, start: int, stop: int) -> RawEntities:
        """Return the entities whose first tag lies in start..stop."""
        first, last = np.searchsorted(self.zeros, (start, stop))
        begins = self.zeros[first:last]
        kinds = self.zero_values[first:last]
        if not len(begins):
            return RawEntities()
        bounds = np.append(begins, stop)
        own = np.repeat(np.arange(len(begins)), np.diff(bounds))
        codes = self.codes[begins[0] : stop]

        def first_tag(code: int) -> Ints:
            """First tag with this code of every entity, -1 where there is none."""
            at = np.flatnonzero(codes == code)[::-1]
            tags = np.full(len(begins), -1, dtype=np.int64)
            tags[own[at]] = at + begins[0]
            return tags

        lacks = self._incomplete(kinds, own, codes, begins)
        rows = np.flatnonzero([kind not in _NOT_ENTITY_BYTES for kind in kinds])
        layer, handle, space = (first_tag(code)[rows] for code in (8, 5, 67))
        number = {row: i for i, row in enumerate(rows.tolist()) if row in lacks}
        types = {kind: kind.decode("latin-1") for kind in set(kinds)}
        paper = space >= 0
        paper[paper] = [self.value(tag) == b"1" for tag in space[paper].tolist()]
        return RawEntities(
            [types[kinds[row]] for row in rows.tolist()],
            self._layer_names(layer),
            self._upper_words(handle),
            paper, {number[row]: what for row, what in lacks.items() if row in number},
            rows + first,
        )  # fmt: skip

    def _layer_names(self, tags: Ints) -> list[str]:
        """Return the layer each tag tells, "0" where there is none."""
        words = self.values(tags[tags >= 0])
        first = dict(zip(words, tags[tags >= 0].tolist(), strict=True))
        names = {word: self._text(tag) for word, tag in first.items()}
        told = iter(words)
        return [names[next(told)] if there else "0" for there in (tags >= 0).tolist()]

    def _upper_words(self, tags: Ints) -> list[str]:
        """Return the value of each tag in capitals, nothing where there is no tag."""
        words = self.values(tags[tags >= 0])
        told = iter(b"\n".join(words).decode("latin-1").upper().split("\n"))
        return [next(told) if there else "" for there in (tags >= 0).tolist()]

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
    def entities(self) -> RawEntities:
        """Entities of all ENTITIES sections, model space and paper space, in file order.

        Those that stand outside every section come last.
        """
        spans = [(section.start, section.stop) for section in self.of("ENTITIES")]
        return RawEntities.join(
            [self._entities_between(start, stop) for start, stop in spans + self.stray_spans]
        )

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
        held = int(self.entities.paper.sum())
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


def match_raw(raw: Sequence[RawEntity], types: list[str]) -> Callable[[int, str], RawEntity | None]:
    """Return a function (position, handle) -> that entity as the tags tell it, or None.

    Entities are told apart by their position where the reader delivered the same types
    in the same order, else by their handles.
    """
    if [entity.type for entity in raw] == types:
        return lambda position, handle: raw[position]
    by_handle = {entity.handle: entity for entity in raw if entity.handle}
    return lambda position, handle: by_handle.get(handle)
