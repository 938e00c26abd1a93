"""Numbers stand apart, near their places, the same every time."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.report.labels import put_apart

BOX = np.array([0.0, 0.0, 100.0, 60.0])


def overlaps(middles: np.ndarray, half: np.ndarray) -> int:
    apart = np.abs(middles[:, None] - middles[None]) - (half[:, None] + half[None])
    on = (apart < -1e-9).all(axis=2)
    return int(np.triu(on, 1).sum())


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 60), st.integers(0, 1000))
def test_labels_with_room_never_overlap_and_stay_in_the_box(count: int, seed: int) -> None:
    places = np.random.default_rng(seed).uniform((0, 0), (100, 60), (count, 2))
    half = np.full((count, 2), 1.5)
    middles = put_apart(places, half, BOX)
    assert overlaps(middles, half) == 0
    assert (middles - half >= BOX[:2] - 1e-9).all()
    assert (middles + half <= BOX[2:] + 1e-9).all()
    assert np.abs(middles - places).max() < 25.0


@settings(max_examples=20, deadline=None)
@given(st.integers(1, 40), st.integers(0, 1000))
def test_labels_never_lie_on_words(count: int, seed: int) -> None:
    some = np.random.default_rng(seed)
    places = some.uniform((0, 0), (100, 60), (count, 2))
    low = some.uniform((0, 0), (80, 50), (8, 2))
    words = np.hstack((low, low + some.uniform(2.0, 12.0, (8, 2))))
    half = np.full((count, 2), 1.5)
    middles = put_apart(places, half, BOX, words=words)
    assert overlaps(middles, half) == 0
    least, most = middles - half + 1e-9, middles + half - 1e-9
    on = (least[:, None] < words[:, 2:]).all(axis=2) & (most[:, None] > words[:, :2]).all(axis=2)
    assert not on.any()


def test_twenty_labels_of_one_place_stand_around_it() -> None:
    half = np.full((20, 2), 2.0)
    middles = put_apart(np.full((20, 2), 30.0), half, BOX)
    assert overlaps(middles, half) == 0
    assert np.abs(middles - 30.0).max() < 20.0


def test_a_label_does_not_cover_its_own_place() -> None:
    middles = put_apart(np.array([[50.0, 30.0]]), np.array([[3.0, 3.0]]), BOX)
    assert np.abs(middles - (50.0, 30.0)).max() >= 3.0


def test_a_label_keeps_off_the_ink() -> None:
    """Ink on the upper right of the place: the label stands on another side."""
    ink = np.random.default_rng(1).uniform((50, 30), (75, 55), (4000, 2))
    middles = put_apart(np.array([[50.0, 30.0]]), np.array([[3.0, 3.0]]), BOX, ink)
    assert (middles[0] < (50.0, 30.0)).any()


def test_without_room_every_label_still_has_a_place_inside() -> None:
    half = np.full((40, 2), 30.0)
    middles = put_apart(np.full((40, 2), 1.0), half, BOX)
    assert np.isfinite(middles).all()
    assert middles[:, 0].min() >= 30.0 - 1e-9


def test_same_input_same_places() -> None:
    places = np.random.default_rng(3).uniform(0, 50, (30, 2))
    half = np.full((30, 2), 2.0)
    assert put_apart(places, half, BOX).tolist() == put_apart(places, half, BOX).tolist()
    assert put_apart(np.zeros((0, 2)), np.zeros((0, 2)), BOX).shape == (0, 2)


@pytest.mark.parametrize("count", [400])
def test_many_labels_are_placed_quickly(count: int) -> None:
    places = np.random.default_rng(4).uniform(0, 1000, (count, 2))
    half = np.full((count, 2), 6.0)
    middles = put_apart(places, half, np.array([0.0, 0.0, 1000.0, 1000.0]))
    assert overlaps(middles, half) == 0
