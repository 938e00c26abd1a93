"""The answer as strict JSON for other programs; the schemas stand in `docs/schemas/`.

Numbers are not rounded for reading: millimetres to 1e-6, seconds to 1e-4.  The same input
gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from analyzer.analysis import Analysis, GasResult, cost_of_one, weight_of
from analyzer.comparison import Advice, Answer
from analyzer.drawing.drawing import Account, Fact
from analyzer.headlines import Number
from analyzer.money import TERMS
from analyzer.motion.plan import Timing
from analyzer.parts.part import Part
from analyzer.report.escape import whole
from analyzer.rules.rule import Finding
from analyzer.spread import cost_band

Json = dict[str, Any]


def check_object(answer: Answer, *, why: bool = False) -> Json:
    """Return the object `burrcast.check/1`."""
    return _object("burrcast.check/1", answer, rework=False, why=why)


def compare_object(answer: Answer, *, why: bool = False) -> Json:
    """Return the object `burrcast.compare/1`: as check, with gas, electricity and hand work."""
    return _object("burrcast.compare/1", answer, rework=True, why=why)


def set_object(results: Iterable[Json], refused: Iterable[tuple[str, str]]) -> Json:
    """Return the object `burrcast.set/1` of several drawings."""
    return {
        "schema": "burrcast.set/1",
        "results": list(results),
        "refused": [{"file": whole(file), "reason": whole(reason)} for file, reason in refused],
    }


def _object(schema: str, answer: Answer, *, rework: bool, why: bool) -> Json:
    analysis, advice = answer.analysis, answer.advice
    weighed = rework and (why or analysis.shop.rates is not None)
    return {
        "schema": schema,
        "drawing": _drawing(analysis),
        "job": job_object(analysis),
        "totals": _totals(analysis),
        "parts": [_part(part, analysis) for part in analysis.parts.parts],
        "gases": [_gas(result, analysis, rework=rework, why=why) for result in analysis.gases],
        "left_out": [
            {"gas": row.gas, "reason": whole(row.reason)} for row in analysis.left_out
        ],
        "advice": _advice(advice, analysis) if weighed else choice_object(advice),
    }  # fmt: skip


# --- numbers -----------------------------------------------------------------------------


def mm(value: float) -> float:
    """A length, an area or an angle: to 1e-6, never a negative zero. [mm]"""
    return round(float(value), 6) + 0.0


def metres(value: float) -> float:
    """A length in metres, fine enough that four of them add up to 1e-6 mm. [m]"""
    return round(float(value), 12) + 0.0


def seconds(value: float) -> float:
    """A time, to 1e-4. [s]"""
    return round(float(value), 4) + 0.0


# --- the drawing and the job -------------------------------------------------------------


def _drawing(analysis: Analysis) -> Json:
    drawing = analysis.drawing
    entities = _account(drawing.account)
    entities["in_blocks"] = _account(drawing.in_blocks)
    return {
        "file": whole(drawing.file),
        "units": {"name": whole(drawing.units.name), "from": whole(drawing.units.source)},
        "entities": entities,
        "facts": [_fact(fact) for fact in analysis.facts],
    }


def _account(account: Account) -> Json:
    return {
        "total": account.total,
        "used": account.used,
        "ignored": [
            {
                "type": whole(row.type), "layer": whole(row.layer), "reason": whole(row.reason),
                "count": row.count,
            }
            for row in account.ignored
        ],
    }  # fmt: skip


def _fact(fact: Fact) -> Json:
    return {
        "kind": fact.kind,
        "message": whole(fact.message),
        "x": None if fact.x is None else mm(fact.x),
        "y": None if fact.y is None else mm(fact.y),
    }


def job_object(analysis: Analysis) -> Json:
    job = analysis.job
    return {
        "material": job.material,
        "thickness_mm": mm(job.thickness_mm),
        "power_kw": mm(job.power_kw),
        "plate": job.plate,
        "next": job.next_step,
    }


def _totals(analysis: Analysis) -> Json:
    totals = analysis.totals
    return {
        "parts": totals.parts,
        "distinct_parts": totals.distinct_parts,
        "contours": totals.contours,
        "cut_length_mm": mm(totals.cut_length),
        "mark_length_mm": mm(totals.mark_length),
        "pierces": totals.pierces,
        "area_mm2": mm(totals.area),
        "weight_kg": mm(totals.weight),
    }


def _part(part: Part, analysis: Analysis) -> Json:
    return {
        "id": part.id,
        "count": part.count,
        "other_hand_of": part.other_hand_of,
        "weight_kg": mm(weight_of(part, analysis.job)),
        "width_mm": mm(part.width),
        "height_mm": mm(part.height),
        "area_mm2": mm(part.area),
        "cut_length_mm": mm(part.cut_length),
        "pierces": part.pierces,
        "holes": [
            {
                "x": mm(hole.x), "y": mm(hole.y), "diameter_mm": mm(hole.diameter),
                "ratio": mm(hole.diameter / analysis.job.thickness_mm),
            }
            for hole in part.holes
        ],
        "corners": [
            {
                "x": mm(corner.x), "y": mm(corner.y), "angle_deg": mm(corner.angle),
                "radius_mm": mm(corner.radius),
            }
            for corner in part.corners
        ],
        "webs": [
            {"x": mm(web.x), "y": mm(web.y), "width_mm": mm(web.width)} for web in part.webs
        ],
    }  # fmt: skip


# --- the gases ---------------------------------------------------------------------------


def _gas(result: GasResult, analysis: Analysis, *, rework: bool, why: bool) -> Json:
    setting = result.setting
    gas: Json = {
        "gas": setting.gas,
        "oxygen_share_percent": mm(setting.oxygen_share_percent),
        "speed_m_per_min": mm(setting.speed_m_per_min),
        "within_power": setting.within_power,
        "edge_m_by_burr_class": [metres(value) for value in result.edge_m],
        "parts": [
            {
                "id": one.part.id,
                "time_s": timing(one.plan.timing)["total"],
                "edge_m_by_burr_class": [
                    metres(value) for value in one.edges.metres.sum(axis=0)
                ],
            }
            for one in result.evidence
        ],
        "time_s": timing(result.timing),
    }  # fmt: skip
    if result.fly_s > 0.0:
        gas["fly_cut_time_s"] = seconds(result.timing.total - result.fly_s)
    if rework:
        use = result.gas_nm3
        gas["gas_nm3"] = {name: mm(use.of(name)) for name in ("oxygen", "nitrogen", "air")}
        gas["energy_kwh"] = mm(result.energy_kwh)
        gas["rework_min"] = mm(result.rework_min)
        gas |= _cost(result, analysis)
    gas["findings"] = [finding_object(finding) for finding in result.findings]
    if why:
        gas["why"] = [number_object(number) for number in result.numbers]
    return gas


def _cost(result: GasResult, analysis: Analysis) -> Json:
    """Return the money where the shop has rates: in all, its band, its terms, one of each part."""
    spread, shop = cost_band(result, analysis.shop), analysis.shop
    if result.cost is None or spread is None or shop.rates is None:
        return {}
    each = zip(result.evidence, result.rework, strict=False)
    return {
        "cost": mm(result.cost.total),
        "cost_low": mm(spread.low),
        "cost_high": mm(spread.high),
        "currency": whole(shop.rates.currency),
        "cost_split": {name: mm(getattr(result.cost, name)) for name in TERMS},
        "cost_each": [
            {"id": one.part.id, "cost": mm(cost.total)}
            for one, work in each
            if (cost := cost_of_one(one, work, analysis.job, shop)) is not None
        ],
    }


def timing(times: Timing) -> Json:
    """Return the terms, each to 1e-4, and their sum as written. [s]"""
    terms = {name: seconds(value) for name, value in times.terms().items()}
    return {**terms, "total": seconds(sum(terms.values()))}


def finding_object(finding: Finding) -> Json:
    places = [{"x": mm(x), "y": mm(y)} for x, y in finding.places]
    return {
        "mark": finding.mark,
        "rule": finding.rule,
        "level": finding.level,
        "part": finding.part,
        "count": finding.count,
        "places": places,
        "x": places[0]["x"] if places else None,
        "y": places[0]["y"] if places else None,
        "measured": mm(finding.measured),
        "limit": mm(finding.limit),
        "unit": finding.unit,
        "message": whole(finding.message),
        "remedy": whole(finding.remedy),
    }


def number_object(number: Number) -> Json:
    return {
        "name": number.name,
        "value": float(number.value),
        "unit": number.unit,
        "formula": number.formula,
        "inputs": dict(number.inputs),
        "source": number.source,
        "sure": number.sure,
    }


def _advice(advice: Advice, analysis: Analysis) -> Json:
    """Return the advice with what it was weighed against and what would turn it."""
    rates, more = analysis.shop.rates, advice.more
    unit = whole(rates.currency) if rates else "min"
    return {
        **choice_object(advice),
        "runner_up": advice.runner_up,
        "runner_up_costs_more": more and {
            "value": mm(more.value), "low": mm(more.low), "high": mm(more.high), "unit": unit,
        },
        "proven": not (more and more.spans_zero),
        "with_runner_up": whole(advice.otherwise),
        "break_even": [
            {
                "input": point.input, "value": mm(point.value), "at": mm(point.at),
                "unit": whole(point.unit), "words": whole(point.words),
            }
            for point in advice.break_evens
        ],
    }  # fmt: skip


def choice_object(advice: Advice) -> Json:
    return {
        "gas": advice.gas,
        "reason": whole(advice.reason),
        "without_mixer": {
            "gas": advice.without_mixer.gas,
            "reason": whole(advice.without_mixer.reason),
        },
        "in_every_gas": list(advice.in_every_gas),
    }
