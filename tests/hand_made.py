"""Results made by hand: a plate with a hole and what each gas would do to it, as plain numbers.

For the stations at the end of the line, which weigh and word results, not make them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.analysis import Analysis, GasResult, totals_of
from analyzer.drawing.drawing import Account, Drawing, Entity, Fact, Ignored, UnitsFound
from analyzer.effects.evidence import EdgeForecast, Evidence
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.money import Bill, cost_of
from analyzer.motion.plan import Plan, Profile, Timing
from analyzer.parts.part import Hole, Part, PartSet
from analyzer.process.choose import LeftOut, settings_for
from analyzer.process.flow import NO_GAS, GasUse
from analyzer.process.rework import Rework
from analyzer.rules.rule import Finding
from analyzer.shop import Shop, load_shop

JOB = Job("mild-steel", 10.0, 10.0)
NO_SHOP = load_shop(None, None)


def plate(part_id: str = "P1", count: int = 1) -> Part:
    """Return a 100 x 60 plate with a hole of 12 in the middle."""
    outline = Contours.from_points([[0, 0], [100, 0], [100, 60], [0, 60]])
    hole = Contours.circle(50.0, 30.0, 6.0).reversed()
    nothing = Contours.empty()
    return Part(
        part_id, count, None, Contours.join([outline, hole]), nothing, nothing,
        (Hole(50.0, 30.0, 12.0, 1),), (), (), (), ((0, 1),),
    )  # fmt: skip


def part_set(
    *parts: Part, file: str = "plate.dxf", ignored: Sequence[Ignored] = (),
    facts: Sequence[Fact] = (), layer: str = "0",
) -> PartSet:  # fmt: skip
    """Return a drawing of `parts` with the entities they were made from."""
    cuts = Contours.join([part.contours for part in parts])
    sources = tuple((Entity(str(row), "LINE", layer),) for row in range(len(cuts)))
    used = len(cuts)
    drawing = Drawing(
        file, UnitsFound("mm", "header", 1.0), cuts, sources, Contours.empty(), Contours.empty(),
        Account(used + sum(r.count for r in ignored), used, tuple(ignored)), Account(0, 0),
        tuple(facts),
    )  # fmt: skip
    return PartSet(drawing, tuple(parts), Contours.empty())


@dataclass
class Case:
    """One gas as plain numbers: machine [s], hand work [min], metres by burr class, losses."""

    machine: float
    hand: float = 0.0
    edge: tuple[float, float, float, float] = (0.3577, 0.0, 0.0, 0.0)
    losses: Sequence[tuple[str, tuple[float, float]]] = ()
    findings: Sequence[Finding] = ()
    use: GasUse = NO_GAS


def loss(rule: str, place: tuple[float, float] = (50.0, 30.0), mark: int = 1) -> Finding:
    """Return a finding of level loss on the plate."""
    return Finding(
        mark, rule, "loss", "P1", 1, (place,), 12.0, 10.0, "mm", f"{rule} at one place", "Drill it."
    )


def plan(part: Part, timing: Timing) -> Plan:
    """Return a plan that says nothing but its times."""
    count = len(part.contours)
    none = np.zeros(0)
    profile = Profile(none, none, none, none, none, 8000.0)
    return Plan(
        np.arange(count), part.contours, np.arange(len(part.contours.bulges)), profile,
        np.zeros(count), np.zeros((count, 2)), np.full(count, np.inf), timing, np.zeros(count),
    )  # fmt: skip


def analysis(
    cases: dict[str, Case], *, job: Job = JOB, shop: Shop = NO_SHOP, parts: PartSet | None = None,
    left_out: Sequence[LeftOut] = (),
) -> Analysis:  # fmt: skip
    """Return an analysis with one result for every gas of `cases`, all on one plate."""
    found = parts or part_set(plate())
    settings, _ = settings_for(replace(job, gases=tuple(cases))) if cases else ((), ())
    results = []
    for setting in settings:
        case = cases[setting.gas]
        timing = Timing(cut=case.machine)
        each = Timing(cut=case.machine / max(1, sum(p.count for p in found.parts)))
        share = np.array(case.edge) / max(1, sum(p.count for p in found.parts))
        evidence = tuple(
            Evidence(part, setting, plan(part, each), EdgeForecast(0.0, np.array([share]), ()))
            for part in found.parts
        )
        totals = totals_of(found, job)
        bill = Bill(timing, NO_GAS, 0.0, case.hand, totals.weight, totals.parts, job.material)
        results.append(GasResult(
            job.material, setting, evidence, None, timing, case.edge,
            (Rework(case.hand, 0.0, 0.0, 0.0, ()),), case.hand,
            (*(loss(rule, place) for rule, place in case.losses), *case.findings),
            gas_nm3=case.use, bill=replace(bill, use=case.use),
            cost=cost_of(replace(bill, use=case.use), shop.rates) if shop.rates else None,
        ))  # fmt: skip
    return Analysis(found, job, shop, tuple(results), tuple(left_out))
