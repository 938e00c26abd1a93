"""The kerf offset: closed forms, parallel curves, and shapely's buffer as outside reference."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.geometry.contours import Contours
from analyzer.geometry.offset import MITRE_LIMIT, State, offset_contours

PLATE = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])


def star(seed: int, bent: float = 0.0) -> Contours:
    """Return a star-shaped contour around (0, 0), corners 20 to 60 from it."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(4, 12))
    angle = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2.0 * np.pi / count
    radius = rng.uniform(30.0, 60.0, count)
    points = np.column_stack((radius * np.cos(angle), radius * np.sin(angle)))
    bulges = np.where(rng.random(count) < 0.5, rng.uniform(-bent, bent, count), 0.0)
    return Contours.from_points(points, bulges)


def rounded_slot(length: float, width: float) -> Contours:
    """Return an obround cut-out (clockwise) with middle (0, 0) along x."""
    half, r = (length - width) / 2.0, width / 2.0
    return Contours.from_points(
        [[-half, -r], [half, -r], [half, r], [-half, r]], [0.0, 1.0, 0.0, 1.0]
    ).reversed()


@pytest.mark.outside("Path around a plate, corners mitred [mm]", "closed form")
def test_plate_grows_by_four_kerfs() -> None:
    """Outside corners mitred: every side of a rectangle grows by twice the distance."""
    moved = offset_contours(PLATE, 0.25)
    assert moved.path.length[0] == pytest.approx(1000.0 + 4 * 0.5, abs=1e-12)
    assert moved.source.tolist() == [0, 1, 2, 3]
    assert moved.state.tolist() == [State.KEPT]


@pytest.mark.outside("Path in a hole, pi (d - w) [mm]", "closed form")
@pytest.mark.parametrize("diameter", [1.0, 12.0, 60.0])
def test_hole_shrinks_by_the_kerf(diameter: float) -> None:
    """Path of a hole is pi (d - w): trade rule of kerf compensation, exact geometry."""
    hole = Contours.circle(7.0, -3.0, diameter / 2.0).reversed()
    moved = offset_contours(hole, 0.25)
    assert moved.path.length[0] == pytest.approx(np.pi * (diameter - 0.5), rel=1e-12)
    np.testing.assert_allclose(moved.path.radii, diameter / 2.0 - 0.25)


@pytest.mark.outside("Parallel curve of a rounded plate [mm]", "Steiner's formula")
def test_rounded_outline_grows_by_pi_w_and_stays_arcs() -> None:
    """Steiner's formula: the parallel curve of a convex smooth curve is 2 pi d longer."""
    t = np.tan(np.pi / 8.0)
    box = Contours.from_points(
        [[10, 0], [90, 0], [100, 10], [100, 50], [90, 60], [10, 60], [0, 50], [0, 10]],
        [0, t, 0, t, 0, t, 0, t],
    )
    moved = offset_contours(box, 0.3)
    assert moved.path.length[0] == pytest.approx(box.length[0] + 2.0 * np.pi * 0.3, rel=1e-12)
    assert np.count_nonzero(moved.path.bulges) == 4
    np.testing.assert_allclose(moved.path.turns, 0.0, atol=1e-9)


@pytest.mark.outside("Path around a half disc [mm]", "closed form")
def test_convex_joint_with_an_arc_is_mitred_by_tangents() -> None:
    """Half disc: both corners of 90 degrees add two tangents of d tan(45 degrees) each."""
    half = Contours.from_points([[-10, 0], [10, 0]], [0.0, 1.0])
    moved = offset_contours(half, 0.5)
    assert moved.path.length[0] == pytest.approx(20.0 + 4 * 0.5 + np.pi * 10.5, rel=1e-12)
    ends, nexts = moved.path.ends, np.roll(moved.path.starts, -1, axis=0)
    np.testing.assert_allclose(ends, nexts, atol=1e-12)


def test_sharp_tip_is_squared_off() -> None:
    """A tip of 2 degrees would be mitred 57 distances out; it stops at the limit."""
    tip = Contours.from_points([[0, 0], [100, -np.tan(np.radians(1)) * 100], [100, 1.7455]])
    moved = offset_contours(tip, 0.5)
    out = -moved.path.box[0, 0]
    assert out == pytest.approx(MITRE_LIMIT * 0.5, rel=1e-3)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), distance=st.floats(0.05, 1.0), inside=st.booleans())
