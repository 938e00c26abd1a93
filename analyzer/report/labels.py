"""Where numbers stand beside their places so that none lies on another.

Deterministic: labels are placed in the order given, each at the nearest of a fixed set of
places around its own that is free.  A label that moved is joined to its place by a leader line.
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Floats

DIRECTIONS = 16
RINGS = (0.0, 0.6, 1.4, 2.4, 3.6, 5.0, 7.0, 10.0, 14.0)
"""How far out labels are tried, in half sizes of the label beyond its own place. [-]"""

COVERING = 0.4
"""How much a covered point of the drawing weighs against a half size further away. [-]"""


def put_apart(places: Floats, half: Floats, box: Floats, ink: Floats | None = None) -> Floats:
    """Return middles of labels near their places that do not lie on one another.

    Parameters
    ----------
    places : ndarray, shape (k, 2)
        What the labels are about, in any unit in which labels have a size.
    half : ndarray, shape (k, 2)
        Half width and half height of every label.
    box : ndarray, shape (4,)
        Least x, least y, greatest x, greatest y of where labels may stand.
    ink : ndarray, shape (m, 2), optional
        Points better not covered: samples of the drawing's lines, and places of others.

    Returns
    -------
    ndarray, shape (k, 2)
        Where there is no room at all the label that overlaps others least is taken.
    """
    middles = np.array(places, dtype=float)
    if not len(middles):
        return middles
    density = _Density(box, ink if ink is not None else np.zeros((0, 2)), float(half.min()))
    for k in range(len(middles)):  # one by one: each must know where the ones before stand
        tried, far = _candidates(places[k], half[k], box)
        apart = np.abs(tried[:, None] - middles[None, :k]) - (half[:k] + half[k])
        over = np.clip(-apart, 0.0, None).prod(axis=2).sum(axis=1) / half[k].prod()
        cost = 1e3 * over + far + COVERING * np.minimum(density.inside(tried, half[k]), 8.0)
        middles[k] = tried[int(np.argmin(cost))]
    return middles


def _candidates(place: Floats, half: Floats, box: Floats) -> tuple[Floats, Floats]:
    """Return places around one, inside the box, and how many half sizes each is away."""
    angle = np.arange(DIRECTIONS) * (2.0 * np.pi / DIRECTIONS) + np.pi / 4.0
    ring = np.column_stack((np.cos(angle), np.sin(angle)))
    ring /= np.abs(ring).max(axis=1, keepdims=True)  # round a box, not round a circle
    out = np.array(RINGS)
    steps = ring[None, :, :] * (1.0 + out)[:, None, None]
    far = np.repeat(out, DIRECTIONS)
    tried = place + steps.reshape(-1, 2) * half
    low, high = box[:2] + half, box[2:] - half
    middle = (box[:2] + box[2:]) / 2.0
    inside = np.clip(tried, np.minimum(low, middle), np.maximum(high, middle))
    return inside, far + np.abs(inside - tried).sum(axis=1) / half.min()


class _Density:
    """How many cells of a grid that a box covers hold ink: a summed-area table."""

    def __init__(self, box: Floats, ink: Floats, reach: float) -> None:
        size = np.maximum(box[2:] - box[:2], 1e-9)
        self.cell = max(reach / 3.0, float(size.max()) / 1000.0)
        self.low = box[:2]
        shape = np.ceil(size / self.cell).astype(int) + 1
        grid = np.zeros(shape)
        at = np.floor((ink - self.low) / self.cell).astype(int)
        at = at[((at >= 0) & (at < shape)).all(axis=1)]
        grid[at[:, 0], at[:, 1]] = 1.0
        self.table = np.zeros(shape + 1)
        self.table[1:, 1:] = grid.cumsum(axis=0).cumsum(axis=1)

    def inside(self, middles: Floats, half: Floats) -> Floats:
        """Return how many inked cells boxes around `middles` touch, shape (c,)."""
        most = np.array(self.table.shape) - 1
        low = np.floor((middles - half - self.low) / self.cell).astype(int)
        high = np.floor((middles + half - self.low) / self.cell).astype(int) + 1
        low, high = np.clip(low, 0, most), np.clip(high, 0, most)
        corner = self.table
        found: Floats = (
            corner[high[:, 0], high[:, 1]] - corner[low[:, 0], high[:, 1]]
            - corner[high[:, 0], low[:, 1]] + corner[low[:, 0], low[:, 1]]
        )  # fmt: skip
        return found
