"""Temperatures by superposition: the heat of all earlier pieces, old ones merged.

The rise that a piece of heat q (per thickness) leaves in a plate is, after the time a at the
distance r (Carslaw and Jaeger, *Conduction of Heat in Solids*, 2nd ed. 1959, 10.3; from memory)

    q / (4 pi alpha a rho c) * exp(-r^2 / 4 alpha a) * exp(-a / memory) * insulation

Pieces lie in the order of time, so a tree over that order merges what was cut together.  A branch
stands for its pieces where, seen from the target, it is short against its age and small against
the way heat has gone; its heat then lies as a bell of the same mean and spread.  Nothing depends on
the axes of the drawing, as cells of a grid would.  Targets of one contour that lie close in place
and time go through the tree together: a branch stands for its pieces where it does for all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.effects.heat_sources import PlateHeat, Sources, image_share
from analyzer.effects.heat_targets import Targets
from analyzer.geometry.contours import Bools, Floats, Ints

TIME_SHARE = 0.25
"""A branch is merged while half its time is at most this share of its age."""

WIDTH_SHARE = 0.35
"""And while its spread is at most this share of sqrt(4 alpha age)."""

STEEPEST = 3.0
"""Where a bell falls faster than that, little of it is left, and is not looked at closer. [-]"""

FAR = 9.0
"""exp(-FAR) of a source's heat is nothing: 0.01 %; by distance and by what the air took."""

AT_ONCE = 1024
"""Targets that go through the tree together, about: their looks stay in the cache. [-]"""


@dataclass(frozen=True, eq=False)
class _Level:
    """Branches of 2^k pieces: sums and moments, all of shape (nodes,)."""

    heat: Floats
    x: Floats
    y: Floats
    xx: Floats
    xy: Floats
    yy: Floats
    time: Floats
    first: Floats
    last: Floats
    across: Floats
    sided: Floats
    late: Floats

    @property
    def spread(self) -> Floats:
        """Square of how far the pieces of every branch lie apart. [mm^2]"""
        return self.xx + self.yy


