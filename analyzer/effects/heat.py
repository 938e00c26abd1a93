"""Heat along the cutting order: what the head meets at pierces, webs, tips and edges.

The method, its checks and where it holds: docs/heat.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.effects.evidence import HeatField, HeatForecast
from analyzer.effects.heat_near import Near, near_pieces
from analyzer.effects.heat_pattern import Crowding, crowding
from analyzer.effects.heat_sources import PlateHeat, Sources, heat_left, sources_of
from analyzer.effects.heat_sum import BothHands
from analyzer.effects.heat_targets import Targets, asked_at
from analyzer.effects.heat_webs import Webs
from analyzer.effects.speeds import programmed_speeds
from analyzer.geometry.contours import Floats, Ints
from analyzer.job import Job
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part
from analyzer.process.burr import BurrTerms, burr_terms
from analyzer.process.load import number
from analyzer.process.setting import Setting

RIGHT_ANGLE = 90.01
"""Corners up to this angle of metal are followed as tips. [degrees]"""


STATION_MM = 20.0
"""Longest stretch of edge with one temperature, or the thickness where that is more. [mm]"""

AHEAD = 16.0
"""Pieces younger than this many alpha / v^2 are the beam's own heat, which every cut has. [-]"""

PEAK_TIMES = (0.6, 1.0, 1.6, 2.6)
"""When a tip is read after the head has passed, in depth^2 / 2 alpha. [-]"""


@dataclass(frozen=True, eq=False)
class HeatGround:
    """What of a part matters to heat and is the same under every gas."""

    crowd: Crowding
    webs: Webs


def heat_ground(part: Part, thickness: float) -> HeatGround:
    """Return the ground of `part` in a plate of `thickness` [mm], looked up once."""
    return HeatGround(crowding(part.contours, part.islands), Webs(part, thickness))


