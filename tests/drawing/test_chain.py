"""Chaining: welds, splits, gaps, junctions, and what stays open."""

import numpy as np
import pytest
from drawing.making import line_edges
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.drawing.edges import Edges
from analyzer.drawing.outlines import Outlines, outline
from analyzer.tolerances import DEFAULT

PLATE = [(0, 0, 100, 0), (100, 0, 100, 60), (100, 60, 0, 60), (0, 60, 0, 0)]


def chained(*rows: tuple[float, float, float, float]) -> Outlines:
    edges = line_edges(*rows)
    return outline(edges, np.zeros(len(edges), dtype=bool), DEFAULT, np.zeros(2))


def facts(outlines: Outlines) -> dict[str, str]:
    return {fact.kind: fact.message for fact in outlines.facts}


def lengths(outlines: Outlines, *, closed: bool) -> list[float]:
    rows = outlines.contours.closed == closed
    return sorted(np.round(outlines.contours.length[rows], 6).tolist())


def test_four_lines_are_a_contour_counter_clockwise() -> None:
    outlines = chained(*PLATE)
    assert lengths(outlines, closed=True) == [320.0]
    assert outlines.contours.area.tolist() == [6000.0]
    assert outlines.facts == ()
    assert outlines.sources[0].tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize("gap", [2e-5, 0.005, 0.05, 0.1])
def test_a_gap_is_closed_and_said(gap: float) -> None:
    outlines = chained((0, 0, 100 - gap, 0), *PLATE[1:])
    assert len(lengths(outlines, closed=True)) == 1
    assert outlines.contours.length[0] == pytest.approx(320.0, abs=gap * 0.51 + 1e-9)
    assert ("gap-closed" in facts(outlines)) == (gap > DEFAULT.weld)
    if gap > DEFAULT.flatten:  # a bridge is drawn, nothing is moved
        assert outlines.contours.length[0] == pytest.approx(320.0)
        assert f"{gap:.2g} mm" in facts(outlines)["gap-closed"]


def test_a_wider_gap_stays_open_with_both_ends_told() -> None:
    outlines = chained((0, 0, 99.8, 0), *PLATE[1:])
    assert lengths(outlines, closed=False) == [319.8]
    assert "(99.800, 0.000)" in facts(outlines)["open-contour"]
    assert "(100.000, 0.000)" in facts(outlines)["open-contour"]
    assert "0.200 mm apart" in facts(outlines)["open-contour"]


def test_gaps_are_closed_with_the_nearest_only() -> None:
    """Three ends within the join distance: the nearest two meet, the third stays open."""
    outlines = chained((0, 0, 10, 0), (10.02, 0, 20, 0), (10.09, 0.03, 0.09, 4.03))
    assert lengths(outlines, closed=False) == [pytest.approx(np.hypot(10, 4)), pytest.approx(20.0)]


@pytest.mark.parametrize("gap", [0.005, 0.05, 0.1])
@pytest.mark.parametrize("slant", [0.0, 30.0, -20.0])
def test_a_line_that_stops_short_of_another_is_led_on_to_it(gap: float, slant: float) -> None:
    """A plate parted by a line that ends a hair before both edges: two parts share it."""
    outlines = chained(*PLATE, (50, gap, 50 + slant, 60 - gap))
    assert len(lengths(outlines, closed=True)) == 2
    assert lengths(outlines, closed=False) == []
    assert outlines.shared_mm == pytest.approx(np.hypot(slant, 60), abs=3 * gap)
    assert "2 gaps closed" in facts(outlines)["gap-closed"]


def test_a_line_that_stops_short_of_an_arc_is_led_on_to_it() -> None:
    arc = Edges.of(np.array([[0.0, 0.0]]), np.array([[100.0, 0.0]]), np.array([1.0]), np.array([0]))
    lines = line_edges((0, 0, 100, 0), (50, 0, 50, -49.95))
    lines = Edges.of(lines.starts, lines.ends, lines.bulges, lines.source + 1)
    outlines = outline(Edges.join([arc, lines]), np.zeros(3, dtype=bool), DEFAULT, np.zeros(2))
    assert outlines.contours.closed.all()
    assert outlines.shared_mm == pytest.approx(50.0)


