"""Arcs by the hundred about one centre, and which points lie near which of them.

Their boxes overlap all over, so a tree of boxes would name every point with every arc.  Seen
from the centre an arc near a point is one of like radius: a look-up in sorted radii.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.repeats import any_repeated

PILE = 64
"""So many arcs about one centre are a pile; fewer are left to the tree of boxes."""

_ONE_CENTRE = 1e-7  # centres that agree within this are one [mm]
_AT_ONCE = 1_000_000  # points and arcs looked at together


def piles_of(starts: Floats, ends: Floats, bulges: Floats) -> list[tuple[Ints, Floats, Floats]]:
    """Return the arcs of every pile by rising radius, their radii, and the pile's centre.

    Parameters
    ----------
    starts, ends, bulges : ndarray, shape (m, 2), (m, 2), (m,)
        Lines and arcs. [mm, mm, -]
    """
    bent = np.flatnonzero(bulges != 0.0)
    if len(bent) < PILE:
        return []
    bulge, step = bulges[bent], ends[bent] - starts[bent]
    left = np.column_stack((-step[:, 1], step[:, 0]))
    offset = ((1.0 - bulge * bulge) / (4.0 * bulge))[:, None]
    centre = (starts[bent] + ends[bent]) / 2.0 + left * offset
    cell = np.round(centre / _ONE_CENTRE) + 0.0  # no negative zero
    if not any_repeated(cell, PILE):
        return []  # the usual case
    radius = np.hypot(*(starts[bent] - centre).T)
    order = np.lexsort((radius, cell[:, 1], cell[:, 0]))
    new = np.ones(len(order), dtype=bool)
    new[1:] = (np.diff(cell[order], axis=0) != 0.0).any(axis=1)
    begin = np.append(np.flatnonzero(new), len(order))
    many = np.flatnonzero(np.diff(begin) >= PILE)
    return [
        (bent[order[a:b]], radius[order[a:b]], centre[order[a]])
        for a, b in zip(begin[many].tolist(), begin[many + 1].tolist(), strict=True)
    ]


def near_pile(
    points: Floats, by_x: Ints, pile: tuple[Ints, Floats, Floats], distance: float
) -> Iterator[tuple[Ints, Ints]]:
    """Yield pairs (point, arc) that may be within `distance`, a bounded number at once.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
        [mm]
    by_x : ndarray of int, shape (n,)
        Order of the points along x.
    pile : tuple
        Of `piles_of`.
    distance : float
        [mm]
    """
    arcs, radius, centre = pile
    reach = distance + 10.0 * _ONE_CENTRE
    x = points[by_x, 0]
    low, high = np.searchsorted(x, (centre[0] - radius[-1] - reach, centre[0] + radius[-1] + reach))
    some = by_x[low:high]
    away = np.hypot(*(points[some] - centre).T)
    # an arc's foot is on its line or at an end, and the ends are on the line as well
    first = np.searchsorted(radius, away - reach)
    size = np.searchsorted(radius, away + reach, side="right") - first
    done = np.cumsum(size)
    start = 0
    while start < len(some):
        before = int(done[start - 1]) if start else 0
        stop = max(int(np.searchsorted(done, before + _AT_ONCE, side="right")), start + 1)
        count = size[start:stop]
        inside = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
        yield (
            np.repeat(some[start:stop], count),
            arcs[np.repeat(first[start:stop], count) + inside],
        )
        start = stop


def in_piles(piles: list[tuple[Ints, Floats, Floats]], count: int) -> Bools:
    """Return which of `count` lines and arcs are in a pile, shape (count,)."""
    piled = np.zeros(count, dtype=bool)
    for arcs, _, _ in piles:
        piled[arcs] = True
    return piled
