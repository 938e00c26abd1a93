"""What happens along the edges of one part: stretches of one burr class, and local speed.

A place along the edges is its *way*: drawn length from the start of the part's first contour,
all contours laid end to end.  So every contour is a range of ways, and two things known in
stretches (slow or not, hot or not) meet by sorting their ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.effects.evidence import Evidence
from analyzer.effects.speeds import programmed_speeds, slowest_under_way
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.job import Job
from analyzer.motion.plan import Plan
from analyzer.process.burr import BurrTerms, burr_terms

SHORTEST = 1e-9
"""Stretches not longer than this are none. [mm]"""


@dataclass(frozen=True, eq=False)
class Runs:
    """Edges of one part in r stretches, each of one burr class; they cover every contour once.

    Attributes
    ----------
    contours : Contours
        The drawn contours of the part.
    row : ndarray of int, shape (r,)
        Contour of every stretch; they come in the order of the contours.
    start, stop : ndarray, shape (r,)
        Drawn length from the start of that contour to both ends of the stretch. [mm]
    burr_class : ndarray of int, shape (r,)
        0 none, 1 wipes off, 2 brush or belt, 3 grinder.
    """

    contours: Contours
    row: Ints
    start: Floats
    stop: Floats
    burr_class: Ints

    @cached_property
    def lines(self) -> Contours:
        """Every stretch as one open chain of lines and arcs, arcs kept; row k is stretch k."""
        base = way_of_rows(self.contours)[self.row]
        return pieces_of(self.contours, base + self.start, base + self.stop)

    @cached_property
    def metres(self) -> Floats:
        """Drawn length by class 0..3, shape (4,). [m]"""
        return np.bincount(self.burr_class, self.stop - self.start, 4).astype(float) / 1000.0


@dataclass(frozen=True, eq=False)
class Speeds:
    """Local speed at k places along the edges of one part, every joint of the path among them.

    Attributes
    ----------
    row : ndarray of int, shape (k,)
        Contour of the part.
    way : ndarray, shape (k,)
        Drawn length from the start of that contour, growing along it. [mm]
    xy : ndarray, shape (k, 2)
        The place on the drawn edge. [mm]
    speed : ndarray, shape (k,)
        Speed of the head there. [mm/s]
    table : float
        Speed of the process table. [mm/s]
    """

    row: Ints
    way: Floats
    xy: Floats
    speed: Floats
    table: float


def way_of_rows(contours: Contours) -> Floats:
    """Return the way at which every contour begins, and that at the end, shape (n + 1,). [mm]"""
    return np.concatenate(([0.0], np.cumsum(contours.lengths)))[contours.offsets]


def pieces_of(contours: Contours, start: Floats, stop: Floats) -> Contours:
    """Return the edge between pairs of ways as open chains, arcs cut as arcs.

    Parameters
    ----------
    contours : Contours
        Contours with s segments.
    start, stop : ndarray, shape (r,)
        Ways, start < stop, both on one contour. [mm]
    """
    if not len(start):
        return Contours.empty()
    ends = np.cumsum(contours.lengths)
    first = np.minimum(np.searchsorted(ends, start, side="right"), len(ends) - 1)
    last = np.maximum(np.searchsorted(ends, stop, side="left"), first)
    last = np.minimum(last, len(ends) - 1)
    counts = last - first + 1
    run = np.repeat(np.arange(len(start)), counts)
    offsets = np.concatenate(([0], np.cumsum(counts)))
    segment = np.arange(len(run)) - offsets[:-1][run] + first[run]
    length = contours.lengths[segment]
    before = ends[segment] - length
    whole = np.where(length > 0.0, length, 1.0)
    low = np.clip((start[run] - before) / whole, 0.0, 1.0)
    high = np.clip((stop[run] - before) / whole, low, 1.0)
    starts, stops = contours.points_at(segment, low), contours.points_at(segment, high)
    starts[low == 0.0] = contours.starts[segment[low == 0.0]]
    stops[high == 1.0] = contours.ends[segment[high == 1.0]]
    bulges = np.tan(np.arctan(contours.bulges[segment]) * (high - low))
    smooth = contours.smooth[segment] & (low == 0.0)
    return Contours(
        starts, stops, bulges, length * (high - low), smooth, offsets, np.zeros(len(start), bool)
    )


# --- burr class --------------------------------------------------------------------------


def burr_runs(one: Evidence, job: Job) -> Runs:
    """Return the edges of a part in stretches of one burr class, by the formula of docs/burr.md.

    Small contours are raised whole, others where the head is slow or the edge is hot.  The
    lengths by class are those of the edge forecast; where an edge is both slow and hot they are
    laid one over the other here, while the forecast spreads the heat over the contour.
    """
    contours = one.part.contours
    setting, plan = one.setting, one.plan
    terms = burr_terms(setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    base = way_of_rows(contours)
    small = plan.ratios < terms.small_contour_ratio
    slow = _small_stretches(base, small)
    if terms.slow_fraction and terms.classes[1] > terms.classes[0] and len(plan.path.bulges):
        limits = terms.slow_fraction * programmed_speeds(plan, setting)
        least, _ = slowest_under_way(contours, plan)
        limits[small | (least >= limits)] = 0.0  # as in the forecast: start and end alone are none
        slow = np.vstack((slow, _slow_stretches(one, limits)))
    hot = _hot_stretches(one, base, terms)
    cuts = np.unique(np.concatenate((base, slow.ravel(), hot.ravel())))
    start, stop = cuts[:-1], cuts[1:]
    middle = (start + stop) / 2.0
    is_slow, is_hot = _covered(slow, middle), _covered(hot, middle)
    table = np.array((terms.classes, terms.hot_classes))
    burr_class = table[is_hot.astype(int), is_slow.astype(int)]
    row = np.clip(np.searchsorted(base, middle, side="right") - 1, 0, max(len(contours) - 1, 0))
    keep = stop - start > SHORTEST
    return _merged(contours, row[keep], start[keep], stop[keep], burr_class[keep])


SLOW_SHARES = (0.9, 0.6, 0.3)
"""Below these shares of the table speed an edge is cut slowly: classes 1, 2, 3. [-]"""


def speed_runs(contours: Contours, speeds: Speeds) -> Runs:
    """Return the edges in stretches of one class of speed, 0 the table's to 3 below 30 % of it.

    They are `Runs` whose classes are those of `SLOW_SHARES`.
    """
    order = np.lexsort((speeds.way, speeds.row))
    row, way, speed = speeds.row[order], speeds.way[order], speeds.speed[order]
    same = (row[1:] == row[:-1]) & (way[1:] - way[:-1] > SHORTEST)
    share = (speed[1:] + speed[:-1])[same] / 2.0 / speeds.table
    slow = (share[:, None] < SLOW_SHARES).sum(axis=1)
    base = way_of_rows(contours)[row[:-1][same]]
    return _merged(contours, row[:-1][same], base + way[:-1][same], base + way[1:][same], slow)


def _merged(contours: Contours, row: Ints, start: Floats, stop: Floats, klass: Ints) -> Runs:
    """Join neighbours of one class on one contour."""
    fresh = np.ones(len(row), dtype=bool)
    fresh[1:] = (row[1:] != row[:-1]) | (klass[1:] != klass[:-1])
    first = np.flatnonzero(fresh)
    last = np.append(first[1:], len(row)) - 1 if len(first) else first
    base = way_of_rows(contours)
    begin = base[row[first]]
    end = base[row[first] + 1]
    # the shortest stretches were dropped: close up, so that every contour is covered
    runs_start = np.where(np.diff(row[first], prepend=-1) != 0, begin, start[first])
    runs_stop = np.where(np.diff(row[first], append=-1) != 0, end, stop[last])
    runs_start[1:] = np.where(row[first][1:] == row[first][:-1], runs_stop[:-1], runs_start[1:])
    return Runs(contours, row[first], runs_start - begin, runs_stop - begin, klass[first])


def _covered(stretches: Floats, ways: Floats) -> Bools:
    """Whether ways lie in any of the stretches, shape (k,)."""
    opened = np.searchsorted(np.sort(stretches[:, 0]), ways)
    closed = np.searchsorted(np.sort(stretches[:, 1]), ways)
    inside: Bools = opened > closed
    return inside


def _small_stretches(base: Floats, small: Bools) -> Floats:
    return np.column_stack((base[:-1][small], base[1:][small]))


def _hot_stretches(one: Evidence, base: Floats, terms: BurrTerms) -> Floats:
    field = one.heat.field if one.heat else None
    if field is None or not len(field.station_rows):
        return np.zeros((0, 2))
    ends = np.cumsum(field.station_lengths)
    home = np.searchsorted(field.station_rows, field.station_rows)  # first station of its contour
    before = np.concatenate(([0.0], ends))
    start = base[field.station_rows] + before[:-1] - before[home]
    stop = np.minimum(start + field.station_lengths, base[field.station_rows + 1])
    over = field.station_rises > terms.heat_limit
    return np.column_stack((start, stop))[over]


def _slow_stretches(one: Evidence, limits: Floats) -> Floats:
    """Return ways between which the head is slower than the limit of the contour, shape (k, 2)."""
    plan = one.plan
    at, place = _path_ways(one)
    bound = limits[plan.path.owner]
    pieces = plan.profile.pieces
    low, high = pieces.stretches_below(bound[pieces.row])
    length = plan.profile.lengths
    whole = plan.profile.ceiling < bound
    pick = np.flatnonzero((high > low) & ~whole[pieces.row])
    segment = pieces.row[pick]
    scale = np.divide(place, length, out=np.zeros(len(length)), where=length > 0.0)
    ways = at[segment, None] + np.column_stack((low, high))[pick] * scale[segment, None]
    ways = np.minimum(ways, (at + place)[segment, None])
    all_slow = np.column_stack((at, at + place))[whole]
    swallowed = _swallowed(one, limits)
    return np.vstack((ways, all_slow, swallowed))


def _swallowed(one: Evidence, limits: Floats) -> Floats:
    """Return drawn segments that the path leaves out and that the head turns on slowly."""
    contours, plan = one.part.contours, one.plan
    run = np.bincount(plan.source, plan.profile.lengths, len(contours.lengths)) > 0.0
    if run.all():
        return np.zeros((0, 2))
    slow = np.zeros(len(run), dtype=bool)
    slow[plan.source] = plan.profile.exit < limits[plan.path.owner]
    index = np.arange(len(run))
    last = np.maximum.accumulate(np.where(run, index, -1))
    first = contours.offsets[:-1][contours.owner]
    around = np.maximum(last[contours.offsets[1:] - 1], 0)[contours.owner]
    before = np.where(last >= first, last, around)
    lost = np.flatnonzero(~run & slow[before])
    ends = np.cumsum(contours.lengths)
    return np.column_stack((ends[lost] - contours.lengths[lost], ends[lost]))


# --- speed -------------------------------------------------------------------------------


def _path_ways(one: Evidence) -> tuple[Floats, Floats]:
    """Return where on the drawn edge every path segment begins, and how far it goes. [mm]

    Path segments that come from one drawn segment share its length by their own.
    """
    contours, plan = one.part.contours, one.plan
    source, length = plan.source, plan.profile.lengths
    whole = np.bincount(source, length, len(contours.lengths))[source]
    share = np.divide(length, whole, out=np.zeros(len(length)), where=whole > 0.0)
    begins = (np.cumsum(contours.lengths) - contours.lengths)[source]
    order = np.lexsort((_opens_last(plan), source))
    run = np.cumsum(share[order]) - share[order]
    fresh = np.diff(source[order], prepend=-1) != 0
    run -= np.repeat(run[fresh], np.diff(np.append(np.flatnonzero(fresh), len(run))))
    before = np.zeros(len(length))
    before[order] = np.clip(run, 0.0, 1.0)
    drawn = contours.lengths[source]
    return begins + before * drawn, share * drawn


def _opens_last(plan: Plan) -> Bools:
    """Whether a path segment belongs behind those that end its contour, shape (s,).

    A contour entered within a drawn segment ends with that segment's first piece.
    """
    source, path = plan.source, plan.path
    first, last = path.offsets[:-1], path.offsets[1:] - 1
    other = source != source[first][path.owner]
    passed = np.cumsum(other)
    opening = passed == (passed - other)[first][path.owner]
    wraps = (source[first] == source[last]) & (passed[last] > passed[first])
    behind: Bools = opening & wraps[path.owner]
    return behind


def speeds_along(
    one: Evidence, step: float = np.inf, least: int = 3, turn: float = np.pi / 12.0
) -> Speeds:
    """Return the speed at both ends and in between on every path segment.

    Parameters
    ----------
    one : Evidence
        A part under one gas.
    step : float
        Longest stretch between two places. [mm]
    least : int
        Least number of stretches that a segment is divided into. [-]
    turn : float
        Most that an arc turns within a stretch. [rad]
    """
    contours, plan = one.part.contours, one.plan
    table = one.setting.speed_mm_s
    if not len(plan.path.bulges):
        none = np.zeros(0)
        return Speeds(np.zeros(0, np.int64), none, np.zeros((0, 2)), none, table)
    at, place = _path_ways(one)
    bends = np.abs(plan.path.sweeps) / turn
    counts = np.ceil(np.clip(np.maximum(place / step, bends), least, 400)).astype(np.int64) + 1
    segment = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = within / (counts - 1)[segment]
    speed = plan.profile.speeds_at(segment, share)
    ways = at[segment] + share * place[segment]
    source = plan.source[segment]
    length = contours.lengths[source]
    ends = np.cumsum(contours.lengths)[source]
    part = np.divide(ways - ends + length, length, out=np.zeros(len(ways)), where=length > 0.0)
    xy = contours.points_at(source, np.clip(part, 0.0, 1.0))
    row = plan.path.owner[segment]
    return Speeds(row, ways - way_of_rows(contours)[row], xy, speed, table)
