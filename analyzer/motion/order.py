"""Which contour is cut when, and where each is entered.

Inner before outer: cut-outs and open cut lines first, what lies in a cut-out before that
cut-out, the outline last.  Cut-outs that are large for their part come after the others, smaller
ones first: the sheet moves when a large piece falls.  Among the rest a short way that ends at the
outline's entry (`analyzer.motion.tour`), in thick oxygen with neighbours in the order kept apart.

Everything is decided on whole numbers in a frame tied to the part (its canonical pose,
mirrored so that the heavier side comes first), so moving, turning, mirroring or reordering a
drawing gives the same order, even in grids where many ways are equally long.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.errors import BurrcastError
from analyzer.geometry.clearance import box_pairs, contains_points
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.layout.alone import Pose
from analyzer.motion.tour import Extents, Ways, short_tour
from analyzer.tolerances import DEFAULT, Tolerances

GRID = 1.0471975512e-3
"""Step of the whole-number frame; odd on purpose, drawn sizes never fall half way. [mm]"""

LARGE = 0.1
"""From this share of the outline's area a cut-out is large and comes late (ours). [-]"""

SPREAD_FROM_MM = 12.0
"""In oxygen of this thickness no contour follows one nearer than `SPREAD` times it
(common practice, no source)."""

SPREAD = 2.0


@dataclass(frozen=True, eq=False)
class Route:
    """How one part is gone through.

    Attributes
    ----------
    order : ndarray of int, shape (n,)
        Rows as they are cut.
    entry : ndarray of int, shape (n,)
        Segment of the drawn contours on which each contour is entered.
    middle : ndarray of bool, shape (n,)
        Entered at the middle of that segment, else at its start.
    marks : ndarray of int, shape (m,)
        Rows of the mark lines as they are marked.
    pose : Pose
        How the part lies.
    crowded : int
        Contours that follow one nearer than asked, because none was left that did not.
    """

    order: Ints
    entry: Ints
    middle: Bools
    marks: Ints
    pose: Pose
    crowded: int = 0


def spread_distance(gas: str, thickness: float) -> float:
    """Return how far apart contours cut one after the other must lie; 0: as they come. [mm]"""
    return SPREAD * thickness if gas == "oxygen" and thickness >= SPREAD_FROM_MM else 0.0


def route_of(
    contours: Contours, marks: Contours, pose: Pose, spread: float = 0.0,
    tolerances: Tolerances = DEFAULT,
) -> Route:  # fmt: skip
    """Return order and entries of one part with its mark lines, lying in `pose`.

    An outline is entered at its sharpest outside corner, else at the middle of its
    longest segment; a cut-out at the middle of its longest straight, else segment; a
    circle where it is drawn.  Ties go to the first in the frame.  Contours nearer than
    `spread` do not follow one another where that can be helped. [mm]
    """
    frame = _Frame(contours, pose)
    entry, middle = _entries(contours, frame, tolerances)
    at = contours.points_at(entry, np.where(middle, 0.5, 0.0))
    rounds = round_rows(contours)
    at = np.where(rounds[:, None], contours.centroid, at)
    open_rows = np.flatnonzero(~contours.closed)
    last = contours.ends[contours.offsets[1:][open_rows] - 1]
    at[open_rows] = (at[open_rows] + last) / 2.0
    places = frame.cells(at)
    order, crowded = _order(contours, places, frame, spread)
    places = frame.cells((marks.box[:, :2] + marks.box[:, 2:]) / 2.0)
    marking = np.lexsort((marks.length, *places.T[::-1]))
    marking = marking[short_tour(places[marking])]
    return Route(order, entry, middle, marking, pose, crowded)


