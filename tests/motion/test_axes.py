"""Limits of single axes: least over the headings of every segment, in the pose the part lies in."""

import numpy as np
import pytest
from motion.outlines import plate_with_holes, setting, square

from analyzer.geometry.contours import Contours
from analyzer.motion.alone import plan_alone
from analyzer.motion.ceiling import AxisLimits, drive_limits
from analyzer.process.machine import Machine


def turned(degrees: float) -> np.ndarray:
    a = np.radians(degrees)
    return np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])


def test_lines_by_hand() -> None:
    """Along x only x works; at 45 degrees each axis has 1 / sqrt(2) of the way."""
    path = Contours.from_points([[0, 0], [10, 0], [20, 10], [20, 20]], closed=False)
    limits = AxisLimits(6.0, 2.0, np.eye(2))
    np.testing.assert_allclose(limits.along(path), [6.0, 2.0 * np.sqrt(2.0), 2.0])
    np.testing.assert_allclose(limits.across(path), [2.0, 2.0 * np.sqrt(2.0), 6.0])
    quarter = AxisLimits(6.0, 2.0, turned(90.0))
    np.testing.assert_allclose(quarter.along(path), [2.0, 2.0 * np.sqrt(2.0), 6.0])


@pytest.mark.parametrize("degrees", [0.0, 13.0, 90.0, 200.0])
def test_arcs_against_all_their_headings(degrees: float) -> None:
    """The least over 2000 headings of every arc, tried one by one."""
    rng = np.random.default_rng(3)
    path = Contours.from_points(rng.normal(0, 10, (20, 2)), rng.uniform(-1.5, 1.5, 20))
    limits = AxisLimits(5.0, 3.0, turned(degrees))
    share = np.linspace(0.0, 1.0, 2001)
    heading = path.start_directions[:, None] + path.sweeps[:, None] * share + np.radians(degrees)
    for got, off in ((limits.along(path), 0.0), (limits.across(path), np.pi / 2.0)):
        with np.errstate(divide="ignore"):
            tried = np.minimum(5.0 / np.abs(np.cos(heading + off)),
                               3.0 / np.abs(np.sin(heading + off)))  # fmt: skip
        np.testing.assert_allclose(got, tried.min(axis=1), rtol=1e-4)


def test_axes_that_are_not_told_limit_nothing() -> None:
    limits = drive_limits(square(), Machine())
    np.testing.assert_allclose(limits.along, 8000.0)
    np.testing.assert_allclose(limits.jerk, 2e5)
    assert (limits.acceleration_anyhow, limits.jerk_anyhow) == (8000.0, 2e5)
    weak = drive_limits(square(), Machine(y_acceleration=2.0, y_jerk=50.0))
    np.testing.assert_allclose(weak.along, [8000.0, 2000.0, 8000.0, 2000.0])
    np.testing.assert_allclose(weak.jerk, [2e5, 5e4, 2e5, 5e4])


def test_the_pose_decides_not_the_drawing() -> None:
    """A 300 x 60 plate lies with its short side along x however it is drawn."""
    machine = Machine(x_acceleration=8.0, y_acceleration=3.0, x_jerk=200.0, y_jerk=80.0)
    flat = plan_alone(plate_with_holes(300, 60, []), setting(400.0), machine, 3.0)
    upright = plan_alone(plate_with_holes(60, 300, []), setting(400.0), machine, 3.0)
    assert flat.timing.total == pytest.approx(upright.timing.total, rel=1e-9)
    other = plan_alone(
        plate_with_holes(300, 60, []), setting(400.0),
        Machine(x_acceleration=3.0, y_acceleration=8.0, x_jerk=80.0, y_jerk=200.0), 3.0,
    )  # fmt: skip
    strong = plan_alone(plate_with_holes(300, 60, []), setting(400.0), Machine(), 3.0)
    # the long sides lie along y: a weak y costs most
    assert strong.timing.total < other.timing.total < flat.timing.total


def test_axis_limits_hold_on_a_whole_motion() -> None:
    machine = Machine(x_acceleration=5.0, y_acceleration=2.5, x_jerk=150.0, y_jerk=60.0)
    plan = plan_alone(plate_with_holes(120, 80, [(40, 40, 20)]), setting(300.0), machine, 3.0)
    profile = plan.profile
    motion = profile.pieces
    # along straight sides the acceleration of each axis is its share of that along the path
    heading = plan.path.start_directions[motion.row]
    straight = plan.path.bulges[motion.row] == 0.0
    most = np.maximum(np.abs(motion.rate), np.abs(motion.rate + motion.jerk * motion.duration))
    swap = (2500.0, 5000.0)  # the side of 80 lies along the x of the machine, that of 120 along y
    assert np.all((most * np.abs(np.cos(heading)))[straight] <= swap[0] * (1 + 1e-6))
    assert np.all((most * np.abs(np.sin(heading)))[straight] <= swap[1] * (1 + 1e-6))
