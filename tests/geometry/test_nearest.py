"""The nearest other point: against all distances, and as fast where points are crowded."""

import time

import numpy as np
import pytest
from numpy.typing import NDArray

from analyzer.geometry.nearest import nearest_others

Floats = NDArray[np.float64]


def by_all_distances(points: Floats, distance: float) -> Floats:
    """How far the nearest point elsewhere is, infinite beyond `distance`."""
    away: Floats = np.hypot(*(points[:, None] - points[None, :]).T)
    away[away == 0.0] = np.inf
    least = away.min(axis=1, initial=np.inf)
    return np.where(least <= distance, least, np.inf)


SPREADS = {
    "even": lambda rng: rng.uniform(0.0, 100.0, (400, 2)),
    "on a line": lambda rng: rng.uniform(0.0, 100.0, (300, 2)) * (1.0, 0.0),
    "a crowd and a few": lambda rng: np.vstack(
        (rng.normal(0.0, 1e-4, (300, 2)), rng.uniform(-900.0, 900.0, (60, 2)))
    ),
    "on a grid, some twice": lambda rng: rng.integers(0, 12, (300, 2)).astype(float),
    "far off": lambda rng: 1e6 + rng.uniform(0.0, 50.0, (200, 2)),
    "two": lambda rng: np.array([[0.0, 0.0], [3.0, 4.0]]),
    "one place": lambda rng: np.ones((5, 2)),
    "none": lambda rng: np.zeros((0, 2)),
}


@pytest.mark.parametrize("name", SPREADS)
@pytest.mark.parametrize("distance", [0.5, 5.0, 2000.0])
def test_against_all_distances(name: str, distance: float) -> None:
    points = SPREADS[name](np.random.default_rng(7))
    nearest, away = nearest_others(points, distance)
    np.testing.assert_allclose(away, by_all_distances(points, distance), rtol=1e-12)
    there = np.flatnonzero(nearest >= 0)
    assert np.isfinite(away[there]).all()
    assert not np.isfinite(np.delete(away, there)).any()
    np.testing.assert_allclose(np.hypot(*(points[there] - points[nearest[there]]).T), away[there])


def test_a_crowd_takes_no_square_of_time() -> None:
    """Ends of scribbles: 40,000 on a square centimetre, and a few far away."""
    rng = np.random.default_rng(3)
    points = np.vstack((rng.uniform(0.0, 10.0, (40_000, 2)), rng.uniform(0.0, 1e4, (50, 2))))
    begin = time.process_time()
    nearest, _ = nearest_others(points, 10.0)
    assert (nearest[:40_000] >= 0).all()
    assert time.process_time() - begin < 3.0  # measured 0.2 s; all distances: 1.6e9 of them
