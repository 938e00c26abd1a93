"""Contours against closed forms, shapely and what moving must not change."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from geometry.shapes import (
    ARC_90,
    CLOSED,
    MIRROR,
    OPEN,
    arc,
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

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours

EVERY = {**CLOSED, **OPEN}


def as_polygon(contours: Contours, row: int = 0, tolerance: float = 1e-4) -> shapely.Polygon:
    """The contour flattened so finely that shapely may judge it."""
    return shapely.Polygon(contours.ring(row, tolerance))


# --- closed forms ---------------------------------------------------------


@pytest.mark.outside(
    "Length and area of a leaf of a lemniscate, 20,000 chords [mm, mm2]", "NIST DLMF 19.30.13"
)
def test_lemniscate_leaf_is_as_long_as_the_handbook_says() -> None:
    """Right-hand leaf of r^2 = 2 a^2 cos 2 theta, a = 1: NIST DLMF 19.30.13.

    https://dlmf.nist.gov/19.30: both leaves together are a * 7.41629 87 long.
    Its area is a^2 (classical: 2 a^2 for both leaves).
    """
    theta = np.linspace(-np.pi / 4, np.pi / 4, 20_001)[:-1]
    r = np.sqrt(2.0 * np.cos(2.0 * theta))
    leaf = Contours.from_points(np.column_stack((r * np.cos(theta), r * np.sin(theta))))
    assert leaf.length[0] == pytest.approx(7.4162987 / 2, abs=1e-6)
    assert leaf.area[0] == pytest.approx(1.0, abs=1e-6)


@pytest.mark.outside("Circle: length, area, centroid, box [mm]", "closed form")
def test_circle_in_closed_form() -> None:
    circle = Contours.circle(12.0, -7.0, 5.5)
    assert circle.length[0] == pytest.approx(2 * math.pi * 5.5, rel=1e-15)
    assert circle.area[0] == pytest.approx(math.pi * 5.5**2, rel=1e-15)
    assert circle.centroid[0] == pytest.approx([12.0, -7.0], abs=1e-14)
    assert circle.box[0] == pytest.approx([6.5, -12.5, 17.5, -1.5], abs=1e-14)
    assert circle.radii == pytest.approx([5.5, 5.5])
    assert circle.turns == pytest.approx([0.0, 0.0], abs=1e-12)


@pytest.mark.outside("Slot and rounded plate: length, area [mm, mm2]", "closed form")
def test_stadium_and_rounded_rectangle_in_closed_form() -> None:
    slot = stadium(3, 4, 40, 8, 30)
    assert slot.length[0] == pytest.approx(2 * 32 + math.pi * 8)
    assert slot.area[0] == pytest.approx(32 * 8 + math.pi * 16)
    assert slot.centroid[0] == pytest.approx([3, 4], abs=1e-12)
    plate = rounded(0, 0, 400, 200, 10)
    assert plate.length[0] == pytest.approx(2 * (380 + 180) + 2 * math.pi * 10)
    assert plate.area[0] == pytest.approx(400 * 200 - (4 - math.pi) * 100)
    assert plate.turns == pytest.approx(np.zeros(8), abs=1e-12)


@pytest.mark.outside(
    "Circular segment: area, centroid [mm2, mm]", "closed form, summed over strips"
)
@pytest.mark.parametrize("bulge", [1e-7, 1e-4, 0.0099, 0.0101, 0.1, 1.0, 3.0, -0.7, -1e-5])
def test_circular_segment_in_closed_form(bulge: float) -> None:
    """Area and centroid of a circular segment, any handbook: r^2/2 (s - sin s), c^3 / 12 A.

    Summed here over 4000 strips (trapezia along the arc) to be free of either formula.
    """
    piece = Contours.from_points([(0, 0), (10, 0)], [bulge, 0.0])
    fine = piece.points_at(np.zeros(40_001, int), np.linspace(0, 1, 40_001))
    x, y = fine.T
    area = np.sum((y[1:] + y[:-1]) / 2 * np.diff(x)) * -1.0
    moment = np.sum((y[1:] ** 2 + y[1:] * y[:-1] + y[:-1] ** 2) / 6 * np.diff(x)) * -1.0
    assert piece.area[0] == pytest.approx(area, rel=1e-6)
    assert piece.centroid[0] == pytest.approx([5.0, moment / area], rel=1e-5)


# --- against shapely ------------------------------------------------------


def test_the_centroid_of_a_small_part_drawn_far_off_is_its_own() -> None:
    """By hand: two rectangles 20 x 10 and 10 x 10, not the middle of their box."""
    corner = np.array([[0, 0], [20, 0], [20, 10], [10, 10], [10, 20], [0, 20]], dtype=float)
    far = Contours.from_points(np.add(corner, [2e5, -1e5]))
    assert far.centroid[0] - [2e5, -1e5] == pytest.approx([250 / 30, 250 / 30], abs=1e-6)


@pytest.mark.outside(
    "Area, length, centroid, box of 20 shapes [mm, mm2]", "library shapely, rings within 1e-4 mm"
)
@pytest.mark.parametrize("name", CLOSED)
def test_measures_agree_with_shapely(name: str) -> None:
    """shapely 2 on the ring flattened within 1e-4 mm as the outside reference."""
    shape = CLOSED[name]
    ring = as_polygon(shape)
    slack = 1e-4 * shape.length[0] + 1e-9
    assert abs(shape.area[0]) == pytest.approx(ring.area, abs=slack)
    assert shape.length[0] == pytest.approx(ring.length, rel=1e-4)
    centre = ring.centroid
    assert shape.centroid[0] == pytest.approx([centre.x, centre.y], abs=2e-4 + 1e-9 * 1e5)
    assert shape.box[0] == pytest.approx(ring.bounds, abs=1e-4)
    assert (shape.area[0] > 0) == shapely.is_ccw(ring.exterior)


@pytest.mark.parametrize("name", CLOSED)
def test_a_closed_contour_turns_once(name: str) -> None:
    shape = CLOSED[name]
    whole = shape.turns.sum() + shape.sweeps.sum()
    assert whole == pytest.approx(math.copysign(2 * math.pi, shape.area[0]), abs=1e-9)


@pytest.mark.parametrize("name", OPEN)
def test_open_contours_have_length_but_no_area(name: str) -> None:
    shape = OPEN[name]
    ring = shapely.LineString(shape.ring(0, 1e-5))
    assert shape.area[0] == 0.0
    assert shape.length[0] == pytest.approx(ring.length, rel=1e-5)
    assert shape.box[0] == pytest.approx(ring.bounds, abs=1e-4)
    assert shape.turns[0] == 0.0


def test_a_point_at_the_start_of_an_open_contour_makes_no_corner() -> None:
    assert OPEN["begins with a point"].turns == pytest.approx([0, 0, -3 * math.pi / 4])


# --- what moving must not change ------------------------------------------

shapes = st.sampled_from(sorted(set(EVERY) - {"far away"}))
angles = st.floats(-360, 360)
shifts = st.tuples(st.floats(-1e3, 1e3), st.floats(-1e3, 1e3))


@settings(max_examples=60, deadline=None)
@given(name=shapes, degrees=angles, shift=shifts, mirrored=st.booleans())
def test_moving_keeps_measures(
    name: str, degrees: float, shift: tuple[float, float], mirrored: bool
) -> None:
    shape = EVERY[name]
    matrix = rotation(degrees) @ (MIRROR if mirrored else np.eye(2))
    moved = shape.moved(matrix, shift)
    sign = -1 if mirrored else 1
    assert moved.length == pytest.approx(shape.length, rel=1e-12)
    assert moved.area == pytest.approx(sign * shape.area, rel=1e-9, abs=1e-9)
    assert np.sin(moved.turns) == pytest.approx(sign * np.sin(shape.turns), abs=1e-7)
    assert np.cos(moved.turns) == pytest.approx(np.cos(shape.turns), abs=1e-7)
    if shape.closed[0]:
        where = matrix @ shape.centroid[0] + shift
        assert moved.centroid[0] == pytest.approx(where, abs=1e-6)
    back = moved.moved(np.linalg.inv(matrix), -np.linalg.inv(matrix) @ shift)
    assert back.starts == pytest.approx(shape.starts, abs=1e-9)
    assert back.bulges == pytest.approx(shape.bulges, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(name=shapes)
def test_reversing_twice_changes_nothing_and_once_the_sign(name: str) -> None:
    shape = EVERY[name]
    back = shape.reversed()
    assert back.area == pytest.approx(-shape.area)
    assert back.length == pytest.approx(shape.length)
    assert back.box == pytest.approx(shape.box)
    assert back.centroid == pytest.approx(shape.centroid, abs=1e-9)
    assert np.sort(back.turns) == pytest.approx(np.sort(-shape.turns), abs=1e-12)
    twice = back.reversed()
    for field in ("starts", "ends", "bulges", "lengths", "smooth", "offsets", "closed"):
        assert np.array_equal(getattr(twice, field), getattr(shape, field))


def test_reversing_takes_smooth_joints_along() -> None:
    flags = [False, True, False, False]
    closed = Contours.from_points([(0, 0), (1, 0), (1, 1), (0, 1)], smooth=flags)
    back = closed.reversed()
    smooth_at = {tuple(p) for p, flag in zip(back.starts, back.smooth, strict=True) if flag}
    assert smooth_at == {(1.0, 0.0)}
    opened = Contours.from_points([(0, 0), (1, 0), (1, 1)], smooth=[False, True], closed=False)
    assert opened.reversed().smooth.tolist() == [False, True]


def test_far_from_the_origin_nothing_is_lost() -> None:
    near, far = rounded(0, 0, 60, 30, 4), CLOSED["far away"]
    assert far.area[0] == pytest.approx(near.area[0], rel=1e-11)
    assert far.length[0] == pytest.approx(near.length[0], rel=1e-12)
    assert far.centroid[0] - (1e5, -1e5) == pytest.approx(near.centroid[0], abs=1e-9)
    assert far.turns == pytest.approx(np.zeros(8), abs=1e-9)


def test_scaling_scales_lengths_and_areas() -> None:
    inch = CLOSED["rounded"].moved(25.4 * np.eye(2))
    assert inch.length[0] == pytest.approx(25.4 * CLOSED["rounded"].length[0])
    assert inch.area[0] == pytest.approx(25.4**2 * CLOSED["rounded"].area[0])


def test_a_matrix_that_squeezes_circles_is_refused() -> None:
    with pytest.raises(InputError, match="round"):
        CLOSED["circle"].moved([[2.0, 0.0], [0.0, 1.0]])


# --- sets of contours -----------------------------------------------------


def test_join_and_take_are_the_inverse_of_each_other() -> None:
    together = Contours.join(list(EVERY.values()))
    assert len(together) == len(EVERY)
    for row, shape in enumerate(EVERY.values()):
        alone = together.take([row])
        for field in ("starts", "ends", "bulges", "lengths", "smooth", "offsets", "closed"):
            assert np.array_equal(getattr(alone, field), getattr(shape, field))
    for measure in ("length", "area"):
        single = np.concatenate([getattr(shape, measure) for shape in EVERY.values()])
        assert getattr(together, measure) == pytest.approx(single, rel=1e-12, abs=1e-12)
    assert together.box == pytest.approx(np.vstack([shape.box for shape in EVERY.values()]))
    mask = together.closed
    assert len(together.take(mask)) == len(CLOSED)
    assert len(together.take([])) == 0


def test_no_contours_at_all_have_empty_measures() -> None:
    nothing = Contours.join([])
    assert len(nothing) == 0
    for name in ("length", "area", "turns", "radii", "sweeps"):
        assert getattr(nothing, name).shape == (0,)
    assert nothing.box.shape == (0, 4)
    assert nothing.centroid.shape == (0, 2)
    assert len(nothing.reversed()) == 0
    assert len(nothing.flattened()) == 0
    assert len(nothing.moved(np.eye(2))) == 0


def test_wrong_arrays_are_refused() -> None:
    pair = np.zeros((1, 2))
    with pytest.raises(InputError):
        Contours(pair, pair, np.zeros(2), np.zeros(2), np.zeros(2, bool), [0, 2], [True])
    with pytest.raises(InputError):
        Contours(pair, pair, np.zeros(1), np.zeros(1), np.zeros(1, bool), [0, 2], [True])
    with pytest.raises(InputError, match="without a segment"):
        Contours(pair, pair, np.zeros(1), np.zeros(1), np.zeros(1, bool), [0, 1, 1], [True, True])


def test_arrays_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        CLOSED["square"].starts[0, 0] = 1.0


# --- points along the way -------------------------------------------------


@pytest.mark.parametrize("tolerance", [0.1, 0.01, 1e-3])
@pytest.mark.parametrize("name", EVERY)
def test_chords_stay_within_tolerance_of_the_arcs(name: str, tolerance: float) -> None:
    shape = EVERY[name]
    flat = shape.flattened(tolerance)
    assert flat.length == pytest.approx(shape.length, rel=1e-12)  # as drawn, shared out
    assert np.array_equal(flat.starts, flat.take([0]).starts)
    assert flat.ends[:-1] == pytest.approx(flat.starts[1:], abs=0)
    truth = shapely.LineString(np.vstack((shape.ring(0, 1e-6), shape.ends[-1:])))
    chords = shapely.LineString(np.vstack((flat.starts, flat.ends[-1:])))
    assert truth.hausdorff_distance(chords) <= tolerance * 1.001 + 1e-5


def test_points_at_fractions_of_a_nearly_straight_arc() -> None:
    """Radius 2.5e12 mm: computed from its centre, the point would be off by much."""
    flat = Contours.from_points([(0, 0), (10, 0)], [1e-12], closed=False)
    assert flat.points_at([0], [0.25])[0] == pytest.approx([2.5, 0.0], abs=1e-9)
    assert flat.box[0] == pytest.approx([0, 0, 10, 0], abs=1e-9)
    three_quarters = Contours.from_points([(1, 0), (0, -1)], [math.tan(3 * math.pi / 8), 0])
    assert three_quarters.points_at([0], [2 / 3])[0] == pytest.approx([-1.0, 0.0])
    assert three_quarters.box[0] == pytest.approx([-1, -1, 1, 1])


@pytest.mark.parametrize("quarter", range(4))
def test_box_of_arcs_that_begin_on_an_axis(quarter: int) -> None:
    piece = arc(0, 0, 2, 90 * quarter, 90)
    low_high = {0: (0, 0, 2, 2), 1: (-2, 0, 0, 2), 2: (-2, -2, 0, 0), 3: (0, -2, 2, 0)}
    assert piece.box[0] == pytest.approx(low_high[quarter], abs=1e-12)


def test_turns_of_corners_arcs_and_smooth_joints() -> None:
    square = rectangle(0, 0, 10, 10)
    assert square.turns == pytest.approx([math.pi / 2] * 4)
    assert square.reversed().turns == pytest.approx([-math.pi / 2] * 4)
    u_turn = line((0, 0), (10, 0), (0, 0))
    assert u_turn.turns == pytest.approx([0, math.pi])
    tangent = Contours.from_points([(0, 0), (5, 0), (7, 2)], [0, ARC_90], closed=False)
    assert tangent.turns == pytest.approx([0, 0], abs=1e-12)
    flags = Contours.from_points([(0, 0), (1, 0), (1, 1)], smooth=[False, True, False])
    assert flags.turns[1] == 0.0
    assert regular(0, 0, 5, 12).turns == pytest.approx([math.pi / 6] * 12)


def test_zero_area_contour_has_its_middle_for_centroid() -> None:
    flat = polygon((0, 0), (10, 0), (4, 0))
    assert flat.area[0] == 0.0
    assert flat.centroid[0] == pytest.approx([5.0, 0.0])


@given(st.lists(st.integers(0, len(EVERY) - 1), max_size=6))
def test_several_contours_are_taken_as_one_by_one(rows: list[int]) -> None:
    together = Contours.join(list(EVERY.values()))
    taken = together.take(rows)
    assert len(taken) == len(rows)
    for place, row in enumerate(rows):
        alone, one = together.take([row]), taken.take([place])
        for name in ("starts", "ends", "bulges", "lengths", "smooth", "closed"):
            assert np.array_equal(getattr(alone, name), getattr(one, name))


def test_no_chord_spans_more_than_a_quarter_turn() -> None:
    chords = Contours.circle(0.0, 0.0, 1.0).flattened(tolerance=100.0)
    assert len(chords.starts) == 4


@pytest.mark.parametrize("bulge", [3e-3, 9.9e-3, 1.01e-2, 0.05])
def test_centroid_of_a_slim_segment(bulge: float) -> None:
    """Circular segment: chord^3 / (12 area) from the centre (standard closed form, from memory).

    Here in long numbers, since the closed form loses digits where the segment is slim.
    """
    b, chord = np.longdouble(bulge), np.longdouble(7.0)
    sweep = 4 * np.arctan(b)
    radius = chord / 2 / np.sin(sweep / 2)
    area = radius**2 / 2 * (sweep - np.sin(sweep))
    away = chord**3 / (12 * area) - radius * np.cos(sweep / 2)
    slim = Contours.from_points([(0.0, 0.0), (7.0, 0.0)], [bulge, 0.0])
    assert slim.area[0] == pytest.approx(float(area), rel=1e-9)
    assert slim.centroid[0] == pytest.approx((3.5, -float(away)), rel=1e-8)


def test_contours_keep_no_array_that_others_can_change() -> None:
    """A read-only view of an array that can be changed is copied; what is settled is shared."""
    points = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)])
    view = points.view()
    view.setflags(write=False)
    flat = np.zeros(3)
    made = Contours(view, np.roll(points, -1, axis=0), flat, flat, flat > 0, [0, 3], [True])
    points[0, 0] = flat[0] = 9.0
    assert made.starts[0, 0] == made.bulges[0] == 0.0
    assert not any(a.flags.writeable for a in (made.starts, made.bulges, made.take([0]).ends))
    assert replace(made, closed=[False]).starts is made.starts