@pytest.mark.parametrize(
    "row", [(50, 0.2, 50, 30), (20, 0.05, 80, 0.06), (50, 0.05, 99, 20.0)],
    ids=["too far", "beside", "flat"],
)  # fmt: skip
def test_a_line_that_only_passes_near_another_is_left(row: tuple[float, ...]) -> None:
    outlines = chained(*PLATE, row)  # type: ignore[arg-type]
    assert lengths(outlines, closed=True) == [320.0]
    assert lengths(outlines, closed=False) == [
        pytest.approx(np.hypot(row[2] - row[0], row[3] - row[1]))
    ]


def test_tips_of_rays_are_not_joined() -> None:
    """Rays 1 degree apart whose tips are 0.09 mm apart: nobody means a saw."""
    a = np.radians(np.arange(0, 40))
    outlines = chained(*[(0, 0, 5 * np.cos(t), 5 * np.sin(t)) for t in a])
    assert "gap-closed" not in facts(outlines)
    assert outlines.contours.length.sum() == pytest.approx(200.0)
    assert not outlines.contours.closed.any()


def test_lines_that_cross_stay_two_lines_however_they_are_split() -> None:
    """Centre lines in two pieces each, or one through and one split: two lines of 20 mm."""
    whole = chained((-10, 0, 10, 0), (0, -10, 0, 10))
    pieces = chained((-10, 0, 0, 0), (10, 0, 0, 0), (0, -10, 0, 0), (0, 0, 0, 10))
    for outlines in (whole, pieces):
        assert lengths(outlines, closed=False) == [20.0, 20.0]
        assert len(outlines.contours.bulges) == 2


def test_gaps_are_not_closed_one_after_another() -> None:
    """Points 0.04 mm apart in a row are no heap: every end joins one other at most."""
    rows = [(0.0, k * 0.04, 10.0, k * 4.0) for k in range(6)]
    outlines = chained(*rows)
    closed = next(f.count for f in outlines.facts if f.kind == "gap-closed")
    assert closed in (2, 3)  # of six ends, each once; mutual nearest may leave two over
    assert len(outlines.contours) == 6 - closed
    assert outlines.contours.length.sum() >= sum(np.hypot(10, k * 3.96) for k in range(6)) - 0.5


@pytest.mark.parametrize("rows", [[(0, 0, 0.05, 0)], [(0, 0, 0.04, 0), (0.04, 0, 0.04, 0.04)]])
def test_both_ends_of_a_short_piece_are_not_joined(
    rows: list[tuple[float, float, float, float]],
) -> None:
    outlines = chained(*rows)
    assert lengths(outlines, closed=True) == []
    assert {"speck", "open-contour"} <= set(facts(outlines))


def test_an_open_ring_closes_upon_itself() -> None:
    outlines = chained((0.05, 0, 100, 0), *PLATE[1:])
    assert lengths(outlines, closed=True) == [320.0]


def test_straight_overshoots_are_cut_off_and_said() -> None:
    outlines = chained((0, 0, 100.05, 0), (100, -0.08, 100, 60), *PLATE[2:])
    assert lengths(outlines, closed=True) == [320.0]
    assert facts(outlines)["overshoot"].startswith(
        "2 lines run past their corner by up to 0.080 mm"
    )


def test_an_overshoot_past_a_tangent_arc_is_cut_off() -> None:
    """A line that runs 0.02 mm past the point where its fillet begins."""
    lines = line_edges((0, 0, 90.02, 0), (100, 10, 100, 60), *PLATE[2:])
    arc = Edges.of(np.array([[90.0, 0.0]]), np.array([[100.0, 10.0]]),
                   np.array([np.tan(np.pi / 8)]), np.array([4]))  # fmt: skip
    outlines = outline(Edges.join([lines, arc]), np.zeros(5, dtype=bool), DEFAULT, np.zeros(2))
    assert outlines.contours.closed.tolist() == [True]
    assert outlines.contours.length[0] == pytest.approx(320 - 20 + 5 * np.pi, abs=1e-4)


def test_a_line_that_ends_on_another_splits_it_and_stays_open() -> None:
    """A slit cut from the edge: the outline stays one contour, its side one line."""
    outlines = chained(*PLATE, (50, 0, 50, 30))
    assert lengths(outlines, closed=True) == [320.0]
    assert lengths(outlines, closed=False) == [30.0]
    assert len(outlines.contours.bulges) == 5


