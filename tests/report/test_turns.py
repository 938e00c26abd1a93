"""Numbers of the cutting order: none on another, the first and the last always there."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.geometry.contours import Floats
from analyzer.report.turns import Lettering, Turns, overlapping, turns_of

LETTERS = Lettering(10.0, 15.0, 3.0, 2.5)
ON_PLACE = Lettering(10.0, 15.0, -1.0, 0.0)

places = st.lists(
    st.tuples(st.integers(0, 300), st.integers(0, 150)), min_size=0, max_size=150
).map(lambda rows: np.array(rows, dtype=float).reshape(-1, 2))  # fmt: skip


def boxes(found: Turns, at: Floats, letters: Lettering, scale: float) -> Floats:
    """Return least x, y, greatest x, y of every number, shape (k, 4)."""
    half = np.array([letters.half(number) for number in found.numbers.tolist()]).reshape(-1, 2)
    middle = at[found.numbers - 1] * scale + found.offsets
    return np.hstack((middle - half, middle + half))


def overlaps(rows: Floats) -> int:
    """Return how many pairs of boxes overlap."""
    low, high = rows[:, None, :2], rows[:, None, 2:]
    on = ((low < high.transpose(1, 0, 2) - 1e-6) & (low.transpose(1, 0, 2) < high - 1e-6)).all(2)
    return int(np.triu(on, 1).sum())


@settings(max_examples=60)
@given(places, st.sampled_from([(1.0, 1.0), (0.4, 1.0), (0.3, 1.7)]), st.booleans())
def test_no_number_lies_on_another_at_any_size(
    at: Floats, scales: tuple[float, float], on_place: bool
) -> None:
    letters = ON_PLACE if on_place else LETTERS
    found = turns_of(at, letters, (300.0, 150.0), scales)
    for scale in np.linspace(*scales, 23):
        assert overlaps(boxes(found, at, letters, float(scale))) == 0


@settings(max_examples=60)
@given(places, st.booleans())
def test_the_first_and_the_last_are_there(at: Floats, on_place: bool) -> None:
    found = turns_of(at, ON_PLACE if on_place else LETTERS, (300.0, 150.0), (0.4, 1.0))
    numbers = found.numbers.tolist()
    assert numbers == sorted(set(numbers))
    assert {1, len(at)} & set(range(1, len(at) + 1)) <= set(numbers)
    assert (found.words == "") == (len(numbers) == len(at))


@settings(max_examples=60)
@given(st.lists(places, min_size=2, max_size=3), st.integers(0, 8))
def test_numbers_of_neighbours_do_not_lie_on_one_another(parts: list[Floats], gap: int) -> None:
    """Parts side by side in one picture, pierces up to its edge and beyond."""
    written = np.zeros((0, 4))
    for k, at in enumerate(parts):
        corner = np.array([(300.0 + gap) * k, 0.0])
        found = turns_of(at, LETTERS, (300.0, 150.0), keep_off=written - np.tile(corner, 2))
        assert {1, len(at)} & set(range(1, len(at) + 1)) <= set(found.numbers.tolist())
        written = np.vstack((written, boxes(found, at, LETTERS, 1.0) + np.tile(corner, 2)))
    assert overlaps(written) == 0


@given(places)
def test_the_words_say_which(at: Floats) -> None:
    found = turns_of(at, LETTERS, (300.0, 150.0))
    between = [number for number in found.numbers.tolist() if 1 < number < len(at)]
    step = int("".join(filter(str.isdigit, found.words)) or 1)
    assert all(number % step == 0 for number in between)
    if found.words and "room" not in found.words:
        told = range(step, len(at), step) if "every" in found.words else ()
        assert between == [number for number in told if number > 1]


def test_a_plate_of_grip_holes() -> None:
    """21 columns by 9 rows, cut row by row: there is room for every so many-th."""
    at = np.array([(17.0 * x, 17.0 * y) for y in range(9) for x in range(21)])
    found = turns_of(at, LETTERS, (340.0, 136.0))
    assert len(found.numbers) > 15
    assert found.words.startswith("first, last and every ")


def test_few_apart_have_all_their_numbers() -> None:
    at = np.array([(0.0, 0.0), (80.0, 10.0), (160.0, 70.0)])
    found = turns_of(at, LETTERS, (160.0, 70.0))
    assert found.numbers.tolist() == [1, 2, 3]
    assert found.words == ""


def test_they_stay_inside_and_off_the_other_dots() -> None:
    at = np.array([(2.0, 2.0), (298.0, 2.0), (298.0, 148.0), (2.0, 148.0)])
    rows = boxes(turns_of(at, LETTERS, (300.0, 150.0)), at, LETTERS, 1.0)
    assert (rows[:, :2] >= 0.0).all()
    assert (rows[:, 2:] <= (300.0, 150.0)).all()
    at = np.array([(100.0, 100.0), (109.0, 90.0), (20.0, 20.0)])  # the second above the first
    rows = boxes(turns_of(at, LETTERS, (300.0, 150.0)), at, LETTERS, 1.0)
    assert not ((rows[0, :2] < at[1]) & (at[1] < rows[0, 2:])).all()


@pytest.mark.parametrize("seed", range(3))
def test_overlapping_against_a_fine_row_of_sizes(seed: int) -> None:
    some = np.random.default_rng(seed)
    between, offset = some.normal(0.0, 40.0, (400, 2)), some.normal(0.0, 15.0, (400, 2))
    half = some.uniform(5.0, 25.0, (400, 2))
    scales = np.linspace(0.5, 1.5, 4001)
    apart = np.abs(scales[:, None, None] * between + offset)
    looked = (apart < half).all(axis=2).any(axis=0)
    told = overlapping(between, offset, half, (0.5, 1.5))
    assert (told >= looked).all()
    assert (told != looked).sum() <= 2  # those that meet between two of the sizes looked at


def test_the_same_again_and_in_good_time() -> None:
    at = np.random.default_rng(7).uniform(0.0, 1000.0, (20_000, 2))
    first, again = (turns_of(at, LETTERS, (1000.0, 1000.0)) for _ in range(2))
    assert first.numbers.tolist() == again.numbers.tolist()
    assert first.offsets.tolist() == again.offsets.tolist()
    assert {1, 20_000} <= set(first.numbers.tolist())
