"""Islands of lettering: the middles of letters, which fall out and are no parts."""

from __future__ import annotations

import numpy as np

from analyzer.geometry.circles import Circles
from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.parts.containment import Containment

TALLEST = 150.0
"""Taller cut-outs are not read as letters. [mm]"""

STROKE = 0.35
"""The stroke of a letter is at most this share of its size. [-]"""

NEIGHBOURS = 2
"""A word has at least so many letters besides the one with the island."""


def lettering_islands(cuts: Contours, held: Containment, circles: Circles) -> Ints:
    """Return rows of closed contours that are the middles of letters cut out of a part.

    An island fills a cut-out but for a narrow stroke, and letters of like size and other
    shapes stand near in the same metal.  A single ring-shaped cut-out says too little:
    what lies in it stays a part.
    """
    count = len(cuts)
    closed = cuts.closed & (np.abs(cuts.area) > 0.0)
    size = (cuts.box[:, 2:] - cuts.box[:, :2]).max(axis=1, initial=0.0)
    inside = np.flatnonzero(closed & (held.parent >= 0))
    even = inside[held.depth[inside] % 2 == 0]
    within = np.bincount(held.parent[inside], minlength=count)
    few = (within[even] == 0) & (within[held.parent[even]] <= 2)
    islands: Ints = even[few]
    if not len(islands):
        return np.zeros(0, np.int64)
    stroke = _strokes(cuts, held, islands)
    letter = closed & (held.depth % 2 == 1) & (size <= TALLEST) & (stroke <= STROKE * size)
    letter &= (within <= 2) & ~(circles.round & (within == 0))
    islands = islands[letter[held.parent[islands]]]
    letters = np.flatnonzero(letter)
    own = np.unique(held.parent[islands])
    reach = float(size[letters].max(initial=0.0))
    i, j = box_pairs(cuts.box[own], cuts.box[letters], reach)
    one, two = own[i], letters[j]
    near = (one != two) & (held.parent[one] == held.parent[two])
    near &= np.maximum(size[one], size[two]) <= 2.0 * np.minimum(size[one], size[two])
    other_shape = np.abs(cuts.length[one] - cuts.length[two]) > 0.01 * cuts.length[one]
    neighbours = np.bincount(one[near & other_shape], minlength=count)
    return np.array(islands[neighbours[held.parent[islands]] >= NEIGHBOURS], dtype=np.int64)


def _strokes(cuts: Contours, held: Containment, islands: Ints) -> Floats:
    """Mean stroke width of every closed contour less its islands: area by half its lines. [mm]"""
    area, around = np.abs(cuts.area), np.array(cuts.length)
    np.subtract.at(area, held.parent[islands], np.abs(cuts.area[islands]))
    np.add.at(around, held.parent[islands], cuts.length[islands])
    return 2.0 * area / np.maximum(around, 1e-12)
