"""Every finding and every worse stretch of edge can be traced to what it is made of.

All sample drawings in every gas, thin and thick.  A finding leads to a rule that says why, and its
limit to a value with a source, or to the number of the job or machine it is named after; a stretch
of edge to its contour, the terms that add up to its class, and its cause.
"""

import math
import tempfile
from functools import cache
from pathlib import Path

import ezdxf
import pytest
from shared import SAMPLES

import analyzer
from analyzer.analysis import GasResult
from analyzer.effects.drop import SAFE
from analyzer.effects.evidence import BurrSpot, Evidence
from analyzer.process.burr import burr_terms, round_class
from analyzer.process.machine import Machine
from analyzer.report.explain import explain_page
from analyzer.rules.limits import load_limits
from analyzer.rules.registry import RULES
from analyzer.rules.rule import Finding

NAMES = sorted(path.stem for path in SAMPLES.glob("*.dxf"))
CROWDED = "crowded"
"""A plate of our own: no sample has edges that are met hot."""

JOBS = {
    "mild steel 4": ("mild-steel", 4.0, 6.0), "mild steel 20": ("mild-steel", 20.0, 20.0),
    "stainless 6": ("stainless", 6.0, 6.0), "aluminium 8": ("aluminium", 8.0, 10.0),
}  # fmt: skip
RULE = {rule.name: rule for rule in RULES}
LIMITS = load_limits({})
NONE_AT_ALL = {
    "double-line", "gap-closed", "unit-guessed", "note-disagrees", "gas-unsuited",
    "left-right-pair",
    "open-contour", "speck", "view-not-part", "symbol-not-cut", "islands-fall-out",
}  # fmt: skip
"""What must not be there at all, or be there once: a limit of 0, 1 or 2 needs no source."""

OF_THE_JOB = {"thickness-beyond-power", "gas-unsuited", "unit-guessed", "note-disagrees"}
"""Findings about the whole job or drawing, which have no place."""


@cache
def results(name: str, job: str) -> tuple[GasResult, ...]:
    material, thickness, power = JOBS[job]
    asked = analyzer.Request(material=material, thickness_mm=thickness, power_kw=power)
    if name != CROWDED:
        return tuple(asked.answer(SAMPLES / f"{name}.dxf").analysis.gases)
    with tempfile.TemporaryDirectory() as folder:
        return tuple(asked.answer(crowded_plate(Path(folder))).analysis.gases)


