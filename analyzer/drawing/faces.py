"""Contours as faces of the drawing seen as a planar graph.

Half edge 2 e runs along edge e, half edge 2 e + 1 against it.  At every node the half
edges are sorted by direction; turning left as sharply as possible at every node walks
around a face.  What dangles, and bridges between faces, is left open.

Of a piece of the graph whose nodes all have an even number of edges the faces can be
coloured like a chess board, and those of one colour use every edge once: touching corners
and a cut-out that touches its outline come apart rightly.  Else edges are shared by two
parts, and every bounded face is a contour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.drawing.edges import Edges
from analyzer.drawing.straight import straight_on
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import components


@dataclass(frozen=True)
class Walk:
    """Contours as chains of half edges.

    Attributes
    ----------
    half_edges : ndarray of int, shape (k,)
        2 e along edge e, 2 e + 1 against it, contour after contour.
    offsets : ndarray of int, shape (n + 1,)
        First half edge of every contour.
    closed : ndarray of bool, shape (n,)
    shared : ndarray of int
        Edges that belong to two contours.
    """

    half_edges: Ints
    offsets: Ints
    closed: Bools
    shared: Ints


def walk(edges: Edges, first: Ints, last: Ints) -> Walk:
    """Return closed and open contours of `edges` between nodes `first` and `last`.

    Every edge is in at least one contour, and in two only where two faces share it.
    """
    rings, ringed = _rings(first, last)
    core = _core(first, last, ~ringed)
    loops: list[list[int]] = []
    while core.any():
        faces = _Faces(edges, first, last, np.flatnonzero(core))
        bridge = faces.bridges
        if not len(bridge):
            loops = faces.contours()
            break
        core[bridge] = False  # leads from face to face: it closes nothing
        core &= _core(first, last, core)
    used = ringed.astype(np.int64)
    for loop in loops:
        np.add.at(used, np.array(loop) // 2, 1)
    paths = _paths(edges, first, last, used == 0, used > 0)
    chains = loops + paths
    half_edges = np.array([h for chain in chains for h in chain], dtype=np.int64)
    sizes = np.array([len(chain) for chain in chains], dtype=np.int64)
    sizes = np.concatenate(([0], rings.sizes, sizes))
    return Walk(
        np.concatenate((rings.half_edges, half_edges)), np.cumsum(sizes),
        np.arange(len(sizes) - 1) < len(rings.sizes) + len(loops),
        np.flatnonzero(used > 1),
    )  # fmt: skip


@dataclass(frozen=True)
class _Rings:
    """Chains of half edges that close, one after the other."""

    half_edges: Ints
    sizes: Ints


_LONG_RING = 1000


def _rings(first: Ints, last: Ints) -> tuple[_Rings, Bools]:
    """Return the rings that touch nothing else, and which edges are in one.

    Most contours of most drawings are such: at every node one edge comes and one goes.
    """
    nothing = np.zeros(0, dtype=np.int64)
    if not len(first):
        return _Rings(nothing, nothing), np.zeros(0, dtype=bool)
    nodes = int(max(first.max(), last.max())) + 1
    group = components(nodes, np.column_stack((first, last)))
    degree = np.bincount(first, minlength=nodes) + np.bincount(last, minlength=nodes)
    simple = np.ones(int(group.max()) + 1, dtype=bool)
    simple[group[degree != 2]] = False
    simple[group[first[first == last]]] = False
    ringed = simple[group[first]]
    rows = np.flatnonzero(ringed)
    if not len(rows):
        return _Rings(nothing, nothing), ringed
    half = np.concatenate((2 * rows, 2 * rows + 1))
    order = np.argsort(np.concatenate((first[rows], last[rows])), kind="stable")
    pair = half[order].reshape(-1, 2)  # the two that leave each node
    mate = np.zeros(2 * len(first), dtype=np.int64)
    mate[pair[:, 0]], mate[pair[:, 1]] = pair[:, 1], pair[:, 0]
    _, begin, size = np.unique(group[first[rows]], return_index=True, return_counts=True)
    return _Rings(_around(2 * rows[begin], size, mate), size), ringed


def _around(begin: Ints, size: Ints, mate: Ints) -> Ints:
    """Return the half edges of every ring from its first on, ring after ring."""
    offset = np.cumsum(size) - size
    found = np.empty(int(size.sum()), dtype=np.int64)
    short = np.flatnonzero(size <= _LONG_RING)
    here, place, left = begin[short], offset[short], size[short]
    while len(here):  # all short ones a step on at once
        found[place] = here
        on = left > 1
        here, place, left = mate[here[on] ^ 1], place[on] + 1, left[on] - 1
    if len(short) < len(size):
        onward = mate.tolist()
        for row in np.flatnonzero(size > _LONG_RING).tolist():
            half, way = int(begin[row]), []
            for _ in range(int(size[row])):
                way.append(half)
                half = onward[half ^ 1]
            found[offset[row] : offset[row] + len(way)] = way
    return found


def _core(first: Ints, last: Ints, alive: Bools | None = None) -> Bools:
    """Return the edges that are left when everything that dangles is taken off."""
    count = len(first)
    alive = np.ones(count, dtype=bool) if alive is None else alive.copy()
    nodes = int(max(first.max(initial=-1), last.max(initial=-1))) + 1
    degree = np.bincount(first[alive], minlength=nodes) + np.bincount(last[alive], minlength=nodes)
    if not (degree == 1).any():
        return alive
    both = np.concatenate((first, last))
    order = np.argsort(both, kind="stable")
    begin = np.searchsorted(both[order], np.arange(nodes + 1)).tolist()
    at, ends = (order % max(count, 1)).tolist(), (first.tolist(), last.tolist())
    left, degrees = alive.tolist(), degree.tolist()
    stack = np.flatnonzero(degree == 1).tolist()
    while stack:
        node = stack.pop()
        if degrees[node] != 1:
            continue
        edge = next(e for e in at[begin[node] : begin[node + 1]] if left[e])
        left[edge] = False
        for end in (ends[0][edge], ends[1][edge]):
            degrees[end] -= 1
            if degrees[end] == 1:
                stack.append(end)
    return np.array(left, dtype=bool)


class _Faces:
    """Faces of the part of the graph made of `core` edges."""

    def __init__(self, edges: Edges, first: Ints, last: Ints, core: Ints) -> None:
        self.core = core
        self.first, self.last = first[core], last[core]
        size = len(core)
        # local half edges: 2 i leaves `first`, 2 i + 1 leaves `last`
        origin = np.empty(2 * size, dtype=np.int64)
        origin[0::2], origin[1::2] = self.first, self.last
        self.origin = origin
        self.following = _leftmost(origin, _departures(edges, core, origin))
        self.face, self.rounds = _cycles(self.following)
        self.area = np.bincount(self.face, weights=self._areas(edges))

    def _areas(self, edges: Edges) -> Floats:
        """Signed area between every half edge and the origin of the drawing's middle."""
        rows = edges.take(self.core)
        middle = (rows.starts.mean(axis=0) if len(rows) else np.zeros(2))[None]
        a, b = rows.starts - middle, rows.ends - middle
        area = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2.0
        area = area + _bow_areas(rows)
        return np.column_stack((area, -area)).ravel()

    @property
    def bridges(self) -> Ints:
        """Edges with the same face on both sides."""
        both: Ints = self.core[self.face[0::2] == self.face[1::2]]
        return both

    def contours(self) -> list[list[int]]:
        """Return the contours as lists of half edges of the whole drawing."""
        faces = len(self.rounds)
        left, right = self.face[0::2], self.face[1::2]
        pairs = np.column_stack((left, right))
        group = components(faces, pairs)
        colour, even = _two_colours(faces, pairs, group)
        outer = np.full(group.max() + 1, -1)
        order = np.lexsort((-np.arange(faces), -self.area))
        outer[group[order]] = order  # the last written has the least area
        chosen = np.where(
            even[group], colour != colour[outer[group]], np.arange(faces) != outer[group]
        )
        loops: list[list[int]] = []
        seen: set[frozenset[int]] = set()
        for face in np.flatnonzero(chosen).tolist():
            for loop in _simple(self.rounds[face], self.origin):
                if not even[group[face]]:
                    key = frozenset(h // 2 for h in loop)
                    if key in seen:
                        continue
                    seen.add(key)
                loops.append([2 * int(self.core[h // 2]) + h % 2 for h in loop])
        return loops


def _bow_areas(edges: Edges) -> Floats:
    """Return the area between arc and chord, positive for a left turn, shape (n,). [mm^2]"""
    bulge, square = edges.bulges, ((edges.ends - edges.starts) ** 2).sum(axis=1)
    sweep = 4.0 * np.arctan(bulge)
    thin = np.abs(bulge) < 1e-4
    safe = np.where(thin, 1.0, bulge)
    round_area = ((1.0 + safe**2) / (4.0 * safe)) ** 2 / 2.0 * (sweep - np.sin(sweep))
    area: Floats = square * np.where(thin, bulge / 3.0, round_area)
    return area


def _departures(edges: Edges, core: Ints, origin: Ints) -> Floats:
    """Return the direction in which every half edge leaves its node, a little way on. [rad]

    At a node where a line touches an arc both leave in one direction; a short way on,
    the same for all edges of the node, they are apart.
    """
    length = np.repeat(edges.lengths[core], 2)
    reach = np.full(origin.max() + 1, np.inf)
    np.minimum.at(reach, origin, length)
    share = 0.3 * reach[origin] / np.maximum(length, 1e-300)
    rows = np.repeat(core, 2)
    forward = np.arange(len(origin)) % 2 == 0
    place = edges.points_at(rows, np.where(forward, share, 1.0 - share))
    base = np.where(forward[:, None], edges.starts[rows], edges.ends[rows])
    step = place - base
    return np.arctan2(step[:, 1], step[:, 0])


def _leftmost(origin: Ints, departure: Floats) -> Ints:
    """Return the half edge that follows every half edge around the face on its left."""
    order = np.lexsort((departure, origin))
    sorted_origin = origin[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = np.diff(sorted_origin) != 0
    begin = np.flatnonzero(new)
    size = np.diff(np.append(begin, len(order)))
    before = np.arange(len(order)) - 1  # the next one clockwise
    before[begin] = begin + size - 1
    clockwise = np.empty(len(order), dtype=np.int64)
    clockwise[order] = order[before]
    twin = np.arange(len(order)) ^ 1
    following: Ints = clockwise[twin]
    return following


def _cycles(following: Ints) -> tuple[Ints, list[list[int]]]:
    """Return the cycle of every half edge, and the half edges of every cycle in order."""
    after = following.tolist()
    label = [-1] * len(after)
    rounds: list[list[int]] = []
    for begin in range(len(after)):
        if label[begin] >= 0:
            continue
        number, here, way = len(rounds), begin, []
        while label[here] < 0:
            label[here] = number
            way.append(here)
            here = after[here]
        rounds.append(way)
    return np.array(label, dtype=np.int64), rounds


def _two_colours(faces: int, pairs: Ints, group: Ints) -> tuple[Bools, Bools]:
    """Return a colour of every face so that both sides of an edge differ, where that can be.

    Also whether it can, by group.  Found as components of the double cover: face f has the
    copies f and f + faces, and every edge links different copies.
    """
    cross = np.vstack((pairs + np.array([0, faces]), pairs + np.array([faces, 0])))
    cover = components(2 * faces, cross)
    fails = cover[:faces] == cover[faces:]
    even = np.ones(group.max() + 1, dtype=bool)
    even[group[fails]] = False
    representative = np.full(group.max() + 1, -1)
    representative[group[::-1]] = cover[:faces][::-1]
    return cover[:faces] == representative[group], even


def _simple(way: list[int], origin: Ints) -> list[list[int]]:
    """Return a closed way split where it comes back to a node it has passed."""
    nodes = origin[way].tolist()
    if len(set(nodes)) == len(nodes):
        return [way]
    loops: list[list[int]] = []
    position: dict[int, int] = {}
    stack: list[tuple[int, int]] = []
    for half, node in zip(way, nodes, strict=True):
        if node in position:
            at = position[node]
            loops.append([h for h, _ in stack[at:]])
            for _, passed in stack[at + 1 :]:
                del position[passed]
            del stack[at:]
        position[node] = len(stack)
        stack.append((half, node))
    loops.append([h for h, _ in stack])
    return loops


def _paths(
    edges: Edges, first: Ints, last: Ints, open_edges: Bools, core: Bools
) -> list[list[int]]:
    """Return the open edges chained where two of them, and nothing else, meet.

    Where more meet, what goes straight on is one line: two centre lines that cross are
    two lines, however many pieces they are drawn in.
    """
    rows = np.flatnonzero(open_edges)
    if not len(rows):
        return []
    nodes = int(max(first.max(), last.max())) + 1
    degree = np.bincount(first[rows], minlength=nodes) + np.bincount(last[rows], minlength=nodes)
    busy = np.zeros(nodes, dtype=bool)
    busy[first[core]] = busy[last[core]] = True
    half = np.concatenate((2 * rows, 2 * rows + 1))
    origin = np.concatenate((first[rows], last[rows]))
    order = np.lexsort((half, origin))
    begin = np.searchsorted(origin[order], np.arange(nodes))
    simple = (degree == 2) & ~busy
    through = np.flatnonzero(simple)
    heading = np.concatenate((edges.headings[rows, 0], edges.headings[rows, 1] + np.pi))
    crowd = np.flatnonzero((degree > 1) & ~simple)
    one, two = straight_on(half, origin, heading, np.isin(origin, crowd))
    one = np.concatenate((half[order[begin[through]]], one))
    two = np.concatenate((half[order[begin[through] + 1]], two))
    mate = dict(zip(one.tolist(), two.tolist(), strict=True))
    mate |= dict(zip(two.tolist(), one.tolist(), strict=True))
    seen: set[int] = set()
    paths = []
    starts = [h for h in half[order].tolist() if h not in mate]
    for begin_half in starts + half[order].tolist():  # the rest: rings without a free end
        if begin_half // 2 in seen:
            continue
        way, here = [], begin_half
        while here // 2 not in seen:
            seen.add(here // 2)
            way.append(here)
            onward = mate.get(here ^ 1)
            if onward is None:
                break
            here = onward
        paths.append(way)
    return paths
