"""Lead-ins: length, room and pierce point.  Rules of thumb: common practice, no source."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from motion.outlines import part_of, plate_with_holes, setting

from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part, Slot
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine

OUTLINE = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])


def planned(part: Part, kerf: float = 0.5, lead: float = 6.0) -> Plan:
    return plan_alone(part, setting(kerf=kerf, lead=lead), Machine(), 10.0)


def test_holes_in_thick_plate() -> None:
    """Holes 12, 20, 26, 40 in 20 mm, kerf 0.80, table 15: pierced at the centre."""
    holes = [(50.0, 100.0, 12.0), (100.0, 100.0, 20.0), (160.0, 100.0, 26.0), (230.0, 100.0, 40.0)]
    plan = planned(plate_with_holes(300, 200, holes), kerf=0.8, lead=15.0)
    np.testing.assert_allclose(plan.leads, [15.0, 5.6, 9.6, 12.6, 15.0])
    np.testing.assert_allclose(plan.lead_rooms, [np.inf, 5.6, 9.6, 12.6, 19.6])
    np.testing.assert_allclose(plan.pierces[1:], [h[:2] for h in holes])


@pytest.mark.parametrize("gas", ["oxygen", "mixed"])
def test_leads_in_holes_of_thick_plate_by_the_starter_tables(gas: str) -> None:
    """Mild steel 20 mm on 20 kW: at most 5.6 / 9.6 / 12.6 / 19.6 in oxygen, kerf 0.80.

    In mixed gas the kerf is 0.72 and each 0.04 more (agreed figures of this tool).
    """
    (one,), _ = settings_for(Job("mild-steel", 20.0, 20.0, gases=(gas,)))
    diameters = np.array([12.0, 20.0, 26.0, 40.0])
    holes = [(50.0 + 60.0 * k, 100.0, d) for k, d in enumerate(diameters)]
    plan = plan_alone(plate_with_holes(300, 200, holes), one, Machine(), 20.0)
    more = 0.0 if gas == "oxygen" else 0.0423
    bound = np.array([5.6, 9.6, 12.6, 19.6]) + more
    assert np.all(plan.leads[1:] <= bound + 0.01)
    np.testing.assert_allclose(plan.lead_rooms[1:], bound, atol=0.01)
    np.testing.assert_allclose(plan.leads[1:3], np.minimum(bound[:2], one.lead_mm), atol=0.01)


def test_a_hole_not_known_as_one_has_the_same_room() -> None:
    part = part_of(OUTLINE, Contours.circle(150, 100, 6).reversed())
    plan = planned(part)
    assert plan.lead_rooms[1] == pytest.approx(5.75)
    np.testing.assert_allclose(plan.pierces[1], [150, 100], atol=1e-9)


def test_outline_is_pierced_outside() -> None:
    plan = planned(part_of(OUTLINE))
    polygon = shapely.Polygon(OUTLINE.starts)
    away = polygon.distance(shapely.Point(plan.pierces[0]))
    assert away == pytest.approx(np.hypot(0.25, 0.25) + 6.0, abs=1e-6)
    assert plan.leads.tolist() == [6.0]


def test_window_is_pierced_inside_with_the_table_lead() -> None:
    window = Contours.from_points([[100, 60], [100, 140], [220, 140], [220, 60]])
    plan = planned(part_of(OUTLINE, window))
    polygon = shapely.Polygon(window.starts)
    assert polygon.contains(shapely.Point(plan.pierces[1]))
    assert polygon.exterior.distance(shapely.Point(plan.pierces[1])) == pytest.approx(6.25)
    assert plan.lead_rooms[1] == pytest.approx(40.0 - 0.25)


def test_narrow_window_is_pierced_on_its_middle_line() -> None:
    window = Contours.from_points([[100, 60], [100, 66], [220, 66], [220, 60]])
    plan = planned(part_of(OUTLINE, window))
    assert plan.leads[1] == pytest.approx(3.0 - 0.25)
    assert plan.pierces[1, 1] == pytest.approx(63.0)


@pytest.mark.outside("Room of a lead-in in any window [mm]", "library shapely")
@pytest.mark.parametrize("seed", range(6))
def test_room_of_any_window_against_shapely(seed: int) -> None:
    """From the pierce no stretch of the path is nearer than the entry: distance by shapely."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0, 2 * np.pi, 8))[::-1]
    points = np.column_stack((150 + 40 * np.cos(angle), 100 + 40 * np.sin(angle)))
    plan = planned(part_of(OUTLINE, Contours.from_points(points)), lead=1000.0)
    path = plan.path.take([1])
    ring = shapely.LinearRing(path.starts)
    assert plan.leads[1] == pytest.approx(plan.lead_rooms[1])
    assert ring.distance(shapely.Point(plan.pierces[1])) == pytest.approx(plan.leads[1], abs=1e-6)


def test_slot_has_its_lead_along_the_axis() -> None:
    slot = Contours.from_points(
        [[100, 98], [160, 98], [160, 102], [100, 102]], [0.0, 1.0, 0.0, 1.0]
    ).reversed()
    part = replace(part_of(OUTLINE, slot), slots=(Slot(130.0, 100.0, 4.0, 64.0, 0.0, 1),))
    plan = planned(part)
    assert plan.lead_rooms[1] == pytest.approx(1.75)
    assert plan.leads[1] == pytest.approx(6.0)
    np.testing.assert_allclose(plan.pierces[1], [130.0, 100.0])


def test_kerf_fills_the_hole() -> None:
    plan = planned(plate_with_holes(300, 200, [(50.0, 50.0, 0.4)]))
    assert plan.lead_rooms[1] == pytest.approx(-0.05)
    assert plan.leads[1] == 0.0
    assert plan.contour_times[1] == 0.0
    assert np.isfinite(plan.timing.total)


def test_open_cut_line_has_no_lead() -> None:
    plan = planned(part_of(OUTLINE, Contours.from_points([[20, 20], [60, 20]], closed=False)))
    assert plan.leads[1] == 0.0
    assert plan.lead_rooms[1] == np.inf
