"""The answer about sheets as a page of text: sheets, minutes and gas first, then the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from analyzer.one_sheet import SheetGas, SheetResult
from analyzer.process.material import material
from analyzer.reasons import money, spoken
from analyzer.report.escape import shown
from analyzer.report.rows import (
    Row,
    nozzle_notes,
    places_words,
    price_notes,
    quantity,
    term_rows,
    why_rows,
)
from analyzer.report.sheet_words import (
    assumptions_of,
    cautions_of,
    common_words,
    hand_minutes,
    job_words,
    kept_words,
    lines_below,
    not_checked_of,
    part_names,
    sheet_size,
    verdict_of,
)
from analyzer.report.to_text import (
    INDENT,
    WIDTH,
    bullets,
    finding_lines,
    section,
    table,
    why_lines,
    wrapped,
)
from analyzer.report.wording import weight
from analyzer.sheeting import RefusedRow, Sheeting, SheetJob
from analyzer.units import by_hand, counted, span

RULE = "=" * WIDTH
MOST_ROWS = 30  # of sheets and of parts on the page; all stand in the JSON
NAME = 40  # characters of a part's name that are shown


def sheet_page(sheeting: Sheeting, *, why: bool = False) -> str:
    """Return the page of one list or drawing: every job, then what holds for all of them."""
    blocks: list[list[str]] = []
    if len(sheeting.jobs) > 1:
        blocks.append(_overview(sheeting))
    same = _in_every_job(sheeting)
    for job in sheeting.jobs:
        if len(sheeting.jobs) > 1:
            blocks.append([RULE])
        blocks += _job(job, same, why=why)
    if len(sheeting.jobs) > 1:
        blocks.append([RULE])
    blocks += [
        section("Rows left out", bullets(map(_refused, sheeting.refused))),
        section("Not checked", bullets((*map(shown, same), *_not_checked(sheeting)))),
        section("Assumptions", bullets(_each(sheeting, assumptions_of))),
        section("Take care", bullets(cautions_of(sheeting))),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _in_every_job(sheeting: Sheeting) -> tuple[str, ...]:
    """Return notes that hold for all of several jobs: said once, at the end."""
    if len(sheeting.jobs) < 2:
        return ()
    first, *others = (job.notes for job in sheeting.jobs)
    return tuple(note for note in first if all(note in notes for notes in others))


def _not_checked(sheeting: Sheeting) -> list[str]:
    """Return what nobody looked at: once what holds for all jobs, else with the job it is of."""
    each = [(_job_name(job), not_checked_of(job)) for job in sheeting.jobs]
    lines: list[str] = []
    for name, words in each:
        for line in words:
            all_alike = all(line in others for _, others in each)
            lines.append(line if all_alike else f"{name}: {line}")
    return list(dict.fromkeys(lines))


def _job_name(job: SheetJob) -> str:
    return f"{material(job.job.material).words} {job.job.thickness_mm:g} mm"


def _each(sheeting: Sheeting, of: Callable[[SheetJob], Iterable[str]]) -> list[str]:
    """Return the lines of all jobs, each once."""
    return list(dict.fromkeys(line for job in sheeting.jobs for line in of(job)))


def _refused(row: RefusedRow) -> str:
    where = f"line {row.line}: " if row.line else ""
    name = f"{shown(row.file)}: " if row.file and row.file not in row.reason else ""
    return f"{where}{name}{shown(row.reason, 400)}"


def _overview(sheeting: Sheeting) -> list[str]:
    """Return the first lines of a list with several jobs: what to cut, with what, how long."""
    jobs = sheeting.jobs
    parts = sum(job.parts for job in jobs)
    lines = wrapped(
        f"{shown(sheeting.path.name)}: {counted(parts, 'part')} on"
        f" {counted(sum(job.count for job in jobs), 'sheet')}, in {len(jobs)} jobs by material,"
        " thickness and plate"
    )
    head = ["", "gas", "sheets", "least", "parts", "use", "machine", "by hand"]
    rates = all(job.answer.analysis.shop.rates is not None for job in jobs)
    if rates:
        head.remove("use")  # 80 columns, and money says it better
        head.append(shown(_currency(jobs[0]), 8))
    rows = []
    for job in jobs:
        best = job.answer.analysis.under(job.read)
        cells = [
            spoken(job.read) if job.answer.advice.gas else "none", str(job.count),
            str(job.bound or "-"), f"{job.parts:,}", *([] if rates else [_percent(job.use)]),
            span(best.timing.total) if best else "-", by_hand(60.0 * hand_minutes(job)),
        ]  # fmt: skip
        if rates:
            cells.append(money(best.cost.total) if best and best.cost else "-")
        rows.append(Row(_job_name(job), tuple(cells)))
    rows.append(_all_jobs(jobs, rates=rates))
    lines += table(head, rows)
    left = sum(row.count for job in jobs for row in job.unplaced)
    if left:
        lines += bullets([f"{counted(left, 'part')} on no sheet: see Not placed"])
    if sheeting.refused:
        lines += bullets([f"{counted(len(sheeting.refused), 'row')} left out: see the end"])
    return lines


def _all_jobs(jobs: Sequence[SheetJob], *, rates: bool) -> Row:
    """Return the sums of the overview, every job in the gas its row names."""
    known = [best for job in jobs if (best := job.answer.analysis.under(job.read))]
    least = sum(job.bound for job in jobs)
    cells = [
        "", str(sum(job.count for job in jobs)), str(least or "-"),
        f"{sum(job.parts for job in jobs):,}", *([] if rates else [""]),
        span(sum(best.timing.total for best in known)) if known else "-",
        by_hand(60.0 * sum(map(hand_minutes, jobs))),
    ]  # fmt: skip
    if rates:
        cells.append(money(sum(best.cost.total for best in known if best.cost)))
    return Row("all", tuple(cells))


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %" if share > 0.0 else "-"


def _currency(job: SheetJob) -> str:
    rates = job.answer.analysis.shop.rates
    return rates.currency if rates else ""


# --- one job -----------------------------------------------------------------------------


def _job(job: SheetJob, same: Sequence[str], *, why: bool) -> list[list[str]]:
    verdict = verdict_of(job)
    top = wrapped(job_words(job))
    lead = wrapped(verdict[0])
    for words in verdict[1:]:
        lead += wrapped(words, INDENT)
    change, expect = lines_below(job)
    best = job.answer.analysis.under(job.read)
    nothing = best is not None and not change and job.sheets
    return [
        top,
        lead,
        section("Not placed", bullets(
            f"{row.count:,} x {shown(row.name)}: {shown(row.reason, 300)}" for row in job.unplaced
        )),
        section("Change before cutting", finding_lines(change))
        or (["Nothing to change."] if nothing else []),
        section(f"Sheets, in {spoken(job.read)}", _sheets(job)) if job.read else [],
        section("On each sheet", _lists(job)),
        section("Share of each part, all sheets", _shares(job)),
        section("Gases, all sheets", _gases(job)),
        section("Expect", finding_lines(expect)),
        section("What if", _what_if(job)),
        section(_notes_head(job), bullets(
            shown(note, 400) for note in job.notes if note not in same
        )),
        section("Why these numbers", why_lines(why_rows(best))) if why and best else [],
    ]  # fmt: skip


def _notes_head(job: SheetJob) -> str:
    """Name the notes: a list has a bound, or parts that are on no sheet."""
    return "Said of the list" if job.bound or job.unplaced else "Read from the drawing"


def _sheets(job: SheetJob) -> list[str]:
    """Return the table of sheets, what one of each takes, and what was kept free on them."""
    if not job.sheets:
        return []
    money_too = job.answer.analysis.shop.rates is not None
    head = ["no", "off", "sheet", "parts", "use", "kg", "pierces", "machine", "rework", "unload"]
    if money_too:
        head.append(shown(_currency(job), 8))
    rows = []
    for sheet in job.sheets[:MOST_ROWS]:
        one = sheet.under(job.read)
        if one is not None:
            rows.append(Row(str(sheet.number), _sheet_cells(sheet, one, money_too=money_too)))
    lines = table(head, rows)
    if len(job.sheets) > MOST_ROWS:
        more = len(job.sheets) - MOST_ROWS
        lines += bullets([f"and {more} more layouts; all stand in --format json"])
    return lines + bullets(kept_words(job))


def _sheet_cells(sheet: SheetResult, one: SheetGas, *, money_too: bool) -> tuple[str, ...]:
    cells = [
        f"{sheet.copies:,}", sheet_size(sheet) or "-", f"{len(sheet.layout.placements):,}",
        _percent(sheet.use), quantity(sheet.parts_kg), f"{one.plan.pierces_count:,}",
        span(one.timing.total), by_hand(60.0 * one.rework_min), by_hand(60.0 * sheet.unload_min),
    ]  # fmt: skip
    if money_too:
        cells.append(money(one.cost.total) if one.cost else "-")
    return tuple(cells)


def _lists(job: SheetJob) -> list[str]:
    """Return what lies on each sheet, one paragraph a sheet."""
    lines, names = [], part_names(job)
    for sheet in job.sheets[:MOST_ROWS]:
        off = f" ({sheet.copies} off)" if sheet.copies > 1 else ""
        inside = _listed((names[sheet.names[part]], count) for part, count in sheet.counts.items())
        lines += wrapped(f"{sheet.number}{off}: {inside}", INDENT, INDENT + 3)
    return lines


def _listed(rows: Iterable[tuple[str, int]]) -> str:
    found: dict[str, int] = {}
    for name, count in rows:
        found[name] = found.get(name, 0) + count
    return ", ".join(f"{count:,} x {name}" for name, count in found.items())


def _shares(job: SheetJob) -> list[str]:
    """Return what every part takes of all sheets: minutes, metres, weight, money."""
    analysis = job.answer.analysis
    sums: dict[int, list[float]] = {}
    for sheet in job.sheets:
        one = sheet.under(job.read)
        for share in one.shares if one else ():
            row = sums.setdefault(share.part, [0.0] * 6)
            values = (share.count, share.time_s, share.cut_mm, share.rework_min, share.cost or 0.0,
                      share.net_cost or 0.0)  # fmt: skip
            for k, value in enumerate(values):
                row[k] += sheet.copies * value
    if not sums:
        return []
    total = sum(row[1] for row in sums.values())
    kept = sorted(sorted(sums, key=lambda part: -sums[part][1])[:MOST_ROWS])
    money_too = analysis.shop.rates is not None
    names = part_names(job)
    head = ["part", "off", "each kg", "time each", "time all", "share", "cut m", "rework"]
    if money_too:  # beside money there is no room for all in 80 columns
        head[5:] = ["rework", f"each, {shown(_currency(job), 8)}", "net"]
    rows = []
    for part in kept:
        count, time, cut, hand, cost, net = sums[part]
        body = analysis.parts.parts[part]
        each = material(job.job.material).weight_kg(body.area, job.job.thickness_mm)
        cells = [
            f"{count:,.0f}", weight(each), span(time / count), span(time),
            *([] if money_too else [f"{100.0 * time / total:.0f} %", f"{cut / 1000.0:,.1f}"]),
            by_hand(60.0 * hand),
        ]  # fmt: skip
        if money_too:
            cells += [money(cost / count), money(net / count)]
        rows.append(Row(names[body.id], tuple(cells)))
    lines = table(head, rows)
    if money_too:
        lines += bullets(["each: all of the plate shared out by area; net: plate by its own weight,"
                          " as where the rest is kept"])  # fmt: skip
    if len(sums) > len(kept):
        lines += bullets([f"and {len(sums) - len(kept)} more; all stand in --format json"])
    return lines


def _gases(job: SheetJob) -> list[str]:
    """Return the gases side by side, all sheets."""
    gases = job.answer.analysis.gases
    if not gases or not job.sheets:
        return []

    def row(label: str, cells: Iterable[str]) -> Row:
        return Row(label, tuple(cells))

    rows = [
        row("speed, m/min", (f"{r.setting.speed_m_per_min:.2f}" for r in gases)),
        row("time", (span(r.timing.total) for r in gases)),
        *term_rows(r.timing for r in gases),
        row("rework by hand", (by_hand(60.0 * r.rework_min) for r in gases)),
        row("gas, Nm3", (quantity(r.gas_nm3.total_nm3) for r in gases)),
        row("electricity, kWh", (quantity(r.energy_kwh) for r in gases)),
    ]
    if all(r.cost is not None for r in gases):
        rows.append(row(
            f"cost, {shown(_currency(job), 8)}",
            (money(r.cost.total) if r.cost else "-" for r in gases),
        ))  # fmt: skip
    for level in ("loss", "rework"):
        rows.append(row(f"places of {level}", (places_words(r, level) for r in gases)))
    notes = [f"{r.gas} left out: {shown(r.reason)}" for r in job.answer.analysis.left_out]
    return table(("", *(r.gas for r in gases)), rows) + bullets(
        (*notes, *nozzle_notes(job.answer.analysis), *price_notes(job.answer.analysis))
    )


def _what_if(job: SheetJob) -> list[str]:
    """Return other sheets for the same order, and common lines."""
    lines: list[str] = []
    if job.sizes:
        money_too = all(row.cost is not None for row in job.sizes)
        head = ["sheet", "sheets", "use", "time"] + (
            [f"cost, {shown(_currency(job), 8)}"] if money_too else []
        )
        rows = []
        for row in job.sizes:
            cells = [str(row.sheets), _percent(row.use), span(60.0 * row.minutes)]
            if money_too:
                cells.append(money(row.cost or 0.0))
            if row.left:
                cells.append(f"{row.left} parts too many")
            rows.append(Row(shown(row.name, NAME), tuple(cells)))
        lines += table(head, rows)
        best = job.sizes[0]
        if not best.left:
            how = "cheapest" if money_too else "least plate"
            lines += bullets([f"Best for this order, {how}: {shown(best.name)}"])
    if job.common is not None:
        lines += bullets([common_words(job.common)])
    if job.without:
        lines += bullets([shown(job.without, 500)])
    return lines
