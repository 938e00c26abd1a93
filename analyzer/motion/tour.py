"""A short way through many places: greedy edges, 2-opt and Or-opt by neighbour lists, kicks.

The way starts anywhere (or at a given place) and may have to end at a goal; with both at one
place it is a round trip.  Greedy edges, then 2-opt and Or-opt moves found for all places at
once and done one by one while they still gain; then *kicks* (two neighbouring stretches change
places, the local moves mend the rest, and what became longer is undone): iterated local search,
Lourenco, Martin and Stutzle, in Handbook of Metaheuristics (2003), from memory.  The number of
kicks is a count, not a time, and the random numbers have a fixed seed: same input, same way.

Places may have to keep *apart*: of two places in a row whose extents come nearer than a
distance, as many as can be are parted, the way being second.
"""

from __future__ import annotations

from random import Random

import numpy as np

from analyzer.geometry.contours import Ints
from analyzer.motion.tour_search import Search
from analyzer.motion.tour_start import greedy, lanes
from analyzer.motion.tour_ways import Extents, Ways, nearest, neighbours

__all__ = ["Extents", "Ways", "nearest", "short_tour"]

KICKS = 200
"""Kicks of a plain check."""

KICKS_PER_PLACE = 20

STRAIGHT = 1.005
"""To and fro along the rows is taken where it is no longer than this: the same time, and
easier to follow. [-]"""


def short_tour(
    places: Ints, goal: Ints | None = None, *, start: Ints | None = None,
    kicks: int | None = None, seed: int = 1, extents: Extents | None = None,
) -> Ints:  # fmt: skip
    """Return a short order of `places`.

    Parameters
    ----------
    places : ndarray of int, shape (n, 2)
        Whole-number coordinates; ties go to the lower row.
    goal, start : ndarray of int, shape (2,), optional
        Where the way goes after the last place, and where it comes from.
    kicks : int, optional
        Tries to better a local optimum; by default few, as a plain check does.
    seed : int
        Of the random numbers.
    extents : Extents, optional
        Keeps places in a row apart.

    Returns
    -------
    ndarray of int, shape (n,)
        Rows in order.
    """
    count = len(places)
    if count <= 1 or (count == 2 and goal is None and start is None):
        return np.arange(count)
    ways = Ways(places, start, goal, extents)
    near = neighbours(places, ways)
    search, straight = _settled(ways, near, greedy(places, ways, near)), False
    rows = lanes(places, near) if extents is None else None
    if rows is not None:
        by_lanes = _settled(ways, near, rows)
        straight = ways.total(by_lanes.order()) <= STRAIGHT * ways.total(search.order())
        search = by_lanes if straight else search
    tries = min(KICKS, KICKS_PER_PLACE * count) if kicks is None else kicks
    random, least = Random(seed), -search.least if straight else 0.0
    for _ in range(tries if count > 3 else 0):
        search.done.clear()
        cost, woken = search.kick(random)
        if cost - search.settle(woken) > least:
            search.undo()
    return search.order()


def _settled(ways: Ways, near: Ints, order: Ints) -> Search:
    """Return the search after all moves that gain from `order`."""
    search = Search(ways, near, order)
    search.settle(order.tolist())
    return search
