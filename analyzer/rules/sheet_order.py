"""Rules about what happens on a sheet while it is cut: heat along its order, copies let go."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.effects.drop import SAFE
from analyzer.geometry.contours import Ints
from analyzer.rules.drop_words import chance
from analyzer.rules.heat import heat_levels
from analyzer.rules.rule import LEVELS, Draft
from analyzer.rules.scene import LOSS, NOTHING, REWORK
from analyzer.rules.sheet import MOST_PLACES
from analyzer.rules.sheet_scene import SheetCase, places_of
from analyzer.rules.wording import capital, size, stated, whose
from analyzer.units import counted


def sheet_crowds_heat(case: SheetCase) -> Iterator[Draft]:
    """Pierces that meet plate warmed by the neighbours: one line a sheet and gas.

    What a part does to itself is said of the part; here only where the neighbours add to it.
    """
    row, heat = case.limit("crowded-heat"), case.heat
    if row is None or heat is None:
        return
    levels = heat_levels(heat.pierces, row["warm"], row["hot"])
    levels[levels <= heat_levels(heat.alone, row["warm"], row["hot"])] = NOTHING
    rows = np.flatnonzero(levels > NOTHING)
    if not len(rows):
        return
    rows = rows[np.argsort(-heat.pierces[rows], kind="stable")]
    worst, met = int(levels.max()), float(heat.pierces[rows[0]])
    test_piece = worst == REWORK and met > row["hot"]
    limit = row["hot"] if worst == LOSS or test_piece else row["warm"]
    which = f"{whose(row.own)} limit for {case.gas_words}"
    after = "Pierces blow out." if worst == LOSS else "Expect blown pierces and slag."
    cure = (
        "Let the order jump across the sheet, leave more room between these parts, or take a gas "
        "that puts less heat in."
    )
    yield Draft(
        LEVELS[worst - 1], None, places_of(case.plan.pierces, rows[:MOST_PLACES]), met, limit, "K",
        f"{counted(len(rows), 'pierce')} beside fresh cuts of other parts: the beam meets plate "
        f"{met:.0f} K warm, {heat.alone[rows[0]]:.0f} K of it by the part itself"
        f"{stated(which, f'{limit:.0f}', 'above' if test_piece else '')} {after}",
        f"Cut one test piece first. {cure}" if test_piece else cure, len(rows),
    )  # fmt: skip


def sheet_falls(case: SheetCase) -> Iterator[Draft]:
    """Copies that find no slat under them, as they are turned on the sheet."""
    for part, copies in _loose(case):
        drops = case.drops
        assert drops is not None
        fall = copies[drops.falls[copies] > SAFE]
        if not len(fall):
            continue
        worst = int(fall[drops.falls[fall].argmax()])
        yield _draft(
            case, part, fall, "loss", float(drops.falls[worst]),
            f"fall between the slats {chance(float(drops.falls[worst]))}",
        )  # fmt: skip


def sheet_tips(case: SheetCase) -> Iterator[Draft]:
    """Copies that stand on a slat but off their centroid, as they are turned on the sheet."""
    for part, copies in _loose(case):
        drops = case.drops
        assert drops is not None
        tip = copies[drops.falls[copies] <= SAFE]
        if not len(tip):
            continue
        worst = int(tip[drops.unstable[tip].argmax()])
        likely, lever = float(drops.unstable[worst]), float(drops.lever[tip].max())
        level = _level(case, likely, lever)
        up = "" if level == "note" else f", the edge comes up to {size(round(lever))} mm"
        yield _draft(case, part, tip, level, likely, f"tip {chance(likely)}{up}")


def _level(case: SheetCase, likely: float, lever: float) -> str:
    if lever <= case.machine.standoff_mm:
        return "note"
    often = likely >= case.constant("part-tips", "often")
    thick = case.thickness > case.constant("part-tips", "rarely_above_mm")
    return "loss" if often and not thick else "rework"


def _loose(case: SheetCase) -> Iterator[tuple[int, Ints]]:
    """Every part with copies that come loose often enough for a line, and those copies."""
    if case.drops is None:
        return
    bad = case.drops.unstable >= case.constant("part-tips", "worth_a_line")
    part = np.array([p.part for p in case.layout.placements], dtype=np.int64)
    for index in np.unique(part[bad]).tolist():
        yield index, np.flatnonzero(bad & (part == index))


def _draft(case: SheetCase, part: int, copies: Ints, level: str, likely: float, what: str) -> Draft:
    every = sum(p.part == part for p in case.layout.placements)
    name = case.names[part]
    of = f"{len(copies)} of {every}" if every > len(copies) else f"{every}"
    drops = case.drops
    assert drops is not None
    centres = np.array([
        case.layout.placements[k].points(case.layout.parts[part].contours.centroid[:1])[0]
        for k in copies[:MOST_PLACES].tolist()
    ])  # fmt: skip
    one = len(copies) == 1
    verb = what.replace("fall ", "falls ", 1).replace("tip ", "tips ", 1) if one else what
    return Draft(
        level, name, places_of(centres, np.arange(len(centres))), likely, SAFE,
        "of all positions",
        f"{of} {name} as laid, {size(round(float(drops.width[copies].min()), 1))} across the "
        f"slats: {verb}.",
        _cure(case, part, copies), len(copies),
    )  # fmt: skip


def _cure(case: SheetCase, part: int, copies: Ints) -> str:
    """Say how to hold them, and whether another turn would do: where it was not taken, why."""
    one = len(copies) == 1
    they, them = ("it", "it") if one else ("they", "them")
    hold = f"hold {them} with micro-joints, or lift {them} out"
    kept = case.kept.get(part, "")
    if kept == "room":
        return f"No room was found for a turn that is safe without another sheet: {hold}."
    if kept == "size":
        return f"Turned so that {they} would be safe {they} fit{'s' * one} on no sheet: {hold}."
    if case.turned is None or case.turned.loose[copies].any():
        if kept.isdigit():
            return f"Turned {kept} degrees {they} would be safe: allow turns free, or {hold}."
        return f"{capital(hold)}."
    if kept == "grain":
        return f"Turned a quarter {they} would be safe, but off the grain: {hold}."
    if kept:
        return f"Turned a quarter {they} would be safe: allow turns 90, or {hold}."
    return f"Turn {them} a quarter, or {hold}."
