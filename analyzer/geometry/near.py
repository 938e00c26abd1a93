"""Which points lie near which: the two neighbour questions of cleaning and chaining.

Both answer in n log n: points by cells of a grid held as sorted keys, points against
lines and arcs by a tree of boxes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from analyzer.errors import InputError
from analyzer.geometry.blocks import diagonals
from analyzer.geometry.contours import Floats, Ints
from analyzer.geometry.piled import in_piles, near_pile, piles_of

Number = TypeVar("Number", np.int64, np.float64)

_COLUMN = 0x9E3779B1  # cell (i, j) has the key i * _COLUMN + j: neighbours differ by a constant
_MOST_PAIRS = 4_000_000
_FIRST_BLOCK, _LAST_BLOCK = 2_000, 20_000  # points asked of the tree at once
_PAIRS_AT_ONCE = 1_000_000
_MOST_BOXES = 600_000  # pieces that segments are boxed in, besides one each


def _cells(points: Floats, size: float) -> tuple[Ints, Ints]:
    column = np.floor(points[:, 0] / size).astype(np.int64)
    row = np.floor(points[:, 1] / size).astype(np.int64)
    return column, row


def close_pairs(points: Floats, distance: float) -> Ints:
    """Return every pair of points no further apart than `distance`, shape (k, 2), i < j.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        [mm]
    distance : float
        > 0. [mm]

    Raises
    ------
    InputError
        If the points are so crowded that there are more pairs than memory.
    """
    count = len(points)
    if count < 2:
        return np.zeros((0, 2), dtype=np.int64)
    column, row = _cells(points, distance)
    key = column * _COLUMN + row
    order = np.argsort(key, kind="stable")
    sorted_key = key[order]
    here = _with_neighbours(sorted_key)
    if not len(here):
        return np.zeros((0, 2), dtype=np.int64)
    found = []
    ranges = [(here + 1, np.searchsorted(sorted_key, sorted_key[here], "right"))]
    for step in (1, _COLUMN - 1, _COLUMN, _COLUMN + 1):
        wanted = sorted_key[here] + step
        ranges.append(
            (
                np.searchsorted(sorted_key, wanted, "left"),
                np.searchsorted(sorted_key, wanted, "right"),
            )
        )
    total = sum(int(np.maximum(high - low, 0).sum()) for low, high in ranges)
    if total > _MOST_PAIRS:
        raise InputError(f"{total:,} pairs of points within {distance:g} mm of each other")
    for low, high in ranges:
        size = np.maximum(high - low, 0)
        first = np.repeat(here, size)
        second = (
            np.repeat(low, size) + np.arange(size.sum()) - np.repeat(np.cumsum(size) - size, size)
        )
        found.append(np.column_stack((order[first], order[second])))
    pairs: Ints = np.concatenate(found)
    step_xy = points[pairs[:, 0]] - points[pairs[:, 1]]
    pairs = pairs[np.hypot(step_xy[:, 0], step_xy[:, 1]) <= distance]
    pairs.sort(axis=1)
    return pairs


def _with_neighbours(key: Ints) -> Ints:
    """Return which of the sorted keys have another in their own cell or in one of four beside."""
    some = np.zeros(len(key), dtype=bool)
    some[:-1] = key[1:] <= key[:-1] + 1
    beyond = np.minimum(np.searchsorted(key, key + (_COLUMN - 1)), len(key) - 1)
    some |= (key[beyond] >= key + (_COLUMN - 1)) & (key[beyond] <= key + (_COLUMN + 1))
    found: Ints = np.flatnonzero(some)
    return found


def distinct(values: NDArray[Number]) -> NDArray[Number]:
    """Return every value once, sorted, shape (k,).

    `numpy.unique` without options loads masked arrays first, a tenth of our start-up.
    """
    ordered = np.sort(values)
    first = np.ones(len(ordered), dtype=bool)
    first[1:] = ordered[1:] != ordered[:-1]
    return ordered[first]


def components(count: int, pairs: Ints) -> Ints:
    """Return a label 0, 1, ... of the connected component of every item, shape (count,).

    Labels follow the first item of each component.  Least labels are hooked onto each
    other and pointers halved until nothing changes: a few numpy rounds.
    """
    label = np.arange(count)
    if not len(pairs):
        return label
    while len(pairs):
        a, b = label[pairs[:, 0]], label[pairs[:, 1]]
        apart = a != b
        if not apart.any():
            break
        pairs, a, b = pairs[apart], a[apart], b[apart]
        np.minimum.at(label, np.maximum(a, b), np.minimum(a, b))
        while True:
            shorter = label[label]
            if (shorter == label).all():
                break
            label = shorter
    _, inverse = np.unique(label, return_inverse=True)
    return inverse.astype(np.int64).reshape(-1)


def welded(points: Floats, distance: float) -> tuple[Ints, Floats]:
    """Return the node of every point, shape (n,), and the place of every node, shape (k, 2).

    Points in one cell of `distance` are one node, and so are neighbouring cells whose
    middles are no further apart than `distance`.  A node whose points are all equal lies
    exactly there.  Nodes are numbered by their first point. [mm]
    """
    if not len(points):
        return np.zeros(0, dtype=np.int64), np.zeros((0, 2))
    column, row = _cells(points, distance)
    key = column * _COLUMN + row
    order = np.argsort(key, kind="stable")
    key, places = key[order], points[order]
    new = np.ones(len(key), dtype=bool)
    new[1:] = key[1:] != key[:-1]
    cell = np.cumsum(new) - 1
    middle = places[new]
    mixed = (places != middle[cell]).any(axis=1)
    if mixed.any():  # few cells hold points that differ: the mean of the different ones
        some = np.flatnonzero(np.bincount(cell, mixed)[cell] > 0.0)
        unique, among = _each_once(places[some], cell[some])
        middle[among] = _means(unique, among, len(middle))[among]
    else:
        some, unique, among = np.zeros(0, np.int64), places[:0], cell[:0]
    group = components(len(middle), close_pairs(middle, distance))
    place = middle[np.unique(group, return_index=True)[1]] if len(group) else middle
    several = np.bincount(group)[group] > 1
    if several.any() or len(some):  # as above, of all cells that are one node
        alone = several.copy()
        alone[among] = False
        points_of, cell_of = (
            np.vstack((middle[alone], unique)),
            np.append(np.flatnonzero(alone), among),
        )
        by_place = np.lexsort((points_of[:, 1], points_of[:, 0]))
        touched = group[cell_of[by_place]]
        place[touched] = _means(points_of[by_place], touched, len(place))[touched]
    node = np.empty(len(points), dtype=np.int64)
    node[order] = group[cell]
    return _by_first(node, place)


def _each_once(points: Floats, group: Ints) -> tuple[Floats, Ints]:
    """Return every different point of every group, by place, and its group."""
    order = np.lexsort((group, points[:, 1], points[:, 0]))
    points, group = points[order], group[order]
    new = np.ones(len(points), dtype=bool)
    new[1:] = (points[1:] != points[:-1]).any(axis=1)
    return points[new], group[new]


def _means(points: Floats, group: Ints, count: int) -> Floats:
    """Return the mean point of every group, shape (count, 2); not a number where it has none."""
    size = np.bincount(group, minlength=count)
    with np.errstate(invalid="ignore"):
        return np.column_stack(
            [np.bincount(group, points[:, k], minlength=count) / size for k in (0, 1)]
        )


def _by_first(node: Ints, place: Floats) -> tuple[Ints, Floats]:
    """Return nodes numbered by their first point, and their places in that order."""
    first = np.full(len(place), len(node))
    first[node[::-1]] = np.arange(len(node))[::-1]  # the first point is written last
    order = np.argsort(first, kind="stable")
    rank = np.empty(len(place), dtype=np.int64)
    rank[order] = np.arange(len(place))
    return rank[node], place[order]


def distance_to_segments(points: Floats, starts: Floats, ends: Floats, bulges: Floats) -> Floats:
    """Return the distance of every point to its own line or arc, row by row, shape (k,). [mm]"""
    away: Floats = np.hypot(*(points - _foot(points, starts, ends, bulges)[0]).T)
    return away


def fraction_on_segments(points: Floats, starts: Floats, ends: Floats, bulges: Floats) -> Floats:
    """Return where every point falls on its own line or arc continued both ways, shape (k,).

    0 at the start, 1 at the end, by length; beyond an arc the nearer side counts. [-]
    """
    return _foot(points, starts, ends, bulges)[1]


def _foot(points: Floats, starts: Floats, ends: Floats, bulges: Floats) -> tuple[Floats, Floats]:
    """Return the nearest point of each segment, and the fraction before it is clipped."""
    chord = ends - starts
    square = np.maximum((chord * chord).sum(axis=1), 1e-300)
    fraction = ((points - starts) * chord).sum(axis=1) / square
    foot = starts + chord * np.clip(fraction, 0.0, 1.0)[:, None]
    bent = np.flatnonzero(bulges != 0.0)
    if len(bent):
        b, a, e, p = bulges[bent], starts[bent], ends[bent], points[bent]
        step = e - a
        left = np.column_stack((-step[:, 1], step[:, 0]))
        centre = (a + e) / 2.0 + left * ((1.0 - b * b) / (4.0 * b))[:, None]
        radius = np.hypot(*(a - centre).T)
        sweep = 4.0 * np.arctan(np.abs(b))
        arm, begin = p - centre, a - centre
        angle = np.arctan2(
            begin[:, 0] * arm[:, 1] - begin[:, 1] * arm[:, 0], (begin * arm).sum(axis=1)
        ) * np.sign(b)
        angle = np.mod(angle, 2.0 * np.pi)
        angle = np.where(angle > (sweep + 2.0 * np.pi) / 2.0, angle - 2.0 * np.pi, angle)
        fraction[bent] = angle / sweep
        size = np.maximum(np.hypot(arm[:, 0], arm[:, 1]), 1e-300)
        on = centre + arm * (radius / size)[:, None]
        # from the centre every point of the arc is as near as its start
        on = np.where(((angle < 0.0) | (size <= 1e-12 * radius))[:, None], a, on)
        foot[bent] = np.where((angle > sweep)[:, None], e, on)
    return foot, fraction


def points_near_segments(
    points: Floats, starts: Floats, ends: Floats, bulges: Floats, boxes: Floats, distance: float,
    own: Ints | None = None,
) -> tuple[Ints, Ints]:  # fmt: skip
    """Return the pairs (point, segment) no further apart than `distance`.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        [mm]
    starts, ends, bulges : ndarray, shape (m, 2), (m, 2), (m,)
        Lines and arcs, as in `Contours`. [mm, mm, -]
    boxes : ndarray, shape (m, 4)
        Least x, least y, greatest x, greatest y of each. [mm]
    distance : float
        >= 0. [mm]
    own : ndarray of int, shape (m, 2), optional
        Two points of every segment that are not asked for: its own ends.

    Raises
    ------
    InputError
        If there are more pairs than memory.
    """
    if not len(points) or not len(starts):
        nothing = np.zeros(0, dtype=np.int64)
        return nothing, nothing
    found: list[tuple[Ints, Ints]] = []
    total = 0
    for point, segment in _maybe_near(points, starts, ends, bulges, boxes, distance):
        if own is not None:  # most of all pairs, as a rule
            foreign = (own[segment, 0] != point) & (own[segment, 1] != point)
            point, segment = point[foreign], segment[foreign]
        near = (
            distance_to_segments(points[point], starts[segment], ends[segment], bulges[segment])
            <= distance
        )
        found.append((point[near], segment[near]))
        total += int(near.sum())
        if total > _MOST_PAIRS:
            raise InputError(f"more than {_MOST_PAIRS:,} line ends lie on other lines")
    if not found:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    pairs = np.concatenate([point * len(starts) + segment for point, segment in found])
    pairs = distinct(pairs.astype(np.int64))  # a point near two pieces of one segment
    return pairs // len(starts), pairs % len(starts)


def _maybe_near(
    points: Floats, starts: Floats, ends: Floats, bulges: Floats, boxes: Floats, distance: float
) -> Iterator[tuple[Ints, Ints]]:
    """Yield pairs (point, segment) that hold all near ones, a bounded number at once."""
    import shapely

    piles = piles_of(starts, ends, bulges)
    by_x = np.argsort(points[:, 0], kind="stable") if piles else np.zeros(0, dtype=np.int64)
    for pile in piles:
        yield from near_pile(points, by_x, pile, distance)
    rest = np.flatnonzero(~in_piles(piles, len(starts)))
    if not len(rest):
        return
    piece_boxes, owner = _small_boxes(points, starts[rest], ends[rest], bulges[rest], boxes[rest])
    grown = piece_boxes + distance * np.array([-1.0, -1.0, 1.0, 1.0])
    tree = shapely.STRtree(diagonals(grown))
    first, block = 0, _FIRST_BLOCK
    while first < len(points):
        point, piece = tree.query(shapely.points(points[first : first + block]))
        yield point + first, rest[owner[piece]]
        first += block
        # as many points as give about as many pairs as we want at once
        wanted = block * _PAIRS_AT_ONCE / max(len(point), 1)
        block = int(np.clip(wanted, 100, min(4 * block, _LAST_BLOCK)))


def _small_boxes(
    points: Floats, starts: Floats, ends: Floats, bulges: Floats, boxes: Floats
) -> tuple[Floats, Ints]:
    """Return boxes of pieces of segments, shape (k, 4), and the segment of each.

    One box around a long slanted line or a wide arc holds points by the thousand that are
    nowhere near it.  Such a segment is boxed in pieces about as long as the points are
    apart, so that a hundred lines or rings in each other's boxes cost no n squared.
    """
    count = len(starts)
    size = np.ptp(points, axis=0)
    apart = max(float(np.sqrt(max(size[0] * size[1], 1e-12) / len(points))), 1e-9)
    thick = np.minimum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    number = np.clip(np.ceil(thick / (2.0 * apart)), 1, 64)
    number = np.maximum(np.floor(number * min(1.0, _MOST_BOXES / number.sum())), 1).astype(np.int64)
    owner = np.repeat(np.arange(count), number)
    inside = np.arange(len(owner)) - np.repeat(np.cumsum(number) - number, number)
    found = boxes[owner]
    cut = np.flatnonzero(number[owner] > 1)
    if len(cut):
        inside, split, of = inside[cut], number[owner[cut]], owner[cut]
        a, b, bulge = starts[of], ends[of], bulges[of]
        low = _along(a, b, bulge, inside / split)
        high = _along(a, b, bulge, (inside + 1) / split)
        # an arc bows beyond its chord by chord * bulge / 2
        bow = np.abs(np.tan(np.arctan(bulge) / split)) * np.hypot(*(high - low).T) / 2.0
        least, most = np.minimum(low, high), np.maximum(low, high)
        found[cut] = np.hstack((least - bow[:, None], most + bow[:, None]))
    return found, owner


def _along(starts: Floats, ends: Floats, bulges: Floats, fraction: Floats) -> Floats:
    """Return the point at a fraction of the length of every line or arc, shape (k, 2). [mm]"""
    step = ends - starts
    left = np.column_stack((-step[:, 1], step[:, 0]))
    half = 2.0 * np.arctan(bulges)  # half the sweep
    bent = bulges != 0.0
    # the chord to the point, against the whole chord: its length and its turn
    reach = np.where(bent, np.sin(half * fraction) / np.where(bent, np.sin(half), 1.0), fraction)
    turn = half * (fraction - 1.0)
    onward, aside = reach * np.cos(turn), reach * np.sin(turn)
    place: Floats = starts + step * onward[:, None] + left * aside[:, None]
    return place
