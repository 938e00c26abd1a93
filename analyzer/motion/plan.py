"""The plan of one part alone under one gas: path, local speed, order, time."""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints


@dataclass(frozen=True)
class Timing:
    """Time split. [s]

    cut = path length / table speed; slowed = what the profile takes longer; leads =
    lead-ins / table speed; starts = sensing and gas settling; pierce; traverse =
    moves between contours and lift; marking.
    """

    cut: float = 0.0
    slowed: float = 0.0
    leads: float = 0.0
    starts: float = 0.0
    pierce: float = 0.0
    traverse: float = 0.0
    marking: float = 0.0

    @property
    def total(self) -> float:
        """Sum of the terms. [s]"""
        return float(sum(getattr(self, f.name) for f in fields(self)))

    def __add__(self, other: Timing) -> Timing:
        return Timing(*(getattr(self, f.name) + getattr(other, f.name) for f in fields(self)))

    def __mul__(self, times: float) -> Timing:
        return Timing(*(getattr(self, f.name) * times for f in fields(self)))


@dataclass(frozen=True, eq=False)
class Profile:
    """Speed along path segments: accelerated by at most `acceleration`, below the ceiling.

    Attributes
    ----------
    lengths : ndarray, shape (s,)
        Path length of every segment. [mm]
    entry, exit : ndarray, shape (s,)
        Speed at both ends of every segment. [mm/s]
    ceiling : ndarray, shape (s,)
        Speed the segment allows inside. [mm/s]
    times : ndarray, shape (s,)
        Time of every segment. [s]
    acceleration : float
        Largest acceleration along the path. [mm/s^2]
    """

    lengths: Floats
    entry: Floats
    exit: Floats
    ceiling: Floats
    times: Floats
    acceleration: float

    def length_below(self, limit: Floats | float) -> Floats:
        """Return the length of every segment run slower than `limit`, shape (s,). [mm]

        Exact: speed squared is linear in the way on both ramps of a segment.
        """
        bound = np.broadcast_to(np.asarray(limit, dtype=float) ** 2, self.lengths.shape)
        ramp_up = np.clip((bound - self.entry**2) / (2.0 * self.acceleration), 0.0, None)
        ramp_down = np.clip((bound - self.exit**2) / (2.0 * self.acceleration), 0.0, None)
        slow = np.minimum(ramp_up + ramp_down, self.lengths)
        return np.where(self.ceiling**2 < bound, self.lengths, slow)

    @property
    def least(self) -> Floats:
        """Least speed of every segment, shape (s,). [mm/s]"""
        return np.minimum(np.minimum(self.entry, self.exit), self.ceiling)


@dataclass(frozen=True, eq=False)
class Plan:
    """One part alone under one gas.

    Attributes
    ----------
    order : ndarray of int, shape (n,)
        Rows of the part's contours as they are cut.
    path : Contours
        What the head follows, row for row with the *part's contours* (not the
        order): offset by half the kerf to the scrap side, without lead-ins.
    source : ndarray of int, shape (s,)
        Segment of the part's contours that every path segment came from.
    profile : Profile
        Speed along the segments of `path`.
    leads : ndarray, shape (n,)
        Lead-in length of every contour. [mm]
    pierces : ndarray, shape (n, 2)
        Where each is pierced, in the drawing's axes. [mm]
    ratios : ndarray, shape (n,)
        Equivalent diameter 4 area / perimeter over thickness of every closed contour,
        infinite for open cuts. [-]
    timing : Timing
        Time split of one copy.
    contour_times : ndarray, shape (n,)
        Time of each contour on its path, without lead-in, pierce and start. [s]
    lead_rooms : ndarray, shape (n,)
        Room for the lead-in, from the pierce to the nearest kerf middle: d / 2 - w / 2
        in a hole, infinite for outlines and open cuts, negative where the kerf fills
        the cut-out. [mm]
    states : ndarray of int, shape (n,)
        What the kerf offset made of each contour, one `analyzer.geometry.offset.State`.
    begins : ndarray, shape (n,)
        When the head enters the path of each contour, start, pierce and lead-in done, from
        the first start on. [s]
    """

    order: Ints
    path: Contours
    source: Ints
    profile: Profile
    leads: Floats
    pierces: Floats
    ratios: Floats
    timing: Timing
    contour_times: Floats
    lead_rooms: Floats = field(default_factory=lambda: np.zeros(0))
    states: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    begins: Floats = field(default_factory=lambda: np.zeros(0))
