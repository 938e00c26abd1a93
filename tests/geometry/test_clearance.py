"""Distances between contours against closed forms and shapely on finely flattened rings."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
import shapely
from geometry.shapes import (
    CLOSED,
    OPEN,
    arc,
    circle_of_arcs,
    line,
    polygon,
    rectangle,
    regular,
    rotation,
    rounded,
    stadium,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.geometry.circles import fitted_circles, true_circles
from analyzer.geometry.clearance import box_pairs, clearances, contains_points
from analyzer.geometry.contours import Contours

EVERY = {**CLOSED, **OPEN}
FINE = 1e-5


def width(a: Contours, b: Contours) -> float:
    """Least distance of two contours. [mm]"""
    found = clearances(Contours.join([a, b]), math.inf)
    assert found.rows.tolist() == [[0, 1]]
    return float(found.widths[0])


def as_line(shape: Contours, tolerance: float = FINE) -> shapely.LineString:
    ring = shape.ring(0, tolerance)
    return shapely.LineString(np.vstack((ring, ring[:1])) if shape.closed[0] else ring)


# --- closed forms ---------------------------------------------------------


def test_circles_beside_inside_crossing_and_the_same() -> None:
    circle = Contours.circle
    assert width(circle(0, 0, 3), circle(10, 0, 2)) == pytest.approx(5.0, abs=1e-12)
    assert width(circle(0, 0, 10), circle(3, 4, 2)) == pytest.approx(3.0, abs=1e-12)
    assert width(circle(0, 0, 5), circle(0, 0, 8)) == pytest.approx(3.0, abs=1e-12)
    assert width(circle(0, 0, 5), circle(6, 0, 5)) == pytest.approx(0.0, abs=1e-12)
    assert width(circle(0, 0, 5), circle(10, 0, 5)) == pytest.approx(0.0, abs=1e-12)
    assert width(circle(0, 0, 5), circle(0, 0, 5)) == 0.0


def test_the_nearest_points_lie_where_the_drawing_says() -> None:
    found = clearances(Contours.join([rectangle(0, 0, 100, 50), Contours.circle(90, 20, 4)]), 10.0)
    assert found.widths == pytest.approx([6.0])
    assert found.first[0] == pytest.approx([100, 20])
    assert found.second[0] == pytest.approx([94, 20])


def test_arcs_that_face_and_arcs_that_turn_away() -> None:
    """Two quarter arcs whose full circles would nearly touch: the ends decide."""
    facing = width(arc(0, 0, 5, -45, 90), arc(12, 0, 5, 135, 90))
    assert facing == pytest.approx(2.0)
    away = width(arc(0, 0, 5, 135, 90), arc(12, 0, 5, -45, 90))
    assert away == pytest.approx(12 + 2 * 5 * math.cos(math.pi / 4))
    inside = width(arc(0, 0, 5, -45, 90), arc(0, 0, 8, -45, 90))
    assert inside == pytest.approx(3.0)


def test_line_through_an_arc_and_beside_it() -> None:
    half = arc(0, 0, 5, 0, 180)
    assert width(half, line((-10, 3), (10, 3))) == pytest.approx(0.0, abs=1e-12)
    assert width(half, line((-10, 7), (10, 7))) == pytest.approx(2.0)
    assert width(half, line((-10, -1), (10, -1))) == pytest.approx(1.0)
    assert width(half, line((-1, 0), (1, 0))) == pytest.approx(4.0)


def test_a_pair_beyond_reach_is_left_out_and_groups_stay_apart() -> None:
    three = Contours.join([Contours.circle(10 * k, 0, 4) for k in range(3)])
    assert clearances(three, 2.0).rows.tolist() == [[0, 1], [1, 2]]
    assert clearances(three, 1.9).rows.tolist() == []
    assert clearances(three, 12.0, np.array([0, 1, 0])).rows.tolist() == [[0, 2]]
    assert len(clearances(three.take([0]), 5.0).rows) == 0
    assert len(clearances(Contours.empty(), 5.0).rows) == 0


# --- against shapely ------------------------------------------------------

placed = st.tuples(
    st.sampled_from(sorted(set(EVERY) - {"far away", "thin"})),
    st.floats(-180, 180),
    st.floats(-60, 60),
    st.floats(-60, 60),
)


@pytest.mark.outside(
    "Distance between contours of lines and arcs [mm]", "library shapely, rings within 1e-5 mm"
)
@settings(max_examples=150, deadline=None)
@given(one=placed, two=placed)
def test_distance_agrees_with_shapely(one: tuple, two: tuple) -> None:
    """shapely on chords within 1e-5 mm of the arcs is the outside reference."""
    a, b = (EVERY[name].moved(rotation(turn), (x, y)) for name, turn, x, y in (one, two))
    found = clearances(Contours.join([a, b]), math.inf)
    expected = as_line(a).distance(as_line(b))
    assert found.widths[0] == pytest.approx(expected, abs=3 * FINE)
    for point, shape in ((found.first[0], a), (found.second[0], b)):
        assert as_line(shape).distance(shapely.Point(point)) <= 2 * FINE
    assert np.hypot(*(found.first[0] - found.second[0])) == pytest.approx(found.widths[0])


def random_field(count: int, seed: int) -> Contours:
    """Shapes of several kinds on a loose grid."""
    chance = np.random.default_rng(seed)
    several = []
    for k in range(count):
        x, y = 30.0 * (k % 12), 30.0 * (k // 12)
        kind = k % 4
        size = chance.uniform(3, 12)
        shape = (
            Contours.circle(0, 0, size), stadium(0, 0, 2.4 * size, size), regular(0, 0, size, 60),
            rounded(-size, -size / 2, 2 * size, size, size / 5),
        )[kind]  # fmt: skip
        several.append(shape.moved(rotation(chance.uniform(0, 360)), (x, y)))
    return Contours.join(several)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    st.floats(-math.pi, math.pi), st.floats(0.5, 400.0), st.floats(0.01, 50.0),
    st.tuples(st.floats(-3000.0, 3000.0), st.floats(-3000.0, 3000.0)),
)  # fmt: skip
def test_squares_in_line_at_any_angle_are_as_far_apart_as_they_are(
    angle: float, side: float, gap: float, corner: tuple[float, float]
) -> None:
    """Two sides of each lie on one line with two of the other: rounding must not cross them."""
    along = np.array([math.cos(angle), math.sin(angle)])
    up = np.array([-along[1], along[0]])
    square = np.array(corner) + np.array(
        [0.0 * along, side * along, side * (along + up), side * up]
    )
    moved = square + (side + gap) * along
    pair = Contours.join([Contours.from_points(square), Contours.from_points(moved)])
    (width,) = clearances(pair, math.inf).widths
    assert width == pytest.approx(gap, abs=1e-8)
    assert width == pytest.approx(
        shapely.Polygon(square).distance(shapely.Polygon(moved)), abs=1e-8
    )


def test_all_pairs_within_reach_are_found() -> None:
    field = random_field(60, 1)
    found = clearances(field, 15.0)
    lines = [as_line(field.take([row]), 1e-3) for row in range(len(field))]
    shapely.prepare(lines)
    expected = {
        (i, j): d
        for i in range(len(lines))
        for j in range(i + 1, len(lines))
        if (d := lines[i].distance(lines[j])) <= 15.0
    }
    got = {tuple(rows): w for rows, w in zip(found.rows.tolist(), found.widths, strict=True)}
    assert got.keys() == expected.keys()
    assert [got[k] for k in expected] == pytest.approx(list(expected.values()), abs=3e-3)


@pytest.mark.slow
def test_contours_of_thousands_of_pieces() -> None:
    """Two long waves face each other: the pair is found without comparing all with all."""
    x = np.linspace(0, 400, 6001)
    low = line(*zip(x, np.sin(x), strict=True))
    high = line(*zip(x, 4 + np.sin(1.01 * x + 1), strict=True))
    start = time.perf_counter()
    found = clearances(Contours.join([low, high]), 20.0)
    assert time.perf_counter() - start < 2.0
    assert found.widths[0] == pytest.approx(as_line(low).distance(as_line(high)), abs=1e-9)


@pytest.mark.slow
def test_ten_thousand_holes_in_one_plate_take_no_square_time() -> None:
    def seconds(side: int) -> float:
        holes = [Contours.circle(10 * i, 10 * j, 2.5) for i in range(side) for j in range(side)]
        plate = Contours.join([rectangle(-10, -10, 10 * side + 10, 10 * side + 10), *holes])
        best = math.inf
        for _ in range(3):
            fresh = plate.moved(np.eye(2))
            start = time.perf_counter()
            found = clearances(fresh, 6.0)
            best = min(best, time.perf_counter() - start)
        assert len(found.rows) == 2 * side * (side - 1)
        return best

    few, many = seconds(25), seconds(100)  # 16 times as many holes: n^2 would be 256 times
    assert many < 60 * few


# --- points in contours ---------------------------------------------------


@settings(max_examples=80, deadline=None)
@given(shape=placed, seed=st.integers(0, 1000))
def test_points_in_contours_agree_with_shapely(shape: tuple, seed: int) -> None:
    name, turn, x, y = shape
    contour = EVERY[name].moved(rotation(turn), (x, y))
    box = contour.box[0]
    chance = np.random.default_rng(seed)
    points = chance.uniform(box[:2] - 2, box[2:] + 2, (200, 2))
    inside = contains_points(contour, np.zeros(200, int), points)
    if not contour.closed[0]:
        assert not inside.any()
        return
    area = shapely.Polygon(contour.ring(0, FINE))
    clear = shapely.distance(area.exterior, shapely.points(points)) > 3 * FINE
    assert np.array_equal(inside[clear], shapely.contains_xy(area, *points[clear].T))


def test_points_are_asked_of_many_contours_at_once() -> None:
    field = random_field(48, 2)
    rows = np.repeat(np.arange(48), 48)
    inside = contains_points(field, rows, np.tile(field.centroid, (48, 1)))
    assert np.array_equal(inside.reshape(48, 48), np.eye(48, dtype=bool))


def test_box_pairs_by_hand() -> None:
    boxes = np.array([[0, 0, 1, 1], [3, 0, 4, 1], [3, 3, 4, 4]], float)
    i, j = box_pairs(boxes, boxes, 2.0)
    assert list(zip(i.tolist(), j.tolist(), strict=True)) == [
        (0, 0), (0, 1), (1, 0), (1, 1), (1, 2), (2, 1), (2, 2),
    ]  # fmt: skip


# --- circles --------------------------------------------------------------


@pytest.mark.parametrize("arcs", [2, 3, 4, 7])
def test_a_circle_of_any_arcs_is_a_circle(arcs: int) -> None:
    found = true_circles(circle_of_arcs(1e4, -7, 5.5, arcs, 11).moved(rotation(33)))
    assert found.round.all()
    assert found.radius[0] == pytest.approx(5.5, abs=1e-9)
    assert found.centre[0] == pytest.approx(rotation(33) @ [1e4, -7], abs=1e-8)


def test_what_is_no_circle() -> None:
    others = [shape for name, shape in EVERY.items() if not name.startswith("circle")]
    assert not true_circles(Contours.join(others)).round.any()
    assert not true_circles(arc(0, 0, 5, 0, 350)).round.any()


def test_a_circle_fits_polygons_of_eight_sides_and_more() -> None:
    """The circle through the vertices, whichever way they are drawn; a hexagon is not round."""
    sides = [4, 6, 7, 8, 12, 24, 100]
    found = fitted_circles(
        Contours.join([regular(3, 4, 2.5, n, 5).reversed() for n in sides]), 0.02, 0.01
    )
    assert found.round.tolist() == [False, False, False, True, True, True, True]
    assert found.radius[3:] == pytest.approx([2.5] * 4, abs=1e-12)
    assert found.centre[3:] == pytest.approx(np.tile([3.0, 4.0], (4, 1)), abs=1e-12)


def test_split_sides_make_nothing_round() -> None:
    square = rectangle(0, 0, 10, 10)
    finely = Contours.from_points(square.points_at(np.repeat(range(4), 50), np.tile(np.linspace(0, 1, 50, endpoint=False), 4)))  # fmt: skip # noqa: E501
    hexagon = regular(0, 0, 10, 6)
    split = Contours.from_points(hexagon.points_at(np.repeat(range(6), 9), np.tile(np.linspace(0, 1, 9, endpoint=False), 6)))  # fmt: skip # noqa: E501
    star = polygon(*[(r * math.cos(a), r * math.sin(a)) for a, r in zip(np.linspace(0, 2 * math.pi, 24, endpoint=False), [5, 4] * 12, strict=True)])  # fmt: skip # noqa: E501
    shapes = Contours.join([finely, split, star, stadium(0, 0, 10, 9), rounded(0, 0, 10, 10, 4)])
    assert not fitted_circles(shapes, 0.02, 0.01).round.any()


def test_a_nearly_round_contour_counts_within_tolerance() -> None:
    slightly = Contours.from_points([(-5, 0), (5, 0), (5, 0.05), (-5, 0.05)], [1, 0, 1, 0])
    found = fitted_circles(slightly, 0.02, 0.01)
    assert found.round[0]
    assert found.radius[0] == pytest.approx(5.0, abs=0.05)
