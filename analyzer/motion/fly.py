"""Fly cutting: grids of equal holes cut at constant speed, without a stop at every start.

The beam is switched while the head moves: no pierce, no sensing, no ramps.  Round and
round-ended holes are gone round one after another at the speed their radius allows; rectangles
are cut by straight passes along the rows and columns of their sides.  Usual up to 2 to 3 mm, 2.5 to
4 times faster there (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.process.machine import Machine

LEAST = 6
"""Holes in a row of the order that make it worth a pass (ours)."""

REACH = 5.0
"""Holes of one pass lie at most this many times their size apart, middle to middle (ours)."""

ALIKE = 0.01
"""Equal holes differ by less than this in box and length. [mm]"""

BEND = np.radians(30.0)
"""Where the way to the next hole turns more, the pass ends and the next begins. [rad]"""


@dataclass(frozen=True, eq=False)
class Stopping:
    """What every contour takes the usual way.

    Attributes
    ----------
    times : ndarray, shape (n,)
        Start, pierce, lead-in and contour. [s]
    moves : ndarray, shape (n - 1,)
        Moves between contours, in cutting order. [s]
    """

    times: Floats
    moves: Floats


def fly_saving(
    path: Contours, order: Ints, ceilings: Floats, usual: Stopping, machine: Machine
) -> float:
    """Return how much sooner the part is done when its grids are fly cut. [s]

    Parameters
    ----------
    path : Contours
        What the head follows, row by row.
    order : ndarray of int, shape (n,)
        Rows as they are cut.
    ceilings : ndarray, shape (s,)
        Speed allowed inside every segment. [mm/s]
    usual : Stopping
        What the same contours take with a stop each.
    machine : Machine
        Acceleration for the turn at the end of a row, start overhead.
    """
    saved = 0.0
    for low, high in chains(path, order):
        rows = order[low:high]
        spent = float(usual.times[rows].sum() + usual.moves[low : high - 1].sum())
        saved += max(spent - _flown(path, rows, ceilings, machine), 0.0)
    return saved


def chains(path: Contours, order: Ints) -> list[tuple[int, int]]:
    """Return positions (first, past the last) of stretches of the order that are grids."""
    flown = path.closed & (path.area < 0.0)
    box = path.box
    key = np.column_stack((box[:, 2:] - box[:, :2], path.length))[order]
    middle = ((box[:, 2:] + box[:, :2]) / 2.0)[order]
    if len(order) < LEAST:
        return []
    step = np.hypot(*np.diff(middle, axis=0).T)
    alike = (np.abs(np.diff(key, axis=0)) <= ALIKE).all(axis=1)
    near = step <= REACH * key[1:, :2].max(axis=1)
    joined = alike & near & flown[order][1:] & flown[order][:-1]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], joined.astype(np.int64), [0]))))
    return [
        (int(low), int(high) + 1)
        for low, high in zip(edges[::2], edges[1::2], strict=True)
        if high + 1 - low >= LEAST
    ]


def _flown(path: Contours, rows: Ints, ceilings: Floats, machine: Machine) -> float:
    """Time of one grid, one start included. [s]"""
    first = path.segments_of(int(rows[0]))
    speed = float(ceilings[first].min())
    turn = 2.0 * speed / (machine.cut_acceleration * 1000.0)
    box = path.box[rows]
    middle = (box[:, :2] + box[:, 2:]) / 2.0
    if _is_rectangle(path, int(rows[0])):
        return machine.start_overhead_s + _by_passes(path, rows, middle, speed, turn)
    step = np.diff(middle, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    bends = int((np.abs(wrapped(np.diff(heading))) > BEND).sum())
    way = float(path.length[rows].sum() + np.hypot(step[:, 0], step[:, 1]).sum())
    return machine.start_overhead_s + way / speed + (bends + 1) * turn


def _is_rectangle(path: Contours, row: int) -> bool:
    own = path.segments_of(row)
    lines: Bools = path.bulges[own] == 0.0
    square = np.abs(np.abs(path.turns[own]) - np.pi / 2.0) < 1e-3
    corners = np.abs(path.turns[own]) > 1e-3
    return bool(lines.all() and corners.sum() == 4 and square[corners].all())


def _by_passes(path: Contours, rows: Ints, middle: Floats, speed: float, turn: float) -> float:
    """Straight passes along all sides: two for every row and two for every column. [s]"""
    own = path.segments_of(int(rows[0]))
    angle = float(path.start_directions[own.start])
    axes = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    corner = path.starts[own] @ axes.T
    size = np.ptp(corner, axis=0)
    place = middle @ axes.T
    total = 0.0
    for along, across in ((0, 1), (1, 0)):
        lanes = np.rint(place[:, across] / max(ALIKE * 10.0, 1e-9)).astype(np.int64)
        for lane in np.unique(lanes):
            span = float(np.ptp(place[lanes == lane, along])) + float(size[along])
            total += 2.0 * (span / speed + turn)
    return total
