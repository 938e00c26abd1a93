"""Lettering drawn as lines: notes and sizes that an export broke into pen strokes.

A drawing is not told by one letter.  Strokes are taken as lettering only where several
figures of strokes with loose ends, of at least four shapes, stand side by side on common
base lines; then other figures of the same height or shape are looked for.  Circles and
plain polygons are never taken, nor slits in rows, nor the scraps of an outline with gaps.
All lengths are in drawing units and only compared with each other, so the unit need not
be known.  The rules are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import components, welded

WELD = 2e-6
"""Ends nearer than this share of the drawing's extent are one. [-]"""

LARGEST = 0.12
"""No letter is larger than this share of the drawing's extent. [-]"""

FIGURES, SHAPES = 8, 4
"""So many figures side by side, of so many shapes, are lettering for certain."""

LEVEL = 0.03
"""Base lines and heights agree within this share of the height. [-]"""

BROKEN = 0.3
"""Figures of which a larger share of loose ends meet each other are a broken outline. [-]"""


@dataclass(frozen=True, eq=False)
class Strokes:
    """Lines of a drawing as a graph, turned so that most of them lie along x or y.

    Attributes
    ----------
    rows : ndarray, shape (n, 5)
        x, y, x, y, bulge of every line or arc. [drawing units]
    source : ndarray of int, shape (n,)
        The entity of each.
    node : ndarray of int, shape (n, 2)
        The node at each end.
    place : ndarray, shape (k, 2)
        Where every node is.
    extent : float
        Larger side of the box around all. [drawing units]
    """

    rows: Floats
    source: Ints
    node: Ints
    place: Floats
    extent: float

    @property
    def degree(self) -> Ints:
        """Lines that end at each node, shape (k,)."""
        return np.bincount(self.node.ravel(), minlength=len(self.place))

    def take(self, keep: Bools) -> Strokes:
        """Return the strokes without those not kept; nodes stay."""
        return Strokes(self.rows[keep], self.source[keep], self.node[keep], self.place, self.extent)


def strokes_of(rows: Floats, source: Ints) -> Strokes | None:
    """Return lines and arcs as a graph in their own frame, None where there is nothing."""
    step = rows[:, 2:4] - rows[:, :2]
    length = np.hypot(step[:, 0], step[:, 1])
    seen = length > 0.0
    rows, source, step, length = rows[seen], source[seen], step[seen], length[seen]
    if not len(rows):
        return None
    turned = np.column_stack((turn_back(rows[:, :2], lie := _lie(step, length)),
                              turn_back(rows[:, 2:4], lie), rows[:, 4]))  # fmt: skip
    ends = np.vstack((turned[:, :2], turned[:, 2:4]))
    extent = float(np.ptp(ends, axis=0).max())
    node, place = welded(ends, WELD * extent)
    return Strokes(turned, source, node.reshape(2, -1).T, place, extent)


def _lie(step: Floats, length: Floats) -> float:
    """Return the direction, modulo a right angle, that most lines have. [rad]"""
    angle = np.arctan2(step[:, 1], step[:, 0])
    lie = float(np.angle(np.sum(length * np.exp(4j * angle)))) / 4.0
    for within in (0.2, 0.02):  # then only of those near it, so that slanted lines do not matter
        off = np.angle(np.exp(4j * (angle - lie))) / 4.0
        near = np.abs(off) <= within
        total = float(length[near].sum())
        lie += float((length * off)[near].sum()) / total if total > 0.0 else 0.0
    return lie


def turn_back(points: Floats, angle: float) -> Floats:
    """Return points turned by minus `angle` about the origin."""
    cos, sin = np.cos(angle), np.sin(angle)
    turned: Floats = points @ np.array([[cos, -sin], [sin, cos]])
    return turned


@dataclass(frozen=True, eq=False)
class _Figures:
    """Strokes that hang together.

    Attributes
    ----------
    of_row : ndarray of int, shape (n,)
        Figure of every stroke.
    box : ndarray, shape (f, 4)
        In the figure's own frame turned like the drawing's.
    size, length : ndarray, shape (f,)
        Larger side of the box; length of all strokes.
    strokes, nodes, loose, forks : ndarray of int, shape (f,)
        Strokes, nodes, loose ends, nodes of three strokes or more.
    bent : ndarray of bool, shape (f,)
        All strokes are arcs.
    """

    of_row: Ints
    box: Floats
    size: Floats
    length: Floats
    strokes: Ints
    nodes: Ints
    loose: Ints
    forks: Ints
    bent: Bools


