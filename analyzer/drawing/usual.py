"""Which entities are plain: whole, of a known type, and nothing about them unusual.

An entity counts as plain only where reading it straight and reading it through the library
are known to give the same; all others, and all doubt, are left to the library.
"""

from __future__ import annotations

import numpy as np

from analyzer.drawing.columns import Columns
from analyzer.geometry.contours import Bools, Ints

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
_AT_MOST_ONCE = (5, 6, 10, 20, 30, 31, 42, 70)
_HIGHEST_CODE = 1072


_READ_LATER = (10, 20, 11, 21, 50, 51, 42)
_WHOLE = np.zeros(_HIGHEST_CODE + 1, dtype=bool)  # codes of whole numbers, by the DXF reference
for _low, _high in ((60, 80), (90, 100), (170, 180), (270, 290), (370, 390), (400, 410),
                    (420, 430), (440, 450), (1060, 1072)):  # fmt: skip
    _WHOLE[_low:_high] = True
_NUMERIC = _WHOLE.copy()
for _low, _high in ((10, 60), (110, 150), (210, 240), (460, 470), (1010, 1060)):
    _NUMERIC[_low:_high] = True
_NUMERIC[list(_READ_LATER)] = False


class Usual:
    """Judges the entities of one section.

    Attributes
    ----------
    kind : ndarray of int, shape (n,)
        Which of `TYPES` each is, -1 for another.
    good : ndarray of bool, shape (n,)
        Plain; a polyline with all its vertices, which do not count themselves.
    inside : ndarray of bool, shape (n,)
        Vertices and ends of plain polylines.
    owner_of_vertex : ndarray of int, shape (n,)
        The polyline each of these belongs to.
    layer, linetype, handle : ndarray of int, shape (n,)
        The tag that tells it, -1 where there is none.
    """

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
        strange |= self._hidden()
        good = np.bincount(columns.own[strange], minlength=columns.count) == 0
        good &= kind >= 0
        for code, of in needed.items():
            good &= (columns.counts(code) == 1) | ~of[kind]
        for code in _AT_MOST_ONCE:
            good &= (columns.counts(code) <= 1) | ((code in (10, 20, 42)) & (kind == LIGHT))
        return self._all_numbers(good & self._upright() & self._paired())

    def _hidden(self) -> Bools:
        """Which tags stand within application or extended data and are not of that kind."""
        columns = self.columns
        own, codes = columns.own, columns.codes
        extended = codes >= 1000
        hidden = np.zeros(len(codes), dtype=bool)
        hidden[1:] = extended[:-1] & ~extended[1:] & (own[1:] == own[:-1])
        braces = codes == 102
        if braces.any():
            within = np.cumsum(braces)
            begin = np.searchsorted(own, np.arange(columns.count))
            before = within[begin] - braces[begin]
            odd = (within - before[own]) % 2 == 1
            hidden |= odd & ~np.isin(codes, (102, 330, 360))
            hidden[columns.tags_of(102)] |= (columns.counts(102) % 2 == 1)[own[braces]]
        return hidden

    def _all_numbers(self, good: Bools) -> Bools:
        """Which of the good entities hold numbers wherever there must be some.

        Widths, colours and heights are of no use here, but what is no number is damage that
        must be said; coordinates are read later and are not looked at twice.
        """
        columns = self.columns
        group = np.clip(columns.codes, 0, _HIGHEST_CODE)
        wanted = _NUMERIC[group] | (np.isin(group, (10, 20)) & (self.kind == OLD)[columns.own])
        tags = np.flatnonzero(wanted & good[columns.own])
        values = columns.numbers(tags)
        whole = ~_WHOLE[group[tags]] | (values == np.rint(values))
        good = good.copy()
        good[columns.own[tags[~(np.isfinite(values) & whole)]]] = False
        return good

    def _paired(self) -> Bools:
        """Which entities have y right after x, and z, if any, right after y.

        The library takes a drawing for damaged otherwise, and that must be said.
        """
        columns = self.columns
        paired: Bools = np.ones(columns.count, dtype=bool)
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
        upright: Bools = without.copy()
        upright[rows] = (normal == (0.0, 0.0, 1.0)).all(axis=1)
        return upright

    def _marked(self, old: bool) -> Bools:
        """Which entities have the markers (group 100) of their type, in their places."""
        columns, kind = self.columns, self.kind
        marks = columns.counts(100)
        if old:  # this version has none
            unmarked: Bools = (marks == 0) & (kind != LIGHT)
            return unmarked
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
        good: Bools = (marks >= 1) & ~light
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
        good: Bools = (columns.counts(8) == 1) | (self.kind == SEQEND)
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
