"""Webs: metal between neighbouring contours of a part."""

from __future__ import annotations

import numpy as np

from analyzer.geometry.circles import true_circles
from analyzer.geometry.clearance import Clearances, clearances, grouped_box_pairs
from analyzer.geometry.contours import Bools, Contours, Ints
from analyzer.geometry.distance import Pieces, nearest_points, pieces_of
from analyzer.parts.near_doubles import near_doubles
from analyzer.parts.part import Web
from analyzer.tolerances import DEFAULT, Tolerances

REACH_MM, REACH_PER_THICKNESS = 3.0, 1.5
"""Gaps wider than both are no webs: no gas has a limit there."""

ABOUT_ONE_CENTRE = 1e-4
"""Circles with centres as near as this are equally far apart all around. [mm]"""

SLACK = 1e-6
"""A gap drawn as wide as the reach is within it, whatever its last digit. [mm]"""


def web_reach(thickness: float) -> float:
    """Return the greatest gap that is listed as a web. [mm]"""
    return max(REACH_MM, REACH_PER_THICKNESS * thickness)


def find_webs(
    contours: Contours, names: Ints, part: Ints, thickness: float,
    tolerances: Tolerances = DEFAULT,
) -> list[tuple[int, Web]]:  # fmt: skip
    """Return the webs of several parts, each with its part, in order of part and rows.

    Two contours are neighbours when nothing else is cut on the shortest way between
    them; each such pair has one web, at that way's middle.  An open cut that runs into
    a contour leaves no web there, nor do two copies of a contour drawn nearly twice.

    Parameters
    ----------
    contours : Contours
        Cut contours of the parts.
    names, part : ndarray of int, shape (n,)
        Row of every contour in its part, and that part, sorted by it.
    thickness : float
        Of the sheet. [mm]
    """
    gaps = clearances(contours, web_reach(thickness) + SLACK, part)
    open_end = ~contours.closed[gaps.rows].all(axis=1)
    gaps = gaps.take(~(open_end & (gaps.widths <= tolerances.join)))
    gaps = gaps.take(~near_doubles(contours, gaps.rows))  # told as such
    gaps = _turned_to_the_open(contours, part, gaps)
    gaps = gaps.take(~_crossed(contours, part, gaps))
    middle = (gaps.first + gaps.second) / 2.0
    return [
        (int(part[i]), Web(float(x), float(y), float(width), (int(names[i]), int(names[j]))))
        for (i, j), (x, y), width in zip(
            gaps.rows.tolist(), middle.tolist(), gaps.widths.tolist(), strict=True
        )
    ]


def _turned_to_the_open(contours: Contours, part: Ints, gaps: Clearances) -> Clearances:
    """Measure circles about one centre where the most room is between other contours.

    They are equally far apart in every direction, and any single one might be blocked.
    """
    circles = true_circles(contours)
    one, two = gaps.rows.T
    same = circles.round[one] & circles.round[two]
    away = np.hypot(*(circles.centre[one] - circles.centre[two]).T)
    same &= away <= ABOUT_ONE_CENTRE
    if not same.any():
        return gaps
    first, second = gaps.first.copy(), gaps.second.copy()
    for pair in np.flatnonzero(same).tolist():
        i, j = gaps.rows[pair].tolist()
        mine = slice(*np.searchsorted(part, (part[i], part[i] + 1)))
        others = np.setdiff1d(np.arange(mine.start, mine.stop), (i, j))
        arm = contours.centroid[others] - circles.centre[i]
        seen = np.sort(np.arctan2(arm[:, 1], arm[:, 0]))
        if not len(seen):
            continue
        room = np.diff(seen, append=seen[0] + 2.0 * np.pi)
        widest = int(np.flatnonzero(room >= room.max() - 1e-6)[0])
        angle = seen[widest] + room[widest] / 2.0
        unit = np.array([np.cos(angle), np.sin(angle)])
        first[pair] = circles.centre[i] + circles.radius[i] * unit
        second[pair] = circles.centre[j] + circles.radius[j] * unit
    return Clearances(gaps.rows, gaps.widths, first, second)


def _crossed(contours: Contours, part: Ints, gaps: Clearances) -> Bools:
    """Whether a third contour of the part is cut between the nearest points."""
    count = len(gaps.widths)
    crossed = np.zeros(count, bool)
    if not count:
        return crossed
    low, high = np.minimum(gaps.first, gaps.second), np.maximum(gaps.first, gaps.second)
    ways = Pieces(
        gaps.first, gaps.second, np.zeros((count, 2)), np.zeros(count), np.zeros(count),
        np.zeros(count), np.hstack((low, high)), np.arange(count),
    )  # fmt: skip
    pieces = pieces_of(contours)
    way, piece = grouped_box_pairs(
        ways.box, pieces.box, 0.0, part[gaps.rows[:, 0]], part[pieces.owner]
    )
    owner = pieces.owner[piece]
    third = (owner != gaps.rows[way, 0]) & (owner != gaps.rows[way, 1])
    way, piece = way[third], piece[third]
    between, _, _ = nearest_points(ways.take(way), pieces.take(piece))
    crossed[way[between <= 1e-9]] = True
    return crossed
