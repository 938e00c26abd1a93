"""Necks: thin metal between two stretches of one contour, fingers and tongues included.

Metal lies left of every contour.  Two chords of one contour that run against each other,
face each other across metal and are nearer than the reach make a neck where their nearest
points look at each other squarely; that is what a disc of that diameter cannot enter, so
the residue of an opening, without the slivers an opening leaves in every corner.  Chords
are looked up by their heading, each among those that run against it, so that a long curve
of short chords is never compared with itself.  Formulas: docs/drop.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np
import shapely

from analyzer.geometry.circles import true_circles
from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.distance import Pieces, nearest_points
from analyzer.parts.part import Neck

REACH_MM, REACH_PER_THICKNESS = 1.0, 0.75
"""Metal wider than both is no neck: no gas has a limit there."""

FLATTEN = 0.004  # arcs are looked at as chords this near [mm]
MANY = 20_000  # more pairs than this of chords of opposite heading are looked up in an index
AT_ONCE = 1_000_000  # pairs of chords looked at together, so that memory stays bounded
SECTORS = 24  # of heading, 15 degrees each
SQUARE = np.sin(np.radians(6.0))  # how far from square two sides may look at each other [-]
PARALLEL = 1e-9  # sides whose distance grows by less along them [-]
LEAST_PIECE = 1.0  # what a neck holds, at least, against the square of its width [-]
TOUCH = 1e-6  # narrower metal is none: the contour touches itself [mm]


def neck_reach(thickness: float) -> float:
    """Return the greatest width that is listed as a neck. [mm]"""
    return max(REACH_MM, REACH_PER_THICKNESS * thickness)


def find_necks(
    contours: Contours, names: Ints, part: Ints, thickness: float
) -> list[tuple[int, Neck]]:
    """Return the necks of several parts, each with its part, in order of part and rows.

    Parameters
    ----------
    contours : Contours
        Cut contours of the parts: outlines counter-clockwise, cut-outs clockwise.
    names, part : ndarray of int, shape (n,)
        Row of every contour in its part, and that part.
    thickness : float
        Of the sheet, > 0. [mm]

    Notes
    -----
    The width is within 0.01 mm where sides are arcs, else exact.  A nub shorter than it
    is wide is no neck; a tip of two straight sides is none either (rule tip-too-sharp).
    """
    some = np.flatnonzero(contours.closed & ~true_circles(contours).round)
    chords = contours.take(some).flattened(FLATTEN)
    if not len(some):
        return []
    pairs = _facing(chords, neck_reach(thickness))
    pairs = _holding(chords, pairs)
    pairs = pairs.take(pairs.width <= neck_reach(thickness))
    pairs = pairs.take(~_crossed(chords, pairs))
    found = []
    for first in _narrowest(chords, pairs):
        row = int(some[chords.owner[pairs.i[first]]])
        x, y = ((pairs.a[first] + pairs.b[first]) / 2.0).tolist()
        found.append((int(part[row]), Neck(x, y, float(pairs.width[first]), int(names[row]))))
    return sorted(found, key=lambda one: (one[0], one[1].row, one[1].y, one[1].x))


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Pairs of chords i, j of one contour, their nearest points a, b and how far apart.

    `room` is how far the way from a to b can be moved along both, each way.
    """

    i: Ints
    j: Ints
    a: Floats
    b: Floats
    width: Floats
    room: Floats

    def take(self, keep: Bools) -> _Pairs:
        return _Pairs(*(getattr(self, f.name)[keep] for f in fields(self)))


def _facing(chords: Contours, reach: float) -> _Pairs:
    """Return the pairs of chords that face each other squarely across metal."""
    i, j = _opposed(chords, reach)
    width, a, b = nearest_points(*(_lines(chords, rows) for rows in (i, j)))
    a, b, room = _middle_of_overlap(chords, i, j, a, b)
    step = b - a
    keep = (width > TOUCH) & (width <= reach)
    with np.errstate(divide="ignore", invalid="ignore"):
        look = step / np.hypot(step[:, 0], step[:, 1])[:, None]
    for rows, sign in ((i, 1.0), (j, -1.0)):
        heading = chords.ends[rows] - chords.starts[rows]
        heading = heading / np.hypot(heading[:, 0], heading[:, 1])[:, None]
        along = np.abs((heading * look).sum(axis=1))
        inward = sign * (heading[:, 0] * look[:, 1] - heading[:, 1] * look[:, 0])
        keep &= (along <= SQUARE) & (inward > 0.0)
    return _Pairs(i, j, a, b, width, room).take(keep)


