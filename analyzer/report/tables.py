"""The process tables in force, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from analyzer.process.doubts import row_doubts
from analyzer.process.gas import GASES
from analyzer.process.listing import ListedRow, starter_sources
from analyzer.process.setting import Setting
from analyzer.process.tables import OwnRow
from analyzer.report.escape import shown, whole
from analyzer.report.to_text import INDENT, bullets, wrapped

LEVEL_SIGNS = {"ok": "", "caution": " c", "beyond": " x"}
LEGEND = "c with caution; x past what this power cuts; y your own table; - no speed"


def tables_page(rows: Sequence[ListedRow], own_rows: Sequence[OwnRow]) -> str:
    """Return speeds by material, thickness and gas; doubts and sources below."""
    lines: list[str] = []
    for material in dict.fromkeys(row.material for row in rows):
        mine = [row for row in rows if row.material == material]
        lines += [f"{material}, {mine[0].power_kw:g} kW: speed in m/min", *_grid(mine), ""]
    lines += [LEGEND, "Starter values are not your machine: +-30 %.", ""]
    doubts = [f"{shown(d.row.where or d.row.label)}: {d.words}" for d in row_doubts(own_rows)]
    if doubts:
        lines += ["Doubted rows", *bullets(doubts), ""]
    lines += ["Sources", *bullets(f"{name}: {source}" for name, source in starter_sources())]
    return "\n".join(lines) + "\n"


def _grid(rows: Sequence[ListedRow]) -> list[str]:
    gases = [gas for gas in GASES if any(row.gas == gas for row in rows)]
    cells = {(row.thickness_mm, row.gas): _speed(row) for row in rows}
    out = ["  " + f"{'mm':>6}" + "".join(f"{gas:>12}" for gas in gases)]
    for t in sorted({row.thickness_mm for row in rows}):
        words = "".join(f"{cells.get((t, gas), '-'):>12}" for gas in gases)
        out.append(f"  {t:>6g}{words}")
    return out


def _speed(row: ListedRow) -> str:
    if row.setting is None:
        return "-"
    own = " y" if row.setting.own_table else ""
    return f"{row.setting.speed_m_per_min:.2f}{LEVEL_SIGNS[row.setting.power_level]}{own}"


def settings_page(rows: Iterable[ListedRow]) -> str:
    """Return every value of every gas at one thickness, with its source."""
    lines: list[str] = []
    for row in rows:
        lines.append(f"{row.material} {row.thickness_mm:g} mm, {row.power_kw:g} kW, {row.gas}")
        if row.setting is None:
            lines += [*bullets([f"no speed: {shown(row.reason)}"]), ""]
            continue
        sources = dict(row.setting.sources)
        for name, value, field in _values(row.setting):
            source = f"  [{shown(sources[field], 200)}]" if field in sources else ""
            lines += wrapped(f"{name:<16}{value}{source}", INDENT, INDENT + 16)
        lines.append("")
    return "\n".join(lines[:-1]) + "\n"


def _values(setting: Setting) -> list[tuple[str, str, str]]:
    """Return name, value in words and field of all values of a setting."""
    pairs = zip(setting.factor_ratios, setting.factors, strict=True)
    return [
        ("speed", f"{setting.speed_m_per_min:.2f} m/min", "speed_mm_s"),
        ("made from", setting.speed_formula, ""),
        ("power cuts", f"{setting.power_ok:.3g} / {setting.power_caution:.3g} mm", "power_ok"),
        ("oxygen", f"{setting.oxygen_share_percent:.3g} %", "oxygen_share_percent"),
        ("kerf", f"{setting.kerf_mm:.2f} mm", "kerf_mm"),
        ("pierce", f"{setting.pierce_s:.2f} s", "pierce_s"),
        ("lead-in", f"{setting.lead_mm:g} mm", "lead_mm"),
        ("crater radius", f"{setting.crater_mm:.2f} mm", "crater_mm"),
        ("gas at the head", f"{setting.pressure_bar:.3g} bar, nozzle {setting.nozzle}",
         "pressure_bar"),
        ("gas flow", f"{setting.flow_nm3_per_h:.3g} Nm3/h while it blows", ""),
        ("small contours", " ".join(f"{r:g}:{f:g}" for r, f in pairs), "factors"),
    ]  # fmt: skip


def tables_object(rows: Iterable[ListedRow]) -> dict[str, Any]:
    """Return the object `burrcast.tables/1`."""
    return {"schema": "burrcast.tables/1", "rows": [_row(row) for row in rows]}


def _row(row: ListedRow) -> dict[str, Any]:
    setting = row.setting
    return {
        "material": row.material,
        "gas": row.gas,
        "thickness_mm": row.thickness_mm,
        "power_kw": row.power_kw,
        "speed_m_per_min": None if setting is None else round(setting.speed_m_per_min, 6),
        "own_table": setting is not None and setting.own_table,
        "power_level": None if setting is None else setting.power_level,
        "kerf_mm": None if setting is None else round(setting.kerf_mm, 6),
        "pierce_s": None if setting is None else round(setting.pierce_s, 4),
        "source": whole(row.reason if setting is None else setting.speed_source),
    }
