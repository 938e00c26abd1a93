"""Drawings, parts and evidence made by hand from the few words of a case file.

Everything a rule reads is written down here by plain geometry, so that a case depends on
no other station; only the settings are those of the process tables.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from analyzer.drawing.drawing import (
    Account,
    Dimension,
    Dimensions,
    Drawing,
    Entity,
    Fact,
    Text,
    UnitsFound,
)
from analyzer.effects.drop import forecast_drop, lay_on_slats
from analyzer.effects.drop_sheet import drops_on_sheet
from analyzer.effects.edges import forecast_edges
from analyzer.effects.evidence import Evidence
from analyzer.effects.heat import forecast_heat
from analyzer.effects.heat_sheet import forecast_sheet_heat
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.spacing import spaces_of
from analyzer.motion.plan import Plan, Profile, Timing
from analyzer.motion.sheet import plan_sheet
from analyzer.parts.part import Corner, Hole, Neck, Part, PartSet, Slot, Web
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting
from analyzer.process.supply import Supplies, Supply
from analyzer.process.tables import OwnRow
from analyzer.rules.judge import judge
from analyzer.rules.judge_sheet import judge_sheet
from analyzer.rules.limits import load_limits
from analyzer.rules.rule import Finding
from analyzer.rules.sheet import TooLarge, larger_than_sheets
from analyzer.rules.sheet_scene import SheetCase

ACCELERATION = 8000.0  # [mm/s^2]
START = 4.0  # start, pierce, lead-in and move before every contour [s]
EMPTY = Contours.empty()


def job_of(case: Mapping[str, Any]) -> Job:
    """Return the job of a case."""
    told = dict(case["job"])
    return Job(
        told["material"], float(told["thickness"]), float(told["power"]),
        plate=told.get("plate", "clean"), next_step=told.get("next"),
        gases=(case["gas"],), tolerance=told.get("tolerance"),
    )  # fmt: skip


def rectangle(x: float, y: float, width: float, height: float) -> Contours:
    """Return a rectangle from its lower left corner, counter-clockwise."""
    return Contours.from_points([[x, y], [x + width, y], [x + width, y + height], [x, y + height]])


def obround(x: float, y: float, width: float, length: float) -> Contours:
    """Return a slot with round ends along x, about its middle, clockwise."""
    r, half = width / 2.0, (length - width) / 2.0
    return Contours.from_points(
        [[x - half, y - r], [x + half, y - r], [x + half, y + r], [x - half, y + r]],
        [0.0, 1.0, 0.0, 1.0],
    ).reversed()


def corners_of(contours: Contours, row: int) -> list[Corner]:
    """Return every corner of a straight-sided contour, with the angle of the metal."""
    some = contours.segments_of(row)
    turns = np.degrees(contours.turns[some])  # left is positive; metal lies on the left
    ways = np.cumsum(contours.lengths[some]) - contours.lengths[some]
    return [
        Corner(float(x), float(y), 180.0 - float(turn), 0.0, abs(float(turn)), row, float(way))
        for (x, y), turn, way in zip(contours.starts[some], turns, ways, strict=True)
        if abs(turn) > 3.0
    ]


def part_of(told: Mapping[str, Any], number: int, first_row: int) -> Part:
    """Return a part from the words of a case."""
    x0, y0 = told.get("at", (0.0, 0.0))
    if "outline" in told:
        outline = Contours.from_points(np.add(told["outline"], (x0, y0)))
    elif "disc" in told:
        outline = Contours.circle(x0, y0, told["disc"] / 2.0)
    else:
        outline = rectangle(x0, y0, *told["plate"])
    rings = [outline]
    holes, slots = [], []
    for x, y, d in told.get("holes", ()):
        holes.append(Hole(x0 + x, y0 + y, d, len(rings)))
        rings.append(Contours.circle(x0 + x, y0 + y, d / 2.0).reversed())
    for x, y, width, length in told.get("slots", ()):
        slots.append(Slot(x0 + x, y0 + y, width, length, 0.0, len(rings)))
        rings.append(obround(x0 + x, y0 + y, width, length))
    windows = range(len(rings), len(rings) + len(told.get("windows", ())))
    for x, y, width, height in told.get("windows", ()):
        rings.append(rectangle(x0 + x, y0 + y, width, height).reversed())
    for points in told.get("open", ()):
        rings.append(Contours.from_points(points, closed=False))
    contours = Contours.join(rings)
    bends = [Contours.from_points(line, closed=False) for line in told.get("bends", ())]
    count = told.get("count", 1)
    rows = tuple(range(first_row, first_row + len(contours)))
    return Part(
        f"P{number}", count, told.get("other_hand_of"), contours, EMPTY, Contours.join(bends),
        tuple(holes), tuple(slots),
        (
            *(c for row in (0, *windows) for c in corners_of(contours, row)),
            *(
                Corner(x, y, angle, radius, abs(180.0 - angle), 0, 1.0)
                for x, y, angle, radius in told.get("corners", ())
            ),
        ),
        tuple(
            Web(x, y, width, (rows[0], rows[1]) if rows else (0, 1))
            for x, y, width, *rows in told.get("webs", ())
        ),
        (rows,) * count,
        necks=tuple(Neck(x, y, width, 0) for x, y, width in told.get("necks", ())),
    )  # fmt: skip


def part_set_of(case: Mapping[str, Any]) -> PartSet:
    """Return the drawing and parts of a case."""
    parts: list[Part] = []
    for number, told in enumerate(case.get("parts", ()), start=1):
        parts.append(part_of(told, number, sum(len(p.contours) for p in parts)))
    loose = Contours.join(
        [Contours.from_points(line, closed=False) for line in case.get("loose", ())]
    )
    cuts = Contours.join([*(part.contours for part in parts), loose])
    layer = case.get("layer", "0")
    drawing = Drawing(
        case.get("file", "plate.dxf"), UnitsFound("mm", "header", 1.0), cuts,
        tuple((Entity(str(row), "LINE", layer),) for row in range(len(cuts))),
        EMPTY, EMPTY, Account(len(cuts), len(cuts)), Account(0, 0),
        tuple(Fact(**fact) for fact in case.get("facts", ())),
        tuple(
            Text(t["text"], *t.get("at", (0.0, 0.0)), 3.5, t.get("layer", "0"),
                 t.get("kind", "text"))
            for t in case.get("texts", ())
        ),
        dimensions=Dimensions(
            case.get("dimensions", 0),
            tuple((k, n) for k, n in case.get("scales", ())),
            tuple(Dimension(*told) for told in case.get("disputed", ())),
        ),
    )  # fmt: skip
    return PartSet(drawing, tuple(parts), loose)


def plan_of(part: Part, setting: Setting, thickness: float, corner_fraction: float = 1.0) -> Plan:
    """Return a plan that runs on the drawn contours themselves.

    The head goes at the programmed speed, but for the joints of the outline, which it
    passes at `corner_fraction` of it; it starts and ends every contour at rest.
    """
    contours = part.contours
    with np.errstate(divide="ignore"):
        ratios = np.where(
            contours.closed, 4.0 * np.abs(contours.area) / contours.length / thickness, np.inf
        )
    programmed = setting.speed_mm_s * setting.small_contour_factor(ratios)
    ceiling = programmed[contours.owner]
    entry, leave = ceiling.copy(), ceiling.copy()
    outline = contours.segments_of(0)
    if contours.closed[0] and corner_fraction < 1.0:
        entry[outline] *= corner_fraction
        leave[outline] *= corner_fraction
    entry[contours.offsets[:-1]] = 0.0
    leave[contours.offsets[1:] - 1] = 0.0
    profile = Profile(
        contours.lengths, entry, leave, ceiling, contours.lengths / ceiling, ACCELERATION
    )
    count = len(contours)
    times = np.bincount(contours.owner, profile.times, count)
    order = np.roll(np.arange(count), -1)  # the outline last
    begins = np.zeros(count)
    begins[order] = START + np.cumsum(times[order] + START) - times[order] - START
    return Plan(
        order, contours, np.arange(len(contours.bulges)), profile,
        np.full(count, setting.lead_mm), contours.centroid, ratios, Timing(), times,
        begins=begins,
    )  # fmt: skip


def evidence_of(
    part: Part, setting: Setting, job: Job, corner_fraction: float = 1.0,
    blocked: Sequence[int] = (),
) -> Evidence:  # fmt: skip
    """Return the evidence of a part on a plan made by hand."""
    plan = plan_of(part, setting, job.thickness_mm, corner_fraction)
    plan = replace(plan, blocked=np.array(blocked, dtype=np.int64))
    drop = forecast_drop(lay_on_slats(part, Machine()), setting, job)
    heat = forecast_heat(part, plan, setting, job)
    edges = forecast_edges(part, plan, setting, job, heat)
    return Evidence(part, setting, plan, edges, drop, heat)


def findings_of(case: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what all rules find in a case under its gas; of a sheet, what the sheet rules do."""
    if "sheet" in case:
        return sheet_findings_of(case)
    return findings_by_gas(case, (case["gas"],))[0]


