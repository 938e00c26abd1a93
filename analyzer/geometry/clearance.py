"""Least distance between contours with the points where it is, and points in contours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike

from analyzer.geometry.blocks import diagonals
from analyzer.geometry.circles import Circles, true_circles
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.distance import Pieces, box_gaps, nearest_points, pieces_of
from analyzer.geometry.stacks import between_circles, near_circles, stacks_of

AT_ONCE = 1_000_000
"""Pairs of pieces looked at together, so that memory stays bounded."""

MANY = 20_000
"""From so many pairs of pieces between two contours on, an index finds the near ones."""

SLACK = 1e-9
"""Rounding allowed where a bound decides what is looked at. [mm]"""


@dataclass(frozen=True, eq=False)
class Clearances:
    """Least distances of pairs of contours, in order of the pairs.

    Attributes
    ----------
    rows : ndarray of int, shape (k, 2)
        Both contours, low first.
    widths : ndarray, shape (k,)
        Least distance of their lines; 0 where they touch or cross. [mm]
    first, second : ndarray, shape (k, 2)
        The nearest points on both. [mm]
    """

    rows: Ints
    widths: Floats
    first: Floats
    second: Floats

    def take(self, rows: ArrayLike) -> Clearances:
        """Return the pairs at `rows` (integers or a mask)."""
        at = np.asarray(rows)
        return Clearances(self.rows[at], self.widths[at], self.first[at], self.second[at])


def box_pairs(a: Floats, b: Floats, reach: float) -> tuple[Ints, Ints]:
    """Return rows of `a` and `b` whose boxes are at most `reach` apart, two of shape (k,).

    Boxes are least x, least y, greatest x, greatest y. [mm]  In order of `a`, then `b`.
    """
    if not len(a) or not len(b):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    tree = shapely.STRtree(diagonals(b))
    wide = a + np.array([-reach, -reach, reach, reach])
    i, j = tree.query(diagonals(wide))
    near = np.flatnonzero(box_gaps(a[i], b[j]) <= reach)
    order = near[np.lexsort((j[near], i[near]))]
    return i[order], j[order]


def grouped_box_pairs(
    a: Floats, b: Floats, reach: float, a_groups: Ints | None, b_groups: Ints | None
) -> tuple[Ints, Ints]:
    """Return the pairs of `box_pairs` that are of one group, and looks at no others.

    Every group is laid on a place of its own, so that parts in the cut-outs of each other, a
    thousand deep, do not meet. Without groups all are one.
    """
    if a_groups is None or b_groups is None or not len(a) or not len(b):
        return box_pairs(a, b, reach)
    low = np.minimum(a[:, :2].min(axis=0), b[:, :2].min(axis=0))
    high = np.maximum(a[:, 2:].max(axis=0), b[:, 2:].max(axis=0))
    names, label = np.unique(np.concatenate((a_groups, b_groups)), return_inverse=True)
    label = label.reshape(-1)
    side = int(np.ceil(np.sqrt(len(names))))
    step = high - low + 2.0 * reach + 1.0
    shift = np.column_stack((label % side, label // side)) * step - low
    slack = float(np.spacing(side * step.max())) * 4.0  # what laying them there may round off
    shift = np.hstack((shift, shift))
    i, j = box_pairs(a + shift[: len(a)], b + shift[len(a) :], reach + slack)
    near = box_gaps(a[i], b[j]) <= reach
    return i[near], j[near]


def clearances(contours: Contours, reach: float, groups: Ints | None = None) -> Clearances:
    """Return the least distance of every pair of contours not farther apart than `reach`.

    Lines, arcs and circles exactly; n log n where contours lie spread out, and where circles
    lie about one centre.

    Parameters
    ----------
    contours : Contours
        Closed or open.
    reach : float
        Greatest distance of interest; infinity takes every pair. [mm]
    groups : ndarray of int, shape (n,), optional
        Only contours of the same group are compared.

    Examples
    --------
    >>> two = Contours.join([Contours.circle(0, 0, 3), Contours.circle(10, 0, 2)])
    >>> clearances(two, 6.0).widths.round(9)
    array([5.])
    """
    if len(contours) < 2:
        return _found([], [], [], [])
    box = contours.box
    span = float(np.hypot(*(box[:, 2:].max(axis=0) - box[:, :2].min(axis=0))))
    reach = min(reach, span)
    circles = true_circles(contours)
    pieces = pieces_of(contours)
    near = _near(pieces, box, reach, groups, circles.round)
    low = pieces.owner[near.piece] == near.pair[:, 0]
    sides = [_Side(near.piece[flag], near.label[flag]) for flag in (low, ~low)]
    chunks = []
    for first, second, label in _products(sides, len(near.bound)):
        chunks.append(_least(pieces, first, second, label, near.bound))
    many = [_least_of_many(pieces, *both) for both in _large(sides, len(near.bound))]
    parts = [c for c in chunks + many if len(c[0])]
    round_ones = _of_circles(circles, reach, groups)
    if not parts:
        return round_ones
    first = np.concatenate([c[0] for c in parts])
    order = np.lexsort((pieces.owner[np.concatenate([c[1] for c in parts])], pieces.owner[first]))
    joined = [np.concatenate([c[k] for c in parts])[order] for k in range(5)]
    rows = np.column_stack((pieces.owner[joined[0]], pieces.owner[joined[1]]))
    keep = joined[2] <= reach
    found = Clearances(rows[keep], joined[2][keep], joined[3][keep], joined[4][keep])
    return _together(found, round_ones)


def _of_circles(circles: Circles, reach: float, groups: Ints | None) -> Clearances:
    """Pairs of circles, from their centres and radii."""
    stacks = stacks_of(circles, groups)
    one, two = grouped_box_pairs(stacks.box, stacks.box, reach, stacks.group, stacks.group)
    once = one <= two
    i, j = near_circles(stacks, one[once], two[once], reach)
    swap = stacks.rows[i] > stacks.rows[j]
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    widths, first, second = between_circles(
        (stacks.centre[i], stacks.centre[j]), (stacks.radius[i], stacks.radius[j])
    )
    rows = np.column_stack((stacks.rows[i], stacks.rows[j]))
    order = np.lexsort((rows[:, 1], rows[:, 0]))
    return Clearances(rows, widths, first, second).take(order[widths[order] <= reach])


def _together(one: Clearances, two: Clearances) -> Clearances:
    """Return two lists of pairs as one, in order."""
    if not len(two.rows):
        return one
    rows = np.vstack((one.rows, two.rows))
    both = Clearances(
        rows, np.concatenate((one.widths, two.widths)), np.vstack((one.first, two.first)),
        np.vstack((one.second, two.second)),
    )  # fmt: skip
    return both.take(np.lexsort((rows[:, 1], rows[:, 0])))


def _found(rows: object, widths: object, first: object, second: object) -> Clearances:
    return Clearances(
        np.array(rows, np.int64).reshape(-1, 2), np.array(widths, float),
        np.array(first, float).reshape(-1, 2), np.array(second, float).reshape(-1, 2),
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class _Near:
    """Pieces that may decide a pair: the piece, its pair, the pair's label and bound."""

    piece: Ints
    pair: Ints
    label: Ints
    bound: Floats


