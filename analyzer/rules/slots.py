"""Rules about slots and webs: too narrow for the sheet, filled by the kerf, too thin."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.geometry.contours import Ints
from analyzer.rules.limits import Row
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import NOTHING, Case, Group, at_the_limit, groups, levels_of, quoted
from analyzer.rules.wording import (
    after_thin,
    against,
    next_half,
    size,
    sizes,
    stated,
    thinner,
    whose,
)
from analyzer.units import counted

TOUCH = 0.005  # a web thinner than the page shows is none [mm]


def slot_levels(case: Case) -> Ints:
    """Return the level of every slot in `slot-too-narrow`, shape (n,)."""
    slots, row = case.scene.slots, case.limit("slot-too-narrow")
    if row is None or not len(slots):
        return np.zeros(len(slots), dtype=np.int64)
    return levels_of(slots.size / case.thickness, row["ok"], row["last"])


def kerf_levels(case: Case) -> Ints:
    """Return the level of every slot in `kerf-fills-feature`, shape (n,)."""
    slots, row = case.scene.slots, case.limit("kerf-fills-feature")
    if row is None or not len(slots):
        return np.zeros(len(slots), dtype=np.int64)
    return levels_of(slots.size / case.setting.kerf_mm, row["ok"], row["last"])


def too_narrow(case: Case) -> Iterator[Draft]:
    """Slots too narrow for the sheet; those the kerf fills are said there."""
    slots, row = case.scene.slots, case.limit("slot-too-narrow")
    if row is None:
        return
    levels = np.where(kerf_levels(case) > NOTHING, NOTHING, slot_levels(case))
    for group in groups(slots, levels):
        fact, test_piece = _against(case, row, group, row["ok"], row["last"])
        wide = next_half(row["ok"] * case.thickness)
        after = "Burr below, the strip sticks."
        cure = f"Expect to clean up by hand; from {wide} on it cuts clean."
        if group.level == "loss":
            they = "They" if group.count > 1 else "It"
            after = f"{they} would burn or close up."
            cure = f"Ask the designer for {wide}, or mill it."
        elif test_piece:
            cure = f"Cut one test piece first; else ask the designer for {wide}."
        name = f"{counted(group.count, 'slot')} {sizes(group.least, group.most)} wide"
        yield Draft(
            group.level, case.scene.part_id(group.part), slots.places(group.index),
            group.least / case.thickness, fact[1], "of thickness",
            f"{name}: {fact[0]} {after}", cure, group.count,
        )  # fmt: skip


def _against(
    case: Case, row: Row, group: Group, ok: float, last: float
) -> tuple[tuple[str, float], bool]:
    """Return the sentence with the limit, that limit, and whether to cut a test piece."""
    measured = group.least / case.thickness
    test_piece = at_the_limit(measured, last)
    limit, just = quoted(group.level, measured, ok, last)
    said, bound = against(measured, limit)
    which = f"{whose(row.own)} limit for {case.gas_words}"
    against_it = stated(which, bound, "below" if just else "")
    return (f"{said} of thickness{against_it}", limit), test_piece


def kerf_fills(case: Case) -> Iterator[Draft]:
    """Slots narrower than two kerfs."""
    slots, row = case.scene.slots, case.limit("kerf-fills-feature")
    if row is None:
        return
    kerf = case.setting.kerf_mm
    for group in groups(slots, kerf_levels(case)):
        single = group.least <= kerf
        name = f"{counted(group.count, 'slot')} {sizes(group.least, group.most)} wide"
        after = (
            "One cut line is wider than that."
            if single
            else "The strip between both cuts burns or falls into the kerf."
        )
        yield Draft(
            group.level, case.scene.part_id(group.part), slots.places(group.index),
            group.least / kerf, row["last"], "kerf widths",
            f"{name}: the kerf in {case.gas_words} is {size(kerf)} mm. {after}",
            f"Draw one open line instead, or ask the designer for {next_half(2.0 * kerf)} or more.",
            group.count,
        )  # fmt: skip


def too_thin(case: Case) -> Iterator[Draft]:
    """Webs too thin for the sheet, and those thinner than 1 mm in every gas."""
    webs, row = case.scene.webs, case.limit("web-too-thin")
    if row is None or not len(webs):
        return
    t = case.thickness
    ok = max(row["ok"] * t, case.scene.constant("web-too-thin", "least_mm"))
    last = max(row["last"] * t, case.scene.constant("web-too-thin", "least_last_mm"))
    for group in groups(webs, levels_of(webs.size, ok, last)):
        yield _too_thin(case, row, group, ok, last)


def _too_thin(case: Case, row: Row, group: Group, ok: float, last: float) -> Draft:
    t = case.thickness
    test_piece = at_the_limit(group.least, last)
    limit, just = quoted(group.level, group.least, ok, last)
    by_ratio = limit <= row["last" if group.level == "loss" or just else "ok"] * t * (1.0 + 1e-9)
    name = f"{counted(group.count, 'web')} {sizes(group.least, group.most)}"
    if group.most < TOUCH:
        name = f"{counted(group.count, 'place')} where contours touch"
    measured, shown, unit, fact = thinner(
        group.least, limit, t, by_ratio, f"{whose(row.own)} limit for {case.gas_words}", just
    )
    after = after_thin(case.gas, group.level == "loss", "moves")
    wide = next_half(ok)
    cure = f"Ask the designer for {wide}" + (
        ", or take a gas that puts less heat in." if case.gas == "oxygen" else "."
    )
    if group.level == "rework":
        cure = f"Cut its two sides far apart in time; from {wide} on it stands."
        if test_piece:
            cure = f"Cut one test piece first; else ask the designer for {wide}."
    return Draft(
        group.level, case.scene.part_id(group.part), case.scene.webs.places(group.index),
        measured, shown, unit, f"{name}: {fact} {after}", cure, group.count, ok,
    )  # fmt: skip


RULES = (
    Rule(
        name="slot-too-narrow",
        group="slots and webs",
        kind="shape",
        question="Is every slot wide enough for the sheet and the gas?",
        why=(
            "Both long sides of a narrow slot are heated before either cools: oxygen burns "
            "the strip out, nitrogen leaves burr and a strip that sticks."
        ),
        remedy="Widen the slot, mill it, or choose a gas that takes it.",
        example=(
            "1 slot 3.2 wide: 0.53 of thickness; our limit for nitrogen is 0.70. "
            "Burr below, the strip sticks."
        ),
        asks_change=True,
        on_gas=too_narrow,
    ),
    Rule(
        name="kerf-fills-feature",
        group="slots and webs",
        kind="shape",
        question="Is every slot wider than what the beam takes away?",
        why=(
            "A slot no wider than the kerf is a single cut line; up to two kerfs a sliver is "
            "left between both cuts that burns or drops into them."
        ),
        remedy="Draw one open line, or widen it beyond two kerfs.",
        example=(
            "2 slots 0.5 wide: the kerf in nitrogen is 0.51 mm. One cut line is wider than that."
        ),
        asks_change=True,
        on_gas=kerf_fills,
    ),
    Rule(
        name="web-too-thin",
        group="slots and webs",
        kind="shape",
        question="Is the metal between two contours thick enough to stand the heat?",
        why=(
            "A web takes half the heat of two cuts and has nowhere to pass it on. In oxygen "
            "it burns through sideways; in the other gases it warps, and below about 1 mm it "
            "melts away."
        ),
        remedy="Widen the web, or take a gas that puts less heat in.",
        example=(
            "2 webs 4: 0.27 of thickness; our limit for oxygen is 0.35. Such metal burns through."
        ),
        asks_change=True,
        on_gas=too_thin,
    ),
)
