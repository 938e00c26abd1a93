"""What is found, gas by gas: every finding beside its marks, which lead to the picture and back."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from analyzer.comparison import Answer
from analyzer.reasons import spoken
from analyzer.report.to_html_element import Raw, el, text, together
from analyzer.report.to_html_figures import Pictures
from analyzer.report.to_html_picture import badge
from analyzer.report.view import Line, View
from analyzer.rules.rule import Finding

OPTION = re.compile(r"--[a-z][a-z-]*")
"""How options are written; a browser ends lines after hyphens."""

MOST_BADGES = 12  # marks shown beside one finding before the rest is folded away


def found_lists(
    answer: Answer, words: View, views: Mapping[str, View], pictures: Pictures, prefix: str = ""
) -> Raw:
    """Return what is found, gas by gas; on the drawing alone where there is no gas.

    Parameters
    ----------
    answer : Answer
        What is known and advised.
    words : View
        As advised.
    views : mapping of str to View
        By gas.
    pictures : Pictures
        Of this answer; they know which marks stand on one.
    prefix : str
        Put before every key, where one page holds several answers.
    """
    if not views:
        lists = [_found(words, "", answer.analysis.on_drawing, pictures, prefix)]
    else:
        lists = [
            el("div", _found(views[result.gas], result.gas, result.findings, pictures, prefix),
               class_=f"in in-{prefix}{result.gas}")
            for result in answer.analysis.gases
        ]  # fmt: skip
    return el("section", *lists, id=f"{prefix}found", tabindex="-1", aria_label="What is found")


def _found(
    view: View, gas: str, findings: Iterable[Finding], pictures: Pictures, prefix: str
) -> Raw:
    badges = _badges(findings, pictures.marked.get(gas, frozenset()), f"{prefix}{gas}")
    where = f" in {spoken(gas)}" if gas else ""
    blocks: list[Raw] = []
    if view.change:
        quiet = view.nothing_to_change
        title = f"Nothing to change{where}. Look once" if quiet else f"Change before cutting{where}"
        blocks += [el("h2", title), _lines(view.change, badges)]
    elif view.nothing_to_change:
        blocks.append(el("h2", f"Nothing to change{where}"))
    if view.expect or view.hand_work:
        blocks.append(el("h2", f"Expect{where}"))
        blocks.append(_lines(view.expect, badges))
        blocks.append(el("p", view.hand_work) if view.hand_work else Raw(""))
    if view.repaired:
        blocks += [el("h2", "Repaired or set aside"), _lines(view.repaired, badges)]
    return together(*blocks)


def _badges(findings: Iterable[Finding], on: frozenset[int], key: str) -> dict[int, Raw]:
    """Return the badge of every mark, a link where the mark stands on a picture."""
    return {
        f.mark: badge(f.level, f.mark, key, on_picture=f.mark in on) for f in findings
    }  # fmt: skip


def _lines(lines: Iterable[Line], badges: Mapping[int, Raw]) -> Raw:
    items = []
    for line in lines:
        marks = [badges[number] for number in line.marks]
        more: Raw | None = None
        if len(marks) > MOST_BADGES:
            more = el("details", el("summary", f"{len(marks) - MOST_BADGES} more"),
                      *marks[MOST_BADGES:])  # fmt: skip
        items.append(el(
            "li", el("div", *marks[:MOST_BADGES], more, class_="marks"),
            el("div",
               el("p", el("span", line.level.upper(), class_="level"), " ", _held(line.what)),
               el("p", _held(line.remedy), class_="do") if line.remedy else None),
        ))  # fmt: skip
    return el("ol", *items, class_="findings plain") if items else Raw("")


def _held(words: str) -> Raw:
    """Return words in which no line ends within the name of an option."""
    return Raw(OPTION.sub(lambda name: f'<span class="word">{name[0]}</span>', text(words)))
