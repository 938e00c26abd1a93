"""Where numbers stand beside their places so that none lies on another: for all pictures.

Deterministic: labels are placed in the order given, each at the nearest of a fixed set of
places around its own that is free.  A label that moved is joined to its place by a leader line.
A picture that is seen at several widths (a window, a telephone, paper) has one offset for every
label that is right at all of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from analyzer.geometry.contours import Contours, Floats

MOST_NUMBERED, FEWER_NUMBERED = 60, 30
"""Numbers on the picture of one part, and on each of several; places beyond show a shape. [-]"""

DIRECTIONS = 16
RINGS = (0.0, 0.6, 1.4, 2.4, 3.6, 5.0, 7.0, 10.0, 14.0)
"""How far out labels are tried, in half sizes of the label beyond its own place. [-]"""

COVERING = 0.4
"""How much a covered point of the drawing weighs against a half size further away. [-]"""

HIDING = 1.0
"""The same for a covered point of a small cut-out. [-]"""

LINED = 0.4
"""The same for a place in a small cut-out that a leader line runs through. [-]"""

CROSSING = 1.5
"""The same for a label that a leader line runs through. [-]"""

STRIKING = 20.0
"""The same for a leader line that strikes words through. [-]"""

OVERLAP, TOUCH = 1e3, 60.0
"""The same for a label wholly on another, and for any that overlaps at all. [-]"""

SMALL = 3.0
"""Cut-outs up to so many half sizes of a label are small: it could hide them. [-]"""

ALONG = np.linspace(0.0, 1.0, 6)[1:]
"""Where a leader line is looked at, from its place to its label. [-]"""


@dataclass(frozen=True, eq=False)
class Sight:
    """A picture as it is seen at one width, in any unit in which labels have a size.

    Attributes
    ----------
    places : ndarray, shape (k, 2)
        What the labels are about.
    box : ndarray, shape (4,)
        Least x, least y, greatest x, greatest y of where labels may stand.
    ink : ndarray, shape (m, 2)
        Points better not covered: samples of the drawing's lines, and places of others.
    shut : ndarray, shape (n, 2)
        Points that should not be covered: those of small cut-outs.
    words : ndarray, shape (w, 4)
        Boxes of words no label may lie on: least x, least y, greatest x, greatest y.
    """

    places: Floats
    box: Floats
    ink: Floats
    shut: Floats
    words: Floats = field(default_factory=lambda: np.zeros((0, 4)))


def put_apart(
    places: Floats, half: Floats, box: Floats, ink: Floats | None = None,
    shut: Floats | None = None, words: Floats | None = None,
) -> Floats:  # fmt: skip
    """Return middles of labels near their places that do not lie on one another.

    Parameters
    ----------
    places : ndarray, shape (k, 2)
        What the labels are about, in any unit in which labels have a size.
    half : ndarray, shape (k, 2)
        Half width and half height of every label.
    box : ndarray, shape (4,)
        Least x, least y, greatest x, greatest y of where labels may stand.
    ink, shut : ndarray, shape (m, 2), optional
        Points better not covered, and points that should not be: as for `Sight`.
    words : ndarray, shape (w, 4), optional
        Boxes no label may lie on.

    Returns
    -------
    ndarray, shape (k, 2)
        Where there is no room at all the label that overlaps others least is taken.
    """
    none = np.zeros((0, 2))
    sight = Sight(
        places, box, none if ink is None else ink, none if shut is None else shut,
        np.zeros((0, 4)) if words is None else words,
    )  # fmt: skip
    moved: Floats = np.array(places, dtype=float) + put_beside(half, (sight,))[0]
    return moved


def put_beside(half: Floats, sights: Sequence[Sight]) -> tuple[Floats, Floats]:
    """Return how far beside its place every label stands, right at all widths.

    Parameters
    ----------
    half : ndarray, shape (k, 2)
        Half width and half height of every label.
    sights : sequence of Sight
        The picture at every width it is seen at; labels are as large at all of them.

    Returns
    -------
    offsets : ndarray, shape (k, 2)
        Where there is no room at all the label that overlaps others least is taken.
    over : ndarray, shape (k,)
        How much of each lies on labels before it, as a share of its own size; 0 where free.
    """
    count = len(half)
    offsets, over = np.zeros((count, 2)), np.zeros(count)
    if not count:
        return offsets, over
    reach = float(half.min())
    grids = [(_Density(s.box, s.ink, reach), _Density(s.box, s.shut, reach)) for s in sights]
    for k in range(count):  # one by one: each must know where the ones before stand
        for tries in (_around, _anywhere):
            tried, far = tries(k, half[k], sights)
            on = sum((_on_others(k, tried, offsets, half, s) for s in sights), np.zeros(len(tried)))
            cost = far + OVERLAP * on + TOUCH * (on > 0.0)
            for sight, (ink, shut) in zip(sights, grids, strict=True):
                at = sight.places[k] + tried
                cost += COVERING * np.minimum(ink.inside(at, half[k]), 8.0) / len(sights)
                cost += HIDING * np.minimum(shut.inside(at, half[k]), 12.0)
                for share in ALONG[:-1]:  # nor should its line run through one
                    there = sight.places[k] + share * tried
                    cost += LINED * np.minimum(shut.inside(there, 0.0 * half[k]), 1.0)
                cost += CROSSING * _crossed(k, tried, offsets, half, sight)
                cost += STRIKING * _struck(sight.places[k], tried, sight.words)
            best = int(np.argmin(cost))
            offsets[k], over[k] = tried[best], on[best]
            if on[best] == 0.0:
                break
    return offsets, over


def _on_others(k: int, tried: Floats, offsets: Floats, half: Floats, sight: Sight) -> Floats:
    """Return how much of a label would lie on those before it and on words, shape (c,).

    As a share of its size.
    """
    low, high = sight.words[:, :2], sight.words[:, 2:]
    middles = np.vstack((sight.places[:k] + offsets[:k], (low + high) / 2.0))
    others = np.vstack((half[:k], (high - low) / 2.0))
    apart = np.abs((sight.places[k] + tried)[:, None] - middles[None]) - (others + half[k])
    covered: Floats = np.clip(-apart - 1e-9, 0.0, None).prod(axis=2).sum(axis=1)
    share: Floats = covered / half[k].prod()
    return share


def _crossed(k: int, tried: Floats, offsets: Floats, half: Floats, sight: Sight) -> Floats:
    """Return how many labels a leader would run through, or leaders through it, shape (c,)."""
    if not k:
        return np.zeros(len(tried))
    middles = sight.places[:k] + offsets[:k]
    line = sight.places[k] + tried[:, None] * ALONG[None, :, None]
    through = (np.abs(line[:, :, None] - middles) < half[:k]).all(axis=3).any(axis=1)
    own = sight.places[k] + tried
    lines = sight.places[:k, None] + offsets[:k, None] * ALONG[None, :, None]
    under = (np.abs(own[:, None, None] - lines) < half[k]).all(axis=3).any(axis=2)
    crossed: Floats = (through | under).sum(axis=1).astype(float)
    return crossed


def _struck(place: Floats, tried: Floats, words: Floats) -> Floats:
    """Return how many boxes of words a leader from a place runs through, shape (c,)."""
    if not len(words):
        return np.zeros(len(tried))
    run = np.where(np.abs(tried) < 1e-12, 1e-12, tried)[:, None]
    ends = np.stack(((words[:, :2] - place) / run, (words[:, 2:] - place) / run))
    first, last = ends.min(axis=0).max(axis=2), ends.max(axis=0).min(axis=2)
    through: Floats = ((first < last) & (first < 1.0) & (last > 0.0)).sum(axis=1).astype(float)
    return through


def _around(k: int, half: Floats, sights: Sequence[Sight]) -> tuple[Floats, Floats]:
    """Return offsets around a place, inside all boxes, and how many half sizes each is away."""
    angle = np.arange(DIRECTIONS) * (2.0 * np.pi / DIRECTIONS) + np.pi / 4.0
    ring = np.column_stack((np.cos(angle), np.sin(angle)))
    ring /= np.abs(ring).max(axis=1, keepdims=True)  # round a box, not round a circle
    out = np.array(RINGS)
    steps = ring[None, :, :] * (1.0 + out)[:, None, None]
    far = np.repeat(out, DIRECTIONS)
    tried = steps.reshape(-1, 2) * half
    low, high = _limits(k, half, sights)
    inside = np.clip(tried, low, high)
    return inside, far + np.abs(inside - tried).sum(axis=1) / half.min()


def _anywhere(k: int, half: Floats, sights: Sequence[Sight]) -> tuple[Floats, Floats]:
    """Return offsets all over the picture, and how many half sizes each is away."""
    low, high = _limits(k, half, sights)
    counts = np.clip(np.ceil((high - low) / half), 1, 60).astype(int) + 1
    across, up = (np.linspace(low[j], high[j], counts[j]) for j in (0, 1))
    tried: Floats = np.stack(np.meshgrid(across, up), axis=-1).reshape(-1, 2)
    return tried, np.hypot(*tried.T) / half.min()


def _limits(k: int, half: Floats, sights: Sequence[Sight]) -> tuple[Floats, Floats]:
    """Return least and greatest offset that keep a label inside every box."""
    low = np.max([s.box[:2] + half - s.places[k] for s in sights], axis=0)
    high = np.min([s.box[2:] - half - s.places[k] for s in sights], axis=0)
    middle = (low + high) / 2.0
    return np.minimum(low, middle), np.maximum(high, middle)


def samples(contours: Contours, step: float) -> Floats:
    """Return points along contours, one every `step` or less, shape (k, 2); at most a million."""
    length = contours.lengths
    step = max(step, float(length.sum()) / 1e6)
    counts = np.maximum(np.ceil(length / step), 1).astype(np.int64)
    segment = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    return contours.points_at(segment, (within + 0.5) / counts[segment])


def small_insides(contours: Contours, size: float, step: float) -> Floats:
    """Return points in and on closed contours up to `size` across, shape (k, 2).

    They lie on the contour and on copies of it shrunk towards the middle of its box.
    """
    box = contours.box
    small = contours.closed & ((box[:, 2:] - box[:, :2]).max(axis=1, initial=0.0) <= size)
    rows = np.flatnonzero(small)
    if not len(rows):
        return np.zeros((0, 2))
    chosen = contours.take(rows)
    middles = (box[rows, :2] + box[rows, 2:]) / 2.0
    counts = np.maximum(np.ceil(chosen.lengths / step), 1).astype(np.int64)
    segment = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    edge = chosen.points_at(segment, (within + 0.5) / counts[segment])
    middle = middles[chosen.owner[segment]]
    shrunk = [middle + share * (edge - middle) for share in (1.0, 0.6, 0.2)]
    inside: Floats = np.concatenate(shrunk)
    return inside


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
