"""Threads named in the words of a drawing, and holes drawn at their tap drill or nominal size."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from analyzer.drawing.drawing import Text

# "M10", "4xM6", "M8 x 1", "M 12"; not the M of a word, nor M10 of "M100"
_THREAD = re.compile(
    r"(?:(?<![A-Za-z0-9])|(?<=\d[xX×])|(?<=\d))M ?(\d{1,2}(?:[.,]5)?)"
    r"(?:\s*[xX×]\s*(\d(?:[.,]\d+)?))?(?![\d])"
)


@dataclass(frozen=True)
class Thread:
    """A metric thread. Nominal diameter, pitch, tap drill, 6H band of the minor diameter [mm]."""

    name: str
    nominal: float
    pitch: float
    drill: float
    band: float  # upper less lower limit of the minor diameter in 6H; nan where not known


@dataclass(frozen=True)
class Hint:
    """A thread named in a text, and where that text stands. [mm]"""

    thread: Thread
    text: str
    x: float
    y: float
    height: float


def hints(texts: Iterable[Text]) -> tuple[Hint, ...]:
    """Return every thread named in `texts`, in their order.

    A length after the thread ("M6x20") is no pitch, so the coarse thread is meant.

    Examples
    --------
    >>> note = Text("4x M6, 2x M10x1 (6.6 DEEP)", 0.0, 0.0, 3.5, "0", "text")
    >>> [h.thread.name for h in hints([note])]
    ['M6', 'M10x1']
    """
    found = []
    for text in texts:
        for match in _THREAD.finditer(text.text):
            thread = _named("M" + match[1].replace(",", "."), match[2])
            if thread is not None:
                found.append(Hint(thread, text.text.strip(), text.x, text.y, text.height))
    return tuple(found)


def _named(name: str, pitch: str | None) -> Thread | None:
    fine, coarse = fine_threads(), coarse_threads()
    if pitch is not None:
        key = f"{name}x{float(pitch.replace(',', '.')):g}"
        if key in fine:
            return fine[key]
    return coarse.get(name)


@cache
def coarse_threads() -> dict[str, Thread]:
    """Return the coarse threads by name ("M10"), smallest first."""
    return {
        name: Thread(name, float(name[1:]), pitch, drill, most - least)
        for name, pitch, drill, least, most in _table()["coarse"]["rows"]
    }


@cache
def fine_threads() -> dict[str, Thread]:
    """Return the fine threads by name ("M10x1"), smallest first."""
    return {
        f"{name}x{pitch:g}": Thread(f"{name}x{pitch:g}", float(name[1:]), pitch, drill, math.nan)
        for name, pitch, drill in _table()["fine"]["rows"]
    }


@cache
def _table() -> dict[str, Any]:
    text = files("analyzer.rules").joinpath("threads.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
