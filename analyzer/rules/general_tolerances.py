"""ISO 2768-1 general tolerances against ISO 9013 tolerance class 1, as data.

The tables stand in general_tolerances.toml with their source marks.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from analyzer.errors import InputError
from analyzer.geometry.contours import Floats, Ints

CLASSES = ("f", "m", "c", "v")


def tolerance_class(text: str) -> str:
    """Return the class letter of a general tolerance such as "2768-m" or "ISO 2768-mK".

    Raises
    ------
    InputError
        If `text` is no ISO 2768-1 tolerance.

    Examples
    --------
    >>> tolerance_class("ISO 2768-mK")
    'm'
    """
    match = re.fullmatch(r"\s*(?:ISO\s*)?2768(?:-1)?\s*[- ]?\s*([fmcv])[HKL]?\s*", text, re.I)
    if match is None or match[1].lower() not in CLASSES:
        raise InputError(
            f"general tolerance {text!r} is not known",
            where="--tolerance",
            hint="use one of " + ", ".join(f"2768-{letter}" for letter in CLASSES),
        )
    return match[1].lower()


def general_deviation(letter: str, sizes: ArrayLike) -> Floats:
    """Return the limit deviation of ISO 2768-1 for linear sizes, shape (n,); nan where none. [mm]

    Examples
    --------
    >>> general_deviation("m", [3.0, 3.1, 80.0, 300.0]).tolist()
    [0.1, 0.1, 0.3, 0.5]
    """
    table = _tables()["iso2768"]
    size = np.asarray(sizes, dtype=float)
    bounds = np.array([*table["length_above"], table["length_up_to"]])
    column = np.searchsorted(bounds, size, side="left") - 1
    column = np.where(size == bounds[0], 0, column)
    return _pick(table[letter]["deviation"], column)


def cutting_deviation(thickness: float, sizes: ArrayLike) -> Floats:
    """Return the limit deviation of ISO 9013 class 1, shape (n,); nan where none. [mm]

    Examples
    --------
    >>> cutting_deviation(12.0, [80.0, 10.0, 9.9]).tolist()
    [0.4, 0.35, 0.3]
    """
    table = _tables()["iso9013_class1"]
    size = np.asarray(sizes, dtype=float)
    bounds = np.array([*table["length_from"], table["length_below"]])
    column = np.searchsorted(bounds, size, side="right") - 1
    row = next((row for row in table["rows"] if thickness <= row["up_to"]), None)
    if row is None:  # ISO 9013 holds for laser cuts up to 32 mm
        return np.full(size.shape, np.nan)
    return _pick(row["deviation"], column)


def _pick(deviation: list[float], column: Ints) -> Floats:
    """Return the deviation of every column; nan outside the table and where it has none."""
    values = np.array(deviation, dtype=float)
    inside = (column >= 0) & (column < len(values))
    picked = values[np.where(inside, column, 0)]
    return np.where(inside & (picked > 0.0), picked, np.nan)


@cache
def _tables() -> dict[str, Any]:
    text = files("analyzer.rules").joinpath("general_tolerances.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
