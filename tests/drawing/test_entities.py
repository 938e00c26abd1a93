"""Every entity type, by small drawings: what is read, what is ignored, and why."""

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from drawing.making import (
    HOLES,
    PLATE_LENGTH,
    circle_tags,
    draw_plate,
    fact,
    line_tags,
    read_made,
    read_tags,
    reasons,
    square,
)
from scipy.special import ellipe

from analyzer.errors import DrawingError


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
@pytest.mark.parametrize("binary", [False, True])
def test_every_version_text_and_binary(tmp_path: Path, version: str, binary: bool) -> None:
    def draw(space: Any) -> None:
        for hole in HOLES:
            space.add_circle(hole, 4)
        space.add_line((0, 0), (200, 0))
        space.add_arc((200, 60), 60, -90, 90)
        space.add_line((200, 120), (0, 120))
        space.add_line((0, 120), (0, 0))

    drawing = read_made(tmp_path, draw, version=version, binary=binary)
    assert drawing.cuts.closed.tolist() == [True] * 5
    assert drawing.cuts.length.sum() == pytest.approx(400 + 120 + 60 * np.pi + 32 * np.pi)
    assert (drawing.account.total, drawing.account.used) == (8, 8)


def test_the_plate(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, draw_plate)
    assert drawing.cuts.closed.tolist() == [True] * 6
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH, abs=1e-9)
    assert drawing.facts == ()
    assert drawing.units.source == "header"
    assert drawing.account.total == drawing.account.used == 13
    assert sorted(len(s) for s in drawing.cut_sources) == [1, 1, 1, 1, 1, 8]
    outline = max(drawing.cut_sources, key=len)
    assert {entity.type for entity in outline} == {"LINE", "ARC"}
    assert all(entity.handle and not entity.in_block for entity in outline)


def test_polyline_with_bulges_each_way(tmp_path: Path) -> None:
    """A 100 x 50 plate with a half circle out on one side and in on the other."""
    points = [(0, 0, 0), (100, 0, 1), (100, 50, 0), (0, 50, -1)]
    drawing = read_made(tmp_path, lambda m: m.add_lwpolyline(points, format="xyb", close=True))
    assert drawing.cuts.area[0] == pytest.approx(5000 + np.pi * 25**2 / 2 - np.pi * 25**2 / 2)
    assert drawing.cuts.length[0] == pytest.approx(200 + 2 * np.pi * 25)


@pytest.mark.parametrize("sweep", [200, 270, 350])
def test_a_bulge_beyond_a_half_circle(tmp_path: Path, sweep: float) -> None:
    bulge = math.tan(math.radians(sweep) / 4)
    drawing = read_made(
        tmp_path,
        lambda m: m.add_lwpolyline([(0, 0, bulge), (10, 0, 0)], format="xyb", close=True),
    )
    radius = 5 / math.sin(math.radians(sweep) / 2)
    assert drawing.cuts.length[0] == pytest.approx(abs(radius) * math.radians(sweep) + 10)
    assert np.abs(drawing.cuts.sweeps).max() <= np.pi + 1e-9


