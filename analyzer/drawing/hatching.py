"""Hatching drawn as lines: parallel lines, evenly spaced, aslant from edge to edge of a contour.

Slits may be parallel and even too, so every line must end on other lines at both ends.  So
do the edges that parts cut from one strip have in common, but these stand square to it.
"""

from __future__ import annotations

import numpy as np

from analyzer.drawing.written import WELD, Strokes
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.near import points_near_segments

LEAST = 6
"""So many lines side by side make hatching."""

EVEN = 0.02
"""Spacings agree within this share. [-]"""

ASLANT = np.radians(10.0)
"""Hatching is off parallel and off square to the edges it meets by at least this. [rad]"""

_SAME_WAY = 1e-4  # directions that differ less are one [rad]
_MOST = 50_000  # straight lines that end nowhere else: more are no hatching of a part


def hatch_lines(strokes: Strokes) -> Bools:
    """Return which strokes are hatching, shape (n,)."""
    rows, node = strokes.rows, strokes.node
    found = np.zeros(len(rows), bool)
    alone = (strokes.degree[node] != 2).all(axis=1) & (rows[:, 4] == 0.0)  # or at a corner
    asked = np.flatnonzero(alone)
    if not LEAST <= len(asked) <= _MOST:
        return found
    step = rows[asked, 2:4] - rows[asked, :2]
    angle = np.mod(np.arctan2(step[:, 1], step[:, 0]) + _SAME_WAY / 2.0, np.pi)
    way = np.round(angle / _SAME_WAY)
    order = np.lexsort((_offset(rows[asked], angle), way))
    asked, way, angle = asked[order], way[order], angle[order]
    for group in np.split(np.arange(len(asked)), np.flatnonzero(np.diff(way)) + 1):
        if len(group) >= LEAST:
            lines = asked[group]
            even = _even(_offset(rows[lines], np.full(len(group), angle[group[0]])))
            lines = lines[even]
            if len(lines) >= LEAST:
                found[lines[_from_edge_to_edge(strokes, lines)]] = True
    return found if found.sum() >= LEAST else np.zeros(len(rows), bool)


def _offset(rows: Floats, angle: Floats) -> Floats:
    middle = (rows[:, :2] + rows[:, 2:4]) / 2.0
    away: Floats = middle[:, 1] * np.cos(angle) - middle[:, 0] * np.sin(angle)
    return away


def _even(offset: Floats) -> Bools:
    """Which of sorted offsets lie in a row of equal steps; lines in line count once."""
    extent = max(float(offset[-1] - offset[0]), 1e-300)
    step = np.diff(offset)
    steps = step[step > 1e-6 * extent]
    if len(steps) < LEAST - 1:
        return np.zeros(len(offset), bool)
    usual = float(np.median(steps))
    whole = np.abs(step / usual - np.round(step / usual)) <= EVEN * np.maximum(step / usual, 1.0)
    fits = whole & (step <= 2.5 * usual)
    even = np.zeros(len(offset), bool)
    even[1:] |= fits
    even[:-1] |= fits
    return even


def _from_edge_to_edge(strokes: Strokes, lines: Ints) -> Bools:
    """Which lines end upon other lines, not along them, at both ends."""
    rows = strokes.rows
    own = np.zeros(len(rows), bool)
    own[lines] = True
    rest = np.flatnonzero(~own)
    if not len(rest):
        return np.zeros(len(lines), bool)
    others = rows[rest]
    length = np.hypot(*(others[:, 2:4] - others[:, :2]).T)
    bow = np.abs(others[:, 4]) * length / 2.0
    box = np.hstack((np.minimum(others[:, :2], others[:, 2:4]) - bow[:, None],
                     np.maximum(others[:, :2], others[:, 2:4]) + bow[:, None]))  # fmt: skip
    both = np.ones(len(lines), bool)
    way = rows[lines, 2:4] - rows[lines, :2]
    for point in (rows[lines, :2], rows[lines, 2:4]):
        end, other = points_near_segments(
            point, others[:, :2], others[:, 2:4], others[:, 4], box, 10.0 * WELD * strokes.extent
        )
        along = others[other, 2:4] - others[other, :2]
        cross = np.abs(way[end, 0] * along[:, 1] - way[end, 1] * along[:, 0])
        inner = np.abs((way[end] * along).sum(axis=1))
        size = np.maximum(np.hypot(*way[end].T) * np.hypot(*along.T), 1e-300)
        aslant = np.minimum(cross, inner) >= np.sin(ASLANT) * size
        met = np.zeros(len(lines), bool)
        met[end] = True
        met[end[~aslant & (others[other, 4] == 0.0)]] = False
        both &= met
    return both
