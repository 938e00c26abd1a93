"""Features that fix how a copy is turned: sharp corners, circles, ends of open lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.circles import true_circles
from analyzer.geometry.contours import Floats, Ints
from analyzer.parts.bodies import CUT, OPEN, Bodies


@dataclass(frozen=True, eq=False)
class Anchors:
    """Features that fix how a copy is turned: sharp corners, circles and ends off its centre."""

    begin: Ints  # of each copy among them, shape (b + 1,)
    kind: Ints  # 0 corner, 1 circle, 2 end of an open cut, 3 end of a mark or bend
    size: Floats  # |turn| [rad] of a corner, radius [mm] of a circle, else 0
    away: Floats  # from the copy's centre [mm]
    angle: Floats  # seen from there [rad]


def anchors_of(bodies: Bodies, centre: Floats) -> Anchors:
    lines = bodies.lines
    mine = (bodies.body >= 0) & (bodies.kind == CUT)
    whole = true_circles(lines)
    circle = np.flatnonzero(mine & whole.round)
    sharp = np.flatnonzero(mine[lines.owner] & ~lines.smooth & (np.abs(lines.turns) > 0.2))
    loose = np.flatnonzero((bodies.body >= 0) & ~lines.closed)
    ends = [lines.starts[lines.offsets[loose]], lines.ends[lines.offsets[loose + 1] - 1]]
    point = np.vstack((lines.starts[sharp], whole.centre[circle], *ends))
    body = bodies.body[np.concatenate((lines.owner[sharp], circle, loose, loose))]
    arm = point - centre[body]
    open_kind = np.tile(np.where(bodies.kind[loose] == OPEN, 2, 3), 2)
    kind = np.concatenate((np.repeat([0, 1], [len(sharp), len(circle)]), open_kind))
    size = np.concatenate(
        (np.abs(lines.turns[sharp]), whole.radius[circle], np.zeros(2 * len(loose)))
    )
    order = np.argsort(body, kind="stable")
    arm = arm[order]
    return Anchors(
        np.searchsorted(body[order], np.arange(len(centre) + 1)), kind[order], size[order],
        np.hypot(arm[:, 0], arm[:, 1]), np.arctan2(arm[:, 1], arm[:, 0]),
    )  # fmt: skip


def rarest(a: Anchors, rows: Ints, tolerance: float) -> int:
    """The anchor with the fewest like it, of those the farthest out."""
    outer = rows[a.away[rows] >= 0.3 * a.away[rows].max()]
    key = a.kind[outer] * 1e9 + a.away[outer]
    order = np.sort(key)
    alike = np.searchsorted(order, key + 6.0 * tolerance) - np.searchsorted(
        order, key - 6.0 * tolerance
    )
    best = np.lexsort((-a.away[outer], alike))[0]
    return int(outer[best])