def _figures(strokes: Strokes) -> _Figures:
    label = components(len(strokes.place), strokes.node)
    _, of_row = np.unique(label[strokes.node[:, 0]], return_inverse=True)
    of_row = of_row.reshape(-1)
    count = int(of_row.max()) + 1
    box = _boxes(strokes.rows, of_row, count)
    step = strokes.rows[:, 2:4] - strokes.rows[:, :2]
    length = np.zeros(count)
    np.add.at(length, of_row, np.hypot(step[:, 0], step[:, 1]))
    degree = strokes.degree
    used = np.flatnonzero(degree)
    of_node = np.zeros(len(degree), np.int64)
    of_node[strokes.node[:, 0]] = of_row
    of_node[strokes.node[:, 1]] = of_row
    owner = of_node[used]
    return _Figures(
        of_row, box, (box[:, 2:] - box[:, :2]).max(axis=1),
        length,
        np.bincount(of_row, minlength=count), np.bincount(owner, minlength=count),
        np.bincount(owner[degree[used] == 1], minlength=count),
        np.bincount(owner[degree[used] >= 3], minlength=count),
        np.bincount(of_row[strokes.rows[:, 4] == 0.0], minlength=count) == 0,
    )  # fmt: skip


def _boxes(rows: Floats, owner: Ints, count: int) -> Floats:
    box = np.empty((count, 4))
    for k in (0, 1):
        low, high = np.full(count, np.inf), np.full(count, -np.inf)
        np.minimum.at(low, owner, np.minimum(rows[:, k], rows[:, k + 2]))
        np.maximum.at(high, owner, np.maximum(rows[:, k], rows[:, k + 2]))
        box[:, k], box[:, k + 2] = low, high
    return box


def written(strokes: Strokes) -> tuple[Bools, float]:
    """Return which strokes are lettering, shape (n,), and how high it commonly is.

    The height is 0 where there is none. [drawing units]
    """
    none = np.zeros(len(strokes.rows), bool), 0.0
    if len(strokes.rows) < FIGURES * 2:
        return none
    figures = _figures(strokes)
    small = figures.size <= LARGEST * strokes.extent
    side = figures.box[:, 2:] - figures.box[:, :2]
    letter = small & (figures.loose > 0) & (figures.strokes >= 2)
    letter &= side.min(axis=1) > 0.15 * figures.size
    chosen = np.flatnonzero(letter)
    if len(chosen) < FIGURES:
        return none
    one, two, height = _side_by_side(figures, chosen, chosen)
    lettered = np.unique(np.concatenate((one, two)))
    if len(lettered) < FIGURES or _shapes(figures, lettered) < SHAPES:
        return none
    if _broken(strokes, figures, lettered) > BROKEN:
        return none
    found = np.zeros(len(figures.size), bool)
    found[lettered] = True
    heights = _common(height)
    found |= _of_height(strokes, figures, letter & ~found, heights)
    found = _grown(figures, found, small, heights)
    found |= _like(figures, found, small & ~found & ~figures.bent)
    return found[figures.of_row], float(np.median(height))


