"""Numbers of heat and of the worst stretches of edge: what can be asked "why?"."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from analyzer.effects.evidence import Evidence, HeatField, HeatForecast
from analyzer.geometry.contours import Floats
from analyzer.headlines import Headline, Number
from analyzer.job import Job
from analyzer.process.burr import burr_terms
from analyzer.process.setting import Setting

_Telling = Callable[[Evidence, HeatField, int], dict[str, str]]

_HEAT_SURE = "-10 to +15 % against finite differences; the heat left itself 0.65 to 1 of it"
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
    webbed = [(one, heat) for one, heat in heated if len(heat.strips)]
    if webbed:
        found.append(_bound(webbed))
    crowded = [(one, heat) for one, heat in heated if heat.pattern.any()]
    if crowded:
        found.append(_mean(crowded))
    followed = [(one, heat.field) for one, heat in heated if heat.field is not None]
    if followed:
        found += _met(followed)
    return (*found, *_stretches(on_parts, setting, job))


def _of(name: str, value: float, source: str, inputs: dict[str, str]) -> Number:
    head = HEAT[name]
    return Number(name, value, head.unit, head.formula, tuple(inputs.items()), source, head.sure)


def _at(part: str, x: float, y: float) -> str:
    return f"{part} at ({x:.2f}, {y:.2f})"


def _bound(webbed: Sequence[tuple[Evidence, HeatForecast]]) -> Number:
    one, heat = max(webbed, key=lambda pair: float(pair[1].strips.max()))
    k = int(np.argmax(heat.strips))
    web = one.part.webs[int(heat.webs[k])]
    where = {"where": _at(one.part.id, web.x, web.y), "width": f"{web.width:.2f} mm"}
    return _of("heat-bound", float(heat.strips[k]), "strip bound, docs/heat.md", where)


def _mean(crowded: Sequence[tuple[Evidence, HeatForecast]]) -> Number:
    one, heat = max(crowded, key=lambda pair: float(pair[1].pattern.max()))
    k = int(np.argmax(heat.pattern))
    x, y = one.part.contours.centroid[k].tolist()
    where = {"where": _at(one.part.id, x, y)}
    return _of("heat-mean", float(heat.pattern[k]), "pattern, docs/heat.md", where)


def _met(followed: Sequence[tuple[Evidence, HeatField]]) -> list[Number]:
    """Hottest web, tip and pierce over all parts."""
    found = []
    for name, (rises_of, told) in _PLACES.items():
        hot = [(one, field) for one, field in followed if len(rises_of(field))]
        if hot:
            one, field = max(hot, key=lambda pair: float(rises_of(pair[1]).max()))
            rises = rises_of(field)
            k = int(np.argmax(rises))
            inputs = told(one, field, k)
            found.append(
                _of(name, float(rises[k]), "superposition in cutting order, docs/heat.md", inputs)
            )
    return found


def _web(one: Evidence, field: HeatField, k: int) -> dict[str, str]:
    assert one.heat is not None  # it is where the field is from
    web = one.part.webs[int(one.heat.webs[k])]
    return {
        "where": _at(one.part.id, web.x, web.y),
        "width": f"{web.width:.2f} mm",
        "met there": f"{field.web_arrival[k]:.0f} K",
    }


def _tip(one: Evidence, field: HeatField, k: int) -> dict[str, str]:
    tip = one.part.corners[int(field.tips[k])]
    return {
        "where": _at(one.part.id, tip.x, tip.y),
        "angle": f"{tip.angle:.0f} degrees",
        "met there": f"{field.tip_arrival[k]:.0f} K",
    }


def _pierce(one: Evidence, field: HeatField, k: int) -> dict[str, str]:
    x, y = one.plan.pierces[k].tolist()
    return {"where": _at(one.part.id, x, y)}


_PLACES: dict[str, tuple[Callable[[HeatField], Floats], _Telling]] = {
    "heat-web": (lambda field: field.web_peak, _web),
    "heat-tip": (lambda field: field.tip_peak, _tip),
    "heat-pierce": (lambda field: field.pierces, _pierce),
}
"""Rises along the cutting order, in the order they are told, and what is said of the highest."""


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
