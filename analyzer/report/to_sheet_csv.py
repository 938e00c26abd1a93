"""Sheets as CSV for a spreadsheet: one row for every part of every sheet in every gas."""

from __future__ import annotations

from collections.abc import Iterator

from analyzer.one_sheet import SheetResult
from analyzer.report.manner import PLAIN, Manner
from analyzer.report.to_csv import table_csv
from analyzer.report.to_json import mm, seconds
from analyzer.sheeting import Sheeting, SheetJob

COLUMNS = (
    "name", "material", "thickness_mm", "sheet", "copies", "stock", "length_mm", "width_mm",
    "count", "gas", "advised", "time_s", "cut_length_mm", "rework_min", "cost", "sheet_time_s",
    "sheet_cost", "cost_net",
)  # fmt: skip


def sheeting_csv(sheeting: Sheeting, manner: Manner = PLAIN) -> bytes:
    """Return one row a part, sheet and gas; times and money are for one sheet."""
    rows = (row for job in sheeting.jobs for sheet in job.sheets for row in _rows(job, sheet))
    return table_csv(COLUMNS, rows, manner)


def _rows(job: SheetJob, sheet: SheetResult) -> Iterator[list[object]]:
    for one in sheet.gases:
        for share in one.shares:
            yield [
                sheet.names[share.part], job.job.material, mm(job.job.thickness_mm),
                sheet.number, sheet.copies, sheet.stock.name if sheet.stock else None,
                mm(sheet.layout.length_mm), mm(sheet.layout.width_mm), share.count, one.gas,
                one.gas == job.answer.advice.gas, seconds(share.time_s),
                mm(share.cut_mm), mm(share.rework_min),
                None if share.cost is None else mm(share.cost), seconds(one.timing.total),
                None if one.cost is None else mm(one.cost.total),
                None if share.net_cost is None else mm(share.net_cost),
            ]  # fmt: skip
