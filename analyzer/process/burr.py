"""Burr class of an edge by gas, material, thickness, power and plate; data in burr.toml."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analyzer.errors import InputError
from analyzer.process.load import data

CLASSES = 4
SUBSTITUTE = "aluminium"  # stands in for materials only own rows allow (copper, brass)


@dataclass(frozen=True)
class BurrTerms:
    """What the burr class of one job under one gas is made of.

    Attributes
    ----------
    base : float
        Class by gas, material and thickness on clean plate. [-]
    power_shift, plate_add : float
        What thickness over power, and a poor plate, add. [-]
    slow_add : float
        What a small contour or a slow stretch adds (once, not twice). [-]
    heat_add : float
        What an edge adds that the head meets hot; 0: heat decides nothing. [-]
    heat_limit : float
        It is hot above this rise over the plate's start. [K]
    small_contour_ratio : float
        A closed contour is small when 4 area / perimeter / thickness is below this. [-]
    slow_fraction : float
        An edge is slow below this fraction of the programmed speed; 0: no limit. [-]
    most : float
        Highest class of this gas. [-]
    source : str
        Source mark of the base, in words.
    """

    base: float
    power_shift: float
    plate_add: float
    slow_add: float
    small_contour_ratio: float
    slow_fraction: float
    most: float
    source: str
    heat_add: float = 0.0
    heat_limit: float = math.inf

    @property
    def straight(self) -> float:
        """Class of a long straight edge, neither clipped nor rounded. [-]"""
        return self.base + self.power_shift + self.plate_add

    @property
    def classes(self) -> tuple[int, int]:
        """Class of a long straight edge, and of a small or slow one."""
        straight, slow = round_class([self.straight, self.straight + self.slow_add], self.most)
        return int(straight), int(slow)

    @property
    def hot_classes(self) -> tuple[int, int]:
        """The same of an edge that the head meets hot."""
        hot = self.straight + self.heat_add
        straight, slow = round_class([hot, hot + self.slow_add], self.most)
        return int(straight), int(slow)


def round_class(value: ArrayLike, most: float = CLASSES - 1.0) -> NDArray[np.int64]:
    """Return the burr class 0..3: clipped to 0..`most`, rounded half up.

    Examples
    --------
    >>> round_class([-1.0, 0.49, 0.5, 2.5, 7.0]).tolist()
    [0, 0, 1, 3, 3]
    """
    clipped = np.clip(np.asarray(value, dtype=float), 0.0, most)
    # a hair of slack: 0.1 + 0.4 must round as 0.5 does
    whole: NDArray[np.int64] = np.floor(clipped + 0.5 + 1e-9).astype(np.int64)
    return whole


def burr_terms(
    gas: str, material: str, thickness_mm: float, power_kw: float, plate: str = "clean"
) -> BurrTerms:
    """Return the terms of the burr class; see `docs/burr.md` for the formula.

    Parameters
    ----------
    gas, material, plate : str
        Canonical names.
    thickness_mm, power_kw : float
        Sheet thickness [mm] and laser power [kW], both > 0.

    Raises
    ------
    InputError
        If the gas is not known.  A material without rows (copper or brass from the
        shop's own table) is taken as aluminium, and `source` says so.

    Examples
    --------
    >>> burr_terms("nitrogen", "mild-steel", 10.0, 10.0).classes
    (2, 3)
    >>> burr_terms("mixed", "mild-steel", 10.0, 10.0).classes
    (1, 1)
    """
    burr = burr_data()
    row = _base_row(gas, material)
    poor, slow = burr["poor_plate"], burr["slow"]
    return BurrTerms(
        base=float(np.interp(thickness_mm, row["thickness_mm"], row["class"])),
        power_shift=_power_shift(thickness_mm / power_kw),
        plate_add=poor["add"][gas] if plate in poor["plates"] else 0.0,
        slow_add=slow["add"][gas],
        small_contour_ratio=slow["small_contour_ratio"],
        slow_fraction=slow_fraction(gas, thickness_mm),
        most=burr["most_by_gas"].get(gas, burr["scale"]["most"]),
        source=burr["marks"][row["source"]],
        heat_add=burr["heat"]["add"][gas],
        heat_limit=burr["heat"]["above_k"],
    )


def slow_fraction(gas: str, thickness_mm: float) -> float:
    """Return the fraction of the programmed speed below which an edge is slow; 0: none. [-]"""
    for row in burr_data()["slow"]["fraction"]:
        if gas in row["gases"] and row["above_mm"] < thickness_mm <= row.get("up_to_mm", math.inf):
            return float(row["fraction"])
    return 0.0


def class_words(burr_class: int) -> str:
    """Return what a burr class means: "brush or belt" for 2."""
    return str(burr_data()["scale"]["words"][burr_class])


def base_table(gas: str, material: str) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return thicknesses [mm] and base classes [-] of a gas and material, for `explain`."""
    row = _base_row(gas, material)
    return np.array(row["thickness_mm"]), np.array(row["class"])


def burr_data() -> Mapping[str, Any]:
    """Return burr.toml as read."""
    return data("burr")


@cache
def _base_row(gas: str, material: str) -> Mapping[str, Any]:
    rows = [row for row in burr_data()["base"] if row["gas"] == gas]
    if not rows:
        raise InputError(f"no burr class is known for gas {gas!r}")
    for name in (material, SUBSTITUTE):
        for row in rows:
            if row["material"] == name:
                return row if name == material else {**row, "source": "analogy"}
    raise KeyError(f"burr.toml has no base of {SUBSTITUTE} in {gas}")


def _power_shift(mm_per_kw: float) -> float:
    shift = burr_data()["power_shift"]
    if mm_per_kw <= shift["plenty_mm_per_kw"] * (1.0 + 1e-9):
        return -1.0
    return 1.0 if mm_per_kw > shift["short_mm_per_kw"] * (1.0 + 1e-9) else 0.0