def test_polygons_against_shapely(seed: int, distance: float, inside: bool) -> None:
    """shapely (GEOS) buffer with mitred joints, as an independent implementation."""
    drawn = star(seed)
    drawn = drawn.reversed() if inside else drawn
    moved = offset_contours(drawn, distance)
    sign = -1.0 if inside else 1.0
    wanted = shapely.Polygon(drawn.starts).buffer(
        sign * distance, join_style="mitre", mitre_limit=MITRE_LIMIT
    )
    got = shapely.Polygon(moved.path.ring(0))
    if moved.state[0] == State.KEPT and got.is_valid and wanted.geom_type == "Polygon":
        assert shapely.hausdorff_distance(got, wanted) < 0.011 * distance


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), distance=st.floats(0.05, 0.5), inside=st.booleans())
def test_arcs_and_lines_keep_their_distance(seed: int, distance: float, inside: bool) -> None:
    """Every path segment's middle is exactly the distance from its own drawn segment.

    Distances by shapely to the drawn segment cut into 2,000 chords; mitres lie farther.
    """
    drawn = star(seed, bent=0.35)
    drawn = drawn.reversed() if inside else drawn
    moved = offset_contours(drawn, distance)
    path = moved.path
    np.testing.assert_allclose(path.ends, np.roll(path.starts, -1, axis=0), atol=1e-9)
    middles = path.points_at(np.arange(len(path.bulges)), np.full(len(path.bulges), 0.5))
    tolerance = 1e-4 if moved.state[0] == State.KEPT else 0.02
    for middle, source, bulge in zip(middles, moved.source, path.bulges, strict=True):
        if drawn.bulges[source] == 0.0 or bulge != 0.0:
            steps = np.linspace(0.0, 1.0, 2001)
            points = drawn.points_at(np.full(2001, source), steps)
            away = shapely.distance(shapely.LineString(points), shapely.Point(middle))
            extended = away > distance + tolerance  # the middle may lie on the mitre's part
            assert away >= distance - tolerance
            if bulge != 0.0:
                assert not extended


@pytest.mark.outside("Where parallel line and parallel circle meet [mm]", "closed form, by hand")
def test_concave_corner_between_line_and_arc_is_exact() -> None:
    """Where line y = 0 meets a circle of radius 10 about (0, 0): solved by hand.

    Offset by d towards the notch: line y = d, circle 10 + d: x = -sqrt((10 + d)^2 - d^2).
    """
    drawn = Contours.from_points(
        [[-40, 0], [-10, 0], [10, 0], [40, 0], [40, -30], [-40, -30]],
        [0.0, -1.0, 0.0, 0.0, 0.0, 0.0],
    ).reversed()  # clockwise box below y = 0 with a half disc above it
    outline = drawn.reversed() if drawn.area[0] < 0 else drawn
    moved = offset_contours(outline, 0.5)
    arc = np.flatnonzero(moved.path.bulges)
    assert len(arc) == 1
    x = np.sqrt(10.5**2 - 0.5**2)
    ends = np.sort(np.abs([moved.path.starts[arc[0], 0], moved.path.ends[arc[0], 0]]))
    np.testing.assert_allclose(ends, [x, x], rtol=1e-12)


def test_fillet_tighter_than_the_kerf_becomes_a_corner() -> None:
    t = -np.tan(np.pi / 8.0)
    r = 0.2
    window = Contours.from_points(
        [[0, r], [0, 20 - r], [r, 20], [30 - r, 20], [30, 20 - r], [30, r], [30 - r, 0], [r, 0]],
        [0, t, 0, t, 0, t, 0, t],
    )
    assert window.area[0] < 0
    moved = offset_contours(window, 0.25)
    assert moved.state[0] == State.TRIMMED
    assert moved.path.length[0] == pytest.approx(2 * (29.5 + 19.5), rel=1e-9)
    assert sorted(moved.source.tolist()) == [0, 2, 4, 6]


