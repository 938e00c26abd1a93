"""Mark lines: at marking speed, corners slowed, each from rest to rest; not pierced."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.motion.running import move_times, run_along
from analyzer.process.machine import Machine


def marking_time(marks: Contours, order: Ints, machine: Machine) -> float:
    """Return the time of all mark lines and of the moves between them. [s]

    Parameters
    ----------
    marks : Contours
        Mark lines as drawn.
    order : ndarray of int, shape (m,)
        Rows as they are marked.
    machine : Machine
        Marking speed and drives.  An open mark begins at whichever end is nearer.
    """
    if not len(marks):
        return 0.0
    plain = replace(machine, overlap_mm=0.0)
    speeds = np.full(len(marks), machine.marking_mm_s)
    run = run_along(marks, np.zeros(len(marks)), speeds, plain)
    moves = move_times(mark_moves(marks, order), machine)
    return float(run.profile.times.sum() + moves.sum())


def mark_moves(marks: Contours, order: Ints) -> Floats:
    """Return the length of the move to every mark but the first, shape (m - 1,). [mm]"""
    first, last = marks.offsets[:-1][order], marks.offsets[1:][order] - 1
    starts, ends = marks.starts[first].tolist(), marks.ends[last].tolist()
    lengths = []
    place = ends[0]
    for start, end in zip(starts[1:], ends[1:], strict=True):
        ahead = np.hypot(start[0] - place[0], start[1] - place[1])
        behind = np.hypot(end[0] - place[0], end[1] - place[1])
        lengths.append(min(ahead, behind))
        place = end if ahead <= behind else start
    found: Floats = np.array(lengths, dtype=float)
    return found
