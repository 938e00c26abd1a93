"""Moves between contours: rest to rest, in closed form, beam off."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analyzer.errors import InputError
from analyzer.geometry.contours import Floats


def rest_to_rest_times(distances: ArrayLike, speed: float, acceleration: float) -> Floats:
    """Return the least time of straight moves that start and end at rest, shape (n,). [s]

    Parameters
    ----------
    distances : array_like, shape (n,)
        Length of every move, >= 0. [mm]
    speed, acceleration : float
        Largest speed [mm/s] and acceleration [mm/s^2], > 0.  Jerk is not counted.

    Raises
    ------
    InputError
        If a limit is not positive.

    Notes
    -----
    L >= v^2 / a: L / v + v / a, else 2 sqrt(L / a).  Standard kinematics.

    Examples
    --------
    >>> rest_to_rest_times([300.0, 1000.0], 2000.0, 15000.0).round(6)
    array([0.283333, 0.633333])
    """
    if not (speed > 0.0 and acceleration > 0.0):
        raise InputError(
            f"limits must be positive: {speed:g} mm/s, {acceleration:g} mm/s^2",
            hint="check [machine] in the shop file",
        )
    way = np.asarray(distances, dtype=float)
    cruises = way >= speed**2 / acceleration
    times: Floats = np.where(
        cruises, way / speed + speed / acceleration, 2.0 * np.sqrt(way / acceleration)
    )
    return times


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