def findings_by_gas(
    case: Mapping[str, Any], gases: Sequence[str]
) -> tuple[tuple[Finding, ...], ...]:
    """Return what all rules find in a case under each of `gases`."""
    job = job_of({**case, "gas": gases[0]})
    parts = part_set_of(case)
    own = tuple(OwnRow(**row) for row in case.get("own_rows", ()))
    has = Supplies(by_gas={g: Supply(**told) for g, told in case.get("supplies", {}).items()})
    settings = [
        settings_for(job_of({**case, "gas": gas}), own_rows=own, supplies=has)[0][0]
        for gas in gases
    ]
    corner = case.get("corner_fraction", 1.0)
    evidence = [
        [
            evidence_of(part, setting, job, corner, told.get("blocked", ()))
            for part, told in zip(parts.parts, case.get("parts", ()), strict=True)
        ]
        for setting in settings
    ]
    return judge(
        parts, job, evidence, [None] * len(settings), settings,
        load_limits(case.get("limits", {})),
    )  # fmt: skip


def sheet_findings_of(case: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Return what the sheet rules find: parts laid at `sheet.at` as (part, x, y, turn)."""
    told, job = case["sheet"], job_of(case)
    parts = part_set_of(case).parts
    setting = settings_for(job)[0][0]
    placements = tuple(Placement(int(k), x, y, *turn) for k, x, y, *turn in told["at"])
    layout = Layout(parts, placements, *told.get("size", (0.0, 0.0)))
    spaces = spaces_of(layout)
    plan = plan_sheet(layout, setting, Machine(), job.thickness_mm, common=spaces.shared)
    sheet = SheetCase(
        job, setting, Machine(), load_limits(case.get("limits", {})), plan, spaces,
        [part.id for part in parts], forecast_sheet_heat(plan, setting, job),
        drops_on_sheet(layout, Machine()), drops_on_sheet(layout, Machine(), "x"),
    )  # fmt: skip
    more = [
        ("part-larger-than-sheet", draft)
        for large in told.get("too_large", ())
        for draft in larger_than_sheets([TooLarge(*large)], [told["size"]], told["margin"])
    ]
    return judge_sheet([sheet], more)[0]
