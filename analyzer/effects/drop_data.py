"""Values of data/drop.toml: clearance, gas factor, micro-joints."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

SUBSTITUTE = "mild-steel"  # strength of materials only own rows allow (copper, brass)


@cache
def drop_data() -> Mapping[str, Any]:
    """Return the content of drop.toml; read once per run."""
    text = (files("analyzer.effects") / "data" / "drop.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def row_of(
    table: str, thickness: float, gas: str = "", material: str = ""
) -> Mapping[str, Any] | None:
    """Return the first row of a table that holds: above < thickness <= up_to, gas, material.

    A bound, gas or material a row does not name is open.  None where no row holds.
    """
    rows: list[Mapping[str, Any]] = drop_data()[table]["rows"]
    for row in rows:
        within = row.get("above", -math.inf) < thickness <= row.get("up_to", math.inf)
        if within and row.get("gas", gas) == gas and row.get("material", material) == material:
            return row
    return None


def constant(name: str) -> float:
    """Return a constant of the micro-joints."""
    return float(drop_data()["micro-joint"]["constants"][name]["value"])


def perpendicularity(thickness: float) -> float:
    """Return u of one cut face by ISO 9013. [mm]

    Examples
    --------
    >>> [round(perpendicularity(t), 3) for t in (3.0, 10.0, 20.0)]
    [0.059, 0.22, 0.29]
    """
    row = row_of("perpendicularity", thickness)
    assert row is not None  # the bands leave no thickness out
    return float(row["constant_mm"]) + float(row["per_mm"]) * thickness


def gas_factor(gas: str, material: str, thickness: float) -> float:
    """Return how readily a piece drops in a gas, mixed gas 1. [-]

    Examples
    --------
    >>> gas_factor("nitrogen", "mild-steel", 10.0), gas_factor("nitrogen", "stainless", 10.0)
    (0.6, 0.9)
    """
    row = row_of("gas-factor", thickness, gas, material)
    assert row is not None  # the last row holds for all
    return float(row["factor"])


def strength(material: str) -> float:
    """Return the tensile strength. [N/mm2]"""
    values = drop_data()["strength"]
    return float(values.get(material, values[SUBSTITUTE])["value"])
