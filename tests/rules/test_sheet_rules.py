"""Rules on whole sheets: marks, heat from the neighbours, copies that tip as they are turned."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion.outlines import part_of, plate_with_holes
from rules.build import rectangle

from analyzer.effects.drop_sheet import drops_on_sheet
from analyzer.effects.heat_sheet import SheetHeat
from analyzer.job import Job
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.spacing import spaces_of
from analyzer.motion.sheet import plan_sheet
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.rules.judge_sheet import ON_SHEET, judge_sheet
from analyzer.rules.limits import load_limits
from analyzer.rules.registry import RULES
from analyzer.rules.rule import LEVELS
from analyzer.rules.sheet import TooLarge, larger_than_sheets
from analyzer.rules.sheet_scene import SheetCase

MACHINE = Machine()
STRIP = part_of(rectangle(0, 0, 45, 600))
PLATE = plate_with_holes(200, 150, [(40, 40, 30)])


def case_of(layout: Layout, gas: str, thickness: float = 12.0) -> SheetCase:
    job = Job("mild-steel", thickness, 12.0, gases=(gas,))
    setting = settings_for(job)[0][0]
    plan = plan_sheet(layout, setting, MACHINE, thickness)
    names = [f"PART {k + 1}" for k in range(len(layout.parts))]
    return SheetCase(
        job, setting, MACHINE, load_limits(), plan, spaces_of(layout), names, None,
        drops_on_sheet(layout, MACHINE), drops_on_sheet(layout, MACHINE, "x"),
    )  # fmt: skip


def test_every_sheet_rule_is_judged_and_known() -> None:
    known = {rule.name for rule in RULES}
    judged = {name for name, _ in ON_SHEET}
    assert judged <= known
    assert {rule.name for rule in RULES if rule.kind == "sheet"} <= judged


def test_marks_are_the_same_under_every_gas_and_run_from_the_worst() -> None:
    layout = Layout(
        (PLATE, STRIP),
        (Placement(0, 4.0, 20.0), Placement(0, 209.0, 20.0), Placement(1, 500.0, 20.0)),
        1000.0, 700.0,
    )  # fmt: skip
    found = judge_sheet([case_of(layout, gas) for gas in ("oxygen", "nitrogen")])
    marks: dict[object, int] = {}
    worst: dict[int, int] = {}
    for findings in found:
        levels = [LEVELS.index(f.level) for f in findings]
        assert levels == sorted(levels, reverse=True)
        for f in findings:
            assert marks.setdefault((f.rule, f.part, f.places), f.mark) == f.mark
            worst[f.mark] = max(worst.get(f.mark, 0), LEVELS.index(f.level))
    assert sorted(worst) == list(range(1, len(worst) + 1))
    assert [worst[m] for m in sorted(worst)] == sorted(worst.values(), reverse=True)
    assert {f.rule for f in found[0]} >= {"parts-too-close", "margin-too-small"}


def test_a_strip_tips_only_as_it_is_turned() -> None:
    """practice.md 5: 45 x 600 on slats 66.7 apart: along never safe, across safe."""
    along, across = Placement(0, 20.0, 20.0), Placement(0, 900.0, 20.0, 90.0)
    layout = Layout((STRIP,), (along, across), 1000.0, 700.0)
    found = [f for f in judge_sheet([case_of(layout, "nitrogen", 4.0)])[0] if f.part == "PART 1"]
    assert [f.rule for f in found] == ["part-falls-through"]
    assert found[0].count == 1
    np.testing.assert_allclose(found[0].places, [[42.5, 320.0]])
    assert "1 of 2 PART 1" in found[0].message
    assert "Turn it a quarter" in found[0].remedy
    safe = Layout((STRIP,), (across,), 1000.0, 700.0)
    assert not judge_sheet([case_of(safe, "nitrogen", 4.0)])[0]


@pytest.mark.parametrize(
    ("own", "met", "level"),
    [(20.0, 90.0, None), (20.0, 120.0, "rework"), (20.0, 210.0, "rework"), (20.0, 260.0, "loss"),
     (150.0, 160.0, None), (150.0, 260.0, "loss")],
)  # fmt: skip
def test_heat_is_said_where_the_neighbours_add_to_it(
    own: float, met: float, level: str | None
) -> None:
    """Limits 110 and 200 K; what a part does to itself is said of the part."""
    case = case_of(Layout((PLATE,), (Placement(0, 20.0, 20.0),), 1000.0, 700.0), "oxygen")
    heat = SheetHeat(np.array([0.0, met]), np.array([0.0, own]))
    found = judge_sheet([replace(case, heat=heat)])[0]
    assert [f.level for f in found if f.rule == "crowded-heat"] == ([level] if level else [])


def test_gaps_wider_never_find_more() -> None:
    """The wider apart, the milder: levels fall as the gap grows, in every gas."""
    for gas in ("oxygen", "nitrogen", "mixed", "air"):
        worst = []
        for gap in (0.5, 1.5, 3.0, 5.0, 8.0, 12.0, 20.0):
            layout = Layout((PLATE,), (Placement(0, 30.0, 30.0), Placement(0, 230.0 + gap, 30.0)))
            found = judge_sheet([case_of(layout, gas)])[0]
            levels = [LEVELS.index(f.level) + 1 for f in found if f.rule == "parts-too-close"]
            worst.append(max(levels, default=0))
        assert worst == sorted(worst, reverse=True), gas
        assert worst[0] == 3
        assert worst[-1] == 0


@settings(max_examples=60, deadline=None)
@given(
    st.floats(10, 3000), st.floats(10, 5000), st.floats(200, 4000), st.floats(200, 2000),
)  # fmt: skip
def test_what_is_said_to_fit_fits(p: float, q: float, a: float, b: float) -> None:
    """Wetzel's condition against trying every half degree."""
    said = not list(larger_than_sheets([TooLarge("P", 1, min(p, q), max(p, q))], [(a, b)]))
    angle = np.radians(np.arange(0.0, 90.5, 0.5))
    wide = p * np.cos(angle) + q * np.sin(angle)
    high = p * np.sin(angle) + q * np.cos(angle)
    tried = bool(((wide <= a) & (high <= b)).any())
    if tried:
        assert said
    if said and not tried:  # only just: half a degree is coarse for a long part
        slack = 0.01 * (p + q)
        assert ((wide <= a + slack) & (high <= b + slack)).any()
