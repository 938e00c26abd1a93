"""The shop's own cutting rows as typed: [[cutting]] of the shop file, and CSV files.

One row is read in the same way from both: the key or the column name says the unit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from analyzer.errors import InputError
from analyzer.process.choose import check_range
from analyzer.process.flow import bore_of
from analyzer.process.gas import gas_named
from analyzer.process.material import material_named
from analyzer.process.recipe import checked_share
from analyzer.process.tables import OwnRow
from analyzer.process.typed import TomlFile
from analyzer.units import MM_PER_INCH

# Keys that say the same in another unit, and the factor to ours.
SPEED_UNITS = {
    "speed_m_per_min": 1.0,
    "speed_mm_per_s": 0.06,
    "speed_mm_per_min": 0.001,
    "speed_in_per_min": MM_PER_INCH / 1000.0,
}
THICKNESS_UNITS = {"thickness_mm": 1.0, "thickness_in": MM_PER_INCH}
KERF_UNITS = {"kerf_mm": 1.0, "kerf_in": MM_PER_INCH}
PRESSURE_UNITS = {"pressure_bar": 1.0, "pressure_psi": 0.0689475729, "pressure_mpa": 10.0}
NUMBERS = (
    "power_kw", *THICKNESS_UNITS, *SPEED_UNITS, *KERF_UNITS, *PRESSURE_UNITS,
    "pierce_s", "oxygen_share_percent",
)  # fmt: skip
KEYS = ("material", "gas", *NUMBERS, "nozzle", "confirmed")
Place = tuple[str, str, float, float]


@dataclass(frozen=True)
class BadRow:
    """A row that could not be read, and why."""

    where: str
    reason: str


def parse_cutting(
    file: TomlFile, value: Any, bad: list[BadRow] | None = None
) -> dict[str, tuple[OwnRow, ...]]:
    """Return `own_rows` of [[cutting]].

    Parameters
    ----------
    file : TomlFile
        For messages.
    value : object
        Content of the section.
    bad : list of BadRow, optional
        Takes the rows that cannot be read, so that the others can be; without it the
        first of them raises.

    Raises
    ------
    InputError
        If the section is no list of rows, or a row cannot be read and `bad` is None.
    """
    if not isinstance(value, list):
        raise file.wrong("cutting must be a list of rows", "write [[cutting]]", "", "cutting")
    rows: dict[Place, OwnRow] = {}
    for nth, row in enumerate(value):
        keep(bad, rows, partial(_checked_table, file, row, nth))
    return {"own_rows": tuple(rows.values())}


def keep(bad: list[BadRow] | None, rows: dict[Place, OwnRow], make: Callable[[], OwnRow]) -> None:
    """Put `make()` into `rows`; what it refuses goes to `bad`, where there is such a list."""
    try:
        made = make()
        same = rows.setdefault(place_of(made), made)
        if same is not made:
            raise InputError(
                f"{made.material} in {made.gas}, {made.label}, stands there twice",
                where=made.where,
                hint=f"keep one; the first is {same.where}",
            )
    except InputError as error:
        if bad is None:
            raise
        hint = f" ({error.hint})" if error.hint else ""
        bad.append(BadRow(error.where, error.problem + hint))


def place_of(row: OwnRow) -> Place:
    """Return where in the tables a row stands: two rows there say the same thing."""
    return row.material, row.gas, round(row.power_kw, 6), round(row.thickness_mm, 6)


def _checked_table(file: TomlFile, row: Any, nth: int) -> OwnRow:
    return own_row(file, file.table("cutting", row), nth)


def own_row(file: TomlFile, row: Mapping[str, Any], nth: int) -> OwnRow:
    """Return the nth row, checked.

    Raises
    ------
    InputError
        If a key is not known, something needed is missing, or a value cannot be meant.
    """
    file.known("cutting", row, KEYS, nth)
    speed = file.one_of_units("cutting", row, SPEED_UNITS, nth)
    thickness = file.one_of_units("cutting", row, THICKNESS_UNITS, nth)
    needed = {
        "material": "material" in row,
        "gas": "gas" in row,
        "power_kw": "power_kw" in row,
        "thickness_mm": thickness is not None,
        "speed_m_per_min": speed is not None,
    }
    missing = [key for key, there in needed.items() if not there]
    if missing or speed is None or thickness is None:
        raise file.wrong(
            f"this row has no {missing[0]}",
            "a row needs material, gas, power_kw, thickness_mm and speed_m_per_min",
            "cutting",
            nth=nth,
        )
    number = partial(file.number, "cutting", row, nth=nth)
    power = number("power_kw", low=0.0, high=math.inf)
    sheet = number(thickness[0], low=0.0, high=math.inf) * thickness[1]
    file.placed("cutting", "power_kw", lambda: check_range(1.0, power), nth)
    file.placed("cutting", thickness[0], lambda: check_range(sheet, 1.0), nth)
    material, gas = (file.text_at("cutting", row, key, nth) for key in ("material", "gas"))
    every = ("copper", "brass")  # an own row is what lets these two in
    share = row.get("oxygen_share_percent")
    if share is not None:
        share = number("oxygen_share_percent", low=-math.inf, high=math.inf)
    made = OwnRow(
        material=file.placed(
            "cutting", "material", lambda: material_named(material, every).name, nth
        ),
        gas=file.placed("cutting", "gas", lambda: gas_named(gas), nth),
        power_kw=power,
        thickness_mm=sheet,
        # 200 m/min is far above what any head follows: a slip of the unit
        speed_m_per_min=number(speed[0], low=0.01 / speed[1], high=200.0 / speed[1]) * speed[1],
        kerf_mm=_in_unit(file, row, KERF_UNITS, 0.02, 3.0, nth),
        pierce_s=number("pierce_s", low=0.001, high=120.0) if "pierce_s" in row else None,
        oxygen_share_percent=share,
        # 40 bar is far above what any head is built for: a slip of the unit
        pressure_bar=_in_unit(file, row, PRESSURE_UNITS, 0.05, 40.0, nth),
        nozzle=_nozzle(file, row, nth),
        confirmed=file.flag("cutting", row, "confirmed", nth) if "confirmed" in row else False,
        where=file.place("cutting", nth=nth),
    )
    _check_share(file, made, nth)
    return made


def _in_unit(
    file: TomlFile, row: Mapping[str, Any], units: Mapping[str, float], low: float, high: float,
    nth: int,
) -> float | None:  # fmt: skip
    """Return the value given in one of `units`, in ours; `low` and `high` are in ours."""
    unit = file.one_of_units("cutting", row, units, nth)
    if unit is None:
        return None
    key, factor = unit
    return file.number("cutting", row, key, low / factor, high / factor, nth) * factor


def _nozzle(file: TomlFile, row: Mapping[str, Any], nth: int) -> str | None:
    if "nozzle" not in row:
        return None
    nozzle = file.text_at("cutting", row, "nozzle", nth).strip()
    file.placed("cutting", "nozzle", lambda: bore_of(nozzle), nth)
    return nozzle


def _check_share(file: TomlFile, row: OwnRow, nth: int) -> None:
    share = row.oxygen_share_percent
    if share is None:
        return
    if row.gas != "mixed":
        raise file.wrong(
            f"an oxygen share belongs to mixed gas, not to {row.gas}",
            'leave it out, or write gas = "mixed"',
            "cutting",
            "oxygen_share_percent",
            nth,
        )
    file.placed("cutting", "oxygen_share_percent", lambda: checked_share(share), nth)
