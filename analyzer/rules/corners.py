"""Rules about corners: tips too sharp, inside radii too tight, corners that slow the head."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.effects.evidence import Evidence
from analyzer.effects.speeds import corner_speeds, moving_least, programmed_speeds
from analyzer.geometry.contours import Floats, Ints
from analyzer.rules.heat import tip_angles
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import (
    DRAWN,
    LOSS,
    NOTHING,
    REWORK,
    Case,
    at_the_limit,
    by_part,
    groups,
    quoted,
)
from analyzer.rules.wording import next_half, size, sizes, stated, whose
from analyzer.units import counted

ANGLE_SLACK = 1e-3  # a corner drawn at the limit is at the limit [degrees]
WINDOW_MM, WINDOW_PER_THICKNESS = 0.5, 0.1  # length of edge that is one corner


def sharp_tips(case: Case) -> Iterator[Draft]:
    """Outside corners whose metal is too pointed, where they are not rounded."""
    corners, row = case.scene.corners, case.limit("tip-too-sharp")
    if row is None or not len(corners):
        return
    thick_oxygen = case.gas == "oxygen" and case.thickness > 12.0
    name = "round_oxygen_mm" if thick_oxygen else "round_mm"
    rounded = case.scene.constant("tip-too-sharp", name)
    ok, last = row["ok"], row["last"]
    angle = corners.size + ANGLE_SLACK
    by_angle = _tip_levels(angle, ok, last)
    hotter, before = tip_angles(case) if case.gas == "oxygen" else (corners.size, angle)
    levels = np.maximum(by_angle, _tip_levels(hotter + ANGLE_SLACK, ok, last))
    sharp = corners.other < rounded
    for group in groups(corners, by_angle, sharp & (levels == by_angle)):
        test_piece = at_the_limit(group.least, last)
        limit, just = quoted(group.level, group.least + ANGLE_SLACK, ok, last)
        tips = f"{counted(group.count, 'tip')} of {_degrees(group.least, group.most)}"
        which = f"{whose(row.own)} limit for {case.gas_words}"
        against_it = stated(which, f"{limit:.0f}", "below" if just else "", ": ")
        after = "the point collects burr"
        if case.gas == "oxygen" or group.level == "loss":
            after = "the point burns off" if case.gas == "oxygen" else "the point melts off"
        cure = f"Round it to R {size(rounded)}, or run a loop outside the part."
        if test_piece:
            cure = f"Cut one test piece first; else round it to R {size(rounded)}."
        yield Draft(
            group.level, case.scene.part_id(group.part), corners.places(group.index),
            group.least, limit, "degrees",
            f"{tips}{against_it} Both edges heat it: {after}.",
            cure, group.count,
        )  # fmt: skip
    for group in groups(corners, levels, sharp & (levels > by_angle)):
        limit = last if group.level == "loss" else ok
        alone = float(hotter[group.index].min())
        tips = f"{counted(group.count, 'tip')} of {_degrees(group.least, group.most)}"
        yield Draft(
            group.level, case.scene.part_id(group.part), corners.places(group.index),
            alone, limit, "degrees",
            f"{tips}, {before[group.index].max():.0f} K warm from earlier cuts: as hot as one of "
            f"{alone:.0f} alone; {whose(row.own)} limit for {case.gas_words} is {limit:.0f}. "
            "The point burns off.",
            f"Let it cool before, round it to R {size(rounded)}, or run a loop outside the part.",
            group.count,
        )  # fmt: skip


def _tip_levels(angles: Floats, ok: float, last: float) -> Ints:
    return np.where(angles < ok, np.where(angles <= 0.9 * last, LOSS, REWORK), NOTHING)


def _degrees(least: float, most: float) -> str:
    low, high = f"{least:.0f}", f"{most:.0f}"
    return f"{low} degrees" if low == high else f"{low} to {high} degrees"


def tight_insides(case: Case) -> Iterator[Draft]:
    """Inside corners with less radius than the gas likes: one note a part, nothing on sheet.

    A corner drawn sharp, as that of every rectangle, comes out with half the kerf for its
    radius.  That is what anyone expects, and `corner-slows` tells where the head dwells;
    only oxygen, whose corners are not judged by speed, says so here.
    """
    corners, row = case.scene.corners, case.limit("inside-radius-too-tight")
    if row is None or not len(corners):
        return
    least = max(row["per_thickness"] * case.thickness, row["least_mm"])
    sharp_too = case.gas == "oxygen"
    tight = (corners.size > 180.0) & (corners.other < least * (1.0 - DRAWN))
    tight &= sharp_too | (corners.other > 0.0)
    after = (
        "The head dwells there and oxygen burns the corner out"
        if case.gas == "oxygen"
        else "The head dwells there and leaves a bead"
    )
    for part, chosen in by_part(corners, tight):
        radii = corners.other[chosen]
        sharp = "sharp" if not radii.any() else f"R {sizes(float(radii.min()), float(radii.max()))}"
        yield Draft(
            "note", case.scene.part_id(part), corners.places(chosen),
            float(radii.min()), least, "mm",
            f"{counted(len(chosen), 'inside corner')} {sharp}: {whose(row.own)} limit for "
            f"{case.gas_words} is R {size(least)}. {after}.",
            f"Ask for R {next_half(least)} where the part allows it.", len(chosen),
        )  # fmt: skip


def slow_corners(case: Case) -> Iterator[Draft]:
    """Corners in which the head is much slower than set: one note per part and gas."""
    row = case.limit("corner-slows")
    if row is None:
        return
    window = max(WINDOW_MM, WINDOW_PER_THICKNESS * case.thickness)
    for one in case.evidence:
        draft = _slow_corners(case, one, row["ok"], window)
        if draft is not None:
            yield draft


def _dips(case: Case, one: Evidence, limit: float) -> bool:
    """Return whether the head is anywhere under way below the limit: most parts, nowhere."""
    speeds, _ = moving_least(one.plan)
    bounds = limit * programmed_speeds(one.plan, case.setting)[one.plan.path.owner]
    return bool((speeds < bounds).any())


def _slow_corners(case: Case, one: Evidence, limit: float, window: float) -> Draft | None:
    corners = one.part.corners
    if not corners or not _dips(case, one, limit):
        return None
    rows = np.array([corner.row for corner in corners])
    speeds = corner_speeds(one.part, one.plan, window)
    fraction = speeds / programmed_speeds(one.plan, case.setting)[rows]
    slow = np.flatnonzero(fraction < limit * (1.0 - 1e-9))
    if not len(slow):
        return None
    order = slow[np.lexsort((slow, fraction[slow]))]
    worst = order[0]
    return Draft(
        "note", one.part.id, tuple((corners[i].x, corners[i].y) for i in order.tolist()),
        float(fraction[worst]), limit, "of the set speed",
        f"{counted(len(order), 'corner')} at {100.0 * fraction[worst]:.0f} % of the set speed and "
        f"up; below {100.0 * limit:.0f} % {case.gas_words} leaves burr there.",
        "Lower the power with the speed in corners, or round them.", len(order),
    )  # fmt: skip


RULES = (
    Rule(
        name="tip-too-sharp",
        group="corners",
        kind="shape",
        question="Is any tip so pointed that both edges heat it?",
        why=(
            "The heat of both edges meets in the point: against a straight edge it warms by "
            "180 degrees over its angle, twice at 90, four times at 45. Oxygen burns such a "
            "tip off, the other gases hang burr on it."
        ),
        remedy="Round the tip, or run a loop outside the part.",
        example=(
            "1 tip of 40 degrees: our limit for oxygen is 60. "
            "Both edges heat it: the point burns off."
        ),
        asks_change=True,
        on_gas=sharp_tips,
    ),
    Rule(
        name="inside-radius-too-tight",
        group="corners",
        kind="shape",
        question="Do inside corners have the radius the gas likes?",
        why=(
            "The head can pass a radius r only at the square root of acceleration times r; in "
            "a sharp inside corner it all but stops while the beam goes on. On sheet up to "
            "3 mm this does no harm, so nothing is said there; nor about corners drawn "
            "sharp, save in oxygen, which burns them out."
        ),
        remedy="Ask for a radius where the part allows it.",
        example=(
            "6 inside corners sharp: our limit for oxygen is R 0.6. "
            "The head dwells there and oxygen burns the corner out."
        ),
        asks_change=False,
        on_gas=tight_insides,
    ),
    Rule(
        name="corner-slows",
        group="corners",
        kind="process",
        question="Where is the head much slower than set?",
        why=(
            "A corner is cut as fast as the drives allow within the corner tolerance. Where "
            "that is a small part of the set speed, the melt is not blown out and burr hangs "
            "on. Oxygen is judged by angle and heat instead."
        ),
        remedy="Lower the power with the speed in corners, or round them.",
        example=(
            "4 corners at 9 % of the set speed and up; below 15 % nitrogen leaves burr there."
        ),
        asks_change=False,
        on_gas=slow_corners,
    ),
)
