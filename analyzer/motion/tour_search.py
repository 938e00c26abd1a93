"""Moves that shorten a way: 2-opt and Or-opt by neighbour lists, and kicks out of an optimum."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import hypot
from random import Random
from typing import Protocol

import numpy as np

from analyzer.geometry.contours import Ints
from analyzer.motion.tour_ways import NEIGHBOURS, Ways

STRETCH = 30
"""Longest stretch a kick moves."""

LONGEST_TURN = 1000
"""Longest stretch turned round at once: longer ones gain little and cost much."""

GAIN = 1e-7
"""Least gain of a move, of the extent of all places. [-]"""

MATRIX = 500
"""Up to so many places all distances are kept."""


class Search:
    """2-opt and Or-opt moves on one way: start, places, goal at positions 0 to n + 1."""

    def __init__(self, ways: Ways, near: Ints, order: Ints) -> None:
        count = ways.count
        self.count, self.near = count, _with_ends(ways, near)
        self.way: list[int] = [count, *order.tolist(), count + 1]
        self.place = [0] * (count + 2)
        for position, row in enumerate(self.way):
            self.place[row] = position
        self.least = GAIN * ways.size
        self.costs = costs = _costs_of(ways)
        self.near_costs = [[(c, costs[a][c]) for c in around] for a, around in enumerate(self.near)]
        # nothing comes before the start nor after the goal
        self.sides: list[tuple[int, ...]] = [*[(1, -1)] * count, (1,), (-1,)]
        self.done: list[tuple[int, int]] = []  # stretches turned round, to undo them

    def order(self) -> Ints:
        """Return the rows in order."""
        return np.array(self.way[1:-1], dtype=np.int64)

    def turn(self, i: int, j: int) -> None:
        """Turn the stretch from position i to j round."""
        if i >= j:
            return
        way, place = self.way, self.place
        way[i : j + 1] = stretch = way[i : j + 1][::-1]
        for position, row in enumerate(stretch, i):
            place[row] = position
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
        way, place, costs, least, sides = self.way, self.place, self.costs, self.least, self.sides
        p, near = place[a], self.near_costs[a]
        for side in sides[a]:
            beside = way[p + side]
            from_beside = costs[beside]
            old = costs[a][beside]
            for c, way_there in near:
                first = old - way_there
                if first <= least:
                    break
                if side not in sides[c]:
                    continue
                q = place[c]
                other = way[q + side]
                gain = first + costs[c][other] - from_beside[other]
                if gain > least and abs(p - q) <= LONGEST_TURN:
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
        way, costs, least, place, sides = self.way, self.costs, self.least, self.place, self.sides
        before, after, begin, end = way[s - 1], way[e + 1], way[s], way[e]
        from_before = costs[before]
        removed = from_before[begin] + costs[end][after] - from_before[after]
        if removed <= least:
            return 0.0, ()
        b = end if begin == a else begin
        from_b = costs[b]
        for c, added in self.near_costs[a]:
            if removed - added <= least:
                break
            q = place[c]
            if s <= q <= e:
                continue
            from_c = costs[c]
            for side in sides[c]:
                other = way[q + side]
                gain = removed - added - from_b[other] + from_c[other]
                if gain <= least:
                    continue
                gap = q if side > 0 else q - 1  # between positions gap and gap + 1
                outside = not s - 1 <= gap <= e
                if outside and abs(gap - s) <= LONGEST_TURN:
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
        way, costs = self.way, self.costs
        most = max(min(STRETCH, self.count // 3), 1)
        one, two = 1 + _below(most, random), 1 + _below(most, random)
        one, two = min(one, self.count - 1), min(two, self.count - one) if one < self.count else 1
        two = max(min(two, self.count - one), 1)
        s = 1 + _below(self.count - one - two + 1, random)
        m, e = s + one, s + one + two - 1  # stretches s..m-1 and m..e
        ends = [way[s - 1], way[s], way[m - 1], way[m], way[e], way[e + 1]]
        old = costs[ends[0]][ends[1]] + costs[ends[2]][ends[3]] + costs[ends[4]][ends[5]]
        new = costs[ends[0]][ends[3]] + costs[ends[4]][ends[1]] + costs[ends[2]][ends[5]]
        self.turn(s, e)
        self.turn(s, s + two - 1)
        self.turn(s + two, e)
        return new - old, ends


def _below(count: int, random: Random) -> int:
    """Return a whole number below `count`, all as likely; `randint` takes thrice as long."""
    bits = count.bit_length()
    drawn = random.getrandbits(bits)
    while drawn >= count:
        drawn = random.getrandbits(bits)
    return drawn


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


class _From(Protocol):
    """Costs from one row to others."""

    def __getitem__(self, row: int, /) -> float: ...


class _Asked:
    """Costs from one row, each found when it is asked for."""

    __slots__ = ("_cost", "_row")

    def __init__(self, cost: Callable[[int, int], float], row: int) -> None:
        self._cost, self._row = cost, row

    def __getitem__(self, row: int, /) -> float:
        return self._cost(self._row, row)


def _costs_of(ways: Ways) -> Sequence[_From]:
    """Return the costs from every row to the others, as quick as their number allows."""
    count = ways.count
    if count <= MATRIX:
        rows = np.arange(count + 2)
        table: list[list[float]] = ways.between(rows[:, None], rows[None, :]).tolist()
        return table
    cost = _cost_of(ways)
    return [_Asked(cost, row) for row in range(count + 2)]


def _cost_of(ways: Ways) -> Callable[[int, int], float]:
    """Return the cost between two rows."""
    count = ways.count
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