class HeatTree:
    """All pieces of a plan, ready to be asked for temperatures."""

    def __init__(self, sources: Sources, plate: PlateHeat) -> None:
        self.plate = plate
        self._levels = [_leaves(sources)] if len(sources) else []
        while self._levels and len(self._levels[-1].heat) > 1:
            self._levels.append(_merged(self._levels[-1]))
        self._spreads = [level.spread for level in self._levels]

    def rise(
        self, xy: Floats, times: Floats, least_age: Floats, open_since: Floats | None = None
    ) -> Floats:
        """Return the rise over the plate's start at points and times, shape (k,). [K]

        Parameters
        ----------
        xy : ndarray, shape (k, 2)
            Where. [mm]
        times : ndarray, shape (k,)
            When; pieces cut later do not count. [s]
        least_age : ndarray, shape (k,)
            Nor do younger ones: what the beam itself brings along. [s]
        open_since : ndarray, shape (k,), optional
            Since when the contour is being cut that is not yet closed at that time; infinite
            where there is none.  Until it closes, the heat of both its sides counts. [s]
        """
        begun = np.full(len(times), np.inf) if open_since is None else open_since
        return self.rises(Targets(xy, times, least_age, begun, np.arange(len(times))))

    def rises(self, targets: Targets) -> Floats:
        """Return the rise at every target, shape (k,). [K]"""
        found: Floats = np.zeros(len(targets.times))
        if not self._levels or not len(found):
            return found
        order, begin = targets.grouped(self.plate)
        sizes = np.diff(np.append(begin, len(order)))
        low = 0
        while low < len(begin):
            stop = int(np.searchsorted(begin, begin[low] + AT_ONCE, side="right"))
            stop = max(stop - 1, low + 1) if stop < len(begin) else len(begin)
            some = order[begin[low] : begin[low] + int(sizes[low:stop].sum())]
            found[some] = self._rise(targets.take(some), sizes[low:stop])
            low = stop
        return found

    def _rise(self, targets: Targets, sizes: Ints) -> Floats:
        """Return the rises of some targets that lie group by group."""
        found: Floats = np.zeros(len(targets.times))
        start = np.cumsum(sizes) - sizes
        seen = _Seen.of(targets, start, sizes)
        group = np.arange(len(sizes))
        node: Ints = np.zeros(len(sizes), np.int64)
        for k in range(len(self._levels) - 1, -1, -1):
            begun = self._levels[k].first[node] < seen.until_high[group]
            group, node = group[begun], node[begun]
            if not len(group):
                break
            fits, split = self._sorted_out(k, seen, group, node)
            some, n = group[fits], node[fits]
            if len(some):
                many = sizes[some]
                t = np.repeat(start[some] - np.cumsum(many) + many, many) + np.arange(many.sum())
                found += self._added(k, targets, t, np.repeat(n, many))
            if k:
                group = np.repeat(group[split], 2)
                node = (2 * node[split][:, None] + np.array([0, 1])).ravel()
                inside = node < len(self._levels[k - 1].heat)
                group, node = group[inside], node[inside]
        return found

    def _sorted_out(self, k: int, seen: _Seen, group: Ints, node: Ints) -> tuple[Bools, Bools]:
        """Which branches stand for their pieces, and which must be looked at closer."""
        level = self._levels[k]
        if k == 0:
            every = np.ones(len(group), bool)
            return every, ~every
        spread = self._spreads[k][node]
        apart = np.hypot(seen.x[group] - level.x[node], seen.y[group] - level.y[node])
        radius, first, last = seen.radius[group], level.first[node], level.last[node]
        near = np.maximum(apart - radius - 4.0 * np.sqrt(spread), 0.0)
        lost = np.maximum(seen.low[group] - last, 0.0) / self.plate.memory
        four_alpha = 4.0 * self.plate.diffusivity
        near *= near
        live = near <= (FAR - lost) * four_alpha * (seen.high[group] - first)
        # far out on a bell its logarithm changes by 1 + r^2 / 4 alpha a times the change in age
        age = seen.low[group] - level.time[node]
        reach = four_alpha * np.maximum(age, 1e-12)
        steep = np.minimum(1.0 + (apart + radius) ** 2 / reach, STEEPEST)
        fits = live & ((last - first) / 2.0 * steep <= TIME_SHARE * age)
        fits &= spread * steep <= WIDTH_SHARE**2 * reach
        fits &= last < seen.until_low[group]
        since = seen.since[group]
        fits &= (first >= since) | (last < since)
        return fits, live & ~fits

    def _added(self, k: int, targets: Targets, t: Ints, n: Ints) -> Floats:
        """Return what branches add at targets t, shape of all targets: bells, spread by age."""
        level = self._levels[k]
        time = level.time[n]
        if k == 0:
            done = time < targets.until[t]
            t, n, time = t[done], n[done], time[done]
        age = targets.times[t] - time
        dx, dy = targets.xy[t, 0] - level.x[n], targets.xy[t, 1] - level.y[n]
        wide = 2.0 * self.plate.diffusivity * age
        if k:
            a, b, c = wide + level.xx[n], level.xy[n], wide + level.yy[n]
            det = a * c - b * b
            power = (c * dx * dx - 2.0 * b * dx * dy + a * dy * dy) / (2.0 * det)
            size = np.sqrt(det)
        else:
            power, size = (dx * dx + dy * dy) / (2.0 * wide), wide
        power += age / self.plate.memory
        image = image_share(np.sqrt(2.0 * wide) / level.across[n])
        closed = level.first[n] < targets.since[t]
        image = np.where(closed, image, 1.0) * level.sided[n]
        late = level.late[n]
        strength = level.heat[n] * (late + (2.0 - late) * image)
        bell: Floats = strength * np.exp(-power) / (2.0 * np.pi * self.plate.density_heat * size)
        return np.bincount(t, bell, len(targets.times)).astype(float, copy=False)


