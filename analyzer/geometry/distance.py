"""Exact least distance between lines and arcs, many pairs at once.

A *piece* is a line, an arc, or a whole circle.  The nearest points of two pieces are an
end of one and its foot on the other, points on the line through the centres, or where
they cross; all of these are tried and the nearest pair is kept.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.circles import true_circles
from analyzer.geometry.contours import Bools, Contours, Floats, Ints

STRAIGHT = 1e-9
"""An arc that bows less than this from its chord is a line here. [mm]"""

SAME = 1e-9
"""Distances that differ by less are the same. [mm]"""


@dataclass(frozen=True, eq=False)
class Pieces:
    """Lines, arcs and whole circles in flat arrays.

    Attributes
    ----------
    start, end : ndarray, shape (k, 2)
        Both ends; of a whole circle the same point of it. [mm]
    centre : ndarray, shape (k, 2)
        Centre; of a line the origin, unused. [mm]
    radius : ndarray, shape (k,)
        Radius; 0 for a line. [mm]
    first, sweep : ndarray, shape (k,)
        Direction of the start from the centre, and how far it turns. [rad]
    box : ndarray, shape (k, 4)
        Least x, least y, greatest x, greatest y. [mm]
    owner : ndarray of int, shape (k,)
        Contour it belongs to.
    """

    start: Floats
    end: Floats
    centre: Floats
    radius: Floats
    first: Floats
    sweep: Floats
    box: Floats
    owner: Ints

    def take(self, rows: Ints) -> Pieces:
        """Return the pieces at `rows`, in that order."""
        return Pieces(
            self.start[rows], self.end[rows], self.centre[rows], self.radius[rows],
            self.first[rows], self.sweep[rows], self.box[rows], self.owner[rows],
        )  # fmt: skip


def pieces_of(contours: Contours) -> Pieces:
    """Return every segment of `contours`, a contour that is one circle as a single piece."""
    whole = true_circles(contours)
    arc = contours.chords * np.abs(contours.bulges) > 2.0 * STRAIGHT
    centre = np.where(arc[:, None], contours.centres, 0.0)
    radius = np.where(arc, contours.radii, 0.0)
    sweep = np.where(arc, contours.sweeps, 0.0)
    box = np.array(contours.segment_box)
    first_of = contours.offsets[:-1][whole.round]
    centre[first_of], radius[first_of] = whole.centre[whole.round], whole.radius[whole.round]
    sweep[first_of], box[first_of] = 2.0 * np.pi, contours.box[whole.round]
    arm = contours.starts - centre
    ends = np.array(contours.ends)
    ends[first_of] = contours.starts[first_of]
    keep = ~whole.round[contours.owner]
    keep[first_of] = True
    every = Pieces(
        contours.starts, ends, centre, radius, np.arctan2(arm[:, 1], arm[:, 0]), sweep, box,
        contours.owner,
    )  # fmt: skip
    return every.take(np.flatnonzero(keep))


def box_gaps(a: Floats, b: Floats) -> Floats:
    """Return the distance between boxes, row by row, shape (k,). [mm]"""
    x = np.maximum(a[:, 0] - b[:, 2], b[:, 0] - a[:, 2])
    y = np.maximum(a[:, 1] - b[:, 3], b[:, 1] - a[:, 3])
    return np.hypot(np.maximum(x, 0.0), np.maximum(y, 0.0))


def foot_on_pieces(points: Floats, on: Pieces) -> Floats:
    """Return the point of every piece nearest to the point of the same row, shape (k, 2). [mm]"""
    foot = np.empty_like(points)
    straight = on.radius == 0.0
    line = np.flatnonzero(straight)
    foot[line] = _on_lines(points[line], on.start[line], on.end[line])
    arc = np.flatnonzero(~straight)
    foot[arc] = _on_arcs(points[arc], on.take(arc))
    return foot


def _on_lines(points: Floats, start: Floats, end: Floats) -> Floats:
    step = end - start
    square = np.einsum("ij,ij->i", step, step)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.einsum("ij,ij->i", points - start, step) / square
    share = np.where(square > 0.0, np.clip(share, 0.0, 1.0), 0.0)
    return start + step * share[:, None]


def _on_arcs(points: Floats, on: Pieces) -> Floats:
    arm = points - on.centre
    reach = np.hypot(arm[:, 0], arm[:, 1])
    angle = np.arctan2(arm[:, 1], arm[:, 0])
    ahead = np.mod((angle - on.first) * np.sign(on.sweep), 2.0 * np.pi)
    inside = (ahead <= np.abs(on.sweep)) & (reach > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        radial = on.centre + arm * (on.radius / reach)[:, None]
    nearer = _span(points, on.start) <= _span(points, on.end)
    tip = np.where(nearer[:, None], on.start, on.end)
    return np.where(inside[:, None], radial, tip)


def _span(a: Floats, b: Floats) -> Floats:
    """Distance of points row by row. [mm]"""
    return np.hypot(a[:, 0] - b[:, 0], a[:, 1] - b[:, 1])


def nearest_points(a: Pieces, b: Pieces) -> tuple[Floats, Floats, Floats]:
    """Return least distance, shape (k,), and nearest points, shape (k, 2), row by row. [mm]

    Pieces that cross or touch have distance 0 (to rounding), the points where they do.

    Examples
    --------
    >>> two = Contours.join([Contours.circle(0, 0, 3), Contours.circle(10, 0, 2)])
    >>> pieces = pieces_of(two)
    >>> nearest_points(pieces.take(np.array([0])), pieces.take(np.array([1])))[0].round(9)
    array([5.])
    """
    apart = _apart_circles(a, b)
    if apart.all():
        return _between_apart_circles(a, b)
    if apart.any():
        best, on_a, on_b = (
            np.empty(len(apart)),
            np.empty((len(apart), 2)),
            np.empty((len(apart), 2)),
        )
        for part, way in ((apart, _between_apart_circles), (~apart, _between_any)):
            rows = np.flatnonzero(part)
            best[rows], on_a[rows], on_b[rows] = way(a.take(rows), b.take(rows))
        return best, on_a, on_b
    return _between_any(a, b)


def _apart_circles(a: Pieces, b: Pieces) -> Bools:
    """Whether both are whole circles that neither touch nor cross, shape (k,)."""
    whole = (a.sweep == 2.0 * np.pi) & (b.sweep == 2.0 * np.pi)
    gap = _span(a.centre, b.centre)
    outside, inside = gap > a.radius + b.radius, gap < np.abs(a.radius - b.radius)
    apart: Bools = whole & (outside | (inside & (gap > 0.0)))
    return apart


def _between_apart_circles(a: Pieces, b: Pieces) -> tuple[Floats, Floats, Floats]:
    """The nearest points of two circles lie on the line through their centres."""
    axis = b.centre - a.centre
    gap = np.hypot(axis[:, 0], axis[:, 1])
    unit = axis / gap[:, None]
    outside = gap > a.radius + b.radius
    side_a = np.where(outside | (a.radius > b.radius), 1.0, -1.0) * a.radius
    side_b = np.where(outside | (b.radius > a.radius), -1.0, 1.0) * b.radius
    between = np.where(outside, gap - a.radius - b.radius, np.abs(a.radius - b.radius) - gap)
    return between, a.centre + unit * side_a[:, None], b.centre + unit * side_b[:, None]


def _between_any(a: Pieces, b: Pieces) -> tuple[Floats, Floats, Floats]:
    """Try every pair of points that may be the nearest."""
    best = np.full(len(a.radius), np.inf)
    on_a, on_b = np.array(a.start), np.array(b.start)

    def offer(rows: Ints, p: Floats, q: Floats) -> None:
        gap = _span(p, q)
        better = gap < best[rows]
        rows = rows[better]
        best[rows], on_a[rows], on_b[rows] = gap[better], p[better], q[better]

    every = np.arange(len(best))
    for tip in (a.start, a.end):
        offer(every, tip, foot_on_pieces(tip, b))
    for tip in (b.start, b.end):
        offer(every, foot_on_pieces(tip, a), tip)
    line_a, line_b = a.radius == 0.0, b.radius == 0.0
    rows = np.flatnonzero(line_a & line_b)
    crossing, *where = _line_crossings(a.take(rows), b.take(rows))
    offer(rows[crossing], *where)
    beside, middle = _parallel_middles(a.take(rows), b.take(rows))
    rows = rows[beside]
    across = foot_on_pieces(middle, b.take(rows))
    level = _span(middle, across) <= best[rows] + SAME
    rows = rows[level]  # all along them equally near: their middle, however they are turned
    best[rows], on_a[rows], on_b[rows] = (
        _span(middle, across)[level], middle[level], across[level],
    )  # fmt: skip
    for rows, turned in (
        (np.flatnonzero(line_a & ~line_b), False), (np.flatnonzero(~line_a & line_b), True),
    ):  # fmt: skip
        line, arc = (b, a) if turned else (a, b)
        line, arc = line.take(rows), arc.take(rows)
        for p in _towards_circle(line, arc):
            q = foot_on_pieces(p, arc)
            offer(rows, *((q, p) if turned else (p, q)))
    rows = np.flatnonzero(~line_a & ~line_b)
    one, other = a.take(rows), b.take(rows)
    for p in _between_circles(one, other):
        q = foot_on_pieces(p, other)
        offer(rows, foot_on_pieces(q, one), q)
    return best, on_a, on_b


def _line_crossings(a: Pieces, b: Pieces) -> tuple[Bools, Floats, Floats]:
    """Whether lines cross, shape (k,), and where the crossing ones do, on either. [mm]

    Of lines one behind the other rounding alone would say where they cross: the two places are
    then apart, and as far as they are.
    """
    u, v, w = a.end - a.start, b.end - b.start, b.start - a.start
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / cross
        t = (w[:, 0] * u[:, 1] - w[:, 1] * u[:, 0]) / cross
    meets = (cross != 0.0) & (s >= 0.0) & (s <= 1.0) & (t >= 0.0) & (t <= 1.0)
    on_a = a.start[meets] + u[meets] * s[meets][:, None]
    on_b = b.start[meets] + v[meets] * t[meets][:, None]
    return meets, on_a, np.where((_span(on_a, on_b) <= SAME)[:, None], on_a, on_b)


def _parallel_middles(a: Pieces, b: Pieces) -> tuple[Bools, Floats]:
    """Whether lines run side by side, shape (k,), and the middle of `a` beside `b`. [mm]"""
    u, v = a.end - a.start, b.end - b.start
    long_u, long_v = np.hypot(u[:, 0], u[:, 1]), np.hypot(v[:, 0], v[:, 1])
    cross = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    parallel = np.abs(cross) <= SAME * np.maximum(long_u, long_v)
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = [np.einsum("ij,ij->i", p - a.start, u) / long_u**2 for p in (b.start, b.end)]
    low = np.maximum(np.minimum(*ends), 0.0)
    high = np.minimum(np.maximum(*ends), 1.0)
    beside: Bools = parallel & (high > low) & (long_v > 0.0)
    return beside, a.start[beside] + u[beside] * ((low + high) / 2.0)[beside][:, None]


def _towards_circle(line: Pieces, arc: Pieces) -> list[Floats]:
    """Points of lines that may be nearest to arcs: foot of the centre, crossings of the circle."""
    step = line.end - line.start
    length = np.hypot(step[:, 0], step[:, 1])
    foot = _on_lines(arc.centre, line.start, line.end)
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = np.where(length[:, None] > 0.0, step / length[:, None], 0.0)
    along = np.einsum("ij,ij->i", arc.centre - line.start, unit)
    arm = line.start + unit * along[:, None] - arc.centre
    reach = np.sqrt(np.maximum(arc.radius**2 - np.einsum("ij,ij->i", arm, arm), 0.0))
    at = [np.clip(along + sign * reach, 0.0, length) for sign in (-1.0, 1.0)]
    return [foot] + [line.start + unit * share[:, None] for share in at]


def _between_circles(a: Pieces, b: Pieces) -> list[Floats]:
    """Points of arcs `a` that may be nearest to arcs `b`: towards its centre, crossings."""
    axis = b.centre - a.centre
    gap = np.hypot(axis[:, 0], axis[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = np.where(gap[:, None] > 0.0, axis / gap[:, None], [1.0, 0.0])
        along = np.where(gap > 0.0, (gap**2 + a.radius**2 - b.radius**2) / (2.0 * gap), 0.0)
    across = np.sqrt(np.maximum(a.radius**2 - along**2, 0.0))
    left = np.column_stack((-unit[:, 1], unit[:, 0]))
    points = [a.centre + sign * unit * a.radius[:, None] for sign in (1.0, -1.0)]
    for sign in (1.0, -1.0):
        points.append(a.centre + unit * along[:, None] + sign * left * across[:, None])
    return [foot_on_pieces(point, a) for point in points]
