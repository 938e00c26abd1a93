"""The canonical pose of one part alone."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.geometry.contours import Contours
from analyzer.layout.alone import canonical_poses

PLATE = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])


def turned(contours: Contours, degrees: float) -> Contours:
    a = np.radians(degrees)
    return contours.moved([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]], (12.0, -7.0))


@settings(max_examples=40, deadline=None)
@given(st.floats(0.0, 360.0))
def test_turning_changes_nothing(degrees: float) -> None:
    (pose,) = canonical_poses(turned(PLATE, degrees))
    assert (pose.width, pose.height) == pytest.approx((200.0, 300.0))
    assert np.linalg.det(pose.matrix) == pytest.approx(1.0)  # never mirrored


@pytest.mark.outside("Least width of a part [mm]", "projection on 20,001 directions")
@pytest.mark.parametrize("seed", range(10))
def test_least_width_against_all_directions(seed: int) -> None:
    """Width over 20,001 directions, by projection; never below ours, and near it."""
    points = np.random.default_rng(seed).normal(size=(12, 2)) * [40.0, 15.0]
    order = np.argsort(np.arctan2(*(points - points.mean(axis=0)).T[::-1]))
    outline = Contours.from_points(points[order])
    angle = np.linspace(0.0, np.pi, 20_001)
    widths = np.ptp(points @ np.array([np.cos(angle), np.sin(angle)]), axis=0)
    pose = canonical_poses(outline)[0]
    assert 0.0 <= widths.min() - pose.width + 1e-9 < 1e-2
    extent = np.ptp(points @ pose.matrix.T, axis=0)
    assert extent == pytest.approx([pose.width, pose.height])


def test_arcs_bulge_out_of_their_chords() -> None:
    """An obround 100 x 20: least width 20, across the straight sides."""
    slot = Contours.from_points([[-40, -10], [40, -10], [40, 10], [-40, 10]], [0, 1, 0, 1])
    (pose,) = canonical_poses(turned(slot, 33.0))
    assert (pose.width, pose.height) == pytest.approx((20.0, 100.0), abs=2e-3)


def test_a_square_has_two_poses() -> None:
    square = Contours.from_points([[0, 0], [50, 0], [50, 50], [0, 50]])
    assert len(canonical_poses(square)) == 2
    assert len(canonical_poses(turned(square, 17.0))) == 2


def test_a_disc_is_turned_by_its_cut_outs() -> None:
    disc = Contours.join([Contours.circle(0, 0, 50), Contours.circle(30, 0, 5).reversed()])
    (pose,) = canonical_poses(turned(disc, 40.0))
    a = np.radians(40.0)
    arm = pose.matrix @ (30.0 * np.array([np.cos(a), np.sin(a)]))
    np.testing.assert_allclose(arm, [30.0, 0.0], atol=1e-9)


def test_lines_and_nothing() -> None:
    line = Contours.from_points([[0, 0], [30, 40]], closed=False)
    (pose,) = canonical_poses(line)
    assert (pose.width, pose.height) == pytest.approx((0.0, 50.0))
    assert len(canonical_poses(Contours.empty())) == 1
