"""Rows of numbers that are equal, found by one number a row."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analyzer.geometry.segments import Floats, Ints

_MIX = np.uint64(0x9E3779B97F4A7C15)  # odd, so that multiplying loses nothing


def maybe_repeated(rows: Floats) -> Ints:
    """Return which rows may equal another one: all that do, and hardly any that do not.

    Sorting one number a row is a fifth of the work of sorting by all columns.

    Parameters
    ----------
    rows : ndarray, shape (n, k)
        Without negative zeros.
    """
    mixed = _mixed(rows)
    ordered = np.sort(mixed)
    several = ordered[1:][ordered[1:] == ordered[:-1]]
    if not len(several):
        return np.zeros(0, dtype=np.int64)
    at = np.searchsorted(several, mixed)
    at[at == len(several)] = 0
    found: Ints = np.flatnonzero(several[at] == mixed)
    return found


def any_repeated(rows: Floats, times: int) -> bool:
    """Whether some row may stand `times` over: surely where it does, hardly ever else."""
    if len(rows) < times:
        return False
    ordered = np.sort(_mixed(rows))
    return bool((ordered[times - 1 :] == ordered[: len(ordered) - times + 1]).any())


def _mixed(rows: Floats) -> NDArray[np.uint64]:
    """Return one number a row; equal rows without negative zeros have the same."""
    mixed = np.zeros(len(rows), dtype=np.uint64)
    for column in rows.T:
        mixed = (mixed ^ np.ascontiguousarray(column).view(np.uint64)) * _MIX
        mixed ^= mixed >> np.uint64(29)
    return mixed
