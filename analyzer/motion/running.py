"""The head along its path: lead-in, contour, overlap and stops under one speed profile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.motion.ceiling import corner_radius, drive_limits, path_ceilings
from analyzer.motion.plan import Profile
from analyzer.motion.profile import speed_profile
from analyzer.motion.traverse import rest_to_rest_times
from analyzer.process.machine import Machine

LEAST_LENGTH = 1e-9
"""A segment that a gap at the end swallows keeps this length. [mm]"""

MOST_TOGETHER = 100_000
"""About so many segments are solved together, so that memory stays bounded."""

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


@dataclass(frozen=True, eq=False)
class Way:
    """What one head runs along.

    Attributes
    ----------
    path : Contours
        What the head follows.
    leads : ndarray, shape (n,)
        Length of every lead-in; it joins its contour without a stop. [mm]
    speeds : ndarray, shape (n,)
        Speed of every contour on a long straight line. [mm/s]
    stops : ndarray of int, shape (k,)
        Segments at whose start the head stands still.
    matrix : ndarray, shape (2, 2), optional
        Rotation from the axes of the path to those of the machine, for axis limits.
    """

    path: Contours
    leads: Floats
    speeds: Floats
    stops: Ints = field(default_factory=lambda: NO_STOPS)
    matrix: Floats | None = None


def run_along(
    path: Contours, leads: Floats, speeds: Floats, machine: Machine, stops: Ints = NO_STOPS,
    matrix: Floats | None = None,
) -> Run:  # fmt: skip
    """Return the speed from pierce to end of every contour; parameters as in `Way`."""
    return run_all([Way(path, leads, speeds, stops, matrix)], machine)[0]


def run_all(ways: Sequence[Way], machine: Machine) -> list[Run]:
    """Return the run along every way.

    Many are solved together: contours know nothing of one another, and a call for each of
    many small parts costs far more than its few segments do.

    Parameters
    ----------
    ways : sequence of Way
    machine : Machine
        Acceleration, jerk, corner tolerance, overlap.
    """
    laid = [_Laid.out(way, machine) for way in ways]
    sizes = np.cumsum([len(one.lengths) for one in laid])
    group = sizes // MOST_TOGETHER
    runs: list[Run] = []
    for _, members in groupby(zip(group.tolist(), laid, strict=True), key=lambda pair: pair[0]):
        runs += _solved([one for _, one in members])
    return runs


@dataclass(frozen=True, eq=False)
class _Laid:
    """A way laid out for the speed profile, lead-ins before and overlaps behind its contours.

    All but `starts` (first segment of every contour), `some` (contours with lead-in and with
    overlap, in turns) and `overlaps` have one value a segment; `added` tells those that are not
    of the path.
    """

    lengths: Floats
    inside: Floats
    joints: Floats
    acceleration: Floats
    jerk: Floats
    starts: Ints
    added: Bools
    some: Bools
    overlaps: Floats

    @staticmethod
    def out(way: Way, machine: Machine) -> _Laid:
        """Lay a way out."""
        path, leads, speeds = way.path, way.leads, way.speeds
        drives = drive_limits(path, machine, way.matrix)
        inside, joints = path_ceilings(path, speeds, drives.across, machine.corner_tolerance_mm)
        joints = joints.copy()
        joints[way.stops] = 0.0
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
        before = np.concatenate(([0], np.cumsum(some.reshape(-1, 2).sum(axis=1))))
        added = np.zeros(len(lengths) + len(at), dtype=bool)
        added[at + np.arange(len(at))] = True

        def with_those(values: Floats, more: Floats | float) -> Floats:
            every = np.empty(len(added))
            every[added], every[~added] = more, values
            return every

        return _Laid(
            with_those(lengths, more[some]), with_those(inside, allowed),
            with_those(joints, joined), with_those(drives.along, drives.acceleration_anyhow),
            with_those(drives.jerk, drives.jerk_anyhow), (path.offsets + before)[:-1], added, some,
            overlaps,
        )  # fmt: skip


def _solved(laid: list[_Laid]) -> list[Run]:
    """Return the run along ways that are laid out, from one speed profile."""
    bounds = np.concatenate(([0], np.cumsum([len(one.lengths) for one in laid])))
    starts = [one.starts + start for one, start in zip(laid, bounds.tolist(), strict=False)]

    def of(name: str) -> Floats:
        return np.concatenate([getattr(one, name) for one in laid])

    profile = speed_profile(
        of("lengths"), of("inside"), of("joints"), np.concatenate((*starts, bounds[-1:])),
        of("acceleration"), of("jerk"),
    )  # fmt: skip
    runs = []
    for one, (start, stop) in zip(laid, pairwise(bounds.tolist()), strict=True):
        own = profile.between(start, stop)
        times = np.zeros(len(one.some))
        times[one.some] = own.times[one.added]
        runs.append(Run(own.take(~one.added), times[::2], times[1::2], one.overlaps))
    return runs


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
