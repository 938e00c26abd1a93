"""Neighbour questions against brute force and shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.geometry.near import (
    close_pairs,
    components,
    distance_to_segments,
    fraction_on_segments,
    points_near_segments,
    welded,
)


def brute_pairs(points: np.ndarray, distance: float) -> set[tuple[int, int]]:
    far = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    return {(i, j) for i, j in np.argwhere(far <= distance).tolist() if i < j}


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(0, 80), st.sampled_from([0.3, 1.0, 5.0]))
def test_close_pairs_are_all_pairs(seed: int, count: int, distance: float) -> None:
    points = (np.random.default_rng(seed).random((count, 2)) - 0.5) * 20
    pairs = close_pairs(points, distance)
    assert {tuple(pair) for pair in pairs.tolist()} == brute_pairs(points, distance)
    assert len(pairs) == len(brute_pairs(points, distance))


def test_too_many_pairs_are_refused_not_computed() -> None:
    with pytest.raises(InputError, match="pairs of points"):
        close_pairs(np.zeros((10_000, 2)), 1.0)


def test_components_of_two_chains() -> None:
    pairs = np.array([[0, 1], [1, 2], [4, 3], [5, 4]])
    assert components(7, pairs).tolist() == [0, 0, 0, 1, 1, 1, 2]


def test_welding_keeps_equal_points_exact_and_does_not_run_away() -> None:
    points = np.array([[0.1, 0.2], [0.1, 0.2], [0.1 + 5e-5, 0.2], [5.0, 5.0], [5.00025, 5.0]])
    node, place = welded(points, 1e-4)
    assert node.tolist() == [0, 0, 0, 1, 2]
    assert place[1].tolist() == [5.0, 5.0]
    # points a fifth of a millimetre apart in a row stay apart, however many
    row = np.column_stack((np.arange(1000) * 2e-4, np.zeros(1000)))
    assert welded(row, 1e-4)[0].max() == 999


def arcs(seed: int, count: int) -> Contours:
    """Return lines and arcs of up to 180 degrees, each an open contour."""
    rng = np.random.default_rng(seed)
    starts, ends = rng.random((2, count, 2)) * 30
    bulges = np.where(rng.random(count) < 0.5, 0.0, rng.random(count) * 2 - 1)
    return Contours(
        starts, ends, bulges, np.ones(count), np.zeros(count, bool), np.arange(count + 1),
        np.zeros(count, bool),
    )  # fmt: skip


@pytest.mark.outside(
    "Distance from a point to an arc [mm]", "library shapely, chords within 1e-6 mm"
)
@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_distance_to_arcs_is_that_of_shapely(seed: int) -> None:
    """Reference: shapely.distance to the arc drawn with chords within 1e-6 mm."""
    segments = arcs(seed, 12)
    points = np.random.default_rng(seed + 1).random((12, 2)) * 40 - 5
    ours = distance_to_segments(points, segments.starts, segments.ends, segments.bulges)
    for row in range(12):
        line = shapely.linestrings(segments.ring(row, 1e-6))
        assert ours[row] == pytest.approx(
            shapely.distance(line, shapely.points(points[row])), abs=1e-4
        )


def test_fraction_is_by_length_and_goes_on_beyond_both_ends() -> None:
    a, b = np.array([[0.0, 0.0]]), np.array([[10.0, 0.0]])
    line, arc = np.array([0.0]), np.array([1.0])  # a half circle below the chord

    def at(x: float, y: float, bulge: np.ndarray) -> float:
        return float(fraction_on_segments(np.array([[x, y]]), a, b, bulge)[0])

    assert at(2.5, 3.0, line) == pytest.approx(0.25)
    assert at(-5.0, 3.0, line) == pytest.approx(-0.5)
    assert at(5.0, -5.0, arc) == pytest.approx(0.5)
    assert at(5.0 - 5 * np.sqrt(0.5), 5 * np.sqrt(0.5), arc) == pytest.approx(-0.25)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.05, 2.0]))
def test_points_near_segments_are_all_of_them(seed: int, distance: float) -> None:
    segments = arcs(seed, 40)
    points = np.random.default_rng(seed + 1).random((60, 2)) * 40 - 5
    point, segment = points_near_segments(
        points, segments.starts, segments.ends, segments.bulges, segments.segment_box, distance
    )
    far = np.column_stack(
        [
            distance_to_segments(
                np.repeat(p[None], 40, axis=0), segments.starts, segments.ends, segments.bulges
            )
            for p in points
        ]
    ).T
    assert set(zip(point.tolist(), segment.tolist(), strict=True)) == {
        tuple(pair) for pair in np.argwhere(far <= distance).tolist()
    }


def test_rings_in_rings_cost_no_n_squared() -> None:
    """2,000 concentric half circles: each end is near its own two arcs only."""
    radius = np.arange(1, 2001) * 0.5
    starts = np.column_stack((-radius, 0 * radius))
    segments = Contours(
        starts, -starts, np.ones(2000), np.pi * radius, np.zeros(2000, bool), np.arange(2001),
        np.zeros(2000, bool),
    )  # fmt: skip
    point, _ = points_near_segments(
        starts, segments.starts, segments.ends, segments.bulges, segments.segment_box, 0.1
    )
    assert len(point) == 2000


def test_the_centre_of_an_arc_is_a_radius_away() -> None:
    """A leader that points at the middle of a hole does not end on its edge."""
    centre = np.array([[3.0, 4.0]])
    way = distance_to_segments(
        centre, np.array([[1.4, 4.0]]), np.array([[4.6, 4.0]]), np.array([1.0])
    )
    assert way.tolist() == pytest.approx([1.6])


@given(st.integers(0, 2**32 - 1))
def test_own_ends_of_segments_are_left_out_and_nothing_else(seed: int) -> None:
    segments = arcs(seed, 12)
    ends = np.vstack((segments.starts, segments.ends))
    own = np.arange(24).reshape(2, -1).T
    lines = (segments.starts, segments.ends, segments.bulges, segments.segment_box, 3.0)
    point, segment = points_near_segments(ends, *lines)
    every = {(p, s) for p, s in zip(point.tolist(), segment.tolist(), strict=True)}
    point, segment = points_near_segments(ends, *lines, own)
    foreign = {(p, s) for p, s in zip(point.tolist(), segment.tolist(), strict=True)}
    assert foreign == {(p, s) for p, s in every if p % 12 != s}


@given(st.integers(0, 2**32 - 1), st.sampled_from([1e-4, 0.5]))
def test_welded_nodes_are_means_of_the_different_points_they_hold(seed: int, step: float) -> None:
    """Points on a coarse grid with hairs between them, many of them equal."""
    random = np.random.default_rng(seed)
    points = random.integers(0, 6, (60, 2)) * step + random.choice([0.0, 2e-5, 6e-5], (60, 2))
    node, place = welded(points, 1e-4)
    first = [int(np.flatnonzero(node == k)[0]) for k in range(len(place))]
    assert first == sorted(first)
    for k, where in enumerate(place):
        different = np.unique(points[node == k], axis=0)
        assert where == pytest.approx(different.mean(axis=0), rel=1e-12, abs=1e-15)
