"""The pass that burns the film off a coated sheet, over every contour before the cut.

Film side up, at about 15 to 25 m/min (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.motion.running import run_along
from analyzer.process.machine import Machine


def film_time(path: Contours, moves: Floats, machine: Machine) -> float:
    """Return the time of the pass: contour paths, starts and moves; nothing is pierced. [s]

    Parameters
    ----------
    path : Contours
        What the head follows.
    moves : ndarray, shape (n - 1,)
        Times of the moves between contours: the same way as that of the cut. [s]
    machine : Machine
        `film_m_per_min`, drives, start overhead.
    """
    if not len(path):
        return 0.0
    speed = machine.film_m_per_min * 1000.0 / 60.0
    run = run_along(path, np.zeros(len(path)), np.full(len(path), speed), machine)
    along = float(run.contour_times(path).sum())
    return along + float(moves.sum()) + len(path) * machine.start_overhead_s
