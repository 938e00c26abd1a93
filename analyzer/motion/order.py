"""Which contour is cut when, and where each is entered; the same for every gas.

Inner before outer: cut-outs and open cut lines first, outlines last.  Among the inner
ones a short way: from the outline's entry backwards to the nearest neighbour each time,
then 2-opt and Or-opt moves within a window of the tour, so that nothing grows with n^2.

Everything is decided on whole numbers in a frame tied to the part (its canonical pose,
mirrored so that the heavier side comes first), so moving, turning, mirroring or reordering a
drawing gives the same order, even in grids where many ways are equally long.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.layout.alone import Pose
from analyzer.tolerances import DEFAULT, Tolerances

GRID = 1.0471975512e-3
"""Step of the whole-number frame; odd on purpose, drawn sizes never fall half way. [mm]"""

WINDOW_CELLS = 20_000
"""Pairs looked at per improving round."""

ROUNDS = 40
"""Most improving rounds for up to 200 places; larger parts get fewer."""


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
    """

    order: Ints
    entry: Ints
    middle: Bools
    marks: Ints


def route_of(
    contours: Contours, marks: Contours, pose: Pose, tolerances: Tolerances = DEFAULT
) -> Route:
    """Return order and entries of one part with its mark lines, lying in `pose`.

    An outline is entered at its sharpest outside corner, else at the middle of its
    longest segment; a cut-out at the middle of its longest straight, else segment; a
    circle where it is drawn.  Ties go to the first in the frame.
    """
    frame = _Frame(contours, pose)
    entry, middle = _entries(contours, frame, tolerances)
    at = contours.points_at(entry, np.where(middle, 0.5, 0.0))
    rounds = round_rows(contours)
    at = np.where(rounds[:, None], contours.centroid, at)
    open_rows = np.flatnonzero(~contours.closed)
    last = contours.ends[contours.offsets[1:][open_rows] - 1]
    at[open_rows] = (at[open_rows] + last) / 2.0
    outer = contours.closed & (contours.area > 0.0)
    inner, rest = np.flatnonzero(~outer), np.flatnonzero(outer)
    places = frame.cells(at)
    rest = rest[np.lexsort(places[rest].T[::-1])]
    goal = places[rest[0]] if len(rest) else None
    inner = inner[np.lexsort((contours.length[inner], *places[inner].T[::-1]))]
    tour = inner[short_tour(places[inner], goal)]
    places = frame.cells((marks.box[:, :2] + marks.box[:, 2:]) / 2.0)
    marking = np.lexsort((marks.length, *places.T[::-1]))
    marking = marking[short_tour(places[marking])]
    return Route(np.concatenate((tour, rest)), entry, middle, marking)


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


# --- a short way ----------------------------------------------------------


