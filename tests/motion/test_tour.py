"""The way through many places: complete, short against published optima, always the same."""

import itertools
import time
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outside import record
from shared import ROOT

from analyzer.motion.tour import Extents, Ways, nearest, short_tour

TOURS = tomllib.loads((ROOT / "tests/motion/tours.toml").read_text(encoding="utf-8"))


def places_of(row: dict) -> np.ndarray:
    places = [np.array(row["xy"].split(), dtype=np.int64).reshape(-1, 2)]
    for x, low, high, step in row.get("columns", []):
        y = np.arange(low, high + 1, step)
        places.append(np.column_stack((np.full(len(y), x), y)))
    return np.concatenate(places)


def way(places: np.ndarray, order: np.ndarray) -> float:
    step = np.diff(places[order].astype(float), axis=0)
    return float(np.hypot(step[:, 0], step[:, 1]).sum())


def round_trip(places: np.ndarray, **options: object) -> np.ndarray:
    """Return rows of a round trip from row 0, with row 0 again at its end."""
    order = short_tour(places[1:], places[0], start=places[0], **options)
    return np.concatenate(([0], order + 1, [0]))


@pytest.mark.outside("Round trips of TSPLIB instances [as there]", "published optima of TSPLIB")
@pytest.mark.parametrize("name", TOURS)
def test_within_four_per_cent_of_the_published_optimum(name: str) -> None:
    """TSPLIB instances, lengths rounded as there; source and optima in tours.toml.

    With the few kicks of a plain check.
    """
    places = places_of(TOURS[name])
    assert len(places) == int(name.lstrip("abcdefghijklmnopqrstuvwxyz"))
    step = np.diff(places[round_trip(places)], axis=0)
    length = int(np.rint(np.hypot(step[:, 0], step[:, 1])).sum())
    record(TOURS[name]["optimum"], length, 0.04 * TOURS[name]["optimum"])
    assert TOURS[name]["optimum"] <= length <= 1.04 * TOURS[name]["optimum"]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), max_size=120),
    st.booleans(), st.booleans(), st.booleans(),
)  # fmt: skip
def test_every_place_once(
    points: list[tuple[int, int]], with_goal: bool, with_start: bool, with_gaps: bool
) -> None:
    places = np.array(points, dtype=np.int64).reshape(-1, 2)
    goal = np.array([10, 60]) if with_goal else None
    start = np.array([-3, 20]) if with_start else None
    box = np.hstack((places - 1.0, places + 1.0))
    gaps = Extents(box, np.ones(len(places)), 5.0) if with_gaps else None
    order = short_tour(places, goal, start=start, extents=gaps)
    assert sorted(order) == list(range(len(places)))


@pytest.mark.parametrize("seed", range(6))
def test_the_best_of_all_orders_of_seven(seed: int) -> None:
    """All 5,040 orders tried; with and without a goal."""
    places = np.random.default_rng(seed).integers(0, 10**6, (8, 2))
    for goal in (None, places[7]):
        tail = [] if goal is None else [7]
        best = min(way(places, np.array([*o, *tail])) for o in itertools.permutations(range(7)))
        found = np.concatenate((short_tour(places[:7], goal), tail)).astype(int)
        assert way(places, found) <= best * (1.0 + 1e-9)


@pytest.mark.outside(
    "Tour of 10,000 random places [side]",
    "Beardwood, Halton, Hammersley 1959; Johnson, McGeoch, Rothberg 1996",
)
@pytest.mark.slow
def test_ten_thousand_places_in_seconds() -> None:
    """Within 12 % of the length random places tend to, 0.7124 sqrt(n A).

    Beardwood, Halton, Hammersley, Proc. Camb. Phil. Soc. 55 (1959) 299; the constant by
    Johnson, McGeoch and Rothberg (1996).
    """
    places = np.random.default_rng(1).integers(0, 10**6, (10_000, 2))
    start = time.process_time()
    order = short_tour(places)
    assert time.process_time() - start < 5.0
    usual = 0.7124 * np.sqrt(10_000)
    record(usual, way(places, order) / 1e6, 0.12 * usual)
    assert way(places, order) / 1e6 <= 1.12 * usual


@pytest.mark.slow
def test_many_places_on_top_of_one_another_take_no_longer() -> None:
    places = np.zeros((10_000, 2), dtype=np.int64)
    places[5_000:] = 7
    start = time.process_time()
    order = short_tour(places)
    assert time.process_time() - start < 5.0
    assert way(places, order) == pytest.approx(np.hypot(7, 7))


def test_a_grid_is_gone_through_step_by_step() -> None:
    grid = np.stack(np.meshgrid(np.arange(40), np.arange(25)), -1).reshape(-1, 2) * 8000
    assert way(grid, short_tour(grid)) / 8000 == pytest.approx(999, rel=0.01)


def test_more_kicks_make_it_no_longer() -> None:
    places = places_of(TOURS["pcb442"])
    few, many = (way(places, round_trip(places, kicks=n)) for n in (0, 1000))
    assert many < few


def test_the_same_every_time() -> None:
    places = np.random.default_rng(5).integers(0, 10**6, (300, 2))
    assert short_tour(places).tolist() == short_tour(places).tolist()


@pytest.mark.parametrize("count", [300, 301, 2000])
def test_nearest_places_against_all_distances(count: int) -> None:
    rng = np.random.default_rng(count)
    crowd = rng.normal(5e5, 3e3, (count - count // 2, 2)).astype(np.int64)
    places = np.vstack((rng.integers(0, 10**6, (count // 2, 2)), crowd))
    found = nearest(places, 8)
    step = places[:, None, :] - places[None, :, :]
    far = np.hypot(step[..., 0], step[..., 1])
    np.fill_diagonal(far, np.inf)
    wanted = np.sort(far, axis=1)[:, :8]
    got = np.take_along_axis(far, found, axis=1)
    assert np.isfinite(got).all()
    assert np.mean(np.isclose(got, wanted)) > 0.95  # crowded cells are looked at in part


def test_neighbours_in_the_order_are_kept_apart() -> None:
    """A grid of pitch 10 with radius 2: gaps of 6 beside, 10.1 across; at least 15 wanted."""
    grid = np.stack(np.meshgrid(np.arange(8), np.arange(8)), -1).reshape(-1, 2) * 10
    gaps = Extents(np.hstack((grid - 2.0, grid + 2.0)), np.full(64, 2.0), 15.0)
    order = short_tour(grid, extents=gaps)
    assert sorted(order) == list(range(64))
    step = np.diff(grid[order].astype(float), axis=0)
    assert np.hypot(step[:, 0], step[:, 1]).min() - 4.0 >= 15.0
    assert not Ways(grid, None, None, gaps).near(order[:-1], order[1:]).any()