def _order(contours: Contours, places: Ints, frame: _Frame, spread: float) -> tuple[Ints, int]:
    """Rows as they are cut, and how many follow one nearer than `spread`."""
    outline = contours.closed & (contours.area > 0.0)
    outline[1:] = False  # rows above the first that run as outlines are islands
    late = large_cut_outs(contours)
    early = np.flatnonzero(~outline & ~late)
    early = early[np.lexsort((contours.length[early], *places[early].T[::-1]))]
    last = np.flatnonzero(late)
    size = np.rint(contours.length[last] * 100.0)
    last = last[np.lexsort((*places[last].T[::-1], size))]
    rest = np.concatenate((last, np.flatnonzero(outline)))
    goal = places[rest[0]] if len(rest) else None
    extents = frame.extents(contours.take(early), spread) if spread > 0.0 else None
    tour = early[short_tour(places[early], goal, extents=extents)]
    order = kept(np.concatenate((tour, rest)), islands_first(contours))
    inner = order[~outline[order]]
    if extents is None or len(inner) < 2:
        return order, 0
    ways = Ways(places[inner], None, None, frame.extents(contours.take(inner), spread))
    step = np.arange(len(inner))
    return order, int(ways.near(step[:-1], step[1:]).sum())


def large_cut_outs(contours: Contours) -> Bools:
    """Return which cut-outs are large for their part, shape (n,)."""
    outline = float(contours.area[:1].clip(0.0).sum())
    return contours.closed & (-contours.area > LARGE * outline) & (outline > 0.0)


def islands_first(contours: Contours) -> list[tuple[int, int]]:
    """Return pairs (first, then): whatever lies in a cut-out comes before that cut-out."""
    inside = contours.closed & (contours.area > 0.0)
    inside[:1] = False
    islands = np.flatnonzero(inside)
    if not len(islands):
        return []
    hosts = np.flatnonzero(contours.closed & (contours.area < 0.0))
    point = contours.starts[contours.offsets[:-1][islands]]
    host, island = box_pairs(contours.box[hosts], np.hstack((point, point)), 0.0)
    within = contains_points(contours, hosts[host], point[island])
    return [
        (int(islands[i]), int(hosts[h])) for h, i in zip(host[within], island[within], strict=True)
    ]


def kept(order: Ints, pairs: Sequence[tuple[int, int]]) -> Ints:
    """Return `order` changed as little as pairs (first, then) ask for.

    Where a row comes too early, what must come before it is put right before it, in order.

    Raises
    ------
    BurrcastError
        If the pairs go round in a ring.
    """
    if not pairs:
        return order
    rank = {int(row): place for place, row in enumerate(order)}
    needs: dict[int, list[int]] = {}
    for first, then in pairs:
        needs.setdefault(then, []).append(first)
    done: dict[int, None] = {}
    for row in rank:
        waiting = [row]
        while waiting:
            top = waiting[-1]
            missing = [k for k in needs.get(top, ()) if k not in done]
            if len(waiting) > len(rank):
                raise BurrcastError(f"contours {waiting[-2:]} must each come before the other")
            if missing and top not in done:
                waiting.append(min(missing, key=rank.__getitem__))
            else:
                done[waiting.pop()] = None
    return np.array(list(done), dtype=np.int64)


class _Frame:
    """Whole-number coordinates tied to the part. Flips decide ties only, nothing is mirrored."""

    def __init__(self, contours: Contours, pose: Pose) -> None:
        self.matrix, self.middle = pose.matrix, pose.middle
        halves = (contours.starts + contours.ends) / 2.0
        arm = halves @ self.matrix.T - self.middle
        size = max(pose.width, pose.height, 1e-9)
        weight = contours.lengths[:, None]
        total = max(float(weight.sum()), 1e-9)
        self.flips = np.ones(2)
        for power in (1, 3):
            lean = (weight * (arm / size) ** power).sum(axis=0) / total
            undecided = self.flips == 1.0
            self.flips = np.where(undecided & (lean > 1e-7), -1.0, self.flips)
            if np.all(np.abs(lean) > 1e-7):
                break

    def cells(self, points: Floats) -> Ints:
        """Whole-number coordinates of points, shape (k, 2)."""
        place = (points @ self.matrix.T - self.middle) * self.flips / GRID
        cells: Ints = np.rint(place).astype(np.int64)
        return cells

    def extents(self, contours: Contours, distance: float) -> Extents:
        """How far contours reach in the frame, to be kept apart by `distance`. [mm]"""
        moved = contours.moved(self.matrix)
        low, high = moved.box[:, :2] - self.middle, moved.box[:, 2:] - self.middle
        one, other = low * self.flips, high * self.flips
        box = np.hstack((np.minimum(one, other), np.maximum(one, other))) / GRID
        radius = np.where(round_rows(contours), (box[:, 2] - box[:, 0]) / 2.0, 0.0)
        return Extents(box, radius, distance / GRID)


