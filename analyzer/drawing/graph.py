"""Lines and arcs between nodes: what ends where, and which ends dangle."""

from __future__ import annotations

import numpy as np

from analyzer.drawing.edges import Edges
from analyzer.geometry.contours import Ints

ROUNDING = 1e-6
"""A gap of exactly `join` is still closed. [mm]"""


class Graph:
    """Edges between nodes: ends within `weld` [mm] of each other are one node.

    Attributes
    ----------
    edges : Edges
        With both ends moved to their nodes.
    first, last : ndarray of int, shape (m,)
        Nodes at both ends of every edge.
    place : ndarray, shape (n, 2)
        Where the nodes lie. [mm]
    """

    def __init__(self, edges: Edges, weld: float) -> None:
        count = len(edges)
        node, self.place = edges.nodes(weld)
        self.first, self.last = node[:count], node[count:]
        self.edges = edges.moved_ends(self.place[self.first], self.place[self.last])

    @property
    def degree(self) -> Ints:
        """Ends at every node, shape (n,)."""
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
