"""The answer about sheets as strict JSON: `burrcast.sheet/1`; the schema is in docs/schemas."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analyzer.layout.layout import Placement
from analyzer.money import TERMS, Cost
from analyzer.motion.plan import Timing
from analyzer.one_sheet import Share, SheetGas, SheetResult
from analyzer.report.escape import whole
from analyzer.report.rows import places_in_all
from analyzer.report.to_json import (
    Json,
    choice_object,
    finding_object,
    job_object,
    metres,
    mm,
    number_object,
    seconds,
    set_object,
)
from analyzer.rules.rule import LEVELS
from analyzer.sheeting import CommonLine, RefusedRow, Sheeting, SheetJob, SizeRow


def sheet_object(job: SheetJob, refused: Sequence[RefusedRow] = (), *, why: bool = False) -> Json:
    """Return the object `burrcast.sheet/1` of one material and thickness.

    Parameters
    ----------
    job : SheetJob
        The sheets of one material, thickness and plate.
    refused : sequence of RefusedRow
        Rows of the list that could not be used, where this is its only job.
    why : bool
        Whether every headline number is followed to its formula and source.
    """
    analysis, advice = job.answer.analysis, job.answer.advice
    rates = analysis.shop.rates
    out: Json = {
        "schema": "burrcast.sheet/1",
        "sheets": [_sheet(sheet, money=rates is not None) for sheet in job.sheets],
        "totals": _totals(job),
        "advice": choice_object(advice),
        "job": job_object(analysis),
        "list": whole(job.file),
        "gap_mm": mm(job.gap.value_mm),
        "margin_mm": mm(job.margin.value_mm),
        "gap_because": whole(job.gap.why),
        "margin_because": whole(job.margin.why),
        "least_sheets": job.bound,
        "unplaced": [
            {"name": whole(row.name), "count": row.count, "reason": whole(row.reason)}
            for row in job.unplaced
        ],
        "refused": [refused_object(row) for row in refused],
        "sizes": [_size(row) for row in job.sizes],
        "common_line": None if job.common is None else _common(job.common),
        "without": whole(job.without),
        "notes": [whole(note) for note in job.notes],
        "drawings": _drawings(job),
        "findings": _findings(job),
        "left_out": [{"gas": r.gas, "reason": whole(r.reason)} for r in analysis.left_out],
        "currency": None if rates is None else whole(rates.currency),
    }  # fmt: skip
    if why:
        out["why"] = [
            {"gas": result.gas, "numbers": [number_object(number) for number in result.numbers]}
            for result in analysis.gases
        ]
    return out


def sheeting_object(sheeting: Sheeting, *, why: bool = False) -> Json:
    """Return one job as `burrcast.sheet/1`, several as `burrcast.set/1`."""
    if len(sheeting.jobs) == 1:
        return sheet_object(sheeting.jobs[0], sheeting.refused, why=why)
    return sheetings_object([sheeting], (), why=why)


def sheetings_object(
    sheetings: Sequence[Sheeting], refused: Sequence[tuple[str, str]], *, why: bool = False
) -> Json:
    """Return several lists or drawings as `burrcast.set/1`; rows refused are named with them."""
    rows = [
        (row.file, f"line {row.line}: {row.reason}" if row.line else row.reason)
        for sheeting in sheetings
        for row in sheeting.refused
    ]
    jobs = [sheet_object(job, why=why) for sheeting in sheetings for job in sheeting.jobs]
    return set_object(jobs, [*rows, *refused])


def refused_object(row: RefusedRow) -> Json:
    """Return a row that could not be used."""
    return {"file": whole(row.file), "line": row.line or None, "reason": whole(row.reason)}


# --- sheets ------------------------------------------------------------------------------


def _sheet(sheet: SheetResult, *, money: bool) -> Json:
    names = [whole(name) for name in sheet.names]
    return {
        "copies": sheet.copies,
        "length_mm": mm(sheet.layout.length_mm),
        "width_mm": mm(sheet.layout.width_mm),
        "use_percent": mm(100.0 * sheet.use),
        "parts": _by_name(sheet),
        "placements": [_placement(p, names[p.part]) for p in sheet.layout.placements],
        "gases": [_gas(one, names, money=money) for one in sheet.gases],
        "number": sheet.number,
        "stock": None if sheet.stock is None else whole(sheet.stock.name),
        "outline": _outline(sheet),
        "parts_kg": mm(sheet.parts_kg),
        "sheet_kg": mm(sheet.sheet_kg),
        "unloading_min": mm(sheet.unload_min),
        "loose": mm(sheet.drops.expected),
    }


def _by_name(sheet: SheetResult) -> list[Json]:
    """Return how many of every name; rows of a list that ask for the same part add up."""
    found: dict[str, int] = {}
    for part, count in sheet.counts.items():
        name = whole(sheet.names[part])
        found[name] = found.get(name, 0) + count
    return [{"name": name, "count": count} for name, count in found.items()]


def _placement(placed: Placement, name: str) -> Json:
    return {
        "name": name,
        "x": mm(placed.x),
        "y": mm(placed.y),
        "turn_deg": mm(placed.turn_deg % 360.0),
        "mirrored": placed.mirrored,
    }


def _outline(sheet: SheetResult) -> list[Json] | None:
    """Return the edge of a left-over piece: corners, and the bulge of the side behind each."""
    edge = sheet.outline
    remnant = sheet.drawn.remnant if sheet.drawn else bool(sheet.stock and sheet.stock.outline)
    if not remnant or not len(edge):
        return None
    first = edge.take([0])
    return [
        {"x": mm(x), "y": mm(y), "bulge": round(float(bulge), 9) + 0.0}
        for (x, y), bulge in zip(first.starts.tolist(), first.bulges.tolist(), strict=True)
    ]


def _gas(one: SheetGas, names: Sequence[str], *, money: bool) -> Json:
    use = one.gas_nm3
    out: Json = {
        "gas": one.gas,
        "time_s": _time(one.timing),
        "gas_nm3": {name: mm(use.of(name)) for name in ("oxygen", "nitrogen", "air")},
        "energy_kwh": mm(one.energy_kwh),
        "rework_min": mm(one.rework_min),
    }
    if money and one.cost is not None:
        out["cost"] = mm(one.cost.total)
        out["cost_split"] = _split(one.cost)
    out["pierces"] = one.plan.pierces_count
    out["edge_m_by_burr_class"] = [metres(value) for value in one.edge_m]
    out["shares"] = [
        {
            "name": names[share.part], "count": share.count, "time_s": seconds(share.time_s),
            "cut_length_mm": mm(share.cut_mm), "rework_min": mm(share.rework_min),
        } | _share_money(share)
        for share in one.shares
    ]  # fmt: skip
    out["findings"] = [finding_object(finding) for finding in one.findings]
    return out


def _share_money(share: Share) -> Json:
    if share.cost is None or share.net_cost is None:
        return {}
    return {"cost": mm(share.cost), "cost_net": mm(share.net_cost)}


def _time(times: Timing) -> Json:
    """Return the terms, handling always among them and last, and their sum as written. [s]"""
    terms = {name: seconds(value) for name, value in times.terms().items() if name != "handling"}
    terms["handling"] = seconds(times.handling)
    return {**terms, "total": seconds(sum(terms.values()))}


def _split(cost: Cost) -> Json:
    return {name: mm(getattr(cost, name)) for name in TERMS}


# --- the job -----------------------------------------------------------------------------


def _totals(job: SheetJob) -> Json:
    analysis = job.answer.analysis
    totals = analysis.totals
    return {
        "sheets": job.count,
        "layouts": len(job.sheets),
        "parts": totals.parts,
        "distinct_parts": totals.distinct_parts,
        "use_percent": mm(100.0 * job.use),
        "parts_kg": mm(totals.weight),
        "sheets_kg": mm(sum(s.copies * s.sheet_kg for s in job.sheets)),
        "cut_length_mm": mm(totals.cut_length),
        "mark_length_mm": mm(totals.mark_length),
        "area_mm2": mm(totals.area),
        "unloading_min": mm(job.unload_min),
        "gases": [_sum(k, result, job) for k, result in enumerate(analysis.gases)],
    }


def _sum(index: int, result: Any, job: SheetJob) -> Json:
    """Return all sheets under one gas; its times are sums of the written times of the sheets."""
    terms: dict[str, float] = {}
    for sheet in job.sheets:
        for name, value in _time(sheet.gases[index].timing).items():
            terms[name] = terms.get(name, 0.0) + sheet.copies * value
    terms.pop("total", None)
    handling = terms.pop("handling", 0.0)
    written = {name: seconds(value) for name, value in terms.items()}
    written["handling"] = seconds(handling)
    use = result.gas_nm3
    out: Json = {
        "gas": result.gas,
        "time_s": {**written, "total": seconds(sum(written.values()))},
        "gas_nm3": {name: mm(use.of(name)) for name in ("oxygen", "nitrogen", "air")},
        "energy_kwh": mm(result.energy_kwh),
        "rework_min": mm(result.rework_min),
    }
    if result.cost is not None:
        out["cost"] = mm(result.cost.total)
        out["cost_split"] = _split(result.cost)
        out["cost_net"] = mm(job.net_cost(result.gas))
    out["speed_m_per_min"] = mm(result.setting.speed_m_per_min)
    out["oxygen_share_percent"] = mm(result.setting.oxygen_share_percent)
    out["within_power"] = result.setting.within_power
    out["edge_m_by_burr_class"] = [metres(value) for value in result.edge_m]
    out["places"] = {level: places_in_all(result, level) for level in reversed(LEVELS)}
    return out


def _size(row: SizeRow) -> Json:
    out: Json = {
        "name": whole(row.name), "length_mm": mm(row.length_mm), "width_mm": mm(row.width_mm),
        "sheets": row.sheets, "use_percent": mm(100.0 * row.use), "minutes": mm(row.minutes),
        "unplaced": row.left,
    }  # fmt: skip
    return out if row.cost is None else out | {"cost": mm(row.cost)}


def _common(line: CommonLine) -> Json:
    return {
        "possible": line.able, "reason": whole(line.reason), "lines": line.lines,
        "length_mm": mm(line.length_mm), "saved_min": mm(line.saved_min),
        "pierces_saved": line.pierces, "parts_at_risk": line.risky,
    }  # fmt: skip


def _drawings(job: SheetJob) -> list[Json]:
    """Return every drawing with what was read of it, and what was not cut."""
    return [
        {
            "name": whole(one.name), "file": whole(one.drawing.file), "parts": list(one.parts),
            "entities": {
                "total": one.drawing.account.total, "used": one.drawing.account.used,
                "in_blocks": one.drawing.in_blocks.total,
            },
            "units": {
                "name": whole(one.drawing.units.name), "from": whole(one.drawing.units.source)
            },
        }
        for one in job.drawings
    ]  # fmt: skip


def _findings(job: SheetJob) -> list[Json]:
    """Return, by gas, what the rules say of parts and drawings; that of sheets stands there."""
    on_sheets = {f.mark for s in job.sheets for one in s.gases for f in one.findings}
    return [
        {
            "gas": result.gas,
            "findings": [
                finding_object(finding) for finding in result.findings
                if finding.mark not in on_sheets
            ],
        }
        for result in job.answer.analysis.gases
    ]  # fmt: skip