def test_old_polylines(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_polyline2d(
            [(0, 0, 0), (30, 0, 1), (30, 20, 0), (0, 20, 0)], format="xyb", close=True
        )
        space.add_polyline3d([(50, 0, 5), (80, 0, 5), (80, 20, 5)], close=True)
        space.add_polyline3d([(50, 30, 0), (80, 30, 9), (80, 50, 0)], close=True)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.tolist() == pytest.approx(
        [30 + 30 + 20 + 10 * np.pi, 30 + 20 + np.hypot(30, 20)]
    )
    assert any("not flat" in reason for _, reason in reasons(drawing))


def test_curve_fit_polylines_leave_out_their_frame(tmp_path: Path) -> None:
    """Vertex flag 16 is the frame a spline was fitted to; flag 8 marks the fitted points."""
    tags = [(0, "POLYLINE"), (8, "0"), (66, 1), (70, 5)]
    for x, y, flag in ((0, 0, 16), (0, 0, 8), (50, 90, 16), (25, 40, 8), (50, 0, 16), (50, 0, 8)):
        tags += [(0, "VERTEX"), (8, "0"), (10, float(x)), (20, float(y)), (70, flag)]
    tags += [(0, "SEQEND"), (8, "0")]
    drawing = read_tags(tmp_path, [tags])
    assert drawing.cuts.length[0] == pytest.approx(2 * np.hypot(25, 40) + 50)
    assert (drawing.account.total, drawing.account.used) == (1, 1)


def test_ellipses(tmp_path: Path) -> None:
    """Perimeter 4 a E(m), NIST DLMF 19.30.5, by scipy.special.ellipe."""
    drawing = read_made(tmp_path, lambda m: m.add_ellipse((50, 40), (30, 0), 1 / 3))
    assert drawing.cuts.length[0] == pytest.approx(120 * ellipe(8 / 9), rel=1e-9)
    assert drawing.cuts.closed.tolist() == [True]
    assert drawing.cuts.smooth.sum() >= len(drawing.cuts.bulges) - 1


def test_an_ellipse_of_ratio_one_is_a_circle(tmp_path: Path) -> None:
    drawing = read_made(tmp_path, lambda m: m.add_ellipse((5, 4), (0, 12), 1.0))
    assert len(drawing.cuts.bulges) == 2
    assert drawing.cuts.radii == pytest.approx(12)


def test_half_an_ellipse_closed_by_a_line(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_ellipse((0, 0), (30, 0), 0.5, 0, np.pi)
        space.add_line((-30, 0), (30, 0))

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True]
    assert drawing.cuts.length[0] == pytest.approx(60 + 60 * ellipe(0.75), rel=1e-9)
    assert (~drawing.cuts.smooth).sum() == 2  # the two corners only
    assert drawing.cuts.area[0] == pytest.approx(np.pi * 30 * 15 / 2, rel=1e-4)


def test_splines_closed_open_straight_and_through_points(tmp_path: Path) -> None:
    k = 0.5522847498  # a cubic quarter circle, common practice

    def draw(space: Any) -> None:
        for turn in range(4):
            quarter = np.array([[10, 0], [10, 10 * k], [10 * k, 10], [0, 10]])
            a = turn * np.pi / 2
            matrix = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
            space.add_open_spline([(*p, 0) for p in (quarter @ matrix + 50).tolist()], degree=3)
        for a, b in (((0, 0), (30, 0)), ((30, 0), (15, 25)), ((15, 25), (0, 0))):
            xs, ys = np.linspace(a[0], b[0], 4), np.linspace(a[1], b[1], 4)
            space.add_open_spline([(x, y, 0) for x, y in zip(xs, ys, strict=True)], degree=3)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True, True]
    triangle, circle = sorted(drawing.cuts.length)[1], sorted(drawing.cuts.length)[0]
    assert circle == pytest.approx(20 * np.pi, rel=3e-4)
    assert triangle == pytest.approx(30 + 2 * np.hypot(15, 25))
    round_one = int(np.argmin(drawing.cuts.length))
    assert drawing.cuts.smooth[drawing.cuts.segments_of(round_one)].all()


def test_a_spline_of_fit_points_only(tmp_path: Path) -> None:
    t = np.linspace(0, np.pi, 30)
    points = [(20 * np.cos(a), 20 * np.sin(a), 0) for a in t]
    drawing = read_made(tmp_path, lambda m: m.add_spline(points))
    assert drawing.cuts.length[0] == pytest.approx(20 * np.pi, rel=1e-3)


def test_mirrored_extrusion(tmp_path: Path) -> None:
    """Normal (0, 0, -1): x runs the other way and arcs turn the other way."""
    down = {"extrusion": (0, 0, -1)}

    def draw(space: Any) -> None:
        space.add_arc((-20, 10), 5, 0, 90, dxfattribs=down)
        space.add_lwpolyline([(-15, 10, 0), (0, 10, 0), (0, 15, 0), (-20, 15, 0)], format="xyb",
                             dxfattribs=down)  # fmt: skip
        space.add_circle((-100, 50), 8, dxfattribs=down)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True, True]
    assert drawing.cuts.box[1].tolist() == pytest.approx([92, 42, 108, 58])
    assert drawing.cuts.length[0] == pytest.approx(15 + 5 + 20 + 5 * np.pi / 2)


@pytest.mark.parametrize(
    "normal", [(0, 0.7, 0.7), (1, 0, 0), (0.01, 0, 1)], ids=["leaning", "upright", "a little"]
)
def test_leaning_entities_are_ignored_with_the_reason(
    tmp_path: Path, normal: tuple[float, float, float]
) -> None:
    def draw(space: Any) -> None:
        draw_plate(space)
        space.add_circle((60, 90), 6, dxfattribs={"extrusion": normal})

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    (((kind, reason), count),) = reasons(drawing).items()
    assert (kind, count) == ("CIRCLE", 1)
    assert "not flat" in reason


