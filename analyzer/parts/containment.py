"""Which contour lies in which, and which contours cross."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.budgets import DEFAULT as BUDGETS
from analyzer.budgets import Budgets
from analyzer.drawing.drawing import Fact
from analyzer.geometry.blocks import Blocks, diagonals
from analyzer.geometry.circles import Circles, true_circles
from analyzer.geometry.clearance import clearances, contains_points
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.stacks import stacks_of
from analyzer.parts.near_doubles import near_double_facts, near_doubles
from analyzer.tolerances import DEFAULT, Tolerances

_MOST_FACTS = 20  # pairs that cross, told one by one
_LARGER = 1e-9  # a contour holds only what is smaller by this share of its area
_POLYGONS = 2_000  # contours made polygons together, so that memory stays bounded
_AT_ONCE = 4_000_000  # points and stacks of circles compared together


@dataclass(frozen=True, eq=False)
class Containment:
    """Where every contour lies.

    Attributes
    ----------
    parent : ndarray of int, shape (n,)
        The smallest closed contour that holds it; -1 where none does.
    depth : ndarray of int, shape (n,)
        How many closed contours hold it: a closed contour of even depth bounds metal
        from outside, one of odd depth is a cut-out.
    """

    parent: Ints
    depth: Ints


def check_pairs(contours: Contours, budgets: Budgets = BUDGETS) -> None:
    """Refuse contours of which more than `budgets.pairs` overlap with their boxes.

    What is looked at later grows with these pairs: about one a contour on real sheets, but
    the square of the contours where thousands lie in one another.  Circles about one centre
    are looked up, not asked one by one, so they count as the largest of them.

    Raises
    ------
    DrawingError
        Naming the limit; counting stops soon after it is passed.
    """
    circles = true_circles(contours)
    stacks = stacks_of(circles)
    boxes = np.vstack((contours.box[contours.closed & ~circles.round], stacks.box))
    shapes = diagonals(boxes)
    found = 0
    tree = shapely.STRtree(shapes)
    blocks = Blocks(len(shapes), budgets.pairs)
    for some in blocks:
        met = tree.query(shapes[some]).shape[1]
        blocks.found(met)
        found += met - len(some)  # each meets itself
        budgets.check("pairs", found // 2)


def find_containment(contours: Contours, tolerances: Tolerances = DEFAULT) -> Containment:
    """Return which closed contour holds every contour, n log n.

    One point inside each closed contour (the middle of an open one) is looked up in the
    larger contours around it, so contours that touch do not matter; where two cross, the
    point decides and `crossing_contours` tells.
    """
    points, room = _points_inside(contours, tolerances.flatten)
    own = np.arange(len(contours))
    size = np.where(contours.closed, np.abs(contours.area), 0.0)
    return _around(contours, points, size, room, tolerances.flatten, own)


def smallest_around(contours: Contours, points: Floats, tolerances: Tolerances = DEFAULT) -> Ints:
    """Return the smallest closed contour that holds every point, -1 for none, shape (k,)."""
    nothing = np.zeros(len(points))
    return _around(contours, points, nothing, nothing, tolerances.flatten).parent


def _around(
    contours: Contours, points: Floats, size: Floats, room: Floats, flatten: float,
    own: Ints | None = None,
) -> Containment:  # fmt: skip
    """How many closed contours larger than `size` hold every point, and the smallest of them."""
    area = np.abs(contours.area)
    circles = true_circles(contours)
    least = np.sqrt(size / np.pi)
    if own is not None:
        least = np.where(circles.round[own], circles.radius[own], least)  # no circle in itself
    parent, depth = _circles_around(circles, points, least * (1.0 + _LARGER / 2.0))
    rest = np.flatnonzero(contours.closed & (area > 0.0) & ~circles.round)
    if not len(rest) or not len(points):
        return Containment(parent, depth)
    tree = shapely.STRtree(diagonals(contours.box[rest]))
    inner, outer = tree.query(shapely.points(points))
    outer = rest[outer]
    larger = area[outer] > size[inner] * (1.0 + _LARGER)
    if own is not None:
        larger &= own[inner] != outer
    inner, outer = inner[larger], outer[larger]
    held = _holds(contours, outer, points[inner], room[inner], flatten)
    inner, outer = inner[held], outer[held]
    other = _smallest(contours, inner, outer, len(points))
    nearer = (other >= 0) & ((parent < 0) | (area[other] < area[parent]))
    return Containment(
        np.where(nearer, other, parent), depth + np.bincount(inner, minlength=len(points))
    )


def _circles_around(circles: Circles, points: Floats, least: Floats) -> tuple[Ints, Ints]:
    """The smallest circle wider than `least` around every point, -1 for none, and how many."""
    count = len(points)
    parent, depth = np.full(count, -1), np.zeros(count, np.int64)
    stacks = stacks_of(circles)
    if not len(stacks.rows) or not count:
        return parent, depth
    tree = shapely.STRtree(diagonals(stacks.box))
    blocks = Blocks(count, _AT_ONCE)
    for some in blocks:
        point, stack = tree.query(shapely.points(points[some]))
        blocks.found(len(point))
        point = some[point]
        arm = points[point] - stacks.centre[stacks.largest[stack]]
        away = np.hypot(arm[:, 0], arm[:, 1])
        place = stacks.first_over(stack, np.maximum(away, least[point]))
        over = stacks.begin[stack + 1] - place
        point, place, over = point[over > 0], place[over > 0], over[over > 0]
        np.add.at(depth, point, over)
        order = np.lexsort((stacks.radius[place], point))
        order = order[np.diff(point[order], prepend=-1) != 0]
        parent[point[order]] = stacks.rows[place[order]]
    return parent, depth


def _smallest(contours: Contours, inner: Ints, outer: Ints, count: int) -> Ints:
    found = np.full(count, -1)
    order = np.lexsort((-np.abs(contours.area[outer]), inner))  # the smallest last: it stays
    found[inner[order]] = outer[order]
    return found


def middles(contours: Contours, share: float = 0.5) -> Floats:
    """Return the point at a share of the drawn length of every contour, shape (n, 2). [mm]"""
    if not len(contours):
        return np.zeros((0, 2))
    done = np.concatenate(([0.0], np.cumsum(contours.lengths)))
    begin = done[contours.offsets[:-1]]
    target = begin + share * (done[contours.offsets[1:]] - begin)
    segment = np.searchsorted(done, target, side="right") - 1
    segment = np.clip(segment, contours.offsets[:-1], contours.offsets[1:] - 1)
    length = contours.lengths[segment]
    part = (target - done[segment]) / np.where(length > 0.0, length, 1.0)
    return contours.points_at(segment, np.clip(part, 0.0, 1.0))


def _points_inside(contours: Contours, tolerance: float) -> tuple[Floats, Floats]:
    """A point well inside every closed contour (the middle of an open one), and its room. [mm]"""
    points = middles(contours)
    room = np.zeros(len(contours))
    around = np.where(contours.length > 0.0, contours.length, 1.0)
    closed = contours.closed & (contours.area != 0.0)
    room[closed] = np.abs(contours.area[closed]) / around[closed]
    compact = 4.0 * np.pi * np.abs(contours.area) > 0.5 * around**2
    easy = np.flatnonzero(closed & compact)
    easy = easy[contains_points(contours, easy, contours.centroid[easy])]
    points[easy] = contours.centroid[easy]
    rest = np.setdiff1d(np.flatnonzero(closed), easy)
    with np.errstate(all="ignore"):
        surface = shapely.point_on_surface(polygons_of(contours.take(rest), tolerance / 10.0))
    found = ~shapely.is_empty(surface)
    points[rest[found]] = shapely.get_coordinates(surface)
    return points, room


def polygons_of(contours: Contours, tolerance: float) -> np.ndarray:
    """Return closed contours as shapely polygons of chords within `tolerance`, shape (n,)."""
    flat = contours.flattened(tolerance)
    count = np.diff(flat.offsets)
    short = np.flatnonzero(count < 3)  # two chords at most: repeat points to make a ring
    owner = np.concatenate((flat.owner, np.repeat(short, 2), np.arange(len(flat))))
    first = flat.starts[flat.offsets[:-1]]
    points = np.vstack((flat.starts, first[np.repeat(short, 2)], first))
    order = np.argsort(owner, kind="stable")
    rings = shapely.linearrings(points[order], indices=owner[order])
    polygons: np.ndarray = shapely.polygons(rings)
    return polygons


def _holds(contours: Contours, rows: Ints, points: Floats, room: Floats, flatten: float) -> Bools:
    """Whether contour `rows[i]` holds the point: by its chords, exactly where room is short."""
    inside = np.zeros(len(rows), dtype=bool)
    tight = room < 4.0 * flatten
    exact = np.flatnonzero(tight)
    inside[exact] = contains_points(contours, rows[exact], points[exact])
    plain = np.flatnonzero(~tight)
    around, index = np.unique(rows[plain], return_inverse=True)
    polygons = polygons_of(contours.take(around), flatten)
    shapely.prepare(polygons)
    inside[plain] = shapely.contains_xy(polygons[index], points[plain, 0], points[plain, 1])
    return inside


# --- crossings ------------------------------------------------------------


def crossing_contours(contours: Contours, tolerances: Tolerances = DEFAULT) -> tuple[Fact, ...]:
    """Return a fact for every closed contour that crosses itself, and every pair that crosses.

    Contours that only touch, along a line or at a point, do not cross.
    """
    own = contours.take(contours.closed)
    return (*_crossing_themselves(own, tolerances), *_crossing_pairs(own, tolerances))


def _crossing_themselves(contours: Contours, tolerances: Tolerances) -> list[Fact]:
    rows = np.flatnonzero(~true_circles(contours).round)
    polygons = np.zeros(0, dtype=object)
    for tolerance in (tolerances.flatten, tolerances.flatten / 100.0):  # chords alone may cross
        rows, polygons = _invalid(contours, rows, tolerance)
    facts = []
    for row, polygon in zip(rows.tolist(), polygons, strict=True):
        reason = shapely.is_valid_reason(polygon)
        if "Self-intersection" not in reason or not _folds(polygon, reason, tolerances.flatten):
            continue
        x, y = (float(v) for v in re.findall(r"-?[\d.]+(?:e[-+]?\d+)?", reason)[-2:])
        facts.append(
            Fact("crossing-contour", f"contour {_size(contours, row)} crosses itself", x, y)
        )
    return facts


def _invalid(contours: Contours, rows: Ints, tolerance: float) -> tuple[Ints, np.ndarray]:
    """Return which of the contours at `rows` make no valid polygon of chords, and these."""
    bad, polygons = [rows[:0]], [np.zeros(0, dtype=object)]
    for begin in range(0, len(rows), _POLYGONS):
        some = rows[begin : begin + _POLYGONS]
        made = polygons_of(contours.take(some), tolerance)
        invalid = ~shapely.is_valid(made)
        bad.append(some[invalid])
        polygons.append(made[invalid])
    return np.concatenate(bad), np.concatenate(polygons)


def _folds(polygon: shapely.geometry.Polygon, reason: str, flatten: float) -> bool:
    """Whether a ring covers some metal twice or the wrong way round.

    Not one that only touches itself, runs out and back on a line, or overshoots a corner
    by less than chords are off their arcs: it has a single face thicker than that.
    """
    if not reason.startswith("Ring"):
        faces = shapely.get_parts(shapely.polygonize([shapely.node(polygon.exterior)]))
        thick = ~shapely.is_empty(shapely.buffer(faces, -flatten, quad_segs=2))
        return int(thick.sum()) > 1
    whole = shapely.make_valid(polygon).area
    enclosed = abs(_signed_area(shapely.get_coordinates(polygon)))
    return bool(abs(whole - enclosed) > 1e-6 * whole)


def _signed_area(ring: Floats) -> float:
    x, y = (ring - ring[0]).T
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2.0)


def _crossing_pairs(contours: Contours, tolerances: Tolerances) -> list[Fact]:
    meet = clearances(contours, tolerances.weld)
    twice = near_doubles(contours, meet.rows)
    copies = near_double_facts(contours, meet.rows[twice])
    meet = meet.take(~twice)
    meet = meet.take(_overlap(contours, meet.rows, tolerances.flatten))
    facts = copies + [
        Fact(
            "crossing-contour",
            f"contours {_size(contours, i)} and {_size(contours, j)} cross", x, y,
        )
        for (i, j), (x, y) in zip(
            meet.rows[:_MOST_FACTS].tolist(), meet.first[:_MOST_FACTS].tolist(), strict=True
        )
    ]  # fmt: skip
    rest = meet.first[_MOST_FACTS:]
    if len(rest):
        x, y = rest[0].tolist()
        words = f"{len(rest):,} more pairs of contours cross"
        facts.append(Fact("crossing-contour", words, x, y, len(rest)))
    return facts


def _overlap(contours: Contours, pairs: Ints, flatten: float) -> Bools:
    """Whether two contours that meet overlap, and neither lies in the other, shape (k,).

    What is thinner than chords are off their arcs says nothing.
    """
    circles = true_circles(contours)
    one, two = pairs.T
    a, b = circles.radius[one], circles.radius[two]
    away = np.hypot(*(circles.centre[one] - circles.centre[two]).T)
    # widths of the lens and of both crescents
    least = np.minimum(np.minimum(a + b - away, a + away - b), b + away - a)
    over: Bools = least > 2.0 * flatten
    other = np.flatnonzero(~(circles.round[one] & circles.round[two]))
    if not len(other):
        return over
    rows, index = np.unique(pairs[other], return_inverse=True)
    polygons = shapely.make_valid(polygons_of(contours.take(rows), flatten / 10.0))
    p, q = polygons[index.reshape(-1, 2)].T
    over[other] = True
    for piece in (shapely.intersection(p, q), shapely.difference(p, q), shapely.difference(q, p)):
        over[other] &= ~shapely.is_empty(shapely.buffer(piece, -flatten, quad_segs=2))
    return over


def _size(contours: Contours, row: int) -> str:
    box = contours.box[row]
    return f"{box[2] - box[0]:.4g} x {box[3] - box[1]:.4g} mm"
