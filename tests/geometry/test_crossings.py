"""Crossings of open lines: counted where they are, not where lines only meet."""

import numpy as np
import pytest
import shapely

from analyzer.geometry.contours import Contours
from analyzer.geometry.crossings import open_crossings


def lines(*rows: tuple[float, float, float, float]) -> Contours:
    return Contours.join([Contours.from_points([r[:2], r[2:]], closed=False) for r in rows])


@pytest.mark.outside("Where random lines cross [mm]", "library shapely")
def test_places_are_those_of_another_library() -> None:
    """shapely: intersection points of every pair of random lines."""
    rng = np.random.default_rng(5)
    rows = rng.uniform(0, 100, (60, 4))
    found, work = open_crossings(lines(*map(tuple, rows.tolist())), 0.01, 10**6)
    strings = shapely.linestrings(rows.reshape(-1, 2, 2))
    i, j = np.triu_indices(len(rows), 1)
    meet = shapely.intersection(strings[i], strings[j])
    expected = shapely.get_coordinates(meet)
    assert work >= len(expected)
    assert np.sort(found, axis=0) == pytest.approx(np.sort(expected, axis=0), abs=1e-6)


def test_lines_that_only_meet_do_not_cross() -> None:
    corner = lines((0, 0, 10, 0), (10, 0, 10, 10), (5, 0, 5, 5))
    assert len(open_crossings(corner, 0.01, 100)[0]) == 0


def test_a_slit_across_the_outline_is_told_once() -> None:
    plate = Contours.from_points([[0, 0], [100, 0], [100, 60], [0, 60]])
    both = Contours.join([plate, lines((50, -5, 50, 30))])
    places, _ = open_crossings(both, 0.01, 100)
    assert places.tolist() == [[50.0, 0.0]]


def test_closed_contours_alone_are_not_looked_at() -> None:
    two = Contours.join([Contours.circle(0, 0, 5), Contours.circle(3, 0, 5)])
    assert open_crossings(two, 0.01, 0) == (pytest.approx(np.zeros((0, 2))), 0)


def test_an_arc_is_crossed_where_it_is() -> None:
    arc = Contours.from_points([[-5.0, 0.0], [5.0, 0.0]], [1.0, 0.0], closed=False)
    places, _ = open_crossings(Contours.join([arc, lines((0, -9, 0, 9))]), 0.001, 100)
    assert np.abs(places[:, 1]) == pytest.approx([5.0], abs=0.01)


def test_looking_ends_at_the_limit() -> None:
    rows = [(0.0, k, 300.0, k) for k in range(300)] + [
        (k + 0.5, -1.0, k + 0.5, 301.0) for k in range(300)
    ]
    places, work = open_crossings(lines(*rows), 0.01, 10**6)
    assert (len(places), work) == (90_000, 90_000)
    _, work = open_crossings(lines(*rows), 0.01, 1000)
    assert 1000 < work < 90_000