def forecast_heat(
    part: Part, plan: Plan, setting: Setting, job: Job, ground: HeatGround | None = None
) -> HeatForecast:
    """Return the heat that the cuts of `part` leave, and what the head meets of it.

    Parameters
    ----------
    part : Part
        The part, or the pseudo part of loose open cut lines.
    plan : Plan
        Its plan under `setting`, with the time at which every contour is entered.
    setting, job : Setting, Job
        The gas, and material, thickness and power.
    ground : HeatGround, optional
        Of this part and thickness, where several gases are looked at.
    """
    ground = ground or heat_ground(part, job.thickness_mm)
    plate, left, webs = PlateHeat.of(job), heat_left(setting, job), ground.webs
    crowd = ground.crowd
    pattern = crowd.density * left / 2.0 / (plate.density_heat * (1.0 - crowd.share))
    strips = webs.bounds(left, plate)
    terms = burr_terms(setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    if terms.heat_add == 0.0:
        return HeatForecast(left, webs.index, strips, pattern)
    sources = sources_of(part.contours, plan, setting, job, crowd.share)
    field = _field(part, plan, setting, job, sources, webs, terms)
    return HeatForecast(left, webs.index, strips, pattern, field)


def _field(
    part: Part, plan: Plan, setting: Setting, job: Job, sources: Sources, webs: Webs,
    terms: BurrTerms,
) -> HeatField:  # fmt: skip
    plate = PlateHeat.of(job)
    trees = BothHands(sources, plate)
    speeds = np.maximum(programmed_speeds(plan, setting), 1e-6)
    young = AHEAD * plate.diffusivity / speeds**2
    web_arrival, web_peak = webs.rises(sources, trees, plate, plan, young, speeds)
    tips, tip_arrival, tip_peak = _tips(part, plan, job, sources, trees, speeds)
    ratio = terms.small_contour_ratio
    young = np.where(plan.ratios < ratio, np.inf, young)  # such contours have a class of their own
    xy, rows, lengths, rises = _stations(plan, job, sources, trees, young)
    return HeatField(
        _pierces(plan, setting, trees), web_arrival, web_peak, tips, tip_arrival, tip_peak,
        xy, rows, lengths, rises,
    )  # fmt: skip


def _pierces(plan: Plan, setting: Setting, trees: BothHands) -> Floats:
    """Rise where every contour is pierced, as the beam comes on, shape (n,). [K]"""
    begin = plan.begins - setting.pierce_s - plan.leads / setting.speed_mm_s
    asked = asked_at(plan.pierces, begin)
    return trees.worse(asked, asked)


def _stretches(plan: Plan, job: Job, sources: Sources) -> tuple[Ints, Ints, Ints]:
    """Pieces sorted by contour, and where stretches of edge begin and end among them.

    Cut the same way from either end, or a mirrored part would be read at other places.
    """
    order = sources.pieces.by_row
    rows = sources.rows[order]
    counts = np.bincount(rows, minlength=len(plan.begins))
    total = np.bincount(rows, sources.lengths[order], len(counts))
    longest = max(STATION_MM, job.thickness_mm)
    wanted = np.clip(np.ceil(total / longest - 1e-9), 2, np.maximum(counts, 1)).astype(np.int64)
    wanted += (wanted % 2 == 0) & (counts % 2 == 1)
    within = np.arange(len(rows)) - (np.cumsum(counts) - counts)[rows]
    mirrored = counts[rows] - 1 - within
    few = np.minimum(within, mirrored) * wanted[rows] // counts[rows]
    label = np.where(within <= mirrored, few, wanted[rows] - 1 - few)
    label += (np.cumsum(wanted) - wanted)[rows]
    start = np.flatnonzero(np.diff(label, prepend=-1))
    return order, start, np.append(start[1:], len(label))


def _stations(
    plan: Plan, job: Job, sources: Sources, trees: BothHands, young: Floats
) -> tuple[Floats, Ints, Floats, Floats]:
    """Stretches of edge: middles, contours, drawn lengths, and the rises the head meets.

    `young` is the age below which a contour's own heat does not count there; that of others
    always does.
    """
    if not len(sources):
        none = np.zeros(0)
        return np.zeros((0, 2)), np.zeros(0, np.int64), none, none
    order, start, stop = _stretches(plan, job, sources)
    lengths = np.add.reduceat(sources.lengths[order], start)
    # the middle piece as the head comes from either end
    middles = order[(start + stop) // 2], order[(start + stop - 1) // 2]
    home = sources.rows[middles[0]]
    begun = plan.begins[home]
    both = []
    for middle, times in zip(middles, sources.ways, strict=True):
        when = times[middle]
        age = np.minimum(young[home], when - begun)
        both.append(Targets(sources.xy[middle], when, age, begun, home))
    return sources.xy[middles[0]], home, lengths, trees.worse(*both)


def _tips(
    part: Part, plan: Plan, job: Job, sources: Sources, trees: BothHands, speeds: Floats
) -> tuple[Ints, Floats, Floats]:
    """Tips up to a right angle: which corners, what the head meets there, and the peak."""
    angles = np.array([corner.angle for corner in part.corners])
    tips = np.flatnonzero(angles <= RIGHT_ANGLE)
    none = np.zeros(0)
    if not len(tips) or not len(sources):
        return tips[:0], none, none
    plate = PlateHeat.of(job)
    depth = number("heat", "read", "depth_per_thickness") * job.thickness_mm
    reach = 4.0 * depth
    xy = np.array([(part.corners[i].x, part.corners[i].y) for i in tips.tolist()])
    rows = np.array([part.corners[i].row for i in tips.tolist()])
    legs = near_pieces(sources.pieces, xy, np.full(len(tips), reach), rows)
    near = legs.take(legs.far <= 1.5 * depth)
    met = np.isfinite(near.span(sources.times)[0])
    image = 180.0 / np.maximum(angles, 1.0)[tips]
    arrivals, peaks = [], []
    for tree, times in zip(trees.trees, sources.ways, strict=True):
        first, last = near.span(times)
        young, since = (reach / speeds[rows])[met], plan.begins[rows[met]]
        arrivals.append(tree.rises(Targets(xy[met], first[met], young, since, rows[met])))
        strength = _own_heat(sources, legs, times, last, depth, plate)
        peaks.append(arrivals[-1] + (image * strength)[met] / plate.density_heat)
    return tips[met], np.maximum(*arrivals), np.maximum(*peaks)


def _own_heat(
    sources: Sources, legs: Near, times: Floats, last: Floats, depth: float, plate: PlateHeat
) -> Floats:
    """Most heat of its own legs `depth` behind every tip after `last`, shape (k,). [J/mm^3]"""
    count = len(last)
    strength: Floats = np.zeros(count)
    unit = depth**2 / (2.0 * plate.diffusivity)
    for share in PEAK_TIMES:
        age = (last + share * unit)[legs.target] - times[legs.piece]
        wide = 4.0 * plate.diffusivity * np.maximum(age, 1e-9)
        bell = np.exp(-(legs.far**2 + depth**2) / wide) / (np.pi * wide)
        each = np.where(age > 0.0, 2.0 * sources.heat[legs.piece] * bell, 0.0)
        strength = np.maximum(strength, np.bincount(legs.target, each, count))
    return strength
