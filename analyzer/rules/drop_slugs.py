"""Rules about what stays in the skeleton, and slugs that tip into the way of the head."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.effects.drop import DropForecast
from analyzer.effects.evidence import Evidence
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.rules.drop_words import chance, measures, place_of, standoff
from analyzer.rules.hole_floors import hole_levels
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import NOTE, NOTHING, REWORK, Case, Features, Group, groups
from analyzer.rules.slots import slot_levels
from analyzer.rules.wording import across_words, size, sizes, whose
from analyzer.units import counted


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
            "rework", one.part.id, place_of(one), one.drop.ease, limit["ok"], "ease of drop",
            f"{measures(one.drop)}: {_tight(case, one.drop, limit['ok'], limit.own)} "
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
                f"{counted(len(rows), 'slug')} "
                f"{across_words(across)}: "
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


def cut_outs_tip(case: Case) -> Iterator[Draft]:
    """Slugs of about the slat pitch: too wide to fall between slats, too narrow to lie still.

    One that is no such slug the other way is only a note: it falls, or lies still, there.
    """
    for index, one in enumerate(case.evidence):
        if one.drop is None or not len(one.drop.slugs.rows):
            continue
        table, tip, raised = _tipping(case, index, one, one.drop)
        above = one.drop.machine.standoff_mm
        levels: Ints = np.where(tip.all(axis=1) & (raised > above), REWORK, NOTE)
        levels = np.where(tip.any(axis=1), levels, NOTHING)
        for group in groups(table, levels):
            most, likely = float(raised[group.index].max()), float(table.other[group.index].max())
            yield Draft(
                group.level, one.part.id, table.places(group.index), most, above, "mm",
                f"{counted(group.count, 'slug')} {_whole(group.least, group.most)} "
                "across the slats: "
                f"{'they tip' if group.count > 1 else 'it tips'} {chance(likely)}, "
                f"the edge comes up to {size(round(most, 1))} mm; "
                f"the head runs {standoff(one.drop)}.",
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
            "60 wide, 80 long: 0.87 mm of play in 15 mm; ease of drop 0.039 in nitrogen, our "
            "limit is 0.045. It hangs in the skeleton."
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
            "1 slug 60 across the slats: it tips 9 in 10, the edge comes up to 30 mm; the head "
            "runs 1 above the sheet."
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
