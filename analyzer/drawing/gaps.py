"""Ends that dangle are joined over a small gap with their nearest, or led on to a line ahead."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.drawing.edges import Edges
from analyzer.drawing.graph import ROUNDING, Graph
from analyzer.drawing.splits import off_both_ends, split_edges
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import (
    close_pairs,
    components,
    fraction_on_segments,
    points_near_segments,
)
from analyzer.tolerances import Tolerances


@dataclass(frozen=True)
class Gaps:
    """Gaps closed in one go: width, and where they begin."""

    width: Floats
    place: Floats


def join_gaps(graph: Graph, reach: float, tolerances: Tolerances) -> tuple[Graph, Gaps]:
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
        return graph, Gaps(gap, a)
    small = gap <= tolerances.flatten
    wide = int((~small).sum())
    edges = _ends_met(graph, node[pairs[small]])
    bridge = Edges.of(a[~small], b[~small], np.zeros(wide), np.full(wide, -1))
    return Graph(Edges.join([edges, bridge]), tolerances.weld), Gaps(gap, a)


def _side_by_side(
    graph: Graph, node: Ints, own: Ints, pairs: Ints, tolerances: Tolerances
) -> Bools:
    """Return which pairs of ends are tips of two lines that run beside each other.

    They go the same way, so no corner is meant: rays from one point, hatch, a line drawn
    a second time a little aside.
    """
    way = _outward(graph, node, own)
    alike = (way[pairs[:, 0]] * way[pairs[:, 1]]).sum(axis=1)
    beside: Bools = alike > np.cos(np.radians(tolerances.smooth_deg))
    return beside


def reach_lines_ahead(graph: Graph, tolerances: Tolerances) -> tuple[Graph, Gaps]:
    """Return the graph with ends that stop short of a line ahead led on to it, and the gaps.

    The way over the gap must go on where the end was heading, within 60 degrees: a line
    that passes beside an end is not meant.
    """
    edges = graph.edges
    node, own = graph.dangling()
    place = graph.place[node]
    reach = tolerances.join + ROUNDING
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
        return graph, Gaps(np.zeros(0), np.zeros((0, 2)))
    begin, end, edge, at = place[index[rows]], foot[rows], edge[rows], at[rows]
    inner = off_both_ends(at, edges.lengths[edge], tolerances.weld)
    pieces = edges
    if inner.any():
        pieces, _ = split_edges(edges, edge[inner], at[inner], end[inner], tolerances.weld)
    none = np.full(len(rows), -1)
    bridge = Edges.of(begin, end, np.zeros(len(rows)), none)
    return Graph(Edges.join([pieces, bridge]), tolerances.weld), Gaps(width[rows], begin)


def _outward(graph: Graph, node: Ints, own: Ints) -> Floats:
    """Return the direction in which an edge leaves the drawing at a dangling end, shape (n, 2)."""
    headings = graph.edges.headings[own]
    at_start = graph.first[own] == node
    way = np.where(at_start, headings[:, 0] + np.pi, headings[:, 1])
    return np.column_stack((np.cos(way), np.sin(way)))


def say_gaps(gaps: list[Gaps], facts: list[Fact]) -> None:
    """Add the fact that tells how many gaps were closed, the widest, and where it is."""
    width = np.concatenate([g.width for g in gaps]) if gaps else np.zeros(0)
    if not len(width):
        return
    place = np.concatenate([g.place for g in gaps])
    widest = int(np.argmax(width))
    x, y = place[widest].tolist()
    words = f"a gap of {width[0]:.2g} mm closed"
    if len(width) > 1:
        words = f"{len(width)} gaps closed, the widest {width[widest]:.2g} mm"
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


def _ends_met(graph: Graph, nodes: Ints) -> Edges:
    """Return the edges with both nodes of every pair moved to the middle between them."""
    place = graph.place.copy()
    middle = (place[nodes[:, 0]] + place[nodes[:, 1]]) / 2.0
    place[nodes[:, 0]] = place[nodes[:, 1]] = middle
    return graph.edges.moved_ends(place[graph.first], place[graph.last])
