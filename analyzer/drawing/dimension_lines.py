"""Dimensions drawn as lines: arrowheads, the lines between them, and what they measure from.

Looked for only where lettering is drawn as lines, so in a drawing and not in a cut file.
An arrowhead is a fan of short lines, as long on one side as on the other, about the end of
a longer line.  An extension line runs square to a dimension line through the tip of its
arrow and has at least one end in the open: an edge of an outline has none.  Dashes are
lines of one length in one line with one gap.  Common practice, no source.
"""

from __future__ import annotations

import numpy as np

from analyzer.drawing.written import WELD, Strokes
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import close_pairs, points_near_segments

SPREAD = np.radians((2.0, 35.0))
"""Lines of an arrowhead stand off its shaft by this. [rad]"""

FREE = 0.15
"""An end with nothing nearer than this share of the lettering's height is in the open. [-]"""

_ROUNDS = 4

ALIKE = 0.999
"""Cosine of two directions that are one. [-]"""

DASHES = 5
"""So many dashes make a broken line."""


def dimension_lines(strokes: Strokes, height: float) -> Bools:
    """Return which strokes are arrowheads, dimension lines and extension lines, shape (n,).

    Parameters
    ----------
    strokes : Strokes
        Without the lettering.
    height : float
        Of the lettering. [drawing units]
    """
    found = np.zeros(len(strokes.rows), bool)
    arms = _Arms(strokes)
    tips: list[tuple[int, int]] = []
    for node in np.flatnonzero(strokes.degree >= 3).tolist():
        for shaft, fan in _arrows(arms, node):
            found[shaft] = True
            found[fan] = True
            far = np.setdiff1d(strokes.node[fan].ravel(), [node])
            found |= np.isin(strokes.node, far).all(axis=1)  # the base of the head
            tips.append((node, shaft))
    for _ in range(_ROUNDS if tips else 0):
        more = _extension_lines(strokes, found, tips, height)
        if not more.any():
            break
        found |= more  # what ended on one of them ends in the open now
    return found


class _Arms:
    """Lines seen from their ends."""

    def __init__(self, strokes: Strokes) -> None:
        node = strokes.node.T.ravel()
        row = np.tile(np.arange(len(strokes.rows)), 2)
        step = strokes.rows[:, 2:4] - strokes.rows[:, :2]
        step = np.vstack((step, -step))
        self.order = np.argsort(node, kind="stable")
        self.begin = np.searchsorted(node[self.order], np.arange(len(strokes.place) + 1))
        self.row = row[self.order]
        self.length = np.hypot(*step[self.order].T)
        self.angle = np.arctan2(step[self.order, 1], step[self.order, 0])
        self.straight = strokes.rows[self.row, 4] == 0.0


def _arrows(arms: _Arms, node: int) -> list[tuple[int, Ints]]:
    """Shafts that end at a node with an arrowhead, and the lines of each head."""
    mine = np.arange(arms.begin[node], arms.begin[node + 1])
    mine = mine[arms.straight[mine]]
    found = []
    for shaft in mine.tolist():
        off = np.angle(np.exp(1j * (arms.angle[mine] - arms.angle[shaft])))
        short = arms.length[mine] <= 0.7 * arms.length[shaft]
        near = short & (np.abs(off) <= SPREAD[1])
        left = mine[near & (off > SPREAD[0])]
        right = mine[near & (off < -SPREAD[0])]
        if not len(left) or not len(right):
            continue
        widest = np.array([left[off[np.searchsorted(mine, left)].argmax()],
                           right[off[np.searchsorted(mine, right)].argmin()]])  # fmt: skip
        a, b = np.abs(np.angle(np.exp(1j * (arms.angle[widest] - arms.angle[shaft]))))
        long, other = arms.length[widest]
        if abs(a - b) <= 0.02 and abs(long - other) <= 0.02 * long:
            fan = mine[near & (arms.length[mine] <= 1.02 * long) & (mine != shaft)]
            found.append((int(arms.row[shaft]), arms.row[fan]))
    return found


def _extension_lines(
    strokes: Strokes, gone: Bools, tips: list[tuple[int, int]], height: float
) -> Bools:
    """Straight lines square to a dimension line through its tip, with an end in the open."""
    rows = strokes.rows
    rest = np.flatnonzero(~gone & (rows[:, 4] == 0.0))
    found = np.zeros(len(rows), bool)
    if not len(rest):
        return found
    place = strokes.place[[node for node, _ in tips]]
    box = np.hstack((np.minimum(rows[rest, :2], rows[rest, 2:4]),
                     np.maximum(rows[rest, :2], rows[rest, 2:4])))  # fmt: skip
    tip, line = points_near_segments(
        place, rows[rest, :2], rows[rest, 2:4], rows[rest, 4], box, 0.05 * height
    )
    shaft = np.array([row for _, row in tips])[tip]
    step = rows[rest[line], 2:4] - rows[rest[line], :2]
    along = rows[shaft, 2:4] - rows[shaft, :2]
    cosine = np.abs((step * along).sum(axis=1)) / (
        np.hypot(*step.T) * np.hypot(*along.T)
    )  # fmt: skip
    square = np.unique(rest[line[cosine <= 0.02]])
    loose = _in_the_open(strokes, ~gone, FREE * height)
    found[square[loose[strokes.node[square]].any(axis=1)]] = True
    return found