def _opposed(chords: Contours, reach: float) -> tuple[Ints, Ints]:
    """Return pairs i < j of chords of one contour, near and running against each other.

    Within a sector of exactly opposite heading, or one beside it.  The pairs of a contour
    are counted out where they are few, else looked up in an index.
    """
    step = chords.ends - chords.starts
    sector = np.floor(np.arctan2(step[:, 1], step[:, 0]) / (2.0 * np.pi) * SECTORS)
    sector = np.mod(sector.astype(np.int64), SECTORS)
    boxes = np.hstack(
        (np.minimum(chords.starts, chords.ends), np.maximum(chords.starts, chords.ends))
    )
    order = np.lexsort((sector, chords.owner))
    key = (chords.owner * SECTORS + sector)[order]
    found = []
    for ahead, upto in ((SECTORS // 2, SECTORS // 2), (SECTORS // 2 + 1, SECTORS)):
        one = np.flatnonzero(sector[order] < upto)
        other = chords.owner[order][one] * SECTORS + (sector[order][one] + ahead) % SECTORS
        first, stop = np.searchsorted(key, other), np.searchsorted(key, other, side="right")
        begin = np.flatnonzero(np.diff(other, prepend=-1))  # of runs that share their partners
        found += list(_near(boxes[order], one, first, stop, begin, reach))
    i, j = (order[np.concatenate(side)] for side in zip(*found, strict=True))
    return np.minimum(i, j), np.maximum(i, j)


def _near(
    boxes: Floats, one: Ints, first: Ints, stop: Ints, begin: Ints, reach: float
) -> Iterator[tuple[Ints, Ints]]:
    """Yield the near ones of the pairs of one[k] and first[k]:stop[k]."""
    count = stop - first
    size = np.add.reduceat(count, begin) if len(begin) else count
    for run in np.flatnonzero(size > MANY).tolist():
        end = begin[run + 1] if run + 1 < len(begin) else len(one)
        mine, partners = one[begin[run] : end], np.arange(first[begin[run]], stop[begin[run]])
        a, b = box_pairs(boxes[mine], boxes[partners], reach)
        yield mine[a], partners[b]
    few = np.repeat(size <= MANY, np.diff(np.append(begin, len(one))))
    one, first, count = one[few], first[few], count[few]
    done = np.concatenate(([0], np.cumsum(count)))
    start = 0
    while start < len(one):
        end = max(int(np.searchsorted(done, done[start] + AT_ONCE, side="right")) - 1, start + 1)
        some = slice(start, end)
        a = np.repeat(one[some], count[some])
        b = np.arange(len(a)) - np.repeat(done[some] - done[start] - first[some], count[some])
        near = np.ones(len(a), dtype=bool)
        for axis in (0, 1):
            near &= boxes[a, axis] <= boxes[b, axis + 2] + reach
            near &= boxes[b, axis] <= boxes[a, axis + 2] + reach
        yield a[near], b[near]
        start = end


def _lines(chords: Contours, rows: Ints) -> Pieces:
    nothing = np.zeros(len(rows))
    start, end = chords.starts[rows], chords.ends[rows]
    box = np.hstack((np.minimum(start, end), np.maximum(start, end)))
    return Pieces(
        start, end, np.zeros((len(rows), 2)), nothing, nothing, nothing, box, chords.owner[rows]
    )


def _middle_of_overlap(
    chords: Contours, i: Ints, j: Ints, a: Floats, b: Floats
) -> tuple[Floats, Floats, Floats]:
    """Move the nearest points of parallel chords to the middle of where they face each other.

    Returns them, and half the length of that.
    """
    step = chords.ends[i] - chords.starts[i]
    length = np.hypot(step[:, 0], step[:, 1])
    unit = step / length[:, None]
    other = chords.ends[j] - chords.starts[j]
    turn = unit[:, 0] * other[:, 1] - unit[:, 1] * other[:, 0]
    parallel = np.abs(turn) <= 1e-9 * np.hypot(other[:, 0], other[:, 1]) + 1e-9
    ends = [((p[j] - chords.starts[i]) * unit).sum(axis=1) for p in (chords.starts, chords.ends)]
    low = np.maximum(np.minimum(*ends), 0.0)
    high = np.minimum(np.maximum(*ends), length)
    move = np.flatnonzero(parallel & (high > low))
    on_i = chords.starts[i] + unit * ((low + high) / 2.0)[:, None]
    off = chords.starts[j] - on_i
    on_j = on_i + off - unit * (off * unit).sum(axis=1)[:, None]
    a, b = a.copy(), b.copy()
    a[move], b[move] = on_i[move], on_j[move]
    room = np.zeros(len(a))
    room[move] = (high - low)[move] / 2.0
    return a, b, room


def _holding(chords: Contours, pairs: _Pairs) -> _Pairs:
    """Return the pairs that hold a piece of metal which is no nub.

    Sides that are not quite parallel are nearest at one end of where they face each other.  At the
    tip of a finger that narrows nothing is held there, so the neck lies as far from the end as it
    takes to hold enough, at the width there.
    """
    one, whole = _cut_off(chords, pairs)
    two = whole - one
    # of a cut-out one of both is the cut-out itself, less than nothing
    first = np.where(whole > 0.0, one <= two, one >= two)
    held = np.where(first, one, two) + pairs.width * pairs.room
    headings = chords.ends - chords.starts
    headings /= np.hypot(headings[:, 0], headings[:, 1])[:, None]
    on_i, on_j = headings[pairs.i], -headings[pairs.j]
    growth = ((on_j - on_i) * (pairs.b - pairs.a)).sum(axis=1) / pairs.width
    way = np.sign(growth) * (np.abs(growth) > PARALLEL)  # along i, to where it is wider
    ahead = way[:, None] > 0.0
    end_i = np.where(ahead, chords.ends[pairs.i], chords.starts[pairs.i])
    end_j = np.where(ahead, chords.starts[pairs.j], chords.ends[pairs.j])
    room = np.minimum(np.hypot(*(end_i - pairs.a).T), np.hypot(*(end_j - pairs.b).T))
    # held + s w + s^2 tau / 2 = (w + s tau)^2, tau the growth of the width w along s
    tau, w = np.minimum(np.abs(growth), 0.4), pairs.width
    lack = np.maximum(LEAST_PIECE * w**2 * (1.0 - 1e-6) - held, 0.0)
    b = w * (1.0 - 2.0 * tau)
    slide = 2.0 * lack / (b + np.sqrt(b**2 + 4.0 * (tau / 2.0 - tau**2) * lack))
    narrow_end = np.where(first, way < 0.0, way > 0.0)  # the piece held grows as we go
    moved = (lack > 0.0) & narrow_end & (slide <= room)
    step = np.where(moved, way * slide, 0.0)[:, None]
    at, to = pairs.a + step * on_i, pairs.b + step * on_j
    width = np.where(moved, np.hypot(*(to - at).T), w)
    return replace(pairs, a=at, b=to, width=width).take((lack == 0.0) | moved)


def _cut_off(chords: Contours, pairs: _Pairs) -> tuple[Floats, Floats]:
    """Return the area between a neck and the contour from a to b, and that of the contour."""
    origin = chords.starts[chords.offsets[:-1]][chords.owner]
    p, q = chords.starts - origin, chords.ends - origin
    cross = (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]) / 2.0
    whole: Floats = np.bincount(chords.owner, cross, len(chords)).astype(float, copy=False)
    before = np.cumsum(cross) - cross
    i, j = pairs.i, pairs.j
    a, b = pairs.a - origin[i], pairs.b - origin[i]

    def swept(u: Floats, v: Floats) -> Floats:
        area: Floats = (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0
        return area

    # from a along the contour to b and straight back
    one = before[j] - before[i] - cross[i] + swept(a, q[i]) + swept(p[j], b) + swept(b, a)
    return one, whole[chords.owner[i]]


def _crossed(chords: Contours, pairs: _Pairs) -> Bools:
    """Whether the way across a neck meets another stretch of the contour."""
    crossed = np.zeros(len(pairs.width), dtype=bool)
    if not len(crossed):
        return crossed
    inset = 1e-6 * (pairs.b - pairs.a)
    ends = np.stack((pairs.a + inset, pairs.b - inset), axis=1)
    box = np.hstack((ends.min(axis=1), ends.max(axis=1)))
    low = np.minimum(chords.starts, chords.ends)
    way, chord = box_pairs(box, np.hstack((low, np.maximum(chords.starts, chords.ends))), 0.0)
    other = (chords.owner[chord] == chords.owner[pairs.i[way]]) & (chord != pairs.i[way])
    other &= chord != pairs.j[way]
    way, chord = way[other], chord[other]
    lines = shapely.linestrings(np.stack((chords.starts[chord], chords.ends[chord]), axis=1))
    crossed[way[shapely.intersects(shapely.linestrings(ends[way]), lines)]] = True
    return crossed


def _narrowest(chords: Contours, pairs: _Pairs) -> list[int]:
    """Return the narrowest pair of every neck: pairs belong together where chords follow."""
    at = {pair: n for n, pair in enumerate(zip(pairs.i.tolist(), pairs.j.tolist(), strict=True))}
    parent = list(range(len(at)))

    def root(n: int) -> int:
        while parent[n] != n:
            parent[n] = parent[parent[n]]
            n = parent[n]
        return n

    first, size = chords.offsets[:-1].tolist(), np.diff(chords.offsets).tolist()
    for (i, j), n in at.items():
        owner = int(chords.owner[i])
        begin, count = first[owner], size[owner]
        for near_i in (-1, 0, 1):
            for near_j in (-1, 0, 1):
                k = begin + (i - begin + near_i) % count
                m = begin + (j - begin + near_j) % count
                other = at.get((min(k, m), max(k, m)))
                if other is not None:
                    parent[root(other)] = root(n)
    best: dict[int, int] = {}
    for n in np.argsort(pairs.width, kind="stable").tolist():
        best.setdefault(root(n), n)
    return list(best.values())
