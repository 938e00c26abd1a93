"""Faults of a drawing's tags that readers stumble over are mended before they see them.

Each is said as a fact: a missing end-of-file marker, doubled handles, several ENTITIES
sections, entities outside every section, missing markers of a type.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.drawing.raw import RawDrawing
from analyzer.units import counted

# group codes that entities of every type have
_COMMON = frozenset((6, 8, 48, 60, 62, 67, 347, 348, 370, 410, 420, 430, 440))


def mended(tags: RawDrawing) -> tuple[bytes, list[Fact]]:
    """Return the text of the drawing with the faults mended that readers stumble over."""
    facts: list[Fact] = []
    if not tags.has_end:
        facts.append(
            Fact("no-end-marker", "the end-of-file marker is missing; all sections are whole")
        )
    drop = _doubled_handles(tags)
    if drop:
        facts.append(
            Fact(
                "double-handles",
                f"{counted(len(drop), 'entity', 'entities')} had the handle of another object",
                count=len(drop),
            )
        )
    sections = tags.of("ENTITIES")
    if len(sections) > 1:
        facts.append(Fact("two-sections", f"{len(sections)} ENTITIES sections were joined"))
    strays = tags.stray_spans
    if strays:
        facts.append(
            Fact(
                "outside-sections",
                counted(len(strays), "entity", "entities")
                + " stood outside every section, taken in all the same",
                count=len(strays),
            )
        )
    unmarked = tags.unmarked
    if unmarked:
        kinds = sorted({tags.value(start).decode("latin-1") for start, _, _ in unmarked})
        facts.append(
            Fact(
                "no-marker",
                f"{counted(len(unmarked), 'entity', 'entities')} ({', '.join(kinds)}) without"
                " the marker (group 100) of the type; the values were read all the same",
                count=len(unmarked),
            )
        )
    padded = bool(tags.padded(tags.zeros).any())
    anew = len(sections) > 1 or strays or unmarked or padded or not tags.has_end or tags.too_old
    if not (drop or anew):
        return tags.data, facts
    return _written_anew(tags, drop), facts


def _doubled_handles(tags: RawDrawing) -> set[int]:
    """Return tags that give an entity the handle of another object."""
    marked = np.flatnonzero((tags.codes == 5) | (tags.codes == 105))
    owner = np.searchsorted(tags.zeros, marked, "right")
    _, first = np.unique(owner, return_index=True)  # later ones are pointers to other objects
    marked = marked[first]
    inside = np.zeros(len(marked), dtype=bool)
    for section in tags.of("ENTITIES"):
        inside |= (marked >= section.start) & (marked < section.stop)
    handles = b"\n".join(tags.values(marked)).upper().split(b"\n") if len(marked) else []
    if len(set(handles)) == len(handles):
        return set()
    own = [h for h, mine in zip(handles, inside.tolist(), strict=True) if mine]
    others = {h for h, mine in zip(handles, inside.tolist(), strict=True) if not mine}
    counts = Counter(own)
    if len(counts) == len(own) and others.isdisjoint(own):
        return set()
    return {
        tag
        for tag, handle, mine in zip(marked.tolist(), handles, inside.tolist(), strict=True)
        if mine and (counts[handle] > 1 or handle in others)
    }


class _Writer:
    """Writes tags as text, some left out, some entities with the markers they lack."""

    def __init__(self, tags: RawDrawing, drop: set[int]) -> None:
        self.tags = tags
        self.out: list[bytes] = []
        self.silent = set(drop)
        self.marked: dict[int, bytes] = {}
        for start, stop, marker in tags.unmarked:
            self.marked[start] = _with_marker(tags, start, stop, marker, drop)
            self.silent.update(range(start, stop))
        if tags.too_old:
            self.silent.update(tags.version_tags)

    def write(self, start: int, stop: int) -> None:
        """Write tags start..stop."""
        for tag in range(start, stop):
            if tag in self.marked:
                self.out.append(self.marked[tag])
            elif tag not in self.silent:
                self.out.append(_line_pair(self.tags, tag))


def _written_anew(tags: RawDrawing, drop: set[int]) -> bytes:
    """Return the tags as text, ENTITIES sections in one, without the tags of `drop`."""
    writer = _Writer(tags, drop)
    sections, header = tags.of("ENTITIES"), tags.of("HEADER")
    whole = [(section.start - 2, section.stop + section.closed) for section in sections[1:]]
    moved = [(section.start, section.stop) for section in sections[1:]] + tags.stray_spans
    added = {sections[0].stop: b"" if sections[0].closed else b"0\nENDSEC\n"}  # before a tag
    if tags.too_old:
        newer = b"9\n$ACADVER\n1\nAC1015\n"
        if header:
            added[header[-1].start] = newer
        else:
            writer.out.append(b"0\nSECTION\n2\nHEADER\n" + newer + b"0\nENDSEC\n")
    done = 0
    for start, stop in sorted([*whole, *tags.stray_spans, *((at, at) for at in added)]):
        writer.write(done, start)
        if start == sections[0].stop and start in added:
            for span in moved:
                writer.write(*span)
        writer.out.append(added.pop(start, b""))
        done = max(done, stop)
    writer.write(done, len(tags.codes))
    if not tags.has_end:
        writer.out.append(b"0\nEOF\n")
    return b"".join(writer.out)


def _line_pair(tags: RawDrawing, tag: int) -> bytes:
    return b"%d\n%s\n" % (tags.codes[tag], tags.value(tag))


def _with_marker(
    tags: RawDrawing, start: int, stop: int, marker: bytes, drop: set[int]
) -> bytes:  # fmt: skip
    """Return the text of an entity with the markers of its type, under each what it owns."""
    handles: list[bytes] = []
    common: list[bytes] = []
    own: list[bytes] = []
    in_group = False  # {...} of application data
    for tag in range(start, stop):
        code = int(tags.codes[tag])
        if code == 102:
            in_group = tags.value(tag).startswith(b"{")
        if code == 100 or tag in drop:
            continue
        if in_group or code in (0, 5, 102, 330, 360):
            handles.append(_line_pair(tags, tag))
        else:
            (common if code in _COMMON else own).append(_line_pair(tags, tag))
    return b"".join([*handles, b"100\nAcDbEntity\n", *common, b"100\n%s\n" % marker, *own])