def _in_the_open(strokes: Strokes, kept: Bools, reach: float) -> Bools:
    """Nodes where a line ends with nothing else of those kept near, shape (k,).

    Lines that leave the same way lie on each other and do not matter to each other.
    """
    rows, node = strokes.rows[kept], strokes.node[kept]
    count = len(strokes.place)
    way = rows[:, 2:4] - rows[:, :2]
    way /= np.hypot(way[:, 0], way[:, 1])[:, None]
    out = np.vstack((way, -way))
    both = node.T.ravel()
    degree = np.bincount(both, minlength=count)
    total = np.column_stack([np.bincount(both, out[:, k], count) for k in (0, 1)])
    free: Bools = (degree > 0) & (np.hypot(total[:, 0], total[:, 1]) >= degree - 1e-3)
    ends = np.flatnonzero(free)
    if not len(ends):
        return free
    point, lead = strokes.place[ends], total[ends] / degree[ends][:, None]
    crowd = close_pairs(point, reach)
    met = (lead[crowd[:, 0]] * lead[crowd[:, 1]]).sum(axis=1) < ALIKE
    box = np.hstack((np.minimum(rows[:, :2], rows[:, 2:4]), np.maximum(rows[:, :2], rows[:, 2:4])))
    end, line = points_near_segments(point, rows[:, :2], rows[:, 2:4], rows[:, 4], box, reach)
    other = (node[line] != ends[end][:, None]).all(axis=1)
    other &= np.abs((lead[end] * way[line]).sum(axis=1)) < ALIKE
    # an end upon the line of another is a join that a drawing missed, or a T
    free[ends[np.unique(crowd[met])]] = False
    free[ends[end[other]]] = False
    return free


def broken_lines(strokes: Strokes, height: float) -> Bools:
    """Return which strokes are dashes of broken lines (hidden, bend, centre), shape (n,).

    Both ends of every dash are in the open; the first and the last may be shorter, and
    may begin on another line.
    """
    rows = strokes.rows
    degree = strokes.degree
    step = rows[:, 2:4] - rows[:, :2]
    length = np.hypot(*step.T)
    free = degree[strokes.node] == 1
    short = (rows[:, 4] == 0.0) & (length <= 3.0 * height)
    lone, half = short & free.all(axis=1), short & free.any(axis=1)
    found = np.zeros(len(rows), bool)
    for axis in (0, 1):
        flat = np.flatnonzero(half & (np.abs(step[:, 1 - axis]) <= 1e-3 * length))
        low = np.minimum(rows[flat, axis], rows[flat, axis + 2])
        high = np.maximum(rows[flat, axis], rows[flat, axis + 2])
        level = np.round(rows[flat, 1 - axis] / max(10.0 * WELD * strokes.extent, 1e-300))
        order = np.lexsort((low, level))
        for run in _runs(low[order], high[order], level[order]):
            dashes = flat[order[run]]
            inner = dashes[1:-1]
            found[np.concatenate((dashes[[0, -1]], inner[lone[inner]]))] = True
    return found


def _runs(low: Floats, high: Floats, level: Floats) -> list[slice]:
    """Stretches of at least DASHES lines on one level with one length and one gap."""
    if len(low) < DASHES:
        return []
    gap = low[1:] - high[:-1]
    length = high - low
    usual = np.minimum(length[1:], length[:-1])
    follows = (np.diff(level) == 0) & (gap > 0.0) & (gap <= 2.0 * np.maximum(usual, 1e-300))
    ends = np.flatnonzero(~follows) + 1
    runs = []
    for begin, end in zip([0, *ends.tolist()], [*ends.tolist(), len(low)], strict=True):
        if end - begin < DASHES:
            continue
        inner, gaps = length[begin + 1 : end - 1], gap[begin : end - 1]
        alike = np.abs(inner - np.median(inner)) <= 0.05 * np.median(inner)
        even = np.abs(gaps - np.median(gaps)) <= 0.1 * np.median(gaps)
        if alike.mean() >= 0.8 and even.mean() >= 0.8:
            runs.append(slice(begin, end))
    return runs
