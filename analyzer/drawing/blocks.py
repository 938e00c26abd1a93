"""Block references expanded: every entity of the drawing in its final place.

Blocks are taken in an order in which no block comes before one that holds it, so that
all copies of a block are known, as one array of matrices, when its entities are placed.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analyzer.budgets import Budgets
from analyzer.drawing.entities import BlockInsert, Content, RawText, read_content
from analyzer.drawing.tags import RawBlock
from analyzer.errors import DrawingError
from analyzer.geometry.flatten import Spline

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Names = NDArray[np.object_]


@dataclass
class Sources:
    """Table of entities, top level first, then what block references hold.

    Attributes
    ----------
    types, layers, linetypes, handles, reasons : ndarray of str, shape (n,)
        Layer and linetype as in force: layer 0 and BYBLOCK in a block follow the reference.
    top : ndarray of int, shape (n,)
        Row of the top-level entity it belongs to: itself, or the block reference.
    closed : ndarray of bool, shape (n,)
        The entity closes upon itself.
    count_top : int
        Rows before this are top level.
    around : ndarray of str, shape (n,)
        Layers of the block references around it, joined by line ends.
    lost : Counter
        Entities in blocks that the reader did not deliver, by type and layer.
    """

    types: Names
    layers: Names
    linetypes: Names
    handles: Names
    reasons: Names
    top: Ints
    closed: Bools
    count_top: int
    around: Names
    lost: Counter[tuple[str, str]]


@dataclass
class Shapes:
    """Geometry of the whole drawing in drawing units; the entity of each row in `*_source`.

    segments rows are (x, y, x, y, bulge), conics (centre, half axis, half axis, t0, t1).
    """

    segments: Floats
    segment_source: Ints
    conics: Floats
    conic_source: Ints
    splines: list[Spline]
    spline_source: Ints
    texts: list[RawText]
    repeated_points: int


@dataclass
class _Copies:
    """Copies of one block: matrices, and what each takes from its reference."""

    matrices: list[Floats] = field(default_factory=list)
    layers: list[Names] = field(default_factory=list)
    linetypes: list[Names] = field(default_factory=list)
    top: list[Ints] = field(default_factory=list)
    around: list[Names] = field(default_factory=list)

    def add(
        self, matrices: Floats, layer: Names, linetype: Names, top: Ints, around: Names
    ) -> None:
        self.matrices.append(matrices)
        self.layers.append(layer)
        self.linetypes.append(linetype)
        self.top.append(top)
        self.around.append(around)


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
    builder = _Builder(space)
    contents: dict[str, Content | None] = {}
    order = _holding_order(document, space, contents, raw, where)
    copies: dict[str, _Copies] = defaultdict(_Copies)
    layers, linetypes = np.array(space.layers, object), np.array(space.linetypes, object)
    for insert in space.inserts:
        row, count = insert.source, len(insert.matrices)
        content = contents[insert.block]
        if content is None:
            builder.reasons[0][row] = _why_empty(document, insert)
            continue
        if not content.types:
            builder.reasons[0][row] = f"block {insert.name!r} is empty"
            continue
        rows = np.full(count, row)
        copies[insert.block].add(insert.matrices, layers[rows], linetypes[rows], rows, layers[rows])
    for block in order:
        content, held = contents[block], copies.get(block)
        if content is None or held is None:
            continue
        total = builder.count + len(content.types) * sum(map(len, held.matrices))
        budgets.check("entities", total, where=where)
        builder.note_lost(raw.get(block), content, sum(map(len, held.matrices)))
        _place(builder, document, content, held, contents, copies)
    return builder.finish(len(space.types))


def _why_empty(document: Any, insert: BlockInsert) -> str:
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


class _Builder:
    """Collects entities and geometry in final place."""

    def __init__(self, space: Content) -> None:
        count = len(space.types)
        self.count = count
        self.columns = [
            [np.array(values, dtype=object)]
            for values in (space.types, space.layers, space.linetypes, space.handles)
        ]
        self.reasons = [np.array(space.reasons, dtype=object)]
        self.top = [np.arange(count)]
        self.around = [np.full(count, "", dtype=object)]
        closed = np.zeros(count, dtype=bool)
        closed[list(space.closed)] = True
        self.closed = [closed]
        segments, source = space.all_segments()
        self.segments, self.segment_source = [segments], [source]
        self.conics = [np.array(space.conics, dtype=float).reshape(-1, 8)]
        self.conic_source = [np.array(space.conic_source, dtype=np.int64)]
        self.splines = list(space.splines)
        self.spline_source = [np.array(space.spline_source, dtype=np.int64)]
        self.texts = list(space.texts)
        self.repeated_points = space.repeated_points
        self.lost: Counter[tuple[str, str]] = Counter()

    def note_lost(self, raw: RawBlock | None, content: Content, copies: int) -> None:
        """Count what the tags hold and the reader did not deliver, for all copies."""
        if raw is not None:
            given = Counter(zip(content.types, content.layers, strict=True))
            told = Counter((entity.type, entity.layer) for entity in raw.entities)
            for key, count in missing(told, given).items():
                self.lost[key] += count * copies

    def finish(self, count_top: int) -> tuple[Sources, Shapes]:
        types, layers, linetypes, handles = (np.concatenate(column) for column in self.columns)
        sources = Sources(
            types, layers, linetypes, handles, np.concatenate(self.reasons),
            np.concatenate(self.top), np.concatenate(self.closed), count_top,
            np.concatenate(self.around), self.lost,
        )  # fmt: skip
        shapes = Shapes(
            np.concatenate(self.segments), np.concatenate(self.segment_source),
            np.concatenate(self.conics), np.concatenate(self.conic_source), self.splines,
            np.concatenate(self.spline_source), self.texts, self.repeated_points,
        )  # fmt: skip
        return sources, shapes


def _place(
    builder: _Builder, document: Any, content: Content, held: _Copies,
    contents: dict[str, Content | None], copies: dict[str, _Copies],
) -> None:  # fmt: skip
    """Place all copies of one block, and hand on the copies of the blocks in it."""
    matrices = np.concatenate(held.matrices)
    layer, linetype = np.concatenate(held.layers), np.concatenate(held.linetypes)
    top, around = np.concatenate(held.top), np.concatenate(held.around)
    size, count = len(content.types), len(matrices)
    first = builder.count
    own_layers, own_linetypes = (
        np.array(content.layers, object),
        np.array(content.linetypes, object),
    )
    layers = np.where(own_layers[None] == "0", layer[:, None], own_layers[None])
    upper = np.array([name.upper() for name in content.linetypes], dtype=object)
    linetypes = np.where(upper[None] == "BYBLOCK", linetype[:, None], own_linetypes[None])
    handles = np.array(
        [f"{handle}@{first + k * size}" for k in range(count) for handle in content.handles], object
    )
    # a block reference inside a block is no leaf: it is replaced by what it holds
    reasons = np.array(content.reasons, dtype=object)
    for insert in content.inserts:
        inner = contents[insert.block]
        rows = np.repeat(np.arange(count), len(insert.matrices))
        if inner is None:
            reasons[insert.source] = _why_empty(document, insert)
            continue
        joined = np.array(
            [
                f"{a}\n{b}"
                for a, b in zip(around.tolist(), layers[:, insert.source].tolist(), strict=True)
            ],
            dtype=object,
        )
        copies[insert.block].add(
            _chained(matrices[rows], np.tile(insert.matrices, (count, 1, 1))),
            layers[rows, insert.source], linetypes[rows, insert.source], top[rows], joined[rows],
        )  # fmt: skip
        reasons[insert.source] = EXPANDED
    closed = np.zeros(size, dtype=bool)
    closed[list(content.closed)] = True
    for column, values in zip(
        builder.columns,
        (
            np.tile(np.array(content.types, object), count),
            layers.ravel(),
            linetypes.ravel(),
            handles,
        ),
        strict=True,
    ):
        column.append(values)
    builder.reasons.append(np.tile(reasons, count))
    builder.top.append(np.repeat(top, size))
    builder.around.append(np.repeat(around, size))
    builder.closed.append(np.tile(closed, count))
    builder.count += size * count
    builder.repeated_points += content.repeated_points * count
    _place_geometry(builder, content, matrices, first, size)


EXPANDED = "\x00expanded"  # mark of a nested block reference: counted by what it holds


def _chained(outer: Floats, inner: Floats) -> Floats:
    """Return the matrices that apply `inner` first, shape (k, 2, 3)."""
    linear = outer[:, :, :2]
    result = np.empty_like(outer)
    result[:, :, :2] = linear @ inner[:, :, :2]
    result[:, :, 2] = np.einsum("kij,kj->ki", linear, inner[:, :, 2]) + outer[:, :, 2]
    return result


def _moved(matrices: Floats, points: Floats) -> Floats:
    """Return points, shape (n, 2), under every matrix, shape (k, n, 2)."""
    linear = np.einsum("kij,nj->kni", matrices[:, :, :2], points)
    moved: Floats = linear + matrices[:, None, :, 2]
    return moved


def _turned(matrices: Floats, vectors: Floats) -> Floats:
    turned: Floats = np.einsum("kij,nj->kni", matrices[:, :, :2], vectors)
    return turned


def _place_geometry(
    builder: _Builder, content: Content, matrices: Floats, first: int, size: int
) -> None:
    count = len(matrices)
    base = first + np.arange(count)[:, None] * size
    m = matrices[:, :, :2]
    det = m[:, 0, 0] * m[:, 1, 1] - m[:, 0, 1] * m[:, 1, 0]
    columns = np.hypot(m[:, 0], m[:, 1])  # length of both columns
    skew = np.abs((m[:, :, 0] * m[:, :, 1]).sum(axis=1))
    even = (np.abs(columns[:, 0] - columns[:, 1]) <= 1e-9 * columns.max(axis=1)) & (
        skew <= 1e-9 * columns[:, 0] * columns[:, 1]
    )
    rows, source = content.all_segments()
    bent = rows[:, 4] != 0.0
    keeps = even[:, None] | ~bent[None]  # still a line or an arc
    ends = np.concatenate(
        (_moved(matrices, rows[:, :2]), _moved(matrices, rows[:, 2:4]),
         (np.sign(det)[:, None] * rows[:, 4])[:, :, None]),
        axis=2,
    )  # fmt: skip
    builder.segments.append(ends[keeps])
    builder.segment_source.append((base + source)[keeps])
    conics = [np.array(content.conics, dtype=float).reshape(-1, 8)]
    conic_source = [np.array(content.conic_source, dtype=np.int64)]
    _place_conics(builder, conics[0], conic_source[0], matrices, base)
    if bent.any() and not even.all():
        _place_conics(builder, as_conics(rows[bent]), source[bent], matrices[~even], base[~even])
    for spline, row in zip(content.splines, content.spline_source, strict=True):
        for k, control in enumerate(_moved(matrices, spline.control)):
            builder.splines.append(Spline(spline.degree, control, spline.knots, spline.weights))
            builder.spline_source.append(base[k] + row)
    for text in content.texts:
        for x, y in _moved(matrices, np.array([[text.x, text.y]]))[:, 0].tolist():
            builder.texts.append(RawText(text.text, x, y, text.height, text.layer, text.kind))


def _place_conics(
    builder: _Builder, rows: Floats, source: Ints, matrices: Floats, base: Ints
) -> None:
    if not len(rows):
        return
    placed = np.concatenate(
        (
            _moved(matrices, rows[:, :2]), _turned(matrices, rows[:, 2:4]),
            _turned(matrices, rows[:, 4:6]),
            np.broadcast_to(rows[:, 6:8], (len(matrices), len(rows), 2)),
        ),
        axis=2,
    )  # fmt: skip
    builder.conics.append(placed.reshape(-1, 8))
    builder.conic_source.append((base + source).ravel())


def as_conics(rows: Floats) -> Floats:
    """Return arcs given as rows (x, y, x, y, bulge) as conics, shape (n, 8)."""
    a, b, bulge = rows[:, :2], rows[:, 2:4], rows[:, 4]
    step = b - a
    left = np.column_stack((-step[:, 1], step[:, 0]))
    centre = (a + b) / 2.0 + left * ((1.0 - bulge**2) / (4.0 * bulge))[:, None]
    arm = a - centre
    side = np.column_stack((-arm[:, 1], arm[:, 0])) * np.sign(bulge)[:, None]
    zero = np.zeros(len(rows))
    return np.column_stack((centre, arm, side, zero, 4.0 * np.arctan(np.abs(bulge))))


def missing(
    raw: Counter[tuple[str, str]], given: Counter[tuple[str, str]]
) -> Counter[tuple[str, str]]:
    """Return the entities, by type and layer, that stand in the tags but were not delivered.

    Types are counted first: a layer name that the reader spells another way loses nothing.
    """
    lost: Counter[tuple[str, str]] = Counter()
    by_type = Counter[str]()
    for (kind, _), count in raw.items():
        by_type[kind] += count
    for (kind, _), count in given.items():
        by_type[kind] -= count
    for (kind, layer), count in sorted(raw.items()):
        gone = min(by_type[kind], count - given[kind, layer])
        if gone > 0:
            lost[kind, layer] += gone
            by_type[kind] -= gone
    return lost
