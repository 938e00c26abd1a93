"""A part list: drawings and how many of each, from CSV or TOML; a bad row stops only itself.

Both kinds have the same words.  In TOML every row is a [[part]], and what stands before the
first of them holds for every row that does not say otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.orders import (
    JOB_COLUMNS,
    MOST_ROWS,
    SHEET_COLUMNS,
    BadLine,
    Given,
    Line,
    job_of_line,
    read_lines,
    text_of_list,
)
from analyzer.process.typed import TomlFile
from analyzer.shop import Shop

NEEDED = ("drawing", "quantity")
OTHERS = (*JOB_COLUMNS, *SHEET_COLUMNS)
LISTS = (".csv", ".toml")
TABLES = (".xlsx", ".xlsm", ".xls", ".ods", ".numbers", ".tsv")
TURNS: dict[str, tuple[float, ...] | None] = {
    "0": (0.0,),
    "90": (0.0, 90.0, 180.0, 270.0),
    "180": (0.0, 180.0),
    "free": None,
}
"""How a part may be turned, by the word for it: as drawn, by quarters, by halves, at will."""

MOST_PIECES = 10_000
"""More of one drawing is a slip of the pen, or a month's order to be split."""

_YES_NO = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False}
_OF_DRAWING = re.compile(r"(.+)#([1-9][0-9]{0,3})")


@dataclass(frozen=True)
class Wanted:
    """One usable row.

    Attributes
    ----------
    line : int
        Line of the list.
    name : str
        The drawing as written.
    path : Path
        The drawing's file.
    which : int or None
        Part of the drawing that is asked for, from 1; None: all of them.
    quantity : int
        How many of the drawing: what it shows twice is cut twice as often.
    job : Job
        Material, thickness, plate, next step.
    turns : tuple of float or None
        As in `analyzer.packing.demand.Demand`. [degrees]
    mirror : bool
        Whether it may be turned over.
    priority : int
        Where stock runs out, higher ones are laid first.
    """

    line: int
    name: str
    path: Path
    which: int | None
    quantity: int
    job: Job
    turns: tuple[float, ...] | None
    mirror: bool
    priority: int


def is_list(path: Path) -> bool:
    """Return whether a file is a list by its ending, and not a drawing.

    Raises
    ------
    InputError
        If it is a list in a form that is not read.
    """
    ending = path.suffix.lower()
    if ending in TABLES:
        raise InputError(
            f"a list in {ending} is not read", where=str(path), hint="save it as CSV, UTF-8"
        )
    return ending in LISTS


def read_part_list(
    path: Path, given: Given, shop: Shop, turns: str = "90"
) -> tuple[tuple[Wanted, ...], tuple[BadLine, ...]]:
    """Return the usable rows of a part list, and what is wrong with the others.

    Parameters
    ----------
    path : Path
        CSV, or TOML by its ending.
    given : Given
        What holds where a row is silent.
    shop : Shop
        The shop file: own materials.
    turns : str
        How parts may be turned where a row is silent, one of `TURNS`.

    Raises
    ------
    InputError
        If the list cannot be read or has no row.
    """
    rows = _toml_lines(path) if path.suffix.lower() == ".toml" else read_lines(path, NEEDED, OTHERS)
    good: list[Wanted] = []
    bad: list[BadLine] = []
    for row in rows:
        if isinstance(row, BadLine):
            bad.append(row)
            continue
        try:
            good.append(_wanted(row, given, shop, turns))
        except InputError as error:
            bad.append(BadLine(row.number, row.reason(error), row.cells["drawing"]))
    if not good and not bad:
        raise InputError(
            "the list has no row", where=str(path), hint="write drawing and quantity of every part"
        )
    return tuple(good), tuple(bad)


def _wanted(row: Line, given: Given, shop: Shop, turns: str) -> Wanted:
    name = row.cells["drawing"]
    path, which = _file_of(row)
    quantity = row.whole_at("quantity", 1, MOST_PIECES)
    job = job_of_line(row, given, shop)
    if not path.is_file():
        raise row.wrong(f"there is no drawing {name}", "paths start at the list", "drawing")
    told = row.cells.get("turns", turns).lower()
    if told not in TURNS:
        raise row.wrong(f"turns {told!r} is not known", "use one of " + ", ".join(TURNS), "turns")
    mirror = row.cells.get("mirror", "no").lower()
    if mirror not in _YES_NO:
        raise row.wrong(f"mirror {mirror!r} is not known", "write yes or no", "mirror")
    priority = row.whole_at("priority", -1000, 1000) if "priority" in row.cells else 0
    return Wanted(
        row.number, name, path, which, quantity, job, TURNS[told], _YES_NO[mirror], priority
    )


def _file_of(row: Line) -> tuple[Path, int | None]:
    """Return the file of a row, and which of its parts "#2" at the end asks for."""
    whole = row.drawing()
    match = _OF_DRAWING.fullmatch(row.cells["drawing"])
    if match is None or whole.is_file():  # a file may be called so
        return whole, None
    return row.path.parent / match[1], int(match[2])


# --- TOML --------------------------------------------------------------------------------


def _toml_lines(path: Path) -> Iterator[Line | BadLine]:
    """Yield every [[part]] as a row, with what holds for all of them filled in."""
    file = TomlFile(path, text_of_list(path))
    content = file.content()
    file.known("", content, ("part", *OTHERS))
    rows = content.get("part", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise InputError("part is not a list of parts", where=str(path), hint="write [[part]]")
    if len(rows) > MOST_ROWS:
        raise InputError(f"more than {MOST_ROWS:,} rows", where=str(path), hint="split the list")
    common = {key: value for key, value in content.items() if key != "part"}
    for nth, row in enumerate(rows):
        number = file.line_of("part", "", nth)
        try:
            file.known("part", row, (*NEEDED, *OTHERS), nth)
            cells = _cells(common, row)
        except InputError as error:
            yield BadLine(number, error.problem + (f" ({error.hint})" if error.hint else ""))
            continue
        empty = next((column for column in NEEDED if column not in cells), "")
        if empty:
            yield BadLine(number, f"{empty} is empty", cells.get("drawing", ""))
            continue
        yield Line(path, number, cells, decimal_comma=False)


def _cells(common: Mapping[str, Any], row: Mapping[str, Any]) -> dict[str, str]:
    """Return the cells of a row; its thickness replaces that of all rows, whatever the unit."""
    several = ("thickness", "thickness_mm", "thickness_in")
    own = any(name in row for name in several)
    kept = {key: v for key, v in common.items() if not (own and key in several)}
    return {key: _cell(key, value) for key, value in (kept | dict(row)).items() if value != ""}


def _cell(key: str, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | str):
        return f"{value}".strip()
    raise InputError(f"{key} = {value!r} cannot be meant", hint="write a text or a number")
