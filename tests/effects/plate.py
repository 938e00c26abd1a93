"""A plate by explicit finite differences: the truth the heat forecast is checked against.

Every cell of a square grid is a piece of a plate with no loss to the air.  The head goes round the
contours one after the other; as it passes, half of the cut's heat goes into the cell on either side
and the link across the kerf is taken out, for good: a kerf insulates.  Links at the rim of the grid
lead nowhere, so the grid must be wide against the way heat goes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Floats

Inside = Callable[[Floats, Floats], Bools]


@dataclass(frozen=True)
class Cut:
    """A closed contour: what lies inside, points and unit normals (outward) along it, times [s].

    `heat` is what every point leaves, both sides together. [J per mm of thickness]
    """

    inside: Inside
    points: Floats
    normals: Floats
    times: Floats
    heat: Floats


def round_cut(x: float, y: float, r: float, begin: float, speed: float, heat: float) -> Cut:
    """Return a circle cut once round from the left; `heat` per length. [J/mm2]"""
    count = int(np.ceil(2.0 * np.pi * r / 0.25))
    angle = np.pi + (np.arange(count) + 0.5) * 2.0 * np.pi / count
    normals = np.column_stack((np.cos(angle), np.sin(angle)))
    ways = (np.arange(count) + 0.5) * 2.0 * np.pi * r / count
    return Cut(
        lambda a, b: np.hypot(a - x, b - y) < r, np.array([x, y]) + r * normals, normals,
        begin + ways / speed, np.full(count, heat * 2.0 * np.pi * r / count),
    )  # fmt: skip


def box_cut(
    x: float, y: float, width: float, height: float, begin: float, speed: float, heat: float
) -> Cut:
    """Return a rectangle about x, y, cut from its lower left corner, counter-clockwise."""
    a, b = width / 2.0, height / 2.0
    corner = np.array([[x - a, y - b], [x + a, y - b], [x + a, y + b], [x - a, y + b]])
    out = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])
    points, normals, step = [], [], 0.25
    for k, length in enumerate((width, height, width, height)):
        count = round(length / step)
        share = (np.arange(count) + 0.5)[:, None] / count
        points.append(corner[k] + share * (corner[(k + 1) % 4] - corner[k]))
        normals.append(np.repeat(out[k : k + 1], count, axis=0))
    along = np.concatenate(points)
    return Cut(
        lambda p, q: (np.abs(p - x) < a) & (np.abs(q - y) < b), along, np.concatenate(normals),
        begin + (np.arange(len(along)) + 0.5) * step / speed, np.full(len(along), heat * step),
    )  # fmt: skip


class Plate:
    """The grid and its temperatures above the start. [K]"""

    def __init__(
        self, box: Sequence[float], cell: float, cuts: Sequence[Cut], rho_c: float, alpha: float
    ) -> None:
        low_x, low_y, high_x, high_y = box
        x = np.arange(low_x + cell / 2.0, high_x, cell)
        y = np.arange(low_y + cell / 2.0, high_y, cell)
        self.x, self.y = np.meshgrid(x, y, indexing="ij")
        self.cell, self.alpha, self.cuts = cell, alpha, cuts
        self.rise = np.zeros(self.x.shape)
        self.inside = [cut.inside(self.x, self.y) for cut in cuts]
        self.now = 0.0
        self._across, self._up = np.ones_like(self.rise[1:]), np.ones_like(self.rise[:, 1:])
        self._plan_links()
        self._plan_heat(rho_c)

    def _plan_links(self) -> None:
        """When every link across a kerf is taken out, by axis."""
        times = []
        for axis, links in ((0, self._across), (1, self._up)):
            when = np.full(links.shape, np.inf)
            for cut, inside in zip(self.cuts, self.inside, strict=True):
                i, j = np.nonzero(np.diff(inside.astype(int), axis=axis))
                shift = self.cell / 2.0
                at = np.column_stack((self.x[i, j], self.y[i, j]))
                at[:, axis] += shift
                far = ((at[:, None, :] - cut.points[None]) ** 2).sum(axis=2)
                when[i, j] = cut.times[far.argmin(axis=1)]
            times.append(when)
        self._links = times

    def _plan_heat(self, rho_c: float) -> None:
        """Cells and rises of all half pieces, in order of time."""
        low = self.x[0, 0], self.y[0, 0]
        rows = []
        for cut, inside in zip(self.cuts, self.inside, strict=True):
            for side in (True, False):
                home = np.argwhere(inside == side)
                near = cut.points + (-0.6 if side else 0.6) * self.cell * cut.normals
                i = np.clip(np.round((near[:, 0] - low[0]) / self.cell), 0, self.x.shape[0] - 1)
                j = np.clip(np.round((near[:, 1] - low[1]) / self.cell), 0, self.x.shape[1] - 1)
                i, j = i.astype(int), j.astype(int)
                wrong = np.flatnonzero(inside[i, j] != side)
                for k in wrong:  # a stair of the grid: the nearest cell of the right side
                    gap = np.abs(home - (i[k], j[k])).sum(axis=1)
                    i[k], j[k] = home[gap.argmin()]
                rows.append(np.column_stack((cut.times, i, j, cut.heat / 2.0)))
        table = np.concatenate(rows)
        table = table[np.argsort(table[:, 0], kind="stable")]
        self._heat_time = table[:, 0]
        self._heat_cell = table[:, 1].astype(int), table[:, 2].astype(int)
        self._heat_rise = table[:, 3] / (rho_c * self.cell**2)

    def run(self, until: float) -> None:
        """Go on to time `until`. [s]"""
        most = 0.9 * self.cell**2 / (4.0 * self.alpha)
        steps = max(int(np.ceil((until - self.now) / most)), 1)
        step = (until - self.now) / steps
        ratio = self.alpha * step / self.cell**2
        for _ in range(steps):
            later = self.now + step
            first, stop = np.searchsorted(self._heat_time, (self.now, later))
            cells = self._heat_cell[0][first:stop], self._heat_cell[1][first:stop]
            np.add.at(self.rise, cells, self._heat_rise[first:stop])
            across = (self._links[0] > later) * np.diff(self.rise, axis=0)
            up = (self._links[1] > later) * np.diff(self.rise, axis=1)
            self.rise[:-1] += ratio * across
            self.rise[1:] -= ratio * across
            self.rise[:, :-1] += ratio * up
            self.rise[:, 1:] -= ratio * up
            self.now = later

    def mean(self, box: Sequence[float]) -> float:
        """Mean rise of the metal (outside every cut) within a box. [K]"""
        some = (self.x > box[0]) & (self.x < box[2]) & (self.y > box[1]) & (self.y < box[3])
        for inside in self.inside:
            some &= ~inside
        return float(self.rise[some].mean())
