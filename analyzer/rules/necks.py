"""Rule about necks: metal between two stretches of one contour, fingers included."""

from __future__ import annotations

from collections.abc import Iterator

from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import (
    Case,
    Features,
    Group,
    at_the_limit,
    features,
    groups,
    levels_of,
    quoted,
)
from analyzer.rules.wording import after_thin, next_half, sizes, thinner, whose
from analyzer.units import counted


def too_thin(case: Case) -> Iterator[Draft]:
    """Necks too thin for the sheet, and those thinner than 1 mm in every gas; limits as webs."""
    table, row = _necks(case), case.limit("neck-too-thin")
    if row is None or not len(table):
        return
    t = case.thickness
    ok = max(row["ok"] * t, case.scene.constant("neck-too-thin", "least_mm"))
    last = max(row["last"] * t, case.scene.constant("neck-too-thin", "least_last_mm"))
    ratios = (row["ok"] * t, row["last"] * t)
    for group in groups(table, levels_of(table.size, ok, last)):
        yield _draft(case, table, group, (ok, last), ratios, row.own)


def _necks(case: Case) -> Features:
    """Necks of all parts; size = width."""
    return features(
        [
            (p, n.row, n.x, n.y, n.width, 0.0)
            for p, part in enumerate(case.scene.parts.parts)
            for n in part.necks
        ]
    )


def _draft(
    case: Case, table: Features, group: Group, limits: tuple[float, float],
    ratios: tuple[float, float], own: bool,
) -> Draft:  # fmt: skip
    """Say one group; `limits` ok and last in mm, `ratios` those that follow the thickness."""
    ok, last = limits
    test_piece = at_the_limit(group.least, last)
    limit, just = quoted(group.level, group.least, ok, last)
    ratio = ratios[int(group.level == "loss" or just)]
    name = f"{counted(group.count, 'neck')} {sizes(group.least, group.most)} wide"
    measured, bound, unit, fact = thinner(
        group.least, limit, case.thickness, limit <= ratio * (1.0 + 1e-9),
        f"{whose(own)} limit for {case.gas_words}", just,
    )  # fmt: skip
    after = after_thin(case.gas, group.level == "loss", "bends")
    wide = next_half(ok)
    cure = f"Ask the designer for {wide}."
    if group.level == "rework":
        cure = f"Ask the designer for {wide}, or cut its two sides far apart in time."
        if test_piece:
            cure = f"Cut one test piece first; else ask the designer for {wide}."
    return Draft(
        group.level, case.scene.part_id(group.part), table.places(group.index),
        measured, bound, unit, f"{name}: {fact} {after}", cure, group.count,
    )  # fmt: skip


RULES = (
    Rule(
        name="neck-too-thin",
        group="slots and webs",
        kind="shape",
        question="Is the metal thick enough where a contour comes near itself, fingers included?",
        why=(
            "A neck or a finger is heated from both sides and has nowhere to pass the heat on. "
            "In oxygen it burns through; in the other gases it warps, and below about 1 mm it "
            "melts away."
        ),
        remedy="Widen it, or take a gas that puts less heat in.",
        example=(
            "3 necks 1.5 wide: 0.30 of thickness; our limit for oxygen is 0.35. Such metal "
            "burns through."
        ),
        asks_change=True,
        on_gas=too_thin,
    ),
)
