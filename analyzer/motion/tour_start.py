"""A first way through all places: nearest ends first, or to and fro along the rows of a grid."""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Ints
from analyzer.motion.tour_ways import NEIGHBOURS, Ways, nearest

LANES_FROM, LANES_OF = 12, 4
"""Places that lie in rows of at least `LANES_OF` on average are a grid."""


def lanes(places: Ints, near: Ints) -> Ints | None:
    """Return the way to and fro along the rows of a grid; None where the places are none."""
    if len(places) < LANES_FROM:
        return None
    step = places[near[:, 0]] - places
    apart = np.median(np.hypot(step[:, 0], step[:, 1])) / 4.0
    found = []
    for across in (1, 0):
        order = np.argsort(places[:, across], kind="stable")
        level = places[order, across]
        begins = np.flatnonzero(np.diff(level, prepend=level[0] - 2 * int(apart) - 2) > apart)
        widest = (np.maximum.reduceat(level, begins) - np.minimum.reduceat(level, begins)).max()
        lane = np.empty(len(places), dtype=np.int64)
        lane[order] = np.searchsorted(begins, np.arange(len(places)), "right") - 1
        if widest <= apart:
            found.append((len(begins), across, lane))
    if not found or min(row[0] for row in found) * LANES_OF > len(places):
        return None
    _, across, lane = min(found, key=lambda row: row[:2])
    along = places[:, 1 - across]
    return np.lexsort((np.where(lane % 2 == 0, along, -along), lane))


def greedy(places: Ints, ways: Ways, near: Ints) -> Ints:
    """Join the nearest ends first until one chain is left; it runs towards the goal."""
    chains = _Chains(len(places))
    rows = np.arange(len(places))
    while True:
        first = np.repeat(rows, near.shape[1])
        second = near.ravel()
        keep = first < second
        keep |= ~(near[second] == first[:, None]).any(axis=1)  # each pair once
        first, second = first[keep], second[keep]
        cost = ways.between(first, second)
        for k in np.lexsort((np.maximum(first, second), np.minimum(first, second), cost)).tolist():
            chains.join(int(first[k]), int(second[k]))
        ends = chains.ends()
        if len(ends) <= 2:
            break
        near, rows = _near_ends(places, ends, chains), np.arange(len(places))
    order = chains.order()
    turned = order[::-1]
    return turned if ways.total(turned) < ways.total(order) else order


def _near_ends(places: Ints, ends: Ints, chains: _Chains) -> Ints:
    """Nearest ends of other chains, for the end of every chain; other places have themselves."""
    several = min(NEIGHBOURS, len(ends) - 1)
    found = ends[nearest(places[ends], several)]
    near = np.repeat(np.arange(len(places))[:, None], several + 1, axis=1)
    near[ends, :several] = found
    # the ends of one chain may be nearest to one another: the next chain's is there as well
    order = np.lexsort(places[ends].T)
    near[ends[order], several] = np.roll(ends[order], -1)
    return near


class _Chains:
    """Chains of places that grow together."""

    def __init__(self, count: int) -> None:
        self.links: list[list[int]] = [[] for _ in range(count)]
        self.other_end = list(range(count))

    def join(self, a: int, b: int) -> None:
        """Link `a` and `b` if both are ends of different chains."""
        if a == b or len(self.links[a]) > 1 or len(self.links[b]) > 1 or self.other_end[a] == b:
            return
        self.links[a].append(b)
        self.links[b].append(a)
        far_a, far_b = self.other_end[a], self.other_end[b]
        self.other_end[far_a], self.other_end[far_b] = far_b, far_a

    def ends(self) -> Ints:
        """Rows with at most one link."""
        return np.array([k for k, link in enumerate(self.links) if len(link) < 2], dtype=np.int64)

    def order(self) -> Ints:
        """Rows of the only chain, from its lower end."""
        here, before = int(self.ends()[0]), -1
        order = [here]
        while len(order) < len(self.links):
            here, before = next(k for k in self.links[here] if k != before), here
            order.append(here)
        return np.array(order, dtype=np.int64)
