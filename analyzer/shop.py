"""The shop file `burrcast.toml`: machine, gases, own cutting rows, limits, layers.

Every key names its unit, unknown keys are refused with the nearest valid one, and what is
not there stays at its start value.  docs/process.md shows a whole file.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.job import NEXT_STEPS, PLATES
from analyzer.process.choose import check_range
from analyzer.process.gas import GASES, gas_named
from analyzer.process.machine import START_VALUES, Machine
from analyzer.process.material import material_named
from analyzer.process.recipe import checked_share
from analyzer.process.tables import OwnRow
from analyzer.process.typed import TomlFile
from analyzer.units import MM_PER_INCH

FILE_NAME = "burrcast.toml"
LAYER_ROLES = ("cut", "mark", "bend", "sheet", "frame", "ignore")
_MOST_BYTES = 1_000_000

# Key of [machine]: field of Machine, least and largest value that can be meant.
_MACHINE: dict[str, tuple[str, float, float]] = {
    "rapid_m_per_min": ("rapid_m_per_min", 1.0, 500.0),
    "rapid_acceleration_m_per_s2": ("rapid_acceleration", 0.1, 100.0),
    "cut_acceleration_m_per_s2": ("cut_acceleration", 0.1, 100.0),
    "jerk_m_per_s3": ("jerk", 1.0, 100_000.0),
    "corner_tolerance_mm": ("corner_tolerance_mm", 0.001, 1.0),
    "start_overhead_s": ("start_overhead_s", 0.0, 30.0),
    "lift_s": ("lift_s", 0.0, 10.0),
    "marking_m_per_min": ("marking_m_per_min", 0.1, 200.0),
    "x_acceleration_m_per_s2": ("x_acceleration", 0.1, 100.0),
    "y_acceleration_m_per_s2": ("y_acceleration", 0.1, 100.0),
    "x_jerk_m_per_s3": ("x_jerk", 1.0, 100_000.0),
    "y_jerk_m_per_s3": ("y_jerk", 1.0, 100_000.0),
    "hop_up_to_mm": ("hop_up_to_mm", 0.0, 10_000.0),
    "overlap_mm": ("overlap_mm", -5.0, 20.0),
    "cool_point_s": ("cool_point_s", 0.0, 10.0),
    "fly_cutting_up_to_mm": ("fly_cutting_up_to_mm", 0.0, 10.0),
    "slug_cut_from_mm": ("slug_cut_from_mm", 0.0, 10_000.0),
    "film_m_per_min": ("film_m_per_min", 0.1, 200.0),
    "pallet_change_s": ("pallet_change_s", 0.0, 3600.0),
    "slat_pitch_mm": ("slat_pitch_mm", 5.0, 500.0),
    "slat_thickness_mm": ("slat_thickness_mm", 0.0, 50.0),
    "standoff_mm": ("standoff_mm", 0.05, 20.0),
}
_SWITCHES = ("pre_pierce",)
# Keys of [[cutting]] that say the same in another unit, and the factor to ours.
_SPEED_UNITS = {
    "speed_m_per_min": 1.0,
    "speed_mm_per_s": 0.06,
    "speed_in_per_min": MM_PER_INCH / 1000.0,
}
_THICKNESS_UNITS = {"thickness_mm": 1.0, "thickness_in": MM_PER_INCH}
_KERF_UNITS = {"kerf_mm": 1.0, "kerf_in": MM_PER_INCH}
_CUTTING = (
    "material", "gas", "power_kw", *_THICKNESS_UNITS, *_SPEED_UNITS, *_KERF_UNITS,
    "pierce_s", "oxygen_share_percent", "confirmed",
)  # fmt: skip
_JOB = ("material", *_THICKNESS_UNITS, "plate", "next")


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


def load_shop(path: Path | None = None, start: Path | None = None) -> Shop:
    """Return the shop file at `path`, or the nearest `burrcast.toml` from `start` upward.

    Parameters
    ----------
    path : Path or None
        The file; must exist.
    start : Path or None
        A drawing or folder to search from, upward to the root; None searches nowhere.

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
    found = path if path is not None else _upward(start)
    return Shop() if found is None else parse_shop(_read(found), found)


def parse_shop(text: str, path: Path) -> Shop:
    """Return the shop file with content `text`; `path` is for messages.

    Raises
    ------
    InputError
        As `load_shop`.
    """
    file = TomlFile(path, text)
    content = file.content()
    file.known("", content, tuple(_SECTIONS))
    told: dict[str, Any] = {}
    for name, read in _SECTIONS.items():
        if name in content:
            told |= read(file, content[name])
    own = {row.material for row in told.get("own_rows", ())}
    if "material" in told:
        told["material"] = file.placed(
            "job", "material", lambda: material_named(told["material"], own).name
        )
    return Shop(path=path, **told)


