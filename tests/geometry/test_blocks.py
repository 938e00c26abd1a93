"""Questions in blocks: every row once, and never many more answers at once than asked for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.geometry.blocks import MOST, Blocks


@given(st.integers(0, 3000), st.integers(1, 10**6), st.integers(0, 40))
def test_every_row_comes_once(count: int, answers: int, each: int) -> None:
    blocks, seen = Blocks(count, answers), []
    for some in blocks:
        assert 0 < len(some) <= MOST
        seen += some.tolist()
        blocks.found(each * len(some))
    assert sorted(seen) == list(range(count))


@pytest.mark.parametrize("dense", [slice(0, 500), slice(9_500, 10_000), slice(None, None, 20)])
def test_answers_at_once_stay_few_where_some_rows_have_many(dense: slice) -> None:
    """500 rows that meet 10,000 others each, wherever they stand among 9,500 that meet one."""
    each = np.ones(10_000)
    each[dense] = 10_000
    blocks, most, asked = Blocks(10_000, 100_000), 0.0, 0
    for some in blocks:
        got = each[some].sum()
        blocks.found(int(got))
        most, asked = max(most, got), asked + 1
    assert most < 6 * 100_000
    assert asked < 2_000  # one by one would be 10,000


def test_few_answers_need_few_blocks() -> None:
    blocks, asked = Blocks(100_000, 1_000_000), 0
    for some in blocks:
        blocks.found(2 * len(some))
        asked += 1
    assert asked < 12
