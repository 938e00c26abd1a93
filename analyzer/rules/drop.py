"""Rules about what comes loose: parts and slugs that fall between slats, tip or stick.

The chances are over all offsets of the slats; they are the same in every gas for a part, so
its losses decide nothing between gases.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.effects.drop import SAFE, DropForecast, Lie
from analyzer.effects.evidence import Evidence
from analyzer.effects.micro_joints import MicroJoints, micro_joints
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.rules.holes import hole_levels
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import NOTE, NOTHING, REWORK, Case, Features, Group, groups
from analyzer.rules.slots import slot_levels
from analyzer.rules.wording import capital, count, size, sizes, whose

SPOKEN = (
    (0.1, "1 in 10"), (0.2, "1 in 5"), (0.25, "1 in 4"), (1 / 3, "1 in 3"), (0.5, "1 in 2"),
    (2 / 3, "2 in 3"), (0.75, "3 in 4"), (0.9, "9 in 10"),
)  # fmt: skip


def chance(value: float) -> str:
    """Return a chance as spoken.

    Examples
    --------
    >>> chance(0.5007), chance(0.295), chance(0.02), chance(0.999)
    ('1 in 2', '1 in 3', 'seldom', 'always')
    """
    if value < 0.06:
        return "seldom"
    if value > 0.95:
        return "always"
    return min(SPOKEN, key=lambda pair: abs(pair[0] - value))[1]


# --- parts -------------------------------------------------------------------------------


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
            loose.level, one.part.id, _place(one), lie.falls, SAFE, "of all positions",
            f"{_size(drop)}, slats {gap} apart: {fate}.", _cure(case, one, loose),
        )  # fmt: skip


def tips(case: Case) -> Iterator[Draft]:
    """Parts that stand on a slat but off their centroid."""
    for one, drop, loose in _loose_parts(case, "part-tips"):
        lie = loose.lie
        where = f"laid {loose.way} the slats" if loose.way else "on the slats"
        up = f"; the edge comes up to {size(round(lie.lever))} mm, the head runs {_standoff(drop)}"
        said = "" if loose.level == "note" else up
        yield Draft(
            loose.level, one.part.id, _place(one), lie.unstable, SAFE, "of all positions",
            f"{_size(drop)}: {where} it tips {chance(lie.unstable)}{said}.",
            _cure(case, one, loose),
        )  # fmt: skip


def _loose_parts(case: Case, rule: str) -> Iterator[tuple[Evidence, DropForecast, _Loose]]:
    for one in case.evidence:
        loose = _loose(case, one.drop) if one.drop else None
        if one.drop and loose and loose.rule == rule:
            yield one, one.drop, loose


def _place(one: Evidence) -> tuple[tuple[float, float]]:
    x, y = one.part.contours.centroid[0].tolist()
    return ((x, y),)


def _size(drop: DropForecast) -> str:
    return f"{size(round(drop.width, 1))} x {size(round(drop.height, 1))}"


def _standoff(drop: DropForecast) -> str:
    return f"{size(drop.machine.standoff_mm)} above the sheet"


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
    number = count(joints.count, "micro-joint")
    width = f"{size(joints.least_mm)} to {size(joints.most_mm)} mm"
    return f"{number} {width} ({low:.0f} to {high:.0f} N to break, {tool})"


def _at(joints: MicroJoints) -> str:
    return " and ".join(f"{size(round(x, 1))}, {size(round(y, 1))}" for x, y in joints.places)


# --- what sticks -------------------------------------------------------------------------


def part_sticks(case: Case) -> Iterator[Draft]:
    """Small parts that hang in the skeleton."""
    limit = case.limit("part-may-stick")
    if limit is None:
        return
    small = case.scene.constant("part-may-stick", "small_below") * case.thickness
    for one in case.evidence:
        outline = one.part.contours
        across = 4.0 * float(outline.area[0]) / float(outline.length[0])
        if one.drop is None or one.drop.ease >= limit["ok"] or across >= small:
            continue
        yield Draft(
            "rework", one.part.id, _place(one), one.drop.ease, limit["ok"], "ease of drop",
            f"{_size(one.drop)}: {_tight(case, one.drop, limit['ok'], limit.own)} "
            "It hangs in the skeleton.",
            f"Knock it out by hand{_mixed(case)}.",
        )  # fmt: skip


def slugs_stick(case: Case) -> Iterator[Draft]:
    """Slugs of small cut-outs that do not drop: one line per part and gas."""
    limit = case.limit("slug-may-stick")
    if limit is None:
        return
    small = case.scene.constant("slug-may-stick", "small_below") * case.thickness
    said = _said_already(case)
    for index, one in enumerate(case.evidence):
        if one.drop is None or one.drop.ease >= limit["ok"]:
            continue
        rows, contours = one.drop.slugs.rows, one.part.contours
        across = 4.0 * np.abs(contours.area[rows]) / contours.length[rows]
        keep = (across < small) & ~np.isin(rows, said.get(index, []))
        rows, across = rows[keep], across[keep]
        if len(rows):
            yield Draft(
                "rework", one.part.id, tuple(map(tuple, contours.centroid[rows].tolist())),
                one.drop.ease, limit["ok"], "ease of drop",
                f"{count(len(rows), 'slug')} "
                f"{sizes(float(across.min()), float(across.max()))} across: "
                f"{_tight(case, one.drop, limit['ok'], limit.own)} Burr bridges hold them.",
                f"Knock them out by hand{_mixed(case)}.", len(rows),
            )  # fmt: skip


def _tight(case: Case, drop: DropForecast, limit: float, own: bool) -> str:
    return (
        f"{size(drop.clearance)} mm of play in {size(case.thickness)} mm; ease of drop "
        f"{drop.ease:.3f} in {case.gas_words}, {whose(own)} limit is {limit:.3f}."
    )


def _mixed(case: Case) -> str:
    return "" if case.gas == "mixed" else ", or take mixed gas"


def _said_already(case: Case) -> dict[int, list[int]]:
    """Return the cut-outs of each part that have a finding of their own."""
    said: dict[int, list[int]] = {}
    for table, levels in (
        (case.scene.holes, hole_levels(case)),
        (case.scene.slots, slot_levels(case)),
    ):
        bad = np.flatnonzero(levels > NOTHING)
        for part, row in zip(table.part[bad].tolist(), table.row[bad].tolist(), strict=True):
            said.setdefault(part, []).append(row)
    return said


# --- slugs that tip ----------------------------------------------------------------------


def cut_outs_tip(case: Case) -> Iterator[Draft]:
    """Slugs of about the slat pitch: too wide to fall between slats, too narrow to lie still.

    One that is no such slug the other way is only a note: it falls, or lies still, there.
    """
    for index, one in enumerate(case.evidence):
        if one.drop is None or not len(one.drop.slugs.rows):
            continue
        table, tip, raised = _tipping(case, index, one, one.drop)
        standoff = one.drop.machine.standoff_mm
        levels: Ints = np.where(tip.all(axis=1) & (raised > standoff), REWORK, NOTE)
        levels = np.where(tip.any(axis=1), levels, NOTHING)
        for group in groups(table, levels):
            most, likely = float(raised[group.index].max()), float(table.other[group.index].max())
            yield Draft(
                group.level, one.part.id, table.places(group.index), most, standoff, "mm",
                f"{count(group.count, 'slug')} {_whole(group.least, group.most)} wide: "
                f"{'they tip' if group.count > 1 else 'it tips'} {chance(likely)}, "
                f"the edge comes up to {size(round(most, 1))} mm; "
                f"the head runs {_standoff(one.drop)}.",
                _slug_cure(group), group.count,
            )  # fmt: skip


def _slug_cure(group: Group) -> str:
    them = "it" if group.count == 1 else "them"
    if group.level == "note":
        return f"Lift {them} out before the head passes over, or lay the part the other way."
    return f"Cut {them} into pieces that fall, or lift {them} out before the head passes over."


def _whole(least: float, most: float) -> str:
    return sizes(float(round(least)), float(round(most)))


def _tipping(
    case: Case, index: int, one: Evidence, drop: DropForecast
) -> tuple[Features, Bools, Floats]:
    """Return slugs with width and chance in their worse way, in which ways they tip, how high."""
    slugs, pitch = drop.slugs, drop.machine.slat_pitch_mm
    low = case.scene.constant("cut-out-tips", "from_pitches") * pitch
    high = case.scene.constant("cut-out-tips", "to_pitches") * pitch
    least = case.scene.constant("cut-out-tips", "worth_a_line")
    width = np.column_stack((slugs.along.width, slugs.across.width))
    tip = np.column_stack((slugs.along.tips, slugs.across.tips))
    tip[(width < low) | (width > high)] = 0.0
    if drop.machine.slug_cut_from_mm > 0.0:
        tip[width.max(axis=1) > drop.machine.slug_cut_from_mm] = 0.0
    pick = tip.argmax(axis=1)
    rows = np.arange(len(pick))
    worst = tip[rows, pick]
    table = Features(
        np.full(len(rows), index), slugs.rows, one.part.contours.centroid[slugs.rows],
        width[rows, pick], worst,
    )  # fmt: skip
    return table, tip >= least, slugs.raised[rows, pick]


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
            "45 x 600, slats 64.7 apart: laid along the slats it falls between them 1 in 3, "
            "else it tips."
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
            "100 x 100: on the slats it tips 1 in 2; the edge comes up to 50 mm, the head runs "
            "1 above the sheet."
        ),
        asks_change=False,
        on_gas=tips,
    ),
    Rule(
        name="part-may-stick",
        group="drop",
        kind="process",
        question="Do small parts come out of the skeleton?",
        why=(
            "Play between part and skeleton is two kerfs less the taper of the cut. Where that is "
            "little against the thickness, and burr bridges it, small parts hang."
        ),
        remedy="Plan the time to knock them out, or take mixed gas.",
        example=(
            "60 x 80: 0.87 mm of play in 15 mm; ease of drop 0.039 in nitrogen, our limit is "
            "0.045. It hangs in the skeleton."
        ),
        asks_change=False,
        on_gas=part_sticks,
    ),
    Rule(
        name="cut-out-tips",
        group="drop",
        kind="process",
        question="Do slugs about as wide as the slat pitch stay out of the head's way?",
        why=(
            "Small slugs fall between the slats and large ones lie still. One of about the slat "
            "pitch leans on a slat, and its edge can come up through the cut-out."
        ),
        remedy="Cut the slug into pieces that fall, or lift it out.",
        example=(
            "1 slug 60 wide: it tips 9 in 10, the edge comes up to 30 mm; the head runs 1 above "
            "the sheet."
        ),
        asks_change=False,
        on_gas=cut_outs_tip,
    ),
    Rule(
        name="slug-may-stick",
        group="drop",
        kind="process",
        question="Do the slugs of small cut-outs drop by themselves?",
        why=(
            "Play between slug and cut-out is two kerfs less the taper of the cut. Where that is "
            "little against the thickness, and burr bridges it, slugs stay in. They drop "
            "most easily in mixed gas."
        ),
        remedy="Plan the time to knock them out, or take mixed gas.",
        example=(
            "4 slugs 18 across: 0.87 mm of play in 15 mm; ease of drop 0.039 in nitrogen, our "
            "limit is 0.045. Burr bridges hold them."
        ),
        asks_change=False,
        on_gas=slugs_stick,
    ),
)
