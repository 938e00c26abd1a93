"""Lines that are the edge of two contours, counted once."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.geometry.contours import Contours
from analyzer.geometry.once import lengths_once
from analyzer.geometry.repeats import any_repeated, maybe_repeated


def square(x: float, y: float, side: float = 10.0) -> Contours:
    return Contours.from_points([[x, y], [x + side, y], [x + side, y + side], [x, y + side]])


def test_a_shared_edge_counts_once() -> None:
    pair = Contours.join([square(0, 0), square(10, 0)])
    assert lengths_once(pair) == pytest.approx([40.0, 30.0])
    apart = Contours.join([square(0, 0), square(10.1, 0)])
    assert lengths_once(apart) == pytest.approx([40.0, 40.0])


def test_the_halves_of_a_circle_are_not_one_edge() -> None:
    circle = Contours.circle(0, 0, 5)
    assert lengths_once(circle) == pytest.approx([10 * math.pi])
    both = Contours.join([circle, circle.reversed()])
    assert lengths_once(both) == pytest.approx([10 * math.pi, 0.0])


@given(st.integers(1, 6), st.integers(1, 6), st.floats(-1e4, 1e4), st.randoms())
def test_a_grid_of_squares_has_every_line_once(
    columns: int, rows: int, offset: float, random: object
) -> None:
    """n x m cells have (n + 1) m + n (m + 1) edges (Euler)."""
    cells = [square(offset + 8 * i, 8 * j, 8) for i in range(columns) for j in range(rows)]
    turned = [c.reversed() if random.random() < 0.5 else c for c in cells]  # type: ignore[attr-defined]
    edges = (columns + 1) * rows + columns * (rows + 1)
    assert lengths_once(Contours.join(turned)).sum() == pytest.approx(8 * edges, rel=1e-6)


@given(st.lists(st.tuples(st.integers(-2, 2), st.integers(-2, 2)), max_size=40))
def test_every_repeated_row_is_looked_at(rows: list[tuple[int, int]]) -> None:
    table = np.array(rows, dtype=float).reshape(-1, 2)
    wanted = {k for k, row in enumerate(rows) if rows.count(row) > 1}
    assert wanted <= set(maybe_repeated(table).tolist())


@given(st.lists(st.tuples(st.integers(-2, 2), st.integers(-2, 2)), max_size=40), st.integers(1, 5))
def test_a_row_that_stands_several_times_is_seen(rows: list[tuple[int, int]], times: int) -> None:
    table = np.array(rows, dtype=float).reshape(-1, 2) + 0.0
    assert any_repeated(table, times) == any(rows.count(row) >= times for row in rows)


def test_of_many_different_rows_hardly_any_is_looked_at() -> None:
    """Were the numbers mixed badly, the exact look would be as slow as without them."""
    grid = np.stack(np.meshgrid(np.arange(300.0), np.arange(300.0)), axis=-1).reshape(-1, 2)
    assert len(maybe_repeated(grid)) < 10
