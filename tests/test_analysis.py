"""The stations joined: sums over copies, shared edges, and numbers that say where they are from."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hand_made import JOB, NO_SHOP, part_set, plate
from shared import SAMPLES

from analyzer.analysis import Analysis, analyse, weight_of
from analyzer.comparison import check
from analyzer.drawing.reading import read_drawing
from analyzer.geometry.contours import Contours
from analyzer.headlines import HEADLINES, SOMETIMES
from analyzer.heat_headlines import HEAT
from analyzer.motion.plan import Timing


def test_weight() -> None:
    """7850 kg/m3: EN 1993-1-1, 3.2.6."""
    part = plate()
    area = 100 * 60 - math.pi * 36
    assert weight_of(part, JOB) == pytest.approx(area * 10 * 7.85e-6)


@pytest.fixture(scope="module")
def analysis() -> Analysis:
    return analyse(read_drawing(SAMPLES / "bracing_plate.dxf"), JOB, NO_SHOP)


def test_totals_are_sums_over_all_copies(analysis: Analysis) -> None:
    parts, totals = analysis.parts.parts, analysis.totals
    assert totals.parts == sum(part.count for part in parts)
    assert totals.cut_length == pytest.approx(analysis.drawing.cuts.length.sum(), rel=1e-9)
    for result in analysis.gases:
        assert sum(result.edge_m) == pytest.approx(totals.cut_length / 1000, rel=1e-9)
        for field in fields(Timing):
            copies = sum(
                one.part.count * getattr(one.plan.timing, field.name) for one in result.evidence
            )
            loose = getattr(result.loose.plan.timing, field.name) if result.loose else 0.0
            outside = getattr(result.timing, field.name) - copies - loose
            assert outside == pytest.approx(0.0, abs=1e-9) or field.name == "marking"
        hand = zip(result.evidence, result.rework, strict=True)
        assert result.rework_min == pytest.approx(sum(e.part.count * r.minutes for e, r in hand))


def test_every_headline_number_has_a_formula_and_a_source(analysis: Analysis) -> None:
    for result in analysis.gases:
        numbers = {number.name: number for number in result.numbers}
        assert set(numbers) - set(SOMETIMES) - set(HEAT) == set(HEADLINES) - set(SOMETIMES)
        assert "heat-left" in numbers
        assert numbers["total"].value == pytest.approx(
            sum(numbers[name].value for name in result.timing.terms())
        )
        assert numbers["speed"].value == result.setting.speed_m_per_min
        assert [numbers[f"burr-{n}"].value for n in range(4)] == list(result.edge_m)
        for number in numbers.values():
            assert number.formula
            assert number.source
            assert number.sure
            assert math.isfinite(number.value)


def test_findings_and_settings_stay_together(analysis: Analysis) -> None:
    assert [r.gas for r in analysis.gases] == ["oxygen", "nitrogen", "mixed", "air"]
    for result in analysis.gases:
        assert all(one.setting is result.setting for one in result.evidence)
        assert {e.part.id for e in result.evidence} == {p.id for p in analysis.parts.parts}


def test_a_drawing_of_hand_made_parts() -> None:
    drawing = part_set(plate()).drawing
    answer = analyse(drawing, replace(JOB, gases=("nitrogen",)), NO_SHOP)
    (result,) = answer.gases
    assert answer.totals.parts == 1
    assert answer.totals.cut_length == pytest.approx(320 + 12 * math.pi)
    assert result.loose is None
    assert result.timing.cut > 0
    # the plan can be no faster than its path at table speed
    path = float(result.evidence[0].plan.path.length.sum())
    assert result.timing.cut + result.timing.slowed >= path / result.setting.speed_mm_s - 1e-9


def test_open_lines_and_marks_outside_parts_are_counted() -> None:
    drawing = part_set(plate()).drawing
    line = Contours.from_points([[200, 0], [300, 0]], closed=False)
    mark = Contours.from_points([[200, 50], [275, 50]], closed=False)
    more = replace(
        drawing, cuts=Contours.join([drawing.cuts, line]), marks=mark,
        cut_sources=(*drawing.cut_sources, drawing.cut_sources[0]),
    )  # fmt: skip
    one = analyse(drawing, replace(JOB, gases=("nitrogen",)), NO_SHOP).gases[0]
    answer = analyse(more, replace(JOB, gases=("nitrogen",)), NO_SHOP)
    two = answer.gases[0]
    assert answer.totals.pierces == 3
    assert answer.totals.mark_length == pytest.approx(75)
    assert two.timing.marking == pytest.approx(75 / NO_SHOP.machine.marking_mm_s)
    assert sum(two.edge_m) == pytest.approx(sum(one.edge_m) + 0.1)
    assert two.timing.pierce == pytest.approx(one.timing.pierce * 3 / 2)


def test_turning_and_moving_a_drawing_changes_no_number() -> None:
    drawing = part_set(plate()).drawing
    angle = math.radians(33)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    other = replace(drawing, cuts=drawing.cuts.moved(turn, (12_345.0, -678.0)))
    job = replace(JOB, gases=("oxygen", "mixed"))
    for one, two in zip(
        analyse(drawing, job, NO_SHOP).gases, analyse(other, job, NO_SHOP).gases, strict=True
    ):
        assert two.timing.total == pytest.approx(one.timing.total, rel=1e-6)
        assert two.edge_m == pytest.approx(one.edge_m, rel=1e-6, abs=1e-9)
        assert [f.rule for f in two.findings] == [f.rule for f in one.findings]


def test_check_is_the_whole_line() -> None:
    answer = check(SAMPLES / "gusset.dxf", JOB)
    assert answer.advice.gas in {result.gas for result in answer.analysis.gases}
