"""Burr class along the edges of one part under one gas: the formula of docs/burr.md."""

from __future__ import annotations

import numpy as np

from analyzer.effects.evidence import BurrSpot, EdgeForecast, HeatForecast
from analyzer.effects.speeds import programmed_speeds, slow_lengths, slowest_under_way
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.job import Job
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part
from analyzer.process.burr import CLASSES, BurrTerms, burr_terms
from analyzer.process.setting import Setting

SMALL, SLOW, HOT = "small contour", "slow corner", "heat"


def forecast_edges(
    part: Part, plan: Plan, setting: Setting, job: Job, heat: HeatForecast | None = None
) -> EdgeForecast:
    """Return the burr class along the edges of `part`.

    Parameters
    ----------
    part : Part
        The part, or the pseudo part of loose open cut lines.
    plan : Plan
        Its plan under `setting`.
    setting, job : Setting, Job
        The gas, and material, thickness, power and plate.
    heat : HeatForecast, optional
        What the head meets along the edges; without it none is hot.

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
    where = contours.centroid
    if terms.slow_fraction and worse > straight:
        least, where = slowest_under_way(contours, plan)
        by_segment = slow_lengths(contours, plan, limits)
        slow = np.bincount(contours.owner, by_segment, len(contours)).astype(float)
        slow[least >= limits] = 0.0  # slow only as it starts and ends: nobody brushes that
    raised = np.where(small, length, np.minimum(slow, length))
    hot, hottest = _hot(heat, terms.heat_limit, length)
    share = np.divide(hot, length, out=np.zeros(len(length)), where=length > 0.0)
    metres = np.zeros((len(contours), CLASSES))
    for classes, some in ((terms.classes, 1.0 - share), (terms.hot_classes, share)):
        metres[:, classes[0]] += some * (length - raised) / 1000.0
        metres[:, classes[1]] += some * raised / 1000.0
    spots = _hot_spots(heat, hot, hottest, small, terms)
    if worse > straight:
        spots += _spots(part, small, raised, where, hot, terms)
    base = float(np.clip(terms.straight, 0.0, terms.most))
    order = sorted(spots, key=lambda spot: (-spot.burr_class, -spot.length, spot.row))
    return EdgeForecast(base, metres, tuple(order))


def _hot(heat: HeatForecast | None, limit: float, length: Floats) -> tuple[Floats, Ints]:
    """Return the hot length of every contour, shape (n,) [mm], and its hottest station."""
    hot: Floats = np.zeros(len(length))
    hottest = np.full(len(length), -1)
    if heat is None or heat.field is None:
        return hot, hottest
    field = heat.field
    over = np.flatnonzero(field.station_rises > limit)
    np.add.at(hot, field.station_rows[over], field.station_lengths[over])
    over = over[np.argsort(field.station_rises[over], kind="stable")]
    hottest[field.station_rows[over]] = over  # the hottest is written last
    return np.minimum(hot, length), hottest


def _hot_spots(
    heat: HeatForecast | None, hot: Floats, hottest: Ints, small: Bools, terms: BurrTerms
) -> tuple[BurrSpot, ...]:
    """One spot for every contour that is hot and not small, at its hottest place."""
    if heat is None or heat.field is None or terms.hot_classes[0] <= terms.classes[0]:
        return ()
    rows = np.flatnonzero((hot > 0.0) & ~small)
    places = heat.field.station_xy[hottest[rows]]
    return tuple(
        BurrSpot(x, y, length, terms.hot_classes[0], HOT, row)
        for (x, y), length, row in zip(
            places.tolist(), hot[rows].tolist(), rows.tolist(), strict=True
        )
    )


def _spots(
    part: Part, small: Bools, raised: Floats, where: Floats, hot: Floats, terms: BurrTerms
) -> tuple[BurrSpot, ...]:
    """One spot for every small contour, and for every contour that is slow under way."""
    chosen = np.flatnonzero(raised > 0.0)
    places = np.where(small[:, None], part.contours.centroid, where)
    classes = np.where(small & (hot > 0.0), terms.hot_classes[1], terms.classes[1])
    return tuple(
        BurrSpot(x, y, length, burr_class, SMALL if is_small else SLOW, row)
        for (x, y), length, burr_class, is_small, row in zip(
            places[chosen].tolist(), raised[chosen].tolist(), classes[chosen].tolist(),
            small[chosen].tolist(), chosen.tolist(), strict=True,
        )
    )  # fmt: skip
