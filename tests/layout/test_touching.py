"""Common and facing lines, gaps and margins: against shapely and by hand."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.spacing import spaces_of
from analyzer.layout.touching import facing_lines, shared_lines

SQUARE = Contours.from_points([[0, 0], [40, 0], [40, 40], [0, 40]])


def at(*places: tuple[float, float]) -> Contours:
    return Contours.join([SQUARE.moved(np.eye(2), place) for place in places])


def turned(contours: Contours, degrees: float) -> Contours:
    a = np.radians(degrees)
    return contours.moved(np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=2, max_size=10, unique=True),
    st.floats(0.0, 90.0),
)
def test_shared_lengths_are_those_of_shapely(cells: list[tuple[int, int]], turn: float) -> None:
    """Squares on a grid of half their size shifted so that they touch, never lap over."""
    places = [(40.0 * i + 20.0 * (j % 2), 40.0 * j) for i, j in cells]
    outlines = at(*places)
    rings = [shapely.box(x, y, x + 40, y + 40).exterior for x, y in places]
    wanted = {}
    for i in range(len(rings)):
        for j in range(i):
            length = rings[i].intersection(rings[j]).length
            if length >= 1.0:
                wanted[j, i] = length
    found = shared_lines(turned(outlines, turn))
    assert {tuple(pair) for pair in found.copies.tolist()} == set(wanted)
    assert np.isclose(found.total_mm, sum(wanted.values()))


def test_lines_run_the_same_way_are_no_common_cut() -> None:
    """One on the other: the same square twice, and half upon it."""
    assert len(shared_lines(at((0, 0), (0, 0)))) == 0
    assert len(shared_lines(at((0, 0), (0, 20)))) == 0


def test_a_hair_apart_is_shared_and_more_is_not() -> None:
    assert len(shared_lines(at((0, 0), (40.01, 0)))) == 1
    assert len(shared_lines(at((0, 0), (40.03, 0)))) == 0
    assert len(facing_lines(at((0, 0), (40.03, 0)), 1.0, 20.0)) == 1


def test_facing_needs_parallel_sides_and_length() -> None:
    leaning = Contours.join([SQUARE, turned(SQUARE, 3.0).moved(np.eye(2), (45.0, 0.0))])
    assert len(facing_lines(leaning, 10.0, 20.0)) == 0
    assert len(facing_lines(at((0, 0), (45, 25)), 10.0, 20.0)) == 0
    found = facing_lines(at((0, 0), (45, 15)), 10.0, 20.0)
    np.testing.assert_allclose(found.lengths, [25.0])
    np.testing.assert_allclose(found.across, [[5.0, 0.0]], atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 400), st.floats(0, 400), st.floats(0, 360)), min_size=2,
             max_size=7)
)  # fmt: skip
def test_gaps_and_margins_are_those_of_shapely(rows: list[tuple[float, float, float]]) -> None:
    from motion.outlines import part_of

    placed = tuple(Placement(0, x, y, t) for x, y, t in rows)
    layout = Layout((part_of(SQUARE),), placed, 450.0, 420.0)
    spaces = spaces_of(layout)
    shapes = [shapely.Polygon(layout.outlines().take([k]).starts) for k in range(len(rows))]
    gaps = dict(zip(map(tuple, spaces.copies.tolist()), range(len(spaces.gaps)), strict=True))
    for j in range(len(rows)):
        for i in range(j):
            line = shapes[i].exterior.distance(shapes[j].exterior)
            if (i, j) not in gaps:
                assert line > 59.9
                continue
            k = gaps[i, j]
            assert np.isclose(spaces.gaps[k], line, atol=1e-6)
            lap = shapes[i].intersection(shapes[j]).area
            if lap == 0.0:
                assert not spaces.overlaps[k]
    for k, shape in enumerate(shapes):
        a, b, c, d = shape.bounds
        assert np.isclose(spaces.margins[k], min(a, b, 450.0 - c, 420.0 - d), atol=1e-6)
