"""Which copies are the same part: moved or turned; a mirrored one is the other hand.

Copies are the same when one, moved and turned, covers the other: every end and middle of
every line of either lies on a line of the same kind of the other.  How the lines are
split, where they start and which way they run does not matter, so the same shape drawn
in two ways is one part.  The turn is tried from features that both must have.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Floats, Ints
from analyzer.parts.alike import Close, buckets_of, measures_of
from analyzer.parts.bodies import Bodies
from analyzer.parts.laid_on import Shapes
from analyzer.tolerances import DEFAULT, Tolerances


@dataclass(frozen=True, eq=False)
class Sames:
    """Copies by part.

    Attributes
    ----------
    part : ndarray of int, shape (b,)
        The distinct part of every copy, numbered in order of their first copies.
    hand_of : dict of int to int
        Part -> the earlier part whose mirror image it is.
    turn : ndarray, shape (b,)
        How every copy is turned against the first of its part, counter-clockwise. [rad]
    """

    part: Ints
    hand_of: dict[int, int]
    turn: Floats


def find_same(bodies: Bodies, tolerances: Tolerances = DEFAULT) -> Sames:
    """Return which copies are the same part, and which parts are left and right hand."""
    count = len(bodies.outline)
    first_of = np.arange(count)  # the first copy of the same part
    hands: dict[int, int] = {}
    measures = measures_of(bodies)
    buckets = [bucket for bucket in buckets_of(measures, count) if len(bucket) > 1]
    if not buckets:
        return Sames(first_of, hands, np.zeros(count))
    shapes = Shapes(bodies, tolerances.same_part)
    for bucket in buckets:
        firsts = _gather(shapes, Close(bucket, measures), first_of)
        for earlier, later in _pair_hands(shapes, Close(firsts, measures)):
            hands[later] = earlier
    firsts_all, part = np.unique(first_of, return_inverse=True)
    number = {int(body): k for k, body in enumerate(firsts_all)}
    hands = {number[later]: number[earlier] for later, earlier in hands.items()}
    return Sames(part, hands, shapes.turn)


def _gather(shapes: Shapes, close: Close, first_of: Ints) -> Ints:
    """Write the first same copy of every copy of a bucket; return those firsts."""
    firsts = []
    free = np.ones(len(close.bodies), bool)
    for index, body in enumerate(close.bodies.tolist()):
        if not free[index]:
            continue
        firsts.append(body)
        near = close.to(index, free)
        if len(near):
            same = shapes.moved(body, close.bodies[near])
            same[~same] = shapes.match(body, close.bodies[near[~same]])
            near = near[same]
        first_of[close.bodies[near]] = body
        free[near] = False
    return np.array(firsts)


def _pair_hands(shapes: Shapes, close: Close) -> list[tuple[int, int]]:
    """Pairs of parts of a bucket whose cuts mirror each other but are not the same."""
    pairs = []
    free = np.ones(len(close.bodies), bool)
    for index, body in enumerate(close.bodies.tolist()):
        near = close.to(index, free) if free[index] else np.zeros(0, np.int64)
        if not len(near):
            continue
        twins = near[shapes.match(body, close.bodies[near], mirrored=True, cuts_only=True)]
        twins = twins[~shapes.match(body, close.bodies[twins], cuts_only=True)]
        if len(twins):
            pairs.append((body, int(close.bodies[twins[0]])))
            free[twins[0]] = False
    return pairs
