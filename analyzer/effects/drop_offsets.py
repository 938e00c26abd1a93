"""Chance to lie still of one piece of any shape: the stable offsets, measured.

With the centroid at the origin, a contact point (x, y) left of it has the slope y / -x and
one right of it y / x.  The chord between two of them passes above the centroid exactly
where both slopes add up to zero or more; so the centroid is in the hull of contact where
the greatest slopes of both sides do, and the least ones add up to zero or less.  Between
the offsets at which a corner comes onto a slat or leaves it, both sums are continuous:
there their signs are sampled and each change is bisected.
"""

from __future__ import annotations

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.contours import Bools, Floats, Ints

GRID = 64  # samples of the offset at least
HALVINGS = 14  # of a sample interval, when a change is bisected: 5e-7 of the pitch
INSIDE = 1e-7  # how far beside a kink it is sampled [mm]
AT_ONCE = 1_000_000  # slats, or pairs of a slat and an outline edge, looked at together
WORK = 4_000_000  # such pairs for one piece, about: a piece over many slats is sampled less
FEWEST = 16  # samples of the offset for any piece
MOST_SLATS = 1_000_000  # under one piece
FLAT = 1e-9  # nearer to the centroid than this there is no slope [mm]


def still_by_offsets(ring: Floats, pitch: float, thickness: float) -> float:
    """Return the share of all slat offsets at which a piece lies still.

    Parameters
    ----------
    ring : ndarray, shape (k, 2)
        Corners of the outline, the centroid of the metal at the origin; slats along y. [mm]
    pitch, thickness : float
        Of the slats, 0 <= thickness < pitch. [mm]

    Returns
    -------
    float
        Within 1e-5, as long as the stability does not turn twice within pitch / 128
        without a corner at a slat's edge.  Over more slats than `WORK` allows with every
        corner, as long as it does not turn twice between two of at least 16 samples.

    Raises
    ------
    InputError
        If the piece lies over more than a million slats.
    """
    slats = float(np.ptp(ring[:, 0])) / pitch
    if slats > MOST_SLATS:
        raise InputError(
            f"a part over {slats:,.0f} slats, {pitch:g} mm apart, is larger than any bed",
            hint="check the units of the drawing and the pitch of the slats in the shop file",
        )
    piece = _Piece(ring, pitch, thickness)
    run = float(np.abs(piece.last[:, 0] - ring[:, 0]).sum()) / pitch
    most = max(int(WORK / (6.0 * (run + slats))), FEWEST)  # three places, both slat edges
    lows, highs = _intervals(ring[:, 0], pitch, thickness, most)
    step = np.minimum(INSIDE, (highs - lows) / 4.0)
    samples = np.stack((lows + step, (lows + highs) / 2.0, highs - step))
    good = piece.still(samples.ravel()).reshape(samples.shape)
    share = 0.0
    for k in (0, 1):
        a, b, ga, gb = samples[k], samples[k + 1], good[k], good[k + 1]
        share += float((b - a)[ga & gb].sum())
        turn = np.flatnonzero(ga != gb)
        at = _bisect(piece, a[turn], b[turn], ga[turn])
        share += float(np.where(ga[turn], at - a[turn], b[turn] - at).sum())
    share += float((step * good[0] + step * good[2]).sum())
    return min(share / pitch, 1.0)


def _intervals(x: Floats, pitch: float, thickness: float, most: int) -> tuple[Floats, Floats]:
    """Return the ends of the stretches of offset in which no corner comes or goes.

    Where these are more than `most`, as many even ones.
    """
    own = np.concatenate((x, [0.0]))
    kinks = np.mod(np.concatenate((own, own - thickness)), pitch)
    grid = np.linspace(0.0, pitch, GRID + 1)
    ends = np.unique(np.concatenate((kinks, grid)))
    ends = ends[np.concatenate(([True], np.diff(ends) > 1e-9))]
    if len(ends) > most + 1:
        ends = np.linspace(0.0, pitch, most + 1)
    return ends[:-1], ends[1:]


def _bisect(piece: _Piece, a: Floats, b: Floats, good_at_a: Bools) -> Floats:
    """Return where the stability turns between a and b, shape (k,)."""
    if not len(a):
        return a
    a, b = a.copy(), b.copy()
    for _ in range(HALVINGS):
        middle = (a + b) / 2.0
        same = piece.still(middle) == good_at_a
        a, b = np.where(same, middle, a), np.where(same, b, middle)
    return (a + b) / 2.0


