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
from analyzer.geometry.contours import Bools, Floats, Ints

TYPES = (b"LINE", b"CIRCLE", b"ARC", b"LWPOLYLINE", b"POLYLINE", b"VERTEX", b"SEQEND")
LINE, CIRCLE, ARC, LIGHT, OLD, VERTEX, SEQEND = range(len(TYPES))
LED = (b"INSERT", b"ATTRIB")  # what else stands in sequences

# Group codes an entity may have and still be plain.  Colour, line weight and the like change
# nothing; neither do pointers (330), application data (102, 360) and extended data (1000 up).
_COMMON = (0, 5, 6, 8, 48, 62, 100, 102, 330, 347, 348, 360, 370, 390, 420, 430, 440,
           *range(1000, 1072))  # fmt: skip
_NORMAL = (210, 220, 230)
_OWN = {
    LINE: (10, 20, 30, 11, 21, 31, 39, *_NORMAL),
    CIRCLE: (10, 20, 30, 40, 39, *_NORMAL),
    ARC: (10, 20, 30, 40, 50, 51, 39, *_NORMAL),
    LIGHT: (10, 20, 38, 39, 40, 41, 42, 43, 70, 90, 91, *_NORMAL),
    OLD: (10, 20, 30, 39, 40, 41, 66, 70, *_NORMAL),
    VERTEX: (10, 20, 30, 40, 41, 42, 70, 91),
    SEQEND: (),
}
_ONCE = {
    LINE: (10, 20, 11, 21), CIRCLE: (10, 20, 40), ARC: (10, 20, 40, 50, 51),
    LIGHT: (70,), OLD: (70,), VERTEX: (10, 20), SEQEND: (),
}  # fmt: skip
_AT_MOST_ONCE = (5, 6, 30, 31, 42, 70)
_HIGHEST_CODE = 1072


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
    reader = _Reader(columns, tags.header.get("$ACADVER", "AC1009") <= "AC1009")
    if not columns.count or not reader.in_order():
        return None
    try:
        return reader.read()
    except NoNumberError:
        return None