@pytest.mark.parametrize("diameter", [0.01, 0.3, 0.5])
def test_hole_no_wider_than_the_kerf_is_its_centre(diameter: float) -> None:
    moved = offset_contours(Contours.circle(5.0, 6.0, diameter / 2.0).reversed(), 0.25)
    assert moved.state.tolist() == [State.COLLAPSED]
    assert moved.path.length[0] == 0.0
    np.testing.assert_allclose(moved.path.starts, [[5.0, 6.0]])


def test_slot_no_wider_than_the_kerf_is_one_line() -> None:
    """A 40 x 0.4 slot with kerf 0.5: a single cut of 39.5 along its middle."""
    moved = offset_contours(rounded_slot(40.0, 0.4), 0.25)
    assert moved.state.tolist() == [State.COLLAPSED]
    assert moved.path.length[0] == pytest.approx(39.5, abs=0.2)
    np.testing.assert_allclose(moved.path.starts[:, 1], 0.0, atol=1e-9)


def test_slit_in_the_outline_is_not_lost() -> None:
    """A 20 mm slit narrower than the kerf is still run along, there and back."""
    notched = Contours.from_points(
        [[0, 0], [100, 0], [100, 60], [50.1, 60], [50.1, 40], [49.9, 40], [49.9, 60], [0, 60]]
    )
    moved = offset_contours(notched, 0.25)
    assert moved.state.tolist() == [State.DRAWN]
    assert moved.path.length[0] == pytest.approx(notched.length[0])


def test_slot_wider_than_the_kerf_keeps_its_arcs() -> None:
    moved = offset_contours(rounded_slot(40.0, 6.0), 0.25)
    assert moved.path.length[0] == pytest.approx(2 * 34.0 + np.pi * 5.5, rel=1e-12)


def test_open_lines_stay_as_drawn() -> None:
    line = Contours.from_points([[0, 0], [10, 0], [10, 5]], closed=False)
    both = Contours.join([PLATE, line])
    moved = offset_contours(both, 0.25)
    np.testing.assert_array_equal(moved.path.ends[4:], both.ends[4:])
    assert moved.path.closed.tolist() == [True, False]


def test_many_at_once_equal_one_by_one() -> None:
    several = [star(seed, 0.3) for seed in range(12)] + [rounded_slot(40.0, 0.4), PLATE]
    together = offset_contours(Contours.join(several), 0.4)
    for row, alone in enumerate(several):
        single = offset_contours(alone, 0.4)
        part = together.path.segments_of(row)
        np.testing.assert_array_equal(together.path.starts[part], single.path.starts)
        assert together.path.length[row] == single.path.length[0]


def test_length_of_a_flattened_curve_keeps_its_ratio() -> None:
    """24 chords stand for a circle drawn as a spline: the drawn length is that of the curve."""
    angle = np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False)
    points = 10.0 * np.column_stack((np.cos(angle), np.sin(angle)))
    true = np.full(24, 2.0 * np.pi * 10.0 / 24)
    curve = Contours.from_points(points, smooth=np.ones(24, bool), lengths=true)
    moved = offset_contours(curve, 0.25)
    assert moved.path.length[0] == pytest.approx(2.0 * np.pi * 10.25, rel=3e-4)


@pytest.mark.parametrize(
    "points",
    [
        [[0, 0], [10, 0]],  # there and back
        [[0, 0], [10, 0], [5, 0]],
        [[0, 0], [10, 10], [10, 0], [0, 10]],  # crosses itself
        [[0, 0], [1e-12, 0], [10, 0], [10, 10]],  # a segment of no length
        [[3, 3], [3, 3], [3, 3]],
    ],
)
def test_degenerate_contours_stay_finite(points: list[list[float]]) -> None:
    for contour in (Contours.from_points(points), Contours.from_points(points).reversed()):
        moved = offset_contours(contour, 0.25)
        assert np.isfinite(moved.path.starts).all()
        assert np.isfinite(moved.path.lengths).all()
        assert np.isfinite(moved.path.bulges).all()
        assert len(moved.path) == 1
        assert len(moved.path.bulges) >= 1


def test_nothing_in_nothing_out() -> None:
    assert len(offset_contours(Contours.empty(), 0.25).path) == 0
