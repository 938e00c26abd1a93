"""Lines and arcs are chained into contours.

Four steps: (1) ends within a hair are one node, and so are two dangling ends, each the
other's nearest, that are no further apart than curves are true; (2) an edge is split where
another ends on it, and where it runs straight past a crossing, whose stub is dropped;
(3) ends that still dangle are joined over a small gap, again with their mutual nearest, or
led on to a line just ahead;
(4) (see `merge.py`) short segments become long ones.  Contours are then the faces of the planar
drawing, so that edges shared by two parts and touching corners close where they can.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.drawing.edges import Edges
from analyzer.drawing.faces import Walk, walk
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import (
    close_pairs,
    components,
    fraction_on_segments,
    points_near_segments,
)
from analyzer.tolerances import Tolerances

_ROUNDING = 1e-6  # a gap of exactly `join` is still closed [mm]


@dataclass
class Chained:
    """Edges and the contours they form.

    Attributes
    ----------
    edges : Edges
        With ends moved to their nodes, splits and closed gaps included.
    walk : Walk
        Half edges of every contour.
    facts : list of Fact
        Gaps, overshoots and specks.
    """

    edges: Edges
    walk: Walk
    facts: list[Fact] = field(default_factory=list)


class _Graph:
    """Edges between nodes."""

    def __init__(self, edges: Edges, weld: float) -> None:
        count = len(edges)
        node, self.place = edges.nodes(weld)
        self.first, self.last = node[:count], node[count:]
        self.edges = edges.moved_ends(self.place[self.first], self.place[self.last])

    @property
    def degree(self) -> Ints:
        both = np.concatenate((self.first, self.last))
        return np.bincount(both, minlength=len(self.place))

    def dangling(self) -> tuple[Ints, Ints]:
        """Return nodes where one edge ends and nothing goes on, and that edge."""
        loose = np.flatnonzero(self.degree == 1)
        edge_at = np.empty(len(self.place), dtype=np.int64)
        edge_at[self.first] = np.arange(len(self.first))
        last_edge = np.empty(len(self.place), dtype=np.int64)
        last_edge[self.last] = np.arange(len(self.last))
        is_first = np.zeros(len(self.place), dtype=bool)
        is_first[self.first] = True
        return loose, np.where(is_first[loose], edge_at[loose], last_edge[loose])


def chain(edges: Edges, tolerances: Tolerances) -> Chained:
    """Return the contours that edges form.

    Parameters
    ----------
    edges : Edges
        Without zero length and without doubles.
    tolerances : Tolerances
        `weld`, `join` and `flatten` are used.
    """
    facts: list[Fact] = []
    edges = _without_specks(edges, tolerances, facts)
    graph = _Graph(edges, tolerances.weld)
    gaps: list[_Gaps] = []
    for reach in (tolerances.flatten, tolerances.join + _ROUNDING):
        if len(graph.dangling()[0]) and reach > tolerances.flatten:
            graph = _split_where_others_end(graph, tolerances, facts)
        if len(graph.dangling()[0]):
            graph, closed = _join_gaps(graph, reach, tolerances)
            gaps.append(closed)
    if len(graph.dangling()[0]):
        graph, closed = _reach_lines_ahead(graph, tolerances)
        gaps.append(closed)
    _say_gaps(gaps, facts)
    edges = _without_specks(graph.edges, tolerances, facts)
    if len(edges) < len(graph.edges):
        graph = _Graph(edges, tolerances.weld)
    return Chained(graph.edges, walk(graph.edges, graph.first, graph.last), facts)


def _without_specks(edges: Edges, tolerances: Tolerances, facts: list[Fact]) -> Edges:
    """Drop edges whose two ends are one node; say so."""
    count = len(edges)
    node, _ = edges.nodes(tolerances.weld)
    speck = (node[:count] == node[count:]) & (edges.lengths <= 4.0 * tolerances.weld)
    if not speck.any():
        return edges
    x, y = edges.starts[np.flatnonzero(speck)[0]]
    total = edges.lengths[speck].sum()
    facts.append(
        Fact(
            "speck", f"{int(speck.sum())} lines shorter than {4 * tolerances.weld:g} mm left out,"
            f" {total:.4f} mm together", float(x), float(y), int(speck.sum()),
        )
    )  # fmt: skip
    return edges.take(~speck)


# --- step 2: splits -------------------------------------------------------


def _split_where_others_end(graph: _Graph, tolerances: Tolerances, facts: list[Fact]) -> _Graph:
    edges = graph.edges
    node, own = graph.dangling()
    place = graph.place[node]
    index, edge = points_near_segments(
        place, edges.starts, edges.ends, edges.bulges, edges.as_contours.segment_box,
        tolerances.join + _ROUNDING,
    )  # fmt: skip
    other = edge != own[index]
    index, edge = index[other], edge[other]
    at = fraction_on_segments(
        place[index], edges.starts[edge], edges.ends[edge], edges.bulges[edge]
    )
    foot = edges.points_at(edge, np.clip(at, 0.0, 1.0))
    away = np.hypot(*(place[index] - foot).T)
    inside = _inside(at, edges.lengths[edge], tolerances.weld)
    on = (away <= tolerances.weld) & inside
    splits = [(edge[on], at[on], place[index[on]])]
    past = _overshoots(graph, node, own, index[~on], edge[~on], tolerances)
    splits += past
    rows, fractions, points = (np.concatenate([s[k] for s in splits]) for k in range(3))
    if not len(rows):
        return graph
    pieces, cut = _split(edges, rows, fractions, points, tolerances.weld)
    split_graph = _Graph(pieces, tolerances.weld)
    return _without_stubs(split_graph, cut, tolerances, facts)


def _inside(fraction: Floats, length: Floats, weld: float) -> Bools:
    """Return which places on edges are further than `weld` from both ends."""
    along = fraction * length
    return (along > weld) & (along < length - weld)


def _overshoots(
    graph: _Graph, node: Ints, own: Ints, index: Ints, edge: Ints, tolerances: Tolerances
) -> list[tuple[Ints, Floats, Floats]]:
    """Return splits where a straight edge runs on, by at most `join`, past a crossing.

    The crossing furthest back along the edge counts; both edges are split there.
    """
    edges, place = graph.edges, graph.place[node]
    straight = edges.bulges[own[index]] == 0.0
    index, edge = index[straight], edge[straight]
    line = own[index]
    at_end = graph.last[line] == node[index]
    back = np.where(at_end[:, None], edges.starts[line] - edges.ends[line],
                    edges.ends[line] - edges.starts[line])  # fmt: skip
    length = np.hypot(*back.T)
    back = back / length[:, None]
    run = _crossing(place[index], back, edges, edge)
    reach = np.minimum(tolerances.join + _ROUNDING, length - tolerances.weld)
    cross = place[index] + back * run[:, None]
    with np.errstate(invalid="ignore"):
        good = (run > tolerances.weld) & (run <= reach)
    index, edge, line, cross, run, at_end, length = (
        v[good] for v in (index, edge, line, cross, run, at_end, length)
    )
    at = fraction_on_segments(cross, edges.starts[edge], edges.ends[edge], edges.bulges[edge])
    slack = tolerances.weld / edges.lengths[edge]
    good = (at >= -slack) & (at <= 1.0 + slack)
    order = np.lexsort((-run[good], index[good]))
    rows = np.flatnonzero(good)[order]
    rows = rows[np.concatenate(([True], np.diff(index[rows]) != 0))] if len(rows) else rows
    edge, line, cross, run, at = edge[rows], line[rows], cross[rows], run[rows], at[rows]
    share = run / length[rows]
    own_at = np.where(at_end[rows], 1.0 - share, share)
    inner = _inside(at, edges.lengths[edge], tolerances.weld)
    # where the other edge ends at the crossing, its node is the point
    end = np.where((at > 0.5)[:, None], edges.ends[edge], edges.starts[edge])
    cross = np.where(inner[:, None], cross, end)
    return [(line, own_at, cross), (edge[inner], at[inner], cross[inner])]


def _crossing(point: Floats, way: Floats, edges: Edges, edge: Ints) -> Floats:
    """Return how far from `point` along `way` the edge is met first, nan where it is not."""
    start, end, bulge = edges.starts[edge], edges.ends[edge], edges.bulges[edge]
    step, gap = end - start, start - point
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = way[:, 0] * step[:, 1] - way[:, 1] * step[:, 0]
        run = (gap[:, 0] * step[:, 1] - gap[:, 1] * step[:, 0]) / turn
        run = np.where(np.abs(turn) < 1e-9 * np.hypot(*step.T), np.nan, run)
        arm = edges.as_contours.centres[edge] - point
        middle = (arm * way).sum(axis=1)
        square = edges.as_contours.radii[edge] ** 2 - ((arm * arm).sum(axis=1) - middle**2)
        half = np.sqrt(square)
        near = np.where(middle - half > 0.0, middle - half, middle + half)
    return np.where(bulge == 0.0, run, near)


def _split(
    edges: Edges, rows: Ints, fractions: Floats, points: Floats, weld: float
) -> tuple[Edges, Bools]:
    """Return the edges with `rows` split at points, and which of them are pieces."""
    order = np.lexsort((fractions, rows))
    rows, fractions, points = rows[order], fractions[order], points[order]
    apart = np.ones(len(rows), dtype=bool)
    apart[1:] = (np.diff(rows) != 0) | (np.diff(fractions) * edges.lengths[rows[1:]] > weld)
    rows, fractions, points = rows[apart], fractions[apart], points[apart]
    first = np.concatenate(([True], np.diff(rows) != 0))
    last = np.concatenate((first[1:], [True]))
    piece_row = np.concatenate((rows, rows[last]))
    low = np.concatenate(
        (np.where(first, 0.0, np.concatenate(([0.0], fractions[:-1]))), fractions[last])
    )
    high = np.concatenate((fractions, np.ones(int(last.sum()))))
    pieces = edges.pieces(piece_row, low, high)
    starts, ends = pieces.starts.copy(), pieces.ends.copy()
    inner = np.flatnonzero(~first)
    starts[inner] = points[inner - 1]
    starts[len(rows) :] = points[last]
    ends[: len(rows)] = points
    whole = np.ones(len(edges), dtype=bool)
    whole[rows] = False
    pieces = pieces.moved_ends(starts, ends)
    together = Edges.join([edges.take(whole), pieces])
    return together, np.arange(len(together)) >= whole.sum()


def _without_stubs(graph: _Graph, cut: Bools, tolerances: Tolerances, facts: list[Fact]) -> _Graph:
    """Drop the short pieces that splitting left dangling past a crossing; say so."""
    degree = graph.degree
    ends = np.column_stack((degree[graph.first], degree[graph.last]))
    stub = (
        cut
        & (graph.edges.lengths <= tolerances.join + _ROUNDING)
        & (ends.min(axis=1) == 1)
        & (ends.max(axis=1) > 2)
    )
    if not stub.any():
        return graph
    rows = np.flatnonzero(stub)
    longest = rows[np.argmax(graph.edges.lengths[rows])]
    x, y = graph.edges.starts[longest]
    facts.append(
        Fact(
            "overshoot",
            f"{len(rows)} lines run past their corner by up to"
            f" {graph.edges.lengths[longest]:.3f} mm; the ends were cut off,"
            f" {graph.edges.lengths[rows].sum():.3f} mm together",
            float(x), float(y), len(rows),
        )
    )  # fmt: skip
    return _Graph(graph.edges.take(~stub), tolerances.weld)


# --- step 3: gaps ---------------------------------------------------------


@dataclass(frozen=True)
class _Gaps:
    """Gaps closed in one go: width, and where they begin."""

    width: Floats
    place: Floats


def _join_gaps(graph: _Graph, reach: float, tolerances: Tolerances) -> tuple[_Graph, _Gaps]:
    """Return the graph with dangling ends joined over gaps of up to `reach`, and the gaps.

    Over a gap within `flatten` both ends move to its middle, over a wider one a line is
    drawn.
    """
    node, own = graph.dangling()
    place = graph.place[node]
    pairs = close_pairs(place, reach)
    if len(pairs):
        chain_of = components(len(graph.place), np.column_stack((graph.first, graph.last)))
        length = np.bincount(chain_of[graph.first], weights=graph.edges.lengths)
        one, two = chain_of[node[pairs[:, 0]]], chain_of[node[pairs[:, 1]]]
        # never both ends of one short edge, nor of a chain of short edges
        pairs = pairs[(one != two) | (length[one] > 2.0 * tolerances.join)]
        pairs = pairs[~_side_by_side(graph, node, own, pairs, tolerances)]
        pairs = _mutual_nearest(place, pairs)
    a, b = place[pairs[:, 0]], place[pairs[:, 1]]
    gap = np.hypot(*(b - a).T)
    if not len(pairs):
        return graph, _Gaps(gap, a)
    small = gap <= tolerances.flatten
    wide = int((~small).sum())
    edges = _ends_met(graph, node[pairs[small]])
    bridge = Edges.of(a[~small], b[~small], np.zeros(wide), np.full(wide, -1))
    return _Graph(Edges.join([edges, bridge]), tolerances.weld), _Gaps(gap, a)


def _side_by_side(
    graph: _Graph, node: Ints, own: Ints, pairs: Ints, tolerances: Tolerances
) -> Bools:
    """Return which pairs of ends are tips of two lines that run beside each other.

    They go the same way, so no corner is meant: rays from one point, hatch, a line drawn
    a second time a little aside.
    """
    way = _outward(graph, node, own)
    alike = (way[pairs[:, 0]] * way[pairs[:, 1]]).sum(axis=1)
    beside: Bools = alike > np.cos(np.radians(tolerances.smooth_deg))
    return beside


def _reach_lines_ahead(graph: _Graph, tolerances: Tolerances) -> tuple[_Graph, _Gaps]:
    """Return the graph with ends that stop short of a line ahead led on to it, and the gaps.

    The way over the gap must go on where the end was heading, within 60 degrees: a line
    that passes beside an end is not meant.
    """
    edges = graph.edges
    node, own = graph.dangling()
    place = graph.place[node]
    reach = tolerances.join + _ROUNDING
    index, edge = points_near_segments(
        place, edges.starts, edges.ends, edges.bulges, edges.as_contours.segment_box, reach
    )
    chain_of = components(len(graph.place), np.column_stack((graph.first, graph.last)))
    long = np.bincount(chain_of[graph.first], weights=edges.lengths) > 2.0 * tolerances.join
    keep = (edge != own[index]) & long[chain_of[node[index]]]
    index, edge = index[keep], edge[keep]
    at = fraction_on_segments(
        place[index], edges.starts[edge], edges.ends[edge], edges.bulges[edge]
    )
    at = np.clip(at, 0.0, 1.0)
    foot = edges.points_at(edge, at)
    way = foot - place[index]
    width = np.hypot(*way.T)
    ahead = _outward(graph, node, own)[index]
    good = (width > tolerances.weld) & ((way * ahead).sum(axis=1) >= 0.5 * width)
    rows = np.flatnonzero(good)
    rows = rows[np.lexsort((width[rows], index[rows]))]
    rows = rows[np.diff(index[rows], prepend=-1) != 0]  # the nearest line of every end
    if not len(rows):
        return graph, _Gaps(np.zeros(0), np.zeros((0, 2)))
    begin, end, edge, at = place[index[rows]], foot[rows], edge[rows], at[rows]
    inner = _inside(at, edges.lengths[edge], tolerances.weld)
    pieces = edges
    if inner.any():
        pieces, _ = _split(edges, edge[inner], at[inner], end[inner], tolerances.weld)
    none = np.full(len(rows), -1)
    bridge = Edges.of(begin, end, np.zeros(len(rows)), none)
    return _Graph(Edges.join([pieces, bridge]), tolerances.weld), _Gaps(width[rows], begin)


def _outward(graph: _Graph, node: Ints, own: Ints) -> Floats:
    """Return the direction in which an edge leaves the drawing at a dangling end, shape (n, 2)."""
    headings = graph.edges.headings[own]
    at_start = graph.first[own] == node
    way = np.where(at_start, headings[:, 0] + np.pi, headings[:, 1])
    return np.column_stack((np.cos(way), np.sin(way)))


def _say_gaps(gaps: list[_Gaps], facts: list[Fact]) -> None:
    """Add the fact that tells how many gaps were closed, the widest, and where it is."""
    width = np.concatenate([g.width for g in gaps]) if gaps else np.zeros(0)
    if not len(width):
        return
    place = np.concatenate([g.place for g in gaps])
    widest = int(np.argmax(width))
    x, y = place[widest].tolist()
    words = f"a gap of {width[0]:.4f} mm closed"
    if len(width) > 1:
        words = f"{len(width)} gaps closed, the widest {width[widest]:.4f} mm"
    facts.append(Fact("gap-closed", words, x, y, len(width)))


def _mutual_nearest(place: Floats, pairs: Ints) -> Ints:
    """Return pairs of points that are each other's nearest, nearest first, each point once."""
    taken = np.zeros(len(place), dtype=bool)
    chosen = []
    distance = np.hypot(*(place[pairs[:, 0]] - place[pairs[:, 1]]).T)
    order = np.lexsort((pairs[:, 1], pairs[:, 0], distance))
    pairs, distance = pairs[order], distance[order]
    while len(pairs):
        nearest = np.full(len(place), len(pairs))
        np.minimum.at(nearest, pairs[:, 0], np.arange(len(pairs)))
        np.minimum.at(nearest, pairs[:, 1], np.arange(len(pairs)))
        here = np.arange(len(pairs))
        mutual = (nearest[pairs[:, 0]] == here) & (nearest[pairs[:, 1]] == here)
        chosen.append(pairs[mutual])
        taken[pairs[mutual]] = True
        pairs = pairs[~taken[pairs].any(axis=1)]
    return np.concatenate(chosen) if chosen else np.zeros((0, 2), dtype=np.int64)


def _ends_met(graph: _Graph, nodes: Ints) -> Edges:
    """Return the edges with both nodes of every pair moved to the middle between them."""
    place = graph.place.copy()
    middle = (place[nodes[:, 0]] + place[nodes[:, 1]]) / 2.0
    place[nodes[:, 0]] = place[nodes[:, 1]] = middle
    return graph.edges.moved_ends(place[graph.first], place[graph.last])
