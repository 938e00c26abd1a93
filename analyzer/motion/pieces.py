"""Motion in pieces of constant jerk: where the head is, and how fast, at any time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints

NEWTON_STEPS = 60
"""Most steps to find the time of a place; a bracket is kept, so it never runs away."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Pieces of constant jerk on many rows (hills, or segments of a path), p of them.

    Attributes
    ----------
    first : ndarray of int, shape (r + 1,)
        First piece of every row, and the number of pieces.
    way, time : ndarray, shape (p,)
        Where and when each begins, from the start of its row. [mm], [s]
    speed, rate, jerk : ndarray, shape (p,)
        Speed [mm/s] and acceleration [mm/s^2] there, and its jerk [mm/s^3].
    duration : ndarray, shape (p,)
        How long it lasts. [s]
    """

    first: Ints
    way: Floats
    time: Floats
    speed: Floats
    rate: Floats
    jerk: Floats
    duration: Floats

    @staticmethod
    def chained(
        row: Ints, speed: Floats, rate: Floats, jerk: Floats, duration: Floats, rows: int
    ) -> Pieces:
        """Return pieces that follow one another on their rows (sorted), each row from 0."""
        length = (speed + (rate / 2.0 + jerk * duration / 6.0) * duration) * duration
        first = np.searchsorted(row, np.arange(rows + 1))
        way, time = (_running(values, first, row) for values in (length, duration))
        return Pieces(first, way, time, speed, rate, jerk, duration)

    @staticmethod
    def none(rows: int = 0) -> Pieces:
        """Return no motion on so many rows."""
        return Pieces(np.zeros(rows + 1, dtype=np.int64), *np.zeros((6, 0)))

    @cached_property
    def row(self) -> Ints:
        """Row of every piece, shape (p,)."""
        return np.repeat(np.arange(len(self.first) - 1), np.diff(self.first))

    @cached_property
    def length(self) -> Floats:
        """Way of every piece, shape (p,). [mm]"""
        return self._way_after(np.arange(len(self.way)), self.duration)

    def _way_after(self, piece: Ints, time: Floats) -> Floats:
        slope = self.rate[piece] / 2.0 + self.jerk[piece] * time / 6.0
        way: Floats = (self.speed[piece] + slope * time) * time
        return way

    def speed_after(self, piece: Ints, time: Floats) -> Floats:
        """Return the speed a while after the start of pieces, shape (k,). [mm/s]"""
        speed = self.speed[piece] + (self.rate[piece] + self.jerk[piece] * time / 2.0) * time
        return np.maximum(speed, 0.0)

    @cached_property
    def row_times(self) -> Floats:
        """Time of every row, shape (r,). [s]"""
        return np.bincount(self.row, self.duration, len(self.first) - 1).astype(float)

    def locate(self, rows: Ints, ways: Floats) -> tuple[Ints, Floats]:
        """Return the piece on which each place lies, and how long after its start.

        Parameters
        ----------
        rows : ndarray of int, shape (k,)
            Rows; each must have a piece.
        ways : ndarray, shape (k,)
            Way from the start of the row. [mm]
        """
        scale = 2.0 * float(max(self.way.max(initial=0.0), ways.max(initial=0.0), 1e-300))
        keys = self.row + self.way / scale
        piece = np.searchsorted(keys, rows + np.maximum(ways, 0.0) / scale, side="right") - 1
        piece = np.clip(piece, self.first[rows], self.first[rows + 1] - 1)
        # the keys of far rows are coarse: one step back or on where they missed
        piece -= (ways < self.way[piece]) & (piece > self.first[rows])
        ends = self.way[piece] + self.length[piece]
        piece += (ways > ends) & (piece < self.first[rows + 1] - 1)
        return piece, self._times(piece, ways - self.way[piece])

    def _times(self, piece: Ints, ways: Floats) -> Floats:
        """When pieces have run a way: Newton's method inside a bracket."""
        most = self.duration[piece]
        whole = self.length[piece]
        share = np.divide(ways, whole, out=np.zeros(len(piece)), where=whole > 0.0)
        found = np.clip(share, 0.0, 1.0) * most
        low, high = np.zeros(len(piece)), most.copy()
        todo = np.arange(len(piece))
        for _ in range(NEWTON_STEPS):
            if not len(todo):
                break
            time, row = found[todo], piece[todo]
            off = self._way_after(row, time) - ways[todo]
            low[todo] = lo = np.where(off <= 0.0, time, low[todo])
            high[todo] = hi = np.where(off > 0.0, time, high[todo])
            speed = self.speed_after(row, time)
            new = time - np.divide(off, speed, out=np.full(len(off), np.inf), where=speed > 0.0)
            new = np.where((new > lo) & (new < hi), new, (lo + hi) / 2.0)
            found[todo] = new
            todo = todo[np.abs(new - time) > 1e-15 + 4e-16 * time]
        return found

    def split(self, base: Ints, piece: Ints, after: Floats, rows: Ints, count: int) -> Pieces:
        """Return the pieces cut at places and counted by new rows.

        Parameters
        ----------
        base : ndarray of int, shape (r,)
            New row in which each old one begins.
        piece : ndarray of int, shape (k,)
            Pieces to cut, sorted; one may be cut several times, in order of time.
        after : ndarray, shape (k,)
            When, from the start of the piece. [s]
        rows : ndarray of int, shape (k,)
            New row that begins with each cut.
        count : int
            Number of new rows.
        """
        source = np.concatenate((np.arange(len(self.way)), piece))
        begins = np.concatenate((np.zeros(len(self.way)), after))
        # rows only grow along the way, so a running maximum carries them on
        row = np.concatenate((base[self.row], rows))
        order = np.argsort(source, kind="stable")
        source, begins = source[order], begins[order]
        row = np.maximum.accumulate(row[order]) if len(row) else row
        ends = self.duration[source]
        ends[:-1] = np.where(source[1:] == source[:-1], begins[1:], ends[:-1])
        duration = ends - begins
        keep = np.flatnonzero(duration > 0.0)
        source, begins = source[keep], begins[keep]
        return Pieces.chained(
            row[keep], self.speed_after(source, begins),
            self.rate[source] + self.jerk[source] * begins, self.jerk[source], duration[keep],
            count,
        )  # fmt: skip

    @staticmethod
    def joined(several: Sequence[Pieces], order: Ints) -> Pieces:
        """Return the rows of all in one; row k is the `order[k]`-th of them laid end to end."""
        counts = np.concatenate([np.diff(one.first) for one in several])
        starts = np.cumsum(counts) - counts
        counts, starts = counts[order], starts[order]
        first = np.concatenate(([0], np.cumsum(counts)))
        index = np.arange(first[-1]) + np.repeat(starts - first[:-1], counts)
        columns = ("way", "time", "speed", "rate", "jerk", "duration")
        return Pieces(first, *(
            np.concatenate([getattr(one, name) for one in several])[index] for name in columns
        ))  # fmt: skip

    def between(self, start: int, stop: int) -> Pieces:
        """Return the rows from `start` up to `stop`."""
        own = slice(self.first[start], self.first[stop])
        columns = ("way", "time", "speed", "rate", "jerk", "duration")
        first = self.first[start : stop + 1] - self.first[start]
        return Pieces(first, *(getattr(self, name)[own] for name in columns))

    def take(self, rows: Bools) -> Pieces:
        """Return the rows chosen by a mask."""
        counts = np.diff(self.first)
        keep = np.repeat(rows, counts)
        first = np.concatenate(([0], np.cumsum(counts[rows])))
        columns = ("way", "time", "speed", "rate", "jerk", "duration")
        return Pieces(first, *(getattr(self, name)[keep] for name in columns))

    def length_below(self, limit: Floats) -> Floats:
        """Return the length of every row run slower than its limit, shape (r,). [mm]"""
        low, high = self.stretches_below(limit[self.row])
        return np.bincount(self.row, high - low, len(self.first) - 1).astype(float)

    def stretches_below(self, limit: Floats) -> tuple[Floats, Floats]:
        """Return where on its row every piece is slower than its limit, from and to. [mm]

        Both have shape (p,) and are equal where it never is.  Exact: within a piece the
        acceleration keeps its sign, so its slow part is one of its ends.
        """
        index = np.arange(len(self.way))
        ending = self.speed_after(index, self.duration)
        # the time at which the speed is the limit: the smaller root, without cancellation
        gap = limit - self.speed
        under = np.maximum(self.rate**2 + 2.0 * self.jerk * gap, 0.0)
        sign = np.where(gap >= 0.0, 1.0, -1.0)
        divisor = self.rate + sign * np.sqrt(under)
        with np.errstate(divide="ignore", invalid="ignore"):
            cross = np.where(divisor != 0.0, 2.0 * gap / divisor, 0.0)
        cross = np.clip(np.nan_to_num(cross), 0.0, self.duration)
        until = self._way_after(index, cross)
        starts_slow, ends_slow = self.speed < limit, ending < limit
        low = np.where(starts_slow | ~ends_slow, 0.0, until)
        high = np.where(ends_slow, self.length, np.where(starts_slow, until, 0.0))
        return self.way + low, self.way + high


def _running(values: Floats, first: Ints, row: Ints) -> Floats:
    """Sum of the values before each one on its row."""
    total = np.zeros(len(values) + 1, dtype=np.longdouble)  # long sums cancel less
    np.cumsum(values, out=total[1:], dtype=np.longdouble)
    before: Floats = np.subtract(total[:-1], total[first[row]]).astype(float)
    return before