def _side_by_side(figures: _Figures, a: Ints, b: Ints) -> tuple[Ints, Ints, Floats]:
    """Pairs of figures beside each other on a common base line, and the height of the first."""
    box, size = figures.box, figures.size
    reach = size[a][:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
    i, j = box_pairs(box[a] + reach, box[b], 0.0)
    one, two = a[i], b[j]
    apart = (one != two) & (size[one] <= 3.0 * size[two]) & (size[two] <= 3.0 * size[one])
    one, two = one[apart], two[apart]
    found, heights = np.zeros(len(one), bool), np.zeros(len(one))
    for across, along in ((1, 0), (0, 1)):  # along x, then along y
        tall = box[one, across + 2] - box[one, across]
        low = np.abs(box[one, across] - box[two, across])
        high = np.abs(box[one, across + 2] - box[two, across + 2])
        gap = np.maximum(
            box[one, along] - box[two, along + 2], box[two, along] - box[one, along + 2]
        )
        other = box[two, across + 2] - box[two, across]
        level = np.minimum(low, high) <= LEVEL * np.maximum(tall, other)
        beside = level & (gap > -0.1 * tall) & (gap <= 0.9 * np.maximum(tall, other))
        beside &= (tall <= 2.0 * other) & (other <= 2.0 * tall)
        new = beside & ~found
        found |= beside
        heights[new] = np.maximum(tall, other)[new]
    return one[found], two[found], heights[found]


def _signature(figures: _Figures, rows: Ints) -> Floats:
    """What stays when a figure is moved or turned by right angles, shape (k, 4)."""
    side = figures.box[rows, 2:] - figures.box[rows, :2]
    return np.column_stack(
        (figures.strokes[rows], figures.length[rows], side.max(axis=1), side.min(axis=1))
    )


def _shapes(figures: _Figures, rows: Ints) -> int:
    """How many shapes the figures have, by strokes and by length and width against height."""
    sign = _signature(figures, rows)
    shape = np.column_stack((sign[:, 0], sign[:, 1] / sign[:, 2], sign[:, 3] / sign[:, 2]))
    shape = shape[np.lexsort(shape.T)]
    count = 1
    last = shape[0]
    for now in shape[1:]:
        if np.abs(now - last).max() > 0.02:
            count += 1
            last = now
        if count >= SHAPES:
            break
    return count


def _broken(strokes: Strokes, figures: _Figures, rows: Ints) -> float:
    """Share of loose ends of figures that meet a loose end of another: an outline with gaps."""
    loose = np.flatnonzero(strokes.degree == 1)
    of_node = np.zeros(len(strokes.place), np.int64)
    of_node[strokes.node.ravel()] = np.repeat(figures.of_row, 2)
    own = np.isin(of_node[loose], rows)
    mine = loose[own]
    reach = 0.06 * figures.size[of_node[mine]]
    point = strokes.place[mine]
    grown = np.hstack((point - reach[:, None], point + reach[:, None]))
    i, j = box_pairs(grown, np.hstack((strokes.place[loose], strokes.place[loose])), 0.0)
    meet = of_node[mine[i]] != of_node[loose[j]]
    return len(np.unique(i[meet])) / max(len(mine), 1)


def _common(height: Floats) -> Floats:
    """Heights that occur at least three times, sorted."""
    ordered = np.sort(height)
    start = np.concatenate(([True], np.diff(ordered) > 0.01 * ordered[1:]))
    group = np.cumsum(start) - 1
    many = np.bincount(group) >= 3
    middle = np.bincount(group, ordered) / np.bincount(group)
    common: Floats = middle[many]
    return common


def _is_common(value: Floats, heights: Floats) -> Bools:
    if not len(heights):
        return np.zeros(len(value), bool)
    right = np.clip(np.searchsorted(heights, value), 1, max(len(heights) - 1, 1))
    near = np.minimum(
        np.abs(value - heights[np.minimum(right, len(heights) - 1)]),
        np.abs(value - heights[right - 1]),
    )
    common: Bools = near <= 0.02 * value
    return common


def _of_height(strokes: Strokes, figures: _Figures, letter: Bools, heights: Floats) -> Bools:
    """Figures elsewhere, or aslant, that are as high as the lettering in their own frame."""
    found = np.zeros(len(figures.size), bool)
    rows = np.flatnonzero(letter[figures.of_row])
    if not len(rows):
        return found
    own = figures.of_row[rows]
    step = strokes.rows[rows, 2:4] - strokes.rows[rows, :2]
    fourth = np.hypot(*step.T) * np.exp(4j * np.arctan2(step[:, 1], step[:, 0]))
    count = len(found)
    lie = np.angle(np.bincount(own, fourth.real, count) + 1j * np.bincount(own, fourth.imag, count))
    turn = lie[own] / 4.0
    for angle in (turn, np.zeros(len(rows))):
        cos, sin = np.cos(angle), np.sin(angle)
        turned = strokes.rows[rows].copy()
        for k in (0, 2):
            x, y = strokes.rows[rows, k], strokes.rows[rows, k + 1]
            turned[:, k], turned[:, k + 1] = x * cos + y * sin, y * cos - x * sin
        box = _boxes(turned, own, count)
        side = np.where(letter[:, None], box[:, 2:] - box[:, :2], 0.0)
        found |= letter & (_is_common(side[:, 0], heights) | _is_common(side[:, 1], heights))
    return found


def _grown(figures: _Figures, found: Bools, small: Bools, heights: Floats) -> Bools:
    """Lettering with the dots, dashes and closed letters beside it."""
    plain = (figures.loose == 0) & (figures.forks == 0)  # a ring of strokes
    side = figures.box[:, 2:] - figures.box[:, :2]
    tall = _is_common(side[:, 0], heights) | _is_common(side[:, 1], heights)
    slim = side.min(axis=1) <= 0.8 * side.max(axis=1)  # an O, not the polygon of a hole
    for _ in range(4):
        rest = np.flatnonzero(small & ~found & ~figures.bent)
        mine = np.flatnonzero(found)
        if not len(rest):
            break
        one, two, _ = _side_by_side(figures, rest, mine)
        between = _between(figures, one, two)  # an o in a word, letters on both sides
        letters = one[~plain[one] | (tall[one] & (slim[one] | between[one]))]
        new = np.zeros(len(found), bool)
        new[letters] = True
        new[_marks_between(figures, rest, mine)] = True
        new &= ~found
        if not new.any():
            break
        found = found | new
    return found


def _between(figures: _Figures, one: Ints, two: Ints) -> Bools:
    """Figures that have another on both sides, along x or along y."""
    middle = figures.box[:, :2] + figures.box[:, 2:]
    step = middle[two] - middle[one]
    axis = np.abs(step).argmax(axis=1)
    side = np.zeros((len(figures.size), 2, 2), bool)
    side[one, axis, (step[np.arange(len(step)), axis] > 0.0).astype(int)] = True
    both: Bools = np.logical_or.reduce(np.logical_and.reduce(side, axis=2), axis=1)
    return both


def _marks_between(figures: _Figures, rest: Ints, mine: Ints) -> Ints:
    """Dots, dashes and slashes with loose ends in the row of a letter, next to it."""
    box, size = figures.box, figures.size
    dot = (figures.loose[rest] == 0) & (figures.strokes[rest] <= 8)
    open_ones = rest[dot | ((figures.loose[rest] > 0) & (figures.strokes[rest] <= 3))]
    dots = figures.loose[open_ones] == 0
    found = []
    for along in (0, 1):
        across = 1 - along
        reach = np.zeros((len(mine), 4))
        reach[:, [along, along + 2]] = size[mine][:, None] * np.array([-1.6, 1.6])
        reach[:, [across, across + 2]] = size[mine][:, None] * np.array([-0.35, 0.35])
        row = box[mine] + reach
        i, j = box_pairs(row, box[open_ones], 0.0)
        letter, mark = row[i], box[open_ones[j]]
        inside = (mark[:, across] >= letter[:, across]) & (
            mark[:, across + 2] <= letter[:, across + 2]
        )
        most = np.where(dots[j], 0.25, 1.4) * size[mine[i]]
        found.append(open_ones[j[inside & (size[open_ones[j]] <= most)]])
    return np.unique(np.concatenate(found))


def _like(figures: _Figures, found: Bools, open_to: Bools) -> Bools:
    """Figures that are drawn just like one of the lettering: a lone 0 or 8.

    A plain ring must stand beside a letter too.
    """
    like = np.zeros(len(found), bool)
    known = _signature(figures, np.flatnonzero(found))
    odd = open_to & ((figures.loose > 0) | (figures.forks > 0)) & (figures.strokes >= 3)
    rings = np.flatnonzero(open_to & (figures.loose == 0) & (figures.strokes >= 6))
    odd[_side_by_side(figures, rings, np.flatnonzero(found))[0]] = True
    asked = np.flatnonzero(odd)
    if not len(asked) or not len(known):
        return like
    known = known[np.lexsort((known[:, 2], known[:, 0]))]
    keys = np.round(known[:, 0] * 1e6 + 1e5 * known[:, 2] / figures.size[found].max(), 0)
    sign = _signature(figures, asked)
    ask = np.round(sign[:, 0] * 1e6 + 1e5 * sign[:, 2] / figures.size[found].max(), 0)
    low, high = np.searchsorted(keys, ask - 1500.0), np.searchsorted(keys, ask + 1500.0)
    for k, row in enumerate(asked.tolist()):
        near = known[low[k] : high[k]]
        alike = np.abs(near - sign[k]) <= 0.02 * np.maximum(sign[k], 1e-300)
        like[row] = bool(np.logical_and.reduce(alike, axis=1).any())
    return like
