"""Hills: the way from one valley of the speed to the next, up one climb and down another.

The descent to the right valley is the climb out of it, run backwards.  Between both the head
settles at one level, the peak; the higher the peak, the longer both climbs, so the highest
that fits into the hill is found by halving.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.motion.jerk_climbs import Corners, Launches, launches
from analyzer.motion.jerk_ramps import BISECTIONS
from analyzer.motion.pieces import Pieces

STEPS = 16
"""Steps of false position before plain halving."""

LEFT_OVER = 1e-11
"""Share of a hill that may be left over when its peak is found."""


@dataclass(frozen=True, eq=False)
class Hills:
    """Ways between valleys, h of them.

    Attributes
    ----------
    length : ndarray, shape (h,)
        Way from valley to valley. [mm]
    left, right : ndarray, shape (h,)
        Speed of both valleys. [mm/s]
    top : ndarray, shape (h,)
        Highest speed allowed between. [mm/s]
    acceleration, jerk : ndarray, shape (h,)
        Limits. [mm/s^2], [mm/s^3]
    """

    length: Floats
    left: Floats
    right: Floats
    top: Floats
    acceleration: Floats
    jerk: Floats


@dataclass(frozen=True, eq=False)
class Solved:
    """Hills with their climbs and peaks; `fits` is false where even the valleys do not meet."""

    hills: Hills
    climbs: Launches
    peak: Floats
    fits: Bools


def solve(hills: Hills, corners: Corners) -> Solved:
    """Return the fastest way over every hill.

    Parameters
    ----------
    hills : Hills
        Ways between valleys.
    corners : Corners
        Climb 2 h is that from the left valley of hill h, climb 2 h + 1 that from the right.
    """
    both = np.column_stack((hills.left, hills.right)).ravel()
    climbs = launches(
        corners, both, np.repeat(hills.acceleration, 2), np.repeat(hills.jerk, 2)
    )  # fmt: skip
    rows = np.arange(len(hills.length))
    floor = np.maximum(hills.left, hills.right)
    room = hills.length * (1.0 + 1e-12) + 1e-12
    fits = (_needs(hills, climbs, rows, floor) <= room) & (hills.top >= floor * (1.0 - 1e-12))
    peak = np.where(_needs(hills, climbs, rows, np.maximum(hills.top, floor)) <= hills.length,
                    np.maximum(hills.top, floor), floor)  # fmt: skip
    rows = np.flatnonzero(fits & (peak < hills.top))
    peak[rows] = _highest(hills, climbs, rows, floor[rows])
    return Solved(hills, climbs, peak, fits)


def _highest(hills: Hills, climbs: Launches, rows: Ints, low: Floats) -> Floats:
    """Highest level for which both climbs fit, from below.

    False position, halving the weight of an end that stays (the Illinois rule), and
    plain halving for the few that jump: where a climb waits before a corner.
    """
    low, high = low.copy(), hills.top[rows]
    length = hills.length[rows]
    under = _needs(hills, climbs, rows, low) - length
    over = _needs(hills, climbs, rows, high) - length
    was = np.zeros(len(rows), dtype=bool)
    best = low.copy()  # what is left over is run at the peak, so a trace of it costs nothing
    todo = np.flatnonzero(under < -LEFT_OVER * length)
    for step in range(STEPS + BISECTIONS):
        if not len(todo):
            break
        lo, hi, u, o = low[todo], high[todo], under[todo], over[todo]
        with np.errstate(divide="ignore", invalid="ignore"):
            new = (lo * o - hi * u) / (o - u)
        halve = (step >= STEPS) | (step % 5 == 4) | ~((new > lo) & (new < hi))
        new = np.where(halve, (lo + hi) / 2.0, new)
        got = _needs(hills, climbs, rows[todo], new) - length[todo]
        inside = got <= 0.0
        low[todo], high[todo] = np.where(inside, new, lo), np.where(inside, hi, new)
        again = np.where(inside == was[todo], 0.5, 1.0)
        under[todo] = np.where(inside, got, u * again)
        over[todo] = np.where(inside, o * again, got)
        was[todo] = inside
        best[todo] = np.where(inside, new, best[todo])
        open_ = ~(inside & (got >= -LEFT_OVER * length[todo]))
        open_ &= high[todo] - low[todo] > 4e-16 * high[todo]
        todo = todo[open_]
    return best


def _needs(hills: Hills, climbs: Launches, rows: Ints, level: Floats) -> Floats:
    """Way that both climbs of hills need to settle at a level. [mm]"""
    a, j = hills.acceleration[rows], hills.jerk[rows]
    ways: Floats = climbs.settles(climbs.at(2 * rows, level), level, a, j) + climbs.settles(
        climbs.at(2 * rows + 1, level), level, a, j
    )
    return ways


@dataclass(frozen=True, eq=False)
class _Phases:
    """Up to four pieces of every launch in use (to +j, held, to -j, waiting), shape (u, 4)."""

    used: Ints
    hill: Ints
    speeds: Floats
    rates: Floats
    jerks: Floats
    durations: Floats
    waits: Floats


def _phases(solved: Solved) -> _Phases:
    hills, climbs = solved.hills, solved.climbs
    rows = np.arange(len(hills.length))
    final = climbs.at(np.arange(2 * len(rows)), np.repeat(solved.peak, 2))
    used = np.flatnonzero(np.arange(len(climbs.climb)) <= final[climbs.climb])
    last = final[climbs.climb[used]] == used
    hill = climbs.climb[used] // 2
    a, j, peak = hills.acceleration[hill], hills.jerk[hill], solved.peak[hill]
    cap = np.where(last, peak, climbs.cap[used])
    leaving = np.where(last, 0.0, climbs.leaving[used])
    level = cap + leaving * leaving / (2.0 * j)
    low = climbs.low[used]
    rise = np.maximum(level - low, 0.0)
    turn = np.maximum(np.minimum(a, np.sqrt(j * rise)), leaving)
    met = np.minimum(climbs.rate[used], turn)
    waiting = np.flatnonzero(~last & (leaving == 0.0))
    wait, nothing = np.zeros((2, len(used)))
    if len(waiting):
        settled = climbs.settles(used[waiting], level[waiting], a[waiting], j[waiting])
        wait[waiting] = np.maximum(climbs.place[used[waiting]] - settled, 0.0) / cap[waiting]
    durations = np.stack(
        ((turn - met) / j, np.maximum(rise / a - a / j, 0.0), (turn - leaving) / j, wait), axis=1
    )
    bow = turn * turn / (2.0 * j)
    speeds = np.stack((low + met * met / (2.0 * j), low + bow, level - bow, cap), axis=1)
    rates = np.stack((met, turn, turn, nothing), axis=1)
    jerks = np.stack((j, nothing, -j, nothing), axis=1)
    cruise = np.maximum(hills.length - _needs(hills, climbs, rows, solved.peak), 0.0)
    waits = np.divide(cruise, solved.peak, out=np.zeros(len(rows)), where=solved.peak > 0.0)
    return _Phases(used, hill, speeds, rates, jerks, durations, waits)


def hill_times(solved: Solved) -> Floats:
    """Return the time of every hill, shape (h,). [s]"""
    phases = _phases(solved)
    spent = phases.durations.sum(axis=1)
    times: Floats = np.bincount(phases.hill, spent, len(phases.waits)) + phases.waits
    return times


def pieces_of(solved: Solved) -> Pieces:
    """Return the motion over hills as pieces of constant jerk; row h of the pieces is hill h."""
    hills, climbs = solved.hills, solved.climbs
    rows = np.arange(len(hills.length))
    phases = _phases(solved)
    used, hill = phases.used, phases.hill
    speeds, rates, jerks, durations = phases.speeds, phases.rates, phases.jerks, phases.durations
    order = used - climbs.first[climbs.climb[used]]
    place = order[:, None] * 4 + np.arange(4)
    down = (climbs.climb[used] % 2 == 1)[:, None]
    ends = speeds + (rates + jerks * durations / 2.0) * durations
    turned = -(rates + jerks * durations)
    still = np.zeros(len(rows))
    most = 4 * int(order.max(initial=0)) + 4
    key = hill[:, None] * (2 * most + 1) + np.where(down, 2 * most - place, place)
    columns = (
        np.concatenate((key.ravel(), rows * (2 * most + 1) + most)),
        np.concatenate((np.where(down, ends, speeds).ravel(), solved.peak)),
        np.concatenate((np.where(down, turned, rates).ravel(), still)),
        np.concatenate((jerks.ravel(), still)),
        np.concatenate((durations.ravel(), phases.waits)),
    )
    moving = np.flatnonzero(columns[4] > 0.0)
    sort = moving[np.argsort(columns[0][moving])]
    return Pieces.chained(
        columns[0][sort] // (2 * most + 1), np.maximum(columns[1][sort], 0.0), columns[2][sort],
        columns[3][sort], columns[4][sort], len(rows),
    )  # fmt: skip
