"""Where the letter of its part stands on every copy of a sheet: in metal, clear of all marks."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.geometry.clearance import contains_points
from analyzer.geometry.contours import Contours, Floats
from analyzer.layout.layout import Layout
from analyzer.report.labels import samples

SEATS = 15
"""Places looked at along and across a part. [-]"""

FINE = 160.0
"""Points along a contour, of the longer side of the part. [-]"""

MOST_POINTS = 6000
"""Points of the contours of one part that are looked at. [-]"""

CRAMPED = 4.0
"""How much a letter on a line weighs against one a whole side away from the middle. [-]"""

Letter = tuple[int, float, float]
"""Which copy, and where its letter stands on the sheet. [mm]"""


def seats(contours: Contours) -> tuple[Floats, Floats]:
    """Return places in the metal of a part, shape (k, 2), and how far the next line is, (k,). [mm]

    The middle of its box where there are none.
    """
    box = contours.box
    low, high = box[0, :2], box[0, 2:]
    share = (np.arange(SEATS) + 0.5) / SEATS
    places = np.stack(np.meshgrid(*(low + np.outer(share, high - low)).T), axis=-1).reshape(-1, 2)
    inside = (places[:, None] >= box[None, :, :2]) & (places[:, None] <= box[None, :, 2:])
    place, row = np.nonzero(inside.all(axis=2) & contours.closed)
    held = contains_points(contours, row, places[place])
    depth = np.bincount(place[held], minlength=len(places))
    metal = places[depth % 2 == 1]
    if not len(metal):
        metal = ((low + high) / 2.0)[None]
    step = float((high - low).max()) / FINE
    lines = samples(contours, max(step, float(contours.lengths.sum()) / MOST_POINTS))
    return metal, np.hypot(*(metal[:, None] - lines[None]).transpose(2, 0, 1)).min(axis=1)


def put_letters(
    layout: Layout, half: Floats, sizes: Floats, taken: Floats, keep: float
) -> list[Letter]:
    """Return where letters stand: near the middle of their copy, in metal, off what is taken.

    Parameters
    ----------
    layout : Layout
        What lies where.
    half : ndarray, shape (p, 2)
        Half width and height of the letter of every part; 0 for none. [mm]
    sizes : ndarray, shape (k,)
        Least distance of every copy's letter from the lines, 0 for a copy too small for one. [mm]
    taken : ndarray, shape (m, 2)
        Places on the sheet that letters keep clear of, places of marks above all. [mm]
    keep : float
        How far from them. [mm]

    Returns
    -------
    list of (copy, x, y)
        A copy on which nothing is free has none.
    """
    own = [seats(part.contours) for part in layout.parts]
    boxes = layout.outlines().box
    made: list[Letter] = []
    for copy, placed in enumerate(layout.placements):
        if sizes[copy] <= 0.0:
            continue
        places, clear = own[placed.part]
        places, reach = placed.points(places), half[placed.part] + keep
        low, high = boxes[copy, :2], boxes[copy, 2:]
        near = taken[((taken > low - reach) & (taken < high + reach)).all(axis=1)]
        free = ~(np.abs(places[:, None] - near[None]) < reach).all(axis=2).any(axis=1)
        if not free.any():
            continue
        away = np.abs(places - (low + high) / 2.0).max(axis=1) / float((high - low).max())
        short = np.clip(1.0 - clear / sizes[copy], 0.0, 1.0)
        cost = away + CRAMPED * short + 1e9 * ~free
        best = int(np.argmin(cost))
        made.append((copy, float(places[best, 0]), float(places[best, 1])))
    return made


def boxes_of(places: Sequence[Floats], half: Sequence[Floats]) -> Floats:
    """Return the boxes of letters, shape (k, 4), from their middles and half sizes."""
    middle, size = np.reshape(places, (-1, 2)), np.reshape(half, (-1, 2))
    return np.hstack((middle - size, middle + size))
