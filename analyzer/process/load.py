"""Process data files: read once, handed out with their types checked.

A wrong or missing value in our own data is our fault, so it raises KeyError or TypeError
and never InputError; the tests walk through every file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

Knots = Sequence[Sequence[float]]


@cache
def data(name: str) -> Mapping[str, Any]:
    """Return the content of `data/<name>.toml`; read once per run."""
    text = (files(__package__) / "data" / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def table(name: str, *keys: str) -> Mapping[str, Any]:
    """Return the table at `keys` in the data file `name`."""
    found: Any = data(name)
    for key in keys:
        found = found[key]
    if not isinstance(found, Mapping):
        raise TypeError(f"{name}.toml: {'.'.join(keys)} is not a table")
    return found


def number(name: str, *keys: str) -> float:
    """Return the number at `keys` in the data file `name`."""
    value = table(name, *keys[:-1])[keys[-1]]
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise TypeError(f"{name}.toml: {'.'.join(keys)} is not a number")
    return float(value)


def words(name: str, *keys: str) -> str:
    """Return the text at `keys` in the data file `name`."""
    value = table(name, *keys[:-1])[keys[-1]]
    if not isinstance(value, str):
        raise TypeError(f"{name}.toml: {'.'.join(keys)} is not text")
    return value


def between(knots: Knots, x: float) -> float:
    """Return y at `x`, linear between the (x, y) of `knots`, held beyond both ends."""
    columns = np.asarray(knots, dtype=float)
    return float(np.interp(x, columns[:, 0], columns[:, 1]))


def band(bands: Knots, x: float) -> float | None:
    """Return the value of the half-open band (lo, hi] that holds `x`; None above the last.

    `bands` lists (hi, value), rising.
    """
    return next((value for upto, value in bands if x <= upto), None)