class BothHands:
    """The same cuts as planned, and as those of the other hand: two trees."""

    def __init__(self, sources: Sources, plate: PlateHeat) -> None:
        self.trees = HeatTree(sources, plate), HeatTree(sources.other_hand(), plate)

    def rises(self, asked: Sequence[Targets]) -> list[Floats]:
        """Return the rises at targets of one hand and of the other. [K]"""
        return [tree.rises(some) for tree, some in zip(self.trees, asked, strict=True)]

    def worse(self, one: Targets, other: Targets) -> Floats:
        """Return the higher of the rises at two lists of targets of one length, shape (k,). [K]"""
        higher: Floats = np.maximum(*self.rises((one, other)))
        return higher


@dataclass(frozen=True, eq=False)
class _Seen:
    """What holds for all targets of every group: middle, radius, and ranges of their times."""

    x: Floats
    y: Floats
    radius: Floats
    low: Floats
    high: Floats
    until_low: Floats
    until_high: Floats
    since: Floats

    @staticmethod
    def of(targets: Targets, start: Ints, sizes: Ints) -> _Seen:
        """Return it for targets that lie group by group."""
        middle = np.add.reduceat(targets.xy, start) / sizes[:, None]
        far = np.hypot(*(targets.xy - np.repeat(middle, sizes, axis=0)).T)
        return _Seen(
            middle[:, 0], middle[:, 1], np.maximum.reduceat(far, start),
            np.minimum.reduceat(targets.times, start), np.maximum.reduceat(targets.times, start),
            np.minimum.reduceat(targets.until, start), np.maximum.reduceat(targets.until, start),
            targets.since[start],
        )  # fmt: skip


def direct_rise(sources: Sources, plate: PlateHeat, xy: Floats, times: Floats) -> Floats:
    """Return the rise by adding up every piece by itself, shape (k,); slow, for checks. [K]"""
    found = np.zeros(len(times))
    for k, (point, time) in enumerate(zip(xy, times, strict=True)):
        some = sources.times < time
        age = time - sources.times[some]
        far = ((sources.xy[some] - point) ** 2).sum(axis=1)
        wide = 4.0 * plate.diffusivity * age
        image = image_share(np.sqrt(wide) / sources.across[some]) * sources.sided[some]
        late = sources.late[some]
        strength = sources.heat[some] * (late + (2.0 - late) * image)
        each = strength * np.exp(-far / wide - age / plate.memory) / (np.pi * wide)
        found[k] = each.sum() / plate.density_heat
    return found


def _leaves(sources: Sources) -> _Level:
    nothing = np.zeros(len(sources))
    return _Level(
        sources.heat, sources.xy[:, 0], sources.xy[:, 1], nothing, nothing, nothing,
        sources.times, sources.times, sources.times, sources.across, sources.sided, sources.late,
    )  # fmt: skip


def _merged(below: _Level) -> _Level:
    """Return the branches of two of the level below each; an odd one stands alone."""
    first = np.arange(0, len(below.heat), 2)
    second = np.minimum(first + 1, len(below.heat) - 1)
    twin = np.where(second > first, below.heat[second], 0.0)
    heat = below.heat[first] + twin
    safe = np.where(heat > 0.0, heat, 1.0)
    u, v = below.heat[first] / safe, twin / safe

    def mean(values: Floats) -> Floats:
        return u * values[first] + v * values[second]

    dx = below.x[second] - below.x[first]
    dy = below.y[second] - below.y[first]
    return _Level(
        heat, mean(below.x), mean(below.y),
        mean(below.xx) + u * v * dx * dx, mean(below.xy) + u * v * dx * dy,
        mean(below.yy) + u * v * dy * dy, mean(below.time),
        np.minimum(below.first[first], below.first[second]),
        np.maximum(below.last[first], below.last[second]),
        1.0 / mean(1.0 / below.across), mean(below.sided), mean(below.late),
    )  # fmt: skip
