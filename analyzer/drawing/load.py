"""Hand a drawing to the DXF library, mended where we can see how; catch all it can throw.

The strict reader goes first.  Only when it gives up does the forgiving one try, which is
said as a fact, because it drops and invents.  What our own view of the tags already
shows to be damaged is refused before either.
"""

from __future__ import annotations

import io
import logging
import re
from typing import TYPE_CHECKING

from analyzer.budgets import Budgets
from analyzer.drawing.drawing import Fact
from analyzer.drawing.mending import mended
from analyzer.drawing.raw import SUB_ENTITIES, RawDrawing
from analyzer.drawing.scan import Plain, scan
from analyzer.errors import DrawingError
from analyzer.garbage import pass_over_libraries
from analyzer.units import counted

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_SAVE_AGAIN = "save the drawing again as DXF R2000 or newer"


def load_document(
    tags: RawDrawing, budgets: Budgets, *, direct: bool = True
) -> tuple[Document, list[Fact], Plain | None]:
    """Return the library's document of `tags`, what was mended, and what it does not hold.

    Plain entities are read straight from the tags, and the library gets the rest; it gets all
    where anything about the drawing is unusual, or where `direct` is False.

    Raises
    ------
    DrawingError
        If the drawing is over a limit or neither reader can read it.
    """
    budgets.check("entities", len(tags.entities), where=tags.where)
    check_blocks(tags, budgets)
    logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # no library words on stderr
    data, facts = mended(tags)
    plain = scan(tags) if direct and data is tags.data else None
    if plain is not None:
        document = _rest_of(tags, plain)
        if document is not None:
            return document, facts, plain
    try:
        return _read(data, tags), facts, None
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
    return *_recovered(tags, data, first, facts), None


def _read(data: bytes, tags: RawDrawing) -> Document:
    from ezdxf.filemanagement import read

    pass_over_libraries()
    document = read(io.StringIO(data.decode(tags.encoding, "surrogateescape")))
    document.modelspace()  # a damaged table of layouts shows only here
    return document


def _rest_of(tags: RawDrawing, plain: Plain) -> Document | None:
    """Return the document of all that is not plain; None where the library sees it otherwise."""
    try:
        document = _read(plain.rest(tags), tags)
        held = [e.dxftype() for e in document.modelspace()]
    except Exception:  # as above; with the whole drawing it fails again and is said
        return None
    delivered = [kind for kind in held if kind not in SUB_ENTITIES]
    told = [tags.entities[i].type for i in plain.others(tags).tolist()]
    return document if delivered == told else None


def _recovered(
    tags: RawDrawing, data: bytes, first: Exception, facts: list[Fact]
) -> tuple[Document, list[Fact]]:
    from ezdxf import recover

    try:
        document, audit = recover.read(io.BytesIO(data))
        document.modelspace()
    except Exception as error:  # as above
        reason = min((_words(e) for e in (first, error)), key=len)
        raise DrawingError(
            f"cannot be read as DXF: {reason[:160]}",
            where=tags.where, hint=_SAVE_AGAIN,
        ) from None  # fmt: skip
    said = _words(first)[:120]
    repaired = len(audit.fixes) + len(audit.errors)
    facts.append(
        Fact(
            "recovered",
            f"damaged drawing read by repair ({said}); {counted(repaired, 'repair')}: check it",
        )
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
