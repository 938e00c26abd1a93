"""Ramps of bounded jerk in closed form: time, length, reach, and where a corner bites.

A *ramp* leads from one speed to another with no acceleration at either end: jerk +j up to
at most the acceleration a, held, then jerk -j.  With rise = v1 - v0 it takes
2 sqrt(rise / j) while rise <= a^2 / j, else rise / a + a / j, and by symmetry runs at the mean
of both speeds.  A *launch* is a ramp whose end is left open: its *level* is the speed it would
settle at if the jerk turned to -j now.  Units mm, s.  All derived from constant-jerk motion.
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Bools, Floats

BISECTIONS = 52
"""Halvings of a bracket: down to the last bits of a double."""


def ramp_times(rise: Floats, acceleration: Floats, jerk: Floats) -> Floats:
    """Return the time of ramps that change the speed by `rise` >= 0. [s]

    Examples
    --------
    >>> ramp_times(np.array([80.0, 400.0]), np.array(8000.0), np.array(2e5)).round(4)
    array([0.04, 0.09])
    """
    full = acceleration * acceleration / jerk
    times: Floats = np.where(
        rise <= full, 2.0 * np.sqrt(rise / jerk), rise / acceleration + acceleration / jerk
    )
    return times


def ramp_lengths(low: Floats, high: Floats, acceleration: Floats, jerk: Floats) -> Floats:
    """Return the length of ramps between the speeds `low` <= `high`. [mm]

    Holds for a negative `low` too: a launch met with acceleration began there.
    """
    rise = np.maximum(high - low, 0.0)
    lengths: Floats = (low + high) / 2.0 * ramp_times(rise, acceleration, jerk)
    return lengths


def reach(speed: Floats, length: Floats, acceleration: Floats, jerk: Floats) -> Floats:
    """Return the speed a ramp from `speed` comes to over `length`, without acceleration. [mm/s]

    u = sqrt(v1 - v0) solves u^3 + 2 v0 u = d sqrt(j) while v1 - v0 <= a^2 / j; else
    v1 = sqrt((v0 - h)^2 + 2 a d) - h with h = a^2 / (2 j).  It does not grow with `speed`
    everywhere: from a lower speed there is more time to build acceleration up.

    Examples
    --------
    >>> a, j = np.array(8000.0), np.array(2e5)
    >>> reach(np.array([0.0, 10.0]), np.array(5.0), a, j).round(3)
    array([170.998, 167.931])
    """
    half = acceleration * acceleration / (2.0 * jerk)
    want = length * np.sqrt(jerk)
    # the one real root of u^3 + p u = q by hyperbolic functions, which do not cancel
    third = np.maximum(2.0 * speed / 3.0, 1e-300)
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        angle = np.arcsinh(want / (2.0 * third * np.sqrt(third)))
        u = 2.0 * np.sqrt(third) * np.sinh(angle / 3.0)
    u = np.where((third < 1e-9) | ~np.isfinite(u), np.cbrt(want), u)
    short = speed + u * u
    long = np.sqrt((speed - half) ** 2 + 2.0 * acceleration * length) - half
    reached: Floats = np.where(u * u <= 2.0 * half, short, long)
    return reached


def launch_ways(low: Floats, speed: Floats, acceleration: Floats, jerk: Floats) -> Floats:
    """Return the way of an open launch from `low` until it runs at `speed`. [mm]"""
    half = acceleration * acceleration / (2.0 * jerk)
    rise = np.maximum(speed - low, 0.0)
    curved = np.minimum(rise, half)
    time = np.sqrt(2.0 * curved / jerk)
    way = time * (low + jerk * time * time / 6.0)
    turned = low + curved
    held: Floats = way + (speed - turned) * (speed + turned) / (2.0 * acceleration)
    return np.where(rise <= half, way, held)


def settling_ways(speed: Floats, rate: Floats, jerk: Floats) -> Floats:
    """Return the way from `speed`, accelerating at `rate`, until jerk -j has ended that. [mm]"""
    ways: Floats = (speed + rate * rate / (3.0 * jerk)) * rate / jerk
    return ways


def corner_rates(
    start: Floats, low: Floats, place: Floats, cap: Floats, acceleration: Floats, jerk: Floats
) -> tuple[Floats, Bools]:
    """Return the acceleration with which a launch may at most pass a corner.

    Parameters
    ----------
    start, low : ndarray, shape (k,)
        Place [mm] and speed [mm/s] of launches without acceleration.
    place, cap : ndarray, shape (k,)
        Place of the corner, and the speed allowed there.
    acceleration, jerk : ndarray, shape (k,)
        Limits.

    Returns
    -------
    rates : ndarray, shape (k,)
        Acceleration in the corner when the launch turns to -j just in time to pass it at
        `cap`; 0 where it settles at `cap` before. [mm/s^2]
    free : ndarray of bool, shape (k,)
        The launch passes below the corner without turning.
    """
    most = np.minimum(acceleration, np.sqrt(2.0 * jerk * np.maximum(cap - low, 0.0)))
    slack = 1e-12 * np.maximum(np.abs(place), 1.0)
    free = start + launch_ways(low, cap, acceleration, jerk) >= place - slack
    least, below = np.zeros(len(cap)), most.copy()
    for _ in range(40):  # to a hundred-millionth of the acceleration
        middle = (least + below) / 2.0
        level = cap + middle * middle / (2.0 * jerk)
        passes = (
            start + ramp_lengths(low, level, acceleration, jerk) - settling_ways(cap, middle, jerk)
        )
        late = passes >= place  # at its cap only beyond the corner: may still accelerate more
        least = np.where(late, middle, least)
        below = np.where(late, below, middle)
    return np.where(free, most, least), free
