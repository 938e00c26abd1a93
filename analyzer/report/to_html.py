"""The answer as one page: one file, no script, nothing from elsewhere, fit for paper.

Gases are chosen with radio buttons; what belongs to one gas only carries the class `in-<gas>`
and is shown by one style rule while that button is on.  Every number is the same as in the JSON
answer, and every word comes from the one description in `view.py`.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable
from dataclasses import replace
from importlib.resources import files

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Answer
from analyzer.reasons import Key, losses, losses_in_every_gas, span, spoken
from analyzer.report.rows import Row
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_html_figures import SCREEN, Pictures, pictures_on
from analyzer.report.to_html_picture import badge, edge_sample
from analyzer.report.to_svg_marks import small_shapes
from analyzer.report.verdict import verdict_words
from analyzer.report.view import Line, View, view_of
from analyzer.report.wording import TERMS, several
from analyzer.rules.rule import LEVELS, Finding

STATES = {"": "ok", "note": "ok", "rework": "caution", "loss": "not advisable"}
WHY_COLUMNS = ("number", "value", "made from", "whose, how sure")
EDGE_WORDS = ("no burr", "wipes off", "brush or belt", "grinder")
MOST_BADGES = 12  # marks shown beside one finding before the rest is folded away


def answer_html(what: str, answer: Answer, *, why: bool = False) -> str:
    """Return the page of one drawing.

    Parameters
    ----------
    what : str
        "check" or "compare"; `compare` also says what the next best gas would change.
    answer : Answer
        What is known and advised.
    why : bool
        Whether the fold with the numbers behind the answer starts open, and so is printed.
    """
    analysis = answer.analysis
    views = {
        result.gas: view_of(answer, why=True, full=True, gas=result.gas)
        for result in analysis.gases
    }
    words = view_of(answer, why=True, full=True)
    words = replace(words, verdict=verdict_words(analysis, answer.advice))
    pictures = pictures_on(answer)
    main = el(
        "main",
        _answer(what, words),
        _choice(answer) if views else None,
        _looked(answer, words, views, pictures),
        _table(analysis, words),
        _behind(words, views),
        _why(views, opened=why),
        _cautions(words.cautions),
    )  # fmt: skip
    head = el("header", el("h1", words.title), el("p", f"{words.job}. {words.summary}.",
                                                  class_="soft small"))  # fmt: skip
    skip = el("a", "To what is found", href="#found", class_="skip")
    return page(words.title, together(skip, head, main), rules=pictures.rules,
                gases=list(views), first=answer.advice.gas)  # fmt: skip


def page(title: str, body: Raw, *, rules: str, gases: list[str], first: str | None) -> str:
    """Return a whole page: its one style, its policy, its body.

    Parameters
    ----------
    title : str
        Of the window.
    body : Raw
        What it shows.
    rules : str
        Style rules of this page alone.
    gases : list of str
        That can be chosen; `first` is shown by browsers that cannot choose.
    """
    style = f"{_style()}{_chosen(gases, first or (gases[0] if gases else None))}{rules}"
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    head = el(
        "head", el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=policy),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="color-scheme", content="light dark"),
        el("title", f"{title}, burrcast"), el("style", Raw(style)),
    )  # fmt: skip
    shapes = el("svg", small_shapes(), width="0", height="0", aria_hidden="true")
    whole = el("html", head, el("body", shapes, body), lang="en")
    return f"<!doctype html>\n{whole}\n"


def _style() -> str:
    return files("analyzer.report").joinpath("page.css").read_text(encoding="utf-8")


def _chosen(gases: Iterable[str], first: str | None) -> str:
    """Return the rules that show what belongs to the gas chosen."""
    rules = [
        f":root:has(#gas-{gas}:checked) .in-{gas}{{display:revert}}"
        f":root:has(#gas-{gas}:checked) .of-{gas}{{background:var(--chosen)}}"
        for gas in gases
    ]
    if first:
        rules.append(f"@supports not selector(:has(a)){{.in-{first}{{display:revert}}}}")
    return "\n".join(rules) + "\n"


# --- blocks ------------------------------------------------------------------------------


def _answer(what: str, words: View) -> Raw:
    reasons = [*words.reasons]
    if what == "compare" and words.otherwise:
        reasons.append(f"Otherwise: {words.otherwise}.")
    minutes = "; ".join(filter(None, (words.minutes, words.money)))
    return el(
        "section", el("p", words.verdict, class_="verdict"),
        el("p", minutes, class_="minutes") if minutes else None,
        el("ul", *(el("li", line) for line in reasons)) if reasons else None,
        class_="answer", aria_label="Answer",
    )  # fmt: skip


def _choice(answer: Answer) -> Raw:
    """Return the radio buttons, each with its gas in three lines."""
    analysis, advice = answer.analysis, answer.advice
    everywhere = losses_in_every_gas(analysis.gases)
    first = advice.gas or analysis.gases[0].gas
    cards = []
    for result in analysis.gases:
        state, reason = _state(result, everywhere)
        advised = ", advised" if result.gas == advice.gas else ""
        cards.append(el(
            "label",
            el("input", type="radio", name="gas", id=f"gas-{result.gas}", value=result.gas,
               checked=result.gas == first),
            el("b", spoken(result.gas)), el("span", f"{span(result.timing.total)}{advised}"),
            el("span", el("strong", state), f": {reason}" if reason else None),
        ))  # fmt: skip
    view = el(
        "fieldset", el("legend", "On the picture", class_="small"),
        el("label", el("input", type="radio", name="show", id="show-marks", checked=True),
           " what is found", class_="switch"),
        el("label", el("input", type="radio", name="show", id="show-order"),
           " order of cuts", class_="switch"),
        class_="shows",
    )  # fmt: skip
    return together(
        el("fieldset", el("legend", "Look at it in"), el("div", *cards, class_="gases")), view
    )


def _state(result: GasResult, everywhere: set[Key]) -> tuple[str, str]:
    """Return how far a gas can be advised, and its worst reason, of those it has alone."""
    own = losses(result.findings) - everywhere
    worst = max(
        (f for f in result.findings if f.level != "loss" or losses([f]) & own),
        key=lambda f: (LEVELS.index(f.level), f.count), default=None,
    )  # fmt: skip
    level = worst.level if worst else ""
    if worst is None or level == "note":
        return STATES[level], ""
    places = f", {several(worst.count, 'place')}" if worst.count > 1 else ""
    return STATES[level], f"{worst.rule.replace('-', ' ')}{places}"


def _looked(answer: Answer, words: View, views: dict[str, View], pictures: Pictures) -> Raw:
    """Return pictures and findings: side by side, or the findings first where parts are many."""
    count = len(pictures.figures)
    figures = el(
        "section", el("div", *pictures.drawn, class_="figures"), _edges(answer.analysis),
        pictures.note, aria_label="Pictures",
    )  # fmt: skip
    found = _findings(answer, words, views, pictures)
    if count > 2:
        return el("div", found, el("h2", "Parts"), figures, class_="looked many")
    return el("div", figures, found, class_="looked alone" if count == 1 else "looked")


def _edges(analysis: Analysis) -> Raw:
    """Return the key to the edges: a sample of every class there is, and its metres."""
    keys = []
    for result in analysis.gases:
        samples = [
            el("span", edge_sample(burr, SCREEN), f" {EDGE_WORDS[burr]} {metres:.2f} m")
            for burr, metres in enumerate(result.edge_m)
            if metres >= 0.005
        ]
        keys.append(el("p", "Edge: ", *samples, class_=f"key small in in-{result.gas}"))
    return together(*keys)


def _findings(answer: Answer, words: View, views: dict[str, View], pictures: Pictures) -> Raw:
    """Return what is found, gas by gas; on the drawing alone where there is no gas."""
    if not views:
        lists = [_found(words, "", answer.analysis.on_drawing, pictures)]
    else:
        lists = [
            el("div", _found(view, result.gas, result.findings, pictures), class_=f"in in-{gas}")
            for (gas, view), result in zip(views.items(), answer.analysis.gases, strict=True)
        ]
    return el("section", *lists, id="found", tabindex="-1", aria_label="What is found")


def _found(view: View, gas: str, findings: Iterable[Finding], pictures: Pictures) -> Raw:
    levels = {f.mark: f.level for f in findings}
    where = f" in {spoken(gas)}" if gas else ""
    blocks: list[Raw] = []
    if view.change:
        quiet = view.nothing_to_change
        title = f"Nothing to change{where}. Look once" if quiet else f"Change before cutting{where}"
        blocks += [el("h2", title), _lines(view.change, gas, levels, pictures)]
    elif view.nothing_to_change:
        blocks.append(el("h2", f"Nothing to change{where}"))
    if view.expect or view.hand_work:
        blocks.append(el("h2", f"Expect{where}"))
        blocks.append(_lines(view.expect, gas, levels, pictures))
        blocks.append(el("p", view.hand_work) if view.hand_work else Raw(""))
    return together(*blocks)


def _lines(lines: Iterable[Line], gas: str, levels: dict[int, str], pictures: Pictures) -> Raw:
    items = []
    for line in lines:
        on = pictures.marked.get(gas, frozenset())
        badges = [
            badge(levels.get(number, line.level), number, gas, on_picture=number in on)
            for number in line.marks
        ]
        more: Raw | None = None
        if len(badges) > MOST_BADGES:
            more = el("details", el("summary", f"{len(badges) - MOST_BADGES} more"),
                      *badges[MOST_BADGES:])  # fmt: skip
        items.append(el(
            "li", el("div", *badges[:MOST_BADGES], more, class_="marks"),
            el("div", el("p", el("span", line.level.upper(), class_="level"), " ", line.what),
               el("p", line.remedy, class_="do") if line.remedy else None),
        ))  # fmt: skip
    return el("ol", *items, class_="findings plain") if items else Raw("")


# --- the table of gases ------------------------------------------------------------------


def _table(analysis: Analysis, words: View) -> Raw | None:
    """Return the gases side by side, the split of the time as bars."""
    notes = [el("li", note) for note in words.gas_notes]
    heading = el("h2", "Gases, all parts")
    below = el("ul", *notes, class_="plain small") if notes else None
    if not words.gas_rows:
        return el("section", heading, below) if notes else None
    longest = max(result.timing.total for result in analysis.gases)
    head = el("tr", el("td"), *(
        el("th", spoken(gas), scope="col", class_=f"of-{gas}") for gas in words.gases
    ))  # fmt: skip
    body = [_row(row, words.gases, _seconds(row, analysis), longest) for row in words.gas_rows]
    table = el(
        "table", el("caption", "Bars: seconds, all to one scale", class_="small"),
        el("thead", head), el("tbody", *body), class_="gas-table",
    )  # fmt: skip
    return el(
        "section", heading,
        el("div", table, class_="wide", tabindex="0", role="region", aria_label="Table of gases"),
        below,
    )  # fmt: skip


def _seconds(row: Row, analysis: Analysis) -> list[float] | None:
    """Return the seconds of a row of the time split, None for other rows."""
    name = row.label.strip()
    if row.label == "time":
        return [result.timing.total for result in analysis.gases]
    if row.label.startswith("  ") and name in TERMS:
        return [float(getattr(result.timing, name)) for result in analysis.gases]
    return None


def _row(row: Row, gases: Iterable[str], seconds: list[float] | None, longest: float) -> Raw:
    cells = []
    for number, (gas, words) in enumerate(zip(gases, row.cells, strict=True)):
        bar = _bar(seconds[number], longest) if seconds and longest > 0.0 else None
        cells.append(el("td", words, bar, class_=f"of-{gas}"))
    kind = "sum" if row.label == "time" else "term" if row.label.startswith("  ") else None
    return el("tr", el("th", row.label.strip(), scope="row"), *cells, class_=kind)


def _bar(value: float, longest: float) -> Raw:
    return el(
        "svg", el("rect", width=f"{100.0 * value / longest:.3f}%", height="5"), class_="bar",
        height="5", aria_hidden="true", data_s=f"{value:.4f}",
    )  # fmt: skip


# --- what stands behind ------------------------------------------------------------------


def _behind(words: View, views: dict[str, View]) -> Raw:
    """Return the drawing's faults and account, what was not checked, what was assumed."""
    assumed = [
        el("div", _list(view.assumptions), class_=f"in in-{gas}") for gas, view in views.items()
    ]
    return el(
        "div",
        el("section", el("h2", "The drawing"), _list((words.account, *words.facts)),
           _folded(f"What was not used: {several(len(words.ignored), 'kind')}", words.ignored)),
        el("section", el("h2", "Not checked"), _list(words.not_checked))
        if words.not_checked else None,
        el("section", el("h2", "Assumed"), *(assumed or [_list(words.assumptions)])),
        class_="behind",
    )  # fmt: skip


