"""All copies of a block put in their places at once, as arrays of matrices."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.content import BlockInsert, Content, RawText
from analyzer.drawing.raw import RawBlock
from analyzer.drawing.sources import EXPANDED, Shapes, Sources, missing
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.splines import Spline

Names = NDArray[np.object_]


@dataclass(frozen=True, eq=False)
class Placed:
    """Copies of one block as arrays: matrices (k, 2, 3), and what each takes over."""

    matrices: Floats
    layers: Names
    linetypes: Names
    top: Ints
    around: Names


@dataclass
class Copies:
    """Copies of one block, collected from all its references."""

    batches: list[Placed] = field(default_factory=list)

    def __len__(self) -> int:
        return sum(len(batch.matrices) for batch in self.batches)

    def add(
        self, matrices: Floats, layers: Names, linetypes: Names, top: Ints, around: Names
    ) -> None:
        """Add the copies of one reference."""
        self.batches.append(Placed(matrices, layers, linetypes, top, around))

    def joined(self) -> Placed:
        """Return all copies as one."""
        return Placed(
            *(
                np.concatenate([getattr(batch, name) for batch in self.batches])
                for name in ("matrices", "layers", "linetypes", "top", "around")
            )
        )


class Builder:
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

    def add_entities(
        self, types: Names, layers: Names, linetypes: Names, handles: Names, reasons: Names,
        top: Ints, around: Names, closed: Bools,
    ) -> None:  # fmt: skip
        """Add entities that block references hold."""
        for column, values in zip(self.columns, (types, layers, linetypes, handles), strict=True):
            column.append(values)
        self.reasons.append(reasons)
        self.top.append(top)
        self.around.append(around)
        self.closed.append(closed)
        self.count += len(types)

    def note_lost(self, raw: RawBlock | None, content: Content, copies: int) -> None:
        """Count what the tags hold and the reader did not deliver, for all copies."""
        if raw is not None:
            given = Counter(zip(content.types, content.layers, strict=True))
            told = Counter(zip(raw.entities.types, raw.entities.layers, strict=True))
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


def place(
    builder: Builder, content: Content, held: Copies, copies: dict[str, Copies],
    absent: Callable[[BlockInsert], str],
) -> None:  # fmt: skip
    """Place all copies of one block, and hand on the copies of the blocks in it.

    Parameters
    ----------
    builder : Builder
        Where entities and geometry go.
    content : Content
        What the block holds.
    held : Copies
        Where its copies go.
    copies : dict of Copies
        Copies of other blocks, by name; those found in this block are added.
    absent : callable
        Tells why a block reference brings nothing, "" if it does.
    """
    every = held.joined()
    size, count = len(content.types), len(every.matrices)
    first = builder.count
    own_layers = np.array(content.layers, dtype=object)[None]
    layers = np.where(own_layers == "0", every.layers[:, None], own_layers)
    own_types = np.array(content.linetypes, dtype=object)[None]
    by_block = np.array([name.upper() == "BYBLOCK" for name in content.linetypes])[None]
    linetypes = np.where(by_block, every.linetypes[:, None], own_types)
    reasons = np.array(content.reasons, dtype=object)
    for insert in content.inserts:
        row = insert.source
        reasons[row] = absent(insert)
        if reasons[row]:
            continue
        # a block reference inside a block is no leaf: it is replaced by what it holds
        reasons[row] = EXPANDED
        rows = np.repeat(np.arange(count), len(insert.matrices))
        around = every.around + "\n" + layers[:, row]
        copies[insert.block].add(
            _chained(every.matrices[rows], np.tile(insert.matrices, (count, 1, 1))),
            layers[rows, row], linetypes[rows, row], every.top[rows], around[rows],
        )  # fmt: skip
    closed = np.zeros(size, dtype=bool)
    closed[list(content.closed)] = True
    handles = [f"{h}@{first + k * size}" for k in range(count) for h in content.handles]
    builder.add_entities(
        np.tile(np.array(content.types, dtype=object), count), layers.ravel(), linetypes.ravel(),
        np.array(handles, dtype=object), np.tile(reasons, count), np.repeat(every.top, size),
        np.repeat(every.around, size), np.tile(closed, count),
    )  # fmt: skip
    builder.repeated_points += content.repeated_points * count
    _place_geometry(builder, content, every.matrices, first, size)


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
    builder: Builder, content: Content, matrices: Floats, first: int, size: int
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
    builder: Builder, rows: Floats, source: Ints, matrices: Floats, base: Ints
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
