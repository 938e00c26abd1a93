"""Why a rule exists and where its limits are from; how a headline number is made."""

from __future__ import annotations

from collections.abc import Iterable

from analyzer.errors import InputError
from analyzer.headlines import HEADLINES, Headline
from analyzer.heat_headlines import HEAT
from analyzer.money import MONEY
from analyzer.report.escape import shown
from analyzer.report.line_ends import broken
from analyzer.report.wording import PAGE_LABELS
from analyzer.rules.explain import Explanation, LimitLine, explain
from analyzer.rules.limits import Limits
from analyzer.rules.registry import RULES

WIDTH = 80
NUMBERS: dict[str, Headline] = HEADLINES | HEAT | MONEY


def list_page() -> str:
    """Return all rules by group, then the headline numbers."""
    lines: list[str] = []
    for group in dict.fromkeys(rule.group for rule in RULES):
        lines += [f"Rules: {group}"]
        for rule in RULES:
            if rule.group == group:
                lines += _named(rule.name, rule.question)
        lines.append("")
    lines.append("Numbers")
    for number in NUMBERS.values():
        lines += _named(_called(number), number.what)
    return "\n".join([*lines, "", "burrcast explain NAME says why."]) + "\n"


def explain_page(name: str, limits: Limits) -> str:
    """Return why the rule or number called `name` is as it is; tables may call it otherwise.

    Raises
    ------
    InputError
        If there is neither a rule nor a number of that name; the nearest is named.
    """
    asked = "-".join(name.lower().partition(",")[0].replace("_", " ").split())
    if any(rule.name == asked for rule in RULES):
        return _rule_page(explain(asked, limits))
    number = NUMBERS.get(_named_by_page().get(asked, asked))
    if number is None:
        raise _unknown(name, asked)
    formula = number.formula or "starter law of the process tables, or your own rows"
    lines = [
        *broken(f"{_called(number)}: {number.what} [{number.unit}]", WIDTH), "",
        *_wrapped("Formula", formula),
        *_wrapped("How sure", number.sure or "+-30 % as a starter value, +-10 % from your rows"),
        *_wrapped("In your case", "burrcast check DRAWING --why shows the inputs and the source."),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _named(name: str, words: str) -> list[str]:
    return broken(words, WIDTH, first=f"  {name:<32}", rest=" " * 34)


def _called(number: Headline) -> str:
    """Return what the tables call a number, with its own name behind where that is another."""
    label = PAGE_LABELS.get(number.name, number.name)
    return label if label == number.name else f"{label} ({number.name})"


def _named_by_page() -> dict[str, str]:
    """Return the numbers by what tables and files call them, blanks as hyphens."""
    names = {name.removeprefix("cost-"): name for name in MONEY}
    names |= {label.replace(" ", "-"): name for name, label in PAGE_LABELS.items()}
    return names | {"time-each": "total"} | {name: name for name in NUMBERS}


def _unknown(name: str, asked: str) -> InputError:
    from difflib import get_close_matches

    names = _named_by_page()
    near = get_close_matches(asked, [*(rule.name for rule in RULES), *names], n=1)
    said = PAGE_LABELS.get(names.get(near[0], ""), near[0]) if near else ""
    hint = f"did you mean {said}? " if said else ""
    return InputError(
        f"no rule or number is called {shown(name, 60)!r}",
        hint=f"{hint}burrcast explain lists them all",
    )


def _rule_page(found: Explanation) -> str:
    rule = found.rule
    lines = [rule.name, f"  {rule.question}", ""]
    lines += _wrapped("Why", rule.why)
    lines += _wrapped("Remedy", rule.remedy)
    lines += _wrapped("Says", rule.example)
    named = [row.source for row in found.limits] + [row.source for row in found.constants]
    sources = list(dict.fromkeys(named))
    marks = {source: f"[{number}]" for number, source in enumerate(sources, start=1)}
    if found.limits:
        head = f"Limits on {found.measured}, {found.unit}; the first that fits is in force"
        lines += ["", *broken(head, WIDTH), *_limit_table(found.limits, marks)]
    if found.constants:
        lines += ["", "Numbers that no gas changes"]
    for number in found.constants:
        lines += _hanging(
            f"{number.name}: {number.value:g} {number.unit}, {number.what} {marks[number.source]}"
        )
    if marks:
        lines += ["", "Sources"]
    for source, mark in marks.items():
        lines += _hanging(f"{mark} {shown(source, 300)}")
    return "\n".join(lines) + "\n"


def _limit_table(limits: Iterable[LimitLine], marks: dict[str, str]) -> list[str]:
    """Mark of the source, gas, material, band of thickness and values, in columns."""
    rows = [
        (
            marks[row.source], row.gas, row.material.replace("every material", "any"),
            _narrow(row.band), ", ".join(f"{words} {value:g}" for words, value in row.values),
        )
        for row in limits
    ]  # fmt: skip
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        where = 2 + sum(width + 2 for width in widths[:-1])
        line = ("  " + "  ".join(cells)).rstrip()
        lines += broken(line, WIDTH, rest=" " * where)
    return lines


def _narrow(band: str) -> str:
    """Say "6 to 12 mm" for "above 6 up to 12 mm": the first row that fits is in force anyhow."""
    low, between, high = band.partition(" up to ")
    return f"{low.removeprefix('above ')} to {high}" if between else band


def _wrapped(label: str, text: str) -> list[str]:
    return broken(text, WIDTH, first=f"  {label + ':':<14}", rest=" " * 16)


def _hanging(text: str) -> list[str]:
    return broken(text, WIDTH, first="  ", rest="      ")
