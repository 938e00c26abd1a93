"""Sheets as CSV for a spreadsheet: one row for every part of every sheet in every gas."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from analyzer.report.escape import shown, spreadsheet_safe
from analyzer.report.to_json import mm, seconds
from analyzer.sheeting import Sheeting, SheetJob, SheetResult

COLUMNS = (
    "name", "material", "thickness_mm", "sheet", "copies", "stock", "length_mm", "width_mm",
    "count", "gas", "advised", "time_s", "cut_length_mm", "rework_min", "cost", "sheet_time_s",
    "sheet_cost",
)  # fmt: skip


def sheeting_csv(sheeting: Sheeting) -> str:
    """Return one row a part, sheet and gas; times and money are for one sheet."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(COLUMNS)
    for job in sheeting.jobs:
        for sheet in job.sheets:
            writer.writerows(_rows(job, sheet))
    return stream.getvalue()


def _rows(job: SheetJob, sheet: SheetResult) -> Iterator[list[object]]:
    for one in sheet.gases:
        for share in one.shares:
            yield [
                _safe(sheet.names[share.part]), job.job.material, mm(job.job.thickness_mm),
                sheet.number, sheet.copies, _safe(sheet.stock.name) if sheet.stock else "",
                mm(sheet.layout.length_mm), mm(sheet.layout.width_mm), share.count, one.gas,
                "yes" if one.gas == job.answer.advice.gas else "no", seconds(share.time_s),
                mm(share.cut_mm), mm(share.rework_min),
                "" if share.cost is None else mm(share.cost), seconds(one.timing.total),
                "" if one.cost is None else mm(one.cost.total),
            ]  # fmt: skip


def _safe(text: str) -> str:
    return spreadsheet_safe(shown(text, 1000))
