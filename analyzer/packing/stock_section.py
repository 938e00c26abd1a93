"""The section [sheets] of the shop file: stock, left-over pieces, gaps, clamps, grain.

[sheets]
sizes = ["3000x1500", "2500x1250:4"]     # any material; ":4" is how many there are
gap_mm = 8
margin_mm = 10
turns = "90"
grain = "x"

[[sheets.stock]]                          # of one material or thickness only
size = "2000x1000"
count = 6
material = "stainless"
thickness_mm = 3

[[sheets.stock]]
drawing = "left_over_17.dxf"              # a left-over piece of any outline
material = "mild-steel"
thickness_mm = 10

[[sheets.clamp]]
side = "bottom"
depth_mm = 30
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from analyzer.errors import InputError
from analyzer.packing.demand import GRAINS, SIDES, Clamp
from analyzer.packing.stock import LONGEST_MM, Stock
from analyzer.process.material import material_named
from analyzer.process.typed import TomlFile
from analyzer.units import parse_length

TURN_WORDS = ("0", "90", "180", "free")
MOST_COUNT = 100_000
LONGEST_EFFORT = 3600.0  # [s]
_SIZE = re.compile(r"\s*(.+?)\s*[xX×*]\s*(.+?)\s*(?::\s*(\d{1,9})\s*)?")
_KEYS = ("sizes", "gap_mm", "margin_mm", "turns", "grain", "effort_s", "stock", "clamp")
_STOCK = ("size", "drawing", "name", "count", "material", "thickness_mm")
_CLAMP = ("side", "depth_mm", "start_mm", "end_mm")


@dataclass(frozen=True)
class StockRow:
    """One kind of sheet as told.

    Attributes
    ----------
    stock : Stock or None
        None where a drawing shows it.
    drawing : Path or None
        Of a left-over piece.
    name : str
        What it is called.
    count : int or None
        How many; None: as many as needed.
    material : str or None
        Canonical name, where it is of one.
    thickness_mm : float or None
        Where it is of one. [mm]
    """

    stock: Stock | None
    drawing: Path | None = None
    name: str = ""
    count: int | None = None
    material: str | None = None
    thickness_mm: float | None = None

    def serves(self, name: str, thickness: float) -> bool:
        """Return whether it is of this material and thickness, or of any."""
        same = self.thickness_mm is None or math.isclose(self.thickness_mm, thickness, abs_tol=0.01)
        return same and self.material in (None, name)


@dataclass(frozen=True)
class SheetsTold:
    """What the shop file says of its sheets; empty and None where it says nothing."""

    rows: tuple[StockRow, ...] = ()
    gap_mm: float | None = None
    margin_mm: float | None = None
    turns: str | None = None
    grain: str | None = None
    effort_s: float | None = None
    clamps: tuple[Clamp, ...] = ()


NOTHING_TOLD = SheetsTold()


def parse_size(text: str) -> Stock:
    """Return the sheet written as "3000x1500", "3000mm x 1500mm" or "120x60in:4".

    A unit behind the width only holds for both; a bare number is in millimetres.

    Raises
    ------
    InputError
        If it is no size, or one that cannot be meant.

    Examples
    --------
    >>> parse_size("3000x1500:4").count, round(parse_size("120x60in").length_mm, 3)
    (4, 3048.0)
    """
    match = _SIZE.fullmatch(text)
    if match is None:
        raise InputError(f"{text!r} is not a sheet", hint="write it as 3000x1500 or 3000x1500:4")
    length, width, count = match[1], match[2], match[3]
    unit = re.search(r"[a-zA-Zµ\"]+$", width)
    if unit and re.fullmatch(r"[0-9.]+", length):
        length += unit[0]
    if count is not None and int(count) > MOST_COUNT:
        raise InputError(f"{int(count):,} sheets of {text!r} cannot be meant")
    name = text.split(":")[0].strip()
    return Stock(
        name, parse_length(length), parse_length(width), None if count is None else int(count)
    )


def parse_sheets(file: TomlFile, value: Any) -> dict[str, Any]:
    """Return the field `sheets` that [sheets] tells.

    Raises
    ------
    InputError
        If a key is not known or a value cannot be meant.
    """
    section = file.table("sheets", value)
    file.known("sheets", section, _KEYS)
    rows: list[StockRow] = []
    if "sizes" in section:
        for text in file.texts("sheets", section, "sizes"):
            stock = file.placed("sheets", "sizes", partial(parse_size, text))
            rows.append(StockRow(stock, None, stock.name, stock.count))
    rows += [_stock(file, row, nth) for nth, row in enumerate(_tables(file, section, "stock"))]
    clamps = [_clamp(file, row, nth) for nth, row in enumerate(_tables(file, section, "clamp"))]

    def number(key: str, low: float, high: float) -> float | None:
        return file.number("sheets", section, key, low, high) if key in section else None

    def choice(key: str, valid: tuple[str, ...]) -> str | None:
        return file.choice("sheets", section, key, valid) if key in section else None

    return {
        "sheets": SheetsTold(
            tuple(rows), number("gap_mm", 0.0, 999.0), number("margin_mm", 0.0, 999.0),
            choice("turns", TURN_WORDS), choice("grain", GRAINS),
            number("effort_s", 0.0, LONGEST_EFFORT), tuple(clamps),
        )
    }  # fmt: skip


def _tables(file: TomlFile, section: Mapping[str, Any], key: str) -> Sequence[Mapping[str, Any]]:
    rows = section.get(key, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise file.wrong(
            f"{key} is not a list of sections", f"write [[sheets.{key}]]", "sheets", key
        )
    return rows


def _stock(file: TomlFile, row: Mapping[str, Any], nth: int) -> StockRow:
    where = "sheets.stock"
    file.known(where, row, _STOCK, nth)
    if ("size" in row) == ("drawing" in row):
        raise file.wrong(
            "a sheet needs its size, a left-over piece its drawing: one of both",
            'write size = "3000x1500" or drawing = "rest.dxf"', where, "", nth,
        )  # fmt: skip
    count = None
    if "count" in row:
        value = file.number(where, row, "count", 0.0, MOST_COUNT, nth)
        if value != int(value):
            raise file.wrong(f"count = {value:g} is not whole", "count sheets", where, "count", nth)
        count = int(value)
    name = material = thickness = None
    if "name" in row:
        name = file.text_at(where, row, "name", nth)
    if "material" in row:
        told = file.text_at(where, row, "material", nth)
        material = file.placed(where, "material", lambda: material_named(told, {told}).name, nth)
    if "thickness_mm" in row:
        thickness = file.number(where, row, "thickness_mm", 0.01, 1000.0, nth)
    if "drawing" in row:
        path = file.path.parent / file.text_at(where, row, "drawing", nth)
        return StockRow(
            None, path, name or path.stem, 1 if count is None else count, material, thickness
        )
    text = file.text_at(where, row, "size", nth)
    stock = file.placed(where, "size", lambda: parse_size(text), nth)
    if count is not None and stock.count is not None:
        raise file.wrong("the size and count both say how many", "keep one", where, "count", nth)
    count = stock.count if count is None else count
    named = Stock(name or stock.name, stock.length_mm, stock.width_mm, count)
    return StockRow(named, None, named.name, count, material, thickness)


def _clamp(file: TomlFile, row: Mapping[str, Any], nth: int) -> Clamp:
    where = "sheets.clamp"
    file.known(where, row, _CLAMP, nth)
    for key in ("side", "depth_mm"):
        if key not in row:
            raise file.wrong(f"a clamp needs its {key}", f"write {key}", where, "", nth)
    sizes = {
        key: file.number(where, row, key, 0.0, LONGEST_MM, nth) for key in _CLAMP[1:] if key in row
    }
    side = file.choice(where, row, "side", SIDES)
    return file.placed(where, "depth_mm", lambda: Clamp(side, **sizes), nth)
