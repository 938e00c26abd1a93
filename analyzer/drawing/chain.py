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
from analyzer.drawing.gaps import Gaps, join_gaps, reach_lines_ahead, say_gaps
from analyzer.drawing.graph import ROUNDING, Graph
from analyzer.drawing.splits import split_where_others_end
from analyzer.tolerances import Tolerances
from analyzer.units import counted


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
    graph = Graph(edges, tolerances.weld)
    gaps: list[Gaps] = []
    for reach in (tolerances.flatten, tolerances.join + ROUNDING):
        if len(graph.dangling()[0]) and reach > tolerances.flatten:
            graph = split_where_others_end(graph, tolerances, facts)
        if len(graph.dangling()[0]):
            graph, closed = join_gaps(graph, reach, tolerances)
            gaps.append(closed)
    if len(graph.dangling()[0]):
        graph, closed = reach_lines_ahead(graph, tolerances)
        gaps.append(closed)
    say_gaps(gaps, facts)
    edges = _without_specks(graph.edges, tolerances, facts)
    if len(edges) < len(graph.edges):
        graph = Graph(edges, tolerances.weld)
    return Chained(graph.edges, walk(graph.edges, graph.first, graph.last), facts)


def _without_specks(edges: Edges, tolerances: Tolerances, facts: list[Fact]) -> Edges:
    """Drop edges whose two ends are one node; say so."""
    count = len(edges)
    short = edges.lengths <= 4.0 * tolerances.weld
    if not short.any():  # the usual case; the nodes of all ends are dear
        return edges
    node, _ = edges.nodes(tolerances.weld)
    speck = (node[:count] == node[count:]) & short
    if not speck.any():
        return edges
    x, y = edges.starts[np.flatnonzero(speck)[0]]
    total = edges.lengths[speck].sum()
    facts.append(
        Fact(
            "speck", f"{counted(int(speck.sum()), 'line')} shorter than {4 * tolerances.weld:g} mm"
            f" left out, {total:.4f} mm together", float(x), float(y), int(speck.sum()),
        )
    )  # fmt: skip
    return edges.take(~speck)
