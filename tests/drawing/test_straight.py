"""Where a line was broken changes nothing of what a drawing says."""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shared import CORPUS, needs_corpus

from analyzer.drawing.reading import read_drawing
from analyzer.drawing.straight import joined
from analyzer.geometry.near import welded


def graph(rows: list[tuple[float, ...]]) -> tuple[np.ndarray, np.ndarray]:
    table = np.array([(*row, 0.0)[:5] if len(row) == 4 else row for row in rows], dtype=float)
    node, _ = welded(np.vstack((table[:, :2], table[:, 2:4])), 1e-6)
    return table, node.reshape(2, -1).T


def lines(rows: list[tuple[float, ...]], kind: list[int] | None = None) -> set[frozenset]:
    """Return the ends of every line after joining, whichever way it runs."""
    table, node = graph(rows)
    kinds = np.array(kind or [0] * len(rows))
    _, _, long, _ = joined(table, node, kinds)
    ends = np.round(long[:, :4], 6).reshape(-1, 2, 2).tolist()
    return {frozenset(map(tuple, pair)) for pair in ends}


def test_three_pieces_each_its_own_way_are_one_line() -> None:
    assert lines([(0, 0, 1, 0), (2, 0, 1, 0), (2, 0, 5, 0)]) == {frozenset({(0, 0), (5, 0)})}


def test_a_corner_an_arc_and_another_layer_end_a_line() -> None:
    assert len(lines([(0, 0, 1, 0), (1, 0, 1, 1)])) == 2
    assert len(lines([(0, 0, 1, 0), (1, 0, 2, 0, 0.5)])) == 2
    assert len(lines([(0, 0, 1, 0), (1, 0, 2, 0)], kind=[0, 1])) == 2


def test_a_cross_in_four_pieces_is_two_lines() -> None:
    found = lines([(0, 0, 1, 0), (0, 0, -1, 0), (0, 0, 0, 1), (0, -1, 0, 0)])
    assert found == {frozenset({(-1, 0), (1, 0)}), frozenset({(0, -1), (0, 1)})}


def test_copies_of_a_line_are_one() -> None:
    """Three thousand copies, either way round, cost later steps no more than one."""
    rows = [(0, 0, 5, 1) if k % 2 else (5, 1, 0, 0) for k in range(3000)]
    assert lines([*rows, (0, 0, 5, 1, 0.5), (5, 1, 0, 0, -0.5), (0, 0, 5, 1, -0.5)]) == {
        frozenset({(0, 0), (5, 1)})
    }
    table, node = graph([*rows, (0, 0, 5, 1, 0.5), (5, 1, 0, 0, -0.5), (0, 0, 5, 1, -0.5)])
    line, first, _, _ = joined(table, node, np.zeros(len(table), dtype=int))
    assert len(first) == 3
    assert line.tolist() == [0] * 3000 + [1, 1, 2]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 12))
def test_lines_broken_anywhere_are_whole_again(seed: int, count: int) -> None:
    """Random lines, each cut into one to four pieces, shuffled and reversed."""
    rng = np.random.default_rng(seed)
    whole = rng.uniform(0, 100, (count, 4))
    pieces = []
    for a, b in zip(whole[:, :2], whole[:, 2:], strict=True):
        at = [0.0, *np.sort(rng.uniform(0.1, 0.9, rng.integers(0, 4))), 1.0]
        points = [a + (b - a) * t for t in at]
        ways = pairwise(points)
        pieces += [(*p, *q) if rng.random() < 0.5 else (*q, *p) for p, q in ways]
    rng.shuffle(pieces)
    assert lines(pieces) == lines([tuple(row) for row in whole.tolist()])


@needs_corpus
@pytest.mark.parametrize("share", [0.5, 1.0])
def test_a_real_drawing_full_of_notes_with_its_lines_in_two(tmp_path: Path, share: float) -> None:
    """2,155 lines, most of them lettering and dimensions: found by fuzzing, then mended."""
    path = CORPUS / "bb3__BB3_chassis_Mean_Well_support_2.0.dxf"
    head, mark, rest = path.read_text("latin-1").replace("\r\n", "\n").partition("\nENTITIES\n")
    rng, out = np.random.default_rng(1), []
    body, end, tail = rest.partition("  0\nENDSEC\n")
    first, *entities = body.split("  0\n")
    for entity in entities:
        values = entity.split("\n")[1:]
        codes = [code.strip() for code in values[0:-1:2]]
        at = {code: 2 * k + 1 for k, code in enumerate(codes)}
        if rng.random() > share or not entity.startswith("LINE\n"):
            out.append(entity)
            continue
        one, two = list(values), list(values)
        for begin, stop in (("10", "11"), ("20", "21")):
            middle = (float(values[at[begin]]) + float(values[at[stop]])) / 2.0
            one[at[stop]] = two[at[begin]] = repr(middle)
        out += ["LINE\n" + "\n".join(one), "LINE\n" + "\n".join(two)]
    assert len(out) > 2155 * (1.0 + share) * 0.9
    changed = head + mark + "  0\n".join([first, *out]) + end + tail
    (tmp_path / "split.dxf").write_text(changed, "latin-1")
    plain, split = read_drawing(path), read_drawing(tmp_path / "split.dxf")
    assert len(split.cuts) == len(plain.cuts)
    assert split.cuts.length.sum() == pytest.approx(plain.cuts.length.sum(), rel=1e-8)
