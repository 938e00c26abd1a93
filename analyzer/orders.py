"""Lists typed by hand, as CSV: one row a drawing, every fault named with its line.

Comma, semicolon or tab part the cells; with the last two a comma may be the decimal sign.
Columns come in any order, and quantities name their unit in the header.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TypeVar

from analyzer.errors import BurrcastError, InputError
from analyzer.job import NEXT_STEPS, PLATES, Job
from analyzer.process.choose import check_range
from analyzer.process.gas import gas_named
from analyzer.process.material import material_named
from analyzer.process.own_csv import column_name, without_sep
from analyzer.shop import Shop
from analyzer.units import MM_PER_INCH, parse_length

_T = TypeVar("_T")
_MOST_BYTES, MOST_ROWS = 5_000_000, 20_000
_THICKNESS = {"thickness_mm": 1.0, "thickness_in": MM_PER_INCH}
JOB_COLUMNS = ("material", "thickness", *_THICKNESS, "plate", "next")
SHEET_COLUMNS = ("turns", "mirror", "priority")
"""Columns that say how a part is laid on a sheet: in lists for other ends they change nothing."""

_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)")


@dataclass(frozen=True)
class BadLine:
    """A row that cannot be used: its line in the file, why, and its drawing where it names one."""

    line: int
    reason: str
    drawing: str = ""


@dataclass(frozen=True)
class Line:
    """One row of a list.

    Attributes
    ----------
    path : Path
        The list, for messages and as the folder drawings are looked for in.
    number : int
        Line in the file, from 1.
    cells : dict of str to str
        Filled cells by column.
    decimal_comma : bool
        Whether a comma may be the decimal sign.
    """

    path: Path
    number: int
    cells: dict[str, str]
    decimal_comma: bool

    def wrong(self, problem: str, hint: str, column: str = "") -> InputError:
        """Return the error to raise, with file, line and column as its place."""
        where = f"{self.path}, line {self.number}" + (f", column {column}" if column else "")
        return InputError(problem, where=where, hint=hint)

    def placed(self, column: str, make: Callable[[], _T]) -> _T:
        """Return `make()`; an InputError it raises gets line and column."""
        try:
            return make()
        except InputError as error:
            raise self.wrong(error.problem, error.hint, column) from None

    def number_at(self, column: str, low: float, high: float) -> float:
        """Return the number in `column`, which must lie in [low, high]."""
        text = self.cells.get(column, "")
        plain = text.replace(",", ".") if self.decimal_comma and text.count(",") == 1 else text
        try:
            value = float(plain)
        except ValueError:
            raise self.wrong(f"{text!r} is not a number", _as_number(text), column) from None
        if not low <= value <= high:  # refuses nan and inf too
            raise self.wrong(
                f"{text} cannot be meant", f"between {low:,.9g} and {high:,.9g}", column
            )
        return value

    def whole_at(self, column: str, low: int, high: int) -> int:
        """Return the whole number in `column`."""
        value = self.number_at(column, low, high)
        if value != int(value):
            raise self.wrong(f"{value:g} is not a whole number", "count whole pieces", column)
        return int(value)

    def drawing(self) -> Path:
        """Return the drawing, looked for in the folder of the list."""
        return self.path.parent / self.cells["drawing"]

    def reason(self, error: BurrcastError) -> str:
        """Say an error of this row without file and line, which stand beside it."""
        words = str(error)
        here = f"{self.path}, line {self.number}"
        return words.removeprefix(here).lstrip(",: ") if words.startswith(here) else words


def _as_number(text: str) -> str:
    """Return how to write what is no number; a stop-watch shows minutes and seconds."""
    clock = _CLOCK.fullmatch(text)
    if clock is None:
        return "write it without its unit; the header names it"
    decimal = int(clock[1]) + int(clock[2]) / 60.0
    return f"{clock[1]} min {clock[2]} s are {decimal:.2f} minutes"


def read_lines(
    path: Path, needed: Sequence[str], others: Sequence[str] = JOB_COLUMNS
) -> Iterator[Line | BadLine]:
    """Yield every filled row of the list, or what is wrong with it.

    Parameters
    ----------
    path : Path
        The CSV file.
    needed, others : sequence of str
        Columns that must be filled in every row, and those that may be there.

    Raises
    ------
    InputError
        If the file cannot be read, is too large, or its header is not usable.
    """
    text = text_of_list(path)
    comma = _separator(text)
    rows = csv.reader(io.StringIO(text), delimiter=comma)
    names: list[str] | None = None
    found = 0
    try:
        for row in rows:
            cells = [cell.strip() for cell in row]
            if not any(cells) or cells[0].startswith("#"):
                continue
            if names is None:
                names = _header(path, cells, needed, others)
                continue
            found += 1
            if found > MOST_ROWS:
                raise InputError(
                    f"more than {MOST_ROWS:,} rows", where=str(path), hint="split the list"
                )
            yield _line(path, rows.line_num, names, cells, needed, decimal_comma=comma != ",")
    except csv.Error as error:
        raise InputError(
            f"not a CSV list: {error}", where=str(path), hint="save it as plain CSV"
        ) from None
    if names is None:
        raise InputError("the list is empty", where=str(path), hint=_columns(needed, others))


def _line(
    path: Path, number: int, names: list[str], cells: list[str], needed: Sequence[str], *,
    decimal_comma: bool,
) -> Line | BadLine:  # fmt: skip
    if len(cells) > len(names) and any(cells[len(names) :]):
        return BadLine(
            number, f"{len(cells)} cells for {len(names)} columns: a comma as decimal sign needs"
            " semicolons between the cells",
        )  # fmt: skip
    filled = {name: cell for name, cell in zip(names, cells, strict=False) if cell}
    for column in needed:
        if column not in filled:
            return BadLine(number, f"{column} is empty", filled.get("drawing", ""))
    return Line(path, number, filled, decimal_comma)


def _header(
    path: Path, cells: list[str], needed: Sequence[str], others: Sequence[str]
) -> list[str]:
    names = [column_name(cell) for cell in cells]
    valid = (*needed, *others)
    for name in names:
        if name and name not in valid:
            near = get_close_matches(name, valid, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]}?" if near else _columns(needed, others)
            raise InputError(f"column {name!r} is not known", where=f"{path}, header", hint=hint)
        if name and names.count(name) > 1:
            raise InputError(f"two columns {name!r}", where=f"{path}, header", hint="keep one")
    missing = [name for name in needed if name not in names]
    if missing:
        raise InputError(
            f"no column {' and no column '.join(missing)}", where=f"{path}, header",
            hint=_columns(needed, others),
        )  # fmt: skip
    return names


def _columns(needed: Sequence[str], others: Sequence[str]) -> str:
    return f"the first line names the columns: {', '.join(needed)}; and, where told, " + ", ".join(
        others
    )


def _separator(text: str) -> str:
    """Return what parts the cells: the sign seen most often in the header."""
    lines = (line for line in text.splitlines() if line.strip() and not line.startswith("#"))
    return max(",;\t", key=next(lines, "").count)


def text_of_list(path: Path) -> str:
    """Return the text of a list.

    Raises
    ------
    InputError
        If it cannot be read, is over the limit, or is no UTF-8.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError(
                f"a list over the limit of {_MOST_BYTES:,} bytes", where=str(path),
                hint="split the list",
            )  # fmt: skip
        return without_sep(path.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(
            "the list is not UTF-8 text",
            where=str(path),
            hint="save it as UTF-8, in a spreadsheet: CSV UTF-8",
        ) from None
    except OSError as error:
        raise InputError(
            f"the list cannot be read: {error.strerror}", where=str(path), hint="check the path"
        ) from None


# --- what a row says ---------------------------------------------------------------------


@dataclass(frozen=True)
class Given:
    """What options and shop file say where a row is silent; None where they are silent too."""

    material: str | None = None
    thickness_mm: float | None = None
    power_kw: float | None = None
    oxygen_share_percent: float | None = None
    plate: str | None = None
    next_step: str | None = None
    gases: tuple[str, ...] = ()
    tolerance: str | None = None

    def over(self, shop: Shop) -> Given:
        """Return the same with the shop file behind it."""
        return Given(
            self.material or shop.material,
            self.thickness_mm if self.thickness_mm is not None else shop.thickness_mm,
            self.power_kw if self.power_kw is not None else shop.power_kw,
            self.oxygen_share_percent,
            self.plate or shop.plate,
            self.next_step or shop.next_step,
            self.gases,
            self.tolerance,
        )


def job_of_line(line: Line, given: Given, shop: Shop) -> Job:
    """Return the job of one row.

    Raises
    ------
    InputError
        If material, thickness or power is told nowhere, or a cell cannot be meant.
    """
    own = {row.material for row in shop.own_rows}
    name = line.cells.get("material") or given.material
    thickness = thickness_of(line, given)
    if name is None or thickness is None or given.power_kw is None:
        missing = [what for what, value in (
            ("material", name), ("thickness_mm", thickness), ("power", given.power_kw),
        ) if value is None]  # fmt: skip
        raise line.wrong(f"no {' and no '.join(missing)}", _where_to_say(missing))
    power = given.power_kw
    line.placed("thickness_mm", lambda: check_range(thickness, power))
    plate = one_of(line, "plate", PLATES) or given.plate or shop.plate
    gas = line.cells.get("gas")
    gases = (line.placed("gas", lambda: gas_named(gas)),) if gas else given.gases
    return Job(
        material=line.placed("material", lambda: material_named(name, own).name),
        thickness_mm=thickness,
        power_kw=power,
        plate=plate or "clean",
        plate_told=plate is not None,
        next_step=one_of(line, "next", NEXT_STEPS) or given.next_step or shop.next_step,
        gases=gases,
        oxygen_share_percent=given.oxygen_share_percent,
        tolerance=given.tolerance,
    )


_EXAMPLES = {
    "material": "--material mild-steel", "thickness_mm": "--thickness 10mm",
    "power": "--power 10kW",
}  # fmt: skip


def _where_to_say(missing: Sequence[str]) -> str:
    """Return where what is missing can be told, with an example; power is none of a list."""
    listed = "" if missing == ["power"] else "in the list, "
    example = " ".join(_EXAMPLES[what] for what in missing)
    return f"give it {listed}as an option or in the shop file, for example {example}"


def thickness_of(line: Line, given: Given) -> float | None:
    told = [name for name in ("thickness", *_THICKNESS) if name in line.cells]
    if len(told) > 1:
        raise line.wrong(f"{told[0]} and {told[1]} say the same thing", "keep one", told[1])
    if not told:
        return given.thickness_mm
    if told[0] == "thickness":  # with its unit, as on the command line
        text = line.cells["thickness"]
        plain = text.replace(",", ".") if line.decimal_comma else text
        return line.placed("thickness", lambda: parse_length(plain))
    return line.number_at(told[0], 0.001, 1000.0) * _THICKNESS[told[0]]


def one_of(line: Line, column: str, valid: tuple[str, ...]) -> str | None:
    value = line.cells.get(column)
    if value is None:
        return None
    word = value.lower()  # as on the command line
    if word not in valid:
        near = get_close_matches(word, valid, n=1)
        hint = f"did you mean {near[0]}?" if near else "use one of " + ", ".join(valid)
        raise line.wrong(f"{column} {value!r} is not known", hint, column)
    return word