def _upward(start: Path | None) -> Path | None:
    if start is None:
        return None
    here = start.resolve()
    folders = (here, *here.parents) if here.is_dir() else tuple(here.parents)
    return next((f / FILE_NAME for f in folders if (f / FILE_NAME).is_file()), None)


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


def _machine(file: TomlFile, value: Any) -> dict[str, Any]:
    table = file.table("machine", value)
    file.known("machine", table, ("power_kw", *_MACHINE, *_SWITCHES))
    told: dict[str, Any] = {}
    if "power_kw" in table:
        power = file.number("machine", table, "power_kw", 0.0, math.inf)
        file.placed("machine", "power_kw", lambda: check_range(1.0, power))
        told["power_kw"] = power
    fields: dict[str, Any] = {
        name: file.number("machine", table, key, low, high)
        for key, (name, low, high) in _MACHINE.items()
        if key in table
    }
    switches = {key: file.flag("machine", table, key) for key in _SWITCHES if key in table}
    return told | {"machine": Machine(**fields, **switches)}


def _gases(file: TomlFile, value: Any) -> dict[str, Any]:
    table = file.table("gases", value)
    file.known("gases", table, ("available",))
    if "available" not in table:
        return {}
    given = file.texts("gases", table, "available")
    names = {file.placed("gases", "available", partial(gas_named, gas)) for gas in given}
    if not names:
        raise file.wrong(
            "no gas is available",
            "list what the shop has, or leave the key out",
            "gases",
            "available",
        )
    return {"gases": tuple(g for g in GASES if g in names)}


def _job(file: TomlFile, value: Any) -> dict[str, Any]:
    table = file.table("job", value)
    file.known("job", table, _JOB)
    told: dict[str, Any] = {}
    if "material" in table:
        told["material"] = file.text_at("job", table, "material")  # resolved with the own rows
    unit = file.one_of_units("job", table, _THICKNESS_UNITS)
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


def _cutting(file: TomlFile, value: Any) -> dict[str, Any]:
    if not isinstance(value, list):
        raise file.wrong("cutting must be a list of rows", "write [[cutting]]", "", "cutting")
    rows: list[OwnRow] = []
    for nth, row in enumerate(value):
        made = _own_row(file, file.table("cutting", row), nth)
        same = next((r for r in rows if _place(r) == _place(made)), None)
        if same is not None:
            raise file.wrong(
                f"{made.material} in {made.gas}, {made.label}, stands there twice",
                f"keep one; the first is {same.where}",
                "cutting",
                nth=nth,
            )
        rows.append(made)
    return {"own_rows": tuple(rows)}


def _place(row: OwnRow) -> tuple[str, str, float, float]:
    return row.material, row.gas, round(row.power_kw, 6), round(row.thickness_mm, 6)


def _own_row(file: TomlFile, row: Mapping[str, Any], nth: int) -> OwnRow:
    file.known("cutting", row, _CUTTING, nth)
    speed = file.one_of_units("cutting", row, _SPEED_UNITS, nth)
    thickness = file.one_of_units("cutting", row, _THICKNESS_UNITS, nth)
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
    kerf = file.one_of_units("cutting", row, _KERF_UNITS, nth)
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
        kerf_mm=number(kerf[0], low=0.02 / kerf[1], high=3.0 / kerf[1]) * kerf[1] if kerf else None,
        pierce_s=number("pierce_s", low=0.001, high=120.0) if "pierce_s" in row else None,
        oxygen_share_percent=share,
        confirmed=file.flag("cutting", row, "confirmed", nth) if "confirmed" in row else False,
        where=file.place("cutting", nth=nth),
    )
    _check_share(file, made, nth)
    return made


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


def _limits(file: TomlFile, value: Any) -> dict[str, Any]:
    limits = file.table("limits", value)
    for rule, override in limits.items():
        if not isinstance(override, dict):
            raise file.wrong(
                f"{rule} must be a section of its own",
                f'write [limits."{rule}"]',
                "limits",
                rule,
            )
    return {"limits": limits}


def _layers(file: TomlFile, value: Any) -> dict[str, Any]:
    table = file.table("layers", value)
    file.known("layers", table, LAYER_ROLES)
    roles = tuple((role, p) for role in table for p in file.texts("layers", table, role))
    return {"layer_roles": roles}


_SECTIONS: dict[str, Callable[[TomlFile, Any], dict[str, Any]]] = {
    "machine": _machine,
    "gases": _gases,
    "cutting": _cutting,
    "job": _job,
    "limits": _limits,
    "layers": _layers,
}
