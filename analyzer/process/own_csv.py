"""Own cutting tables as CSV: section [tables] of the shop file names them.

The first line names the columns, each with its unit, as the keys of [[cutting]] do.  Comma,
semicolon or tab part the cells; after a semicolon or a tab a comma may be the decimal sign.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.process.own_rows import KEYS, NUMBERS, BadRow, Place, keep, own_row, place_of
from analyzer.process.tables import OwnRow
from analyzer.process.typed import TomlFile

MOST_BYTES = 1_000_000
_SEP = re.compile(r"\A\"?sep=[,;\t]\"?(?=\r?\n|\Z)", re.IGNORECASE)
_SWITCH = {"true": True, "yes": True, "false": False, "no": False}
# What tables out of a machine or a drawer call a column, without a unit: no guess is made.
_NO_UNIT = {
    "thickness": "thickness_mm or thickness_in", "speed": "speed_m_per_min, speed_mm_per_min, "
    "speed_mm_per_s or speed_in_per_min", "pressure": "pressure_bar, pressure_psi or pressure_mpa",
    "kerf": "kerf_mm or kerf_in", "power": "power_kw", "pierce": "pierce_s",
    "share": "oxygen_share_percent",
}  # fmt: skip


@dataclass(frozen=True)
class CsvFile(TomlFile):
    """A CSV table being read: as a TOML file, with line and column as the place."""

    lines: tuple[int, ...] = ()

    def place(self, section: str, key: str = "", nth: int = 0) -> str:
        """Return file, line and column in words; no line for the header."""
        line = f", line {self.lines[nth]}" if section and nth < len(self.lines) else ""
        return f"{self.path}{line}" + (f", column {key}" if section and key else "")


def parse_tables(
    file: TomlFile, value: Any, before: tuple[OwnRow, ...], bad: list[BadRow] | None = None
) -> tuple[OwnRow, ...]:
    """Return `before` and the rows of every CSV file that [tables] names.

    Parameters
    ----------
    file : TomlFile
        The shop file; names of tables are taken from its folder.
    value : object
        Content of the section.
    before : tuple of OwnRow
        Rows read already; none may stand there twice.
    bad : list of BadRow, optional
        As in `parse_cutting`.

    Raises
    ------
    InputError
        If a file is missing, unreadable, too large or without a usable header, or a row
        cannot be read and `bad` is None.
    """
    table = file.table("tables", value)
    file.known("tables", table, ("files",))
    rows = {place_of(row): row for row in before}
    for name in file.texts("tables", table, "files") if "files" in table else ():
        path = file.path.parent / name
        text = file.placed("tables", "files", partial(_read, path))
        _add_rows(path, text, rows, bad)
    return tuple(rows.values())


def _add_rows(path: Path, text: str, rows: dict[Place, OwnRow], bad: list[BadRow] | None) -> None:
    content = _cells(path, text)
    lines = tuple(line for line, _ in content[1:])
    file = CsvFile(path, text, lines)
    names = _header(file, content[0][1] if content else [])
    decimal_comma = _delimiter(text) != ","
    for nth, (_, cells) in enumerate(content[1:]):
        keep(bad, rows, partial(_row, file, names, cells, nth, decimal_comma))


def _row(
    file: CsvFile, names: list[str], cells: list[str], nth: int, decimal_comma: bool
) -> OwnRow:
    if len(cells) > len(names):
        raise file.wrong(
            f"{len(cells)} cells for {len(names)} columns",
            "a comma as decimal sign needs semicolons between the cells",
            "cutting",
            nth=nth,
        )
    return own_row(file, _typed(names, cells, decimal_comma), nth)


def _typed(names: list[str], cells: list[str], decimal_comma: bool) -> Mapping[str, Any]:
    """Return the cells by column, numbers as numbers; empty cells are left out."""
    found: dict[str, Any] = {}
    for name, cell in zip(names, cells, strict=False):
        words = cell.strip()
        if not words:
            continue
        found[name] = words
        if name in NUMBERS:
            number = words.replace(",", ".") if decimal_comma and words.count(",") == 1 else words
            try:
                found[name] = float(number)
            except ValueError:
                continue  # refused as "not a number" with its place
        elif name == "confirmed":
            found[name] = _SWITCH.get(words.lower(), words)
    return found


def _header(file: CsvFile, cells: list[str]) -> list[str]:
    names = [column_name(cell) for cell in cells]
    while names and not names[-1]:
        names.pop()
    if not names:
        raise file.wrong("the table is empty", "the first line names the columns", "")
    for name in names:
        if name == "thickness_gauge":
            raise file.wrong(
                "gauge numbers mean other thicknesses for steel, stainless and aluminium",
                "write thickness_mm or thickness_in", "",
            )  # fmt: skip
        if name in _NO_UNIT:
            raise file.wrong(f"column {name!r} names no unit", f"write {_NO_UNIT[name]}", "")
        file.known("cutting", {name: None}, KEYS, nth=len(file.lines))  # no line: the header
        if names.count(name) > 1:
            raise file.wrong(f"column {name!r} stands there twice", "keep one", "")
    return names


def _delimiter(text: str) -> str:
    """Return what parts the cells: the sign seen most often in the header."""
    header = next((line for line in text.splitlines() if _told(line)), "")
    return max(",;\t", key=header.count)


def column_name(head: str) -> str:
    """Return the key a head means: the unit may stand in brackets, as in tables for people.

    Examples
    --------
    >>> [column_name(head) for head in ("Speed [m/min]", "Thickness (mm)", "power_kW", "Gas")]
    ['speed_m_per_min', 'thickness_mm', 'power_kw', 'gas']
    """
    words = head.strip().lower().replace("/", " per ").replace("%", " percent ")
    return "_".join(re.sub(r"[\[\](),]", " ", words).split())


def without_sep(text: str) -> str:
    """Return a table without "sep=;" in its first line, which is for spreadsheets; lines keep.

    Examples
    --------
    >>> without_sep("sep=;\\na;b\\n")
    '\\na;b\\n'
    """
    return _SEP.sub("", text, count=1)


def _told(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _cells(path: Path, text: str) -> list[tuple[int, list[str]]]:
    """Return line number and cells of every line that is neither empty nor a remark."""
    reader = csv.reader(io.StringIO(text), delimiter=_delimiter(text))
    found = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells) and not cells[0].lstrip().startswith("#"):
                found.append((reader.line_num, cells))
    except csv.Error as error:
        raise InputError(
            f"not a CSV table: {error}", where=str(path), hint="save it as plain CSV"
        ) from None
    return found


def _read(path: Path) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError(
                f"{path.name} is over the limit of {MOST_BYTES:,} bytes", hint="leave rows out"
            )
        return without_sep(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise InputError(
            f"there is no table {path.name} here", hint="name it from the shop file's folder"
        ) from None
    except UnicodeDecodeError:
        raise InputError(
            f"{path.name} is not UTF-8 text", hint="save it as UTF-8, in a spreadsheet: CSV UTF-8"
        ) from None
    except OSError as error:
        raise InputError(
            f"{path.name} cannot be read: {error.strerror}", hint="name a CSV file"
        ) from None
    except ValueError as error:  # a null byte in the name
        raise InputError(f"{path.name!r} is no file name: {error}", hint="name a file") from None
