"""The answer as one page: one file, no script, nothing from elsewhere, fit for paper.

Gases are chosen with radio buttons; what belongs to one gas only carries the class `in-<gas>`
and is shown by one style rule while that button is on.  Every number is the same as in the JSON
answer, and every word comes from the one description in `view.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyzer.comparison import Answer
from analyzer.report.to_html_behind import behind, cautions_box, why_fold
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_html_figures import Pictures, index_of, pictures_on
from analyzer.report.to_html_found import found_lists
from analyzer.report.to_html_gases import choice, edge_key, gas_table, shows
from analyzer.report.to_html_page import page
from analyzer.report.verdict import verdict_words
from analyzer.report.view import View, view_of


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
    told = told_of(answer)
    words, pictures = told.words, pictures_on(answer)
    main = el(
        "main",
        first_words(what, words),
        choice(answer) if told.views else None,
        shows() if pictures.drawn else None,
        index_of(pictures, answer.analysis),
        looked(told, pictures),
        gas_table(answer.analysis, words),
        behind(words, told.views),
        why_fold(told.views, opened=why),
        cautions_box(words.cautions),
    )
    job = f"{words.job}. {words.summary}."
    head = el("header", el("h1", words.title), el("p", job, class_="soft small"))
    skip = el("a", "To what is found", href="#found", class_="skip")
    return page(words.title, together(skip, head, main), rules=pictures.rules,
                keys=told.keys, firsts=told.firsts)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Told:
    """The words of an answer: as advised, and under every gas.

    Attributes
    ----------
    answer : Answer
        What is known and advised.
    words : View
        As advised.
    views : dict of str to View
        Under every gas.
    prefix : str
        Put before every key, where one page holds several answers.
    """

    answer: Answer
    words: View
    views: dict[str, View]
    prefix: str = ""

    @property
    def keys(self) -> list[str]:
        """Gases as they stand in ids and style rules."""
        return [f"{self.prefix}{gas}" for gas in self.views]

    @property
    def firsts(self) -> list[str]:
        """The gas that is shown first, if there is any."""
        gas = self.answer.advice.gas
        return [f"{self.prefix}{gas}"] if gas else self.keys[:1]


def told_of(answer: Answer, prefix: str = "") -> Told:
    """Return the words of an answer, as advised and under every gas."""
    views = {
        result.gas: view_of(answer, why=True, full=True, gas=result.gas)
        for result in answer.analysis.gases
    }
    words = view_of(answer, why=True, full=True)
    words = replace(words, verdict=verdict_words(answer.analysis, answer.advice))
    return Told(answer, words, views, prefix)


def first_words(what: str, words: View) -> Raw:
    """Return the answer: which gas, how long, how much, why."""
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


def looked(told: Told, pictures: Pictures) -> Raw:
    """Return pictures and findings: side by side, or the findings first where parts are many."""
    count = len(pictures.figures)
    figures = el(
        "section", el("div", *pictures.drawn, class_="figures"),
        edge_key(told.answer.analysis, told.prefix), pictures.note, aria_label="Pictures",
    )  # fmt: skip
    found = found_lists(told.answer, told.words, told.views, pictures, told.prefix)
    if count > 2:
        return el("div", found, el("h2", "Parts"), figures, class_="looked many")
    return el("div", figures, found, class_="looked alone" if count == 1 else "looked")