@dataclass(frozen=True, eq=False)
class _Side:
    """Pieces of one contour of every pair, sorted by the pair's label."""

    piece: Ints
    label: Ints


def _candidates(
    pieces: Pieces, box: Floats, reach: float, groups: Ints | None, circle: Bools
) -> tuple[Ints, Ints]:
    """Pieces near the boxes of contours, but no circle near a circle.

    A pair counts only when pieces of either come near the other, so of the circles only those
    are asked that a piece of something else came near: few on a sheet of drilled plates.
    """
    every = np.arange(len(box))
    round_piece = circle[pieces.owner]
    found: list[tuple[Ints, Ints]] = []
    for turn in range(2):
        if turn == 0:
            piece, other = np.flatnonzero(~round_piece), every
        else:
            met = np.zeros(len(box), bool)
            met[found[0][1]] = True
            piece, other = np.flatnonzero(round_piece & met[pieces.owner]), every[~circle]
        own = None if groups is None else groups[pieces.owner[piece]]
        theirs = None if groups is None else groups[other]
        i, j = grouped_box_pairs(pieces.box[piece], box[other], reach, own, theirs)
        found.append((piece[i], other[j]))
    one, two = (np.concatenate(side) for side in zip(*found, strict=True))
    order = np.lexsort((two, one))
    return one[order], two[order]


