"""Edges are split where others end on them, and where a straight one runs past a crossing."""

from __future__ import annotations

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.drawing.edges import Edges
from analyzer.drawing.graph import ROUNDING, Graph
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import fraction_on_segments, points_near_segments
from analyzer.tolerances import Tolerances
from analyzer.units import counted


def split_where_others_end(graph: Graph, tolerances: Tolerances, facts: list[Fact]) -> Graph:
    """Return the graph with edges split where dangling ends lie on them or run past them.

    Stubs of at most `join` past a crossing are dropped, which is written to `facts`.
    """
    edges = graph.edges
    node, own = graph.dangling()
    place = graph.place[node]
    index, edge = points_near_segments(
        place, edges.starts, edges.ends, edges.bulges, edges.as_contours.segment_box,
        tolerances.join + ROUNDING,
    )  # fmt: skip
    other = edge != own[index]
    index, edge = index[other], edge[other]
    at = fraction_on_segments(
        place[index], edges.starts[edge], edges.ends[edge], edges.bulges[edge]
    )
    foot = edges.points_at(edge, np.clip(at, 0.0, 1.0))
    away = np.hypot(*(place[index] - foot).T)
    apart = off_both_ends(at, edges.lengths[edge], tolerances.weld)
    on = (away <= tolerances.weld) & apart
    splits = [(edge[on], at[on], place[index[on]])]
    past = _overshoots(graph, node, own, index[~on], edge[~on], tolerances)
    splits += past
    rows, fractions, points = (np.concatenate([s[k] for s in splits]) for k in range(3))
    if not len(rows):
        return graph
    pieces, cut = split_edges(edges, rows, fractions, points, tolerances.weld)
    split_graph = Graph(pieces, tolerances.weld)
    return _without_stubs(split_graph, cut, tolerances, facts)


def off_both_ends(fraction: Floats, length: Floats, weld: float) -> Bools:
    """Return which places on edges are further than `weld` from both ends."""
    along = fraction * length
    return (along > weld) & (along < length - weld)


def _overshoots(
    graph: Graph, node: Ints, own: Ints, index: Ints, edge: Ints, tolerances: Tolerances
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
    reach = np.minimum(tolerances.join + ROUNDING, length - tolerances.weld)
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
    inner = off_both_ends(at, edges.lengths[edge], tolerances.weld)
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


def split_edges(
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


def _without_stubs(graph: Graph, cut: Bools, tolerances: Tolerances, facts: list[Fact]) -> Graph:
    """Drop the short pieces that splitting left dangling past a crossing; say so."""
    degree = graph.degree
    ends = np.column_stack((degree[graph.first], degree[graph.last]))
    stub = (
        cut
        & (graph.edges.lengths <= tolerances.join + ROUNDING)
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
            counted(len(rows), "line runs past its corner", "lines run past their corner")
            + f" by up to {graph.edges.lengths[longest]:.3f} mm; what is over was cut off,"
            f" {graph.edges.lengths[rows].sum():.3f} mm together",
            float(x), float(y), len(rows),
        )
    )  # fmt: skip
    return Graph(graph.edges.take(~stub), tolerances.weld)
