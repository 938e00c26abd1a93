"""Plain lines, circles, arcs and polylines read straight from the tags, as arrays.

Most of a large drawing is a hundred thousand entities of five types that differ in numbers
alone; reading them all at once takes a tenth of the time the library takes one by one.  What
is unusual in any way stays in the text and goes through the library: an entity is taken only
where both ways are known to give the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analyzer.drawing.columns import Columns, NoNumberError
from analyzer.drawing.content import FAR, FLAT, Rows, split_wide
from analyzer.drawing.raw import RawDrawing
from analyzer.drawing.usual import ARC, CIRCLE, LIGHT, LINE, OLD, TYPES, VERTEX, Usual
from analyzer.geometry.contours import Bools, Floats, Ints


@dataclass(frozen=True, eq=False)
class Plain:
    """Plain entities of one drawing.

    Attributes
    ----------
    taken : ndarray of bool, one a tag with group code 0
        Those of the entities read here; a vertex counts with its polyline.
    row : ndarray of int, shape (n,)
        Which tag with group code 0 begins each entity, increasing.
    types, layers, linetypes, handles : ndarray of bytes, shape (n,)
        As the tags tell them; empty where they do not.
    geometry : Rows
        Their lines, arcs and polylines; sources are 0..n-1.
    closed : ndarray of int
        Entities that close upon themselves.
    repeated_points : int
    """

    taken: Bools
    row: Ints
    types: NDArray[np.bytes_]
    layers: list[bytes]
    linetypes: list[bytes]
    handles: list[bytes]
    geometry: Rows
    closed: Ints
    repeated_points: int

    def others(self, tags: RawDrawing) -> Ints:
        """Return which entities of the drawing lie in model space and were not read here."""
        entities = tags.entities
        return np.flatnonzero(~self.taken[entities.row] & ~entities.paper)

    def rest(self, tags: RawDrawing) -> bytes:
        """Return the text of the drawing without what was read here."""
        begins = tags.code_start[tags.zeros]
        change = np.flatnonzero(np.diff(self.taken.astype(np.int8), prepend=0))
        # the last is never taken: the end of its section follows
        cuts = [0, *begins[change].tolist(), len(tags.data)]
        return b"".join(tags.data[a:b] for a, b in zip(cuts[::2], cuts[1::2], strict=True))


def scan(tags: RawDrawing) -> Plain | None:
    """Return the plain entities of model space; None where nothing can be read this way."""
    sections = tags.of("ENTITIES")
    if tags.binary or len(sections) != 1 or tags.stray_spans:
        return None
    columns = Columns(tags, sections[0].start, sections[0].stop)
    if not columns.count:
        return None
    try:
        reader = _Reader(columns, tags.header.get("$ACADVER", "AC1009") <= "AC1009")
        return reader.read() if reader.in_order() else None
    except NoNumberError:
        return None  # the library refuses such a drawing, or repairs it and that is said


class _Reader(Usual):
    """Reads the plain entities of one section."""

    def read(self) -> Plain | None:
        """Return what is plain, None where nothing is."""
        segments, segment_owner = self._lines()
        arcs, arc_owner, full = self._arcs()
        polylines, polyline_owner, closed, repeated = self._polylines()
        rows = np.flatnonzero(self.good)
        if not len(rows):
            return None
        number = np.cumsum(self.good) - 1
        taken = np.zeros(len(self.columns.tags.zeros), dtype=bool)
        gone = self.good | (self.inside & self.good[self.owner_of_vertex])
        taken[self.columns.first : self.columns.last] = gone
        return Plain(
            taken, rows + self.columns.first, np.array(TYPES)[self.kind[rows]],
            self._words(self.layer, rows), self._words(self.linetype, rows),
            self._words(self.handle, rows),
            Rows(
                segments, number[segment_owner], arcs, number[arc_owner],
                polylines, number[polyline_owner],
            ),
            number[np.sort(np.concatenate((full, closed)))], repeated,
        )  # fmt: skip

    def _words(self, at: Ints, rows: Ints) -> list[bytes]:
        words = self.columns.raw(np.maximum(at[rows], 0))
        return [word if k >= 0 else b"" for word, k in zip(words, at[rows].tolist(), strict=True)]

    def _values(self, rows: Ints, *codes: int) -> Floats:
        columns = self.columns
        return columns.numbers(np.column_stack([columns.at(code)[rows] for code in codes]))

    def _rows(self, kind: int) -> Ints:
        return np.flatnonzero(self.good & (self.kind == kind))

    def _lines(self) -> tuple[Floats, Ints]:
        rows = self._rows(LINE)
        ends = self._values(rows, 10, 20, 11, 21)
        height = np.zeros((len(rows), 2))
        for k, code in enumerate((30, 31)):
            at = self.columns.at(code)[rows]
            height[at >= 0, k] = self.columns.numbers(at[at >= 0])
        fine = _fine(ends) & _fine(height)
        fine[fine] &= np.abs(height[fine, 0] - height[fine, 1]) <= FLAT
        self.good[rows[~fine]] = False
        rows, ends = rows[fine], ends[fine]
        return np.column_stack((ends, np.zeros(len(rows)))), rows

    def _arcs(self) -> tuple[Floats, Ints, Ints]:
        """Arcs and circles, their entities, and those that are full circles."""
        circles, arcs = self._rows(CIRCLE), self._rows(ARC)
        round_ = self._values(circles, 10, 20, 40)
        bent = self._values(arcs, 10, 20, 40, 50, 51)
        sweep, full, usable = _sweeps(bent[:, 3], bent[:, 4])
        half = np.full(len(circles), np.pi)
        values = np.vstack((
            np.column_stack((round_, half, 2.0 * half)),
            np.column_stack((bent[:, :3], np.radians(bent[:, 3]), np.radians(sweep))),
        ))  # fmt: skip
        owner = np.concatenate((circles, arcs))
        full = np.concatenate((np.ones(len(circles), dtype=bool), full))
        fine = _fine(values[:, :3]) & (values[:, 2] > 0.0)
        fine[len(circles) :] &= usable
        self.good[owner[~fine]] = False
        order = np.flatnonzero(fine)[np.argsort(owner[fine], kind="stable")]
        values = np.column_stack((values, np.ones(len(values))))
        return values[order], owner[order], owner[fine & full]

    def _polylines(self) -> tuple[Floats, Ints, Ints, int]:
        """Rows, their entities, entities that close, and points that stand twice."""
        points, bulges, owner = self._vertices()
        flags = np.zeros(self.columns.count, dtype=np.int64)
        rows = np.flatnonzero(self.good & np.isin(self.kind, (LIGHT, OLD)))
        whole = self._values(rows, 70)[:, 0]
        plain = np.isin(whole, (0.0, 1.0, 128.0, 129.0))
        self.good[rows[~plain]] = False
        flags[rows[plain]] = whole[plain].astype(np.int64)
        return self._strung(points, bulges, owner, (flags & 1).astype(bool))

    def _vertices(self) -> tuple[Floats, Floats, Ints]:
        """Points, bulges and entity of every vertex, those of one entity together."""
        light, light_bulges, light_owner = self._light_vertices()
        rows = np.flatnonzero(self.inside & (self.kind == VERTEX) & self.good[self.owner_of_vertex])
        old = self._values(rows, 10, 20)
        flag = self.columns.at(70)[rows]
        odd = np.flatnonzero(flag >= 0)
        odd = odd[self.columns.numbers(flag[odd]) != 0.0]  # a fitted curve and its frame
        self.good[self.owner_of_vertex[rows[odd]]] = False
        at = self.columns.at(42)[rows]
        bulges = np.zeros(len(rows))
        bulges[at >= 0] = self.columns.numbers(at[at >= 0])
        points = np.vstack((light, old))
        owner = np.concatenate((light_owner, self.owner_of_vertex[rows]))
        order = np.argsort(owner, kind="stable")
        return points[order], np.concatenate((light_bulges, bulges))[order], owner[order]

    def _light_vertices(self) -> tuple[Floats, Floats, Ints]:
        columns = self.columns
        light = self.good & (self.kind == LIGHT)
        x, y, bow = (tags[light[columns.own[tags]]] for tags in map(columns.tags_of, (10, 20, 42)))
        unpaired = columns.counts(10) != columns.counts(20)
        if len(x) == len(y):
            unpaired[columns.own[x[y != x + 1]]] = True
        before = np.searchsorted(x, bow, "right") - 1
        stray = (before < 0) | (columns.own[x[before]] != columns.own[bow]) if len(x) else (
            np.ones(len(bow), dtype=bool)
        )  # fmt: skip
        twice = np.zeros(len(bow), dtype=bool)
        twice[1:] = before[1:] == before[:-1]
        unpaired[columns.own[bow[stray | twice]]] = True
        self.good &= ~(light & (unpaired | (columns.counts(10) == 0)))
        keep, keep_bow = self.good[columns.own[x]], self.good[columns.own[bow]]
        number = np.cumsum(keep) - 1
        x = x[keep]
        bulges = np.zeros(len(x))
        bulges[number[before[keep_bow]]] = columns.numbers(bow[keep_bow])
        return columns.numbers(np.column_stack((x, x + 1))), bulges, columns.own[x]

    def _strung(
        self, points: Floats, bulges: Floats, owner: Ints, closed: Bools
    ) -> tuple[Floats, Ints, Ints, int]:
        """Stretches from point to point of every polyline."""
        fine = _fine(points) & np.isfinite(bulges)
        self.good[owner[~fine]] = False
        keep = self.good[owner]
        points, bulges, owner = points[keep], bulges[keep], owner[keep]
        first, last = _runs(owner)
        ends = np.roll(points, -1, axis=0)
        ends[last] = points[first]
        rows = np.column_stack((points, ends, bulges))
        drawn = np.ones(len(rows), dtype=bool)
        drawn[last] = closed[owner[last]]
        alone = closed[owner] & (np.bincount(owner, minlength=len(closed))[owner] == 1)
        chord = np.hypot(rows[:, 2] - rows[:, 0], rows[:, 3] - rows[:, 1])
        doubled = drawn & (chord == 0.0)
        drawn &= chord > 0.0
        far = drawn & (np.abs(rows[:, 4]) * chord >= FAR)
        self.good[owner[far]] = False
        lengths = np.bincount(owner[drawn], minlength=len(closed))
        self.good[owner[lengths[owner] == 0]] = False  # without length: reported by the usual way
        drawn &= self.good[owner]
        repeated = int((doubled & ~alone & self.good[owner]).sum())
        rows, owner = rows[drawn], owner[drawn]
        first, last = _runs(owner)
        meets = (rows[first, :2] == rows[last, 2:4]).all(axis=1)
        shut = owner[first][closed[owner[first]] | meets]
        wide = 1 + (np.abs(rows[:, 4]) > 1.0 + 1e-12)
        return split_wide(rows), np.repeat(owner, wide), shut, repeated


def _runs(owner: Ints) -> tuple[Ints, Ints]:
    """Return the first and the last row of every stretch of equal owners."""
    change = np.flatnonzero(np.diff(owner))
    if not len(owner):
        return change, change
    return np.append(0, change + 1), np.append(change, len(owner) - 1)


def _fine(values: Floats) -> Bools:
    """Which rows are finite and near enough to be a drawing."""
    fine: Bools = np.logical_and.reduce(np.isfinite(values) & (np.abs(values) < FAR), axis=1)
    return fine


def _sweeps(first: Floats, last: Floats) -> tuple[Floats, Bools, Bools]:
    """Return the sweep of arcs [degrees], which are full, and which are usable.

    The rules are those of the reading one by one.
    """
    usable = np.isfinite(first) & np.isfinite(last)
    usable &= (np.abs(np.where(usable, first, 0.0)) <= 1e6) & (
        np.abs(np.where(usable, last, 0.0)) <= 1e6
    )
    first, last = np.where(usable, first, 0.0), np.where(usable, last, 90.0)
    sweep = np.fmod(last - first, 360.0)
    sweep = np.where(sweep < 0.0, sweep + 360.0, sweep)
    shut = np.minimum(sweep, 360.0 - sweep) < 1e-9
    usable &= ~shut | (np.abs(last - first) >= 1.0)
    full = np.where(shut, 360.0, sweep) >= 360.0 * (1.0 - 1e-12)
    return np.where(shut, 360.0, sweep), full, usable
