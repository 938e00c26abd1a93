"""Sheets as one page: what lies on each, how long it takes in every gas, what is found where.

One block a material and thickness, each with its own choice of gas.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from analyzer.reasons import money, spoken
from analyzer.report.escape import shown
from analyzer.report.sheet_words import (
    assumptions_of,
    cautions_of,
    common_words,
    job_words,
    jobs_words,
    kept_words,
    not_checked_of,
    part_names,
    verdict_of,
)
from analyzer.report.to_html import Told, first_words, told_of
from analyzer.report.to_html_behind import behind, cautions_box, why_fold
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_html_figures import Pictures, index_of, pictures_on, turns_told
from analyzer.report.to_html_found import found_lists
from analyzer.report.to_html_gases import choice, edge_key, gas_table, shows
from analyzer.report.to_html_page import page
from analyzer.report.to_html_picture import (
    SIDES,
    WIDEST,
    framed,
    marks_on,
    rules_for,
    turn_numbers,
    turns_within,
)
from analyzer.report.to_svg_sheet import (
    EACH,
    LETTER_BASE,
    SheetFigure,
    parts_on,
    sheet_figure,
    sheet_spots,
    title_of,
)
from analyzer.report.turns import MIDDLE_ON_SCREEN, NARROWEST
from analyzer.sheeting import NotPlaced, RefusedRow, Sheeting, SheetJob, SizeRow
from analyzer.units import by_hand, counted, span

SEEN = 1000.0
"""Width that marks on a sheet are placed for. [px]"""

NARROW_SHEET = 600.0
"""Its width on paper, for which they must be right as well. [px]"""

MOST_SHEETS = 40
"""Different sheets shown of one job."""


def sheet_html(sheeting: Sheeting, *, why: bool = False) -> str:
    """Return the page of a part list or a drawn sheet.

    Parameters
    ----------
    sheeting : Sheeting
        The whole answer.
    why : bool
        Whether the folds with the numbers behind start open, and so are printed.
    """
    title = shown(sheeting.path.name)
    several_jobs = len(sheeting.jobs) > 1
    blocks, rules, keys, firsts = [], [], [], []
    said: frozenset[str] = frozenset()
    cautions = cautions_box(cautions_of(sheeting))
    for number, job in enumerate(sheeting.jobs, 1):
        prefix = f"j{number}-" if several_jobs else ""
        told = _told(job, prefix)
        if number == 1:
            said = frozenset(told.words.assumptions)
        elif len(said & set(told.words.assumptions)) > 1:
            told = _without(told, said)
        end = cautions if number == len(sheeting.jobs) else None
        block, rule = _job(job, told, end, why=why, heading=number if several_jobs else 0)
        blocks.append(block)
        rules.append(rule)
        keys += told.keys
        firsts += told.firsts
    main = el("main", together(_jobs(sheeting.jobs), shows()) if several_jobs else None,
              _refused(sheeting.refused), *blocks, None if blocks else cautions)  # fmt: skip
    words = f"{jobs_words(sheeting.jobs)}."
    head = el("header", el("h1", title), el("p", words, class_="soft small"))
    return page(title, together(head, main), rules="\n".join(rules), keys=keys, firsts=firsts)


def _told(job: SheetJob, prefix: str) -> Told:
    """Return the words of a job: those of the text, under every gas."""
    told = told_of(job.answer, prefix)
    verdict, *lines = verdict_of(job)
    reasons = [line for line in lines if line not in lines[:2]]
    machine, *rest = assumptions_of(job)
    words = replace(
        told.words, verdict=verdict, minutes=". ".join(lines[:2]), money="",
        reasons=tuple(reasons), not_checked=not_checked_of(job), job=job_words(job),
        assumptions=(machine, *rest),
    )  # fmt: skip
    views = {
        gas: replace(view, assumptions=(machine, view.assumptions[1], *rest))
        for gas, view in told.views.items()
    }
    return Told(job.answer, words, views, prefix)


def _without(told: Told, said: frozenset[str]) -> Told:
    """Return the words of a job without the assumptions that stand under the first already."""

    def rest(lines: tuple[str, ...]) -> tuple[str, ...]:
        return (*(line for line in lines if line not in said), "The rest as under 1")

    views = {
        gas: replace(view, assumptions=rest(view.assumptions)) for gas, view in told.views.items()
    }
    words = replace(told.words, assumptions=rest(told.words.assumptions))
    return Told(told.answer, words, views, told.prefix)


def _job(job: SheetJob, told: Told, end: Raw | None, *, why: bool, heading: int) -> tuple[Raw, str]:
    """Return one material and thickness, and its style rules.

    `end` closes the last: only what is in one block with what is before stays with it on paper.
    """
    prefix, words, names = told.prefix, told.words, part_names(job)
    figures = [
        sheet_figure(sheet, f"{prefix}sheet{sheet.number}") for sheet in job.sheets[:MOST_SHEETS]
    ]
    elsewhere = {
        result.gas: frozenset(
            f.mark
            for figure in figures
            if (one := figure.sheet.under(result.gas)) is not None
            for f in one.findings
            if f.places
        )
        for result in job.answer.analysis.gases
    }
    parts = pictures_on(job.answer, prefix, elsewhere, beside=2, names=names)
    body = [
        el("h2", f"{heading}. {words.job}", id=f"{prefix}job") if heading
        else el("p", words.job, class_="soft small"),
        first_words("compare", words),
        choice(job.answer, prefix) if told.views else None,
        None if heading else shows(),
        el("section", *(_sheet(figure, told, names) for figure in figures), _more(job),
           aria_label="Sheets"),
        _sheet_table(job, told),
        found_lists(job.answer, words, told.views, parts, prefix),
        _parts(parts, told),
        gas_table(job.answer.analysis, words, prefix, "Gases, all sheets"),
        _otherwise(job),
        behind(words, told.views, prefix),
        why_fold(told.views, prefix, opened=why),
        end,
    ]  # fmt: skip
    rules = [parts.rules, *(rules_for(f.key, f.frame, SEEN * 2.0, SEEN) for f in figures)]
    return el("article", *body, class_="job"), "\n".join(rules)


def _sheet(figure: SheetFigure, told: Told, names: Mapping[str, str]) -> Raw:
    """Return the picture of one sheet with what every gas puts on it."""
    sheet, frame = figure.sheet, figure.frame
    over, moves, numbered = [], [], {}
    written = figure.letters(SEEN, NARROW_SHEET)
    rooms = [figure.room(width, SIDES, written) for width in (SEEN, NARROW_SHEET)]
    for one in sheet.gases:
        key = f"{told.prefix}{one.gas}"
        marks = el("g", *marks_on(frame, key, sheet_spots(one.findings), rooms, EACH),
                   class_="marks")  # fmt: skip
        middles = figure.turns(one)
        turns = turns_within(middles, frame, MIDDLE_ON_SCREEN, (NARROWEST[0], WIDEST))
        numbers = turn_numbers(turns, middles, frame)
        numbered[key] = turns.words
        over.append(el("g", marks, el("g", numbers, class_="order"), class_=f"in in-{key}"))
        moves.append(el("g", el("g", figure.moves(one), class_="order"), class_=f"in in-{key}"))
    letters = [_text(across, down, letter, "letter") for across, down, letter in written]
    title = title_of(sheet)
    picture = framed(figure.key, title, frame, together(figure.drawn(), *moves),
                     together(el("g", *letters, class_="marks"), *over))  # fmt: skip
    times = [
        el("span", f", {span(one.timing.total)} a sheet in {spoken(one.gas)}",
           class_=f"in in-{told.prefix}{one.gas}")
        for one in sheet.gases
    ]  # fmt: skip
    caption = el("figcaption", el("b", title), *times, f". {'; '.join(parts_on(sheet, names))}",
                 *turns_told(numbered))  # fmt: skip
    return el("figure", picture, caption, class_="of-sheet")


def _text(across: float, down: float, words: str, kind: str) -> Raw:
    return el("text", words, x=f"{across * 100:.2f}%", y=f"{down * 100:.2f}%", dy=LETTER_BASE,
              text_anchor="middle", class_=kind)  # fmt: skip


def _more(job: SheetJob) -> Raw | None:
    left = len(job.sheets) - MOST_SHEETS
    return el("p", f"{counted(left, 'sheet')} more, in the table only.") if left > 0 else None


def _sheet_table(job: SheetJob, told: Told) -> Raw | None:
    """Return the sheets one below the other, in the gas chosen."""
    if not job.sheets:
        return None
    priced = all(one.cost is not None for sheet in job.sheets for one in sheet.gases)
    rates = job.answer.analysis.shop.rates
    names = ["sheet", "alike", "parts", "used", "plate, kg", "time each", "gas, Nm3", "hand work"]
    names += [f"cost each, {shown(rates.currency, 8)}"] if priced and rates else []
    tables = []
    for k, gas in enumerate(told.views):
        rows = []
        for sheet in job.sheets:
            one = sheet.gases[k]
            cells = [
                str(sheet.number), str(sheet.copies), str(len(sheet.layout.placements)),
                f"{100.0 * sheet.use:.0f} %" if sheet.use > 0.0 else "-",
                f"{sheet.sheet_kg:.0f}" if sheet.sheet_kg > 0.0 else "-",
                span(one.timing.total), f"{one.gas_nm3.total_nm3:#.3g}",
                by_hand(60.0 * (one.rework_min + sheet.unload_min)),
            ]  # fmt: skip
            if priced and rates and one.cost is not None:
                cells.append(money(one.cost.total))
            head, *rest = cells
            rows.append(el("tr", el("th", head, scope="row"), *(el("td", cell) for cell in rest)))
        top = el("tr", *(el("th", name, scope="col") for name in names))
        table = el("table", el("caption", f"In {spoken(gas)}; hand work with unloading"),
                   el("thead", top), el("tbody", *rows))  # fmt: skip
        label = f"Table of sheets in {spoken(gas)}"
        tables.append(el("div", table, class_=f"wide in in-{told.prefix}{gas}", tabindex="0",
                         role="region", aria_label=label))  # fmt: skip
    return el("section", el("h2", "Sheets"), *tables)


def _parts(parts: Pictures, told: Told) -> Raw | None:
    if not parts.drawn:
        return None
    pictures = el("div", el("div", *parts.drawn, class_="figures"), class_="many")
    index = index_of(parts, told.answer.analysis, told.prefix)
    key = edge_key(told.answer.analysis, told.prefix)
    return el("section", index or el("h2", "Parts"), pictures, key, parts.note, aria_label="Parts")


# --- words -------------------------------------------------------------------------------


def _jobs(jobs: Sequence[SheetJob]) -> Raw:
    """Return one line a job, each leading to its block."""
    items = []
    for number, job in enumerate(jobs, 1):
        what = job_words(job).removeprefix(f"{shown(job.file)}: ")  # the list is the title
        link = el("a", what, href=f"#j{number}-job")
        items.append(el("li", link, f": {jobs_words([job])}. ", verdict_of(job)[0]))
    return el("section", el("ol", *items), class_="answer", aria_label="All jobs")


def _otherwise(job: SheetJob) -> Raw | None:
    """Return what could be otherwise: other sheets, common lines; distances, what is left."""
    items = [kept_words(job)[0]] if job.bound else []
    items += [common_words(job.common)] if job.common else []
    items += job.notes
    lists = [el("ul", *(el("li", shown(item, 400), class_="small") for item in items))]
    if job.unplaced:
        lists.insert(0, _unplaced(job.unplaced))
    return el("section", el("h2", "Laying out"), *lists, _sizes(job))


def _unplaced(rows: Sequence[NotPlaced]) -> Raw:
    items = [
        el("li", el("strong", f"{row.count} x {shown(row.name)} on no sheet"),
           f": {shown(row.reason, 300)}")
        for row in rows
    ]  # fmt: skip
    return el("ul", *items)


def _sizes(job: SheetJob) -> Raw | None:
    if not job.sizes:
        return None
    priced = any(row.cost is not None for row in job.sizes)
    names = ["on this sheet alone", "sheets", "used", "time", "left over"]
    names += ["cost"] if priced else []
    top = el("tr", *(el("th", name, scope="col") for name in names))
    rows = [el("tr", *_size(row, priced=priced)) for row in job.sizes]
    table = el("table", el("thead", top), el("tbody", *rows))
    return el("div", table, class_="wide", tabindex="0", role="region",
              aria_label="Other sheets")  # fmt: skip


def _size(row: SizeRow, *, priced: bool) -> list[Raw]:
    size = f"{row.length_mm:g} x {row.width_mm:g}"
    name = shown(row.name)
    cells = [
        str(row.sheets), f"{100.0 * row.use:.0f} %", span(60.0 * row.minutes),
        counted(row.left, "part") if row.left else "-",
    ]  # fmt: skip
    if priced:
        cells.append("-" if row.cost is None else money(row.cost))
    label = size if name.replace(" ", "") == size.replace(" ", "") else f"{name}, {size}"
    return [el("th", label, scope="row"), *(el("td", cell) for cell in cells)]


def _refused(rows: Sequence[RefusedRow]) -> Raw | None:
    if not rows:
        return None
    items = [
        el("li", el("strong", shown(row.file)), f", line {row.line}" if row.line else None,
           f": {shown(row.reason, 400)}")
        for row in rows
    ]  # fmt: skip
    return el("section", el("h2", "Not used"), el("ul", *items))
