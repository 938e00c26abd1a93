"""How much metal is kept between parts and to the edge, and for which gas.

One layout serves all gases that are compared, so the largest any of them needs is kept.
Limits are those of the rules parts-too-close and margin-too-small; docs/sheets.md.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from analyzer.job import Job
from analyzer.process.setting import Setting
from analyzer.reasons import spoken
from analyzer.rules.limits import Limits, Row
from analyzer.sheeting import Kept

COMMON = " (common practice, no source)"
STEP = 0.5  # gaps are said and kept in half millimetres [mm]
LEAST_GAP, LEAST_MARGIN = 5.0, 10.0  # where no gas is listed and nothing is known [mm]


def gap_for(
    settings: Sequence[Setting], job: Job, limits: Limits, told: float | None, whose: str
) -> Kept:
    """Return the gap between parts: as told, else the largest any gas needs.

    A gas needs the web that carries skeleton and heat, and room for a pierce between two
    parts: lead-in + crater + kerf + what is left beside the crater.

    Parameters
    ----------
    settings : sequence of Setting
        One a gas.
    job, limits : Job, Limits
        Material and thickness; limits in force.
    told : float or None
        What the user gave. [mm]
    whose : str
        Who did: "as you said", "your shop file".
    """
    if told is not None:
        return Kept(told, whose)
    needs: list[tuple[float, str]] = []
    beside = limits.constant("parts-too-close", "beside_mm")
    for setting in settings:
        gas = spoken(setting.gas)
        row = limits.at("parts-too-close", setting.gas, job.material, job.thickness_mm)
        if row is not None:
            web = max(row["ok"] * job.thickness_mm, row["least_mm"])
            needs.append((web, f"the metal {gas} needs between parts{_whose(row)}"))
        room = setting.lead_mm + setting.crater_mm + setting.kerf_mm + beside
        words = (
            f"room for the pierce in {gas}: lead-in {setting.lead_mm:g} + crater"
            f" {setting.crater_mm:.2g} + kerf {setting.kerf_mm:.2g} + {beside:g}"
        )
        needs.append((room, f"{words} mm"))
    return _most(needs, LEAST_GAP)


def margin_for(
    settings: Sequence[Setting], job: Job, limits: Limits, told: float | None, whose: str
) -> Kept:
    """Return the distance to the edge: as told, else the largest any gas needs."""
    if told is not None:
        return Kept(told, whose)
    needs: list[tuple[float, str]] = []
    for setting in settings:
        row = limits.at("margin-too-small", setting.gas, job.material, job.thickness_mm)
        if row is not None:
            value = max(row["ok"] * job.thickness_mm, row["least_mm"])
            needs.append((value, f"the rim of the skeleton{_whose(row)}"))
    return _most(needs, LEAST_MARGIN)


def _most(needs: Sequence[tuple[float, str]], least: float) -> Kept:
    if not needs:
        return Kept(least, COMMON.strip(" ()"))
    value, why = max(needs, key=lambda need: need[0])
    return Kept(
        math.ceil(value / STEP - 1e-9) * STEP, f"{why}{COMMON if '(your' not in why else ''}"
    )


def _whose(row: Row) -> str:
    return " (your limit)" if row.own else ""
