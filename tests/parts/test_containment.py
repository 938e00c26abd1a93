"""Which contour lies in which, and which cross; shapely as the outside reference."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from geometry.shapes import CLOSED, line, polygon, rectangle, regular, rotation, rounded, stadium
from geometry.test_stacks import rings as rings_of
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.budgets import Budgets
from analyzer.errors import DrawingError
from analyzer.geometry.contours import Contours
from analyzer.parts.containment import (
    check_pairs,
    crossing_contours,
    find_containment,
    middles,
    polygons_of,
    smallest_around,
)
from analyzer.parts.webs import find_webs


def test_three_deep_and_beside() -> None:
    """A part with a hole, an island part in it with its own hole: depths 0 1 2 3."""
    cuts = Contours.join(
        [
            Contours.circle(0, 0, 3), rectangle(-50, -50, 100, 100), Contours.circle(0, 0, 30),
            rectangle(-10, -10, 20, 20), rectangle(60, 0, 10, 10), line((-45, -45), (-40, -45)),
            line((-20, 0), (-25, 0)), line((200, 0), (210, 0)),
        ]
    )  # fmt: skip
    held = find_containment(cuts)
    assert held.depth.tolist() == [3, 0, 1, 2, 0, 1, 2, 0]
    assert held.parent.tolist() == [3, -1, 1, 2, -1, 1, 2, -1]


def test_touching_contours_keep_their_depth() -> None:
    plate = rectangle(0, 0, 100, 100)
    at_the_edge = Contours.circle(10, 50, 10)  # touches the left side
    flush = rectangle(40, 0, 20, 20)  # shares a stretch of the lower side
    inside_flush = rectangle(40, 0, 10, 10)
    neighbour = rectangle(100, 0, 50, 100)  # shares the right side
    cuts = Contours.join([plate, at_the_edge, flush, inside_flush, neighbour])
    held = find_containment(cuts)
    assert held.depth.tolist() == [0, 1, 1, 2, 0]
    assert crossing_contours(cuts) == ()


def test_a_thin_crescent_and_a_speck_are_placed_exactly() -> None:
    """Thinner than the chords of the circle around them are off: judged by the arcs."""
    outer = Contours.circle(0, 0, 500)
    sagitta = 500 - 500 * math.cos(math.radians(1.5))
    speck = Contours.circle(499.9995, 0, 0.0002)
    beyond = Contours.circle(500.0005, 0, 0.0002)
    held = find_containment(Contours.join([outer, speck, beyond]))
    assert sagitta > 0.1
    assert held.depth.tolist() == [0, 1, 0]


def nested(seed: int) -> Contours:
    """Random shapes, each shrunk into its own cell of a larger one, three levels deep."""
    chance = np.random.default_rng(seed)
    several: list[Contours] = []

    def fill(x: float, y: float, size: float, level: int) -> None:
        kind = chance.integers(4)
        turn = chance.uniform(0, 360)
        shape = (
            Contours.circle(0, 0, 0.48 * size), regular(0, 0, 0.48 * size, 7),
            rounded(-0.33 * size, -0.33 * size, 0.66 * size, 0.66 * size, 0.1 * size),
            stadium(0, 0, 0.9 * size, 0.6 * size),
        )[kind]  # fmt: skip
        several.append(shape.moved(rotation(turn), (x, y)))
        if level < 3:
            for dx, dy in ((-1, -1), (1, 1)) if level else ((-1, -1), (1, 1), (-1, 1), (1, -1)):
                if chance.random() < 0.8:
                    fill(x + dx * size / 7, y + dy * size / 7, size / 5, level + 1)

    for k in range(6):
        fill(300.0 * k, 0.0, 250.0, 0)
    order = chance.permutation(len(several))
    return Contours.join([several[k] for k in order])


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), degrees=st.floats(-180, 180))
def test_depth_agrees_with_shapely_and_does_not_turn_with_the_drawing(
    seed: int, degrees: float
) -> None:
    cuts = nested(seed)
    areas = polygons_of(cuts, 1e-3)
    outer, inner = shapely.STRtree(areas).query(areas, predicate="contains_properly")
    depth = np.bincount(inner, minlength=len(cuts))
    for shape in (cuts, cuts.moved(rotation(degrees), (1e4, -300)), cuts.reversed()):
        held = find_containment(shape)
        assert np.array_equal(held.depth, depth)
        own = np.flatnonzero(held.parent >= 0)
        pairs = set(zip(outer.tolist(), inner.tolist(), strict=True))
        assert all((held.parent[k], k) in pairs for k in own)
        assert np.array_equal(held.depth[held.parent[own]], depth[own] - 1)


def test_nothing_holds_nothing() -> None:
    held = find_containment(Contours.empty())
    assert held.parent.shape == held.depth.shape == (0,)
    assert smallest_around(Contours.empty(), np.zeros((2, 2))).tolist() == [-1, -1]
    assert find_containment(line((0, 0), (1, 1))).depth.tolist() == [0]


def test_middles_lie_half_way_along() -> None:
    shapes = Contours.join([line((0, 0), (10, 0), (10, 30)), Contours.circle(0, 0, 5)])
    assert middles(shapes) == pytest.approx(np.array([[10, 10], [5, 0]]))
    assert middles(shapes, 0.25)[0] == pytest.approx([10, 0])


# --- crossings ------------------------------------------------------------


@pytest.mark.parametrize("name", CLOSED)
def test_sound_contours_do_not_cross_themselves(name: str) -> None:
    assert crossing_contours(CLOSED[name]) == ()


def test_a_contour_that_crosses_itself_is_told_with_its_place() -> None:
    bow = polygon((0, 0), (20, 20), (20, 0), (0, 20))
    (fact,) = crossing_contours(bow)
    assert fact.kind == "crossing-contour"
    assert (fact.x, fact.y) == pytest.approx((10, 10))
    assert "20 x 20" in fact.message
    arcs = Contours.from_points([(0, 0), (10, 0), (10, 10), (0, 10)], [0.0, 0.0, 1.9, 0.0])
    crossing = Contours.from_points([(0, 0), (10, 0), (10, 3), (0, 3)], [0, 0, -1.0, 0])
    assert crossing_contours(arcs) == ()  # bows outwards
    assert len(crossing_contours(crossing.moved(rotation(20)))) == 1  # bows through the floor


def test_a_contour_that_touches_itself_does_not_cross() -> None:
    """Two squares joined at one corner, walked around both: weakly simple."""
    touching = polygon((0, 0), (10, 0), (10, 10), (20, 10), (20, 20), (10, 20), (10, 10), (0, 10))
    assert crossing_contours(touching) == ()
    eight = polygon((0, 0), (10, 10), (20, 20), (20, 0), (10, 10), (0, 20.5))
    assert len(crossing_contours(eight)) == 1  # through the same corner, but crossing there


def test_a_spike_and_a_tiny_overshoot_do_not_cross() -> None:
    """Out and back on one line; a corner overshot by 0.006 mm. One of 0.5 mm does cross."""
    spike = polygon((0, 0), (50, 0), (50, 20), (30, 20), (30, 30), (30, 20), (0, 20))
    assert crossing_contours(spike) == ()

    tiny = polygon((0, 0), (50, 0), (50, 30.006), (50.004, 30), (0, 30))
    assert crossing_contours(tiny) == ()
    large = polygon((0, 0), (50, 0), (50, 30.5), (50.5, 30), (0, 30))
    assert len(crossing_contours(large)) == 1


def test_contours_that_cross_each_other_are_told_once() -> None:
    plate, hole = rectangle(0, 0, 100, 60), Contours.circle(100, 30, 8)
    (fact,) = crossing_contours(Contours.join([plate, hole, Contours.circle(20, 20, 5)]))
    assert fact.kind == "crossing-contour"
    assert fact.x == pytest.approx(100)
    assert abs(fact.y - 30) == pytest.approx(8)
    plus = Contours.join([rectangle(0, 4, 20, 2), rectangle(9, 0, 2, 10)])
    assert len(crossing_contours(plus)) == 1  # no corner of either lies in the other


def test_doubles_and_tangents_do_not_cross() -> None:
    square = rectangle(0, 0, 10, 10)
    assert crossing_contours(Contours.join([square, square])) == ()
    tangent = Contours.join([Contours.circle(0, 0, 10), Contours.circle(4, 0, 6)])
    assert crossing_contours(tangent) == ()


def test_contours_in_one_another_are_bounded() -> None:
    """Thirty squares in one another are 30 * 29 / 2 pairs: taken at the limit, refused above."""
    squares = Contours.join([rectangle(-k, -k, 2 * k, 2 * k) for k in range(1, 31)])
    check_pairs(squares, Budgets(pairs=435))
    with pytest.raises(DrawingError, match=r"over the limit pairs = 434"):
        check_pairs(squares, Budgets(pairs=434))
    check_pairs(Contours.empty(), Budgets(pairs=1))


def test_circles_about_one_centre_count_as_one() -> None:
    rings = Contours.join([Contours.circle(0.0, 0.0, 10.0 + k) for k in range(30)])
    check_pairs(rings, Budgets(pairs=1))
    two = Contours.join([rings, Contours.circle(1.0, 0.0, 4.0), rectangle(-1, -1, 2, 2)])
    check_pairs(two, Budgets(pairs=3))
    with pytest.raises(DrawingError, match=r"over the limit pairs = 2"):
        check_pairs(two, Budgets(pairs=2))


in_each_other = st.lists(
    st.tuples(
        st.sampled_from(["circle", "circle", "square"]),
        st.sampled_from([(0.0, 0.0), (0.0, 0.0), (0.5, 0.0), (6.0, 6.0), (-9.0, 3.0)]),
        st.integers(1, 40),
    ),
    min_size=1, max_size=25, unique_by=lambda one: one[1:],
)  # fmt: skip


@settings(max_examples=100, deadline=None)
@given(drawn=in_each_other)
def test_what_lies_in_what_is_as_shapely_says(drawn: list) -> None:
    """Circles and squares in one another, crossing ones too: the point in each decides.

    shapely on chords within 1e-4 mm is the outside reference; the point is the middle, which
    lies on no line here: sizes are multiples of 0.77 mm and centres are not.
    """
    cuts = Contours.join(
        [
            Contours.circle(x, y, 0.77 * k) if kind == "circle"
            else rectangle(x - 0.77 * k, y - 0.77 * k, 1.54 * k, 1.54 * k)
            for kind, (x, y), k in drawn
        ]
    )  # fmt: skip
    held = find_containment(cuts)
    shapes = polygons_of(cuts, 1e-4)
    area = np.abs(cuts.area)
    for row, (_, centre, _) in enumerate(drawn):
        around = [
            k for k in range(len(drawn))
            if k != row and area[k] > area[row] * (1 + 1e-9)
            and shapes[k].contains(shapely.Point(centre))
        ]  # fmt: skip
        assert held.depth[row] == len(around)
        if around:
            assert held.parent[row] in around
            assert area[held.parent[row]] == pytest.approx(min(area[around]), rel=1e-9)
        else:
            assert held.parent[row] == -1


@settings(max_examples=50, deadline=None)
@given(drawn=in_each_other)
def test_what_crosses_is_as_shapely_says(drawn: list) -> None:
    """Two contours cross where shapely finds metal in both and in each alone."""
    cuts = Contours.join(
        [
            Contours.circle(x, y, 0.77 * k) if kind == "circle"
            else rectangle(x - 0.77 * k, y - 0.77 * k, 1.54 * k, 1.54 * k)
            for kind, (x, y), k in drawn
        ]
    )  # fmt: skip
    shapes = polygons_of(cuts, 1e-4)
    count = sum(
        all(
            not piece.buffer(-0.01).is_empty
            for piece in (one & two, one - two, two - one)
        )
        for k, one in enumerate(shapes)
        for two in shapes[k + 1 :]
    )  # fmt: skip
    facts = crossing_contours(cuts)
    assert sum(fact.count for fact in facts) == count
    assert len(facts) <= 21


def test_fifty_thousand_rings_lie_in_one_another() -> None:
    count = 50_000
    held = find_containment(rings_of(10.0 + 0.1 * np.arange(count)))
    assert held.depth.tolist() == list(range(count - 1, -1, -1))
    assert held.parent.tolist() == [*range(1, count), -1]


@pytest.mark.parametrize("off", [0.015, 0.09, 0.2])
def test_holes_drawn_nearly_twice_are_said_once_and_have_no_web(off: float) -> None:
    """Sixteen holes 3.2 with a copy a little aside, and a pair of true crossings."""
    plate = rectangle(0, 0, 200, 100)
    holes = [Contours.circle(10.0 + 20.0 * (k % 4), 10.0 + 20.0 * (k // 4), 1.6) for k in range(16)]
    copies = [hole.moved(np.eye(2), (off, 0.0)) for hole in holes]
    crossing = [Contours.circle(150, 50, 5), Contours.circle(156, 50, 5)]
    cuts = Contours.join([plate, *holes, *copies, *crossing])
    facts = crossing_contours(cuts)
    said = [fact for fact in facts if "nearly twice" in fact.message]
    assert len(said) == 16
    (words,) = {fact.message for fact in said}
    assert words.startswith("16 circles 3.2 are drawn nearly twice")
    assert len(facts) == 17
    whole = np.zeros(len(cuts), np.int64)
    webs = find_webs(cuts, np.arange(len(cuts)), whole, 6.0)
    assert [web.width for _, web in webs if web.width < 0.01] == [0.0]


def test_what_only_overlaps_is_not_drawn_nearly_twice() -> None:
    """Too far off for their size, or not of one size, or not of one shape."""
    round_ones = [Contours.circle(0, 0, 1), Contours.circle(0.24, 0, 1)]
    sizes = [Contours.circle(50, 0, 5), Contours.circle(50.1, 0, 5.08)]
    shapes = [
        Contours.from_points([(100, 0), (120, 0), (120, 5), (105, 5), (105, 20), (100, 20)]),
        Contours.from_points([(100, 0), (120, 0), (120, 20), (115, 20), (115, 5), (100, 5)]),
    ]
    facts = crossing_contours(Contours.join([*round_ones, *sizes, *shapes]))
    assert facts
    assert not [fact for fact in facts if "nearly twice" in fact.message]
