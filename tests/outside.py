"""Checks against things outside the project, kept while they run.

A test that compares with a standard, a handbook, a closed form, another library or a real drawing
carries ``@pytest.mark.outside(what, source)``.  Where the environment names a folder in
BURRCAST_OUTSIDE, every ``pytest.approx`` and ``np.testing.assert_allclose`` in such a test leaves
a line there, and so does every `record`: what was expected, what we got, and how far they might
be apart.  ``tests/benchmarks/validation.py`` makes docs/validation.md of them.
"""

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest

FOLDER = os.environ.get("BURRCAST_OUTSIDE", "")
_rows: list[tuple[float, float, float]] | None = None  # of the marked test that runs now


def record(expected: float, got: float, within: float) -> None:
    """Keep one comparison that a test makes by other means than `pytest.approx`."""
    if _rows is not None:
        _rows.append((float(expected), float(got), float(within)))


def _record_all(expected: Any, got: Any, rel: float, least: float) -> None:
    """Keep the pair that uses most of what it is allowed; nothing where they are no numbers."""
    try:
        wanted, found = np.broadcast_arrays(
            np.asarray(expected, dtype=float), np.asarray(got, dtype=float)
        )
    except (TypeError, ValueError):
        return
    if wanted.size:
        allowed = np.maximum(rel * np.abs(wanted), least)
        used = np.abs(found - wanted) / np.where(allowed > 0.0, allowed, 1.0)
        k = int(np.argmax(used))
        record(wanted.flat[k], found.flat[k], allowed.flat[k])


class _Kept:
    """What `pytest.approx` returns, which notes what it is compared with."""

    __array_ufunc__ = None
    __array_priority__ = 101

    def __init__(self, expected: Any, rel: float | None, least: float | None, nan_ok: bool) -> None:
        self.approx = _approx(expected, rel=rel, abs=least, nan_ok=nan_ok)
        self.expected = expected
        # pytest: within 1e-6 relative unless only `abs` is told
        self.rel = (0.0 if least is not None else 1e-6) if rel is None else rel
        self.least = 1e-12 if least is None else least

    def __eq__(self, got: object) -> bool:
        _record_all(self.expected, got, self.rel, self.least)
        return bool(self.approx == got)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        return repr(self.approx)


_approx = pytest.approx
_allclose = np.testing.assert_allclose


def _kept_approx(
    expected: Any, rel: float | None = None, abs: float | None = None, nan_ok: bool = False
) -> _Kept:
    return _Kept(expected, rel, abs, nan_ok)


def _kept_allclose(
    got: Any, expected: Any, rtol: float = 1e-7, atol: float = 0.0, **more: Any
) -> None:
    _record_all(expected, got, rtol, atol)
    _allclose(got, expected, rtol=rtol, atol=atol, **more)


@contextmanager
def recording() -> Iterator[list[tuple[float, float, float]]]:
    """Yield the list that comparisons are added to until the end of the block."""
    global _rows
    _rows = kept = []
    pytest.approx, np.testing.assert_allclose = _kept_approx, _kept_allclose  # type: ignore[assignment]
    try:
        yield kept
    finally:
        _rows = None
        pytest.approx, np.testing.assert_allclose = _approx, _allclose


def write(test: str, what: str, source: str, rows: list[tuple[float, float, float]]) -> None:
    """Add what one passed test compared to this process's file."""
    line = {"test": test, "what": what, "source": source, "rows": rows}
    with (Path(FOLDER) / f"{os.getpid()}.jsonl").open("a", encoding="utf-8") as file:
        file.write(json.dumps(line) + "\n")
