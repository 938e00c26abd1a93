"""Rules about heat along the cutting order: webs that overheat, cut-outs that lie too close."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.effects.evidence import Evidence, HeatForecast
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.rules.limits import Row
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import LOSS, NEAR, NOTHING, REWORK, SLACK, Case, Group, groups
from analyzer.rules.wording import count, next_half, sizes, whose

STEP_K = 1.0  # limits of heat are not sharper than this [K]
MOST_PLACES = 200  # cut-outs of a pattern whose places are told


@dataclass(frozen=True, eq=False)
class Rises:
    """What the forecast says of features of all parts: `followed` where it says anything. [K]

    `met` is the highest rise along the cutting order, `before` what the head met of it, `bound`
    that of a web with both sides cut at once.
    """

    followed: Bools
    met: Floats
    before: Floats
    bound: Floats

    @staticmethod
    def none(count: int) -> Rises:
        """Return rises of `count` features of which nothing is known yet."""
        return Rises(np.zeros(count, bool), np.zeros(count), np.zeros(count), np.zeros(count))


def heat_levels(rises: Floats, warm: float, hot: float) -> Ints:
    """Return NOTHING, REWORK or LOSS of every rise against "at most" limits, shape (n,).

    Less than 10 % beyond the last limit is no loss.

    Examples
    --------
    >>> heat_levels(np.array([110.0, 120.0, 219.0, 221.0]), warm=110.0, hot=200.0).tolist()
    [0, 2, 2, 3]
    """
    beyond = rises > hot * (1.0 + NEAR) * (1.0 + SLACK)
    return np.where(rises > warm + STEP_K / 2.0, np.where(beyond, LOSS, REWORK), NOTHING)


def web_rises(case: Case) -> Rises:
    """Return the rises of all webs of the scene, in its order."""
    found = Rises.none(len(case.scene.webs))
    start = 0
    for one in case.evidence:
        heat = one.heat
        if heat is not None and heat.field is not None:
            at = start + heat.webs
            found.followed[at] = True
            found.met[at] = heat.field.web_peak
            found.before[at] = heat.field.web_arrival
            found.bound[at] = heat.strips
        start += len(one.part.webs)
    return found


def webs_overheat(case: Case) -> Iterator[Draft]:
    """Webs that get too hot: by the heat met along the order, and by the bound.

    The bound alone never makes a loss: it takes both sides as cut at once.
    """
    row = case.limit("web-overheats")
    webs = case.scene.webs
    if row is None or not len(webs):
        return
    rises = web_rises(case)
    by_bound = np.minimum(heat_levels(rises.bound, row["bound_warm"], np.inf), REWORK)
    levels = np.maximum(heat_levels(rises.met, row["warm"], row["hot"]), by_bound)
    for group in groups(webs, np.where(rises.followed, levels, NOTHING)):
        yield _overheats(case, row, group, rises)


def _overheats(case: Case, row: Row, group: Group, rises: Rises) -> Draft:
    met, bound = float(rises.met[group.index].max()), float(rises.bound[group.index].max())
    measured, limit = met, row["hot"] if group.level == "loss" else row["warm"]
    said = f"heats by {met:.0f} K along this cutting order, by {bound:.0f} K at most"
    if met <= row["warm"] + STEP_K / 2.0:
        measured, limit = bound, row["bound_warm"]
        said = f"heats by {met:.0f} K along this cutting order, by {bound:.0f} K if cut at once"
    test_piece = row["hot"] < met and group.level == "rework"
    wide = next_half(max(
        group.least * bound / row["bound_warm"],
        group.least * met / row["warm"] if measured is met else 0.0,
    ))  # fmt: skip
    cure = f"Ask the designer for {wide}, cut its two sides far apart in time, or change the gas."
    if test_piece:
        cure = f"Cut one test piece first; else ask the designer for {wide}, or change the gas."
    after = "Oxygen burns it through." if group.level == "loss" else "Oxygen washes its edges out."
    return Draft(
        group.level, case.scene.part_id(group.part), case.scene.webs.places(group.index),
        measured, limit, "K",
        f"{count(group.count, 'web')} {sizes(group.least, group.most)} {said}; "
        f"{whose(row.own)} limit for {case.gas_words} is {limit:.0f}. {after}",
        cure, group.count,
    )  # fmt: skip


def heat_crowds(case: Case) -> Iterator[Draft]:
    """Cut-outs so close that the plate warms as a whole: one line per part and gas."""
    row = case.limit("crowded-heat")
    if row is None:
        return
    for one in case.evidence:
        if one.heat is not None:
            draft = _crowded(case, row, one, one.heat)
            if draft is not None:
                yield draft


def _crowded(case: Case, row: Row, one: Evidence, heat: HeatForecast) -> Draft | None:
    met = heat.field.pierces if heat.field is not None else np.zeros(len(heat.pattern))
    by_pattern = heat_levels(heat.pattern, row["pattern_warm"], row["pattern_hot"])
    by_met = heat_levels(met, row["warm"], row["hot"])
    levels = np.maximum(by_pattern, by_met)
    rows = np.flatnonzero(levels > NOTHING)
    if not len(rows):
        return None
    worst = int(levels.max())
    if int(by_met.max()) == worst:
        measured = float(met.max())
        limit = row["hot"] if worst == LOSS else row["warm"]
        said = f"the beam meets plate {measured:.0f} K warm where it pierces"
    else:
        measured = float(heat.pattern.max())
        limit = row["pattern_hot"] if worst == LOSS else row["pattern_warm"]
        said = f"the plate between them warms by {measured:.0f} K"
    level = "loss" if worst == LOSS else "rework"
    test_piece = worst == REWORK and measured > (row["hot"] if limit == row["warm"] else
                                                 row["pattern_hot"])  # fmt: skip
    rows = rows[np.argsort(-np.maximum(met, heat.pattern)[rows], kind="stable")]
    centre = one.part.contours.centroid[rows[:MOST_PLACES]]
    after = (
        "Pierces blow out and holes burn." if worst == LOSS else "Expect blown pierces and slag."
    )
    cure = "Let the plate cool part way through, or take a gas that puts less heat in."
    return Draft(
        level, one.part.id, tuple((x, y) for x, y in centre.tolist()), measured, limit, "K",
        f"{count(len(rows), 'cut-out')} close together: {said}; {whose(row.own)} limit for "
        f"{case.gas_words} is {limit:.0f}. {after}",
        f"Cut one test piece first. {cure}" if test_piece else cure, len(rows),
    )  # fmt: skip


def tip_rises(case: Case) -> Rises:
    """Return the rises of all corners of the scene, in its order: tips up to a right angle."""
    found = Rises.none(len(case.scene.corners))
    start = 0
    for one in case.evidence:
        field = one.heat.field if one.heat is not None else None
        if field is not None:
            at = start + field.tips
            found.followed[at] = True
            found.met[at] = field.tip_peak
            found.before[at] = field.tip_arrival
        start += len(one.part.corners)
    return found


RULES = (
    Rule(
        name="web-overheats",
        group="slots and webs",
        kind="process",
        question="Does the heat of both cuts, and of all before them, burn a web through?",
        why=(
            "Each cut leaves half its heat on either side of the kerf. A web takes it from both "
            "sides, and once the second is cut it can leave along the web only. Above about "
            "200 C oxygen no longer stops at the edge. Two numbers are kept: the rise along "
            "this cutting order, and the bound of both cuts at once, E' / (rho c s)."
        ),
        remedy="Widen the web, cut its two sides far apart in time, or change the gas.",
        example=(
            "1 web 8 heats by 156 K along this cutting order, by 273 K at most; our limit for "
            "oxygen is 110. Oxygen washes its edges out."
        ),
        asks_change=True,
        on_gas=webs_overheat,
    ),
    Rule(
        name="crowded-heat",
        group="sheet",
        kind="process",
        question="Do cut-outs lie so close that the plate warms as a whole?",
        why=(
            "An insulated plate does not forget: in a pattern of many holes most of the heat "
            "is minutes old, and spread over what plate is left between them. A pierce in hot "
            "plate blows out, and oxygen burns the holes oval."
        ),
        remedy="Let the plate cool part way through, or take a gas that puts less heat in.",
        example=(
            "64 cut-outs close together: the plate between them warms by 117 K; our limit for "
            "oxygen is 100. Expect blown pierces and slag."
        ),
        asks_change=True,
        on_gas=heat_crowds,
    ),
)