class _Piece:
    """A piece over its centroid, asked whether it lies still at many offsets at once."""

    def __init__(self, ring: Floats, pitch: float, thickness: float) -> None:
        self.pitch, self.thickness = pitch, thickness
        self.low, self.high = float(ring[:, 0].min()), float(ring[:, 0].max())
        self.first = ring
        self.last = np.roll(ring, -1, axis=0)
        order = np.argsort(ring[:, 0], kind="stable")
        self.x, y = ring[order, 0], ring[order, 1]
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = np.where(np.abs(self.x) > FLAT, y / np.abs(self.x), np.nan)
        self.most = _Ranges(np.where(np.isnan(slope), -np.inf, slope))
        self.least = _Ranges(np.where(np.isnan(slope), -np.inf, -slope))
        self.zero = int(np.searchsorted(self.x, 0.0))
        top, bottom = self._edges_at(np.zeros(1))
        self.top_above, self.bottom_below = bool(top[0] >= 0.0), bool(bottom[0] <= 0.0)

    def still(self, offsets: Floats) -> Bools:
        """Whether it lies still with a slat from every offset + k pitch on, shape (m,)."""
        m = len(offsets)
        across = (self.high - self.low) / self.pitch + 3.0
        step = max(int(AT_ONCE / across), 1)
        if m > step:  # a piece over thousands of slats: memory stays bounded
            some = [self.still(offsets[k : k + step]) for k in range(0, m, step)]
            return np.concatenate(some)
        first = int(np.floor((self.low - self.thickness - self.pitch) / self.pitch))
        last = int(np.ceil(self.high / self.pitch))
        slats = np.arange(first, last + 1) * self.pitch
        a = (offsets[:, None] + slats).ravel()
        b = a + self.thickness
        who = np.repeat(np.arange(m), len(slats))
        touch = (b >= self.low) & (a <= self.high)
        a, b, who = a[touch], b[touch], who[touch]
        up = np.full((m, 2), -np.inf)
        down = np.full((m, 2), -np.inf)
        self._add_ends(np.concatenate((a, b)), np.concatenate((who, who)), up, down)
        self._add_corners(a, b, who, up, down)
        under = np.zeros(m, dtype=bool)
        under[who[(a <= 0.0) & (b >= 0.0)]] = True
        with np.errstate(invalid="ignore"):
            above = (up.sum(axis=1) >= -FLAT) | (under & self.top_above)
            below = (down.sum(axis=1) >= -FLAT) | (under & self.bottom_below)
        stands: Bools = above & below
        return stands

    def _add_ends(self, x: Floats, who: Ints, up: Floats, down: Floats) -> None:
        """Slopes of the outline at the edges of the slats."""
        use = (x >= self.low) & (x <= self.high) & (np.abs(x) > FLAT)
        x, who = x[use], who[use]
        top, bottom = self._edges_at(x)
        side = (x > 0.0).astype(np.int64)
        np.maximum.at(up, (who, side), top / np.abs(x))
        np.maximum.at(down, (who, side), -bottom / np.abs(x))

    def _add_corners(self, a: Floats, b: Floats, who: Ints, up: Floats, down: Floats) -> None:
        """Slopes of the corners on the slats, both sides of the centroid."""
        first = np.searchsorted(self.x, a, side="left")
        stop = np.searchsorted(self.x, b, side="right")
        for side, begin, end in (
            (0, first, np.minimum(stop, self.zero)), (1, np.maximum(first, self.zero), stop),
        ):  # fmt: skip
            some = np.flatnonzero(end > begin)
            at = (who[some], np.full(len(some), side))
            np.maximum.at(up, at, self.most.between(begin[some], end[some]))
            np.maximum.at(down, at, self.least.between(begin[some], end[some]))

    def _edges_at(self, x: Floats) -> tuple[Floats, Floats]:
        """Highest and lowest point of the outline at every x within its extent, shape (m,)."""
        order = np.argsort(x, kind="stable")
        sorted_x = x[order]
        top, bottom = np.full(len(x), -np.inf), np.full(len(x), np.inf)
        low = np.minimum(self.first[:, 0], self.last[:, 0])
        high = np.maximum(self.first[:, 0], self.last[:, 0])
        begin = np.searchsorted(sorted_x, low, side="left")
        count = np.searchsorted(sorted_x, high, side="right") - begin
        done = np.cumsum(count)
        edge = 0
        while edge < len(count):
            before = done[edge - 1] if edge else 0
            stop = max(int(np.searchsorted(done, before + AT_ONCE, side="right")), edge + 1)
            rows = np.repeat(np.arange(edge, stop), count[edge:stop])
            start = np.cumsum(count[edge:stop]) - count[edge:stop]
            at = begin[rows] + np.arange(len(rows)) - start[rows - edge]
            p, q = self.first[rows], self.last[rows]
            run = q[:, 0] - p[:, 0]
            upright = run == 0.0
            share = (sorted_x[at] - p[:, 0]) / np.where(upright, 1.0, run)
            y = p[:, 1] + share * (q[:, 1] - p[:, 1])
            np.maximum.at(top, at, np.where(upright, np.maximum(p[:, 1], q[:, 1]), y))
            np.minimum.at(bottom, at, np.where(upright, np.minimum(p[:, 1], q[:, 1]), y))
            edge = stop
        back = np.empty(len(x), dtype=np.int64)
        back[order] = np.arange(len(x))
        return top[back], bottom[back]


class _Ranges:
    """Greatest value of any run of a row: powers of two, looked up in two places."""

    def __init__(self, values: Floats) -> None:
        levels = [values]
        width = 1
        while 2 * width <= len(values):
            last = levels[-1]
            levels.append(np.maximum(last[: len(last) - width], last[width:]))
            width *= 2
        table = np.full((len(levels), len(values)), -np.inf)
        for level, row in enumerate(levels):
            table[level, : len(row)] = row
        self.table = table

    def between(self, begin: Ints, end: Ints) -> Floats:
        """Return the greatest of values[begin:end] for every pair, none empty, shape (m,)."""
        size = end - begin
        level = np.floor(np.log2(size + 0.5)).astype(np.int64)
        second = end - (1 << level)
        most: Floats = np.maximum(self.table[level, begin], self.table[level, second])
        return most
