"""The head along its path: lead-in, contour, overlap and stops under one speed profile."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.motion.ceiling import corner_radius, drive_limits, path_ceilings
from analyzer.motion.plan import Profile
from analyzer.motion.profile import speed_profile
from analyzer.motion.traverse import rest_to_rest_times
from analyzer.process.machine import Machine

LEAST_LENGTH = 1e-9
"""A segment that a gap at the end swallows keeps this length. [mm]"""

NO_STOPS: Ints = np.zeros(0, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class Run:
    """Times of all contours, one run each from rest to rest.

    Attributes
    ----------
    profile : Profile
        Speed along the path, row for row with its segments; without lead-in and overlap.
    leads, tails : ndarray, shape (n,)
        Time of every lead-in and of every overlap. [s]
    overlaps : ndarray, shape (n,)
        How far every contour runs on past its start; negative leaves a gap. [mm]
    """

    profile: Profile
    leads: Floats
    tails: Floats
    overlaps: Floats

    def contour_times(self, path: Contours) -> Floats:
        """Time on the path and overlap of every contour, shape (n,). [s]"""
        along = np.bincount(path.owner, self.profile.times, len(path))
        times: Floats = along + self.tails
        return times


def run_along(
    path: Contours, leads: Floats, speeds: Floats, machine: Machine, stops: Ints = NO_STOPS,
    matrix: Floats | None = None,
) -> Run:  # fmt: skip
    """Return the speed from pierce to end of every contour.

    Parameters
    ----------
    path : Contours
        What the head follows.
    leads : ndarray, shape (n,)
        Length of every lead-in; it joins its contour without a stop. [mm]
    speeds : ndarray, shape (n,)
        Speed of every contour on a long straight line. [mm/s]
    machine : Machine
        Acceleration, jerk, corner tolerance, overlap.
    stops : ndarray of int, shape (k,)
        Segments at whose start the head stands still.
    matrix : ndarray, shape (2, 2), optional
        Rotation from the axes of the path to those of the machine, for axis limits.
    """
    drives = drive_limits(path, machine, matrix)
    inside, joints = path_ceilings(path, speeds, drives.across, machine.corner_tolerance_mm)
    joints = joints.copy()
    joints[stops] = 0.0
    overlaps = _overlaps(path, machine.overlap_mm)
    lengths = _less_the_gap(path, -overlaps)
    first, count = path.offsets[:-1], len(path)
    # one lead-in before and one overlap behind every contour that has them
    more = np.column_stack((leads, overlaps)).ravel()
    some = more > 0.0
    at = np.column_stack((first, path.offsets[1:])).ravel()[some]
    corner = corner_radius(path.turns[first], machine.corner_tolerance_mm)
    turn = np.sqrt(drives.acceleration_anyhow * corner)
    tail = np.minimum(inside[first], speeds)
    allowed = np.column_stack((speeds, tail)).ravel()[some]
    joined = np.column_stack((np.full(count, np.inf), turn)).ravel()[some]
    runs = path.offsets + np.concatenate(([0], np.cumsum(some.reshape(-1, 2).sum(axis=1))))
    profile = speed_profile(
        np.insert(lengths, at, more[some]), np.insert(inside, at, allowed),
        np.insert(joints, at, joined), runs,
        np.insert(drives.along, at, drives.acceleration_anyhow),
        np.insert(drives.jerk, at, drives.jerk_anyhow),
    )  # fmt: skip
    added = np.insert(np.zeros(len(lengths), dtype=bool), at, True)
    times = np.zeros(2 * count)
    times[some] = profile.times[added]
    return Run(profile.take(~added), times[::2], times[1::2], overlaps)


def _overlaps(path: Contours, wanted: float) -> Floats:
    """Overlap of every contour; none on open lines, a gap only where most of a contour is left."""
    fits = path.closed & (path.length > 2.0 * abs(wanted))
    return np.where(fits, wanted, 0.0)


def _less_the_gap(path: Contours, gaps: Floats) -> Floats:
    """Segment lengths with `gaps` taken off the end of every contour, shape (s,). [mm]"""
    if not (gaps > 0.0).any():
        return path.lengths
    ended = np.cumsum(path.lengths)
    total = ended[path.offsets[1:] - 1][path.owner]
    cut = np.clip(gaps[path.owner] - (total - ended), 0.0, path.lengths)
    return np.maximum(path.lengths - cut, np.minimum(path.lengths, LEAST_LENGTH))


def move_times(distances: Floats, machine: Machine) -> Floats:
    """Return the time of moves between contours, head lift included, shape (n,). [s]

    Moves up to `hop_up_to_mm` hide the lift in the move.
    """
    moves = rest_to_rest_times(
        distances, machine.rapid_mm_s, machine.rapid_acceleration * 1000.0, machine.jerk * 1000.0
    )  # fmt: skip
    lifts = np.where(distances > machine.hop_up_to_mm, machine.lift_s, 0.0)
    times: Floats = moves + lifts
    return times
