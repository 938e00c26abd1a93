"""Lines and arcs as chord and bulge: length, radius, centre, box, area of the bow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def wrapped(angles: Floats) -> Floats:
    """Return angles brought into (-pi, pi] by whole turns, any shape. [rad]

    Examples
    --------
    >>> (wrapped(np.array([-np.pi, 0.0, 1.5 * np.pi])) / np.pi).tolist()
    [1.0, 0.0, -0.5]
    """
    inside: Floats = np.pi - np.mod(np.pi - angles, 2.0 * np.pi)
    return inside


def arc_lengths(chords: Floats, bulges: Floats) -> Floats:
    """Return the length of segments from chord and bulge, shape (s,). [mm]

    Length = chord * x / sin(x) with x = half the sweep = 2 atan(bulge).
    """
    half_sweep = 2.0 * np.arctan(bulges)
    return chords / np.sinc(half_sweep / np.pi)


def radii(chords: Floats, bulges: Floats) -> Floats:
    """Return the radius of segments, shape (s,); infinite for a line. [mm]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(bulges == 0.0, np.inf, chords * (1.0 + bulges**2) / np.abs(4.0 * bulges))


def centres(starts: Floats, ends: Floats, bulges: Floats) -> Floats:
    """Return the centre of arcs, shape (s, 2); not a number for a line. [mm]"""
    step = ends - starts
    left = np.column_stack((-step[:, 1], step[:, 0]))
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = (1.0 - bulges**2) / (4.0 * bulges)
        centre = (starts + ends) / 2.0 + left * reach[:, None]
    return np.where((bulges == 0.0)[:, None], np.nan, centre)


def bows(chords: Floats, bulges: Floats) -> tuple[Floats, Floats]:
    """Return what lies between arcs and their chords, each of shape (s,).

    Returns
    -------
    area : ndarray
        Positive where the arc bows to the right of the way. [mm^2]
    outward : ndarray
        Its centroid from the middle of the chord, with the sign of the bulge. [mm]
    """
    sweep = 4.0 * np.arctan(bulges)
    flat = np.abs(bulges) < 0.01  # there the closed form loses digits: series in the bulge
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where(flat, 0.0, radii(chords, bulges))
        area = radius**2 / 2.0 * (sweep - np.sin(sweep))
        # centroid of a circular segment from the centre: chord^3 / (12 area)
        reach = np.where(flat, 0.0, chords**3 / (12.0 * np.abs(area)))
    outward = reach - radius * np.cos(sweep / 2.0)
    area = np.where(flat, chords**2 * bulges / 3.0 * (1.0 + bulges**2 / 5.0), area)
    near = 0.2 * chords * np.abs(bulges) * (1.0 + 3.0 / 35.0 * bulges**2)
    return area, np.where(flat, near, outward) * np.sign(bulges)


def boxes(starts: Floats, ends: Floats, bulges: Floats) -> Floats:
    """Return least x, least y, greatest x, greatest y of segments, shape (s, 4). [mm]"""
    low, high = np.minimum(starts, ends), np.maximum(starts, ends)
    chords = np.hypot(*(ends - starts).T)
    bent = np.flatnonzero(chords * np.abs(bulges) > 1e-9)  # twice the sagitta
    if len(bent):
        centre = centres(starts[bent], ends[bent], bulges[bent])
        radius = radii(chords[bent], bulges[bent])
        sweep = 4.0 * np.arctan(bulges[bent])
        start = starts[bent] - centre
        first = np.arctan2(start[:, 1], start[:, 0])
        sense, span = np.sign(sweep), np.abs(sweep)
        for axis, sign, angle in ((0, 1, 0.0), (1, 1, 0.5), (0, -1, 1.0), (1, -1, 1.5)):
            passed = np.flatnonzero(np.mod((angle * np.pi - first) * sense, 2.0 * np.pi) <= span)
            at = centre[passed, axis] + sign * radius[passed]
            target, pick = (high, np.maximum) if sign > 0 else (low, np.minimum)
            row = bent[passed]
            target[row, axis] = pick(target[row, axis], at)
    return np.hstack((low, high))


def points_along(starts: Floats, ends: Floats, half_sweeps: Floats, shares: Floats) -> Floats:
    """Return the point at a share 0..1 of the length of segments, shape (k, 2). [mm]

    Chord to a point: as sin(half its sweep), turned back from the whole chord; holds from a
    straight line to nearly a full circle without the (far) centre.
    """
    step = ends - starts
    reach = shares * np.sinc(half_sweeps * shares / np.pi) / np.sinc(half_sweeps / np.pi)
    turn = half_sweeps * (shares - 1.0)
    cos, sin = reach * np.cos(turn), reach * np.sin(turn)
    along: Floats = np.column_stack(
        (step[:, 0] * cos - step[:, 1] * sin, step[:, 0] * sin + step[:, 1] * cos)
    )
    return starts + along
