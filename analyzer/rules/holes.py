"""Rules about holes: too small for gas and sheet, no room to pierce, likely threaded."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from analyzer.rules.hole_floors import Floors, hole_floors, hole_levels
from analyzer.rules.limits import Row
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import (
    NOTE,
    NOTHING,
    REWORK,
    Case,
    Group,
    at_the_limit,
    groups,
    quoted,
)
from analyzer.rules.tapped import TAPPED, tap_cure, tap_drilled
from analyzer.rules.wording import against, capital, next_half, size, sizes, stated, whose
from analyzer.units import counted

# What happens to one hole below the ok limit, by gas; the page says "They" for several.
BELOW_OK = {
    "oxygen": "heat cannot escape: oval, scarred by the pierce",
    "nitrogen": "hard burr below, the slug may stick",
    "mixed": "slight burr below",
    "air": "burr below, the slug may stick",
}


def too_small(case: Case) -> Iterator[Draft]:
    """Holes whose diameter is too small for the sheet in this gas."""
    holes, row = case.scene.holes, case.limit("hole-too-small")
    if row is None:
        return
    floors = hole_floors(case, row)
    tapped, asked = tap_drilled(case)
    for group in groups(holes, hole_levels(case), ~tapped):
        yield _too_small(case, row, floors, group)
    for group in groups(holes, hole_levels(case), tapped):
        draft = _too_small(case, row, floors, group)
        yield replace(draft, remedy=tap_cure(case, asked, holes.size[group.index]), sort=TAPPED)


def _too_small(case: Case, row: Row, floors: Floors, group: Group) -> Draft:
    test_piece = at_the_limit(group.least, floors.last)
    _, just = quoted(group.level, group.least, floors.ok, floors.last)
    by_ratio, by_kerf, limit = (
        (floors.last_by_ratio, floors.last_by_kerf, floors.last)
        if group.level == "loss" or just
        else (floors.ok_by_ratio, floors.ok_by_kerf, floors.ok)
    )
    which = f"{whose(row.own)} limit for {case.gas_words}"
    t = case.thickness
    if by_ratio >= by_kerf:
        measured, unit, shown = group.least / t, "of thickness", limit / t
        said, bound = against(measured, shown)
        fact = f"{said} of thickness{stated(which, bound, 'below' if just else '')}"
    else:
        measured, unit, shown = group.least, "mm", limit
        less = "just less" if just else "less"
        fact = f"{less} than {size(limit)} mm, what kerf and pierce need in {case.gas_words}."
    they = "They" if group.count > 1 else "It"
    after = (
        f"{they} would close up or blow."
        if group.level == "loss"
        else f"{capital(BELOW_OK[case.gas])}."
    )
    name = _name(case, group)
    wide = next_half(floors.ok)
    cure = f"Ask the designer for {wide}, or centre-mark and drill."
    if floors.ok > 2.0 * group.most:  # nobody makes a hole that much wider
        cure = f"Centre-mark and drill, or ask the designer for {wide}."
    if group.level == "rework":
        cure = (
            f"Cut one test piece first; else ask the designer for {wide}, or drill."
            if test_piece
            else f"Expect to clean up by hand; from {wide} on it cuts clean, or drill."
        )
    return _draft(case, group, measured, shown, unit, f"{name}: {fact} {after}", cure)


def _name(case: Case, group: Group) -> str:
    round_ones = bool(case.scene.holes.other[group.index].all())
    return f"{counted(group.count, 'hole' if round_ones else 'cut-out')} " + sizes(
        group.least, group.most
    )


def _draft(
    case: Case, group: Group, measured: float, limit: float, unit: str, message: str, remedy: str
) -> Draft:
    return Draft(
        group.level, case.scene.part_id(group.part), case.scene.holes.places(group.index),
        measured, limit, unit, message, remedy, group.count,
    )  # fmt: skip


def no_room(case: Case) -> Iterator[Draft]:
    """Holes in which the pierce crater would reach the edge.

    A hole that is too small for the gas is said there, not here again.
    """
    holes = case.scene.holes
    if not len(holes):
        return
    clear = case.scene.constant("no-room-for-lead-in", "clear_mm")
    room = (holes.size - case.setting.kerf_mm) / 2.0
    need = case.setting.crater_mm + clear
    tight = (room < need * (1.0 - 1e-9)) & (hole_levels(case) == NOTHING)
    fly = case.thickness <= case.scene.constant("no-room-for-lead-in", "fly_up_to_mm")
    level = NOTE if fly and case.gas != "oxygen" else REWORK
    for group in groups(holes, np.where(tight, level, NOTHING)):
        left = (group.least - case.setting.kerf_mm) / 2.0
        message = (
            f"{_name(case, group)}: {size(left)} mm from the centre to the cut; the pierce in "
            f"{case.gas_words} needs {size(need)}. Its crater would mark the edge."
        )
        cure = (
            "Pierce on the fly or with the soft pierce, in the centre."
            if level == NOTE
            else "Pierce soft and slow in the centre, or centre-mark and drill."
        )
        yield _draft(case, group, left, need, "mm", message, cure)


RULES = (
    Rule(
        name="hole-too-small",
        group="holes",
        kind="shape",
        question="Is every hole wide enough for the sheet and the gas?",
        why=(
            "In a hole about as wide as the sheet is thick the heat cannot escape and the "
            "front never settles: oxygen burns it oval, nitrogen leaves a hard burr and a "
            "slug that sticks. Below five kerf widths start and end of the cut overlap on "
            "much of the circle; below three nothing round is left."
        ),
        remedy="Widen the hole, centre-mark and drill it, or choose a gas that takes it.",
        example=(
            "2 holes 3.5: 0.35 of thickness; our limit for nitrogen is 0.50. "
            "They would close up or blow."
        ),
        asks_change=True,
        on_gas=too_small,
    ),
    Rule(
        name="no-room-for-lead-in",
        group="holes",
        kind="shape",
        question="Does the pierce fit inside every hole?",
        why=(
            "A hole is pierced at its centre. If half the hole less half the kerf is less "
            "than the pierce crater and 1 mm of lead-in, the crater scars the edge."
        ),
        remedy="Pierce soft and slow in the centre, or centre-mark and drill.",
        example=(
            "4 holes 4: 1.75 mm from the centre to the cut; the pierce in nitrogen needs 2. "
            "Its crater would mark the edge."
        ),
        asks_change=True,
        on_gas=no_room,
    ),
)