def short_tour(places: Ints, goal: Ints | None = None) -> Ints:
    """Return a short order of `places` with a free start that ends near `goal`.

    Parameters
    ----------
    places : ndarray of int, shape (n, 2)
        Whole-number coordinates; ties go to the lower row.
    goal : ndarray of int, shape (2,), optional
        Where the way goes after the last place.

    Returns
    -------
    ndarray of int, shape (n,)
        Rows in order.  A local optimum, not the shortest.
    """
    count = len(places)
    if count <= 1:
        return np.arange(count)
    start = goal if goal is not None else places[0]
    backwards = _nearest_neighbours(places, start)
    order = backwards[::-1].copy()
    cells = places.astype(float)
    target = None if goal is None else goal.astype(float)
    window = int(np.clip(WINDOW_CELLS // count, 8, count))
    rounds = max(ROUNDS * 200 // max(count, 200), 4)
    for _ in range(rounds):
        if not (_two_opt(order, cells, target, window) or _or_opt(order, cells, target, window)):
            break
    return order


def _nearest_neighbours(places: Ints, start: Ints) -> Ints:
    """Go from `start` to the nearest place not yet visited, until none is left."""
    order = np.empty(len(places), np.int64)
    left = np.arange(len(places))
    x, y = (int(v) for v in start)
    done = 0
    while done < len(order):
        # a fresh grid of about two places a cell whenever half of them are gone
        grid, cell, low = _cells_of(places[left], left)
        enough = max(len(left) // 2, 1) if len(left) > 64 else len(left)
        for _ in range(enough):
            row = _nearest(grid, cell, low, places, x, y)
            order[done] = row
            done += 1
            x, y = int(places[row, 0]), int(places[row, 1])
            grid[(x - low[0]) // cell, (y - low[1]) // cell].remove((row, x, y))
        left = np.setdiff1d(left, order[:done], assume_unique=True)
    return order


_Grid = dict[tuple[int, int], list[tuple[int, int, int]]]


def _cells_of(places: Ints, rows: Ints) -> tuple[_Grid, int, tuple[int, int]]:
    low = (int(places[:, 0].min()), int(places[:, 1].min()))
    wide, high = (int(v) + 1 for v in np.ptp(places, axis=0))
    many = max(len(rows) / 2.0, 1.0)
    cell = max(int(np.sqrt(float(wide) * high / many)), int(max(wide, high) / many) + 1, 1)
    grid: _Grid = {}
    for row, (x, y) in zip(rows.tolist(), places.tolist(), strict=True):
        grid.setdefault(((x - low[0]) // cell, (y - low[1]) // cell), []).append((row, x, y))
    return grid, cell, low


def _nearest(grid: _Grid, cell: int, low: tuple[int, int], places: Ints, x: int, y: int) -> int:
    """Row in the grid nearest to (x, y), the lower one of equals."""
    home_x, home_y = (x - low[0]) // cell, (y - low[1]) // cell
    best, best_row = -1, -1
    ring = 0
    while best_row < 0 or best > ((ring - 1) * cell) ** 2:
        for key in _ring(home_x, home_y, ring):
            for row, px, py in grid.get(key, ()):
                far = (px - x) ** 2 + (py - y) ** 2
                if best_row < 0 or far < best or (far == best and row < best_row):
                    best, best_row = far, row
        ring += 1
        if best_row < 0 and ring > 8:  # far from every place: look at all of them
            return min((((px - x) ** 2 + (py - y) ** 2), row)
                       for cells in grid.values() for row, px, py in cells)[1]  # fmt: skip
    return best_row


def _ring(x: int, y: int, ring: int) -> list[tuple[int, int]]:
    if ring == 0:
        return [(x, y)]
    side = range(-ring, ring + 1)
    edge = [(x + k, y + s) for k in side for s in (-ring, ring)]
    return edge + [(x + s, y + k) for k in range(1 - ring, ring) for s in (-ring, ring)]


class _Ways:
    """Distances between places of a tour by position; -1 is nowhere, n is the goal."""

    def __init__(self, order: Ints, cells: Floats, goal: Floats | None) -> None:
        self.count = len(order)
        stop = np.zeros(2) if goal is None else goal
        self.at = np.vstack((np.zeros(2), cells[order], stop))
        self.goal = goal is not None

    def between(self, a: Ints, b: Ints) -> Floats:
        """Distance from position a to position b; 0 from nowhere and to no goal."""
        step = self.at[a + 1] - self.at[b + 1]
        far = np.hypot(step[..., 0], step[..., 1])
        off = a < 0
        if not self.goal:
            off = off | (b >= self.count)
        return np.where(off, 0.0, far)


def _windows(count: int, window: int) -> tuple[Ints, Ints, Bools]:
    first = np.arange(count)[:, None]
    last = first + np.arange(1, window + 1)[None, :]
    inside = last < count
    return np.broadcast_to(first, last.shape), np.minimum(last, count - 1), inside


def _two_opt(order: Ints, cells: Floats, goal: Floats | None, window: int) -> bool:
    """Turn stretches of the tour round where that shortens it; tell if any was."""
    ways = _Ways(order, cells, goal)
    i, j, inside = _windows(len(order), window)
    gain = ways.between(i - 1, i) + ways.between(j, j + 1)
    gain = gain - ways.between(i - 1, j) - ways.between(i, j + 1)
    gain = np.where(inside, gain, 0.0)
    best = gain.argmax(axis=1)
    rows = np.arange(len(order))
    return _apply(order, rows, j[rows, best], gain[rows, best], None)


def _or_opt(order: Ints, cells: Floats, goal: Floats | None, window: int) -> bool:
    """Swap a stretch of one to three places with the stretch beside it; tell if any was."""
    ways = _Ways(order, cells, goal)
    i, j, inside = _windows(len(order), window)
    rows = np.arange(len(order))
    best, until, cut = np.zeros(len(order)), rows.copy(), rows.copy()
    for size in (1, 2, 3):
        for k in (i + size, j - size + 1):  # second stretch begins at k
            fits = inside & (k > i) & (k <= j)
            k = np.clip(k, 1, len(order) - 1)
            gain = ways.between(i - 1, i) + ways.between(k - 1, k) + ways.between(j, j + 1)
            gain = gain - ways.between(i - 1, k) - ways.between(j, i) - ways.between(k - 1, j + 1)
            gain = np.where(fits, gain, 0.0)
            at = gain.argmax(axis=1)
            better = gain[rows, at] > best
            best = np.where(better, gain[rows, at], best)
            until = np.where(better, j[rows, at], until)
            cut = np.where(better, k[rows, at], cut)
    return _apply(order, rows, until, best, cut)


def _apply(order: Ints, first: Ints, last: Ints, gain: Floats, cut: Ints | None) -> bool:
    """Do the moves of most gain whose stretches do not touch."""
    moved = np.zeros(len(order) + 2, dtype=bool)
    changed = False
    wanted = np.flatnonzero(gain > 1e-6)
    for move in wanted[np.argsort(-gain[wanted], kind="stable")]:
        i, j = int(first[move]), int(last[move])
        if moved[i : j + 3].any():  # positions i - 1 to j + 1, shifted by one
            continue
        moved[i : j + 3] = True
        stretch = order[i : j + 1]
        if cut is None:
            order[i : j + 1] = stretch[::-1].copy()
        else:
            k = int(cut[move]) - i
            order[i : j + 1] = np.concatenate((stretch[k:], stretch[:k]))
        changed = True
    return changed
