"""Turned, moved or mirrored, a part keeps every number of what the cut leaves behind.

Nothing outside the project is needed: both sides are forecasts of the same part.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.effects.drop import forecast_drop, lay_on_slats
from analyzer.effects.edges import forecast_edges
from analyzer.effects.heat import forecast_heat
from analyzer.geometry.contours import Contours, Floats
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.parts.corners import find_corners
from analyzer.parts.necks import find_necks
from analyzer.parts.part import Part
from analyzer.parts.webs import find_webs
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine

EMPTY = Contours.empty()
JOB = Job("mild-steel", 20.0, 20.0, gases=("oxygen",))
SETTING = settings_for(JOB)[0][0]
MACHINE = Machine()

RELATIVE = 1e-4
"""Of lengths, widths and rises: rounding of places at 1 m from the origin goes in squared."""

ABSOLUTE = {"heat": 1e-2, "drop": 1e-4, "metres": 1e-4, "necks": 1e-6}
"""Heat [K]: both ways round are looked at, so only which branches are merged differs; 2e-3 K seen
on 150 parts.  Chances and levers [-, mm]: an offset where a slat just touches may fall to either
side.  Metres [m]: ends of a slow stretch move by 1 ms.  Necks [mm]: straight, exact."""


def numbers(contours: Contours) -> dict[str, list[Floats]]:
    """Return all numbers of the effects by group; what has a place is sorted by size."""
    rows = np.arange(len(contours))
    t = JOB.thickness_mm
    part = Part(
        "P1", 1, None, contours, EMPTY, EMPTY, (), (),
        tuple(c for row in find_corners(contours, rows, t) for c in row),
        tuple(web for _, web in find_webs(contours, rows, 0 * rows, t)), (tuple(rows.tolist()),),
        necks=tuple(neck for _, neck in find_necks(contours, rows, 0 * rows, t)),
    )  # fmt: skip
    plan = plan_alone(part, SETTING, MACHINE, t)
    heat = forecast_heat(part, plan, SETTING, JOB)
    edges = forecast_edges(part, plan, SETTING, JOB, heat)
    drop = forecast_drop(lay_on_slats(part, MACHINE), SETTING, JOB)
    field = heat.field
    assert field is not None
    lies = [[lie.falls, lie.tips, lie.still, lie.lever] for lie in (drop.along, drop.across)]
    slugs = [np.sort(np.concatenate((way.falls, way.tips, way.still)))
             for way in (drop.slugs.along, drop.slugs.across)]  # fmt: skip
    return {
        "heat": [np.sort(values) for values in (
            heat.strips, heat.pattern, field.pierces, field.web_arrival, field.web_peak,
            field.tip_arrival, field.tip_peak)],
        "drop": [np.array(lies), np.array([drop.ease, drop.clearance]), *slugs],
        "metres": [edges.metres],
        "necks": [np.sort([neck.width for neck in part.necks])],
    }  # fmt: skip


@st.composite
def lopsided(draw: st.DrawFn) -> Contours:
    """A plate of four unequal sides with a finger, a lopsided window and two holes near by."""
    far = [draw(st.floats(-8.0, 8.0)) for _ in range(6)]
    finger, web = draw(st.floats(5.0, 14.0)), draw(st.floats(5.0, 13.0))
    outline = [[far[0], far[1]], [180.0 + far[2], far[3]], [170.0 + far[4], 110.0],
               [60.0 + finger, 110.0], [60.0 + finger, 150.0], [60.0, 150.0], [60.0, 110.0],
               [5.0, 110.0 + far[5]]]  # fmt: skip
    window = [[30.0, 30.0], [62.0, 34.0 + far[0] / 4.0], [55.0, 72.0], [33.0, 60.0]]
    r = draw(st.floats(9.0, 14.0))
    holes = [Contours.circle(105.0, 50.0, 13.0), Contours.circle(118.0 + web + r, 53.0, r)]
    inner = [Contours.from_points(window), *holes]
    inner = [c if c.area[0] < 0.0 else c.reversed() for c in inner]
    return Contours.join([Contours.from_points(outline), *inner])


@settings(max_examples=6, deadline=None)
@given(lopsided(), st.floats(0.0, 360.0), st.booleans(), st.floats(-900.0, 900.0))
def test_turned_moved_and_mirrored_all_numbers_stay(
    part: Contours, turn: float, mirror: bool, shift: float
) -> None:
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    matrix = np.array([[c, -s], [s, c]]) @ np.diag([-1.0 if mirror else 1.0, 1.0])
    other = part.moved(matrix, (shift, -0.7 * shift))
    before, after = numbers(part), numbers(other.reversed() if mirror else other)
    for group, expected in before.items():
        for wanted, got in zip(expected, after[group], strict=True):
            np.testing.assert_allclose(
                got, wanted, rtol=RELATIVE, atol=ABSOLUTE[group], err_msg=group
            )


def test_the_numbers_compared_are_not_all_nought() -> None:
    """Heat, chances, metres of more than one class and a neck: the plate has some of each."""
    outline = [[0, 0], [180, 0], [170, 110], [70, 110], [70, 150], [60, 150], [60, 110], [5, 110]]
    holes = (Contours.circle(105, 50, 13).reversed(), Contours.circle(138, 53, 12).reversed())
    found = numbers(Contours.join([Contours.from_points(outline), *holes]))
    assert all(len(values) and values.max() > 0.05 for values in found["heat"])
    assert 0.05 < found["drop"][0][0, 1] < 0.95  # tips, along the slats
    assert (found["metres"][0].sum(axis=0) > 0.0).sum() >= 2
    assert found["necks"][0] == pytest.approx([10.0])
