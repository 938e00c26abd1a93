"""The shop file `burrcast.toml`: machine, gases, own cutting rows, limits, layers.

Every key names its unit, unknown keys are refused with the nearest valid one, and what is
not there stays at its start value.  docs/process.md shows a whole file.  Every section is
read by a function `parse_...(file, value)` beside what it fills: it returns the fields of
`Shop` it tells.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from os.path import isfile
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.job import NEXT_STEPS, PLATES
from analyzer.packing.stock_section import NOTHING_TOLD, SheetsTold, parse_sheets
from analyzer.process.calibrated import Calibration, Told, parse_calibration
from analyzer.process.choose import check_range
from analyzer.process.hand_rates import START_RATES, HandRates, parse_rework
from analyzer.process.invest import NO_INVEST, Invest, parse_invest
from analyzer.process.machine import START_VALUES, Machine
from analyzer.process.machine_section import parse_machine
from analyzer.process.material import material_named
from analyzer.process.own_csv import parse_tables
from analyzer.process.own_rows import THICKNESS_UNITS, BadRow, parse_cutting
from analyzer.process.rates import Rates, parse_rates
from analyzer.process.supply import NO_SUPPLIES, Supplies, parse_gases
from analyzer.process.tables import OwnRow
from analyzer.process.typed import TomlFile

FILE_NAME = "burrcast.toml"
LAYER_ROLES = ("cut", "mark", "bend", "sheet", "frame", "ignore")
_MOST_BYTES = 1_000_000

_JOB = ("material", *THICKNESS_UNITS, "plate", "next")


@dataclass(frozen=True)
class Shop:
    """What the shop file says; None and empty where it says nothing.

    Attributes
    ----------
    path : Path or None
        The file; None when there is none.
    machine : Machine
        Motion and head data, start values where not told.
    power_kw : float or None
        Laser power. [kW]
    material : str or None
        Canonical name.
    thickness_mm : float or None
        Sheet thickness. [mm]
    gases : tuple of str or None
        Gases the shop has; None when not told.
    own_rows : tuple of OwnRow
        Own cutting rows.
    limits : mapping
        Rule name to its overrides, untouched.
    layer_roles : tuple of (role, layer name pattern)
        In the order written.
    next_step, plate : str or None
        As in `analyzer.job.Job`.
    supplies : Supplies
        Where the gas comes from and what it can give.
    rates : Rates or None
        What an hour, gas and electricity cost; None where not told, and minutes decide.
    rework : HandRates
        Tools and rates of the work after cutting.
    invest : Invest
        Prices of a mixer and a compressor.
    calibration : Calibration or None
        What own stop-watch times changed, already in `machine` and `rework`.
    sheets : SheetsTold
        Stock, left-over pieces, gaps, clamps and grain.
    """

    path: Path | None = None
    machine: Machine = START_VALUES
    power_kw: float | None = None
    material: str | None = None
    thickness_mm: float | None = None
    gases: tuple[str, ...] | None = None
    own_rows: tuple[OwnRow, ...] = ()
    limits: Mapping[str, Any] = field(default_factory=dict)
    layer_roles: tuple[tuple[str, str], ...] = ()
    next_step: str | None = None
    plate: str | None = None
    supplies: Supplies = NO_SUPPLIES
    rates: Rates | None = None
    rework: HandRates = START_RATES
    invest: Invest = NO_INVEST
    calibration: Calibration | None = None
    sheets: SheetsTold = NOTHING_TOLD


def load_shop(
    path: Path | str | None = None, start: Path | str | None = None, bad: list[BadRow] | None = None
) -> Shop:
    """Return the shop file at `path`, or the nearest `burrcast.toml` from `start` upward.

    Parameters
    ----------
    path : Path, str or None
        The file; must exist.
    start : Path, str or None
        A drawing or folder to search from, upward to the root; None searches nowhere.
    bad : list of BadRow, optional
        Takes cutting rows that cannot be read; without it the first of them raises.

    Returns
    -------
    Shop
        Start values, with `path` None, when no file is found.

    Raises
    ------
    InputError
        If the file is missing, unreadable, not TOML, or holds a key or a value that cannot
        be meant; the message names file, line and section.
    """
    found = Path(path) if path is not None else _upward(start)
    return Shop() if found is None else parse_shop(_read(found), found, bad)


def parse_shop(text: str, path: Path, bad: list[BadRow] | None = None) -> Shop:
    """Return the shop file with content `text`; `path` is for messages.

    Raises
    ------
    InputError
        As `load_shop`.
    """
    file = TomlFile(path, text)
    content = file.content()
    sections = (*_SECTIONS, *_ROWS, "calibration")
    for key, value in content.items():
        if key not in sections and not isinstance(value, dict | list):
            raise file.wrong(
                f"key {key!r} stands outside any section",
                "write it below a line such as [machine]", "", key,
            )  # fmt: skip
    file.known("", content, sections)
    told: dict[str, Any] = {}
    for name, read in _SECTIONS.items():
        if name in content:
            told |= read(file, content[name])
    if "cutting" in content:
        told |= parse_cutting(file, content["cutting"], bad)
    if "tables" in content:
        told["own_rows"] = parse_tables(file, content["tables"], told.get("own_rows", ()), bad)
    own = {row.material for row in told.get("own_rows", ())}
    if "material" in told:
        told["material"] = file.placed(
            "job", "material", lambda: material_named(told["material"], own).name
        )
    if "rates" in told and "supplies" in told:
        told["rates"] = replace(told["rates"], supplies=told["supplies"])
    if "calibration" in content:  # over what machine and hand work say
        times: Told = parse_calibration(file, content["calibration"])
        told |= times.applied(told.get("machine", START_VALUES), told.get("rework", START_RATES))
    return Shop(path=path, **told)


def _upward(start: Path | str | None) -> Path | None:
    if start is None:
        return None
    here = Path(start).resolve()
    folders = (here, *here.parents) if here.is_dir() else tuple(here.parents)
    # a folder that may not be searched holds no shop file of ours: the drawing will say so
    return next((f / FILE_NAME for f in folders if isfile(f / FILE_NAME)), None)


def _read(path: Path) -> str:
    try:
        size = path.stat().st_size
        if size > _MOST_BYTES:
            raise InputError(
                f"a shop file of {size:,} bytes is over the limit of {_MOST_BYTES:,}",
                where=str(path),
                hint="give the path of a burrcast.toml",
            )
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise InputError(
            "there is no such shop file", where=str(path), hint="check the path after --shop"
        ) from None
    except UnicodeDecodeError:
        raise InputError(
            "the shop file is not UTF-8 text", where=str(path), hint="save it as UTF-8"
        ) from None
    except OSError as error:
        raise InputError(
            f"the shop file cannot be read: {error.strerror}",
            where=str(path),
            hint="check the path after --shop",
        ) from None


def _job(file: TomlFile, value: Any) -> dict[str, Any]:
    table = file.table("job", value)
    file.known("job", table, _JOB)
    told: dict[str, Any] = {}
    if "material" in table:
        told["material"] = file.text_at("job", table, "material")  # resolved with the own rows
    unit = file.one_of_units("job", table, THICKNESS_UNITS)
    if unit:
        key, factor = unit
        thickness = file.number("job", table, key, 0.0, math.inf) * factor
        file.placed("job", key, lambda: check_range(thickness, 1.0))
        told["thickness_mm"] = thickness
    if "plate" in table:
        told["plate"] = file.choice("job", table, "plate", PLATES)
    if "next" in table:
        told["next_step"] = file.choice("job", table, "next", NEXT_STEPS)
    return told


def _limits(file: TomlFile, value: Any) -> dict[str, Any]:
    from analyzer.rules.limits import load_limits  # most shop files have none

    limits = file.table("limits", value)
    for rule, override in limits.items():
        if not isinstance(override, dict):
            raise file.wrong(
                f"{rule} must be a section of its own",
                f'write [limits."{rule}"]',
                "limits",
                rule,
            )
        try:
            load_limits({rule: override})
        except InputError as error:
            raise _placed_limit(file, rule, error) from None
    return {"limits": limits}


def _placed_limit(file: TomlFile, rule: str, error: InputError) -> InputError:
    """Return the same error with file, line and section; rules know only names."""
    whole = f"limits.{rule}"
    _, *keys = error.where.removeprefix(whole).split(".")
    first, last = (keys[0], keys[-1]) if keys else ("", "")
    within = ".".join((whole, *keys[:-1]))
    # a section of its own, a key of one, a key with all behind it in braces
    for place, key in ((f"{within}.{last}", ""), (within, last), (whole, first)):
        if file.line_of(place, key):
            return file.wrong(error.problem, error.hint, place, key)
    return file.wrong(error.problem, error.hint, "limits", rule)


def _layers(file: TomlFile, value: Any) -> dict[str, Any]:
    table = file.table("layers", value)
    file.known("layers", table, LAYER_ROLES)
    roles = tuple((role, p) for role in table for p in file.texts("layers", table, role))
    of: dict[str, str] = {}
    for role, pattern in roles:
        other = of.setdefault(pattern.lower(), role)
        if other != role:
            raise file.wrong(
                f"layer {pattern!r} is to be {other} and {role}", "a layer is one thing: keep one",
                "layers", role,
            )  # fmt: skip
    return {"layer_roles": roles}


_ROWS = ("cutting", "tables")
_SECTIONS: dict[str, Callable[[TomlFile, Any], dict[str, Any]]] = {
    "machine": parse_machine,
    "gases": parse_gases,
    "job": _job,
    "limits": _limits,
    "layers": _layers,
    "rates": parse_rates,
    "rework": parse_rework,
    "invest": parse_invest,
    "sheets": parse_sheets,
}
