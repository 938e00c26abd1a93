"""Short segments become arcs and lines; polygons and corners stay."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.drawing.merge import _middles, _one_of_two, _Run, merge_short
from analyzer.geometry.contours import Contours
from analyzer.tolerances import DEFAULT


def polygon(count: int, radius: float) -> Contours:
    t = np.arange(count) * 2 * np.pi / count
    return Contours.from_points(np.column_stack((radius * np.cos(t), radius * np.sin(t))))


@pytest.mark.parametrize(("count", "radius"), [(360, 20.0), (180, 5.0), (2000, 4.0), (720, 150.0)])
def test_a_circle_of_many_chords_becomes_arcs(count: int, radius: float) -> None:
    chords = polygon(count, radius)
    merged = merge_short(chords, DEFAULT)
    assert len(merged.bulges) <= 4
    assert merged.radii == pytest.approx(radius, rel=1e-6)
    assert merged.length[0] == pytest.approx(chords.length[0], rel=1e-12)  # as drawn
    assert np.abs(merged.turns).max() < np.radians(DEFAULT.smooth_deg)


@pytest.mark.parametrize("count", [3, 4, 6, 8, 12, 24, 32, 64, 100])
@pytest.mark.parametrize("radius", [0.5, 5.0, 40.0])
def test_a_polygon_stays_a_polygon(count: int, radius: float) -> None:
    assert len(merge_short(polygon(count, radius), DEFAULT).bulges) == count


def test_pieces_of_a_line_become_one_line() -> None:
    x = np.array([0.0, 7, 20, 33, 51, 80, 100])
    points = np.vstack((np.column_stack((x, 0 * x)), [[100, 50], [0, 50]]))
    merged = merge_short(Contours.from_points(points), DEFAULT)
    assert len(merged.bulges) == 4
    assert merged.length[0] == pytest.approx(300.0)
    assert merged.area[0] == pytest.approx(5000.0)


def test_three_parts_of_an_arc_become_one_arc() -> None:
    t = np.radians([0, 30, 60, 90])
    points = np.vstack((10 * np.column_stack((np.cos(t), np.sin(t))), [[0, 0]]))
    bulges = [*[np.tan(np.radians(30) / 4)] * 3, 0, 0]
    merged = merge_short(Contours.from_points(points, bulges), DEFAULT)
    assert len(merged.bulges) == 3
    assert merged.length[0] == pytest.approx(20 + 5 * np.pi)


def test_a_rounded_rectangle_is_left_alone() -> None:
    b = np.tan(np.pi / 8)
    points = [[10, 0], [90, 0], [100, 10], [100, 50], [90, 60], [10, 60], [0, 50], [0, 10]]
    plate = Contours.from_points(points, [0, b] * 4)
    merged = merge_short(plate, DEFAULT)
    assert len(merged.bulges) == 8
    assert merged.length[0] == plate.length[0]


def test_an_open_curve_keeps_its_ends() -> None:
    t = np.linspace(0, np.pi / 2, 200)
    curve = Contours.from_points(30 * np.column_stack((np.cos(t), np.sin(t))), closed=False)
    merged = merge_short(curve, DEFAULT)
    assert len(merged.bulges) == 1
    assert merged.starts[0] == pytest.approx([30, 0])
    assert merged.ends[-1] == pytest.approx([0, 30])
    assert merged.closed.tolist() == [False]


def test_a_spiral_is_not_taken_for_a_circle() -> None:
    """Two turns of the same radius within the tolerance are still two turns."""
    t = np.linspace(0, 4 * np.pi, 1500)
    r = 20 + t * 1e-5
    curve = Contours.from_points(np.column_stack((r * np.cos(t), r * np.sin(t))), closed=False)
    merged = merge_short(curve, DEFAULT)
    assert np.abs(merged.sweeps).sum() == pytest.approx(4 * np.pi, rel=0.01)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_a_traced_outline_stays_within_the_tolerance(seed: int) -> None:
    """A smooth random outline of chords: no point further than `flatten` from the result."""
    rng = np.random.default_rng(seed)
    t = np.linspace(0, 2 * np.pi, 1200, endpoint=False)
    r = 40 + sum(rng.normal() / k * np.cos(k * t + rng.random() * 6) for k in range(2, 6))
    points = np.column_stack((r * np.cos(t), r * np.sin(t)))
    chords = Contours.from_points(points)
    merged = merge_short(chords, DEFAULT)
    assert len(merged.bulges) < 300
    assert merged.length[0] == pytest.approx(chords.length[0], rel=1e-12)
    ring = shapely.linearrings(merged.ring(0, 1e-4))
    assert shapely.distance(ring, shapely.points(points)).max() <= DEFAULT.flatten
    assert merged.area[0] == pytest.approx(chords.area[0], rel=1e-4)
    assert (merged.ends == np.roll(merged.starts, -1, axis=0)).all()


@given(
    st.lists(
        st.tuples(
            st.sampled_from((0.0, 0.1, 0.4, 0.99, -0.4)), st.sampled_from((0.0, 0.1, 0.4, -0.4)),
            st.sampled_from((1e-9, 1e-3, 1.0, 20.0)), st.sampled_from((0.0, 1e-4, 3e-3, 0.02, 1.6)),
        ),
        min_size=1, max_size=30,
    )
)  # fmt: skip
def test_two_at_a_time_are_judged_as_any_other_run(
    pairs: list[tuple[float, float, float, float]],
) -> None:
    """All pairs at once against one run at a time: two arcs of nearly one circle, or lines."""
    made = []
    for one, two, length, turn in pairs:
        sweep = 4.0 * np.arctan([one, two])
        way = sweep[0] / 2.0 + turn + sweep[1] / 2.0  # of the second chord, against the first
        points = np.cumsum(
            [[0.0, 0.0], [10.0, 0.0], [length * np.cos(way), length * np.sin(way)]], 0
        )
        made.append(Contours.from_points(points + 7.0, [one, two], closed=False))
    contours = Contours.join(made)
    rows, tolerance = contours.offsets[:-1], 0.004
    middles = _middles(contours, np.ones(len(contours.bulges), dtype=bool))
    alone = [_Run(contours, middles, row, 2).fit(0, 2, tolerance) for row in rows.tolist()]
    merged, bulges = _one_of_two(contours, rows, tolerance)
    together = dict(zip(merged.tolist(), bulges.tolist(), strict=True))
    assert sorted(together) == [row for row, b in zip(rows, alone, strict=True) if b is not None]
    for row, bulge in zip(rows.tolist(), alone, strict=True):
        assert bulge is None or together[row] == pytest.approx(bulge, rel=1e-12, abs=1e-15)
