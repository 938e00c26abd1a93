"""Circles by the thousand about one centre, held against shapely and all pairs in turn."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
import shapely
from geometry.shapes import rectangle
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.geometry import stacks
from analyzer.geometry.circles import true_circles
from analyzer.geometry.clearance import box_pairs, clearances, grouped_box_pairs
from analyzer.geometry.contours import Contours
from analyzer.geometry.stacks import between_circles, near_circles, stacks_of


def circles_of(table: list[tuple[float, float, float]]) -> Contours:
    """Circles from centre and radius. [mm]"""
    return Contours.join([Contours.circle(x, y, r) for x, y, r in table])


# few centres and radii, so that one centre, tangents and equal circles come up often
circle = st.tuples(
    st.sampled_from([0.0, 0.0, 3.0, 7.5, -4.0]),
    st.sampled_from([0.0, 0.0, 4.0]),
    st.one_of(st.integers(1, 14).map(float), st.floats(0.5, 15.0)),
)


@pytest.mark.outside("Distance between circles in one another [mm]", "library shapely")
@settings(max_examples=60, deadline=None)
@given(
    table=st.lists(circle, min_size=2, max_size=12), reach=st.sampled_from([0.0, 0.5, 3.0, 50.0])
)
def test_near_circles_are_those_of_shapely(
    table: list[tuple[float, float, float]], reach: float
) -> None:
    """All pairs by their lines as shapely measures them, chords within 5e-4 mm."""
    found = clearances(circles_of(table), reach)
    got = {tuple(rows): w for rows, w in zip(found.rows.tolist(), found.widths, strict=True)}
    rings = [shapely.Point(x, y).buffer(r, quad_segs=100).exterior for x, y, r in table]
    for i in range(len(table)):
        for j in range(i + 1, len(table)):
            gap = rings[i].distance(rings[j])
            if (i, j) in got:
                assert got[i, j] == pytest.approx(gap, abs=1e-3)
            else:
                assert gap > reach - 1e-3
    assert found.rows.tolist() == sorted(found.rows.tolist())
    for k, (i, j) in enumerate(found.rows.tolist()):
        for row, point in ((i, found.first[k]), (j, found.second[k])):
            x, y, r = table[row]
            assert math.hypot(point[0] - x, point[1] - y) == pytest.approx(r, abs=1e-9)
        assert math.dist(found.first[k], found.second[k]) == pytest.approx(
            found.widths[k], abs=1e-9
        )


@pytest.mark.outside("Distance of two circles, six ways to lie [mm]", "closed form")
def test_two_circles_in_closed_form() -> None:
    """Beside, in each other both ways, tangent both ways, crossing (3-4-5), the same."""
    cases = [
        ((0, 0, 3), (10, 0, 2), 5.0, (3, 0), (8, 0)),
        ((0, 0, 10), (3, 0, 2), 5.0, (10, 0), (5, 0)),
        ((3, 0, 2), (0, 0, 10), 5.0, (5, 0), (10, 0)),
        ((0, 0, 5), (10, 0, 5), 0.0, (5, 0), (5, 0)),
        ((0, 0, 10), (4, 0, 6), 0.0, (10, 0), (10, 0)),
        ((0, 0, 5), (6, 0, 5), 0.0, (3, 4), (3, 4)),
        ((1, 1, 5), (1, 1, 5), 0.0, (6, 1), (6, 1)),
    ]
    one, two = (np.array([case[k] for case in cases], float) for k in (0, 1))
    gap, first, second = between_circles((one[:, :2], two[:, :2]), (one[:, 2], two[:, 2]))
    assert gap == pytest.approx([case[2] for case in cases], abs=1e-12)
    assert first == pytest.approx(np.array([case[3] for case in cases], float), abs=1e-12)
    assert second == pytest.approx(np.array([case[4] for case in cases], float), abs=1e-12)


def test_a_pair_of_circles_comes_once() -> None:
    some = [(0.0, 0.0, float(r)) for r in (4, 5, 6, 9)] + [(1.0, 0.0, float(r)) for r in (4, 5, 7)]
    pile = stacks_of(true_circles(circles_of(some)))
    assert np.diff(pile.begin).tolist() == [4, 3]
    one, two = np.array([0, 0, 1]), np.array([0, 1, 1])
    i, j = near_circles(pile, one, two, 100.0)
    pairs = {tuple(sorted(pair)) for pair in zip(i.tolist(), j.tolist(), strict=True)}
    assert len(pairs) == len(i) == 7 * 6 / 2
    i, j = near_circles(pile, one[:1], two[:1], 1.0)
    assert sorted(zip(i.tolist(), j.tolist(), strict=True)) == [(0, 1), (1, 2)]


def test_too_many_near_circles_are_refused_not_computed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stacks, "_MOST_PAIRS", 9)
    rings = circles_of([(0.0, 0.0, 5.0 + k) for k in range(5)])
    with pytest.raises(InputError, match="more than 9 pairs of circles within 20 mm"):
        clearances(rings, 20.0)
    assert len(clearances(rings, 1.5).rows) == 4


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 1000), reach=st.sampled_from([0.0, 1.0, 10.0]))
def test_groups_are_laid_apart_exactly(seed: int, reach: float) -> None:
    chance = np.random.default_rng(seed)
    low = chance.integers(-20, 20, (40, 2)) * 10.0 ** chance.integers(0, 4)
    a = np.hstack((low, low + chance.integers(1, 9, (40, 2))))
    b = a[chance.permutation(40)] + 1.0
    of_a, of_b = chance.integers(0, 5, 40), chance.integers(0, 5, 40)
    i, j = box_pairs(a, b, reach)
    same = of_a[i] == of_b[j]
    got = grouped_box_pairs(a, b, reach, of_a, of_b)
    assert got[0].tolist() == i[same].tolist()
    assert got[1].tolist() == j[same].tolist()


def rings(radius: np.ndarray, x: float = 3.0, y: float = -2.0) -> Contours:
    """Circles about one centre, each of two half arcs. [mm]"""
    count = len(radius)
    left = np.column_stack((x - radius, np.full(count, y)))
    right = np.column_stack((x + radius, np.full(count, y)))
    starts = np.stack((left, right), axis=1).reshape(-1, 2)
    ends = np.stack((right, left), axis=1).reshape(-1, 2)
    return Contours(
        starts, ends, np.ones(2 * count), np.repeat(np.pi * radius, 2), np.zeros(2 * count, bool),
        np.arange(0, 2 * count + 1, 2), np.ones(count, bool),
    )  # fmt: skip


def test_fifty_thousand_rings_in_one_another() -> None:
    """Each with its two neighbours, a square in their midst: no pairs of all with all."""
    count = 50_000
    many = Contours.join([rectangle(0, -5, 6, 6), rings(10.0 + 0.1 * np.arange(count))])
    begin = time.process_time()
    found = clearances(many, 0.15)
    assert time.process_time() - begin < 10.0
    assert len(found.rows) == count - 1
    assert found.widths == pytest.approx(np.full(count - 1, 0.1), abs=1e-9)
