"""Doubles and overlaps: what goes, what stays, how much is said."""

import tracemalloc
from itertools import pairwise

import numpy as np
import pytest
from drawing.making import line_edges

from analyzer.drawing import clean
from analyzer.drawing.clean import without_doubles, without_zero_length
from analyzer.drawing.edges import Edges
from analyzer.tolerances import DEFAULT


def arc(x: float, y: float, radius: float, first: float, last: float, source: int = 0) -> Edges:
    """Return an arc of at most 180 degrees."""
    a, b = np.radians([first, last])
    return Edges.of(
        np.array([[x + radius * np.cos(a), y + radius * np.sin(a)]]),
        np.array([[x + radius * np.cos(b), y + radius * np.sin(b)]]),
        np.array([np.tan((b - a) / 4)]), np.array([source]),
    )  # fmt: skip


def cleaned(edges: Edges, closed: list[int] | None = None) -> tuple[Edges, float, list[int]]:
    flags = np.zeros(int(edges.source.max()) + 1, dtype=bool)
    flags[closed or []] = True
    left, doubles = without_doubles(edges, flags, DEFAULT)
    assert left.lengths.sum() + doubles.length == pytest.approx(edges.lengths.sum())
    return left, doubles.length, doubles.entities.tolist()


def test_a_line_drawn_twice_the_second_time_backwards() -> None:
    left, length, gone = cleaned(line_edges((0, 0, 50, 30), (50, 30, 0, 0)))
    assert len(left) == 1
    assert length == pytest.approx(np.hypot(50, 30))
    assert gone == [1]


def test_lines_that_overlap_in_part() -> None:
    left, length, gone = cleaned(line_edges((0, 0, 60, 0), (40, 0, 100, 0)))
    assert length == pytest.approx(20.0)
    assert len(gone) == 1
    ends = np.sort(np.concatenate((left.starts[:, 0], left.ends[:, 0])))
    assert ends == pytest.approx([0, 60, 60, 100]) or ends == pytest.approx([0, 40, 40, 100])


def test_a_short_line_inside_a_long_one_goes_whole() -> None:
    left, length, gone = cleaned(line_edges((20, 10, 60, 30), (0, 0, 100, 50)))
    assert gone == [0]
    assert length == pytest.approx(np.hypot(40, 20))
    assert left.lengths.tolist() == pytest.approx([np.hypot(100, 50)])


def test_many_pieces_on_one_line() -> None:
    pieces = [(k, 0, k + 1.5, 0) for k in range(20)]
    left, length, _ = cleaned(line_edges(*pieces))
    assert left.lengths.sum() == pytest.approx(20.5)
    assert length == pytest.approx(30.0 - 20.5)


def test_a_closed_polyline_stays_whole() -> None:
    """Its four sides are one entity; the line over one of them goes, though it is longer."""
    box = line_edges((0, 0, 10, 0), (10, 0, 10, 10), (10, 10, 0, 10), (0, 10, 0, 0), source=1)
    line = line_edges((-30, 0, 40, 0), source=0)
    left, length, gone = cleaned(Edges.join([line, box]), closed=[1])
    assert gone == [0]
    assert length == pytest.approx(10.0)
    assert (left.source == 1).sum() == 4


def test_arcs_of_one_circle_that_overlap() -> None:
    left, length, _ = cleaned(Edges.join([arc(0, 0, 10, 0, 100, 0), arc(0, 0, 10, 60, 170, 1)]))
    assert length == pytest.approx(np.radians(40) * 10)
    assert left.lengths.sum() == pytest.approx(np.radians(170) * 10)


@pytest.mark.parametrize("turn", [0, 17, 90, 180, 263])
def test_a_circle_drawn_twice_from_other_angles(turn: float) -> None:
    halves = [
        arc(3, 4, 10, a, a + 180, s) for s, a in ((0, 0), (0, 180), (1, turn), (1, turn + 180))
    ]
    left, length, gone = cleaned(Edges.join(halves), closed=[0, 1])
    assert length == pytest.approx(20 * np.pi, abs=1e-6)
    assert left.lengths.sum() == pytest.approx(20 * np.pi, abs=1e-6)
    assert gone == [1]


def test_the_other_half_of_a_circle_is_no_double() -> None:
    _, length, _ = cleaned(Edges.join([arc(0, 0, 10, 0, 180), arc(0, 0, 10, 180, 360)]))
    assert length == 0.0


def test_a_chord_is_no_double_of_its_arc() -> None:
    edges = Edges.join(
        [
            arc(0, 0, 10, 0, 20, 0),
            line_edges((10, 0, 10 * np.cos(np.pi / 9), 10 * np.sin(np.pi / 9)), source=1),
        ]
    )
    assert cleaned(edges)[1] == 0.0


@pytest.mark.parametrize("angle", [2, 5, 30])
def test_a_sharp_tip_is_no_double(angle: float) -> None:
    """Chords of a hundredth of a millimetre up to a tip and back again."""
    a = np.radians(angle)
    out = [(k * 0.01, 0.0) for k in range(50)]
    back = [(k * 0.01 * np.cos(a), k * 0.01 * np.sin(a)) for k in range(50)]
    rows = [(*p, *q) for way in (out, back) for p, q in pairwise(way)]
    assert cleaned(line_edges(*rows))[1] == 0.0


@pytest.mark.parametrize("shift", [0.0, 1e-6, 0.001, 0.003])
def test_near_copies_go_too(shift: float) -> None:
    left, length, gone = cleaned(line_edges((0, 0, 50, 0), (50 + shift, shift, shift, shift)))
    assert len(left) == 1
    assert length == pytest.approx(50.0)
    assert gone == [1]


def test_lines_a_hundredth_apart_are_two_lines() -> None:
    assert cleaned(line_edges((0, 0, 50, 0), (0, 0.02, 50, 0.02)))[1] == 0.0


def test_a_crowd_of_copies_costs_no_n_squared() -> None:
    left, length, gone = cleaned(line_edges(*[(0, 0, 100, 40)] * 20_000))
    assert len(left) == 1
    assert len(gone) == 19_999
    assert length == pytest.approx(19_999 * np.hypot(100, 40))


def test_memory_is_that_of_the_lines_not_of_their_pairs(monkeypatch: pytest.MonkeyPatch) -> None:
    """A row of 300 x 40 stretches, each over six others: in blocks as at once.

    An array of a drawing upon itself, found by damage done at random, took 1.9 GB.
    """
    rows = [(k, 10 * j, k + 4 + k % 3, 10 * j) for j in range(40) for k in range(300)]
    edges = line_edges(*rows)
    at_once = cleaned(edges)
    assert at_once[1] == pytest.approx(sum(b[2] - b[0] for b in rows) - 40 * 305, abs=1e-6)
    monkeypatch.setattr(clean, "_AT_ONCE", 1000)
    tracemalloc.start()
    in_blocks = cleaned(edges)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert in_blocks[1:] == at_once[1:]
    assert in_blocks[0].starts.tolist() == at_once[0].starts.tolist()
    assert peak < 30e6


def test_zero_length_goes() -> None:
    left, gone = without_zero_length(line_edges((0, 0, 1, 0), (5, 5, 5, 5)), 1e-9)
    assert (len(left), gone.tolist()) == (1, [1])
