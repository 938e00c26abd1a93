"""Slug cuts: large cut-outs cut into pieces that fall between the slats.

A slug larger than the machine file allows is cut by lines across it, parallel to the sides of its
box, into pieces no larger (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.motion.running import move_times
from analyzer.motion.traverse import rest_to_rest_times
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting


@dataclass(frozen=True, eq=False)
class SlugCuts:
    """Lines across cut-outs, by row of the contours.

    Attributes
    ----------
    lines : ndarray of int, shape (n,)
        Lines across every contour; each is pierced.
    lengths : ndarray, shape (n,)
        Their length in all. [mm]
    """

    lines: Ints
    lengths: Floats


def slug_cuts(contours: Contours, largest: float) -> SlugCuts:
    """Return the lines that cut every slug into pieces of at most `largest`. [mm]

    The lines of one direction, spread evenly over a width w, are as long together as their
    number times area / w: exact on average, whatever the outline (Cavalieri).
    """
    box, area = contours.box, np.abs(contours.area)
    inner = contours.closed & (contours.area < 0.0)
    lines = np.zeros(len(contours), dtype=np.int64)
    lengths = np.zeros(len(contours))
    for low, high in ((0, 2), (1, 3)):
        width = box[:, high] - box[:, low]
        cuts = np.where(inner & (width > largest), np.ceil(width / largest - 1e-9) - 1.0, 0.0)
        lines += cuts.astype(np.int64)
        lengths += cuts * np.divide(area, width, out=np.zeros(len(width)), where=width > 0.0)
    return SlugCuts(lines, lengths)


def slug_times(contours: Contours, setting: Setting, machine: Machine) -> Floats:
    """Return what cutting the slug of every contour takes, shape (n,). [s]

    Every line from rest to rest at table speed, with its start, pierce and a move as long as
    the line.
    """
    times: Floats = np.zeros(len(contours))
    if not (machine.slug_cut_from_mm > 0.0 and len(contours)):
        return times
    cuts = slug_cuts(contours, machine.slug_cut_from_mm)
    rows = np.flatnonzero(cuts.lines)
    each = cuts.lengths[rows] / cuts.lines[rows]
    line = rest_to_rest_times(
        each, setting.speed_mm_s, machine.cut_acceleration * 1000.0, machine.jerk * 1000.0
    )
    whole = line + machine.start_overhead_s + setting.pierce_s + move_times(each, machine)
    times[rows] = cuts.lines[rows] * whole
    return times
