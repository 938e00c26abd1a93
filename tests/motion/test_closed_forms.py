"""The acceleration-limited cases whose time is known in closed form.

Standard kinematics of uniformly accelerated motion, worked out by hand for each case:
T = L / v + v / a, or 2 sqrt(L / a) where the speed is not reached; a = 10 m/s^2 and a corner
tolerance of 0.05 mm unless said.
"""

import numpy as np
import pytest
from motion.outlines import M_PER_MIN, profile_along, rounded, square, zigzag

from analyzer.geometry.contours import Contours
from analyzer.motion.ceiling import corner_radius
from analyzer.motion.profile import speed_profile
from analyzer.motion.traverse import rest_to_rest_times


def line(length: float) -> Contours:
    return Contours.from_points([[0, 0], [length, 0]], closed=False)


@pytest.mark.outside(
    "Straight move, acceleration limited [s]", "kinematics in closed form, by hand"
)
@pytest.mark.parametrize(("length", "time"), [(100.0, 0.333333), (5.0, 0.044721)])
def test_straight_from_rest_to_rest(length: float, time: float) -> None:
    got = profile_along(line(length), 20 * M_PER_MIN)
    assert got.times.sum() == pytest.approx(time, abs=1e-6)


@pytest.mark.outside("Rapid moves of 300 and 1000 mm [s]", "kinematics in closed form, by hand")
def test_rapid_moves() -> None:
    """300 and 1000 mm at 120 m/min and 15 m/s^2."""
    times = rest_to_rest_times([300.0, 1000.0], 120 * M_PER_MIN, 15000.0)
    np.testing.assert_allclose(times, [0.283333, 0.633333], atol=1e-6)


@pytest.mark.outside("Square with a stop at every corner [s]", "kinematics in closed form, by hand")
def test_square_with_a_stop_at_every_corner() -> None:
    stops = speed_profile([100.0] * 4, [20 * M_PER_MIN] * 4, [0.0] * 4, [0, 4], 1e4)
    assert stops.times.sum() == pytest.approx(1.333333, abs=1e-6)


@pytest.mark.outside(
    "Square with corners rounded by the tolerance [s]", "kinematics in closed form, by hand"
)
def test_square_with_rounded_corners() -> None:
    assert profile_along(square(), 20 * M_PER_MIN).times.sum() == pytest.approx(1.313574, abs=1e-6)


@pytest.mark.outside(
    "Lap of a square with radii at sqrt(a r) [s, m/min]", "kinematics in closed form, by hand"
)
def test_flying_lap_of_a_square_with_radii() -> None:
    """R5 corners at sqrt(a r) = 13.4164 m/min; the middle lap of three, without the rests."""
    lap = rounded(100.0, 100.0, 5.0)
    assert lap.length[0] == pytest.approx(391.416, abs=1e-3)
    chain = np.vstack([lap.starts] * 3 + [lap.starts[:1]])
    three = Contours.from_points(chain, np.tile(lap.bulges, 3), closed=False)
    got = profile_along(three, 20 * M_PER_MIN)
    assert got.times[9:18].sum() == pytest.approx(1.234944, abs=1e-6)
    arcs = three.bulges != 0.0
    np.testing.assert_allclose(got.ceiling[arcs] / M_PER_MIN, 13.4164, atol=1e-4)


@pytest.mark.outside("Corner speed by angle, seven angles [m/min]", "closed form, by hand")
@pytest.mark.parametrize(
    ("interior", "speed"),
    [(150, 7.1432), (135, 4.6740), (120, 3.4111), (90, 2.0846), (60, 1.3416), (45, 1.0563),
     (30, 0.7928)],
)  # fmt: skip
def test_corner_speed_by_angle(interior: float, speed: float) -> None:
    """An arc tangent to both legs that passes 0.05 mm from the corner, v = sqrt(a r)."""
    radius = corner_radius(np.radians([180.0 - interior]), 0.05)
    assert np.sqrt(1e4 * radius[0]) / M_PER_MIN == pytest.approx(speed, abs=1e-4)


@pytest.mark.outside("Zigzags of 5 and 1 mm [s]", "kinematics in closed form, by hand")
def test_zigzags() -> None:
    five = profile_along(zigzag(20, 5.0), 10 * M_PER_MIN)
    assert five.times.sum() == pytest.approx(0.815069, abs=1e-6)
    assert five.times[7] == pytest.approx(0.0404422, abs=1e-7)
    one = profile_along(zigzag(20, 1.0), 10 * M_PER_MIN)
    assert one.times.sum() == pytest.approx(0.290273, abs=1e-6)


@pytest.mark.outside(
    "10, 1 and 10 mm with right angles between [s]", "kinematics in closed form, by hand"
)
def test_long_short_long() -> None:
    """10, 1 and 10 mm with right angles between."""
    path = Contours.from_points([[0, 0], [10, 0], [10, 1], [20, 1]], closed=False)
    assert profile_along(path, 20 * M_PER_MIN).times.sum() == pytest.approx(0.134148, abs=1e-6)


@pytest.mark.outside(
    "Nodes on a straight line cost nothing [s, m/min]", "kinematics in closed form, by hand"
)
def test_collinear_nodes() -> None:
    got = profile_along(
        Contours.from_points([[k, 0] for k in range(5)], closed=False), 60 * M_PER_MIN
    )
    np.testing.assert_allclose(got.entry / M_PER_MIN, [0.0, 8.4853, 12.0, 8.4853], atol=1e-4)
    assert got.times.sum() == pytest.approx(0.04, abs=1e-12)


@pytest.mark.outside("Holes of 5 and 10 mm [s, m/min]", "kinematics in closed form, by hand")
@pytest.mark.parametrize(
    ("diameter", "kerf", "programmed", "acceleration", "limit", "time"),
    [
        (5.0, 0.3, 15.0, 5e3, 6.5038, 0.157896),
        (10.0, 0.5, 4.64, 5e3, 4.64, 0.401395),
    ],
)
def test_holes_from_rest_to_rest(
    diameter: float, kerf: float, programmed: float, acceleration: float, limit: float, time: float
) -> None:
    """Path radius (d - w) / 2, v = min(programmed, sqrt(a r)), T = L / v + v / a."""
    hole = Contours.circle(0.0, 0.0, (diameter - kerf) / 2.0)
    got = profile_along(hole, programmed * M_PER_MIN, acceleration)
    assert got.ceiling.max() / M_PER_MIN == pytest.approx(limit, abs=1e-4)
    assert got.times.sum() == pytest.approx(time, abs=1e-6)


@pytest.mark.outside("Hole of 3 mm with ramps [s, m/min]", "kinematics in closed form, by hand")
def test_small_hole_at_constant_speed() -> None:
    """Diameter 3, kerf 0.3, a 5: 4.9295 m/min; without ramps 0.1032 s, with them 0.0164 more."""
    hole = Contours.circle(0.0, 0.0, 1.35)
    got = profile_along(hole, 15 * M_PER_MIN, 5e3)
    assert got.ceiling.max() / M_PER_MIN == pytest.approx(4.9295, abs=1e-4)
    assert got.times.sum() == pytest.approx(0.119675, abs=1e-6)