def crowded_plate(folder: Path) -> Path:
    """Draw 9 x 9 holes of 62 mm, 3 mm apart: in 20 mm oxygen the last edges are met hot."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(-35, -35), (555, -35), (555, 555), (-35, 555)], close=True)
    for k in range(81):
        space.add_circle((65 * (k % 9), 65 * (k // 9)), 31)
    document.saveas(folder / "crowded.dxf")
    return folder / "crowded.dxf"


def sourced(finding: Finding, gas: GasResult, thickness: float) -> list[float]:
    """Return the values of the rule that have a source, as they are and in mm of this job."""
    if finding.rule not in LIMITS.rules:
        return []
    rule = LIMITS.rules[finding.rule]
    row = LIMITS.at(finding.rule, gas.setting.gas, gas.material, thickness)
    values = [] if row is None else [value for _, value in row.values]
    sources = [] if row is None else [row.source]
    values += [constant.value for constant in rule.constants.values()]
    sources += [constant.source for constant in rule.constants.values()]
    assert all(sources), finding.rule
    return [v * unit for v in values for unit in (1.0, thickness, gas.setting.kerf_mm)]


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("name", [*NAMES, CROWDED])
def test_all_that_is_told_says_why(name: str, job: str) -> None:
    """In one test, so that a drawing is looked at once."""
    every_finding_says_why(name, job)
    every_worse_stretch_of_edge_says_why(name, job)
    every_number_has_a_formula_a_source_and_how_sure(name, job)


def every_finding_says_why(name: str, job: str) -> None:
    thickness, power = JOBS[job][1:]
    for gas in results(name, job):
        setting = gas.setting
        clear = LIMITS.constant("no-room-for-lead-in", "clear_mm")
        named = [
            thickness, Machine().standoff_mm, SAFE, setting.crater_mm + clear,
            setting.power_ok / power, setting.power_caution / power,
        ]  # fmt: skip
        for finding in gas.findings:
            rule = RULE[finding.rule]
            page = " ".join(explain_page(finding.rule, LIMITS).split())
            assert rule.why in page
            assert rule.remedy in page
            assert finding.message
            assert finding.remedy
            assert finding.places or finding.rule in OF_THE_JOB
            assert math.isfinite(finding.measured)
            known = sourced(finding, gas, thickness) + named
            known += [0.0, 1.0, 2.0] if finding.rule in NONE_AT_ALL else []
            assert any(math.isclose(finding.limit, value, rel_tol=1e-9) for value in known), finding


def every_worse_stretch_of_edge_says_why(name: str, job: str) -> None:
    material, thickness, power = JOBS[job]
    for gas in results(name, job):
        terms = burr_terms(gas.setting.gas, material, thickness, power)
        assert terms.source
        spots = [(one, spot) for one in gas.evidence for spot in one.edges.spots]
        for one, spot in spots:
            add = {"heat": terms.heat_add}.get(spot.cause, terms.slow_add)
            sums = [terms.straight + add]
            if spot.cause == "small contour":  # may be hot on top of it
                sums.append(terms.straight + add + terms.heat_add)
            assert spot.burr_class in round_class(sums, terms.most).tolist()
            assert spot.burr_class > round_class([terms.straight], terms.most)[0]
            assert because(one, spot, thickness), (one.part.id, spot)
        told = [number for number in gas.numbers if number.name.startswith("burr-at-")]
        worst = sorted(spots, key=lambda row: (-row[1].burr_class, -row[1].length))[:3]
        assert [number.value for number in told] == [spot.burr_class for _, spot in worst]
        for number, (_, spot) in zip(told, worst, strict=True):
            inputs = dict(number.inputs)
            assert inputs["because"] == spot.cause
            assert f"({spot.x:.2f}, {spot.y:.2f})" in inputs["where"]
            made = sum(float(inputs[key]) for key in ("base", "power", "plate"))
            assert made == pytest.approx(terms.straight, abs=0.006)
            assert number.source


def because(one: Evidence, spot: BurrSpot, thickness: float) -> bool:
    """Whether the cause that is told of a stretch is there, seen from the drawing and the heat."""
    contours, row = one.part.contours, spot.row
    size = 4.0 * abs(contours.area[row]) / contours.length[row] / thickness
    assert 0.0 < spot.length <= contours.length[row] * (1.0 + 1e-9)
    if spot.cause == "heat":
        field = one.heat.field if one.heat else None
        assert field is not None
        rises = field.station_rises[field.station_rows == row]
        return bool(rises.max() > burr_terms(one.setting.gas, "mild-steel", 10, 10).heat_limit)
    return bool((size < 3.0) == (spot.cause == "small contour"))


def every_number_has_a_formula_a_source_and_how_sure(name: str, job: str) -> None:
    for gas in results(name, job):
        for number in gas.numbers:
            assert math.isfinite(number.value), number.name
            assert all((number.unit, number.formula, number.source, number.sure)), number.name
            assert number.name in explain_page(number.name, LIMITS)
        by_name = {number.name: number.value for number in gas.numbers}
        metres = sum(by_name[f"burr-{k}"] for k in range(4))
        assert 1000.0 * metres == pytest.approx(by_name["cut-length"], rel=1e-9)


def test_there_are_stretches_of_every_cause() -> None:
    """Or the test above would hold nothing: small contours, slow corners and heat."""
    causes = {
        spot.cause
        for name, job in (("gusset", "mild steel 20"), ("tread_plate", "aluminium 8"),
                          (CROWDED, "mild steel 20"))
        for gas in results(name, job)
        for one in gas.evidence
        for spot in one.edges.spots
    }  # fmt: skip
    assert causes == {"small contour", "slow corner", "heat"}
