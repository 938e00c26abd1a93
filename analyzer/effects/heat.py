"""Heat along the cutting order: what the head meets at pierces, webs, tips and edges.

The method, its checks and where it holds: docs/heat.md.
"""

from __future__ import annotations

import numpy as np

from analyzer.effects.evidence import HeatField, HeatForecast
from analyzer.effects.heat_near import near_pieces
from analyzer.effects.heat_pattern import crowding
from analyzer.effects.heat_sources import PlateHeat, Sources, heat_left, sources_of
from analyzer.effects.heat_sum import HeatTree
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


def forecast_heat(part: Part, plan: Plan, setting: Setting, job: Job) -> HeatForecast:
    """Return the heat that the cuts of `part` leave, and what the head meets of it.

    Parameters
    ----------
    part : Part
        The part, or the pseudo part of loose open cut lines.
    plan : Plan
        Its plan under `setting`, with the time at which every contour is entered.
    setting, job : Setting, Job
        The gas, and material, thickness and power.
    """
    plate = PlateHeat.of(job)
    left = heat_left(setting, job)
    crowd = crowding(part.contours, part.islands)
    pattern = crowd.density * left / 2.0 / (plate.density_heat * (1.0 - crowd.share))
    sources = sources_of(part.contours, plan, setting, job, crowd.share)
    webs = Webs(part, job.thickness_mm, sources)
    strips = webs.bounds(left, plate)
    terms = burr_terms(setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    if terms.heat_add == 0.0:
        return HeatForecast(left, webs.index, strips, pattern)
    field = _field(part, plan, setting, job, sources, webs, terms)
    return HeatForecast(left, webs.index, strips, pattern, field)


def _field(
    part: Part, plan: Plan, setting: Setting, job: Job, sources: Sources, webs: Webs,
    terms: BurrTerms,
) -> HeatField:  # fmt: skip
    plate = PlateHeat.of(job)
    tree = HeatTree(sources, plate)
    speeds = np.maximum(programmed_speeds(plan, setting), 1e-6)
    young = AHEAD * plate.diffusivity / speeds**2
    web_arrival, web_peak = webs.rises(tree, plate, plan, young)
    tips, tip_arrival, tip_peak = _tips(part, plan, job, sources, tree, speeds)
    ratio = terms.small_contour_ratio
    young = np.where(plan.ratios < ratio, np.inf, young)  # such contours have a class of their own
    xy, rows, lengths, rises = _stations(plan, job, sources, tree, young)
    return HeatField(
        _pierces(plan, setting, tree), web_arrival, web_peak, tips, tip_arrival, tip_peak,
        xy, rows, lengths, rises,
    )  # fmt: skip


def _pierces(plan: Plan, setting: Setting, tree: HeatTree) -> Floats:
    """Rise where every contour is pierced, as the beam comes on, shape (n,). [K]"""
    begin = plan.begins - setting.pierce_s - plan.leads / setting.speed_mm_s
    return tree.rise(plan.pierces, begin, np.zeros(len(begin)))


def _stations(
    plan: Plan, job: Job, sources: Sources, tree: HeatTree, young: Floats
) -> tuple[Floats, Ints, Floats, Floats]:
    """Stretches of edge: middles, contours, drawn lengths, and the rises the head meets.

    `young` is the age below which a contour's own heat does not count there; that of others
    always does.
    """
    order = sources.by_row
    rows = sources.rows[order]
    if not len(rows):
        none = np.zeros(0)
        return np.zeros((0, 2)), np.zeros(0, np.int64), none, none
    counts = np.bincount(rows, minlength=len(plan.begins))
    total = np.bincount(rows, sources.lengths[order], len(counts))
    longest = max(STATION_MM, job.thickness_mm)
    wanted = np.clip(np.ceil(total / longest), 2, np.maximum(counts, 1)).astype(np.int64)
    first = np.cumsum(counts) - counts
    within = np.arange(len(rows)) - first[rows]
    label = np.cumsum(wanted)[rows] - wanted[rows] + within * wanted[rows] // counts[rows]
    start = np.flatnonzero(np.diff(label, prepend=-1))
    stop = np.append(start[1:], len(label))
    middle = order[(start + stop) // 2]
    lengths = np.add.reduceat(sources.lengths[order], start)
    home = sources.rows[middle]
    when = sources.times[middle]
    age = np.minimum(young[home], when - plan.begins[home])
    rises = tree.rise(sources.xy[middle], when, age, plan.begins[home])
    return sources.xy[middle], home, lengths, rises


def _tips(
    part: Part, plan: Plan, job: Job, sources: Sources, tree: HeatTree, speeds: Floats
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
    legs = near_pieces(sources, xy, np.full(len(tips), reach), rows)
    near = legs.take(legs.far <= 1.5 * depth)
    first, last = near.times()
    met = np.isfinite(first)
    tips, first, last = tips[met], first[met], last[met]
    arrival = tree.rise(xy[met], first, reach / speeds[rows[met]], plan.begins[rows[met]])
    image = 180.0 / np.maximum(angles[tips], 1.0)
    unit = depth**2 / (2.0 * plate.diffusivity)
    strength: Floats = np.zeros(len(met))
    for share in PEAK_TIMES:
        at = np.full(len(met), -np.inf)
        at[met] = last + share * unit
        age = at[legs.target] - sources.times[legs.piece]
        wide = 4.0 * plate.diffusivity * np.maximum(age, 1e-9)
        bell = np.exp(-(legs.far**2 + depth**2) / wide) / (np.pi * wide)
        each = np.where(age > 0.0, 2.0 * sources.heat[legs.piece] * bell, 0.0)
        strength = np.maximum(strength, np.bincount(legs.target, each, len(met)))
    return tips, arrival, arrival + image * strength[met] / plate.density_heat
