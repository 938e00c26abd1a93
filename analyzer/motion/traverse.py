"""Moves between contours: rest to rest, in closed form, beam off."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analyzer.errors import InputError
from analyzer.geometry.contours import Floats
from analyzer.motion.jerk_climbs import Corners
from analyzer.motion.jerk_hills import Hills, pieces_of, solve


def rest_to_rest_times(
    distances: ArrayLike, speed: float, acceleration: float, jerk: float | None = None
) -> Floats:
    """Return the least time of straight moves that start and end at rest, shape (n,). [s]

    Parameters
    ----------
    distances : array_like, shape (n,)
        Length of every move, >= 0. [mm]
    speed, acceleration : float
        Largest speed [mm/s] and acceleration [mm/s^2], > 0.
    jerk : float, optional
        Largest jerk, > 0; without it jerk is free. [mm/s^3]

    Raises
    ------
    InputError
        If a limit is not positive.

    Notes
    -----
    Without jerk, L >= v^2 / a: L / v + v / a, else 2 sqrt(L / a).  With it the move has
    seven phases: with T = v / a + a / j (2 sqrt(v / j) where v < a^2 / j), L >= v T gives
    L / v + T; else L >= 2 a^3 / j^2 gives 2 (p / a + a / j), p = a / 2 (sqrt(a^2 / j^2 +
    4 L / a) - a / j); else 4 (L / 2 j)^(1/3).  Standard kinematics [1]_.

    References
    ----------
    .. [1] Biagiotti & Melchiorri, *Trajectory Planning for Automatic Machines and
       Robots*, Springer 2008, ch. 3 (from memory).

    Examples
    --------
    >>> rest_to_rest_times([300.0, 1000.0], 2000.0, 15000.0).round(6)
    array([0.283333, 0.633333])
    >>> rest_to_rest_times([300.0, 1000.0], 2000.0, 15000.0, 3e5).round(6)
    array([0.337228, 0.683333])
    """
    limits = (speed, acceleration) if jerk is None else (speed, acceleration, jerk)
    if not all(limit > 0.0 for limit in limits):
        raise InputError(
            f"limits must be positive: {speed:g} mm/s, {acceleration:g} mm/s^2"
            + ("" if jerk is None else f", {jerk:g} mm/s^3"),
            hint="check [machine] in the shop file",
        )
    way = np.asarray(distances, dtype=float)
    if jerk is None:
        cruises = way >= speed**2 / acceleration
        times: Floats = np.where(
            cruises, way / speed + speed / acceleration, 2.0 * np.sqrt(way / acceleration)
        )
        return times
    build_up = acceleration / jerk
    curved = speed < acceleration * build_up
    ramp = 2.0 * np.sqrt(speed / jerk) if curved else speed / acceleration + build_up
    # peak = a / 2 (root - a / j), written without the difference
    root = np.sqrt(build_up**2 + 4.0 * way / acceleration)
    peak = 2.0 * way / (root + build_up)
    short = way < 2.0 * acceleration * build_up**2
    below = np.where(
        short | curved, 4.0 * np.cbrt(way / (2.0 * jerk)), 2.0 * (peak / acceleration + build_up)
    )
    soft: Floats = np.where(way >= speed * ramp, way / speed + ramp, below)
    return soft


def move_times(
    distances: ArrayLike, begin: ArrayLike, end: ArrayLike, speed: float, acceleration: float,
    jerk: float,
) -> Floats:  # fmt: skip
    """Return the least time of straight moves between given speeds, shape (n,). [s]

    The head has no acceleration at either end.

    Parameters
    ----------
    distances : array_like, shape (n,)
        Length of every move, > 0. [mm]
    begin, end : array_like, shape (n,)
        Speed at both ends, 0 to `speed`. [mm/s]
    speed, acceleration, jerk : float
        Limits, > 0. [mm/s], [mm/s^2], [mm/s^3]

    Raises
    ------
    InputError
        If a move is too short to change the speed so much.
    """
    way = np.asarray(distances, dtype=float)
    same = np.ones(len(way))
    hills = Hills(
        way, np.asarray(begin, dtype=float) * same, np.asarray(end, dtype=float) * same,
        speed * same, acceleration * same, jerk * same,
    )  # fmt: skip
    nothing = Corners(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0))
    solved = solve(hills, nothing)
    if not solved.fits.all():
        short = way[~solved.fits].min()
        raise InputError(f"a move of {short:g} mm is too short for its change of speed")
    return pieces_of(solved).row_times


def traverse_lengths(leave: Floats, pierces: Floats) -> Floats:
    """Return the length of the moves from each contour to the next, shape (n - 1,). [mm]

    Parameters
    ----------
    leave : ndarray, shape (n, 2)
        Where the head is when each contour is done, in cutting order. [mm]
    pierces : ndarray, shape (n, 2)
        Where each contour is pierced, in cutting order. [mm]
    """
    step = pierces[1:] - leave[:-1]
    lengths: Floats = np.hypot(step[:, 0], step[:, 1])
    return lengths
