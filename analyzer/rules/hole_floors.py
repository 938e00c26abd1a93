"""Least diameters of holes, which several rules ask for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Ints
from analyzer.rules.limits import Row
from analyzer.rules.scene import Case, levels_of


@dataclass(frozen=True)
class Floors:
    """Least diameters of a case, from the ratios and from kerf and crater. [mm]"""

    ok_by_ratio: float
    last_by_ratio: float
    ok_by_kerf: float
    last_by_kerf: float

    @property
    def ok(self) -> float:
        """Least diameter nothing is said about. [mm]"""
        return max(self.ok_by_ratio, self.ok_by_kerf, self.last)

    @property
    def last(self) -> float:
        """Diameter below which a hole is lost. [mm]"""
        return max(self.last_by_ratio, self.last_by_kerf)


def hole_floors(case: Case, row: Row) -> Floors:
    """Return the least diameters: ratio to thickness, kerf widths, and oxygen's crater."""

    def constant(name: str) -> float:
        return case.scene.constant("hole-too-small", name)

    kerf, t = case.setting.kerf_mm, case.thickness
    last = max(constant("kerfs_last") * kerf, constant("least_mm"))
    if case.gas == "oxygen" and t >= constant("crater_from_mm"):
        last = max(last, 2.0 * case.setting.crater_mm + 2.0 * kerf + constant("crater_clear_mm"))
    return Floors(row["ok"] * t, row["last"] * t, constant("kerfs_ok") * kerf, last)


def hole_levels(case: Case) -> Ints:
    """Return the level of every hole in `hole-too-small`, shape (n,)."""
    holes, row = case.scene.holes, case.limit("hole-too-small")
    if row is None or not len(holes):
        return np.zeros(len(holes), dtype=np.int64)
    floors = hole_floors(case, row)
    return levels_of(holes.size, floors.ok, floors.last)