def round_rows(contours: Contours, tolerance: float = 1e-6) -> Bools:
    """Return which contours are one full circle of arcs, shape (n,)."""
    first = contours.offsets[:-1]
    centre, radius = contours.centres, contours.radii
    home = contours.owner
    with np.errstate(invalid="ignore"):
        off = np.hypot(*(centre - centre[first][home]).T) + np.abs(radius - radius[first][home])
        odd = ~(off <= tolerance * np.maximum(1.0, radius))
    odd_rows = np.bincount(home, weights=odd, minlength=len(contours)) > 0
    return contours.closed & ~odd_rows


def _entries(contours: Contours, frame: _Frame, tolerances: Tolerances) -> tuple[Ints, Bools]:
    """Segment on which every contour is entered, and whether at its middle."""
    c = contours
    if not len(c):
        return np.zeros(0, np.int64), np.zeros(0, bool)
    first, home = c.offsets[:-1], c.owner
    outer = (c.closed & (c.area > 0.0))[home]
    turns = np.where(outer, c.turns, 0.0)
    sharpest = np.maximum.reduceat(turns, first)
    corner = sharpest > np.radians(tolerances.smooth_deg)
    plain = (c.bulges == 0.0) & ~c.smooth
    size = np.where(plain, c.lengths, 0.0)
    straight = np.maximum.reduceat(size, first) > 0.0
    size = np.where(straight[home], size, c.lengths)
    score = np.where(corner[home], turns, size)
    best = np.maximum.reduceat(score, first)
    tied = score >= (best - 1e-6)[home]
    places = frame.cells(c.points_at(np.arange(len(home)), np.where(corner[home], 0.0, 0.5)))
    rank = np.empty(len(home), np.int64)
    rank[np.lexsort(places.T[::-1])] = np.arange(len(home))
    rank = np.where(tied, rank, len(home))
    least = np.minimum.reduceat(rank, first)
    entry = np.flatnonzero(rank == least[home])
    fixed = round_rows(c) | ~c.closed
    entry = np.where(fixed, first, entry)
    return entry, ~corner & ~fixed


def entry_choices(
    contours: Contours, rows: Ints, pose: Pose, most: int
) -> tuple[Ints, Bools]:  # fmt: skip
    """Return other ways to enter `rows`, best first: segments and whether at their middle.

    Outside corners of an outline by sharpness, then middles of all segments by length;
    both of shape (r, most), short lists repeated.  Ties go to the first in the frame.
    """
    frame = _Frame(contours, pose)
    segments = np.zeros((len(rows), most), dtype=np.int64)
    middles = np.zeros((len(rows), most), dtype=bool)
    for k, row in enumerate(rows.tolist()):
        own = np.arange(contours.offsets[row], contours.offsets[row + 1])
        corner = own[contours.turns[own] > np.radians(DEFAULT.smooth_deg)]
        corner = corner if contours.closed[row] and contours.area[row] > 0.0 else corner[:0]
        index = np.concatenate((corner, own))
        half = np.arange(len(index)) >= len(corner)
        score = np.where(half, contours.lengths[index], contours.turns[index])
        place = frame.cells(contours.points_at(index, np.where(half, 0.5, 0.0)))
        best = np.lexsort((place[:, 1], place[:, 0], -np.rint(score * 1e6), half))
        best = np.resize(best, most)
        segments[k], middles[k] = index[best], half[best]
    return segments, middles
