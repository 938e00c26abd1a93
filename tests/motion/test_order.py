"""Order of contours: complete, outline last, short, and the same however it is drawn."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from motion.outlines import part_of, plate_with_holes

from analyzer.geometry.contours import Contours
from analyzer.layout.alone import canonical_poses
from analyzer.motion.alone import routes
from analyzer.motion.order import round_rows, route_of
from analyzer.motion.tour import short_tour


def way(places: np.ndarray, order: np.ndarray) -> float:
    step = np.diff(places[order].astype(float), axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), max_size=120), st.booleans())
def test_every_place_once(points: list[tuple[int, int]], with_goal: bool) -> None:
    places = np.array(points, dtype=np.int64).reshape(-1, 2)
    goal = np.array([10, 60]) if with_goal else None
    assert sorted(short_tour(places, goal)) == list(range(len(places)))


@pytest.mark.parametrize("seed", range(8))
def test_near_the_best_of_all_orders(seed: int) -> None:
    """Seven places: all 5,040 orders tried; at most 10 % longer than the best."""
    places = np.random.default_rng(seed).integers(0, 10**6, (7, 2))
    best = min(way(places, np.array(o)) for o in itertools.permutations(range(7)))
    assert way(places, short_tour(places)) <= 1.1 * best


def test_random_places_near_the_known_constant() -> None:
    """Shortest tours of n random places in a unit square tend to 0.7124 sqrt(n).

    Beardwood, Halton, Hammersley, Proc. Camb. Phil. Soc. 55 (1959) 299; the constant by
    Johnson, McGeoch and Rothberg (1996).  Ours is a light local search: within 30 %.
    """
    places = np.random.default_rng(1).integers(0, 10**6, (1000, 2))
    assert way(places, short_tour(places)) / 1e6 <= 1.3 * 0.7124 * np.sqrt(1000)


def test_a_grid_is_gone_through_step_by_step() -> None:
    grid = np.stack(np.meshgrid(np.arange(40), np.arange(25)), -1).reshape(-1, 2) * 8000
    assert way(grid, short_tour(grid)) / 8000 == pytest.approx(999, rel=0.03)


def test_outline_last() -> None:
    part = plate_with_holes(300, 200, [(30, 30, 12), (270, 170, 12), (150, 100, 60)])
    for route in routes(part):
        assert route.order[-1] == 0
        assert sorted(route.order) == [0, 1, 2, 3]


def test_open_cut_lines_before_the_outline() -> None:
    outline = Contours.from_points([[0, 0], [100, 0], [100, 60], [0, 60]])
    slit = Contours.from_points([[20, 20], [60, 20]], closed=False)
    assert routes(part_of(outline, slit))[0].order.tolist() == [1, 0]


def test_an_outline_is_entered_at_its_sharpest_corner() -> None:
    outline = Contours.from_points([[0, 0], [100, 0], [140, 20], [100, 60], [0, 60]])
    route = routes(part_of(outline))[0]
    turns = outline.turns
    assert turns[route.entry[0]] == pytest.approx(turns.max())
    assert not route.middle[0]


def test_a_window_is_entered_in_the_middle_of_its_longest_side() -> None:
    outline = Contours.from_points([[0, 0], [200, 0], [200, 100], [0, 100]])
    window = Contours.from_points([[50, 30], [50, 70], [150, 80], [150, 30]])
    route = routes(part_of(outline, window))[0]
    assert route.middle[1]
    assert route.entry[1] - 4 == int(np.argmax(window.lengths))


def test_round_rows() -> None:
    quarter = np.tan(np.pi / 8)
    four = Contours.from_points([[1, 0], [0, 1], [-1, 0], [0, -1]], [quarter] * 4)
    slot = Contours.from_points([[-3, -1], [3, -1], [3, 1], [-3, 1]], [0, 1, 0, 1])
    line = Contours.from_points([[0, 0], [1, 0]], closed=False)
    assert round_rows(Contours.join([Contours.circle(5, 5, 2), four, slot, line])).tolist() == [
        True, True, False, False,
    ]  # fmt: skip


def test_reordered_rows_give_the_same_places() -> None:
    """The order as a list of places does not depend on the order of the drawing."""
    holes = [(20.0 * i, 20.0 * j, 5.0) for i in range(1, 9) for j in range(1, 6)]
    part = plate_with_holes(200, 120, holes)
    shuffled = np.random.default_rng(3).permutation(len(holes))
    other = plate_with_holes(200, 120, [holes[k] for k in shuffled])
    first, second = (
        p.contours.centroid[route_of(p.contours, p.marks, canonical_poses(p.contours)[0]).order]
        for p in (part, other)
    )
    np.testing.assert_allclose(first, second, atol=1e-9)