def _list(items: Iterable[str]) -> Raw:
    return el("ul", *(el("li", item) for item in items))


def _folded(title: str, items: tuple[str, ...]) -> Raw | None:
    """Return a list; folded away where it is long."""
    if len(items) <= 6:
        return _list(items) if items else None
    return el("details", el("summary", title), _list(items))


def _why(views: dict[str, View], *, opened: bool) -> Raw | None:
    """Return the numbers behind the answer, folded away."""
    if not views:
        return None
    tables = []
    for gas, view in views.items():
        rows = [
            el("tr", el("th", row.label, scope="row"), el("td", row.cells[0]),
               el("td", row.cells[1]), el("td", row.cells[2]))
            for row in view.why
        ]  # fmt: skip
        head = el("tr", *(el("th", name, scope="col") for name in WHY_COLUMNS))
        table = el("table", el("caption", f"In {spoken(gas)}"), el("thead", head),
                   el("tbody", *rows), class_="why")  # fmt: skip
        tables.append(el("div", table, class_=f"wide in in-{gas}", tabindex="0", role="region",
                         aria_label=f"Numbers in {spoken(gas)}"))  # fmt: skip
    return el("details", el("summary", "Why these numbers"), *tables, open=opened, id="why")


def _cautions(lines: Iterable[str]) -> Raw:
    return el("section", el("h2", "Take care"), _list(lines), class_="cautions")
