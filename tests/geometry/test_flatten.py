"""Splines and ellipses as lines and arcs: lengths and shapes against closed forms and scipy."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import BSpline, make_interp_spline
from scipy.special import ellipe, ellipeinc

from analyzer.errors import InputError
from analyzer.geometry.flatten import (
    EllipseArcs,
    flatten_ellipses,
    flatten_splines,
)
from analyzer.geometry.splines import Spline, spline_pieces

TOLERANCE = 0.01


def ellipse(a: float, b: float, t0: float = 0.0, t1: float = 2 * np.pi) -> EllipseArcs:
    """Return one arc of an ellipse about (3, -2), turned by 0.4 rad."""
    cos, sin = np.cos(0.4), np.sin(0.4)
    return EllipseArcs(
        np.array([[3.0, -2.0]]), np.array([[a * cos, a * sin]]), np.array([[-b * sin, b * cos]]),
        np.array([t0]), np.array([t1]),
    )  # fmt: skip


@pytest.mark.outside("Perimeter of an ellipse [mm]", "NIST DLMF 19.30.5, library scipy")
@pytest.mark.parametrize(("a", "b"), [(30, 10), (30, 29.9), (5, 1), (400, 3), (0.5, 0.2)])
def test_perimeter_of_an_ellipse(a: float, b: float) -> None:
    """4 a E(1 - b²/a²): complete elliptic integral, NIST DLMF 19.30.5, by scipy.special."""
    contours = flatten_ellipses(ellipse(a, b), TOLERANCE).contours
    assert contours.length[0] == pytest.approx(4 * a * ellipe(1 - (b / a) ** 2), rel=1e-9)
    assert contours.closed[0]
    assert contours.smooth.all()
    assert contours.area[0] == pytest.approx(np.pi * a * b, abs=2 * TOLERANCE * np.pi * a)


@pytest.mark.outside(
    "Length of part of an ellipse [mm]", "incomplete elliptic integral, library scipy"
)
def test_length_of_a_quarter_and_a_bit_of_an_ellipse() -> None:
    """Incomplete elliptic integral of the second kind, by scipy.special.ellipeinc."""
    a, b, end = 40.0, 15.0, 2.1
    # the parameter of ellipeinc starts at the minor axis
    m = 1 - (b / a) ** 2
    exact = a * (ellipeinc(end - np.pi / 2, m) - ellipeinc(-np.pi / 2, m))
    contours = flatten_ellipses(ellipse(a, b, 0.0, end), TOLERANCE).contours
    assert not contours.closed[0]
    assert contours.length[0] == pytest.approx(exact, rel=1e-10)
    assert not contours.smooth[0]
    assert contours.smooth[1:].all()


def test_an_ellipse_stays_within_the_tolerance_with_few_arcs() -> None:
    contours = flatten_ellipses(ellipse(30, 10), TOLERANCE).contours
    t = np.linspace(0, 2 * np.pi, 20_000)
    shape = ellipse(30, 10)
    exact = shape.centre + np.cos(t)[:, None] * shape.major + np.sin(t)[:, None] * shape.minor
    ring = shapely.linearrings(contours.ring(0, 1e-4))
    assert shapely.distance(ring, shapely.points(exact)).max() <= TOLERANCE + 1e-4
    assert len(contours.bulges) < 40


def test_a_clockwise_arc_runs_clockwise() -> None:
    contours = flatten_ellipses(ellipse(30, 10, 2 * np.pi, 0.0), TOLERANCE).contours
    assert contours.area[0] < 0


@pytest.mark.outside("Length of a lemniscate drawn as a spline [mm]", "NIST DLMF 19.30.13")
def test_length_of_the_lemniscate_through_a_spline() -> None:
    """r² = 2 a² cos 2θ is a × 7.41629 87 long: NIST DLMF 19.30.13, https://dlmf.nist.gov/19.30.

    The smooth parameter x = √2 cos t / (1 + sin² t), y = x sin t is interpolated by a
    cubic spline of 400 spans, whose own error in length is below 1e-6.
    """
    t = np.linspace(0, 2 * np.pi, 401)
    x = np.sqrt(2.0) * 20 * np.cos(t) / (1 + np.sin(t) ** 2)
    y = x * np.sin(t)
    points = np.column_stack((x, y))
    points[-1] = points[0]
    curve = make_interp_spline(t, points, k=3, bc_type="periodic")
    contours = flatten_splines([Spline(3, curve.c, curve.t)], TOLERANCE).contours
    assert contours.length[0] == pytest.approx(20 * 7.4162987, rel=1e-6)
    assert contours.closed[0]
    assert contours.smooth.all()


@pytest.mark.outside("Length of a periodic spline [mm]", "library scipy (BSpline)")
def test_an_unclamped_periodic_spline_closes() -> None:
    """Reference: scipy.interpolate.BSpline over the proper domain knots[3]..knots[n]."""
    rng = np.random.default_rng(7)
    free = rng.random((8, 2)) * 100
    control = np.vstack((free, free[:3]))
    knots = np.arange(15.0) + 2.825
    contours = flatten_splines([Spline(3, control, knots)], TOLERANCE).contours
    t = np.linspace(knots[3], knots[11], 400_001)
    exact = BSpline(knots, control, 3)(t)
    assert contours.closed[0]
    assert contours.smooth.all()
    assert contours.length[0] == pytest.approx(np.hypot(*np.diff(exact, axis=0).T).sum(), rel=1e-8)
    ring = shapely.linearrings(contours.ring(0, 1e-4))
    assert shapely.distance(ring, shapely.points(exact[::50])).max() <= TOLERANCE + 1e-4


@pytest.mark.outside("Length of splines of degree 1 to 7 [mm]", "library scipy (BSpline)")
@pytest.mark.parametrize("degree", [1, 2, 3, 4, 5, 9])
def test_splines_of_any_degree_follow_the_reference(degree: int) -> None:
    """Reference: scipy.interpolate.BSpline."""
    rng = np.random.default_rng(degree)
    count = degree + 6
    control = rng.random((count, 2)) * 50
    inner = np.sort(rng.random(count - degree - 1))
    knots = np.concatenate((np.zeros(degree + 1), inner, np.ones(degree + 1)))
    contours = flatten_splines([Spline(degree, control, knots)], TOLERANCE).contours
    exact = BSpline(knots, control, degree)(np.linspace(0, 1, 5001))
    line = shapely.linestrings(contours.ring(0, 1e-4))
    assert shapely.distance(line, shapely.points(exact)).max() <= TOLERANCE + 1e-4
    fine = BSpline(knots, control, degree)(np.linspace(0, 1, 400_001))
    assert contours.length[0] == pytest.approx(np.hypot(*np.diff(fine, axis=0).T).sum(), rel=1e-5)
    assert contours.starts[0] == pytest.approx(control[0])
    assert contours.ends[-1] == pytest.approx(control[-1])


@pytest.mark.outside(
    "A circle as a rational spline [mm]", "Piegl and Tiller, The NURBS Book, ch. 7, from memory"
)
def test_a_rational_circle_is_a_circle() -> None:
    """Nine control points with weights 1 and √2/2: the exact circle (Piegl & Tiller, The NURBS
    Book, ch. 7, from memory)."""
    w = np.sqrt(0.5)
    control = 12.5 * np.array(
        [[1, 0], [1, 1], [0, 1], [-1, 1], [-1, 0], [-1, -1], [0, -1], [1, -1], [1, 0]], float
    )
    knots = np.array([0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4], float)
    weights = np.array([1, w, 1, w, 1, w, 1, w, 1])
    contours = flatten_splines([Spline(2, control, knots, weights)], TOLERANCE).contours
    assert contours.length[0] == pytest.approx(2 * np.pi * 12.5, rel=1e-12)
    assert contours.area[0] == pytest.approx(np.pi * 12.5**2, rel=1e-12)
    assert contours.radii == pytest.approx(12.5)
    assert len(contours.bulges) == 4


def test_a_straight_spline_is_one_line() -> None:
    control = np.column_stack((np.linspace(0, 30, 4), np.linspace(5, 20, 4)))
    knots = np.array([0, 0, 0, 0, 1, 1, 1, 1], float)
    contours = flatten_splines([Spline(3, control, knots)], TOLERANCE).contours
    assert contours.bulges.tolist() == [0.0]
    assert contours.length[0] == pytest.approx(np.hypot(30, 15))


@settings(max_examples=150)
@given(
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=4, max_size=4),
    st.sampled_from([1e-4, 1e-3, 0.02, 1.0, 300.0]),
)
def test_no_arc_leaves_the_hull_of_the_control_points(
    places: list[tuple[int, int]], scale: float
) -> None:
    """A spline lies in the hull of its control points (standard text on splines, from memory).

    Cusps and turns on the spot too small to see must not become arcs round the world.
    """
    control = np.array(places, float) * scale
    spline = Spline(3, control, np.repeat([0.0, 1.0], 4))
    if not np.ptp(control, axis=0).any():
        return
    contours = flatten_splines([spline], TOLERANCE).contours
    box = contours.segment_box
    assert (box[:, :2] >= control.min(axis=0) - TOLERANCE).all()
    assert (box[:, 2:] <= control.max(axis=0) + TOLERANCE).all()


def test_a_corner_inside_a_spline_is_no_smooth_joint() -> None:
    """Two straight cubics in one spline, meeting at a right angle (knot three times)."""
    control = np.array([[0, 0], [10, 0], [20, 0], [30, 0], [30, 10], [30, 20], [30, 30]], float)
    knots = np.array([0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 2], float)
    contours = flatten_splines([Spline(3, control, knots)], TOLERANCE).contours
    assert contours.smooth.tolist() == [False, False]
    assert np.abs(contours.turns).max() == pytest.approx(np.pi / 2)


def test_many_curves_of_several_degrees_stay_in_order() -> None:
    line = Spline(1, np.array([[0.0, 0.0], [1.0, 0.0]]), np.array([0.0, 0, 1, 1]))
    bow = Spline(2, np.array([[0.0, 0], [5, 5], [10, 0]]), np.array([0.0, 0, 0, 1, 1, 1]))
    contours = flatten_splines([bow, line, bow], TOLERANCE).contours
    assert len(contours) == 3
    assert contours.length[1] == pytest.approx(1.0)
    assert contours.length[0] == contours.length[2]
    assert contours.owner.tolist() == sorted(contours.owner.tolist())


def test_half_the_tolerance_gives_more_arcs() -> None:
    wide = flatten_ellipses(ellipse(30, 10), 0.1).contours
    fine = flatten_ellipses(ellipse(30, 10), 0.001).contours
    assert len(wide.bulges) < len(fine.bulges)
    assert wide.length[0] == pytest.approx(fine.length[0], rel=1e-9)


@pytest.mark.parametrize(
    "spline",
    [
        Spline(3, np.zeros((2, 2)), np.arange(6.0)),
        Spline(2, np.zeros((4, 2)), np.arange(5.0)),
        Spline(2, np.zeros((3, 2)), np.array([0.0, 0, 1, 0, 1, 1])),
        Spline(2, np.zeros((3, 2)), np.zeros(6)),
        Spline(2, np.zeros((3, 2)), np.array([0.0, 0, 0, 1, 1, 1]), np.array([1.0, 0.0, 1.0])),
        Spline(0, np.zeros((3, 2)), np.arange(4.0)),
    ],
)
def test_what_is_no_spline_is_refused(spline: Spline) -> None:
    with pytest.raises(InputError, match="spline"):
        spline_pieces(spline)


def test_a_curve_that_needs_too_many_arcs_is_refused() -> None:
    with pytest.raises(InputError, match="more than 20 arcs"):
        flatten_ellipses(ellipse(30_000, 10), 1e-4, most=20)


def test_nothing_gives_nothing() -> None:
    assert len(flatten_splines([], TOLERANCE).contours) == 0