def _near(pieces: Pieces, box: Floats, reach: float, groups: Ints | None, circle: Bools) -> _Near:
    """Pieces of both contours of all pairs that may hold the nearest points, circles left out.

    A pair counts when pieces of either come near the box of the other.  How near it is at
    most follows from any point of the one: the other touches all four sides of its box.
    """
    piece, other = _candidates(pieces, box, reach, groups, circle)
    own = pieces.owner[piece]
    keep = own != other
    piece, other, own = piece[keep], other[keep], own[keep]
    count = np.int64(len(box))
    ahead, back = own * count + other, other * count + own
    order = np.argsort(np.minimum(ahead, back), kind="stable")
    piece, other, own, ahead, back = (v[order] for v in (piece, other, own, ahead, back))
    begin = np.flatnonzero(np.diff(np.minimum(ahead, back), prepend=-1))
    label = np.repeat(np.arange(len(begin)), np.diff(begin, append=len(ahead)))
    both = np.zeros((len(begin), 2), bool)
    both[label, (own < other).astype(int)] = True
    met: Bools = np.logical_and(both[:, 0], both[:, 1])
    mutual = met[label]
    piece, other, own = piece[mutual], other[mutual], own[mutual]
    label = (np.cumsum(met) - 1)[label[mutual]]
    pair = np.column_stack((np.minimum(own, other), np.maximum(own, other)))
    bound = np.full(label.max(initial=-1) + 1, np.inf)
    np.minimum.at(bound, label, _at_most(pieces.start[piece], box[other]))
    far = box_gaps(pieces.box[piece], box[other]) > np.minimum(bound, reach)[label] + SLACK
    keep = ~far
    return _Near(piece[keep], pair[keep], label[keep], bound)


def _at_most(points: Floats, box: Floats) -> Floats:
    """Greatest distance a point can have from a contour that touches all sides of its box.

    For each side the whole side is within reach of its farther end; the least over sides
    holds (the bound known from searching box trees for neighbours).
    """
    low, high = np.abs(points - box[:, :2]), np.abs(points - box[:, 2:])
    near, far = np.minimum(low, high), np.maximum(low, high)
    across, along = np.hypot(near[:, 0], far[:, 1]), np.hypot(far[:, 0], near[:, 1])
    return np.minimum(across, along)


def _counts(sides: list[_Side], pairs: int) -> tuple[Ints, Ints]:
    one, two = (np.bincount(side.label, minlength=pairs) for side in sides)
    return one, two


def _products(sides: list[_Side], pairs: int) -> Iterator[tuple[Ints, Ints, Ints]]:
    """Yield every piece of one side with every one of the other, a bounded number at once."""
    one, two = _counts(sides, pairs)
    begin = [np.concatenate(([0], np.cumsum(count))) for count in (one, two)]
    product = np.where(one * two > MANY, 0, one * two)
    total = np.cumsum(product)
    start = 0
    while start < pairs:
        done = total[start - 1] if start else 0
        stop = max(int(np.searchsorted(total, done + AT_ONCE, side="right")), start + 1)
        labels = np.arange(start, stop)
        size = product[labels]
        label = np.repeat(labels, size)
        within = np.arange(len(label)) - np.repeat(np.cumsum(size) - size, size)
        first = begin[0][label] + within // two[label]
        second = begin[1][label] + within % two[label]
        yield sides[0].piece[first], sides[1].piece[second], label
        start = stop


def _large(sides: list[_Side], pairs: int) -> Iterator[tuple[Ints, Ints]]:
    """Yield the pieces of both contours of each pair with many of them."""
    one, two = _counts(sides, pairs)
    for label in np.flatnonzero(one * two > MANY):
        first, second = (
            side.piece[slice(*np.searchsorted(side.label, (label, label + 1)))] for side in sides
        )
        yield first, second


