"""Block references expanded: every entity of the drawing in its final place.

Blocks are taken in an order in which no block comes before one that holds it, so that
all copies of a block are known, as one array of matrices, when its entities are placed.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np

from analyzer.budgets import Budgets
from analyzer.drawing.content import BlockInsert, Content, RawText
from analyzer.drawing.entities import read_content
from analyzer.drawing.placing import Builder, Copies, place
from analyzer.drawing.raw import RawBlock
from analyzer.drawing.sources import Shapes, Sources
from analyzer.errors import DrawingError
from analyzer.geometry.splines import Spline


def expand(
    document: Any, space: Content, raw: dict[str, RawBlock], budgets: Budgets, where: str
) -> tuple[Sources, Shapes]:
    """Return all entities of model space and what its block references hold, placed.

    Parameters
    ----------
    document : ezdxf document
        Where block definitions are looked up.
    space : Content
        Model space.
    raw : dict
        What the tags say each block holds, by name in lower case.

    Raises
    ------
    DrawingError
        If there is more than the budgets allow.
    """
    builder = Builder(space)
    contents: dict[str, Content | None] = {}
    order = _holding_order(document, space, contents, raw, where)
    copies: dict[str, Copies] = defaultdict(Copies)
    layers, linetypes = np.array(space.layers, object), np.array(space.linetypes, object)

    def absent(insert: BlockInsert) -> str:
        return "" if contents[insert.block] is not None else _why_absent(document, insert)

    for insert in space.inserts:
        row, count = insert.source, len(insert.matrices)
        content = contents[insert.block]
        if content is None or not content.types:
            builder.reasons[0][row] = absent(insert) or f"block {insert.name!r} is empty"
            continue
        rows = np.full(count, row)
        copies[insert.block].add(insert.matrices, layers[rows], linetypes[rows], rows, layers[rows])
    for block in order:
        content, held = contents[block], copies.get(block)
        if content is None or held is None:
            continue
        budgets.check("entities", builder.count + len(content.types) * len(held), where=where)
        builder.note_lost(raw.get(block), content, len(held))
        place(builder, content, held, copies, absent)
    return builder.finish(len(space.types))


def _why_absent(document: Any, insert: BlockInsert) -> str:
    if insert.block not in document.blocks:
        return f"block {insert.name!r} is not in the drawing"
    return f"block {insert.name!r} is an external reference, which is never opened"


def _holding_order(
    document: Any, space: Content, contents: dict[str, Content | None],
    raw: dict[str, RawBlock], where: str,
) -> list[str]:  # fmt: skip
    """Read all blocks in use; return them so that a block follows those that hold it."""
    done: list[str] = []
    state: dict[str, int] = {}
    stack = [(insert.block, False) for insert in space.inserts]
    while stack:
        name, ready = stack.pop()
        if ready:
            done.append(name)
            state[name] = 2
            continue
        if state.get(name) == 1:
            raise DrawingError(
                f"block {name[:40]!r} holds itself, a cycle without end",
                where=where, hint="explode or delete that block",
            )  # fmt: skip
        if name in state:
            continue
        state[name] = 1
        contents[name] = _block_content(document, name, raw.get(name))
        stack.append((name, True))
        content = contents[name]
        for inner in content.inserts if content else ():
            if state.get(inner.block) != 2:
                stack.append((inner.block, False))
    return done[::-1]


def _block_content(document: Any, name: str, raw: RawBlock | None) -> Content | None:
    """Return what a block holds about its base point, None where there is nothing to read."""
    layout = document.blocks.get(name)
    if layout is None or layout.block is None:
        return None
    if layout.block.dxf.get("flags", 0) & 12:  # external reference or overlay
        return None
    content = read_content(layout, raw.entities if raw else None)
    base = layout.block.dxf.get("base_point", (0.0, 0.0, 0.0))
    return _shifted(content, float(base[0]), float(base[1]))


def _shifted(content: Content, x: float, y: float) -> Content:
    if x == 0.0 and y == 0.0:
        return content
    content.segments = [(a - x, b - y, c - x, d - y, e) for a, b, c, d, e in content.segments]
    content.arcs = [(f * (f * a - x), b - y, r, t, w, f) for a, b, r, t, w, f in content.arcs]
    content.polylines = [rows - np.array([x, y, x, y, 0.0]) for rows in content.polylines]
    content.conics = [(c[0] - x, c[1] - y, *c[2:]) for c in content.conics]
    content.splines = [
        Spline(s.degree, s.control - [x, y], s.knots, s.weights) for s in content.splines
    ]
    move = np.array([[0.0, 0.0, -x], [0.0, 0.0, -y]])
    content.inserts = [
        BlockInsert(i.block, i.name, i.matrices + move, i.source) for i in content.inserts
    ]
    content.texts = [
        RawText(t.text, t.x - x, t.y - y, t.height, t.layer, t.kind) for t in content.texts
    ]
    return content
