"""Findings on the plans of the motion station."""

import numpy as np

from analyzer.drawing.drawing import Account, Drawing, Entity, UnitsFound
from analyzer.effects.edges import forecast_edges
from analyzer.effects.evidence import Evidence
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.parts.find import find_parts
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.rules.judge import judge
from analyzer.rules.limits import load_limits
from analyzer.rules.rule import Finding

EMPTY = Contours.empty()


def findings_on(cuts: Contours, job: Job) -> dict[str, tuple[Finding, ...]]:
    """Return the findings of closed contours by gas."""
    sources = tuple((Entity(str(row), "LWPOLYLINE", "0"),) for row in range(len(cuts)))
    drawing = Drawing(
        "part.dxf", UnitsFound("mm", "header", 1.0), cuts, sources, EMPTY, EMPTY,
        Account(len(cuts), len(cuts)), Account(0, 0),
    )  # fmt: skip
    parts = find_parts(drawing, job.thickness_mm)
    settings, _ = settings_for(job)
    evidence = []
    for setting in settings:
        plans = [plan_alone(p, setting, Machine(), job.thickness_mm) for p in parts.parts]
        evidence.append(
            [
                Evidence(p, setting, plan, forecast_edges(p, plan, setting, job))
                for p, plan in zip(parts.parts, plans, strict=True)
            ]
        )
    found = judge(parts, job, evidence, [None] * len(settings), settings, load_limits())
    return {setting.gas: each for setting, each in zip(settings, found, strict=True)}


def comb() -> Contours:
    """Return a plate whose upper edge is 400 segments of 5 mm at right angles."""
    steps = np.array([[5.0, 0.0], [0.0, 5.0], [5.0, 0.0], [0.0, -5.0]])
    edge = np.cumsum(np.tile(steps, (100, 1)), axis=0)
    points = np.vstack(([[0.0, 0.0]], edge)) * [-1.0, 1.0] + [1000.0, 100.0]
    return Contours.from_points(np.vstack(([[0.0, 0.0], [1000.0, 0.0]], points)))


def test_comb_of_400_corners_is_at_most_one_line() -> None:
    """2 mm on 6 kW: nothing about corners on thin sheet; 6 mm: one line (common practice)."""
    corner_rules = {"tip-too-sharp", "inside-radius-too-tight", "corner-slows"}
    for gas, findings in findings_on(comb(), Job("mild-steel", 2.0, 6.0)).items():
        assert not [f for f in findings if f.rule in corner_rules], gas
    thick = findings_on(comb(), Job("mild-steel", 6.0, 20.0))["nitrogen"]
    (slow,) = [f for f in thick if f.rule == "corner-slows"]
    assert 395 <= slow.count <= 404
    assert len([f for f in thick if f.rule in corner_rules]) == 1


def test_turning_the_drawing_changes_no_finding() -> None:
    """Same rules, levels, counts and sizes when the part is turned by 33 degrees."""
    c, s = np.cos(np.radians(33.0)), np.sin(np.radians(33.0))
    flat = Contours.join([
        Contours.from_points([[0, 0], [200, 0], [200, 120], [90, 120], [0, 60]]),
        Contours.circle(30, 30, 3).reversed(), Contours.circle(60, 30, 3).reversed(),
        Contours.from_points([[100, 40], [150, 40], [150, 45], [100, 45]]).reversed(),
    ])  # fmt: skip
    job = Job("mild-steel", 10.0, 12.0, tolerance="2768-m")

    def told(cuts: Contours) -> list[list[tuple[str, str, int, float]]]:
        return [
            [(f.rule, f.level, f.count, round(f.measured, 6)) for f in findings]
            for findings in findings_on(cuts, job).values()
        ]

    assert told(flat) == told(flat.moved([[c, -s], [s, c]], (500.0, -70.0)))


def test_mirrored_copy_is_told_as_the_other_hand() -> None:
    part = Contours.from_points([[0, 0], [200, 0], [200, 60], [60, 60], [60, 140], [0, 140]])
    cuts = Contours.join(
        [part, part.moved([[-1, 0], [0, 1]], (500.0, 0.0)), part.moved(np.eye(2), (0.0, 300.0))]
    )
    for findings in findings_on(cuts, Job("mild-steel", 5.0, 6.0)).values():
        (pair,) = [f for f in findings if f.rule == "left-right-pair"]
        assert pair.level == "note"
        assert "other hand" in pair.message