def test_a_line_from_edge_to_edge_makes_two_parts_that_share_it() -> None:
    outlines = chained(*PLATE, (50, 0, 50, 60))
    assert lengths(outlines, closed=True) == [220.0, 220.0]
    assert outlines.shared_mm == pytest.approx(60.0)
    assert "60.000 mm" in facts(outlines)["shared-edge"]


def test_two_squares_with_one_edge_drawn_once() -> None:
    outlines = chained(*PLATE, (100, 0, 150, 0), (150, 0, 150, 60), (150, 60, 100, 60))
    assert lengths(outlines, closed=True) == [220.0, 320.0]
    assert outlines.contours.length.sum() - outlines.shared_mm == pytest.approx(480.0)


def test_a_net_of_single_lines_is_its_cells() -> None:
    rows = [(x, y, x + 1, y) for x in range(4) for y in range(5)]
    rows += [(x, y, x, y + 1) for x in range(5) for y in range(4)]
    outlines = chained(*rows)
    assert lengths(outlines, closed=True) == [4.0] * 16
    assert outlines.contours.length.sum() - outlines.shared_mm == pytest.approx(40.0)


def test_corners_that_touch_come_apart() -> None:
    outlines = chained(
        *PLATE, (100, 60, 150, 60), (150, 60, 150, 90), (150, 90, 100, 90), (100, 90, 100, 60)
    )
    assert lengths(outlines, closed=True) == [160.0, 320.0]
    assert outlines.shared_mm == 0.0


def test_a_cut_out_that_touches_the_outline_stays_a_cut_out() -> None:
    outlines = chained(*PLATE, (0, 0, 20, 5), (20, 5, 5, 20), (5, 20, 0, 0))
    assert len(lengths(outlines, closed=True)) == 2
    assert sorted(outlines.contours.area.tolist()) == [pytest.approx(187.5), pytest.approx(6000.0)]


def test_a_bridge_between_two_contours_is_open() -> None:
    outlines = chained(
        *PLATE, (100, 60, 150, 90), (150, 90, 200, 90), (200, 90, 200, 120), (200, 120, 150, 90)
    )
    assert len(lengths(outlines, closed=True)) == 2
    assert lengths(outlines, closed=False) == [pytest.approx(np.hypot(50, 30))]


def test_diagonals_do_not_undo_the_outline() -> None:
    """The cross of a window, drawn from corner to corner, is two open lines."""
    outlines = chained(*PLATE, (0, 0, 100, 60), (100, 0, 0, 60))
    assert lengths(outlines, closed=True) == [320.0]
    assert len(lengths(outlines, closed=False)) == 2


def test_a_star_of_lines_is_all_open() -> None:
    outlines = chained(*[(0, 0, 50 * np.cos(a), 50 * np.sin(a)) for a in np.arange(0, 6, 0.5)])
    assert lengths(outlines, closed=True) == []
    assert outlines.contours.length.sum() == pytest.approx(600.0)


def test_lines_shorter_than_a_hair_go_with_a_fact() -> None:
    outlines = chained(*PLATE, (200, 0, 200.00005, 0))
    assert "1 line shorter than" in facts(outlines)["speck"]


def test_micro_segments_are_not_eaten() -> None:
    """Chords of 0.01 mm, a tenth of the join distance, chain without loss."""
    t = np.linspace(0, 2 * np.pi, 2000)
    points = np.column_stack((4 * np.cos(t), 4 * np.sin(t)))
    points[-1] = points[0]
    outlines = chained(*np.hstack((points[:-1], points[1:])).tolist())
    assert outlines.contours.closed.tolist() == [True]
    assert outlines.contours.length[0] == pytest.approx(
        np.hypot(*np.diff(points, axis=0).T).sum(), rel=1e-12
    )


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 12))
def test_any_net_of_streets_keeps_every_length(seed: int, count: int) -> None:
    """Random edges of a grid: contours less what is shared are exactly what was drawn."""
    rng = np.random.default_rng(seed)
    grid = [(x, y, x + 1, y) for x in range(count) for y in range(count + 1)]
    grid += [(x, y, x, y + 1) for x in range(count + 1) for y in range(count)]
    rows = [row for row in grid if rng.random() < 0.6]
    if not rows:
        return
    outlines = chained(*rows)
    assert outlines.contours.length.sum() - outlines.shared_mm == pytest.approx(len(rows))
    used = np.unique(np.concatenate(outlines.sources))
    assert used.tolist() == list(range(len(rows)))
