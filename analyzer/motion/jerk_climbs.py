"""Climbs: the fastest way up from a valley of the ceiling, below rising corners.

A climb starts without acceleration and accelerates as hard as it may.  Every corner ahead
(a place and the speed allowed there; the ceiling beyond is higher) asks for a level at which
the jerk has to turn.  The least level of all is the corner that bites: the head passes it at
its speed, still accelerating if it can, and from there a new launch begins.  A launch met
with an acceleration is the same curve as one begun earlier, slower and without.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk_ramps import corner_rates, launch_ways, ramp_lengths

LEVELS = 0.005
"""Corners of one climb closer in speed than this share are taken together, the lower way."""


@dataclass(frozen=True, eq=False)
class Launches:
    """Launches of many climbs, sorted by climb and order.

    Attributes
    ----------
    climb : ndarray of int, shape (l,)
        Climb each belongs to.
    first : ndarray of int, shape (c + 1,)
        First launch of every climb, and the number of launches.
    start, low : ndarray, shape (l,)
        Place [mm] and speed [mm/s] of the launch without acceleration.
    rate : ndarray, shape (l,)
        Acceleration at which it is met. [mm/s^2]
    level : ndarray, shape (l,)
        Level at which it is met. [mm/s]
    place, cap, leaving : ndarray, shape (l,)
        Corner at which it ends: place [mm], speed [mm/s], acceleration [mm/s^2]; infinite
        place for the last launch of a climb.
    """

    climb: Ints
    first: Ints
    start: Floats
    low: Floats
    rate: Floats
    level: Floats
    place: Floats
    cap: Floats
    leaving: Floats

    def at(self, climbs: Ints, levels: Floats) -> Ints:
        """Return the launch on which each climb comes to a level, shape (k,)."""
        found = self.first[climbs + 1] - 1
        several = np.flatnonzero(found > self.first[climbs])
        if len(several):
            keys, scale = self._keys
            climb, level = climbs[several], levels[several]
            sought = climb + np.minimum(level / scale, 0.75)
            least, most = self.first[climb], found[several]
            index = np.clip(np.searchsorted(keys, sought, side="right") - 1, least, most)
            # the keys of far climbs are coarse: one step back or on where they missed
            index -= (index > least) & (self.level[index] > level)
            after = np.minimum(index + 1, most)
            found[several] = np.where(self.level[after] <= level, after, index)
        return found

    @cached_property
    def _keys(self) -> tuple[Floats, float]:
        """Climb and level in one rising number, and the speed that is 1 in it."""
        scale = 2.0 * float(self.level.max(initial=1e-300))
        return self.climb + self.level / scale, scale

    def settles(self, launch: Ints, levels: Floats, acceleration: Floats, jerk: Floats) -> Floats:
        """Return how far from its valley each launch settles at a level, shape (k,). [mm]"""
        way: Floats = self.start[launch] + ramp_lengths(
            self.low[launch], levels, acceleration, jerk
        )
        return way


@dataclass(frozen=True, eq=False)
class Corners:
    """Corners of many climbs, sorted by climb and place.

    Attributes
    ----------
    climb : ndarray of int, shape (k,)
        Climb each belongs to.
    place : ndarray, shape (k,)
        Way from the valley, >= 0. [mm]
    cap : ndarray, shape (k,)
        Speed allowed there. [mm/s]
    """

    climb: Ints
    place: Floats
    cap: Floats

    def take(self, keep: Bools) -> Corners:
        """Return the corners chosen by a mask."""
        return Corners(self.climb[keep], self.place[keep], self.cap[keep])


def launches(corners: Corners, valley: Floats, acceleration: Floats, jerk: Floats) -> Launches:
    """Return the launches of climbs from valleys.

    Parameters
    ----------
    corners : Corners
        What lies ahead.
    valley, acceleration, jerk : ndarray, shape (c,)
        Speed of every valley [mm/s] and the limits of every climb.
    """
    ahead = _biting(corners, valley, acceleration, jerk)
    count = len(valley)
    start, low, rate = np.zeros(count), valley.astype(float), np.zeros(count)
    level = low.copy()
    rows: list[tuple[Ints, Floats, Floats, Floats, Floats, Floats, Floats, Floats]] = []
    while len(ahead.climb):
        c = ahead.climb
        rates, free = corner_rates(
            start[c], low[c], ahead.place, ahead.cap, acceleration[c], jerk[c]
        )
        ahead, rates = ahead.take(~free), rates[~free]
        if not len(ahead.climb):
            break
        c = ahead.climb
        pick = _last_least(c, ahead.cap + rates * rates / (2.0 * jerk[c]))
        who, place, cap, leaving = c[pick], ahead.place[pick], ahead.cap[pick], rates[pick]
        rows.append((who, start[who], low[who], rate[who], level[who], place, cap, leaving))
        time = leaving / jerk[who]
        low[who] = cap - leaving * time / 2.0
        start[who] = place - time * (low[who] + leaving * time / 6.0)
        rate[who], level[who] = leaving, cap + leaving * time / 2.0
        passed = np.zeros(count)
        passed[who] = place
        ahead = ahead.take(ahead.place > passed[c])
    everyone, never = np.arange(count), np.full(count, np.inf)
    rows.append((everyone, start, low, rate, level, never, never, np.zeros(count)))
    columns = [np.concatenate(column) for column in zip(*rows, strict=True)]
    order = np.argsort(columns[0], kind="stable")
    climb = columns[0][order].astype(np.int64)
    first = np.searchsorted(climb, np.arange(count + 1))
    return Launches(climb, first, *(column[order] for column in columns[1:]))


def _biting(corners: Corners, valley: Floats, acceleration: Floats, jerk: Floats) -> Corners:
    """Corners that the climb could meet at all, each lower than those beyond it."""
    c = corners.climb
    meets = launch_ways(valley[c], corners.cap, acceleration[c], jerk[c]) < corners.place
    ahead = corners.take(meets)
    if not len(ahead.climb):
        return ahead
    beyond = _least_beyond(ahead.climb, ahead.cap)
    ahead = ahead.take(ahead.cap < beyond)
    step = np.floor(np.log(np.maximum(ahead.cap, 1e-9)) / LEVELS).astype(np.int64)
    head = np.ones(len(step), dtype=bool)
    head[1:] = (np.diff(step) != 0) | (np.diff(ahead.climb) != 0)
    last = np.append(np.flatnonzero(head)[1:] - 1, len(step) - 1)
    return Corners(ahead.climb[head], ahead.place[last], ahead.cap[head])


def _least_beyond(group: Ints, values: Floats) -> Floats:
    """Least value behind every element within its group; infinite for the last."""
    least = np.full(len(values), np.inf)
    least[:-1] = np.where(group[1:] == group[:-1], values[1:], np.inf)
    step = 1
    while step < len(values):
        same = group[step:] == group[:-step]
        if not same.any():
            break
        least[:-step] = np.where(same, np.minimum(least[:-step], least[step:]), least[:-step])
        step *= 2
    return least


def _last_least(group: Ints, values: Floats) -> Ints:
    """Index of the least value of every group (sorted), the last of equals."""
    starts = np.flatnonzero(np.diff(group, prepend=-1))
    least = np.minimum.reduceat(values, starts)
    counts = np.diff(np.append(starts, len(group)))
    equal = values <= np.repeat(least, counts) * (1.0 + 1e-12)
    index = np.where(equal, np.arange(len(group)), -1)
    found: Ints = np.maximum.reduceat(index, starts)
    return found
