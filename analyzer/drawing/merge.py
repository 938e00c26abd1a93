"""Short segments become long ones: chords of a curve an arc, pieces of a line one line.

Only where neighbours turn little and the new line or arc stays within the tolerance of
every point it replaces.  A polygon whose corners turn more stays a polygon, and a corner
stays a corner.  The drawn length is kept.
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.tolerances import Tolerances

_SHARE = 0.4  # part of `flatten` used here; flattening curves has used the rest
_QUARTER = np.pi / 2.0 * (1.0 + 1e-9)  # half the sweep of an arc of 180 degrees
_STRAIGHT = 1e-7  # an arc that bows less than this is a line [mm]
_FEWEST_CHORDS = 3  # that make an arc of lines


def merge_short(contours: Contours, tolerances: Tolerances) -> Contours:
    """Return contours with runs of short segments replaced by lines and arcs.

    Parameters
    ----------
    contours : Contours
    tolerances : Tolerances
        `flatten` is how far the result may be from the segments, `smooth_deg` the turn
        up to which neighbours are one curve.
    """
    if not len(contours):
        return contours
    linked = _linked(contours, tolerances)
    if not linked.any():
        return contours
    contours, linked = _begin_at_a_corner(contours, linked)
    run = np.cumsum(~linked) - 1  # a segment that is not linked to the one before begins a run
    size = np.bincount(run)
    first = np.concatenate(([0], np.cumsum(size)[:-1]))
    tolerance = _SHARE * tolerances.flatten
    keep = np.ones(len(run), dtype=bool)
    ends, bulges = contours.ends.copy(), contours.bulges.copy()
    lengths, smooth = contours.lengths.copy(), contours.smooth.copy()
    may = _may_merge(contours, run, first, size, tolerance)
    pairs = np.flatnonzero(may & (size == 2))  # by far the most runs, and all of them at once
    may[pairs] = False
    whole, bulge = _one_of_two(contours, first[pairs], tolerance)
    keep[whole + 1], bulges[whole], ends[whole] = False, bulge, contours.ends[whole + 1]
    lengths[whole] = contours.lengths[whole] + contours.lengths[whole + 1]
    middles = _middles(contours, may[run])  # of all at once: one by one takes most of the time
    for begin, count in zip(first[may].tolist(), size[may].tolist(), strict=True):
        one = _Run(contours, middles, begin, count)
        _merge_run(one, tolerance, keep, ends, bulges, lengths, smooth)
    owner = contours.owner[keep]
    counts = np.bincount(owner, minlength=len(contours))
    return Contours(
        contours.starts[keep], ends[keep], bulges[keep], lengths[keep], smooth[keep],
        np.concatenate(([0], np.cumsum(counts))), contours.closed,
    )  # fmt: skip


def _linked(contours: Contours, tolerances: Tolerances) -> Bools:
    """Return which segments may be one with the segment before them.

    They must turn little, and bend so alike that over the shorter of the two the
    difference is within the tolerance.
    """
    before = contours.previous
    turn = contours.start_directions - contours.end_directions[before]
    turn = np.abs(wrapped(turn))
    bend = np.where(contours.bulges == 0.0, 0.0, np.sign(contours.bulges) / contours.radii)
    short = np.minimum(contours.lengths, contours.lengths[before])
    alike = np.abs(bend - bend[before]) * short**2 / 8.0 <= tolerances.flatten
    counts = np.diff(contours.offsets)[contours.owner]
    little = turn <= np.radians(tolerances.smooth_deg)
    enough = (counts > 2) | ((counts > 1) & ~contours.closed[contours.owner])
    linked: Bools = (before >= 0) & enough & (little | contours.smooth) & alike
    return linked


def _begin_at_a_corner(contours: Contours, linked: Bools) -> tuple[Contours, Bools]:
    """Return closed contours begun anew where a run begins, so that no run is cut in two."""
    first = contours.offsets[:-1]
    shift = np.zeros(len(contours), dtype=np.int64)
    free = np.flatnonzero(~linked)
    owner = contours.owner[free]
    row, where = np.unique(owner, return_index=True)
    shift[row] = free[where] - first[row]
    size = np.diff(contours.offsets)
    inside = np.arange(len(linked)) - np.repeat(first, size)
    order = np.repeat(first, size) + (inside + np.repeat(shift, size)) % np.repeat(size, size)
    turned = contours.rearranged(order)
    linked = linked[order]
    linked[first] = False  # a curve without a corner begins somewhere
    return turned, linked


def _may_merge(contours: Contours, run: Ints, first: Ints, size: Ints, tolerance: float) -> Bools:
    """Return which runs hold two or three segments that one line or arc could replace.

    All at once and a hair too generous; the others stay as they are.  What is flattened from a
    curve seldom merges.
    """
    bent = contours.bulges != 0.0
    step = np.where(bent, 2, 1)
    step[first + size - 1] += 1  # the end of a run is a point of its own
    at = np.concatenate(([0], np.cumsum(step)))
    points = np.empty((int(at[-1]), 2))
    points[at[1:][first + size - 1] - 1] = contours.ends[first + size - 1]
    points[at[:-1]] = contours.starts
    arcs = np.flatnonzero(bent)
    points[at[arcs] + 1] = contours.points_at(arcs, np.full(len(arcs), 0.5))
    may = np.zeros(len(size), dtype=bool)
    end = (first + size)[run]
    for count in (2, _FEWEST_CHORDS):
        low = np.flatnonzero(np.arange(len(run)) + count <= end)
        a = at[low]
        b = at[low + count] - (low + count == end[low])
        straight = ~np.logical_or.reduce([bent[low + k] for k in range(count)])
        mixed = ~np.logical_and.reduce([bent[low + k] for k in range(count)])
        fits = _one_line(points, a, b, tolerance) & straight
        if count >= _FEWEST_CHORDS:
            mixed[:] = False
        fits |= _one_arc(points, a, b, tolerance) & ~mixed
        may[run[low[fits]]] = True
    return may


def _along(points: Floats, a: Ints, b: Ints, k: int) -> tuple[Floats, Floats, Floats]:
    """Return the k-th point of every stretch a..b along and across its chord, and the chord."""
    chord = points[b] - points[a]
    size = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-300)
    local = points[np.minimum(a + k, b)] - points[a]
    x = (local * chord).sum(axis=1) / size
    y = (local[:, 1] * chord[:, 0] - local[:, 0] * chord[:, 1]) / size
    return x, y, size


def _one_line(points: Floats, a: Ints, b: Ints, tolerance: float) -> Bools:
    fits = np.ones(len(a), dtype=bool)
    for k in range(1, int((b - a).max(initial=0)) + 1):
        fits &= np.abs(_along(points, a, b, k)[1]) <= tolerance * (1.0 + 1e-6)
    return fits


def _one_arc(points: Floats, a: Ints, b: Ints, tolerance: float) -> Bools:
    middle = a + (b - a + 1) // 2
    u, v = points[middle] - points[a], points[b] - points[middle]
    half = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    bulge = np.tan(half / 2.0)
    fits: Bools = np.abs(half) <= _QUARTER * (1.0 + 1e-9)
    for k in range(1, int((b - a).max(initial=0)) + 1):
        x, y, size = _along(points, a, b, k)
        away = 4.0 * bulge * (x * (x - size) + y * y) - 2.0 * size * (1.0 - bulge**2) * y
        room = tolerance * (1.0 + 1e-6)
        fits &= np.abs(away) <= room * 2.0 * size * (1.0 + bulge**2)
    return fits


def _one_of_two(contours: Contours, rows: Ints, tolerance: float) -> tuple[Ints, Floats]:
    """Return which segments at `rows` are one line or arc with the next, and its bulge.

    As `_Run.fit` for two: lines make a line, arcs an arc or a line, one of each nothing.
    """
    bent = contours.bulges != 0.0
    lines = rows[~bent[rows] & ~bent[rows + 1]]
    across, onward, _ = _off_chord(contours, lines, [contours.ends[lines]])
    lines = lines[onward & (np.abs(across).max(axis=0, initial=0.0) <= tolerance)]
    arcs = rows[bent[rows] & bent[rows + 1]]
    half = np.full(len(arcs), 0.5)
    middles = [contours.points_at(arcs, half), contours.points_at(arcs + 1, half)]
    away, onward, bulge = _off_chord(
        contours, arcs, [middles[0], contours.ends[arcs], middles[1]], arc=True
    )
    joint = contours.start_directions[arcs + 1] - contours.end_directions[arcs]
    turned = np.abs(contours.sweeps[arcs] + wrapped(joint) + contours.sweeps[arcs + 1])
    step = contours.ends[arcs + 1] - contours.starts[arcs]
    straight = np.abs(bulge) * np.hypot(step[:, 0], step[:, 1]) / 2.0 < _STRAIGHT
    fits = (np.abs(away).max(axis=0, initial=0.0) <= tolerance) & (turned <= np.pi * 1.05)
    fits &= (2.0 * np.abs(np.arctan(bulge)) <= _QUARTER) & (onward | ~straight)
    bulge = np.where(straight, 0.0, bulge)[fits]
    return np.concatenate((lines, arcs[fits])), np.concatenate((np.zeros(len(lines)), bulge))


def _off_chord(
    contours: Contours, rows: Ints, points: list[Floats], *, arc: bool = False
) -> tuple[Floats, Bools, Floats]:
    """Return how far points are off the line or arc over segments at `rows` and the next.

    Also whether they follow one another along the chord, and the bulge of the arc through
    start, joint and end, 0 without `arc`; not a number where the chord has no length.
    """
    start, joint, end = contours.starts[rows], contours.ends[rows], contours.ends[rows + 1]
    chord, u, v = end - start, joint - start, end - joint
    size = np.hypot(chord[:, 0], chord[:, 1])
    turn = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    bulge = np.tan(turn / 2.0) if arc else np.zeros(len(rows))
    off, along = [], [np.zeros(len(rows))]
    with np.errstate(divide="ignore", invalid="ignore"):
        for point in points:
            local = point - start
            x = (local * chord).sum(axis=1) / size
            y = (local[:, 1] * chord[:, 0] - local[:, 0] * chord[:, 1]) / size
            away = 4.0 * bulge * (x * (x - size) + y * y) - 2.0 * size * (1.0 - bulge**2) * y
            off.append(away / (2.0 * size * (1.0 + bulge**2)))
            along.append(x)
    steps = np.diff(np.array([*along, size]), axis=0)
    return np.array(off), np.asarray((steps >= 0.0).all(axis=0)), bulge


def _middles(contours: Contours, asked: Bools) -> Floats:
    """Return the middle of every arc that is asked for, shape (s, 2); 0, 0 elsewhere. [mm]"""
    middles = np.zeros_like(contours.starts)
    arcs = np.flatnonzero(asked & (contours.bulges != 0.0))
    middles[arcs] = contours.points_at(arcs, np.full(len(arcs), 0.5))
    return middles


class _Run:
    """Segments begin..begin + count as points: every joint, and the middle of every arc."""

    def __init__(self, contours: Contours, middles: Floats, begin: int, count: int) -> None:
        part = slice(begin, begin + count)
        self.begin, self.count = begin, count
        bent = contours.bulges[part] != 0.0
        self.at = np.concatenate(([0], np.cumsum(np.where(bent, 2, 1))))  # point of every joint
        self.points = np.empty((int(self.at[-1]) + 1, 2))
        self.points[self.at[:-1]] = contours.starts[part]
        self.points[-1] = contours.ends[begin + count - 1]
        rows = np.flatnonzero(bent)
        self.points[self.at[rows] + 1] = middles[rows + begin]
        self.lines = np.concatenate(([0], np.cumsum(~bent)))
        chords = np.where(bent, 0.0, contours.chords[part])
        self.chord_at = chords
        heading = np.unwrap(
            np.column_stack(
                (contours.start_directions[part], contours.end_directions[part])
            ).ravel()
        )
        self.heading = heading
        self.lengths = np.concatenate(([0.0], np.cumsum(contours.lengths[part])))

    def turned(self, low: int, high: int) -> float:
        """Angle from the heading at joint `low` to that at joint `high`. [rad]"""
        return abs(float(self.heading[2 * high - 1] - self.heading[2 * low]))

    def fit(self, low: int, high: int, tolerance: float) -> float | None:
        """Return the bulge of the line or arc from joint `low` to `high`, None if none fits."""
        a, b = int(self.at[low]), int(self.at[high])
        points = self.points[a : b + 1]
        chord = points[-1] - points[0]
        size = float(np.hypot(*chord))
        if size <= 0.0 or self.turned(low, high) > np.pi * 1.05:
            return None
        local = points - points[0]
        x = local @ chord / size
        y = (local[:, 1] * chord[0] - local[:, 0] * chord[1]) / size
        onward = bool((np.diff(x) >= 0.0).all())
        if (
            onward
            and np.abs(y).max() <= tolerance
            and self.lines[high] - self.lines[low] == high - low
        ):
            return 0.0
        if self.lines[high] > self.lines[low] and high - low < _FEWEST_CHORDS:
            return None
        middle = len(points) // 2
        u, v = points[middle] - points[0], points[-1] - points[middle]
        half = float(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
        if abs(half) > _QUARTER:
            return None
        bulge = float(np.tan(half / 2.0))
        away = 4.0 * bulge * (x * (x - size) + y * y) - 2.0 * size * (1.0 - bulge**2) * y
        if np.abs(away).max() / (2.0 * size * (1.0 + bulge**2)) > tolerance:
            return None
        if abs(bulge) * size / 2.0 < _STRAIGHT:
            return 0.0 if onward else None
        radius = size * (1.0 + bulge**2) / (4.0 * abs(bulge))
        bow = float(self.chord_at[low:high].max()) ** 2 / (8.0 * radius)
        return bulge if bow <= tolerance * 2.0 else None


def _merge_run(
    run: _Run, tolerance: float, keep: Bools, ends: Floats, bulges: Floats, lengths: Floats,
    smooth: Bools,
) -> None:  # fmt: skip
    """Replace the segments of a run by the longest lines and arcs that fit, one by one."""
    low = 0
    while low < run.count - 1:
        high, bulge = _furthest(run, low, tolerance)
        if bulge is not None:
            segment = run.begin + low
            keep[segment + 1 : run.begin + high] = False
            ends[segment] = run.points[run.at[high]]
            bulges[segment] = bulge
            lengths[segment] = run.lengths[high] - run.lengths[low]
        if high < run.count:  # between two pieces of one curve is no corner
            smooth[run.begin + high] = smooth[run.begin + high] or bulge is not None
        low = high


def _furthest(run: _Run, low: int, tolerance: float) -> tuple[int, float | None]:
    """Return the furthest joint that one line or arc reaches from `low`, and its bulge.

    Doubling, then halving: n log n over a run.
    """
    most = run.count - low
    good, bulge = 1, None
    for count in (2, _FEWEST_CHORDS):  # two chords are too few for an arc, three may do
        found = run.fit(low, low + count, tolerance) if count <= most else None
        if found is not None:
            good, bulge = count, found
    if bulge is None:
        return low + 1, None
    bad = most + 1
    while good < most:
        count = min(2 * good, most)
        found = run.fit(low, low + count, tolerance)
        if found is None:
            bad = count
            break
        good, bulge = count, found
    while bad - good > 1:
        count = (good + bad) // 2
        found = run.fit(low, low + count, tolerance)
        if found is None:
            bad = count
        else:
            good, bulge = count, found
    return low + good, bulge
