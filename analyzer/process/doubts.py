"""Doubts about the shop's own cutting rows: typing errors found by the energy balance,
by neighbours in thickness and by the starter values."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import groupby, pairwise

from analyzer.process.energy import energy_balance
from analyzer.process.load import table
from analyzer.process.recipe import kerf_rule
from analyzer.process.speed import starter_speed
from analyzer.process.tables import OwnRow, RowDoubt


def row_doubts(rows: Iterable[OwnRow]) -> tuple[RowDoubt, ...]:
    """Return the doubts about `rows`, confirmed rows included.

    Fusion rows must not need more of the beam than it can give, nor get faster with
    thickness; oxygen rows must fit their neighbours in thickness; no row may be several
    times the starter value.  One doubt per row, the gravest.
    """
    rows = sorted(rows, key=lambda r: (r.material, r.gas, r.power_kw, r.thickness_mm))
    doubts: dict[int, RowDoubt] = {}
    for row in rows:
        doubt = (_energy_doubt(row) if row.gas != "oxygen" else None) or _starter_doubt(row)
        if doubt:
            doubts[id(row)] = doubt
    for (_, gas, _), family in groupby(rows, key=lambda r: (r.material, r.gas, r.power_kw)):
        # a row refused already must not cast doubt on its neighbours
        fine = [r for r in family if not (id(r) in doubts and doubts[id(r)].set_aside)]
        for thin, thick in pairwise(fine):
            doubt = _neighbour_doubt(thin, thick) if gas == "oxygen" else _rising_doubt(thin, thick)
            if doubt and not {id(thin), id(thick)} & doubts.keys():
                doubts[id(doubt.row)] = doubt
    return tuple(doubts[id(r)] for r in rows if id(r) in doubts)


def _energy_doubt(row: OwnRow) -> RowDoubt | None:
    limits = table("speed", "doubt")
    kerf = row.kerf_mm or kerf_rule(row.material, row.gas, row.thickness_mm)
    need = energy_balance(
        row.material, row.thickness_mm, kerf, row.speed_m_per_min, row.power_kw
    ).absorbed
    if need > limits["absorbed_most"]:
        return RowDoubt(
            row,
            f"{row.speed_m_per_min:g} m/min is faster than the beam energy allows: check "
            "thickness, power and the unit of the speed",
            need,
            limits["absorbed_most"],
            "absorbed power / laser power",
            True,
        )
    starter = starter_speed(
        row.material, row.gas, row.thickness_mm, row.power_kw, row.oxygen_share_percent or 0.0
    )
    motion_limited = starter is not None and starter.capped
    if need < limits["absorbed_least"] and not motion_limited:
        return RowDoubt(
            row,
            f"{row.speed_m_per_min:g} m/min uses little of the beam: throttled, or a typing "
            "error; the row is used",
            need,
            limits["absorbed_least"],
            "absorbed power / laser power",
            False,
        )
    return None


def _starter_doubt(row: OwnRow) -> RowDoubt | None:
    starter = starter_speed(
        row.material, row.gas, row.thickness_mm, row.power_kw, row.oxygen_share_percent or 0.0
    )
    most = table("speed", "doubt")["times_starter_most"]
    if starter is None or row.speed_m_per_min <= most * starter.m_per_min:
        return None
    return RowDoubt(
        row,
        f"{row.speed_m_per_min:g} m/min is {row.speed_m_per_min / starter.m_per_min:.3g} times "
        "the starter value: check the unit of the speed",
        row.speed_m_per_min / starter.m_per_min,
        most,
        "speed / starter speed",
        True,
    )


def _neighbour_doubt(thin: OwnRow, thick: OwnRow) -> RowDoubt | None:
    """Return a doubt where oxygen speed rises with thickness, or falls too steeply."""
    limits = table("speed", "doubt")
    ratio = thin.speed_m_per_min / thick.speed_m_per_min
    steps = math.log(thick.thickness_mm / thin.thickness_mm) / math.log(
        limits["oxygen_step_thickness"]
    )
    most = limits["oxygen_step_most"] ** steps
    if 1.0 <= ratio <= most:
        return None
    odd = max((thin, thick), key=_distance_from_starter)
    other = thick if odd is thin else thin
    if ratio < 1.0:
        said, limit = "oxygen gets slower with thickness", 1.0
    else:
        said, limit = f"more than {most:.3g} times apart", most
    return RowDoubt(
        odd,
        f"{odd.speed_m_per_min:g} m/min at {odd.thickness_mm:g} mm does not fit "
        f"{other.speed_m_per_min:g} m/min at {other.thickness_mm:g} mm: {said}",
        ratio,
        limit,
        "speed of the thinner / speed of the thicker",
        True,
    )


def _rising_doubt(thin: OwnRow, thick: OwnRow) -> RowDoubt | None:
    """Return a doubt where a fusion speed rises with thickness: grave where it rises much."""
    limits = table("speed", "doubt")
    rise = thick.speed_m_per_min / thin.speed_m_per_min
    if rise <= limits["fusion_rise_hint"]:
        return None
    grave = rise > limits["fusion_rise_most"]
    odd = max((thin, thick), key=_distance_from_starter)
    other = thick if odd is thin else thin
    return RowDoubt(
        odd,
        f"{odd.speed_m_per_min:g} m/min at {odd.thickness_mm:g} mm does not fit "
        f"{other.speed_m_per_min:g} m/min at {other.thickness_mm:g} mm: cutting gets slower with "
        f"thickness{'' if grave else '; the row is used'}",
        rise,
        limits["fusion_rise_most" if grave else "fusion_rise_hint"],
        "speed of the thicker / speed of the thinner",
        grave,
    )


def _distance_from_starter(row: OwnRow) -> float:
    starter = starter_speed(row.material, row.gas, row.thickness_mm, row.power_kw)
    return 0.0 if starter is None else abs(math.log(row.speed_m_per_min / starter.m_per_min))
