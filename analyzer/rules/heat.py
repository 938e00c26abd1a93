"""Rules about heat along the cutting order: webs that overheat, cut-outs that lie too close."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.effects.evidence import Evidence, HeatForecast
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.rules.limits import Row
from analyzer.rules.rule import LEVELS, Draft, Rule
from analyzer.rules.scene import LOSS, NEAR, NOTHING, REWORK, SLACK, Case, Group, groups
from analyzer.rules.wording import next_half, sizes, stated, whose
from analyzer.units import counted

STEP_K = 1.0  # limits of heat are not sharper than this [K]
ACUTE = 90.0 - 1e-3  # right angles are no tips [degrees]
MOST_PLACES = 200  # cut-outs of a pattern whose places are told


@dataclass(frozen=True, eq=False)
class WebRises:
    """What the forecast says of the webs of all parts: `followed` where it says anything. [K]

    `met` is the highest rise along the cutting order, `bound` that of both sides cut at once.
    """

    followed: Bools
    met: Floats
    bound: Floats


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


def web_rises(case: Case) -> WebRises:
    """Return the rises of all webs of the scene, in its order."""
    count = len(case.scene.webs)
    found = WebRises(np.zeros(count, bool), np.zeros(count), np.zeros(count))
    start = 0
    for one in case.evidence:
        heat = one.heat
        if heat is not None and heat.field is not None:
            at = start + heat.webs
            found.followed[at] = True
            found.met[at] = heat.field.web_peak
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


def _overheats(case: Case, row: Row, group: Group, rises: WebRises) -> Draft:
    met, bound = float(rises.met[group.index].max()), float(rises.bound[group.index].max())
    test_piece = row["hot"] < met and group.level == "rework"
    to_last = group.level == "loss" or test_piece
    measured, limit = met, row["hot"] if to_last else row["warm"]
    if met <= row["warm"] + STEP_K / 2.0:
        measured, limit = bound, row["bound_warm"]
    wants = max(
        group.least * bound / row["bound_warm"],
        group.least * met / row["warm"] if measured is met else 0.0,
    )
    wide = next_half(wants)
    cure = f"Ask the designer for {wide}, cut its two sides far apart in time, or change the gas."
    if test_piece:
        cure = f"Cut one test piece first; else ask the designer for {wide}, or change the gas."
    after = "Oxygen burns it through." if group.level == "loss" else "Oxygen washes its edges out."
    return Draft(
        group.level, case.scene.part_id(group.part), case.scene.webs.places(group.index),
        measured, limit, "K",
        f"{counted(group.count, 'web')} {sizes(group.least, group.most)} "
        f"{'heats' if group.count == 1 else 'heat'} by {met:.0f} K along this cutting order (by "
        f"{'its' if group.count == 1 else 'their'} own two cuts {bound:.0f} K at most)"
        f"{_stated(case, row, limit, test_piece)} {after}",
        cure, group.count, wants,
    )  # fmt: skip


def _stated(case: Case, row: Row, limit: float, just: bool) -> str:
    which = f"{whose(row.own)} limit for {case.gas_words}"
    return stated(which, f"{limit:.0f}", "above" if just else "")


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
    none: Floats = np.zeros(len(heat.pattern))
    met = heat.field.pierces if heat.field is not None else none
    mean_warm = case.scene.constant("crowded-heat", "mean_warm_k")
    mean_hot = case.scene.constant("crowded-heat", "mean_hot_k")
    by_mean = heat_levels(heat.pattern, mean_warm, mean_hot)
    by_met = heat_levels(met, row["warm"], row["hot"])
    levels = np.maximum(by_mean, by_met)
    rows = np.flatnonzero(levels > NOTHING)
    if not len(rows):
        return None
    worst = int(levels.max())
    if int(by_met.max()) == worst:
        measured, warm, hot = float(met.max()), row["warm"], row["hot"]
        said = f"the beam meets plate {measured:.0f} K warm where it pierces"
    else:
        measured, warm, hot = float(heat.pattern.max()), mean_warm, mean_hot
        said = f"the plate between them warms by {measured:.0f} K"
    test_piece = worst == REWORK and measured > hot
    limit = hot if worst == LOSS or test_piece else warm
    rows = rows[np.argsort(-np.maximum(met, heat.pattern)[rows], kind="stable")]
    centre = one.part.contours.centroid[rows[:MOST_PLACES]]
    after = (
        "Pierces blow out and holes burn." if worst == LOSS else "Expect blown pierces and slag."
    )
    cure = "Let the plate cool part way through, or take a gas that puts less heat in."
    return Draft(
        LEVELS[worst - 1], one.part.id, tuple((x, y) for x, y in centre.tolist()), measured,
        limit, "K",
        f"{counted(len(rows), 'cut-out')} close together: {said}"
        f"{_stated(case, row, limit, test_piece)} {after}",
        f"Cut one test piece first. {cure}" if test_piece else cure, len(rows),
    )  # fmt: skip


def tip_angles(case: Case) -> tuple[Floats, Floats]:
    """Return the angle that alone would get as hot as each corner, and what was met there.

    [degrees, K], in the order of the scene's corners.  The rise of a tip by its own two edges
    goes with 180 / angle, so a tip that is met `before` warm counts as one sharper by the share
    of its own heat in its peak.  Corners that are no acute tips, or not followed, keep their angle.
    """
    sizes_of, start = case.scene.corners.size, 0
    angles, before = sizes_of.copy(), np.zeros(len(sizes_of))
    for one in case.evidence:
        field = one.heat.field if one.heat is not None else None
        if field is not None:
            at, peak = start + field.tips, np.maximum(field.tip_peak, 1e-9)
            acute = sizes_of[at] < ACUTE
            at, own = at[acute], (1.0 - field.tip_arrival / peak)[acute]
            angles[at] = sizes_of[at] * np.clip(own, 0.0, 1.0)
            before[at] = field.tip_arrival[acute]
        start += len(one.part.corners)
    return angles, before


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
            "1 web 8 heats by 156 K along this cutting order (by its own two cuts 273 K at most); "
            "our limit for oxygen is 110. Oxygen washes its edges out."
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
