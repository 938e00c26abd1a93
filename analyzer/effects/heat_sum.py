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
from functools import cached_property

import numpy as np

from analyzer.effects.heat_sources import PlateHeat, Sources, image_share
from analyzer.effects.heat_targets import Targets
from analyzer.geometry.contours import Floats, Ints

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

    @cached_property
    def spread(self) -> Floats:
        """Square of how far the pieces of every branch lie apart. [mm^2]"""
        return self.xx + self.yy

    @cached_property
    def rim(self) -> Floats:
        """How far from the middle of every branch its heat begins. [mm]"""
        return 4.0 * np.sqrt(self.spread)

    @cached_property
    def half(self) -> Floats:
        """Half the time every branch takes. [s]"""
        return (self.last - self.first) / 2.0


class HeatTree:
    """All pieces of a plan, ready to be asked for temperatures."""

    def __init__(self, sources: Sources, plate: PlateHeat) -> None:
        self.plate = plate
        self._levels = [_leaves(sources)] if len(sources) else []
        while self._levels and len(self._levels[-1].heat) > 1:
            self._levels.append(_merged(self._levels[-1]))

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
            first = self._levels[k].first.take(node)
            begun = np.flatnonzero(first < seen.until_high.take(group))
            if not len(begun):
                break
            group, node = group.take(begun), node.take(begun)
            if not k:
                found += self._added(k, targets, *_each(start, sizes, group, node))
                break
            fits, split = self._sorted_out(k, seen, group, node, first.take(begun))
            found += self._added(
                k, targets, *_each(start, sizes, group.take(fits), node.take(fits))
            )
            group = np.repeat(group.take(split), 2)
            node = np.repeat(2 * node.take(split), 2)
            node[1::2] += 1
            if len(self._levels[k - 1].heat) % 2:  # the last branch stands for one
                inside = np.flatnonzero(node < len(self._levels[k - 1].heat))
                group, node = group.take(inside), node.take(inside)
        return found

    def _sorted_out(
        self, k: int, seen: _Seen, group: Ints, node: Ints, first: Floats
    ) -> tuple[Ints, Ints]:
        """Which branches stand for their pieces, and which must be looked at closer."""
        level = self._levels[k]
        last, spread = level.last.take(node), level.spread.take(node)
        low, radius = seen.low.take(group), seen.radius.take(group)
        dx = seen.x.take(group) - level.x.take(node)
        dy = seen.y.take(group) - level.y.take(node)
        apart = np.sqrt(dx * dx + dy * dy)
        near = np.maximum(apart - radius - level.rim.take(node), 0.0)
        lost = np.maximum(low - last, 0.0) / self.plate.memory
        four_alpha = 4.0 * self.plate.diffusivity
        live = near * near <= (FAR - lost) * four_alpha * (seen.high.take(group) - first)
        # far out on a bell its logarithm changes by 1 + r^2 / 4 alpha a times the change in age
        age = low - level.time.take(node)
        reach = four_alpha * np.maximum(age, 1e-12)
        outer = apart + radius
        steep = np.minimum(1.0 + outer * outer / reach, STEEPEST)
        fits = level.half.take(node) * steep <= TIME_SHARE * age
        fits &= spread * steep <= WIDTH_SHARE**2 * reach
        fits &= last < seen.until_low.take(group)
        since = seen.since.take(group)
        fits &= (first >= since) | (last < since)
        return np.flatnonzero(live & fits), np.flatnonzero(live & ~fits)

    def _added(self, k: int, targets: Targets, t: Ints, n: Ints) -> Floats:
        """Return what branches add at targets t, shape of all targets: bells, spread by age."""
        level = self._levels[k]
        time = level.time.take(n)
        if k == 0:
            done = np.flatnonzero(time < targets.until.take(t))
            t, n, time = t.take(done), n.take(done), time.take(done)
        age = targets.times.take(t) - time
        x, y = targets.xy.T
        dx = x.take(t) - level.x.take(n)
        dy = y.take(t) - level.y.take(n)
        wide = 2.0 * self.plate.diffusivity * age
        if k:
            a, b, c = wide + level.xx.take(n), level.xy.take(n), wide + level.yy.take(n)
            det = a * c - b * b
            power = (c * dx * dx - 2.0 * b * dx * dy + a * dy * dy) / (2.0 * det)
            size = np.sqrt(det)
        else:
            power, size = (dx * dx + dy * dy) / (2.0 * wide), wide
        power += age / self.plate.memory
        image = image_share(np.sqrt(2.0 * wide) / level.across.take(n))
        closed = level.first.take(n) < targets.since.take(t)
        image = np.where(closed, image, 1.0) * level.sided.take(n)
        late = level.late.take(n)
        strength = level.heat.take(n) * (late + (2.0 - late) * image)
        bell: Floats = strength * np.exp(-power) / (2.0 * np.pi * self.plate.density_heat * size)
        return np.bincount(t, bell, len(targets.times)).astype(float, copy=False)


def _each(start: Ints, sizes: Ints, group: Ints, node: Ints) -> tuple[Ints, Ints]:
    """Return every target of some groups with the branch its group has there."""
    many = sizes.take(group)
    t = np.repeat(start.take(group) - np.cumsum(many) + many, many)
    return t + np.arange(len(t)), np.repeat(node, many)


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
