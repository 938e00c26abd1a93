"""Edges and corners on the plans of the motion station, on drawn parts and real drawings."""

from dataclasses import replace

import numpy as np
import pytest
from shared import needs_corpus, spread_drawings

from analyzer.drawing.reading import read_drawing
from analyzer.effects.edges import forecast_edges
from analyzer.effects.evidence import Evidence
from analyzer.effects.speeds import corner_speeds
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.parts.find import find_parts
from analyzer.parts.part import Corner, Part
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting

EMPTY = Contours.empty()
MACHINE = Machine()


def setting_of(job: Job, gas: str) -> Setting:
    return settings_for(replace(job, gases=(gas,)))[0][0]


def square(side: float) -> Part:
    points = [[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]]
    corners = tuple(Corner(x, y, 90, 0, 90, 0, i * side) for i, (x, y) in enumerate(points))
    return Part(
        "P1", 1, None, Contours.from_points(points), EMPTY, EMPTY, (), (), corners, (), ((0,),)
    )


@pytest.mark.outside("Speed in a right angle of a whole plan [m/min]", "closed form, by hand")
@pytest.mark.parametrize(("t", "power", "fraction"), [(10.0, 10.0, 0.449), (3.0, 10.0, 0.075)])
def test_speed_in_a_right_angle(t: float, power: float, fraction: float) -> None:
    """2.0846 m/min at 90 degrees for 10 m/s^2 and 0.05 mm of corner tolerance.

    sqrt(a r) with r = delta s / (1 - s), s = sin(45 degrees): closed form, re-derived.
    Against 4.64 and 27.8 m/min on the table that is 0.449 and 0.075.
    """
    job = Job("mild-steel", t, power)
    setting = setting_of(job, "nitrogen")
    machine = replace(MACHINE, cut_acceleration=10.0)
    part = square(200.0)
    plan = plan_alone(part, setting, machine, t)
    speeds = corner_speeds(part, plan, 0.5) / setting.speed_mm_s
    met = speeds[np.isfinite(speeds)]
    assert len(met) >= 3
    np.testing.assert_allclose(met, fraction, atol=5e-4)


def test_metres_add_up_on_a_part_with_fillets_smaller_than_the_kerf() -> None:
    """A window whose corners of R 0.1 the offset swallows."""
    q = np.tan(np.pi / 8)
    r = 0.1
    window = Contours.from_points(
        [[30 + r, 30], [70 - r, 30], [70, 30 + r], [70, 60 - r], [70 - r, 60], [30 + r, 60],
         [30, 60 - r], [30, 30 + r]],
        [0, q, 0, q, 0, q, 0, q],
    ).reversed()  # fmt: skip
    part = square(100.0)
    part = replace(part, contours=Contours.join([part.contours, window]), corners=())
    for gas in ("oxygen", "nitrogen", "mixed", "air"):
        job = Job("mild-steel", 12.0, 24.0)
        setting = setting_of(job, gas)
        edges = forecast_edges(part, plan_alone(part, setting, MACHINE, 12.0), setting, job)
        np.testing.assert_allclose(
            1000.0 * edges.metres.sum(axis=1), part.contours.length, atol=1e-9
        )


@needs_corpus
@pytest.mark.parametrize("path", spread_drawings(8))
def test_metres_add_up_on_real_drawings(path) -> None:  # type: ignore[no-untyped-def]
    job = Job("mild-steel", 5.0, 6.0)
    parts = find_parts(read_drawing(path), 5.0)
    setting = setting_of(job, "nitrogen")
    for part in parts.parts[:20]:
        plan = plan_alone(part, setting, MACHINE, 5.0)
        one = Evidence(part, setting, plan, forecast_edges(part, plan, setting, job))
        np.testing.assert_allclose(
            1000.0 * one.edges.metres.sum(axis=1), part.contours.length, atol=1e-9
        )
        assert (one.edges.metres >= 0.0).all()
