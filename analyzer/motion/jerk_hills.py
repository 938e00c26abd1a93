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
    low, high = floor[rows], hills.top[rows]
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        inside = _needs(hills, climbs, rows, middle) <= hills.length[rows]
        low = np.where(inside, middle, low)
        high = np.where(inside, high, middle)
    peak[rows] = low
    return Solved(hills, climbs, peak, fits)


def _needs(hills: Hills, climbs: Launches, rows: Ints, level: Floats) -> Floats:
    """Way that both climbs of hills need to settle at a level. [mm]"""
    a, j = hills.acceleration[rows], hills.jerk[rows]
    ways: Floats = climbs.settles(climbs.at(2 * rows, level), level, a, j) + climbs.settles(
        climbs.at(2 * rows + 1, level), level, a, j
    )
    return ways


def pieces_of(solved: Solved) -> Pieces:
    """Return the motion over hills as pieces of constant jerk; row h of the pieces is hill h."""
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
    rise = np.maximum(level - climbs.low[used], 0.0)
    turn = np.maximum(np.minimum(a, np.sqrt(j * rise)), leaving)
    met = np.minimum(climbs.rate[used], turn)
    settled = climbs.settles(used, level, a, j)
    waiting = ~last & (leaving == 0.0)
    wait = np.zeros(len(used))
    wait[waiting] = (climbs.place[used] - settled)[waiting] / cap[waiting]
    low = climbs.low[used]
    durations = np.stack((
        (turn - met) / j, np.maximum(rise / a - a / j, 0.0), (turn - leaving) / j,
        np.maximum(wait, 0.0),
    ), axis=1)  # fmt: skip
    nothing = np.zeros(len(used))
    speeds = np.stack(
        (low + met * met / (2.0 * j), low + turn * turn / (2.0 * j),
         level - turn * turn / (2.0 * j), cap), axis=1,
    )  # fmt: skip
    rates = np.stack((met, turn, turn, nothing), axis=1)
    jerks = np.stack((j, nothing, -j, nothing), axis=1)
    order = used - climbs.first[climbs.climb[used]]
    place = order[:, None] * 4 + np.arange(4)
    down = (climbs.climb[used] % 2 == 1)[:, None]
    ends = speeds + (rates + jerks * durations / 2.0) * durations
    turned = np.maximum(-(rates + jerks * durations), -a[:, None])
    cruise = np.maximum(hills.length - _needs(hills, climbs, rows, solved.peak), 0.0)
    still = np.zeros(len(rows))
    most = 4 * int(order.max(initial=0)) + 4
    key = hill[:, None] * (2 * most + 1) + np.where(down, 2 * most - place, place)
    with np.errstate(divide="ignore", invalid="ignore"):
        waits = np.where(solved.peak > 0.0, cruise / solved.peak, 0.0)
    columns = (
        np.concatenate((key.ravel(), rows * (2 * most + 1) + most)),
        np.concatenate((np.where(down, ends, speeds).ravel(), solved.peak)),
        np.concatenate((np.where(down, turned, rates).ravel(), still)),
        np.concatenate((jerks.ravel(), still)),
        np.concatenate((durations.ravel(), waits)),
    )
    moving = np.flatnonzero(columns[4] > 0.0)
    sort = moving[np.argsort(columns[0][moving])]
    return Pieces.chained(
        columns[0][sort] // (2 * most + 1), np.maximum(columns[1][sort], 0.0), columns[2][sort],
        columns[3][sort], columns[4][sort], len(rows),
    )  # fmt: skip
