"""Lines that go straight on into each other, taken as one line.

What a drawing says must not hang on where its lines were broken: an export may write a stroke
in one piece or in three.
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import components

STRAIGHT = 1e-3
"""Two lines that turn less into each other are one line. [rad]"""


def straight_on(half: Ints, origin: Ints, way: Floats, among: Bools) -> tuple[Ints, Ints]:
    """Return pairs of half edges that leave one node in opposite directions.

    Parameters
    ----------
    half : ndarray of int, shape (n,)
        Half edges: names of any kind.
    origin : ndarray of int, shape (n,)
        The node each leaves.
    way : ndarray, shape (n,)
        The direction in which it leaves. [rad]
    among : ndarray of bool, shape (n,)
        Which may be paired.
    """
    half, origin = half[among], origin[among]
    turns = np.mod(way[among] + STRAIGHT / 2.0, 2.0 * np.pi)
    back = turns >= np.pi
    line = np.where(back, turns - np.pi, turns)  # both ways along a line are near each other
    order = np.lexsort((half, line, origin))
    half, origin, line, back = half[order], origin[order], line[order], back[order]
    pair = (np.diff(origin) == 0) & (np.diff(line) < STRAIGHT) & (back[1:] != back[:-1])
    pair[1:] &= ~pair[:-1]
    at = np.flatnonzero(pair)
    return half[at], half[at + 1]


def joined(rows: Floats, node: Ints, kind: Ints) -> tuple[Ints, Ints, Floats, Ints]:
    """Return lines with those that go straight on into each other, and copies, made one.

    Parameters
    ----------
    rows : ndarray, shape (n, 5)
        x, y, x, y, bulge; arcs stay as they are.
    node : ndarray of int, shape (n, 2)
        The node at each end.
    kind : ndarray of int, shape (n,)
        Only lines of the same kind become one.

    Returns
    -------
    line : ndarray of int, shape (n,)
        The line every row is part of, numbered by their first rows.
    first : ndarray of int, shape (k,)
        The first row of every line.
    rows, node : ndarray, shape (k, 5) and (k, 2)
        The lines from end to end.
    """
    count = len(rows)
    step = rows[:, 2:4] - rows[:, :2]
    way = np.arctan2(step[:, 1], step[:, 0])
    half = np.arange(2 * count)  # 2 i leaves the first end of row i, 2 i + 1 the second
    straight = np.repeat(rows[:, 4] == 0.0, 2)
    both = np.column_stack((way, way + np.pi)).ravel()
    # a node of each kind of its own
    place = node.ravel() * (np.int64(kind.max(initial=0)) + 1) + np.repeat(kind, 2)
    one, two = straight_on(half, place, both, straight)
    line = components(count, np.column_stack((one // 2, two // 2)))
    lines = int(line.max(initial=-1)) + 1
    first = np.full(lines, count)
    np.minimum.at(first, line, np.arange(count))
    long, ends = rows[first].copy(), node[first].copy()
    free = np.ones(2 * count, dtype=bool)
    free[one] = free[two] = False
    outer = np.flatnonzero(free)
    outer = outer[np.argsort(line[outer // 2], kind="stable")]
    owner = line[outer // 2]
    several = np.bincount(line, minlength=lines) > 1
    whole = several & (np.bincount(owner, minlength=lines) == 2)
    outer = outer[whole[owner]]
    points = rows[:, :4].reshape(-1, 2)
    which = np.flatnonzero(whole)
    long[which, :2], long[which, 2:4] = points[outer[0::2]], points[outer[1::2]]
    ends[which, 0], ends[which, 1] = node.ravel()[outer[0::2]], node.ravel()[outer[1::2]]
    copy = _first_alike(long, ends, kind[first])
    keep, place_of = np.unique(copy, return_inverse=True)
    return place_of.reshape(-1)[line], first[keep], long[keep], ends[keep]


def _first_alike(rows: Floats, node: Ints, kind: Ints) -> Ints:
    """Return the first line between the same nodes by the same way, for every line."""
    turned = node[:, 0] > node[:, 1]
    bow = np.round(np.where(turned, -1.0, 1.0) * rows[:, 4], 6)
    order = np.lexsort((bow, node.max(axis=1), node.min(axis=1), kind))
    table = np.column_stack((kind, node.min(axis=1), node.max(axis=1), bow))[order]
    new = np.ones(len(order), dtype=bool)
    new[1:] = (table[1:] != table[:-1]).any(axis=1)
    least = np.minimum.reduceat(order, np.flatnonzero(new)) if len(order) else order
    alike = np.empty(len(order), dtype=np.int64)
    alike[order] = least[np.cumsum(new) - 1]
    return alike
