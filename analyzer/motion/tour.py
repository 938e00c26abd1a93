"""A short way through many places: greedy edges, 2-opt and Or-opt by neighbour lists, kicks.

The way starts anywhere (or at a given place) and may have to end at a goal; with both at one
place it is a round trip.  Greedy edges, then 2-opt and Or-opt moves found for all places at
once and done one by one while they still gain; then *kicks* (two neighbouring stretches change
places, the local moves mend the rest, and what became longer is undone): iterated local search,
Lourenco, Martin and Stutzle, in Handbook of Metaheuristics (2003), from memory.  The number of
kicks is a count, not a time, and the random numbers have a fixed seed: same input, same way.

Places may have to keep *apart*: of two places in a row whose extents come nearer than a
distance, as many as can be are parted, the way being second.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot
from random import Random

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints

NEIGHBOURS = 8
"""Nearest places a move may join one with."""

FAR_NEIGHBOURS = 60
"""Places looked at for those far enough, where places must keep apart."""

MOST_IN_CELL = 24
"""Places of one grid cell that are looked at; more lie on top of one another."""

KICKS = 200
"""Kicks of a plain check."""

KICKS_PER_PLACE = 20
STRETCH = 30
"""Longest stretch a kick moves."""

LONGEST_TURN = 1000
"""Longest stretch turned round at once: longer ones gain little and cost much."""

SIDES = {0: (1,), 1: (-1,)}
"""Nothing comes before the start (row n) nor after the goal (row n + 1)."""

SIDES_OF_PLACE = (1, -1)

LANES_FROM, LANES_OF = 12, 4
"""Places that lie in rows of at least `LANES_OF` on average are a grid."""

STRAIGHT = 1.005
"""To and fro along the rows is taken where it is no longer than this: the same time, and
easier to follow. [-]"""

GAIN = 1e-7
"""Least gain of a move, of the extent of all places. [-]"""

MATRIX = 500
"""Up to so many places all distances are kept."""


@dataclass(frozen=True, eq=False)
class Extents:
    """How far places reach, for keeping them apart.

    Attributes
    ----------
    box : ndarray, shape (n, 4)
        Least x, least y, greatest x, greatest y, in the unit of the places.
    radius : ndarray, shape (n,)
        Of round places, 0 of others.
    distance : float
        Least gap of two places in a row, in the same unit.
    """

    box: Floats
    radius: Floats
    distance: float


class Ways:
    """Cost of going from place to place; rows n and n + 1 are start and goal."""

    def __init__(
        self, places: Ints, start: Ints | None, goal: Ints | None, extents: Extents | None
    ) -> None:
        count = len(places)
        self.count = count
        ends = np.zeros((2, 2))
        if start is not None:
            ends[0] = start
        if goal is not None:
            ends[1] = goal
        self.at: Floats = np.vstack((places.astype(float), ends))
        self.free: Bools = np.zeros(count + 2, dtype=bool)
        self.free[count:] = start is None, goal is None
        low, high = self.at[~self.free].min(axis=0), self.at[~self.free].max(axis=0)
        self.size = max(float(np.hypot(*(high - low))), 1.0)
        self.box: Floats | None = None
        if extents is not None:
            self.box = np.vstack((extents.box, np.hstack((ends, ends))))
            self.radius = np.concatenate((extents.radius, np.zeros(2)))
            self.apart, self.dear = extents.distance, 4.0 * self.size

    def between(self, a: Ints, b: Ints) -> Floats:
        """Return the cost from rows `a` to rows `b`, any shape; nothing to or from a free end."""
        step = self.at[a] - self.at[b]
        cost = np.hypot(step[..., 0], step[..., 1])
        if self.box is not None:
            cost = cost + self.dear * self.near(a, b)
        return np.where(self.free[a] | self.free[b], 0.0, cost)

    def near(self, a: Ints, b: Ints) -> Bools:
        """Return whether the extents of rows `a` and `b` come nearer than they may."""
        assert self.box is not None
        one, other = self.box[a], self.box[b]
        gap = np.maximum(one[..., :2] - other[..., 2:], other[..., :2] - one[..., 2:]).clip(0.0)
        away = np.hypot(gap[..., 0], gap[..., 1])
        step = self.at[a] - self.at[b]
        both = (self.radius[a] > 0.0) & (self.radius[b] > 0.0)
        round_ones = np.hypot(step[..., 0], step[..., 1]) - self.radius[a] - self.radius[b]
        return np.asarray(np.where(both, round_ones, away) < self.apart * (1.0 - 1e-9))

    def total(self, order: Ints) -> float:
        """Return the cost of the whole way."""
        way = np.concatenate(([self.count], order, [self.count + 1]))
        return float(self.between(way[:-1], way[1:]).sum())


def short_tour(
    places: Ints, goal: Ints | None = None, *, start: Ints | None = None,
    kicks: int | None = None, seed: int = 1, extents: Extents | None = None,
) -> Ints:  # fmt: skip
    """Return a short order of `places`.

    Parameters
    ----------
    places : ndarray of int, shape (n, 2)
        Whole-number coordinates; ties go to the lower row.
    goal, start : ndarray of int, shape (2,), optional
        Where the way goes after the last place, and where it comes from.
    kicks : int, optional
        Tries to better a local optimum; by default few, as a plain check does.
    seed : int
        Of the random numbers.
    extents : Extents, optional
        Keeps places in a row apart.

    Returns
    -------
    ndarray of int, shape (n,)
        Rows in order.
    """
    count = len(places)
    if count <= 1 or (count == 2 and goal is None and start is None):
        return np.arange(count)
    ways = Ways(places, start, goal, extents)
    near = neighbours(places, ways)
    search, straight = _settled(ways, near, _greedy(places, ways, near)), False
    lanes = _lanes(places, near) if extents is None else None
    if lanes is not None:
        by_lanes = _settled(ways, near, lanes)
        straight = ways.total(by_lanes.order()) <= STRAIGHT * ways.total(search.order())
        search = by_lanes if straight else search
    tries = min(KICKS, KICKS_PER_PLACE * count) if kicks is None else kicks
    random, least = Random(seed), -search.least if straight else 0.0
    for _ in range(tries if count > 3 else 0):
        search.done.clear()
        cost, woken = search.kick(random)
        if cost - search.settle(woken) > least:
            search.undo()
    return search.order()


def _settled(ways: Ways, near: Ints, order: Ints) -> _Search:
    """Return the search after all moves that gain from `order`."""
    search = _Search(ways, near, order)
    search.settle(order.tolist())
    return search


# --- who is near whom -----------------------------------------------------


def neighbours(places: Ints, ways: Ways) -> Ints:
    """Return the rows each place may be joined with, nearest first, shape (n, k)."""
    count = len(places)
    if ways.box is None:
        return nearest(places, min(NEIGHBOURS, count - 1))
    near = nearest(places, min(FAR_NEIGHBOURS, count - 1))
    bad = ways.near(np.arange(count)[:, None], near)
    last = np.argsort(bad, axis=1, kind="stable")  # the far enough first, else as they come
    found: Ints = np.take_along_axis(near, last, axis=1)[:, : min(2 * NEIGHBOURS, count - 1)]
    return found


def nearest(places: Ints, wanted: int) -> Ints:
    """Return the rows of the `wanted` nearest places of every place, shape (n, wanted).

    Cells of a grid: of nine cells around a place those no farther than a cell are surely the
    nearest; places that want more look again in cells twice as large.
    """
    count = len(places)
    found = np.zeros((count, wanted), dtype=np.int64)
    if count <= 300:
        step = places[:, None, :] - places[None, :, :]
        far = step[..., 0] ** 2 + step[..., 1] ** 2
        np.fill_diagonal(far, np.iinfo(np.int64).max)
        return np.argsort(far, axis=1, kind="stable")[:, :wanted]
    low = places.min(axis=0)
    wide, high = (int(v) + 1 for v in np.ptp(places, axis=0))
    cell = max(int((float(wide) * high * wanted / count) ** 0.5 / 4.0), max(wide, high) // count, 1)
    while cell > 1 and _crowded((places - low) // cell) > 0.02 * count:
        cell = max(cell // 2, 1)
    left = np.arange(count)
    while len(left):
        last = cell > 2 * max(wide, high)
        got, done = _in_cells(places, left, (places - low) // cell, cell, wanted, last)
        found[left[done]] = got[done]
        left = left[~done]
        cell *= 2
    return found


def _crowded(cells: Ints) -> int:
    """Places in cells that hold more than are looked at."""
    width = int(cells[:, 1].max()) + 1
    many = np.unique(cells[:, 0] * width + cells[:, 1], return_counts=True)[1]
    return int(many[many > MOST_IN_CELL].sum())


def _in_cells(
    places: Ints, rows: Ints, cells: Ints, size: int, wanted: int, last: bool
) -> tuple[Ints, Bools]:
    """Nearest places in the nine cells around `rows`, and for which that is sure."""
    width = int(cells[:, 1].max()) + 3
    key = (cells[:, 0] + 1) * width + cells[:, 1] + 1
    order = np.argsort(key, kind="stable")
    sorted_key = key[order]
    owners, others = [], []
    around = np.add.outer(np.array([-width, 0, width]), np.array([-1, 0, 1])).ravel()
    most = max(MOST_IN_CELL, wanted + 1)
    for step in around:
        begin = np.searchsorted(sorted_key, key[rows] + step, "left")
        size_here = np.searchsorted(sorted_key, key[rows] + step, "right") - begin
        size_here = np.minimum(size_here, most)
        total = int(size_here.sum())
        at = np.arange(total) - np.repeat(np.cumsum(size_here) - size_here, size_here)
        owners.append(np.repeat(np.arange(len(rows)), size_here))
        others.append(order[np.repeat(begin, size_here) + at])
    owner, other = np.concatenate(owners), np.concatenate(others)
    keep = rows[owner] != other
    owner, other = owner[keep], other[keep]
    step_xy = places[rows[owner]] - places[other]
    far = step_xy[:, 0] ** 2 + step_xy[:, 1] ** 2
    sort = np.lexsort((other, far, owner))
    owner, other, far = owner[sort], other[sort], far[sort]
    counts = np.bincount(owner, minlength=len(rows))
    enough = counts >= wanted
    first = np.cumsum(counts) - counts
    pick = first[:, None] + np.minimum(np.arange(wanted), np.maximum(counts - 1, 0)[:, None])
    if not len(other):
        return np.zeros((len(rows), wanted), np.int64), np.zeros(len(rows), bool)
    pick = np.minimum(pick, len(other) - 1)
    sure = enough & (last | (far[pick[:, -1]] <= size**2))
    return other[pick], sure


# --- a first way ----------------------------------------------------------


def _lanes(places: Ints, near: Ints) -> Ints | None:
    """Return the way to and fro along the rows of a grid; None where the places are none."""
    if len(places) < LANES_FROM:
        return None
    step = places[near[:, 0]] - places
    apart = np.median(np.hypot(step[:, 0], step[:, 1])) / 4.0
    found = []
    for across in (1, 0):
        order = np.argsort(places[:, across], kind="stable")
        level = places[order, across]
        begins = np.flatnonzero(np.diff(level, prepend=level[0] - 2 * int(apart) - 2) > apart)
        widest = (np.maximum.reduceat(level, begins) - np.minimum.reduceat(level, begins)).max()
        lane = np.empty(len(places), dtype=np.int64)
        lane[order] = np.searchsorted(begins, np.arange(len(places)), "right") - 1
        if widest <= apart:
            found.append((len(begins), across, lane))
    if not found or min(row[0] for row in found) * LANES_OF > len(places):
        return None
    _, across, lane = min(found, key=lambda row: row[:2])
    along = places[:, 1 - across]
    return np.lexsort((np.where(lane % 2 == 0, along, -along), lane))


def _greedy(places: Ints, ways: Ways, near: Ints) -> Ints:
    """Join the nearest ends first until one chain is left; it runs towards the goal."""
    chains = _Chains(len(places))
    rows = np.arange(len(places))
    while True:
        first = np.repeat(rows, near.shape[1])
        second = near.ravel()
        keep = first < second
        keep |= ~(near[second] == first[:, None]).any(axis=1)  # each pair once
        first, second = first[keep], second[keep]
        cost = ways.between(first, second)
        for k in np.lexsort((np.maximum(first, second), np.minimum(first, second), cost)).tolist():
            chains.join(int(first[k]), int(second[k]))
        ends = chains.ends()
        if len(ends) <= 2:
            break
        near, rows = _near_ends(places, ends, chains), np.arange(len(places))
    order = chains.order()
    turned = order[::-1]
    return turned if ways.total(turned) < ways.total(order) else order


def _near_ends(places: Ints, ends: Ints, chains: _Chains) -> Ints:
    """Nearest ends of other chains, for the end of every chain; other places have themselves."""
    several = min(NEIGHBOURS, len(ends) - 1)
    found = ends[nearest(places[ends], several)]
    near = np.repeat(np.arange(len(places))[:, None], several + 1, axis=1)
    near[ends, :several] = found
    # the ends of one chain may be nearest to one another: the next chain's is there as well
    order = np.lexsort(places[ends].T)
    near[ends[order], several] = np.roll(ends[order], -1)
    return near


class _Chains:
    """Chains of places that grow together."""

    def __init__(self, count: int) -> None:
        self.links: list[list[int]] = [[] for _ in range(count)]
        self.other_end = list(range(count))

    def join(self, a: int, b: int) -> None:
        """Link `a` and `b` if both are ends of different chains."""
        if a == b or len(self.links[a]) > 1 or len(self.links[b]) > 1 or self.other_end[a] == b:
            return
        self.links[a].append(b)
        self.links[b].append(a)
        far_a, far_b = self.other_end[a], self.other_end[b]
        self.other_end[far_a], self.other_end[far_b] = far_b, far_a

    def ends(self) -> Ints:
        """Rows with at most one link."""
        return np.array([k for k, link in enumerate(self.links) if len(link) < 2], dtype=np.int64)

    def order(self) -> Ints:
        """Rows of the only chain, from its lower end."""
        here, before = int(self.ends()[0]), -1
        order = [here]
        while len(order) < len(self.links):
            here, before = next(k for k in self.links[here] if k != before), here
            order.append(here)
        return np.array(order, dtype=np.int64)


# --- moves ----------------------------------------------------------------


class _Search:
    """2-opt and Or-opt moves on one way: start, places, goal at positions 0 to n + 1."""

    def __init__(self, ways: Ways, near: Ints, order: Ints) -> None:
        count = ways.count
        self.count, self.near = count, _with_ends(ways, near)
        self.way: list[int] = [count, *order.tolist(), count + 1]
        self.place = [0] * (count + 2)
        for position, row in enumerate(self.way):
            self.place[row] = position
        self.least = GAIN * ways.size
        self.cost = _cost_of(ways)
        self.done: list[tuple[int, int]] = []  # stretches turned round, to undo them

    def order(self) -> Ints:
        """Return the rows in order."""
        return np.array(self.way[1:-1], dtype=np.int64)

    def turn(self, i: int, j: int) -> None:
        """Turn the stretch from position i to j round."""
        if i >= j:
            return
        way, place = self.way, self.place
        way[i : j + 1] = way[i : j + 1][::-1]
        for position in range(i, j + 1):
            place[way[position]] = position
        self.done.append((i, j))

    def undo(self) -> None:
        """Take back every turn since `done` was empty."""
        for i, j in reversed(self.done):
            self.turn(i, j)
        self.done.clear()

    def settle(self, awake: list[int]) -> float:
        """Do gaining moves from the waking places until none is left; return the gain."""
        asleep = [True] * (self.count + 2)
        for row in awake:
            asleep[row] = False
        total = 0.0
        at = 0
        while at < len(awake):
            row = awake[at]
            at += 1
            asleep[row] = True
            while True:
                gain, touched = self._two_opt(row)
                if not gain and row < self.count:
                    gain, touched = self._or_opt(row)
                if not gain:
                    break
                total += gain
                for other in touched:
                    if asleep[other] and other != row:
                        asleep[other] = False
                        awake.append(other)
        return total

    def _two_opt(self, a: int) -> tuple[float, tuple[int, ...]]:
        way, place, cost = self.way, self.place, self.cost
        p = place[a]
        for side in SIDES.get(a - self.count, SIDES_OF_PLACE):
            beside = way[p + side]
            old = cost(a, beside)
            for c in self.near[a]:
                first = old - cost(a, c)
                if first <= self.least:
                    break
                if side not in SIDES.get(c - self.count, SIDES_OF_PLACE):
                    continue
                q = place[c]
                other = way[q + side]
                gain = first + cost(c, other) - cost(beside, other)
                if gain > self.least and abs(p - q) <= LONGEST_TURN:
                    low, high = (p, q) if p < q else (q, p)
                    self.turn(low + (side > 0), high - (side < 0))
                    return gain, (a, beside, c, other)
        return 0.0, ()

    def _or_opt(self, a: int) -> tuple[float, tuple[int, ...]]:
        p = self.place[a]
        for size in (1, 2, 3):
            for s in (p, p - size + 1) if size > 1 else (p,):
                e = s + size - 1
                if s < 1 or e > self.count:
                    continue
                found = self._move_stretch(a, s, e)
                if found[0]:
                    return found
        return 0.0, ()

    def _move_stretch(self, a: int, s: int, e: int) -> tuple[float, tuple[int, ...]]:
        """Move the stretch from position s to e, of which `a` is an end, beside a neighbour."""
        way, cost = self.way, self.cost
        before, after = way[s - 1], way[e + 1]
        b = way[e] if way[s] == a else way[s]
        removed = cost(before, way[s]) + cost(way[e], after) - cost(before, after)
        for c in self.near[a] if removed > self.least else ():
            added = cost(a, c)
            if removed - added <= self.least:
                break
            q = self.place[c]
            if s <= q <= e:
                continue
            for side in SIDES.get(c - self.count, SIDES_OF_PLACE):
                other = way[q + side]
                gap = q if side > 0 else q - 1  # between positions gap and gap + 1
                gain = removed - added - cost(b, other) + cost(c, other)
                outside = not s - 1 <= gap <= e
                if gain > self.least and outside and abs(gap - s) <= LONGEST_TURN:
                    self._carry(s, e, gap, a if side > 0 else b)
                    return gain, (a, b, before, after, c, other)
        return 0.0, ()

    def _carry(self, s: int, e: int, gap: int, first: int) -> None:
        """Put the stretch from s to e behind position `gap`, with `first` in front."""
        size = e - s + 1
        if gap > e:
            self.turn(s, gap)
            self.turn(s, gap - size)
            s = gap - size + 1
        else:
            self.turn(gap + 1, e)
            self.turn(gap + 1 + size, e)
            s = gap + 1
        if self.way[s] != first:
            self.turn(s, s + size - 1)

    def kick(self, random: Random) -> tuple[float, list[int]]:
        """Let two neighbouring stretches change places; return what it costs and whom it woke."""
        way, cost = self.way, self.cost
        most = max(min(STRETCH, self.count // 3), 1)
        one, two = random.randint(1, most), random.randint(1, most)
        one, two = min(one, self.count - 1), min(two, self.count - one) if one < self.count else 1
        two = max(min(two, self.count - one), 1)
        s = random.randint(1, self.count - one - two + 1)
        m, e = s + one, s + one + two - 1  # stretches s..m-1 and m..e
        ends = [way[s - 1], way[s], way[m - 1], way[m], way[e], way[e + 1]]
        old = cost(ends[0], ends[1]) + cost(ends[2], ends[3]) + cost(ends[4], ends[5])
        new = cost(ends[0], ends[3]) + cost(ends[4], ends[1]) + cost(ends[2], ends[5])
        self.turn(s, e)
        self.turn(s, s + two - 1)
        self.turn(s + two, e)
        return new - old, ends


def _with_ends(ways: Ways, near: Ints) -> list[list[int]]:
    """Return the neighbours of places with both ends among them, then those of the ends."""
    count = ways.count
    rows = np.arange(count)[:, None]
    ends = np.broadcast_to([count, count + 1], (count, 2))
    wide = np.hstack((ends, near))
    order = np.argsort(ways.between(rows, wide), axis=1, kind="stable")
    lists: list[list[int]] = np.take_along_axis(wide, order, axis=1).tolist()
    for end in (count, count + 1):
        away = ways.between(np.array(end), rows[:, 0])
        lists.append(np.argsort(away, kind="stable")[:NEIGHBOURS].tolist())
    return lists


def _cost_of(ways: Ways) -> Callable[[int, int], float]:
    """Return the cost between two rows, as quick as their number allows."""
    count = ways.count
    if count <= MATRIX:
        rows = np.arange(count + 2)
        table = ways.between(rows[:, None], rows[None, :]).tolist()
        return lambda a, b: float(table[a][b])
    x, y = ways.at[:, 0].tolist(), ways.at[:, 1].tolist()
    free = {int(row) for row in np.flatnonzero(ways.free)}

    def plain(a: int, b: int) -> float:
        if (a >= count and a in free) or (b >= count and b in free):
            return 0.0
        return hypot(x[a] - x[b], y[a] - y[b])

    if ways.box is None:
        return plain
    box, radius = ways.box.tolist(), ways.radius.tolist()
    least, dear = ways.apart * (1.0 - 1e-9), ways.dear

    def apart(a: int, b: int) -> float:
        way = plain(a, b)
        if a in free or b in free:
            return way
        if radius[a] > 0.0 and radius[b] > 0.0:
            gap = way - radius[a] - radius[b]
        else:
            one, other = box[a], box[b]
            gap = hypot(
                max(one[0] - other[2], other[0] - one[2], 0.0),
                max(one[1] - other[3], other[1] - one[3], 0.0),
            )
        return way + dear if gap < least else way

    return apart
