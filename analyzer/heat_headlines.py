"""Numbers of heat and of the worst stretches of edge: what can be asked "why?"."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.effects.evidence import Evidence, HeatField
from analyzer.headlines import Headline, Number
from analyzer.job import Job
from analyzer.process.burr import burr_terms
from analyzer.process.setting import Setting

_HEAT_SURE = "+-15 % against finite differences; the heat left itself 0.65 to 1 of it"
_WORST = ("burr-at-1", "burr-at-2", "burr-at-3")
HEAT: dict[str, Headline] = {
    row[0]: Headline(*row)
    for row in (
        ("heat-left", "heat a cut leaves in the plate, both sides together", "J/mm2",
         "conduction loss of the front / (speed x thickness), 4 k dT (v w / 4 alpha)^0.36 / v",
         "an upper estimate: 0.65 to 1 of it"),
        ("heat-bound", "greatest bound of the rise in a web", "K",
         "heat left / (rho c x width) x erf(facing length / width), both sides cut at once",
         "a bound, not what is met"),
        ("heat-web", "highest mean rise of a web along the cutting order", "K",
         "heat of all earlier cuts + that of its second side shut in between two kerfs",
         _HEAT_SURE),
        ("heat-tip", "highest rise of a tip, a quarter of the thickness behind it", "K",
         "heat met + 180 / angle x that of its own edges",
         "-12 to +25 % against images, high at sharp tips; the heat left itself 0.65 to 1 of it"),
        ("heat-pierce", "warmest plate the beam meets at a pierce", "K",
         "sum over all earlier cuts, old ones merged, less what the air takes", _HEAT_SURE),
        ("heat-mean", "greatest mean rise around a cut-out once all are cut", "K",
         "half the heat left x edge per area / (rho c x share of plate left)",
         "+-15 %: what leaves the pattern is left out"),
        *((name, f"worst stretch of edge, number {name[-1]}", "burr class",
           "base + power + plate + 1 if small or slow + 1 if met hot in oxygen, rounded",
           "a table of common practice, no source: one class up or down") for name in _WORST),
    )
}  # fmt: skip


def heat_numbers(on_parts: Sequence[Evidence], setting: Setting, job: Job) -> tuple[Number, ...]:
    """Return the numbers of heat, and the three worst stretches of edge, worst first.

    Parameters
    ----------
    on_parts : sequence of Evidence
        One for every distinct part.
    setting, job : Setting, Job
        The gas; material, thickness, power and plate.
    """
    found: list[Number] = []
    heated = [(one, one.heat) for one in on_parts if one.heat is not None]
    if heated:
        found.append(
            _of(
                "heat-left",
                heated[0][1].left,
                setting.speed_source,
                {
                    "speed": f"{setting.speed_m_per_min:.2f} m/min",
                    "kerf": f"{setting.kerf_mm:.2f} mm",
                    "thickness": f"{job.thickness_mm:g} mm",
                },
            )
        )
    webbed = [one for one, heat in heated if len(heat.strips)]
    if webbed:
        found += _bound(webbed)
    crowded = [one for one, heat in heated if heat.pattern.any()]
    if crowded:
        found += _mean(crowded)
    followed = [(one, heat.field) for one, heat in heated if heat.field is not None]
    if followed:
        found += _met(followed)
    return (*found, *_stretches(on_parts, setting, job))


def _of(name: str, value: float, source: str, inputs: dict[str, str]) -> Number:
    head = HEAT[name]
    return Number(name, value, head.unit, head.formula, tuple(inputs.items()), source, head.sure)


def _at(part: str, x: float, y: float) -> str:
    return f"{part} at ({x:.2f}, {y:.2f})"


def _bound(webbed: Sequence[Evidence]) -> list[Number]:
    def highest(one: Evidence) -> float:
        return float(one.heat.strips.max()) if one.heat else 0.0

    worst = max(webbed, key=highest)
    if worst.heat is None:
        return []
    web = worst.part.webs[int(worst.heat.webs[np.argmax(worst.heat.strips)])]
    return [
        _of(
            "heat-bound",
            highest(worst),
            "strip bound, docs/heat.md",
            {"where": _at(worst.part.id, web.x, web.y), "width": f"{web.width:.2f} mm"},
        )
    ]


def _mean(crowded: Sequence[Evidence]) -> list[Number]:
    def highest(one: Evidence) -> float:
        return float(one.heat.pattern.max()) if one.heat else 0.0

    worst = max(crowded, key=highest)
    row = int(np.argmax(worst.heat.pattern)) if worst.heat else 0
    x, y = worst.part.contours.centroid[row].tolist()
    return [
        _of(
            "heat-mean",
            highest(worst),
            "pattern, docs/heat.md",
            {"where": _at(worst.part.id, x, y)},
        )
    ]


def _met(followed: Sequence[tuple[Evidence, HeatField]]) -> list[Number]:
    """Hottest web, tip and pierce over all parts."""
    rows: dict[str, tuple[float, dict[str, str]]] = {}

    def keep(name: str, value: float, inputs: dict[str, str]) -> None:
        if name not in rows or value > rows[name][0]:
            rows[name] = value, inputs

    for one, field in followed:
        part = one.part
        if len(field.web_peak) and one.heat is not None:
            k = int(np.argmax(field.web_peak))
            web = part.webs[int(one.heat.webs[k])]
            keep(
                "heat-web",
                float(field.web_peak[k]),
                {
                    "where": _at(part.id, web.x, web.y),
                    "width": f"{web.width:.2f} mm",
                    "met there": f"{field.web_arrival[k]:.0f} K",
                },
            )
        if len(field.tip_peak):
            k = int(np.argmax(field.tip_peak))
            tip = part.corners[int(field.tips[k])]
            keep(
                "heat-tip",
                float(field.tip_peak[k]),
                {
                    "where": _at(part.id, tip.x, tip.y),
                    "angle": f"{tip.angle:.0f} degrees",
                    "met there": f"{field.tip_arrival[k]:.0f} K",
                },
            )
        if len(field.pierces):
            k = int(np.argmax(field.pierces))
            x, y = one.plan.pierces[k].tolist()
            keep("heat-pierce", float(field.pierces[k]), {"where": _at(part.id, x, y)})
    return [_of(name, *_told(rows[name])) for name in HEAT if name in rows]


def _told(row: tuple[float, dict[str, str]]) -> tuple[float, str, dict[str, str]]:
    return row[0], "superposition in cutting order, docs/heat.md", row[1]


def _stretches(on_parts: Sequence[Evidence], setting: Setting, job: Job) -> list[Number]:
    """The three worst stretches of edge: place, length and cause."""
    spots = [(one.part.id, spot) for one in on_parts for spot in one.edges.spots[: len(_WORST)]]
    spots.sort(key=lambda row: (-row[1].burr_class, -row[1].length))
    terms = burr_terms(setting.gas, job.material, job.thickness_mm, job.power_kw, job.plate)
    made = {
        "base": f"{terms.base:.2f}", "power": f"{terms.power_shift:+g}",
        "plate": f"{terms.plate_add:+g}",
    }  # fmt: skip
    return [
        _of(name, float(spot.burr_class), terms.source, {
            "where": _at(part, spot.x, spot.y), "length": f"{spot.length:.1f} mm",
            "because": spot.cause, **made})
        for name, (part, spot) in zip(_WORST, spots, strict=False)
    ]  # fmt: skip
