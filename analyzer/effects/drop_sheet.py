"""What comes loose on a sheet: every copy on the slats as it is turned there.

A part alone is looked at along and across (docs/drop.md); on a sheet it lies in one way only.
Where the slats are under the sheet is not known, so the chance stays that over all offsets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.effects.drop import QUARTER, SAFE, centroid_of
from analyzer.effects.drop_chances import Slats, lie_chances
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.layout.layout import Layout
from analyzer.process.machine import Machine


@dataclass(frozen=True, eq=False)
class PlacedDrops:
    """How the copies of a sheet lie once they are free, one row a placement.

    Attributes
    ----------
    slats_along : str
        "x" or "y": the axis of the sheet the slats run along.
    falls, tips, still : ndarray, shape (n,)
        Chances over all offsets of the slats; they add up to 1. [-]
    width : ndarray, shape (n,)
        Extent across the slats. [mm]
    lever : ndarray, shape (n,)
        How high an edge can come up; 0 where it cannot. [mm]
    """

    slats_along: str
    falls: Floats
    tips: Floats
    still: Floats
    width: Floats
    lever: Floats

    @property
    def unstable(self) -> Floats:
        """Chance to tip or fall, shape (n,). [-]"""
        both: Floats = self.falls + self.tips
        return both

    @property
    def loose(self) -> Bools:
        """Which placements are not safe, shape (n,)."""
        return np.asarray(self.unstable > SAFE)

    @property
    def expected(self) -> float:
        """How many copies of the sheet tip or fall, on average."""
        return float(self.unstable.sum())


def drops_on_sheet(layout: Layout, machine: Machine, slats_along: str = "y") -> PlacedDrops:
    """Return how every copy lies on the slats.

    Parameters
    ----------
    layout : Layout
        Copies as they are turned on the sheet.
    machine : Machine
        Pitch and thickness of the slats.
    slats_along : str
        Axis of the sheet they run along: "y" is across the long side of a sheet that lies
        along x, as on most machines (common practice, no source).
    """
    slats = Slats(machine.slat_pitch_mm, machine.slat_thickness_mm)
    sorts, first = _ways(layout)
    outlines, centroids = [], []
    turn = QUARTER if slats_along == "x" else np.eye(2)
    for k in first.tolist():
        placed = layout.placements[k]
        part = layout.parts[placed.part]
        matrix = turn @ placed.matrix
        outlines.append(part.contours.take([0]).moved(matrix))
        centroids.append(matrix @ centroid_of(part))
    if not outlines:
        none = np.zeros(0)
        return PlacedDrops(slats_along, none, none, none, none, none)
    chances = lie_chances(Contours.join(outlines), np.array(centroids), slats)
    return PlacedDrops(
        slats_along, chances.falls[sorts], chances.tips[sorts], chances.still[sorts],
        chances.width[sorts], chances.lever[sorts],
    )  # fmt: skip


def _ways(layout: Layout) -> tuple[Ints, Ints]:
    """Copies that lie alike: the sort of every placement, and one placement of each sort.

    Half a turn changes nothing: every offset of the slats is as likely as its mirror image.
    """
    keys = np.array([
        (p.part, round(p.turn_deg % 180.0 * 1e6) % 180_000_000, p.mirrored)
        for p in layout.placements
    ], dtype=np.int64).reshape(-1, 3)  # fmt: skip
    _, first, sorts = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    return sorts.reshape(-1).astype(np.int64), first.astype(np.int64)
