"""Cut lines that do not close: which of them would be one contour, and over which gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.near import components
from analyzer.geometry.nearest import nearest_others
from analyzer.rules.limits import Limits
from analyzer.tolerances import DEFAULT

RULE = "open-contour"


@dataclass(frozen=True, eq=False)
class Chains:
    """Open lines in chains: those whose ends lie near each other, or else a line alone.

    Attributes
    ----------
    lines : Contours
        All of them are open.
    chain : ndarray of int, shape (n,)
        The chain of every line; chains are numbered by their first line.
    of_gap : ndarray of int, shape (g,)
        The chain of every gap: those between lines, and the one that would close the chain.
    widths : ndarray, shape (g,)
        [mm]
    places : ndarray, shape (g, 2)
        The middle of a gap; for a line alone where it starts. [mm]
    closes : ndarray of bool, one per chain
        It should be a closed contour.
    """

    lines: Contours
    chain: Ints
    of_gap: Ints
    widths: Floats
    places: Floats
    closes: Bools

    def __len__(self) -> int:
        return len(self.closes)

    def rows(self, chain: int) -> Ints:
        """Return the lines of a chain."""
        return np.flatnonzero(self.chain == chain)

    def widest(self) -> Floats:
        """Return the widest gap of every chain. [mm]"""
        widest = np.zeros(len(self))
        np.maximum.at(widest, self.of_gap, self.widths)
        return widest

    def length(self) -> Floats:
        """Return the length of the lines of every chain. [mm]"""
        return _sum(self.lines.length, self.chain, len(self))


def chains_of(lines: Contours, limits: Limits) -> Chains:
    """Return open lines in chains.

    Ends that are each other's nearest lie at one gap, but for tips of lines that run side by
    side.  Where a chain does not come back to its begin, or its gaps are wide against its lines,
    every line of it stands for itself.
    """
    nothing = np.zeros(0, dtype=np.int64)
    if not len(lines):
        return Chains(
            lines, nothing, nothing, np.zeros(0), np.zeros((0, 2)), np.zeros(0, dtype=bool)
        )
    count = len(lines)
    ends = np.vstack((lines.starts[lines.offsets[:-1]], lines.ends[lines.offsets[1:] - 1]))
    within = limits.constant(RULE, "closes_within")
    share = limits.constant(RULE, "gaps_share")
    joints = _joints(lines, ends, limits.constant(RULE, "gap_mm"))
    label = components(count, joints % count)
    _, left, length = _ends_left(lines, ends, label, joints)
    of_joint = label[joints[:, 0] % count]
    joined = _sum(_apart(ends, joints), of_joint, len(left))
    good = (left <= within * length) & (joined <= share * length)
    joints = joints[good[of_joint]]
    label = components(count, joints % count)
    free, left, length = _ends_left(lines, ends, label, joints)
    gaps = np.vstack((joints, free[free[:, 0] >= 0]))
    of_gap = label[gaps[:, 0] % count]
    alone = np.bincount(label)[of_gap] == 1
    places = np.where(alone[:, None], ends[gaps[:, 0]], ends[gaps].mean(axis=1))
    order = np.argsort(of_gap, kind="stable")
    return Chains(
        lines, label, of_gap[order], _apart(ends, gaps)[order], places[order],
        left <= within * length,
    )  # fmt: skip


def _apart(ends: Floats, pairs: Ints) -> Floats:
    apart: Floats = np.hypot(*(ends[pairs[:, 0]] - ends[pairs[:, 1]]).T)
    return apart


def _joints(lines: Contours, ends: Floats, reach: float) -> Ints:
    """Return pairs of ends of two lines that are each other's nearest, shape (k, 2).

    The ends of n lines are their starts, 0 to n - 1, and then their ends.
    """
    count = len(lines)
    nearest, _ = nearest_others(ends, reach)
    one = np.flatnonzero(nearest >= 0)
    one = one[(nearest[nearest[one]] == one) & (one < nearest[one])]
    two = nearest[one]
    way = np.concatenate(
        (lines.start_directions[lines.offsets[:-1]] + np.pi,
         lines.end_directions[lines.offsets[1:] - 1])
    )  # fmt: skip
    beside = np.cos(way[one] - way[two]) > np.cos(np.radians(DEFAULT.smooth_deg))
    meet = (one % count != two % count) & ~beside
    return np.column_stack((one[meet], two[meet]))


def _ends_left(
    lines: Contours, ends: Floats, label: Ints, joints: Ints
) -> tuple[Ints, Floats, Floats]:
    """Return of every chain both ends that are left, how far apart they are, and its length.

    -1 and no distance where none is left.
    """
    chains = int(label.max()) + 1
    is_left = np.ones(len(ends), dtype=bool)
    is_left[joints.ravel()] = False
    rows = np.flatnonzero(is_left)
    of_row = label[rows % len(lines)]
    order = np.argsort(of_row, kind="stable")
    both = np.full((chains, 2), -1, dtype=np.int64)
    both[of_row[order][::2]] = rows[order].reshape(-1, 2)
    left: Floats = np.where(both[:, 0] >= 0, _apart(ends, both), 0.0)
    return both, left, _sum(lines.length, label, chains)


def _sum(values: Floats, label: Ints, count: int) -> Floats:
    return np.bincount(label, weights=values, minlength=count).astype(float)
