"""Temperatures by superposition: the heat of all earlier pieces, old ones merged.

The rise that a piece of heat q (per thickness) leaves in a plate is, after the time a at the
distance r (Carslaw and Jaeger, *Conduction of Heat in Solids*, 2nd ed. 1959, 10.3; from memory)

    q / (4 pi alpha a rho c) * exp(-r^2 / 4 alpha a) * exp(-a / memory) * insulation

Pieces lie in the order of time, so a tree over that order merges what was cut together.  A branch
stands for its pieces where, seen from the target, it is short against its age and small against
the way heat has gone; its heat then lies as a bell of the same mean and spread.  Nothing depends on
the axes of the drawing, as cells of a grid would.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.effects.heat_sources import PlateHeat, Sources, image_share
from analyzer.geometry.contours import Bools, Floats, Ints

TIME_SHARE = 0.25
"""A branch is merged while half its time is at most this share of its age."""

WIDTH_SHARE = 0.35
"""And while its spread is at most this share of sqrt(4 alpha age)."""

STEEPEST = 3.0
"""Where a bell falls faster than that, little of it is left, and is not looked at closer. [-]"""

FAR = 9.0
"""exp(-FAR) of a source's heat is nothing: 0.01 %; by distance and by what the air took."""

TARGETS_AT_ONCE = 512


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
        found: Floats = np.zeros(len(times))
        for low in range(0, len(times) if self._levels else 0, TARGETS_AT_ONCE):
            some = slice(low, low + TARGETS_AT_ONCE)
            found[some] = self._rise(xy[some], times[some], least_age[some], begun[some])
        return found

    def _rise(self, xy: Floats, times: Floats, least_age: Floats, open_since: Floats) -> Floats:
        found: Floats = np.zeros(len(times))
        target = np.arange(len(times))
        node: Ints = np.zeros(len(times), np.int64)
        four_alpha = 4.0 * self.plate.diffusivity
        until = times - least_age
        for k in range(len(self._levels) - 1, -1, -1):
            level = self._levels[k]
            begun = level.first[node] < until[target]
            target, node = target[begun], node[begun]
            if not len(target):
                break
            dx, dy = xy[target, 0] - level.x[node], xy[target, 1] - level.y[node]
            age = times[target] - level.time[node]
            fits = np.ones(len(target), bool)
            if k:
                spread = level.xx[node] + level.yy[node]
                fits = self._alike(level, node, age, spread, dx * dx + dy * dy)
                fits &= level.last[node] < until[target]
                since = open_since[target]
                fits &= (level.first[node] >= since) | (level.last[node] < since)
                near = np.maximum(np.hypot(dx, dy) - 4.0 * np.sqrt(spread), 0.0)
                oldest = times[target] - level.first[node]
                lost = np.maximum(times[target] - level.last[node], 0.0) / self.plate.memory
                nothing = near**2 > (FAR - lost) * four_alpha * oldest
                split = ~(fits | nothing)
                fits &= ~nothing
            t, n = target[fits], node[fits]
            if len(t):
                closed = level.first[n] < open_since[t]
                value = self._share(level, n, dx[fits], dy[fits], age[fits], closed)
                found += np.bincount(t, value, len(found))
            if k:
                target = np.repeat(target[split], 2)
                node = (2 * node[split][:, None] + np.array([0, 1])).ravel()
                inside = node < len(self._levels[k - 1].heat)
                target, node = target[inside], node[inside]
        return found

    def _alike(self, level: _Level, node: Ints, age: Floats, spread: Floats, far: Floats) -> Bools:
        """Whether the pieces of branches are nearly one, seen after `age` from sqrt(far) away.

        Far out on a bell its logarithm changes by 1 + r^2 / 4 alpha a times the change in age.
        """
        reach = 4.0 * self.plate.diffusivity * np.maximum(age, 1e-12)
        steep = np.minimum(1.0 + far / reach, STEEPEST)
        half = (level.last[node] - level.first[node]) / 2.0
        fits = half * steep <= TIME_SHARE * age
        return fits & (spread * steep <= WIDTH_SHARE**2 * reach)

    def _share(
        self, level: _Level, n: Ints, dx: Floats, dy: Floats, age: Floats, closed: Bools
    ) -> Floats:
        """Return the rise of branches at targets, shape (k,): bells of spread 2 alpha age + own."""
        wide = 2.0 * self.plate.diffusivity * age
        a, b, c = wide + level.xx[n], level.xy[n], wide + level.yy[n]
        det = a * c - b * b
        power = (c * dx * dx - 2.0 * b * dx * dy + a * dy * dy) / (2.0 * det)
        power += age / self.plate.memory
        image = image_share(np.sqrt(2.0 * wide) / level.across[n])
        image = np.where(closed, image, 1.0) * level.sided[n]
        late = level.late[n]
        strength = level.heat[n] * (late + (2.0 - late) * image)
        bell: Floats = np.exp(-power) / (2.0 * np.pi * np.sqrt(det))
        return strength * bell / self.plate.density_heat


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
        sources.times, sources.times, sources.times, sources.across, sources.sided,
        sources.late,
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
        mean(below.yy) + u * v * dy * dy, mean(below.time), below.first[first],
        below.last[second], 1.0 / mean(1.0 / below.across), mean(below.sided), mean(below.late),
    )  # fmt: skip
