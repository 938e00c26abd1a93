"""Heat and drop of whole sheets, against a part alone, the direct sum, and by hand."""

from dataclasses import replace

import numpy as np
import pytest
from effects.test_heat import JOB, part_of, plate_with, setting_of

from analyzer.effects.drop import lay_on_slats
from analyzer.effects.drop_sheet import drops_on_sheet
from analyzer.effects.heat import forecast_heat
from analyzer.effects.heat_sheet import forecast_sheet_heat, sheet_sources
from analyzer.effects.heat_sources import PlateHeat
from analyzer.effects.heat_sum import direct_rise
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.touching import shared_lines
from analyzer.motion.alone import plan_alone
from analyzer.motion.sheet import SheetPlan, plan_sheet
from analyzer.process.machine import Machine

MACHINE = Machine()
PLATE = part_of(plate_with(
    Contours.circle(-20.0, 0.0, 15.0).reversed(), Contours.circle(25.0, 5.0, 12.0).reversed(),
    half=(60.0, 40.0),
))  # fmt: skip


def sheet_of(*at: Placement, common: bool = False) -> SheetPlan:
    layout = Layout((PLATE,), at)
    lines = shared_lines(layout.outlines()) if common else None
    return plan_sheet(layout, setting_of("oxygen"), MACHINE, JOB.thickness_mm, common=lines)


def test_one_copy_meets_what_it_meets_alone() -> None:
    gas = setting_of("oxygen")
    plan = sheet_of(Placement(0, 300.0, 200.0, 37.0))
    heat = forecast_sheet_heat(plan, gas, JOB)
    alone = forecast_heat(PLATE, plan_alone(PLATE, gas, MACHINE, 20.0), gas, JOB).field
    assert heat is not None
    assert alone is not None
    np.testing.assert_allclose(heat.pierces, alone.pierces[plan.order[:, 1]], rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(heat.alone, heat.pierces, rtol=1e-6, atol=1e-9)


def test_far_copies_do_not_warm_each_other_and_near_ones_do() -> None:
    gas = setting_of("oxygen")
    far = forecast_sheet_heat(sheet_of(Placement(0), Placement(0, 2500.0, 0.0)), gas, JOB)
    near = forecast_sheet_heat(sheet_of(Placement(0), Placement(0, 130.0, 0.0)), gas, JOB)
    assert far is not None
    assert near is not None
    np.testing.assert_allclose(far.pierces, far.alone, rtol=0.02, atol=1e-3)
    assert (near.pierces >= 0.98 * near.alone - 1e-3).all()
    assert near.pierces.sum() > near.alone.sum() + 1.0


def test_the_tree_agrees_with_the_direct_sum() -> None:
    """Every piece by itself, within the 2 % the tree promises (or half a kelvin)."""
    gas = setting_of("oxygen")
    plan = sheet_of(*(Placement(0, 132.0 * i, 92.0 * j) for j in range(2) for i in range(3)))
    heat = forecast_sheet_heat(plan, gas, JOB)
    assert heat is not None
    sources, copy = sheet_sources(plan, gas, JOB)
    assert (np.diff(sources.times) >= 0.0).all()
    assert np.bincount(copy).tolist() == [np.bincount(copy)[0]] * 6
    leads = np.array([plan.plans[c].leads[r] for c, r in plan.order.tolist()])
    began = plan.begins - gas.pierce_s - leads / gas.speed_mm_s
    plate = PlateHeat.of(JOB)
    hands = sources, sources.other_hand()
    ways = (direct_rise(hand, plate, plan.pierces, began) for hand in hands)
    exact = np.maximum(*ways)  # the worse of both hands counts
    np.testing.assert_allclose(heat.pierces, exact, rtol=0.02, atol=0.5)


def test_turning_the_sheet_changes_no_rise() -> None:
    gas = setting_of("oxygen")
    places = [(0.0, 0.0), (132.0, 0.0), (0.0, 95.0)]
    plain = sheet_of(*(Placement(0, x, y) for x, y in places))
    turned = sheet_of(*(Placement(0, -y, x, 90.0) for x, y in places))
    one, two = (forecast_sheet_heat(p, gas, JOB) for p in (plain, turned))
    assert one is not None
    assert two is not None
    assert sorted(two.pierces) == pytest.approx(sorted(one.pierces), rel=0.02, abs=0.5)


def test_a_common_line_heats_once() -> None:
    gas = setting_of("oxygen")
    at = (Placement(0, 60.0, 40.0), Placement(0, 180.0, 40.0))
    twice = sheet_sources(sheet_of(*at), gas, JOB)[0]
    once = sheet_sources(sheet_of(*at, common=True), gas, JOB)[0]
    # one side of 80 less, to a piece at either end
    gone = twice.lengths.sum() - once.lengths.sum()
    assert gone == pytest.approx(80.0, abs=2.0 * twice.lengths.max())


def test_nothing_is_said_of_a_gas_in_which_heat_decides_nothing() -> None:
    gas = setting_of("nitrogen")
    plan = plan_sheet(Layout((PLATE,), (Placement(0),)), gas, MACHINE, 20.0)
    assert forecast_sheet_heat(plan, gas, JOB) is None


# --- drop -----------------------------------------------------------------------


STRIP = part_of(Contours.from_points([[0, 0], [45, 0], [45, 600], [0, 600]]))


def test_a_strip_lies_as_it_is_turned() -> None:
    """practice.md 5: 45 x 600, slats 66.7: along the slats never safe, across safe."""
    bed = lay_on_slats(STRIP, MACHINE)
    layout = Layout((STRIP,), (
        Placement(0), Placement(0, 500.0, 0.0, 90.0), Placement(0, 900.0, 700.0, 180.0),
        Placement(0, 500.0, 300.0, 270.0, mirrored=True),
    ))  # fmt: skip
    found = drops_on_sheet(layout, MACHINE)
    assert found.loose.tolist() == [True, False, True, False]
    np.testing.assert_allclose(found.unstable[[0, 2]], bed.along.unstable)
    np.testing.assert_allclose(found.unstable[[1, 3]], bed.across.unstable)
    other = drops_on_sheet(layout, MACHINE, "x")
    assert other.loose.tolist() == [False, True, False, True]
    assert found.expected == pytest.approx(other.expected)


def test_chances_add_to_one_at_any_turn() -> None:
    turns = np.linspace(0.0, 180.0, 13)
    layout = Layout((PLATE,), tuple(Placement(0, 200.0 * k, 0.0, t) for k, t in enumerate(turns)))
    found = drops_on_sheet(layout, replace(MACHINE, slat_pitch_mm=90.0))
    np.testing.assert_allclose(found.falls + found.tips + found.still, 1.0)
    assert found.unstable[0] == pytest.approx(found.unstable[-1])
    assert np.ptp(found.unstable) > 0.01


def test_an_empty_sheet_drops_nothing() -> None:
    assert drops_on_sheet(Layout((), ()), MACHINE).expected == 0.0
