"""Which places in the cutting order are written on a picture, and where, so that none overlaps.

One piece of code for every picture: the first and the last number always stand there, of those
between every n-th that has room.  A picture that is seen at several widths (a window, a telephone,
paper) has one choice that is right at all of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints

STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000)
"""Every so many-th number is written: the least that leaves most of them room. [-]"""

MOST_TURNS = 60
"""Numbers of one picture that can still be read, but for the first and the last. [-]"""

ROOMY = 0.75
"""A step will do if at least so many of its numbers have room, as a share. [-]"""

NARROWEST = (236.0, 236.0, 190.0)
"""Least width a picture is seen at where it is alone, one of two, one of many. [px]"""

MOST_LOOKED = 400
"""Places up to which numbers keep off the dots of others; of more no dots are drawn. [-]"""

OUTSIDE = 10.0
"""How much a number outside the picture weighs against one on the dot of another. [-]"""

BESIDE = (
    (0.0, -1.0), (0.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (1.0, 0.0),
    (-1.0, 0.0),
)  # fmt: skip
"""Where a number may stand about its place, the best first; x to the right, y down. [-]"""


FURTHER = (1.0, 1.6, 2.2, 3.0, 4.0)
"""How far out a first or last number may go to clear those of neighbours, nearest first. [-]"""


@dataclass(frozen=True)
class Lettering:
    """How large numbers are, and how far from their places, in the unit of the places.

    Attributes
    ----------
    digit, tall : float
        Width of one digit, height of all, with the room around them.
    gap : float
        From a place to the nearer edge of its number, along each axis; negative
        where the number stands on its place.
    dot : float
        Half the size of the dot at a place.
    """

    digit: float
    tall: float
    gap: float
    dot: float

    @property
    def on_place(self) -> bool:
        """Whether numbers stand on their places."""
        return self.gap < 0.0

    def half(self, words: str | int) -> Floats:
        """Return half the width and half the height of a number or a word, shape (2,)."""
        return np.array([self.digit * len(str(words)), self.tall]) / 2.0


ON_SCREEN = Lettering(10.0, 14.0, 2.5, 2.5)
"""Numbers of 14 px beside their places, with the white around them. [px]"""

MIDDLE_ON_SCREEN = Lettering(10.0, 14.0, -1.0, 0.0)
"""The same in the middle of their places. [px]"""

WARM = Lettering(10.0, 14.0, 8.0, 2.5)
"""Words beside the dots of warm pierces, which are larger. [px]"""

BASE = 5.0
"""From the middle of such a number down to the line it stands on. [px]"""


@dataclass(frozen=True, eq=False)
class Turns:
    """What is written.

    Attributes
    ----------
    numbers : ndarray, shape (k,)
        Places in the order, from 1, ascending.
    offsets : ndarray, shape (k, 2)
        From the place to the middle of its number, y down, in the unit of the places.
    words : str
        Which numbers these are; empty where it is all of them.
    """

    numbers: Ints
    offsets: Floats
    words: str

    @property
    def title(self) -> str:
        """What such a picture is, and which numbers it shows."""
        return "Order of cuts" + (f": {self.words}" if self.words else "")

    @property
    def rows(self) -> list[tuple[int, float, float]]:
        """Number and offset of each."""
        return [
            (number, dx, dy)
            for number, (dx, dy) in zip(
                self.numbers.tolist(), self.offsets.round(1).tolist(), strict=True
            )
        ]


def turns_of(
    places: Floats, lettering: Lettering, size: tuple[float, float],
    scales: tuple[float, float] = (1.0, 1.0), keep_off: Floats | None = None,
) -> Turns:  # fmt: skip
    """Return which numbers are written at places in cutting order, and where.

    Parameters
    ----------
    places : ndarray, shape (n, 2)
        In the order, y down, in the unit of the lettering.
    lettering : Lettering
        Size of the numbers.
    size : (float, float)
        Width and height of the picture: numbers leave it only where there is no other way.
    scales : (float, float)
        Least and greatest size the picture is seen at, against that of `places`; the numbers
        are as large at all of them.
    keep_off : ndarray, shape (k, 4), optional
        Boxes of the numbers of neighbours, in a picture seen at one size.

    Examples
    --------
    >>> near = np.column_stack((np.arange(40.0) * 8.0, np.zeros(40)))
    >>> found = turns_of(near, Lettering(8.0, 12.0, 3.0, 2.0), (320.0, 20.0))
    >>> found.words
    'numbers where there is room'
    """
    count = len(places)
    if not count:
        return Turns(np.zeros(0, dtype=np.int64), np.zeros((0, 2)), "")
    for step in STEPS:
        wanted = [number for number in range(step, count, step) if number > 1]
        if len(wanted) > MOST_TURNS and step < STEPS[-1]:
            continue
        sizes = {number: lettering.half(number) for number in _ends(count) + wanted}
        put = _put(places, sizes, lettering, size, scales, ends=True, keep_off=keep_off)
        fit = len(put) - len(_ends(count))
        if fit >= ROOMY * len(wanted) or step == STEPS[-1]:
            break
    numbers = np.array(sorted(put), dtype=np.int64)
    offsets = np.array([put[number] for number in numbers.tolist()])
    return Turns(numbers, offsets, _words(count, step, fit, len(wanted)))


def words_of(
    places: Floats, words: Sequence[str], lettering: Lettering, size: tuple[float, float],
    scales: tuple[float, float] = (1.0, 1.0),
) -> dict[int, Floats]:  # fmt: skip
    """Return the offsets of words that have room by their places, by row, shape (2,).

    Parameters
    ----------
    places : ndarray, shape (n, 2)
        The most important first.
    words : sequence of str
        One for every place.
    lettering, size, scales
        As for `turns_of`.
    """
    sizes = {row: lettering.half(told) for row, told in enumerate(words, 1)}
    put = _put(places, sizes, lettering, size, scales, ends=False)
    return {row - 1: offset for row, offset in put.items()}


def _ends(count: int) -> list[int]:
    return [1, count] if count > 1 else [1]


def _words(count: int, step: int, fit: int, wanted: int) -> str:
    if fit + len(_ends(count)) == count:
        return ""
    if not fit:
        return "first and last number"
    room = " where there is room" if fit < wanted else ""
    if step == 1:
        return f"numbers{room}"
    return f"first, last and every {step}{'nd' if step == 2 else 'th'} number{room}"


def _put(
    places: Floats, halves: Mapping[int, Floats], lettering: Lettering,
    size: tuple[float, float], scales: tuple[float, float], *, ends: bool,
    keep_off: Floats | None = None,
) -> dict[int, Floats]:  # fmt: skip
    """Return the offset of every number in `halves` that has room, in that order.

    With `ends` the first and the last, which lead, are put whatever happens.
    """
    around = np.array([(0.0, 0.0)] if lettering.on_place else BESIDE)
    put: dict[int, Floats] = {}
    boxes = np.zeros((0, 4)) if keep_off is None else keep_off
    taken = np.zeros((len(boxes), 2, 2))  # place and offset of every number put
    taken[:, 0], sizes = (boxes[:, :2] + boxes[:, 2:]) / 2.0, (boxes[:, 2:] - boxes[:, :2]) / 2.0
    mostly = float(np.sqrt(scales[0] * scales[1]))
    looked = places if len(places) <= MOST_LOOKED and not lettering.on_place else places[:0]
    for number, half in halves.items():
        place = places[number - 1]
        tried = around * (half + max(lettering.gap, 0.0))
        free = _free(place, tried, half, taken, sizes, scales)
        if len(boxes) and ends and number in (1, len(places)) and not free.any():
            tried = np.vstack([share * tried for share in FURTHER])  # it must stand somewhere
            free = _free(place, tried, half, taken, sizes, scales)
            if number == 1 and not free.any():
                free[0] = True
        if not free.any():
            if ends and number == len(places):
                put |= _last(places, lettering, scales)
                own = np.array([(places[n - 1], put[n]) for n in put])
                taken = np.concatenate((taken[: len(boxes)], own))
                sizes = np.vstack((sizes[: len(boxes)], [lettering.half(n) for n in put]))
            continue
        cost = _covered(mostly * place, tried, half + lettering.dot, mostly * looked)
        cost += 1e9 * ~free
        cost += OUTSIDE * _leaving(place, tried, half, size, scales)
        best = int(np.argmin(cost))
        put[number] = tried[best]
        taken = np.concatenate((taken, [(place, tried[best])]))
        sizes = np.vstack((sizes, half))
    return put


def _free(
    place: Floats, tried: Floats, half: Floats, taken: Floats, sizes: Floats,
    scales: tuple[float, float],
) -> Bools:  # fmt: skip
    """Whether numbers at the offsets are clear of all that are put, shape (c,)."""
    if not len(taken):
        return np.ones(len(tried), dtype=bool)
    apart = place - taken[None, :, 0], tried[:, None] - taken[None, :, 1]
    meets = overlapping(*apart, half + sizes, scales)
    free: Bools = np.logical_not(meets.any(axis=1))
    return free


def _leaving(
    place: Floats, tried: Floats, half: Floats, size: tuple[float, float],
    scales: tuple[float, float],
) -> Bools:  # fmt: skip
    """Whether numbers at the offsets leave the picture at its least or greatest size, (c,)."""
    leaves = np.zeros(len(tried), dtype=bool)
    for scale in scales:
        middle = scale * place + tried
        leaves |= ((middle < half) | (middle > scale * np.array(size) - half)).any(axis=1)
    return leaves


def _last(places: Floats, lettering: Lettering, scales: tuple[float, float]) -> dict[int, Floats]:
    """Return the offsets of the first and the last number where the two are in each other's way.

    They go to opposite sides, the higher place's number up.
    """
    count = len(places)
    side = 1.0 if places[0, 1] <= places[-1, 1] else -1.0
    up = {number: lettering.half(number)[1] + abs(lettering.gap) for number in (1, count)}
    return {1: np.array([0.0, -side * up[1]]), count: np.array([0.0, side * up[count]])}


def _covered(place: Floats, tried: Floats, half: Floats, dots: Floats) -> Floats:
    """Return how many dots a number at each of the offsets lies on, shape (c,)."""
    near = dots[(np.abs(dots - place) < 4.0 * half).all(axis=1)]
    apart = np.abs((place + tried)[:, None] - near[None])
    covered: Floats = (apart < half).all(axis=2).sum(axis=1).astype(float)
    return covered


def overlapping(
    between: Floats, offset: Floats, half: Floats, scales: tuple[float, float]
) -> Bools:
    """Whether two boxes ever lie on one another while a picture grows from least to greatest.

    Their middles are `scale * between + offset` apart: along each axis they meet in a range of
    scales, so they overlap where both ranges and that of the picture have a part in common.

    Parameters
    ----------
    between, offset, half : ndarray, shape (..., 2)
        From one place to the other at scale 1, difference of their offsets, half widths and
        heights of both boxes together.
    scales : (float, float)
        Least and greatest scale.
    """
    between, offset, half = np.broadcast_arrays(between, offset, half)
    still = np.abs(between) < 1e-12  # they are as far apart at every scale
    run = np.where(still, 1.0, between)
    ends = np.stack(((-half - offset) / run, (half - offset) / run))
    low, high = ends.min(axis=0), ends.max(axis=0)
    never = still & (np.abs(offset) >= half)
    low = np.where(never, np.inf, np.where(still, -np.inf, low))
    high = np.where(never, -np.inf, np.where(still, np.inf, high))
    first, last = low.max(axis=-1), high.min(axis=-1)  # both axes: first < scale < last
    meets: Bools = (last - first > 1e-9) & (first < scales[1] - 1e-9) & (last > scales[0] + 1e-9)
    return meets
