"""Circles about one centre as stacks, so that thousands in one another cost no pairs of them.

Of the circles of a stack those that hold a point, or run near another circle, are one run in
order of their radii: a look-up instead of a question to each.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from weakref import WeakKeyDictionary

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.circles import Circles
from analyzer.geometry.contours import Floats, Ints

ONE_CENTRE = 1e-7
"""Circles of a stack have centres that agree within this; it bounds no result but the choice
of circles that are then measured. [mm]"""

_SLACK = 1e-6  # a run of radii is taken this much wider than it must be [mm]
_MOST_PAIRS = 20_000_000
_AT_ONCE = 1_000_000  # circles of pairs of stacks looked up together


@dataclass(frozen=True, eq=False)
class Stacks:
    """Circles by stack, in order of their radii.

    Attributes
    ----------
    rows : ndarray of int, shape (k,)
        The contours they are.
    centre : ndarray, shape (k, 2)
        Their own centres. [mm]
    radius : ndarray, shape (k,)
        Rising within every stack. [mm]
    group : ndarray of int, shape (s,)
        Group of every stack; circles of two groups are never in one stack.
    begin : ndarray of int, shape (s + 1,)
        First circle of every stack, and k.
    """

    rows: Ints
    centre: Floats
    radius: Floats
    group: Ints
    begin: Ints

    @property
    def largest(self) -> Ints:
        """Where the largest circle of every stack stands, shape (s,)."""
        return self.begin[1:] - 1

    @property
    def box(self) -> Floats:
        """Box around every stack, a hair wider than its largest circle, shape (s, 4). [mm]"""
        reach = self.radius[self.largest] + _SLACK
        middle = self.centre[self.largest]
        return np.hstack((middle - reach[:, None], middle + reach[:, None]))

    @property
    def stack(self) -> Ints:
        """Stack of every circle, shape (k,)."""
        return np.repeat(np.arange(len(self.group)), np.diff(self.begin))

    @cached_property
    def _ranks(self) -> tuple[Floats, Ints]:
        """All radii, rising; and stack and rank of every circle as one key, rising."""
        ordered = np.sort(self.radius)
        rank = np.searchsorted(ordered, self.radius)
        return ordered, self.stack * (len(ordered) + 1) + rank

    def first_over(self, stack: Ints, radius: Floats) -> Ints:
        """Return where the first circle wider than `radius` stands in its stack, shape (n,).

        One past the stack's last where none is.
        """
        ordered, key = self._ranks
        over = np.searchsorted(ordered, radius, side="right")
        place: Ints = np.searchsorted(key, stack * (len(ordered) + 1) + over)
        return place


_KNOWN: WeakKeyDictionary[Circles, Stacks] = WeakKeyDictionary()  # without groups


def stacks_of(circles: Circles, groups: Ints | None = None) -> Stacks:
    """Return the round contours of `circles` as stacks; kept for the next station to ask.

    Parameters
    ----------
    circles : Circles
        Of n contours.
    groups : ndarray of int, shape (n,), optional
        Only contours of one group are stacked.
    """
    if groups is not None:
        return _stacked(circles, groups)
    if circles not in _KNOWN:
        _KNOWN[circles] = _stacked(circles, np.zeros(len(circles.round), np.int64))
    return _KNOWN[circles]


def _stacked(circles: Circles, groups: Ints) -> Stacks:
    rows = np.flatnonzero(circles.round)
    group = groups[rows].astype(np.int64)
    x, y = np.round(circles.centre[rows] / ONE_CENTRE).T
    order = np.lexsort((circles.radius[rows], y, x, group))
    rows, x, y, group = rows[order], x[order], y[order], group[order]
    new = np.ones(len(rows), dtype=bool)
    new[1:] = (np.diff(x) != 0.0) | (np.diff(y) != 0.0) | (np.diff(group) != 0)
    begin = np.append(np.flatnonzero(new), len(rows))
    return Stacks(rows, circles.centre[rows], circles.radius[rows], group[new], begin)


def near_circles(stacks: Stacks, one: Ints, two: Ints, reach: float) -> tuple[Ints, Ints]:
    """Return circles of two stacks whose lines may be within `reach`, two of shape (m,).

    Every such pair is among them once, with few others; they are places in `stacks.rows`.

    Parameters
    ----------
    stacks : Stacks
    one, two : ndarray of int, shape (p,)
        Pairs of stacks; a stack with itself where they are equal.
    reach : float
        [mm]

    Raises
    ------
    InputError
        If there are more pairs of circles than memory.
    """
    size = np.diff(stacks.begin)
    swap = size[one] > size[two]
    small, other = np.where(swap, two, one), np.where(swap, one, two)
    done = np.cumsum(size[small])
    found: list[tuple[Ints, Ints]] = []
    start = total = 0
    while start < len(small):
        before = int(done[start - 1]) if start else 0
        stop = max(int(np.searchsorted(done, before + _AT_ONCE, side="right")), start + 1)
        first, low, high = _runs(stacks, small[start:stop], other[start:stop], reach)
        total += int((high - low).sum())
        if total > _MOST_PAIRS:
            raise InputError(f"more than {_MOST_PAIRS:,} pairs of circles within {reach:g} mm")
        found.append((np.repeat(first, high - low), _ranges(low, high)))
        start = stop
    if not found:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    return np.concatenate([a for a, _ in found]), np.concatenate([b for _, b in found])


def _runs(stacks: Stacks, small: Ints, other: Ints, reach: float) -> tuple[Ints, Ints, Ints]:
    """Every circle of the small stacks, with the run of the other stack that may be near it."""
    first = _ranges(stacks.begin[small], stacks.begin[small + 1])
    pair = np.repeat(np.arange(len(small)), stacks.begin[small + 1] - stacks.begin[small])
    other = other[pair]
    arm = stacks.centre[stacks.largest[other]] - stacks.centre[first]
    away, radius = np.hypot(arm[:, 0], arm[:, 1]), stacks.radius[first]
    # lines within reach: no wider gap between the circles side by side, nor one in the other
    least = np.maximum(away - radius, radius - away) - reach - _SLACK
    low = stacks.first_over(other, least)
    high = stacks.first_over(other, away + radius + reach + _SLACK)
    own = small[pair] == other
    low = np.where(own, np.maximum(low, first + 1), low)  # a pair of one stack once
    return first, low, np.maximum(high, low)


def _ranges(low: Ints, high: Ints) -> Ints:
    """Return low, low + 1, ... high - 1 of every row, one after the other."""
    size = high - low
    inside = np.arange(int(size.sum())) - np.repeat(np.cumsum(size) - size, size)
    every: Ints = np.repeat(low, size) + inside
    return every


def between_circles(
    centres: tuple[Floats, Floats], radii: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Return the least distance of the lines of two circles, and the points where it is.

    On the line through both centres; where the circles cross, it is 0 at one of the two
    points; about one centre it is the same all around, and taken to the right.

    Parameters
    ----------
    centres : two ndarray, shape (n, 2)
        [mm]
    radii : two ndarray, shape (n,)
        [mm]
    """
    arm = centres[1] - centres[0]
    away = np.hypot(arm[:, 0], arm[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = np.where((away > 0.0)[:, None], arm / away[:, None], [1.0, 0.0])
    a, b = radii
    beside = away - a - b
    within = np.abs(a - b) - away
    gap = np.maximum(np.maximum(beside, within), 0.0)
    inside = within > beside  # one in the other: on the far side of the outer one's centre
    first = centres[0] + unit * np.where(inside & (b > a), -a, a)[:, None]
    second = centres[1] + unit * np.where(inside & (a >= b), b, -b)[:, None]
    cross = np.flatnonzero((beside < 0.0) & (within < 0.0))
    if len(cross):
        a, b, d = a[cross], b[cross], away[cross]
        along = (d * d + a * a - b * b) / (2.0 * d)
        up = np.sqrt(np.maximum(a * a - along * along, 0.0))
        u = unit[cross]
        left = np.column_stack((-u[:, 1], u[:, 0]))
        met = centres[0][cross] + u * along[:, None] + left * up[:, None]
        first[cross] = second[cross] = met
    return gap, first, second
