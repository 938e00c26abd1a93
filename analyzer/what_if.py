"""What could be otherwise: other sheets, some parts apart, common lines cut once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.comparison import advise
from analyzer.geometry.contours import Ints
from analyzer.layout.touching import SharedLines, facing_lines
from analyzer.motion.sheet import plan_sheet
from analyzer.one_sheet import SheetResult
from analyzer.packing.stock import Stock
from analyzer.reasons import listed, losses, losses_in_every_gas, spoken
from analyzer.sheet_order import Order
from analyzer.sheet_results import Bench, sheet_result
from analyzer.sheeting import CommonLine, SheetJob, SizeRow

COMMON_SIZES = (
    Stock("2000x1000", 2000.0, 1000.0),
    Stock("2500x1250", 2500.0, 1250.0),
    Stock("3000x1500", 3000.0, 1500.0),
    Stock("4000x2000", 4000.0, 2000.0),
)
"""Looked at where nobody says what sheets there are (common practice, no source)."""

SHARE_OF_EFFORT = 0.2  # of the effort for the order that another size gets [-]
MOST_SIZES = 6
MOST_PARTS = 2000  # an order larger than this is laid on its own sheets only

FEW = 0.34  # parts that decide the gas for the others are named up to this share [-]
MOST_TRIALS = 4  # of them looked at one by one

# Common-line cutting: trade practice, no source.
THICKEST = {"oxygen": 20.0}
THICKEST_ELSE = 12.0  # [mm]
PUSHED = 5.0  # edges no farther apart than the gap and this could be pushed together [mm]
LEAST_EDGE = 30.0  # shorter common edges are not worth it [mm]
RISKY = 0.3  # parts that tip or fall more often are not cut that way [-]


def size_rows(job: SheetJob, bench: Bench, order: Order) -> tuple[SizeRow, ...]:
    """Return what every size of sheet would need for the whole order, the best first.

    Best is the cheapest where there are rates, else the one that uses least plate; sizes
    that leave parts over come last.
    """
    sizes = _sizes(order)
    parts = sum(demand.quantity for demand in order.demands)
    if len(sizes) < 2 or parts > MOST_PARTS or job.read == "":
        return ()
    gas = next(k for k, s in enumerate(bench.settings) if s.gas == job.read)
    rows = [row for stock in sizes if (row := _size_row(stock, job, bench, order, gas))]
    return tuple(sorted(rows, key=lambda row: (row.left, _worth(row), row.sheets, row.name)))


def _worth(row: SizeRow) -> float:
    plate = row.sheets * row.length_mm * row.width_mm
    return plate if row.cost is None else row.cost


def _sizes(order: Order) -> list[Stock]:
    """Whole sheets to compare, each once and as many as needed."""
    stock = order.stock if order.told else COMMON_SIZES
    known: dict[tuple[float, float], Stock] = {}
    for one in stock:
        if one.outline is None:
            known.setdefault((one.length_mm, one.width_mm), replace(one, count=None))
    return list(known.values())[:MOST_SIZES]


def _size_row(stock: Stock, job: SheetJob, bench: Bench, order: Order, gas: int) -> SizeRow | None:
    """Lay the order on one size; what lies on that size alone already is not laid again."""
    alone = len(order.stock) == 1 and order.stock[0].count is None
    same = (stock.length_mm, stock.width_mm) == (
        order.stock[0].length_mm, order.stock[0].width_mm
    )  # fmt: skip
    if alone and same and order.stock[0].outline is None:
        each = [(s, s.gases[gas], s.copies) for s in job.sheets]
        left = sum(row.count for row in job.unplaced)
    else:
        packing = order.packed((stock,), order.effort_s * SHARE_OF_EFFORT)
        one_gas = replace(
            bench, settings=bench.settings[gas : gas + 1], evidence=bench.evidence[gas : gas + 1],
            rework=bench.rework[gas : gas + 1],
        )  # fmt: skip
        laid = [
            sheet_result(k, one.layout, one.copies, one_gas, stock=stock, judged=False)
            for k, one in enumerate(packing.sheets, start=1)
        ]
        each = [(s, s.gases[0], s.copies) for s in laid]
        left = sum(row.count for row in packing.unplaced)
    if not each:
        return None
    sheets = sum(n for _, _, n in each)
    net = sum(s.net_mm2 * n for s, _, n in each)
    costs = [one.cost.total * n for _, one, n in each if one.cost is not None]
    return SizeRow(
        stock.name, stock.length_mm, stock.width_mm, sheets,
        net / (sheets * stock.length_mm * stock.width_mm),
        sum(one.timing.total * n for _, one, n in each) / 60.0,
        sum(costs) if costs else None, left,
    )  # fmt: skip


# --- a few parts decide for all ----------------------------------------------------------


def without_some(job: SheetJob) -> str:
    """Say which parts alone keep another gas away from all the others; empty where none do."""
    analysis, advice = job.answer.analysis, job.answer.advice
    if advice.gas is None or len(analysis.parts.parts) < 2:
        return ""
    counts = {part.id: part.count for part in analysis.parts.parts}
    everywhere = losses_in_every_gas(analysis.gases)
    own = {
        part
        for result in analysis.gases
        for _, part, _ in losses(result.findings) - everywhere
        if part in counts
    }
    some = sorted(own, key=lambda part: (counts[part], part))
    trials = [{part} for part in some[:MOST_TRIALS]] + [set(some)] * (len(some) > 1)
    for out in trials:
        few = sum(counts[part] for part in out)
        if not 0 < few <= FEW * sum(counts.values()):
            continue
        gases = tuple(
            replace(r, findings=tuple(f for f in r.findings if f.part not in out))
            for r in analysis.gases
        )
        other = advise(replace(analysis, gases=gases))
        if other.gas not in (None, advice.gas):
            return (
                f"Without {listed(sorted(out))} ({few} of {sum(counts.values())} parts)"
                f" {spoken(other.gas or '')} for the others: {other.reason}"
            )
    return ""


# --- common lines ------------------------------------------------------------------------


def common_line(job: SheetJob, bench: Bench) -> CommonLine | None:
    """Return what cutting facing straight edges as one would change in the gas advised.

    The layout stays as it is: the saving is that of edges that face each other across the
    gap already, as if the parts were pushed together.
    """
    gas = next((k for k, s in enumerate(bench.settings) if s.gas == job.read), None)
    if gas is None or not job.sheets:
        return None
    setting, t = bench.settings[gas], bench.job.thickness_mm
    thickest = THICKEST.get(setting.gas, THICKEST_ELSE)
    if t > thickest:
        return CommonLine(False, f"not above {thickest:g} mm in {spoken(setting.gas)}")
    if bench.job.next_step == "visible" or "visible" in job.steps:
        return CommonLine(False, "not for visible edges: the kerf takes from both parts")
    total = CommonLine(True, "")
    for sheet in job.sheets:
        total = _added(total, sheet, _on_sheet(sheet, bench, gas, job.gap.value_mm))
    if total.lines:
        return total
    if total.risky:
        return CommonLine(
            False, "every part with facing edges tips or falls more often than 3 in 10 once free",
            risky=total.risky,
        )  # fmt: skip
    return CommonLine(False, "no straight edges of two parts face each other")


def _added(total: CommonLine, sheet: SheetResult, one: CommonLine) -> CommonLine:
    n = sheet.copies
    return replace(
        total, lines=total.lines + n * one.lines, length_mm=total.length_mm + n * one.length_mm,
        saved_min=total.saved_min + n * one.saved_min, pierces=total.pierces + n * one.pierces,
        risky=total.risky + n * one.risky,
    )  # fmt: skip


def _on_sheet(sheet: SheetResult, bench: Bench, gas: int, gap: float) -> CommonLine:
    nothing = CommonLine(True, "")
    facing = facing_lines(sheet.layout.outlines(), gap + PUSHED, LEAST_EDGE)
    already = np.hypot(*facing.across.T) == 0.0  # drawn as common lines: cut once anyway
    unstable = sheet.drops.unstable
    wobbly = unstable[facing.copies] > RISKY
    risky = np.unique(facing.copies[wobbly & ~already[:, None]])
    more = ~wobbly.any(axis=1) & ~already
    new = _taken(facing, np.flatnonzero(more))
    if not len(new):
        return replace(nothing, risky=len(risky))
    setting, machine, drawn = bench.settings[gas], bench.shop.machine, sheet.drawn
    plan = plan_sheet(
        sheet.layout, setting, machine, bench.job.thickness_mm, plate=bench.job.plate,
        common=SharedLines.joined([drawn.shared, new] if drawn else [new]),
        skeleton=drawn.skeleton if drawn else None, edge=sheet.outline, made=bench.plans(gas),
    )  # fmt: skip
    before = sheet.gases[gas].plan
    saved = before.timing.total - plan.timing.total
    return CommonLine(
        True, "", len(new), new.total_mm, saved / 60.0,
        before.pierces_count - plan.pierces_count, len(risky),
    )  # fmt: skip


def _taken(lines: SharedLines, rows: Ints) -> SharedLines:
    return SharedLines(
        lines.copies[rows], lines.starts[rows], lines.ends[rows], lines.lengths[rows],
        lines.bulges[rows], lines.across[rows],
    )  # fmt: skip
