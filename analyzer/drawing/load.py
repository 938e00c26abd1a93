"""Hand a drawing to the DXF library: mend what we can see, catch all it can throw.

The strict reader goes first.  Only when it gives up does the forgiving one try, which is
said as a fact, because it drops and invents.  What our own view of the tags already
shows to be damaged is refused before either.
"""

from __future__ import annotations

import io
import logging
import re
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from analyzer.budgets import Budgets
from analyzer.drawing.drawing import Fact
from analyzer.drawing.raw import RawDrawing
from analyzer.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_SAVE_AGAIN = "save the drawing again as DXF R2000 or newer"


def load_document(tags: RawDrawing, budgets: Budgets) -> tuple[Document, list[Fact]]:
    """Return the library's document of `tags`, and what was mended on the way.

    Raises
    ------
    DrawingError
        If the drawing is over a limit or neither reader can read it.
    """
    budgets.check("entities", len(tags.entities), where=tags.where)
    check_blocks(tags, budgets)
    logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # no library words on stderr
    data, facts = _mended(tags)
    from ezdxf.filemanagement import read

    try:
        return read(io.StringIO(data.decode(tags.encoding, "surrogateescape"))), facts
    except Exception as error:  # the library documents three, and raises many more
        first = error
    bad = tags.bad_number()
    if bad is not None:
        line, text = bad
        raise DrawingError(
            f"line {line} should be a number but is {text!r}",
            where=tags.where,
            hint="decimal commas and units are not DXF; save the drawing again",
        )
    return _recovered(tags, data, first, facts)


def _recovered(
    tags: RawDrawing, data: bytes, first: Exception, facts: list[Fact]
) -> tuple[Document, list[Fact]]:
    from ezdxf import recover

    try:
        document, audit = recover.read(io.BytesIO(data))
    except Exception as error:  # as above
        reason = min((_words(e) for e in (first, error)), key=len)
        raise DrawingError(
            f"cannot be read as DXF: {reason[:160]}",
            where=tags.where, hint=_SAVE_AGAIN,
        ) from None  # fmt: skip
    said = _words(first)[:120]
    repaired = len(audit.fixes) + len(audit.errors)
    facts.append(
        Fact("recovered", f"damaged drawing read by repair ({said}); {repaired} repairs: check it")
    )
    return document, facts


def _words(error: Exception) -> str:
    """Return the message of a library error without memory addresses, which differ each run."""
    text = " ".join(str(error).split()) or type(error).__name__
    return re.sub(r"\(#\d+\)|0x[0-9a-fA-F]{6,}", "", text)


def check_blocks(tags: RawDrawing, budgets: Budgets) -> None:
    """Refuse blocks that hold themselves, are nested too deep, or expand to too much.

    Counts are computed from the definitions before anything is expanded.
    """
    if not tags.inserts:
        return
    size: dict[str, int] = {}
    depth: dict[str, int] = {}
    for insert in tags.inserts:
        _measure_block(insert.block, tags, size, depth, budgets)
    total = len(tags.entities) + sum(i.copies * size.get(i.block, 0) for i in tags.inserts)
    budgets.check("entities", total, where=tags.where)


def _measure_block(
    top: str, tags: RawDrawing, size: dict[str, int], depth: dict[str, int], budgets: Budgets
) -> None:
    """Fill in size (entities after expansion) and depth of `top` and all it holds."""
    open_blocks: set[str] = set()
    stack = [(top, False)]
    while stack:
        name, ready = stack.pop()
        if name in size or name not in tags.blocks:
            continue
        block = tags.blocks[name]
        if ready:
            open_blocks.discard(name)
            held = len(block.entities)
            size[name] = held + sum(i.copies * size.get(i.block, 0) for i in block.inserts)
            depth[name] = 1 + max((depth.get(i.block, 0) for i in block.inserts), default=0)
            budgets.check("block_depth", depth[name], where=f"{tags.where}, block {name[:40]!r}")
            continue
        open_blocks.add(name)
        stack.append((name, True))
        for insert in block.inserts:
            if insert.block in open_blocks:
                raise DrawingError(
                    f"block {insert.block[:40]!r} holds itself, a cycle without end",
                    where=tags.where, hint="explode or delete that block",
                )  # fmt: skip
            stack.append((insert.block, False))


# --- mending --------------------------------------------------------------


def _mended(tags: RawDrawing) -> tuple[bytes, list[Fact]]:
    """Return the text of the drawing with three faults mended that readers stumble over."""
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
                f"{len(drop)} entities had the handle of another object",
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
                f"{len(strays)} entities stood outside every section and were taken in",
                count=len(strays),
            )
        )
    padded = any(tags.data[tags.value_start[t] : tags.value_end[t]] != v
                 for t, v in zip(tags.zeros.tolist(), tags.zero_values, strict=True))  # fmt: skip
    if not (drop or len(sections) > 1 or strays or padded or not tags.has_end):
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
    handles = [tags.value(tag).upper() for tag in marked.tolist()]
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


def _written_anew(tags: RawDrawing, drop: set[int]) -> bytes:
    """Return the tags as text, ENTITIES sections in one, without the tags of `drop`."""
    sections = tags.of("ENTITIES")
    skip = set(drop)
    for start, stop in [(s.start - 2, s.stop + 1) for s in sections[1:]] + tags.stray_spans:
        skip.update(range(start, stop))
    moved = [(s.start, s.stop) for s in sections[1:]] + tags.stray_spans
    out: list[bytes] = []

    def write(tag: int) -> None:
        if tag not in drop:
            out.append(b"%d\n%s\n" % (tags.codes[tag], tags.value(tag)))

    for tag in range(len(tags.codes)):
        if tag == sections[0].stop:
            for start, stop in moved:
                for inner in range(start, stop):
                    write(inner)
        if tag not in skip:
            write(tag)
    if not tags.has_end:
        out.append(b"0\nEOF\n")
    return b"".join(out)