Least = tuple[Ints, Ints, Floats, Floats, Floats]


def _least(pieces: Pieces, first: Ints, second: Ints, label: Ints, bound: Floats) -> Least:
    """Nearest of all pairs of pieces with the same label (sorted)."""
    if not len(label):
        return first, second, np.zeros(0), np.zeros((0, 2)), np.zeros((0, 2))
    begin = np.flatnonzero(np.diff(label, prepend=-1))
    step = pieces.start[first] - pieces.start[second]
    most = np.minimum.reduceat(np.hypot(step[:, 0], step[:, 1]), begin)
    most = np.minimum(most, bound[label[begin]])
    size = np.diff(begin, append=len(label))
    near = box_gaps(pieces.box[first], pieces.box[second]) <= np.repeat(most, size) + SLACK
    first, second, label = first[near], second[near], label[near]
    gap, on_first, on_second = nearest_points(pieces.take(first), pieces.take(second))
    order = np.lexsort((gap, label))
    best = order[np.flatnonzero(np.diff(label[order], prepend=-1))]
    return first[best], second[best], gap[best], on_first[best], on_second[best]


def _least_of_many(pieces: Pieces, first: Ints, second: Ints) -> Least:
    """Nearest points of two contours with many pieces: bound by their ends, then by boxes."""
    ends = shapely.points(pieces.start[second])
    _, gaps = shapely.STRtree(ends).query_nearest(
        shapely.points(pieces.start[first]), return_distance=True, all_matches=False
    )
    i, j = box_pairs(pieces.box[first], pieces.box[second], float(gaps.min()) + SLACK)
    no_label = np.zeros(len(i), np.int64)
    return _least(pieces, first[i], second[j], no_label, np.array([np.inf]))


def contains_points(contours: Contours, rows: ArrayLike, points: ArrayLike) -> Bools:
    """Return whether closed contour `rows[i]` holds `points[i]`, arcs exact, shape (k,).

    A point on the line itself may come out either way; an open contour holds none.
    Even-odd where a contour crosses itself.

    Examples
    --------
    >>> contains_points(Contours.circle(0, 0, 5), [0, 0], [(3, 3), (4, 4)])
    array([ True, False])
    """
    index = np.asarray(rows, dtype=np.int64)
    point = np.asarray(points, dtype=float).reshape(-1, 2)
    inside = np.zeros(len(index), dtype=bool)
    count = np.diff(contours.offsets)[index]
    done = np.cumsum(count)
    start = 0
    while start < len(index):
        before = done[start - 1] if start else 0
        stop = max(int(np.searchsorted(done, before + AT_ONCE, side="right")), start + 1)
        part = slice(start, stop)
        inside[part] = _odd(contours, index[part], point[part], count[part])
        start = stop
    return inside & contours.closed[index]


def _odd(contours: Contours, rows: Ints, points: Floats, count: Ints) -> Bools:
    """Whether a ray crosses the chords oddly often, flipped between chord and arc."""
    owner = np.repeat(np.arange(len(rows)), count)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    segment = contours.offsets[rows][owner] + within
    p, a, b = points[owner], contours.starts[segment], contours.ends[segment]
    straddles = (a[:, 1] > p[:, 1]) != (b[:, 1] > p[:, 1])
    cross = (b[:, 0] - a[:, 0]) * (p[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (p[:, 0] - a[:, 0])
    flips = straddles & ((cross > 0.0) == (b[:, 1] > a[:, 1]))
    bent = np.flatnonzero(contours.bulges[segment] != 0.0)
    arc = segment[bent]
    arm = p[bent] - contours.centres[arc]
    disc = np.hypot(arm[:, 0], arm[:, 1]) < contours.radii[arc]
    # on the chord itself: the side that the ray's half-open rule has taken above
    level = (a[:, 1] == b[:, 1]) & (b[:, 0] < a[:, 0])
    right = (cross < 0.0) | ((cross == 0.0) & ~level)
    bow = right[bent] == (contours.bulges[arc] > 0.0)
    flips[bent] ^= disc & bow
    begin = np.concatenate(([0], np.cumsum(count)[:-1]))
    return np.logical_xor.reduceat(flips, begin)
