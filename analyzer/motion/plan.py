"""The plan of one part alone under one gas: path, local speed, order, time."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.motion.pieces import Pieces
from analyzer.motion.timing import Timing

__all__ = ["Plan", "Profile", "Timing"]


@dataclass(frozen=True, eq=False)
class Profile:
    """Speed along path segments, below the ceiling, the largest acceleration and jerk.

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
    acceleration : ndarray, shape (s,)
        Largest acceleration along every segment. [mm/s^2]
    jerk : ndarray, shape (s,), or None
        Largest jerk along every segment; None where jerk is free. [mm/s^3]
    motion : Pieces, or None
        The jerk-limited motion, row by row with the segments; None where jerk is free.
    """

    lengths: Floats
    entry: Floats
    exit: Floats
    ceiling: Floats
    times: Floats
    acceleration: Floats
    jerk: Floats | None = None
    motion: Pieces | None = None

    def __post_init__(self) -> None:
        same = np.broadcast_to(np.asarray(self.acceleration, dtype=float), self.lengths.shape)
        object.__setattr__(self, "acceleration", same)  # one for all may be given

    @cached_property
    def pieces(self) -> Pieces:
        """Speed over time along every segment, in pieces of constant jerk."""
        return self.motion if self.motion is not None else self._ramps()

    def _ramps(self) -> Pieces:
        """Up, along the ceiling and down: what every segment does where jerk is free."""
        a, up, down = self.acceleration, self.entry, self.exit
        peak = np.sqrt(np.maximum(a * self.lengths + (up**2 + down**2) / 2.0, 0.0))
        peak = np.maximum(np.minimum(self.ceiling, peak), np.maximum(up, down))
        rise, fall = (peak - up) / a, (peak - down) / a
        way = self.lengths - (peak + up) / 2.0 * rise - (peak + down) / 2.0 * fall
        cruise = np.divide(way, peak, out=np.zeros(len(way)), where=(peak > 0.0) & (way > 0.0))
        count = len(self.lengths)
        duration = np.column_stack((rise, cruise, fall)).ravel()
        moving = duration > 0.0
        row = np.repeat(np.arange(count), 3)[moving]
        speed = np.column_stack((up, peak, peak)).ravel()[moving]
        rate = np.column_stack((a, np.zeros(count), -a)).ravel()[moving]
        return Pieces.chained(row, speed, rate, np.zeros(len(row)), duration[moving], count)

    def length_below(self, limit: Floats | float) -> Floats:
        """Return the length of every segment run slower than `limit`, shape (s,). [mm]

        Exact: the motion is known in pieces of constant jerk.
        """
        bound = np.broadcast_to(np.asarray(limit, dtype=float), self.lengths.shape)
        slow = np.minimum(self.pieces.length_below(bound), self.lengths)
        return np.where(self.ceiling < bound, self.lengths, slow)

    @cached_property
    def dips(self) -> Floats:
        """Least speed between the ends of every segment where it dips there, else infinite.

        [mm/s]
        """
        found = np.full(len(self.lengths), np.inf)
        motion = self.motion
        if motion is None or len(motion.row) < 2:
            return found
        ending = motion.rate + motion.jerk * motion.duration
        bottom = (motion.row[1:] == motion.row[:-1]) & (motion.rate[:-1] < 0.0)
        bottom &= ending[1:] >= -1e-9 * self.acceleration[motion.row[1:]]
        bottom &= motion.rate[1:] >= -1e-6 * self.acceleration[motion.row[1:]]
        np.minimum.at(found, motion.row[1:][bottom], motion.speed[1:][bottom])
        return found

    @property
    def least(self) -> Floats:
        """Least speed of every segment, shape (s,). [mm/s]"""
        ends = np.minimum(np.minimum(self.entry, self.exit), self.ceiling)
        return np.minimum(ends, self.dips)

    def speeds_at(self, segments: ArrayLike, fractions: ArrayLike) -> Floats:
        """Return the speed at a fraction 0..1 of the length of segments, shape (k,). [mm/s]"""
        return self._sampled(segments, fractions)[0]

    def times_at(self, segments: ArrayLike, fractions: ArrayLike) -> Floats:
        """Return the time from the start of segments to a fraction of them, shape (k,). [s]"""
        return self._sampled(segments, fractions)[1]

    def _sampled(self, segments: ArrayLike, fractions: ArrayLike) -> tuple[Floats, Floats]:
        index = np.asarray(segments, dtype=np.int64)
        way = np.asarray(fractions, dtype=float) * self.lengths[index]
        speed, time = self.entry[index].astype(float), np.zeros(len(index))
        motion = self.pieces
        moving = np.flatnonzero(np.diff(motion.first)[index] > 0)  # else it has no length
        piece, after = motion.locate(index[moving], way[moving])
        speed[moving] = motion.speed_after(piece, after)
        time[moving] = motion.time[piece] + after
        return speed, time

    def between(self, start: int, stop: int) -> Profile:
        """Return the segments from `start` up to `stop`."""
        own = slice(start, stop)
        jerk = None if self.jerk is None else self.jerk[own]
        motion = None if self.motion is None else self.motion.between(start, stop)
        return Profile(
            self.lengths[own], self.entry[own], self.exit[own], self.ceiling[own],
            self.times[own], self.acceleration[own], jerk, motion,
        )  # fmt: skip

    def take(self, keep: Bools) -> Profile:
        """Return the segments chosen by a mask."""
        jerk = None if self.jerk is None else self.jerk[keep]
        motion = None if self.motion is None else self.motion.take(keep)
        return Profile(
            self.lengths[keep], self.entry[keep], self.exit[keep], self.ceiling[keep],
            self.times[keep], self.acceleration[keep], jerk, motion,
        )  # fmt: skip


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
        Time of each contour on its path and overlap, without lead-in, pierce and start. [s]
    lead_rooms : ndarray, shape (n,)
        Room for the lead-in, from the pierce to the nearest kerf middle: d / 2 - w / 2
        in a hole, infinite for outlines and open cuts, negative where the kerf fills
        the cut-out. [mm]
    states : ndarray of int, shape (n,)
        What the kerf offset made of each contour, one `analyzer.geometry.offset.State`.
    begins : ndarray, shape (n,)
        When the head enters the path of each contour, start, pierce and lead-in done, from
        the first start on; all that is done before the first contour counts. [s]
    blocked : ndarray of int, shape (b,)
        Rows whose lead-in crosses a mark, a bend line or another contour wherever it is put.
    crowded : int
        Contours that follow one nearer than the order should allow in thick oxygen.
    spread_s : float
        What keeping neighbours in the order apart costs in moves. [s]
    fly_s : float
        What fly cutting of its grids would save; 0 where the machine cannot. [s]
    befores : ndarray, shape (n,)
        From the arrival at each pierce until its path is entered: slug cuts, start, pierce,
        lead-in. [s]
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
    blocked: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    crowded: int = 0
    spread_s: float = 0.0
    fly_s: float = 0.0
    befores: Floats = field(default_factory=lambda: np.zeros(0))
