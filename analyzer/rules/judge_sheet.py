"""Findings of a sheet under every gas: the sheet rules run, marks given."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from analyzer.rules.registry import RANK
from analyzer.rules.rule import LEVELS, Draft, Finding, Place
from analyzer.rules.sheet import margin_too_small, part_larger_than_sheet, parts_too_close
from analyzer.rules.sheet_order import sheet_crowds_heat, sheet_falls, sheet_tips
from analyzer.rules.sheet_scene import SheetCase

ON_SHEET: tuple[tuple[str, Callable[[SheetCase], Iterable[Draft]]], ...] = (
    ("parts-too-close", parts_too_close),
    ("margin-too-small", margin_too_small),
    ("part-larger-than-sheet", part_larger_than_sheet),
    ("part-falls-through", sheet_falls),
    ("part-tips", sheet_tips),
    ("crowded-heat", sheet_crowds_heat),
)
"""What is judged of a sheet; a rule of a part alone may speak of the sheet as well."""

Key = tuple[str, str | None, tuple[Place, ...]]


def judge_sheet(
    cases: Sequence[SheetCase], more: Iterable[tuple[str, Draft]] = ()
) -> tuple[tuple[Finding, ...], ...]:
    """Return the findings of one sheet under every gas, worst first.

    Parameters
    ----------
    cases : sequence of SheetCase
        The same sheet, one case a gas.
    more : iterable of (str, Draft)
        Rule and finding of what is the same under every gas: parts that fit no sheet.

    Returns
    -------
    tuple of tuple of Finding
        In the order of the cases; places are on the sheet.  The same places of one rule and
        part have the same mark under every gas; marks run from 1, the worst level first.
    """
    once = tuple(more)
    found = [
        [*once, *((rule, draft) for rule, find in ON_SHEET for draft in find(case))]
        for case in cases
    ]
    marks = _marks(found)
    return tuple(
        tuple(sorted((_finding(rule, draft, marks) for rule, draft in of_gas), key=_worst_first))
        for of_gas in found
    )


def _key(rule: str, draft: Draft) -> Key:
    return rule, draft.part, draft.places


def _marks(found: Sequence[Sequence[tuple[str, Draft]]]) -> dict[Key, int]:
    worst: dict[Key, int] = {}
    for of_gas in found:
        for rule, draft in of_gas:
            key = _key(rule, draft)
            worst[key] = max(worst.get(key, 0), LEVELS.index(draft.level))
    order = sorted(worst, key=lambda key: (-worst[key], RANK[key[0]]))
    return {key: mark for mark, key in enumerate(order, start=1)}


def _finding(rule: str, draft: Draft, marks: dict[Key, int]) -> Finding:
    return Finding(
        marks[_key(rule, draft)], rule, draft.level, draft.part, draft.count, draft.places,
        draft.measured, draft.limit, draft.unit, draft.message, draft.remedy,
    )  # fmt: skip


def _worst_first(finding: Finding) -> tuple[int, int]:
    return -LEVELS.index(finding.level), finding.mark
