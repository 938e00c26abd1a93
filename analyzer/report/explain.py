"""Why a rule exists and where its limits are from; how a headline number is made."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable

from analyzer.errors import InputError
from analyzer.report.escape import shown
from analyzer.rules.limits import Constant, Limits, RuleLimits
from analyzer.rules.registry import RULES
from analyzer.rules.rule import Rule

WIDTH = 100


def list_page() -> str:
    """Return all rules by group, then the headline numbers."""
    from analyzer.analysis import HEADLINES

    lines: list[str] = []
    for group in dict.fromkeys(rule.group for rule in RULES):
        lines += [f"Rules: {group}"]
        lines += [f"  {r.name:<32}{r.question}" for r in RULES if r.group == group]
        lines.append("")
    lines.append("Numbers")
    lines += [f"  {h.name:<32}{h.what}" for h in HEADLINES.values()]
    return "\n".join([*lines, "", "burrcast explain NAME says why."]) + "\n"


def explain_page(name: str, limits: Limits) -> str:
    """Return why the rule or number called `name` is as it is.

    Raises
    ------
    InputError
        If there is neither a rule nor a number of that name; the nearest is named.
    """
    from analyzer.analysis import HEADLINES, Headline

    rule = next((rule for rule in RULES if rule.name == name), None)
    if rule is not None:
        return _rule_page(rule, limits.rules.get(name))
    number: Headline | None = HEADLINES.get(name)
    if number is None:
        raise _unknown(name, [*(rule.name for rule in RULES), *HEADLINES])
    formula = number.formula or "starter law of the process tables, or your own rows"
    lines = [
        f"{number.name}: {number.what} [{number.unit}]", "",
        *_wrapped("Formula", formula),
        *_wrapped("How sure", number.sure or "+-30 % as a starter value, +-10 % from your rows"),
        *_wrapped("In your case", "burrcast check DRAWING --why shows the inputs and the source."),
    ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _unknown(name: str, names: Iterable[str]) -> InputError:
    from difflib import get_close_matches

    near = get_close_matches(name, list(names), n=1)
    hint = f"did you mean {near[0]}? " if near else ""
    return InputError(
        f"no rule or number is called {shown(name, 60)!r}",
        hint=f"{hint}burrcast explain lists them all",
    )


def _rule_page(rule: Rule, limits: RuleLimits | None) -> str:
    lines = [rule.name, f"  {rule.question}", ""]
    lines += _wrapped("Why", rule.why)
    lines += _wrapped("Remedy", rule.remedy)
    if rule.example:
        lines += _wrapped("Says", rule.example)
    if limits is not None:
        lines += ["", *_limit_lines(limits)]
    return "\n".join(lines) + "\n"


def _wrapped(label: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=f"  {label + ':':<14}", subsequent_indent=" " * 16,
        break_on_hyphens=False,
    )  # fmt: skip


def _limit_lines(limits: RuleLimits) -> list[str]:
    """Limits by material, band of thickness and gas, with their sources."""
    lines = []
    if limits.rows:
        lines.append(f"Limits ({limits.what}, {limits.unit}); the first row that fits holds")
        for row in limits.rows:
            values = ", ".join(f"{name} {value:g}" for name, value in row.values)
            head = f"{', '.join(row.gases)}; {row.material or 'every material'}; {row.band}"
            own = " (your shop file)" if row.own else ""
            lines += textwrap.wrap(
                f"{head}: {values}{own}  [{row.source}]", WIDTH, initial_indent="  ",
                subsequent_indent="      ", break_on_hyphens=False,
            )  # fmt: skip
    for name, constant in limits.constants.items():
        lines += _constant_lines(name, constant)
    return lines


def _constant_lines(name: str, constant: Constant) -> list[str]:
    own = " (your shop file)" if constant.own else ""
    return textwrap.wrap(
        f"{name}: {constant.value:g} {constant.unit}, {constant.what}{own}  [{constant.source}]",
        WIDTH, initial_indent="  ", subsequent_indent="      ", break_on_hyphens=False,
    )  # fmt: skip