class _Reader:
    """Reads the plain entities of one section."""

    def __init__(self, columns: Columns, old: bool) -> None:
        self.columns = columns
        self.kind = columns.kinds(TYPES)
        self.led = columns.kinds(LED)
        self.good = self._usual() & self._marked(old) & self._named()
        self._polylines_whole()

    def in_order(self) -> bool:
        """Whether every polyline has its vertices and their end, every block its attributes.

        Where not, the library takes the entities that follow for something else.
        """
        kind, led = self.kind, self.led
        before = np.arange(len(kind)) - 1
        vertex, attribute, end = kind == VERTEX, led == 1, kind == SEQEND
        lead = np.where(vertex | attribute | end, 0, np.arange(len(kind)))
        lead = np.maximum.accumulate(lead)  # what opened the sequence each stands in
        polyline = kind[lead] == OLD
        inner = vertex | attribute | end
        fits = (~vertex | polyline) & (~attribute | (led[lead] == 0))
        fits &= ~end | polyline | (led[lead] == 0)
        fits &= ~inner | ~end[before]
        goes_on = np.append(vertex | attribute | end, False)[1:]
        return bool(fits.all() and goes_on[(kind == OLD) | vertex | attribute].all())

    def _usual(self) -> Bools:
        """Which entities hold all they need, once, and nothing that is not known here."""
        columns, kind = self.columns, self.kind
        allowed = np.zeros((len(TYPES) + 1, _HIGHEST_CODE + 1), dtype=bool)
        needed: dict[int, Bools] = {}
        for k, own in _OWN.items():
            allowed[k, list(_COMMON + own)] = True
            for code in _ONCE[k]:
                needed.setdefault(code, np.zeros(len(TYPES) + 1, dtype=bool))[k] = True
        codes = np.clip(columns.codes, -1, _HIGHEST_CODE)  # the last column is never allowed
        strange = ~allowed[kind[columns.own], codes]
        good = np.bincount(columns.own[strange], minlength=columns.count) == 0
        good &= kind >= 0
        for code, of in needed.items():
            good &= (columns.counts(code) == 1) | ~of[kind]
        for code in _AT_MOST_ONCE:
            good &= (columns.counts(code) <= 1) | ((code == 42) & (kind == LIGHT))
        return good & self._upright() & self._paired()

    def _paired(self) -> Bools:
        """Which entities have y right after x, and z, if any, right after y.

        The library takes a drawing for damaged otherwise, and that must be said.
        """
        columns = self.columns
        paired = np.ones(columns.count, dtype=bool)
        for x, y, z in ((10, 20, 30), (11, 21, 31)):
            at_x, at_y, at_z = (columns.at(code) for code in (x, y, z))
            paired &= (at_y == at_x + 1) | ((at_x < 0) & (at_y < 0))
            paired &= (at_z == at_y + 1) | (at_z < 0)
        return paired

    def _upright(self) -> Bools:
        """Which entities have no normal, or all of the usual one."""
        columns = self.columns
        at = [columns.at(code) for code in _NORMAL]
        counts = [columns.counts(code) for code in _NORMAL]
        without = np.all([count == 0 for count in counts], axis=0)
        rows = np.flatnonzero(np.all([count == 1 for count in counts], axis=0))
        normal = np.column_stack([columns.numbers(tags[rows]) for tags in at])
        upright = without.copy()
        upright[rows] = (normal == (0.0, 0.0, 1.0)).all(axis=1)
        return upright

    def _marked(self, old: bool) -> Bools:
        """Which entities have the markers (group 100) of their type, in their places."""
        columns, kind = self.columns, self.kind
        marks = columns.counts(100)
        if old:  # this version has none
            return (marks == 0) & (kind != LIGHT)
        light = kind == LIGHT
        tags = columns.tags_of(100)
        own = columns.own[tags]
        begin = np.searchsorted(own, np.arange(columns.count))
        two = np.flatnonzero(light & (marks == 2))
        first, second = tags[begin[two]], tags[begin[two] + 1]
        right = columns.equal(first, b"AcDbEntity") & columns.equal(second, b"AcDbPolyline")
        for code, after in ((8, False), (6, False), (70, True), (10, True), (43, True)):
            at = columns.at(code)[two] if code != 10 else self._first(10)[two]
            right &= (at < 0) | ((at > second) == after) & (at > first)
        good = (marks >= 1) & ~light
        good[two] = right
        return good

    def _first(self, code: int) -> Ints:
        tags = self.columns.tags_of(code)[::-1]
        found = np.full(self.columns.count, -1, dtype=np.int64)
        found[self.columns.own[tags]] = tags
        return found

    def _named(self) -> Bools:
        """Which entities have a handle and a layer that can be taken as they stand."""
        columns = self.columns
        self.layer, self.linetype, self.handle = (columns.at(code) for code in (8, 6, 5))
        good = (columns.counts(8) == 1) | (self.kind == SEQEND)
        named: dict[bytes, bool] = {}
        for at in (self.layer, self.linetype):
            rows = np.flatnonzero(good & (at >= 0))
            words = columns.raw(at[rows])
            for word in set(words) - named.keys():
                named[word] = _is_name(word)
            good[rows] &= np.array([named[word] for word in words], dtype=bool)
        rows = np.flatnonzero(self.handle >= 0)
        handles = columns.raw(self.handle[rows])
        if not _all_handles(handles):
            good[rows] &= np.array(list(map(_is_handle, handles)), dtype=bool)
        return good

    def _polylines_whole(self) -> None:
        """Keep polylines whose vertices all are plain; their vertices go with them."""
        kind, good = self.kind, self.good
        self.ends_at = np.arange(len(kind)) + 1  # row after the entity's last
        heads = np.flatnonzero(kind == OLD)
        ends = np.flatnonzero(kind == SEQEND)
        after = np.searchsorted(ends, heads)
        whole = after < len(ends)
        stop = ends[np.minimum(after, len(ends) - 1)] if len(ends) else heads
        fits = np.concatenate(([0], np.cumsum(good & (kind == VERTEX))))
        vertices = fits[stop] - fits[np.minimum(heads + 1, len(kind))]
        whole &= (vertices == stop - heads - 1) & (vertices > 0) & good[stop]
        good[heads] &= whole
        held = np.zeros(len(kind) + 1, dtype=np.int64)
        heads, stop = heads[good[heads]], stop[good[heads]]
        np.add.at(held, heads, 1)
        np.add.at(held, stop + 1, -1)
        inside = np.cumsum(held)[:-1] > 0
        good[(kind == VERTEX) | (kind == SEQEND)] = False
        self.inside = inside & (kind != OLD)
        self.owner_of_vertex = np.zeros(len(kind), dtype=np.int64)
        self.owner_of_vertex[heads] = heads
        self.owner_of_vertex = np.maximum.accumulate(self.owner_of_vertex)

    # --- geometry -------------------------------------------------------------------------

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
    fine: Bools = (np.isfinite(values) & (np.abs(values) < FAR)).all(axis=1)
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


_REFUSED_IN_NAMES = frozenset(b'<>/":;?*=`|,')
_HEX = b"0123456789abcdefABCDEF"


def _is_name(word: bytes) -> bool:
    """Whether a layer or linetype name is read by everyone the same."""
    return bool(word) and word == word.strip() and not _REFUSED_IN_NAMES.intersection(word)


def _is_handle(word: bytes) -> bool:
    return 0 < len(word) <= 16 and not word.translate(None, _HEX) and word.strip(b"0") != b""


def _all_handles(words: list[bytes]) -> bool:
    """Whether all are handles, told without looking at each."""
    sizes = set(map(len, words))
    nothing = {b"0" * size for size in sizes}
    return (
        sizes <= set(range(1, 17))
        and not b"".join(words).translate(None, _HEX)
        and nothing.isdisjoint(words)
    )
