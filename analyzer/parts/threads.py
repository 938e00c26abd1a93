"""Metric threads: tap drills, clearance holes, and threads named in the words of a drawing.

Values: `data/threads.toml`, after ISO 2306, ISO 273 and ISO 965-1, each with its mark.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from analyzer.errors import InputError

# "M10", "4xM6", "M8 x 1"; not the M of a word, nor the M10 of "M100"
_NAMED = re.compile(
    r"(?:(?<![A-Za-z0-9])|(?<=\d[xX×*])|(?<=\d))M ?(\d{1,2}(?:[.,]5)?)"
    r"(?:\s*[xX×*]\s*(\d(?:[.,]\d+)?))?(?![\d])"
)


@dataclass(frozen=True)
class Thread:
    """A metric thread.

    Attributes
    ----------
    name : str
        "M10" for the coarse thread, "M10x1" for a fine one.
    nominal, pitch, drill : float
        Outer diameter, pitch and tap drill. [mm]
    clearance : tuple of float
        Clearance holes fine, medium, coarse; empty for a fine thread. [mm]
    minor : tuple of float
        Least and greatest minor diameter in 6H; empty where we have none. [mm]
    """

    name: str
    nominal: float
    pitch: float
    drill: float
    clearance: tuple[float, ...] = ()
    minor: tuple[float, ...] = ()


@cache
def threads() -> dict[str, Thread]:
    """Return all threads we know, by name, coarse ones first and smallest first."""
    text = files("analyzer.parts").joinpath("data/threads.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    return {
        name: Thread(
            name, float(name[1:].split("x")[0]), row["pitch"], row["drill"],
            tuple(row.get("clearance", ())), tuple(row.get("minor", ())),
        )
        for series in ("coarse", "fine")
        for name, row in table[series]["threads"].items()
    }  # fmt: skip


def tap_drill(name: str) -> float:
    """Return the tap drill of a thread. [mm]

    Raises
    ------
    InputError
        If the thread is not in our table.

    Examples
    --------
    >>> tap_drill("M10"), tap_drill("M8x1")
    (8.5, 7.0)
    """
    known = threads()
    if name not in known:
        raise InputError(f"{name!r} is no thread we know", hint="one of " + ", ".join(known))
    return known[name].drill


def threads_in(text: str) -> list[Thread]:
    """Return the threads named in a text, in its order.

    A length after the thread ("M6x20") is no pitch: the coarse thread is meant.

    Examples
    --------
    >>> [thread.name for thread in threads_in("4x M6, 2x M10x1 (6.6 deep), M8x25")]
    ['M6', 'M10x1', 'M8']
    """
    found = []
    for match in _NAMED.finditer(text):
        name = "M" + match[1].replace(",", ".")
        fine = f"{name}x{float(match[2].replace(',', '.')):g}" if match[2] else name
        thread = threads().get(fine) or threads().get(name)
        if thread is not None:
            found.append(thread)
    return found
