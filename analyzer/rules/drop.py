"""Rules about parts that come loose: those that fall between slats, or tip.

The chances are over all offsets of the slats; they are the same in every gas for a part, so
its losses decide nothing between gases.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from analyzer.effects.drop import SAFE, DropForecast, Lie
from analyzer.effects.evidence import Evidence
from analyzer.effects.micro_joints import MicroJoints, micro_joints
from analyzer.rules.drop_words import chance, measures, place_of, standoff
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import Case
from analyzer.rules.wording import capital, size
from analyzer.units import counted


@dataclass(frozen=True)
class _Loose:
    """What a part does on the slats: the rule that says so, its level, and the way meant."""

    rule: str
    level: str
    lie: Lie
    way: str  # "along", "across": where only that way is bad; "": both


def _loose(case: Case, drop: DropForecast) -> _Loose | None:
    """Return how a part comes loose; None where it lies still, or nearly, both ways.

    Where one way is safe only the other is spoken of.
    """
    best, worst, bad = drop.across, drop.along, "along"
    if drop.safest == "along":
        best, worst, bad = worst, best, "across"
    if best.safe:
        if worst.unstable >= case.scene.constant("part-falls-through", "never_safe"):
            rule = "part-falls-through" if worst.falls > SAFE else "part-tips"
            return _Loose(rule, _level(case, rule, drop), worst, bad)
        if worst.unstable >= case.scene.constant("part-tips", "worth_a_line"):
            return _Loose("part-tips", "note", worst, bad)
        return None
    if best.falls > SAFE:
        return _Loose("part-falls-through", "loss", best, "")
    often = best.unstable >= case.scene.constant("part-tips", "often")
    return _Loose("part-tips", _level(case, "part-tips", drop) if often else "rework", best, "")


def _level(case: Case, rule: str, drop: DropForecast) -> str:
    if rule == "part-falls-through":
        return "loss"
    if max(drop.along.lever, drop.across.lever) <= drop.machine.standoff_mm:
        return "note"
    thick = case.thickness > case.scene.constant("part-tips", "rarely_above_mm")
    return "rework" if thick else "loss"


def falls_through(case: Case) -> Iterator[Draft]:
    """Parts that find no slat under them."""
    for one, drop, loose in _loose_parts(case, "part-falls-through"):
        lie = loose.lie
        how = f"laid {loose.way} the slats it " if loose.way else "it "
        fate = f"{how}falls between them {chance(lie.falls)}"
        if lie.still <= 1.0 - case.scene.constant("part-falls-through", "never_safe"):
            fate += ", else it tips"
        gap = size(drop.machine.slat_pitch_mm - drop.machine.slat_thickness_mm)
        yield Draft(
            loose.level, one.part.id, place_of(one), lie.falls, SAFE, "of all positions",
            f"{measures(drop)}, slats {gap} apart: {fate}.", _cure(case, one, loose),
        )  # fmt: skip


def tips(case: Case) -> Iterator[Draft]:
    """Parts that stand on a slat but off their centroid."""
    for one, drop, loose in _loose_parts(case, "part-tips"):
        lie = loose.lie
        where = f"laid {loose.way} the slats" if loose.way else "on the slats"
        up = f"; the edge comes up to {size(round(lie.lever))} mm, the head runs {standoff(drop)}"
        said = "" if loose.level == "note" else up
        yield Draft(
            loose.level, one.part.id, place_of(one), lie.unstable, SAFE, "of all positions",
            f"{measures(drop)}: {where} it tips {chance(lie.unstable)}{said}.",
            _cure(case, one, loose),
        )  # fmt: skip


def _loose_parts(case: Case, rule: str) -> Iterator[tuple[Evidence, DropForecast, _Loose]]:
    for one in case.evidence:
        loose = _loose(case, one.drop) if one.drop else None
        if one.drop and loose and loose.rule == rule:
            yield one, one.drop, loose


def _cure(case: Case, one: Evidence, loose: _Loose) -> str:
    """Say how to lay it, or how to hold it."""
    other = {"along": "across", "across": "along"}.get(loose.way, "")
    if loose.level == "note":
        return f"Lay it {other} the slats." if other else "Nothing to change."
    hold = _hold(case, one)
    return f"Lay it {other} the slats, else {hold}." if other else f"{capital(hold)}."


def _hold(case: Case, one: Evidence) -> str:
    drop, t = one.drop, case.thickness
    assert drop is not None
    joints = micro_joints(one.part, drop.width, drop.height, t, case.job.material)
    if not joints.count:
        return f"cut it last and lift it out by hand: {size(t)} mm is too thick for micro-joints"
    return f"{_joints(joints)}, at {_at(joints)}"


def _joints(joints: MicroJoints) -> str:
    low, high = (10.0 * round(f / 10.0) for f in joints.force_n)
    tool = "by hand" if joints.by_hand else "with a mallet"
    number = counted(joints.count, "micro-joint")
    width = f"{size(joints.least_mm)} to {size(joints.most_mm)} mm"
    return f"{number} {width} ({low:.0f} to {high:.0f} N to break, {tool})"


def _at(joints: MicroJoints) -> str:
    return " and ".join(f"{size(round(x, 1))}, {size(round(y, 1))}" for x, y in joints.places)


RULES = (
    Rule(
        name="part-falls-through",
        group="drop",
        kind="process",
        question="Is every part wider than the gap between the slats?",
        why=(
            "A part narrower than the clear width between two slats may find none under it: it "
            "drops into the scrap, or leans on one slat and stands up into the head."
        ),
        remedy="Lay it across the slats, or hold it with micro-joints.",
        example=(
            "45 wide, 600 long, slats 64.7 apart: laid along the slats it falls between them "
            "1 in 3, else it tips."
        ),
        asks_change=True,
        on_gas=falls_through,
    ),
    Rule(
        name="part-tips",
        group="drop",
        kind="process",
        question="Does every part lie still once it is cut free?",
        why=(
            "A part tips when its centroid lies outside the hull of what it has on the slats. "
            "Gravity does that in every gas, and a strong jet makes it worse. An edge above the "
            "head's stand-off is hit."
        ),
        remedy="Lay it the other way, or hold it with micro-joints.",
        example=(
            "100 both ways: on the slats it tips 1 in 2; the edge comes up to 50 mm, the head runs "
            "1 above the sheet."
        ),
        asks_change=False,
        on_gas=tips,
    ),
)
