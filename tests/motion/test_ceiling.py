"""Speed ceilings: arcs, corners, many short chords, tiny fillets, small contours."""

import numpy as np
import pytest
from motion.outlines import profile_along, rounded, square, zigzag

from analyzer.geometry.contours import Contours
from analyzer.motion.ceiling import (
    corner_radius,
    equivalent_ratios,
    joint_radii,
    path_ceilings,
)

DELTA = 0.05


def polygon(radius: float, count: int, smooth: bool = False) -> Contours:
    angle = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    points = radius * np.column_stack((np.cos(angle), np.sin(angle)))
    return Contours.from_points(points, smooth=np.full(count, smooth))


def test_rounding_of_a_right_angle_by_hand() -> None:
    """The arc of radius r tangent to both legs passes r (sqrt(2) - 1) from the corner."""
    assert corner_radius(np.array(np.pi / 2), DELTA) == pytest.approx(DELTA / (np.sqrt(2) - 1))


def test_straight_on_and_straight_back() -> None:
    assert corner_radius(np.array(0.0), DELTA) == np.inf
    assert corner_radius(np.array(np.pi), DELTA) == pytest.approx(0.0, abs=1e-15)


def test_a_circle_has_its_diameter() -> None:
    hole = Contours.circle(0.0, 0.0, 6.0).reversed()
    open_line = Contours.from_points([[0, 0], [5, 0]], closed=False)
    ratios = equivalent_ratios(Contours.join([hole, open_line, square(40.0)]), 10.0)
    np.testing.assert_allclose(ratios, [1.2, np.inf, 4.0])


@pytest.mark.parametrize("count", [24, 90, 720])
def test_chords_of_a_spline_are_as_slow_as_its_curve(count: int) -> None:
    """Chords flagged smooth: radius of the circle they were cut from, within 1 %."""
    radii = joint_radii(polygon(5.0, count, smooth=True), DELTA, 100.0)[1:]
    assert np.median(radii) == pytest.approx(5.0, rel=0.01)
    assert radii.min() == pytest.approx(5.0, rel=0.01)


@pytest.mark.parametrize("count", [24, 90, 720])
def test_drawn_chords_are_neither_corners_nor_free(count: int) -> None:
    """The same chords drawn as lines: the rounding tolerance may add a little, no more."""
    radii = joint_radii(polygon(5.0, count), DELTA, 100.0)[1:]
    assert radii.min() >= 4.9
    assert np.median(radii) <= 5.0 + 3 * DELTA


def test_ten_short_chords_are_the_fillet_they_stand_for() -> None:
    """A 90 degree fillet of 1 mm as ten chords of 9 degrees is about as slow as its arc."""
    angle = np.radians(np.linspace(-90.0, 0.0, 11))
    bend = np.column_stack((50 + np.cos(angle), 1 + np.sin(angle)))
    path = Contours.from_points(np.vstack([[[0, 0]], bend, [[51, 50]]]), closed=False)
    slowest = profile_along(path, 500.0).entry[1:].min()
    assert slowest == pytest.approx(np.sqrt(1e4 * 1.0), rel=0.15)


def test_two_halves_of_a_corner_close_together_are_one_corner() -> None:
    """45 + 45 degrees 0.02 mm apart: nearly a right angle, not two easy corners."""
    c = 0.02 / np.sqrt(2.0)
    path = Contours.from_points([[0, 0], [50, 0], [50 + c, c], [50 + c, 50]], closed=False)
    slowest = profile_along(path, 500.0).entry[1:].min()
    one = np.sqrt(1e4 * corner_radius(np.array(np.pi / 2), DELTA))
    assert one <= slowest <= 1.15 * one


def test_a_tiny_fillet_is_not_slower_than_its_corner() -> None:
    sharp = profile_along(square(50.0), 300.0)
    tiny = profile_along(rounded(50.0, 50.0, 0.004), 300.0)
    arcs = rounded(50.0, 50.0, 0.004).bulges != 0.0
    assert tiny.ceiling[arcs].min() == pytest.approx(sharp.entry[1:].min(), rel=1e-6)


def test_alternating_turns_are_corners_each() -> None:
    """A staircase turns by 90 degrees at every joint, left and right in turn."""
    radii = joint_radii(zigzag(20, 1.0), DELTA, 100.0)[1:]
    np.testing.assert_allclose(radii, corner_radius(np.array(np.pi / 2), DELTA))


def test_collinear_points_change_no_ceiling() -> None:
    points = square(40.0).starts
    extra = np.insert(points, [1, 1, 3], [[0.001, 0.0], [17.0, 0.0], [39.999, 40.0]], axis=0)
    plain = profile_along(square(40.0), 400.0)
    split = profile_along(Contours.from_points(extra), 400.0)
    assert split.times.sum() == pytest.approx(plain.times.sum(), rel=1e-9)


def test_every_contour_has_its_own_speed() -> None:
    both = Contours.join([square(40.0), square(20.0)])
    inside, joints = path_ceilings(both, np.array([100.0, 30.0]), 8000.0, DELTA)
    np.testing.assert_allclose(inside, [100.0] * 4 + [30.0] * 4)
    assert np.all(joints <= inside)
