"""Lines without length and lines drawn twice are taken out, counted, and said.

Two edges lie on each other where both follow the same path within a small distance over
more than a hair of length; the stretch of the lesser one goes.  Closed entities win over
open ones, long ones over short ones, earlier ones over later ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.drawing.edges import Edges
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import (
    distance_to_segments,
    distinct,
    fraction_on_segments,
    points_near_segments,
)
from analyzer.tolerances import Tolerances

_SLANT = 0.01  # two edges may part by this share of their common length [-]
_AT_ONCE = 500_000  # pairs of edges compared together
_SPOTS = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class Doubles:
    """What was drawn twice.

    Attributes
    ----------
    entities : ndarray of int
        Rows of the table of entities that lost something, each once.
    length : float
        What was taken out. [mm]
    place : tuple of float or None
        Middle of the longest stretch taken out. [mm]
    """

    entities: Ints
    length: float
    place: tuple[float, float] | None


def without_zero_length(edges: Edges, vanish: float) -> tuple[Edges, Ints]:
    """Return the edges longer than `vanish`, and the entities of those that were not."""
    keep = edges.lengths > vanish
    return (edges if keep.all() else edges.take(keep)), edges.source[~keep]


def without_doubles(edges: Edges, closed: Bools, tolerances: Tolerances) -> tuple[Edges, Doubles]:
    """Return edges that lie nowhere on each other, and what was taken out.

    Parameters
    ----------
    edges : Edges
    closed : ndarray of bool, one per row of the table of entities
        Entities that close upon themselves: these are kept whole.
    tolerances : Tolerances
        Half of `flatten` is how near two lines are the same.
    """
    if not len(edges):
        return edges, Doubles(np.zeros(0, dtype=np.int64), 0.0, None)
    order = _rank(edges, closed)
    edges = edges.take(np.argsort(order, kind="stable"))  # best first: the lower row stays
    twice = _same_ends(edges, tolerances)
    gone = edges.take(twice)
    edges = edges.take(~twice)
    edges, more = _without_overlaps(edges, tolerances)
    taken = Edges.join([gone, more])
    place = None
    if len(taken):
        longest = np.array([int(np.argmax(taken.lengths))])
        x, y = taken.points_at(longest, np.array([0.5]))[0]
        place = (float(x), float(y))
    return edges, Doubles(distinct(taken.source), float(taken.lengths.sum()), place)


def _rank(edges: Edges, closed: Bools) -> Ints:
    """Return the place of every edge when the best comes first, shape (n,)."""
    length = np.bincount(edges.source, weights=edges.lengths)[edges.source]
    order = np.lexsort((edges.source, -np.round(length, 6), ~closed[edges.source]))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return rank


def _same_ends(edges: Edges, tolerances: Tolerances) -> Bools:
    """Return which edges lead, by the same way, between the nodes of an earlier one."""
    count = len(edges)
    node, _ = edges.nodes(tolerances.weld)
    first, last = node[:count], node[count:]
    low, high = np.minimum(first, last), np.maximum(first, last)
    chord = np.hypot(*(edges.ends - edges.starts).T)
    bow = edges.bulges * chord / 2.0 * np.where(first > last, -1.0, 1.0)
    order = np.lexsort((bow, high, low))
    new = np.ones(count, dtype=bool)
    new[1:] = (
        (np.diff(low[order]) != 0)
        | (np.diff(high[order]) != 0)
        | (np.diff(bow[order]) > tolerances.flatten / 2.0)
        | (low[order] == high[order])[1:]
    )
    group = np.cumsum(new) - 1
    best = np.full(group[-1] + 1, count)
    np.minimum.at(best, group, order)
    twice = np.ones(count, dtype=bool)
    twice[best] = False
    return twice


def _candidates(edges: Edges, near: float, weld: float) -> Ints:
    """Return pairs of edges where an end of one lies on the other, each as one number.

    The better edge times their count, and the worse.
    """
    count = len(edges)
    node, place = edges.nodes(weld)
    point, edge = points_near_segments(
        place, edges.starts, edges.ends, edges.bulges, edges.as_contours.segment_box, near,
        node.reshape(2, -1).T,
    )  # fmt: skip
    if not len(point):
        return np.zeros(0, dtype=np.int64)
    at_node = np.argsort(node, kind="stable")
    first = np.searchsorted(node[at_node], np.arange(len(place) + 1))
    size = (first[1:] - first[:-1])[point]
    keys = []
    for some in _blocks(size):
        other = np.repeat(edge[some], size[some])
        run = np.arange(len(other)) - np.repeat(np.cumsum(size[some]) - size[some], size[some])
        mine = at_node[np.repeat(first[point[some]], size[some]) + run] % count
        low, high = np.minimum(mine, other), np.maximum(mine, other)
        keys.append(distinct((low * count + high)[low != high]))
    if not keys:
        return np.zeros(0, dtype=np.int64)
    key = np.concatenate(keys)
    keys.clear()
    return distinct(key)


def _blocks(size: Ints) -> Iterator[slice]:
    """Yield runs of rows whose sizes add up to little, so that memory stays bounded."""
    done = np.cumsum(size)
    start = 0
    while start < len(size):
        before = int(done[start - 1]) if start else 0
        stop = max(int(np.searchsorted(done, before + _AT_ONCE, side="right")), start + 1)
        yield slice(start, stop)
        start = stop


def _spans(edges: Edges, worse: Ints, better: Ints) -> tuple[Ints, Floats, Floats]:
    """Return stretches of `worse` that may lie on `better`: pair, from, to (fractions).

    Two arcs of one circle can meet at both ends, so each such pair has two stretches.
    """
    shape = (edges.starts[worse], edges.ends[worse], edges.bulges[worse])
    ends = np.sort(
        np.column_stack(
            [fraction_on_segments(p[better], *shape) for p in (edges.starts, edges.ends)]
        ),
        axis=1,
    )
    pair = np.arange(len(worse))
    low, high = ends[:, 0], ends[:, 1]
    bent = np.flatnonzero((edges.bulges[worse] != 0.0) & (edges.bulges[better] != 0.0))
    if len(bent):
        w, b = worse[bent], better[bent]
        centre = edges.as_contours.centres[w]
        sense = np.sign(edges.bulges[w])
        same = np.sign(edges.bulges[b]) == sense
        begin = np.where(same[:, None], edges.starts[b], edges.ends[b])
        own = np.abs(edges.as_contours.sweeps[w])
        ahead = _angle(begin - centre) - _angle(edges.starts[w] - centre)
        ahead = np.mod(ahead * sense, 2.0 * np.pi)
        wide = np.abs(edges.as_contours.sweeps[b])
        low[bent], high[bent] = ahead / own, (ahead + wide) / own
        pair = np.concatenate((pair, bent))
        low = np.concatenate((low, (ahead - 2.0 * np.pi) / own))
        high = np.concatenate((high, (ahead + wide - 2.0 * np.pi) / own))
    return pair, np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)


def _angle(vectors: Floats) -> Floats:
    return np.arctan2(vectors[:, 1], vectors[:, 0])


def _without_overlaps(edges: Edges, tolerances: Tolerances) -> tuple[Edges, Edges]:
    """Return what is left of the edges, and the stretches that lay on a better edge."""
    near, hair = tolerances.flatten / 2.0, 10.0 * tolerances.weld
    key = _candidates(edges, near, tolerances.weld)
    nothing = Edges.join([])
    if not len(key):
        return edges, nothing
    found = []
    for begin in range(0, len(key), _AT_ONCE):
        some = key[begin : begin + _AT_ONCE]
        found.append(_lying_on(edges, some // len(edges), some % len(edges), near, hair))
    row, low, high = (np.concatenate(column) for column in zip(*found, strict=True))
    if not len(row):
        return edges, nothing
    row, low, high = _united(row, low, high)
    return _cut_out(edges, row, low, high, hair, tolerances.flatten)


def _lying_on(
    edges: Edges, better: Ints, worse: Ints, near: float, hair: float
) -> tuple[Ints, Floats, Floats]:
    """Return the stretches of the worse edge of each pair that lie on the better: row, from, to."""
    pair, low, high = _spans(edges, worse, better)
    worse, better = worse[pair], better[pair]
    common = (high - low) * edges.lengths[worse]
    enough = common > hair
    worse, better = worse[enough], better[enough]
    low, high, common = low[enough], high[enough], common[enough]
    allowed = np.clip(_SLANT * common, 1e-5, near)
    on = np.ones(len(worse), dtype=bool)
    for spot in _SPOTS:
        place = edges.points_at(worse, low + (high - low) * spot)
        way = distance_to_segments(
            place, edges.starts[better], edges.ends[better], edges.bulges[better]
        )
        on &= way <= allowed
    return worse[on], low[on], high[on]


def _united(row: Ints, low: Floats, high: Floats) -> tuple[Ints, Floats, Floats]:
    """Return stretches of edges with those that touch made one."""
    order = np.lexsort((low, row))
    row, low, high = row[order], low[order], high[order]
    reach = np.maximum.accumulate(high + 2.0 * row) - 2.0 * row
    new = np.ones(len(row), dtype=bool)
    new[1:] = (np.diff(row) != 0) | (low[1:] > reach[:-1])
    first = np.flatnonzero(new)
    return row[first], low[first], np.maximum.reduceat(high, first)


def _cut_out(
    edges: Edges, row: Ints, low: Floats, high: Floats, hair: float, crumb: float
) -> tuple[Edges, Edges]:
    """Return the edges without the stretches, and the stretches."""
    first = np.ones(len(row), dtype=bool)
    first[1:] = np.diff(row) != 0
    begin = np.where(first, 0.0, np.concatenate(([0.0], high[:-1])))
    last = np.concatenate((first[1:], [True]))
    left_row = np.concatenate((row, row[last]))
    left_low = np.concatenate((begin, high[last]))
    left_high = np.concatenate((low, np.ones(int(last.sum()))))
    size = (left_high - left_low) * edges.lengths[left_row]
    # next to a stretch that went, a crumb is no line of its own
    keep = size > np.maximum(hair, np.minimum(crumb, 0.1 * edges.lengths[left_row]))
    whole = np.ones(len(edges), dtype=bool)
    whole[row] = False
    left = edges.pieces(left_row[keep], left_low[keep], left_high[keep])
    crumbs = edges.pieces(*(v[~keep & (size > 0.0)] for v in (left_row, left_low, left_high)))
    return (
        Edges.join([edges.take(whole), left]),
        Edges.join([edges.pieces(row, low, high), crumbs]),
    )
