"""All sheets of a job as one analysis, so that the advice is made as for a single drawing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce
from operator import add

import numpy as np

from analyzer.analysis import Analysis, GasResult, weight_of
from analyzer.comparison import Advice, Answer, Choice, advise
from analyzer.geometry.contours import Contours, Ints
from analyzer.headlines import Number, Totals, numbers_of
from analyzer.money import Bill, Cost, money_numbers
from analyzer.motion.plan import Timing
from analyzer.one_sheet import SheetGas, SheetResult
from analyzer.parts.part import Part, PartSet
from analyzer.process.choose import LeftOut
from analyzer.process.flow import GasUse
from analyzer.rules.registry import rule_named
from analyzer.rules.rule import LEVELS, Draft, Finding
from analyzer.sheet_drawings import Source
from analyzer.sheet_results import Bench

AS_LAID = ("part-falls-through", "part-tips")
"""Rules of a part alone that the sheet answers better: there it lies in one way only."""


@dataclass(frozen=True, eq=False)
class JobAnalysis(Analysis):
    """An analysis whose sums are those of sheets."""

    sums: Totals | None = None

    @cached_property
    def totals(self) -> Totals:
        """Sums over all copies on all sheets."""
        if self.sums is None:
            raise ValueError("the sums of the sheets are missing")
        return self.sums


def answer_of(
    bench: Bench, sources: Sequence[Source], sheets: Sequence[SheetResult],
    left_out: tuple[LeftOut, ...], more: Sequence[tuple[str, Draft]] = (), *, mixed: bool = False,
) -> Answer:  # fmt: skip
    """Return all sheets as one analysis with its advice.

    Parameters
    ----------
    bench : Bench
        Parts, settings and their evidence.
    sources : sequence of Source
        The drawings, in the order of the bench's parts.
    sheets : sequence of SheetResult
        Their findings carry the marks of the job already.
    left_out : tuple of LeftOut
        Gases without a speed.
    more : sequence of (str, Draft)
        Rule and finding of what no sheet shows: parts larger than every sheet.
    mixed : bool
        Whether the parts have different next steps.
    """
    counts = np.zeros(len(bench.parts), dtype=np.int64)
    for sheet in sheets:
        for part, n in sheet.counts.items():
            counts[part] += n * sheet.copies
    parts = tuple(replace(part, count=int(n)) for part, n in zip(bench.parts, counts, strict=True))
    first = sources[0].analysis.parts
    everything = PartSet(
        replace(first.drawing, shared_mm=0.0), parts, Contours.empty(),
        tuple(fact for one in sources for fact in one.analysis.parts.facts),
    )  # fmt: skip
    totals = _totals(bench, sheets, counts)
    findings = job_findings(bench, sources, sheets, more)
    gases = tuple(_gas(bench, k, sheets, parts, totals, found) for k, found in enumerate(findings))
    analysis = JobAnalysis(everything, bench.job, bench.shop, gases, left_out, (), totals)
    if bench.parts and not counts.any():
        nothing = "no part is on a sheet, so there is nothing to choose for"
        return Answer(analysis, Advice(None, nothing, Choice(None, nothing), ()))
    advice = advise(analysis)
    return Answer(analysis, replace(advice, next_step="") if mixed else advice)


def _totals(bench: Bench, sheets: Sequence[SheetResult], counts: Ints) -> Totals:
    parts = bench.parts
    shared = sum(s.copies * (s.drawn.shared.total_mm + 0.0) for s in sheets if s.drawn is not None)
    skeleton = sum(
        s.copies * float(s.drawn.skeleton.length.sum()) for s in sheets if s.drawn is not None
    )
    lines = sum(s.copies * len(s.drawn.skeleton) for s in sheets if s.drawn is not None)

    def total(values: Iterable[float]) -> float:
        return float(sum(n * v for n, v in zip(counts.tolist(), values, strict=True)))

    pierces = sum(s.copies * s.gases[0].plan.pierces_count for s in sheets if s.gases)
    return Totals(
        parts=int(counts.sum()),
        distinct_parts=int((counts > 0).sum()),
        contours=int(total(len(p.contours) for p in parts)) + lines,
        cut_length=total(p.cut_length for p in parts) - shared + skeleton,
        mark_length=total(float(p.marks.length.sum()) for p in parts),
        pierces=int(pierces),
        area=total(p.area for p in parts),
        weight=total(weight_of(p, bench.job) for p in parts),
    )


def _gas(
    bench: Bench, gas: int, sheets: Sequence[SheetResult], parts: tuple[Part, ...], totals: Totals,
    findings: tuple[Finding, ...],
) -> GasResult:  # fmt: skip
    """Add up all sheets under gas number `gas`."""
    setting = bench.settings[gas]
    each = [(sheet.gases[gas], sheet.copies) for sheet in sheets]
    timing: Timing = reduce(add, (one.timing * n for one, n in each), Timing())
    metres = np.array([np.array(one.edge_m) * n for one, n in each]).reshape(-1, 4).sum(axis=0)
    none, light, medium, heavy = (float(value) for value in metres)
    use = _gas_used(each)
    energy = sum(one.energy_kwh * n for one, n in each)
    hand = sum(one.rework_min * n for one, n in each)
    weight = sum(one.bill.weight_kg * n for one, n in each)
    bill = Bill(timing, use, energy, hand, weight, totals.parts, bench.job.material)
    cost = _cost(each, bench)
    evidence = tuple(
        replace(one, part=part) for one, part in zip(bench.evidence[gas], parts, strict=True)
    )
    edge_m = (none, light, medium, heavy)
    numbers = numbers_of(setting, timing, edge_m, hand, totals, bench.job, bench.shop, use, energy)
    numbers = tuple(map(_of_sheets, numbers))
    if bench.shop.rates is not None and cost is not None:
        numbers += tuple(map(_of_sheets, money_numbers(bill, cost, bench.shop.rates)))
    return GasResult(
        material=bench.job.material, setting=setting, evidence=evidence, loose=None, timing=timing,
        edge_m=edge_m, rework=bench.rework[gas], rework_min=hand, findings=findings,
        numbers=numbers, gas_nm3=use, energy_kwh=energy, bill=bill, cost=cost,
    )  # fmt: skip


def _gas_used(each: Sequence[tuple[SheetGas, int]]) -> GasUse:
    flow = each[0][0].gas_nm3.flow_nm3_per_h if each else 0.0
    nitrogen, oxygen, air = (
        sum(one.gas_nm3.of(gas) * n for one, n in each) for gas in ("nitrogen", "oxygen", "air")
    )
    return GasUse(nitrogen, oxygen, air, flow)


def _cost(each: Sequence[tuple[SheetGas, int]], bench: Bench) -> Cost | None:
    if bench.shop.rates is None:
        return None
    total = Cost()
    for one, copies in each:
        if one.cost is not None:
            total = total + one.cost.times(copies)
    return total


_FORMULAS = {
    "total": "sum over all sheets of cut + slowed + leads + starts + pierce + traverse + marking"
    " + handling, + film, slugs and cool where there are",
    "cost-unloading": "minutes by part and sheet / 60 x labour_per_h",
    "cost-material": "weight of whole sheets x price per kg; of a drawing without sheet, of the"
    " parts; the skeleton is not credited",
    "starts": "pierces x start overhead; where a common line ends, a start without a pierce",
}


def _of_sheets(number: Number) -> Number:
    """Return a headline number as it is made on sheets."""
    return replace(number, formula=_FORMULAS.get(number.name, number.formula))


# --- findings ----------------------------------------------------------------------------


def job_findings(
    bench: Bench, sources: Sequence[Source], sheets: Sequence[SheetResult],
    more: Sequence[tuple[str, Draft]],
) -> list[tuple[Finding, ...]]:  # fmt: skip
    """Return the findings of all sheets and all drawings by gas, worst first, marks unique.

    Those of sheets keep their marks; those of parts follow, drawing by drawing.
    """
    at = max((f.mark for s in sheets for g in s.gases for f in g.findings), default=0)
    several = len(sheets) > 1
    found: list[list[Finding]] = [
        [_on_sheet(f, sheet, several=several) for sheet in sheets for f in sheet.gases[k].findings]
        for k in range(len(bench.settings))
    ]
    for rule, draft in more:
        at += 1
        for of_gas in found:
            of_gas.append(_finding(at, rule, draft))
    laid = any(sheet.counts for sheet in sheets)
    for source in sources:
        marks = 0
        for k, result in enumerate(source.analysis.gases):
            for finding in result.findings:
                marks = max(marks, finding.mark)
                if laid and finding.rule in AS_LAID:
                    continue
                kept = _of_drawing(finding, source, found[k], several=len(sources) > 1)
                if kept is not None:
                    found[k].append(replace(kept, mark=at + finding.mark))
        at += marks
    return [tuple(sorted(of_gas, key=_worst_first)) for of_gas in found]


def _of_drawing(
    finding: Finding, source: Source, known: Sequence[Finding], *, several: bool
) -> Finding | None:
    """Return a finding of a drawing as one of the job; None where it says nothing here.

    What is of the process is said once; what is of a drawing names it; a number of pieces
    in it is held against the list.
    """
    if finding.rule == "note-disagrees" and finding.unit == "off" and source.ordered:
        if round(finding.measured) == source.ordered:
            return None
        said = f"{finding.message.split(',')[0]}, the list orders {source.ordered}."
        finding = replace(finding, message=said, limit=float(source.ordered))
    if finding.part is not None:
        return finding
    if rule_named(finding.rule).group != "drawing":
        same = any(f.rule == finding.rule and f.message == finding.message for f in known)
        return None if same else finding
    return replace(finding, message=f"{source.name}: {finding.message}") if several else finding


def _on_sheet(finding: Finding, sheet: SheetResult, *, several: bool) -> Finding:
    """Return a finding of a sheet as one of the job: says which, and counts all its copies."""
    said = ""
    if several:
        cut = f", cut {sheet.copies} times" if sheet.copies > 1 else ""
        said = f"Sheet {sheet.number}{cut}: "
    elif sheet.copies > 1:
        said = f"On each of {sheet.copies} sheets: "
    return replace(
        finding, part=None, message=said + finding.message, count=finding.count * sheet.copies
    )


def _finding(mark: int, rule: str, draft: Draft) -> Finding:
    return Finding(
        mark, rule, draft.level, draft.part, draft.count, draft.places, draft.measured,
        draft.limit, draft.unit, draft.message, draft.remedy,
    )  # fmt: skip


def _worst_first(finding: Finding) -> tuple[int, int]:
    return -LEVELS.index(finding.level), finding.mark


def marked(sheets: Sequence[SheetResult]) -> tuple[SheetResult, ...]:
    """Return the sheets with marks that run on from sheet to sheet."""
    at, out = 0, []
    for sheet in sheets:
        gases = tuple(
            replace(g, findings=tuple(replace(f, mark=at + f.mark) for f in g.findings))
            for g in sheet.gases
        )
        at = max((f.mark for g in gases for f in g.findings), default=at)
        out.append(replace(sheet, gases=gases))
    return tuple(out)