def test_a_drawing_at_one_height_is_flat_and_a_line_upwards_is_not(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        for a, b in (((0, 0), (30, 0)), ((30, 0), (30, 20)), ((30, 20), (0, 0))):
            space.add_line((*a, 25.4), (*b, 25.4))
        space.add_line((5, 5, 0), (5, 5, 25.4))

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.closed.tolist() == [True]
    assert list(reasons(drawing)) == [("LINE", "not flat: it does not lie in the drawing plane")]


def test_everything_else_is_ignored_with_a_reason(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        draw_plate(space)
        space.add_text("t=8 S355", height=5).set_placement((20, 90))
        space.add_mtext("4x", dxfattribs={"insert": (50, 90), "char_height": 4})
        space.add_point((100, 60))
        space.add_solid([(0, 0), (1, 0), (0, 1)])
        space.add_hatch().paths.add_polyline_path([(0, 0), (5, 0), (5, 5)], is_closed=True)
        space.add_linear_dim(base=(0, -10), p1=(0, 0), p2=(200, 0)).render()
        space.add_xline((0, 0), (1, 0))
        space.add_leader([(0, 0), (5, 5)])
        space.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    ignored = {row.type: row.reason for row in drawing.account.ignored}
    assert set(ignored) == {
        "TEXT", "MTEXT", "POINT", "SOLID", "HATCH", "DIMENSION", "XLINE", "LEADER", "3DFACE",
    }  # fmt: skip
    assert all(ignored.values())
    assert drawing.account.total == drawing.account.used + 9 == 22
    words = {text.text: text.kind for text in drawing.texts}
    assert words == {"t=8 S355": "text", "4x": "text", "200": "dimension"}


def test_unknown_types_are_named(tmp_path: Path) -> None:
    foreign = [(0, "FOOBAR"), (8, "PROFILE"), (10, 1.0), (20, 2.0)]
    drawing = read_tags(tmp_path, [*square(0, 0, 50), foreign])
    (row,) = drawing.account.ignored
    assert (row.type, row.layer, row.count) == ("FOOBAR", "PROFILE", 1)


@pytest.mark.parametrize(
    ("tags", "reason"),
    [
        (circle_tags(5, 5, 3)[:-1], "radius (group 40)"),
        (line_tags((0, 0), (9, 9))[:-1], "end y (group 21)"),
        (circle_tags(5, 5, 0.0), "radius is not positive"),
        (circle_tags(5, 5, -4.0), "radius is not positive"),
        (circle_tags(5, 5, math.nan), "not finite"),
        (circle_tags(5, 5, 1e15), "out of range"),
        (line_tags((0, 0), (math.inf, 9)), "not finite"),
        (line_tags((0, 0), (1e300, 9)), "out of range"),
        (line_tags((5, 5), (5, 5)), "zero length"),
    ],
)
def test_broken_numbers_are_ignored_with_the_reason(
    tmp_path: Path, tags: list[tuple[int, Any]], reason: str
) -> None:
    drawing = read_tags(tmp_path, [*square(0, 0, 50), tags])
    assert drawing.cuts.length.tolist() == pytest.approx([200.0])
    (row,) = drawing.account.ignored
    assert reason in row.reason
    assert drawing.account.total == 5


def test_arc_angles_outside_the_circle(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_arc((0, 0), 10, -90, 0)
        space.add_arc((0, 0), 10, 720, 810)
        space.add_arc((0, 0), 10, 90, 270)
        space.add_arc((50, 0), 7, 0, 360)
        space.add_arc((90, 0), 7, 30, 30)

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.tolist() == pytest.approx([20 * np.pi, 14 * np.pi])
    assert reasons(drawing) == {("ARC", "zero length"): 1}


def test_repeated_points_of_a_polyline_are_told(tmp_path: Path) -> None:
    points = [(0, 0, 0.7), (0, 0, 0), (40, 0, 0), (40, 30, 0.7), (40, 30, 0), (0, 0, 0)]
    drawing = read_made(tmp_path, lambda m: m.add_lwpolyline(points, format="xyb", close=True))
    assert drawing.cuts.length.tolist() == pytest.approx([120.0])
    assert fact(drawing, "zero-length").count == 3


def test_invisible_entities_are_ignored(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        draw_plate(space)
        space.add_circle((60, 90), 6, dxfattribs={"invisible": 1})

    drawing = read_made(tmp_path, draw)
    assert drawing.cuts.length.sum() == pytest.approx(PLATE_LENGTH)
    assert reasons(drawing) == {("CIRCLE", "invisible: flagged so in the drawing"): 1}


def test_an_empty_model_space_is_a_result_that_says_so(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        paper = space.doc.layout("Layout1")
        paper.add_circle((5, 5), 3)
        paper.add_line((0, 0), (9, 0))

    drawing = read_made(tmp_path, draw)
    assert len(drawing.cuts) == 0
    assert drawing.account.total == 0
    assert "2 entities lie in paper space" in fact(drawing, "nothing-to-cut").message


def test_far_from_the_origin(tmp_path: Path) -> None:
    """A plate at site coordinates in the kilometres measures the same."""
    drawing = read_tags(tmp_path, [*square(568_053_449.0, 5_774_347_227.0, 200.0),
                                   circle_tags(568_053_500.0, 5_774_347_300.0, 9.0)])  # fmt: skip
    assert drawing.cuts.length.tolist() == pytest.approx([800.0, 18 * np.pi], rel=1e-9)
    assert drawing.cuts.area.tolist() == pytest.approx([40_000.0, 81 * np.pi], rel=1e-7)


def test_a_drawing_larger_than_any_sheet_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DrawingError, match="coordinate_mm"):
        read_tags(tmp_path, [*square(0, 0, 50), line_tags((0.0, 0.0), (9e9, 0.0))])
