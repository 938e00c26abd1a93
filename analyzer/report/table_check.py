"""The check of the shop's own tables, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from analyzer.process.checked import TableCheck
from analyzer.process.tables import RowDoubt
from analyzer.report.escape import shown, whole
from analyzer.report.to_text import bullets, wrapped
from analyzer.units import counted


def check_page(check: TableCheck, file: str) -> str:
    """Return which rows are refused and why, which to look at, and which gases have none."""
    if not check.rows:
        return f"{shown(file)}: no cutting rows of your own; starter values are used.\n"
    lines = wrapped(f"{shown(file)}: {counted(check.rows, 'row')}, {check.used:,} used.")
    lines += _block(
        "Cannot be read; other commands stop at them until they are mended",
        [f"{shown(row.where)}: {shown(row.reason, 400)}" for row in check.unreadable],
    )
    by_power = groupby(
        sorted(check.elsewhere, key=lambda row: (row.power_kw, row.material, row.gas)),
        key=lambda row: (row.power_kw, row.material, row.gas),
    )
    lines += _block(
        f"For another power than your laser's {check.power_kw:g} kW: used only if --power asks"
        if check.power_kw is not None else "",
        [f"{power:g} kW: {material}, {gas}, {counted(len(list(rows)), 'row')}"
         for (power, material, gas), rows in by_power],
    )  # fmt: skip
    lines += _block("Refused until you mend them, or write confirmed = true",
                    map(_doubt, check.refused))  # fmt: skip
    lines += _block("Confirmed by you, and used all the same", map(_doubt, check.confirmed))
    lines += _block("Used, but look once", map(_doubt, check.doubted))
    by_laser = groupby(check.missing, key=lambda row: (row.material, row.power_kw))
    lines += _block(
        "No usable rows of yours: starter values fill in",
        [f"{material}, {power:g} kW: {', '.join(row.gas for row in rows)}"
         for (material, power), rows in by_laser],
    )  # fmt: skip
    if not (check.unreadable or check.refused or check.doubted):
        lines += ["", "No row is in doubt."]
    return "\n".join(lines) + "\n"


def _block(title: str, rows: Iterable[str]) -> list[str]:
    told = bullets(rows)
    return ["", title, *told] if told else []


def _doubt(doubt: RowDoubt) -> str:
    row = doubt.row
    said = f"{doubt.words} ({doubt.measured:.3g}, {_bound(doubt)} {doubt.limit:.3g}: {doubt.unit})"
    return f"{shown(row.where)}: {row.material}, {row.gas}, {row.label}: {said}"


def _bound(doubt: RowDoubt) -> str:
    return "at least" if doubt.measured < doubt.limit else "at most"


def check_object(check: TableCheck, file: str) -> dict[str, Any]:
    """Return the object `burrcast.tables-check/1`."""
    return {
        "schema": "burrcast.tables-check/1",
        "file": whole(file),
        "rows": check.rows,
        "used": check.used,
        "unreadable": [
            {"where": whole(row.where), "reason": whole(row.reason)} for row in check.unreadable
        ],
        "refused": [_object(doubt) for doubt in check.refused],
        "confirmed": [_object(doubt) for doubt in check.confirmed],
        "doubted": [_object(doubt) for doubt in check.doubted],
        "missing": [
            {"material": row.material, "power_kw": row.power_kw, "gas": row.gas}
            for row in check.missing
        ],
        "elsewhere": [
            {
                "where": whole(row.where), "material": row.material, "gas": row.gas,
                "power_kw": row.power_kw, "thickness_mm": round(row.thickness_mm, 6),
            }
            for row in check.elsewhere
        ],
    }  # fmt: skip


def _object(doubt: RowDoubt) -> dict[str, Any]:
    row = doubt.row
    return {
        "where": whole(row.where),
        "material": row.material,
        "gas": row.gas,
        "power_kw": row.power_kw,
        "thickness_mm": round(row.thickness_mm, 6),
        "speed_m_per_min": round(row.speed_m_per_min, 6),
        "measured": round(doubt.measured, 6),
        "limit": round(doubt.limit, 6),
        "unit": doubt.unit,
        "reason": whole(doubt.words),
    }
