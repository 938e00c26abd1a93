"""Burr class along the edges of one part under one gas: the formula of docs/burr.md."""

from __future__ import annotations

import numpy as np

from analyzer.effects.evidence import BurrSpot, EdgeForecast
from analyzer.effects.speeds import moving_least, programmed_speeds, slow_lengths
from analyzer.geometry.contours import Bools, Floats
from analyzer.job import Job
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part
from analyzer.process.burr import CLASSES, burr_terms
from analyzer.process.setting import Setting


def forecast_edges(part: Part, plan: Plan, setting: Setting, job: Job) -> EdgeForecast:
    """Return the burr class along the edges of `part`.

    Parameters
    ----------
    part : Part
        The part, or the pseudo part of loose open cut lines.
    plan : Plan
        Its plan under `setting`.
    setting, job : Setting, Job
        The gas, and material, thickness, power and plate.

    Returns
    -------
    EdgeForecast
        The four metres of every contour add up to its drawn length.
    """
    terms = burr_terms(setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    straight, worse = terms.classes
    contours = part.contours
    length = contours.length
    small = plan.ratios < terms.small_contour_ratio
    slow: Floats = np.zeros(len(contours))
    limits = terms.slow_fraction * programmed_speeds(plan, setting)
    if terms.slow_fraction and worse > straight:
        by_segment = slow_lengths(contours, plan, limits)
        slow = np.bincount(contours.owner, by_segment, len(contours)).astype(float)
    raised = np.where(small, length, np.minimum(slow, length))
    metres = np.zeros((len(contours), CLASSES))
    metres[:, straight] += (length - raised) / 1000.0
    metres[:, worse] += raised / 1000.0
    spots = _spots(part, plan, small, raised, limits, worse) if worse > straight else ()
    base = float(np.clip(terms.straight, 0.0, terms.most))
    return EdgeForecast(base, metres, spots)


def _spots(
    part: Part, plan: Plan, small: Bools, raised: Floats, limits: Floats, burr_class: int
) -> tuple[BurrSpot, ...]:
    """One spot for every small contour, and for every contour that is slow under way.

    Where a contour is slow only because it starts and ends there is no spot.
    """
    slowest, where = _slowest(part, plan)
    chosen = np.flatnonzero((small | (slowest < limits)) & (raised > 0.0))
    places = np.where(small[:, None], part.contours.centroid, where)
    order = chosen[np.lexsort((chosen, -raised[chosen]))]
    return tuple(
        BurrSpot(x, y, length, burr_class, "small contour" if is_small else "slow corner", row)
        for (x, y), length, is_small, row in zip(
            places[order].tolist(), raised[order].tolist(), small[order].tolist(),
            order.tolist(), strict=True,
        )
    )  # fmt: skip


def _slowest(part: Part, plan: Plan) -> tuple[Floats, Floats]:
    """Return the least speed under way on every contour, shape (n,) [mm/s], and where [mm]."""
    places = part.contours.centroid.copy()
    least = np.full(len(places), np.inf)
    if not len(plan.path.bulges):
        return least, places
    speeds, fractions = moving_least(plan)
    order = np.lexsort((speeds, plan.path.owner))
    rows, first = np.unique(plan.path.owner[order], return_index=True)
    pick = order[first]
    least[rows] = speeds[pick]
    places[rows] = part.contours.points_at(plan.source[pick], fractions[pick])
    return least, places
