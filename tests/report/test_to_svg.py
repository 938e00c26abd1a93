"""The picture as SVG: arcs are arcs and in their place, marks are the findings, sizes are true."""

import io
import re
import time
import xml.etree.ElementTree as Tree
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shared import SAMPLES
from svg_path import points_along

from analyzer.comparison import Answer, check
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.parts.part import Part
from analyzer.report.marks import pictures_of
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS, MARKED
from analyzer.report.to_json import check_object
from analyzer.report.to_svg import answer_svg
from analyzer.report.to_svg_figure import figure_of_part, figures_of, scale_of
from analyzer.report.to_svg_marks import Placed, Room, Spot, place_marks, room_of, size_of
from analyzer.report.to_svg_paths import Frame, box_of, path_of, paths_of
from analyzer.report.to_svg_pictures import EDGE, GAP, LEAST_BARS, WIDE, columns_for

SVG = "{http://www.w3.org/2000/svg}"
JOB = Job("mild-steel", 10.0, 10.0, next_step="powder")


@cache
def gusset() -> Answer:
    return check(SAMPLES / "gusset.dxf", JOB)


@cache
def drawn(gas: str) -> Tree.Element:
    return Tree.fromstring(answer_svg(gusset(), gas=gas))


def back(data: str, frame: Frame) -> list[NDArray[np.float64]]:
    """Return the points of a path in millimetres of the drawing."""
    return [
        np.column_stack((frame.x + p[:, 0] * frame.unit, frame.y - p[:, 1] * frame.unit))
        for p in points_along(data)
    ]


@pytest.mark.parametrize("name", ["gusset", "deck_plate", "splice_plate"])
def test_numbers_of_the_order_do_not_lie_on_one_another(name: str) -> None:
    """14 px high, a bold digit at most 0.7 of that wide (DejaVu Sans Bold: 1425 of 2048)."""
    answer = gusset() if name == "gusset" else check(SAMPLES / f"{name}.dxf", JOB)
    root = Tree.fromstring(answer_svg(answer))
    panels = [p for p in root.iter(f"{SVG}g") if any(e.get("class") == "turn" for e in p)]
    assert len(panels) == len(answer.analysis.parts.parts)
    for one, part in zip(panels, answer.analysis.parts.parts, strict=True):
        turns = [e for e in one if e.get("class") == "turn"]
        numbers = [int(e.text or "") for e in turns]
        assert {1, part.pierces} <= set(numbers)
        middle = np.array([(float(e.get("x", "")), float(e.get("y", "")) - 5.0) for e in turns])
        half = np.array([(4.9 * len(str(number)), 6.0) for number in numbers])
        apart = np.abs(middle[:, None] - middle) - half[:, None] - half
        assert (apart.max(axis=2)[np.triu_indices(len(turns), 1)] > 0.0).all()
    words = "".join(text or "" for text in root.itertext())
    assert ("first, last and every" in words) == (name == "deck_plate")


# --- paths -------------------------------------------------------------------------------

numbers = st.floats(-500.0, 500.0, allow_nan=False)
bulges = st.one_of(st.just(0.0), st.sampled_from([1.0, -1.0, 0.414213562373095]),
                   st.floats(-6.0, 6.0, allow_nan=False).map(lambda b: round(b, 6)))  # fmt: skip
corners = st.lists(st.tuples(numbers, numbers, bulges), min_size=2, max_size=8)


@settings(max_examples=150, deadline=None)
@given(corners, st.booleans())
def test_a_path_runs_along_its_contour(rows: list[tuple[float, float, float]], shut: bool) -> None:
    """Read back by the SVG standard, no point is further off than three units."""
    values = np.array(rows)
    steps = np.diff(values[:, :2], axis=0, append=values[:1, :2])
    if (np.hypot(steps[:, 0], steps[:, 1]) < 1.0).any():
        return
    contours = Contours.from_points(values[:, :2], values[:, 2], closed=shut)
    frame = Frame.around(contours.box[0], 1.0)
    (points,) = back(path_of(contours, frame), frame)
    line = shapely.LineString(np.vstack((
        contours.flattened(1e-4).starts, contours.flattened(1e-4).ends[-1:],
    )))  # fmt: skip
    off = shapely.distance(line, shapely.points(points)).max()
    assert off <= 3.0 * frame.unit + 1e-4
    ahead = shapely.LineString(points)
    ends = shapely.points(np.vstack((contours.starts, contours.ends)))
    assert shapely.distance(ahead, ends).max() <= frame.unit
    assert ahead.length == pytest.approx(contours.length[0], rel=0.02)  # the right way round


def test_the_test_of_paths_can_fail() -> None:
    """The arc of the other side, or a large arc for a small one, is found out."""
    contours = Contours.from_points([[0, 0], [100, 0]], [0.3, 0.0], closed=False)
    frame = Frame.around(contours.box[0], 1.0)
    data = path_of(contours, frame)
    (right,) = back(data, frame)
    flipped = data.replace(" 0 0 0 ", " 0 0 1 ")
    assert flipped != data
    (wrong,) = back(flipped, frame)
    assert abs(right[8, 1] - wrong[8, 1]) > 20.0


def test_a_circle_is_two_arcs() -> None:
    circle = Contours.circle(30.0, 40.0, 25.0)
    frame = Frame.around(circle.box[0])
    data = path_of(circle, frame)
    assert data.count("a") == 2
    assert "l" not in data
    (points,) = back(data, frame)
    assert np.hypot(points[:, 0] - 30.0, points[:, 1] - 40.0) == pytest.approx(25.0, abs=2e-3)


def test_every_contour_has_a_path_of_its_own() -> None:
    three = Contours.join([Contours.circle(k * 50.0, 0.0, 10.0) for k in range(3)])
    frame = Frame.around(box_of(three))
    assert len(paths_of(three, frame)) == 3
    assert path_of(Contours.empty(), frame) == ""


# --- the picture -------------------------------------------------------------------------


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen", "mixed", "air"])
def test_marks_are_the_findings_of_the_json(gas: str) -> None:
    told = next(g for g in check_object(gusset())["gases"] if g["gas"] == gas)
    marks = [g for g in drawn(gas).iter(f"{SVG}g") if (g.get("class") or "").startswith("mark-")]
    assert {int((m.get("class") or "")[5:]) for m in marks} == {
        f["mark"] for f in told["findings"] if f["places"]
    }
    shapes = len(marks) + len([
        u for u in drawn(gas).iter(f"{SVG}use") if u.get("href") in ("#s-note", "#s-rework")
    ])  # fmt: skip
    assert shapes >= sum(len(f["places"]) for f in told["findings"])


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen", "mixed"])
def test_edges_are_as_long_as_the_forecast(gas: str) -> None:
    """The paths of every burr class, read back and scaled, are the metres of the JSON."""
    told = next(g for g in check_object(gusset())["gases"] if g["gas"] == gas)
    unit = figure_of_part(gusset().analysis.parts.parts[0], "").frame.unit
    for burr in (1, 2, 3):
        paths = [p for p in drawn(gas).iter(f"{SVG}path") if p.get("class") == f"burr-{burr}"]
        length = sum(
            np.hypot(*np.diff(points, axis=0).T).sum() * unit / 1000.0
            for path in paths
            for points in points_along(path.get("d") or "", 64)
        )
        assert length == pytest.approx(told["edge_m_by_burr_class"][burr], rel=2e-3, abs=1e-4)
        for path in paths:
            assert path.get("stroke") == BURR_COLOURS[burr]
    widest = [
        max(
            float(p.get("stroke-width") or 0)
            for p in drawn(gas).iter(f"{SVG}path")
            if p.get("class") == f"burr-{burr}"
        )
        for burr in (1, 2, 3)
        if told["edge_m_by_burr_class"][burr] > 0.0
    ]
    assert widest == sorted(widest)
    assert list(BURR_WIDTHS) == sorted(BURR_WIDTHS)


def test_the_scale_bar_is_true() -> None:
    """50 mm on the bar are 50 mm on the part: the gusset is 280 mm wide (its own drawing)."""
    root = drawn("nitrogen")
    part = gusset().analysis.parts.parts[0]
    assert part.width == pytest.approx(280.0, abs=1e-6)
    scale = next(
        float(re.findall(r"scale\(([\d.e-]+)\)", g.get("transform") or "")[0])
        for g in root.iter(f"{SVG}g")
        if "scale(" in (g.get("transform") or "")
    )
    outline = next(p for p in root.iter(f"{SVG}path") if (p.get("fill") or "") == "#E3E3E3")
    xs = np.vstack(points_along(outline.get("d") or ""))[:, 0] * scale
    bar = next(r for r in root.iter(f"{SVG}rect") if r.get("height") == "5")
    assert "50\u00a0mm" in [t.text for t in root.iter(f"{SVG}text")]
    assert float(bar.get("width") or 0) == pytest.approx((xs.max() - xs.min()) * 50 / 280, rel=1e-3)


@pytest.mark.parametrize("width", [0.31, 3.0, 18.0, 310.0, 2999.0, 12_000.0])
def test_a_scale_bar_fits(width: float) -> None:
    length, _ = scale_of(width)
    assert width / 7.6 <= length <= width / 3.0 * 1.001


def test_the_order_of_cuts() -> None:
    """The broken line visits every pierce of the plan, in its order."""
    part = next(p for p in pictures_of(gusset()) if p.gas == "nitrogen").parts[0]
    frame = figure_of_part(part.part, "").frame
    way = next(
        p for p in drawn("nitrogen").iter(f"{SVG}path")
        if p.get("stroke-dasharray") and (p.get("stroke") or "") == "#4477AA"
    )  # fmt: skip
    (points,) = back(way.get("d") or "", frame)
    assert points == pytest.approx(part.pierces[part.order], abs=frame.unit)


def test_nothing_from_elsewhere() -> None:
    words = answer_svg(gusset())
    assert "<script" not in words
    assert "url(" not in words
    hrefs = [e.get("href") for e in Tree.fromstring(words).iter() if e.get("href")]
    assert all((href or "").startswith("#") for href in hrefs)
    assert words == answer_svg(check(SAMPLES / "gusset.dxf", JOB))


# --- marks beside each other -------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.floats(0, 600), st.floats(0, 400), st.sampled_from(["note", "rework", "loss"]),
            st.integers(1, 140),
        ),
        min_size=1, max_size=60,
    )
)  # fmt: skip
def test_numbers_cover_no_other_number(rows: list[tuple[float, float, str, int]]) -> None:
    """Nor are they cut off, on a screen and on paper half as wide: up to 60 at random."""
    spots = [Spot(x, y, level, number, "", False) for x, y, level, number in rows]
    rooms = [plain_room(620.0), plain_room(310.0)]
    placed = place_marks(spots, rooms)
    assert [p.spot for p in placed] == list(range(len(spots)))
    for room in rooms:
        check_apart(spots, placed, room)


def test_sixty_marks_that_must_be_shown_are() -> None:
    """All in one corner of the picture, where every direction but inwards is cut off."""
    rng = np.random.default_rng(2)
    levels = ["note", "rework", "loss"]
    spots = [
        Spot(*rng.uniform(0.0, 40.0, 2), levels[n % 3], n, "", True) for n in range(1, 61)
    ]  # fmt: skip
    room = plain_room(620.0)
    placed = place_marks(spots, [room])
    assert all(p.dx is not None for p in placed)
    check_apart(spots, placed, room)


def test_marks_keep_off_small_holes() -> None:
    """Sixteen holes of 12 px, each with a number: none covers a hole."""
    holes = Contours.join([
        Contours.circle(60.0 + 150.0 * (k % 4), 50.0 + 100.0 * (k // 4), 6.0) for k in range(16)
    ])  # fmt: skip
    frame = Frame.around(np.array([0.0, 0.0, 600.0, 400.0]))
    room = room_of(frame, 600.0, (0.0, 0.0, 0.0, 0.0), Contours.empty(), holes)
    middles = (holes.box[:, :2] + holes.box[:, 2:]) / 2.0
    spots = [Spot(x - 6.0, y, "rework", n, "", True) for n, (x, y) in enumerate(middles, 1)]
    for put, spot in zip(place_marks(spots, [room]), spots, strict=True):
        assert put.dx is not None
        assert put.dy is not None
        at = np.array([spot.x + put.dx, spot.y - put.dy])
        wide, tall = size_of(spot.level, spot.number)
        off = np.maximum(np.abs(middles - at) - (wide, tall), 0.0)
        assert np.hypot(*off.T).min() >= 6.0 - 2.0  # within a grid cell


def plain_room(seen: float) -> Room:
    frame = Frame.around(np.array([0.0, 0.0, 600.0, 400.0]))
    nothing = Contours.empty()
    return room_of(frame, seen, (10.0, 10.0, 10.0, 10.0), nothing, nothing)


def check_apart(spots: list[Spot], placed: list[Placed], room: Room) -> None:
    """No box of a number on another, all within the room."""
    boxes = []
    for one in placed:
        spot = spots[one.spot]
        if one.dx is None or one.dy is None:
            continue
        ((x, y),) = room.at(np.array([[spot.x, spot.y]])).tolist()
        boxes.append((x + one.dx, y + one.dy, *size_of(spot.level, spot.number)))
    box = room.sight(np.zeros((0, 2))).box
    for k, (x, y, wide, tall) in enumerate(boxes):
        assert box[0] - 0.1 <= x - wide
        assert x + wide <= box[2] + 0.1
        assert box[1] - 0.1 <= y - tall
        assert y + tall <= box[3] + 0.1
        for other_x, other_y, other_wide, other_tall in boxes[:k]:
            apart_x = abs(x - other_x) - wide - other_wide
            apart_y = abs(y - other_y) - tall - other_tall
            assert max(apart_x, apart_y) > -0.2


# --- speed -------------------------------------------------------------------------------


def many_holes(count: int) -> Part:
    rng = np.random.default_rng(1)
    side = int(np.ceil(count**0.5))
    holes = [
        Contours.circle(10 + k % side * 20, 10 + k // side * 20, rng.uniform(2, 8)).reversed()
        for k in range(count - 1)
    ]
    reach = side * 20.0 + 10.0
    outline = Contours.from_points([[0, 0], [reach, 0], [reach, reach], [0, reach]])
    nothing = Contours.empty()
    contours = Contours.join([outline, *holes])
    return Part("P1", 1, None, contours, nothing, nothing, (), (), (), (), ())


@pytest.mark.slow
def test_ten_thousand_contours_against_a_line_collection() -> None:
    """Ours takes at most 0.15 of matplotlib's SVG of the same lines (LineCollection, savefig)."""
    import matplotlib

    matplotlib.use("svg")
    from matplotlib import pyplot
    from matplotlib.collections import LineCollection

    part = many_holes(10_000)

    def ours() -> None:
        str(figure_of_part(part, "").drawn(1.0))

    flat = part.contours.flattened(0.05)
    rows = [
        np.vstack((flat.starts[a:b], flat.ends[b - 1 : b]))
        for a, b in zip(flat.offsets[:-1], flat.offsets[1:], strict=True)
    ]

    def theirs() -> None:
        figure, axes = pyplot.subplots()
        axes.add_collection(LineCollection(rows))
        axes.autoscale()
        figure.savefig(io.BytesIO(), format="svg")
        pyplot.close(figure)

    def best(work: object, times: int) -> float:
        took = []
        for _ in range(times):
            start = time.perf_counter()
            work()  # type: ignore[operator]
            took.append(time.perf_counter() - start)
        return min(took)

    best(ours, 1), best(theirs, 1)
    assert best(ours, 5) <= 0.15 * best(theirs, 3)


def test_all_pictures_of_a_part_share_its_contours() -> None:
    """They stand in the file once; burr bands and the rest are drawn on them by reference."""
    root = drawn("oxygen")
    own = [p.get("d") or "" for p in root.iter(f"{SVG}path")]
    long = [d for d in own if d.count("z") == len(gusset().analysis.parts.parts[0].contours)]
    assert len(long) == 1
    (shared,) = {p.get("id") for p in root.iter(f"{SVG}path") if p.get("d") == long[0]}
    uses = [u for u in root.iter(f"{SVG}use") if u.get("href") == f"#{shared}"]
    pictures = sum(r.get("height") == "5" for r in root.iter(f"{SVG}rect"))
    assert len(uses) == 2 * pictures >= 6  # metal below, line on top


def test_dots_of_warm_pierces_are_no_larger_than_their_distance(tmp_path: Path) -> None:
    """A plate of many holes does not drown in them."""
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 200), (0, 200)], close=True)
    for k in range(400):
        space.add_circle((5 + 10 * (k % 20), 5 + 10 * (k // 20)), 2.5)
    document.saveas(tmp_path / "sieve.dxf")
    answer = check(tmp_path / "sieve.dxf", Job("mild-steel", 5.0, 6.0))
    part = next(g for g in pictures_of(answer) if g.gas == "oxygen").parts[0]
    root = Tree.fromstring(answer_svg(answer, gas="oxygen"))
    dots = [e for e in root.iter(f"{SVG}circle") if e.get("class") == "warm"]
    assert len(dots) == len(part.pierces) == 401
    at = np.array([(float(e.get("cx") or 0), float(e.get("cy") or 0)) for e in dots])
    size = (at.max(axis=0) - at.min(axis=0)).prod()
    assert max(float(e.get("r") or 0) for e in dots) <= 1.2 * np.sqrt(size / len(dots))


def test_a_mark_beside_a_lone_part_widens_its_picture() -> None:
    """The note beside the plate lies on the plate's own picture; no second picture is needed."""
    answer = check(SAMPLES / "rough_plate.dxf", Job("stainless", 4.0, 6.0))
    marks = [one.marks for one in pictures_of(answer)]
    figures, _ = figures_of(answer.analysis, marks)
    assert [figure.id for figure in figures] == ["P1"]
    frame, places = figures[0].frame, np.vstack([mark.places for row in marks for mark in row])
    part = answer.analysis.parts.parts[0].contours.box
    assert (places[:, 1] < part[:, 1].min()).any(), "nothing lies beside the part"
    shares = np.array([frame.share(x, y) for x, y in places.tolist()])
    assert ((shares >= 0.0) & (shares <= 1.0)).all()


@pytest.mark.parametrize("gas", ["oxygen", "nitrogen"])
def test_speed_heat_and_time_split_are_in_the_file(gas: str) -> None:
    """Lengths by class of speed are those of the runs; warm dots the pierces; bars the seconds."""
    (one,) = (p for p in pictures_of(gusset()) if p.gas == gas)
    part, root = one.parts[0], drawn(gas)
    frame = figure_of_part(part.part, "").frame
    metres = part.speed_runs.metres
    assert metres[1:].sum() > 0.01
    for slow in (1, 2, 3):
        paths = [
            p.get("d") or "" for p in root.iter(f"{SVG}path") if p.get("class") == f"speed-{slow}"
        ]
        lines = [line for d in paths for line in back(d, frame)]
        length = sum(np.hypot(*np.diff(line, axis=0).T).sum() for line in lines)
        assert length / 1000.0 == pytest.approx(metres[slow], rel=0.01, abs=0.002)
    rises = part.pierce_rises
    warm = [e for e in root.iter(f"{SVG}circle") if e.get("class") == "warm"]
    assert len(warm) == (len(part.pierces) if rises is not None and rises.max() >= MARKED else 0)
    widths = {
        own.gas: sum(float(e.get("width") or 0) for e in root.iter(f"{SVG}rect")
                     if (e.get("class") or "").startswith(f"time-{own.gas} "))
        for own in pictures_of(gusset())
    }  # fmt: skip
    scale = widths[gas] / one.total
    for own in pictures_of(gusset()):
        assert widths[own.gas] == pytest.approx(own.total * scale, abs=0.1)


def picture_rows(root: Tree.Element) -> list[list[str]]:
    """Return the last line of words of every picture (and of the split), row by row."""
    rows = []
    for block in root.findall(f"{SVG}g"):
        cells = [g for g in block.findall(f"{SVG}g") if "translate(" in (g.get("transform") or "")]
        if any(r.get("height") == "5" for cell in cells for r in cell.iter(f"{SVG}rect")):
            words = [[t.text or "" for t in cell.iter(f"{SVG}text")] for cell in cells]
            rows.append([own[0] if "Time" in own[0] else own[-1] for own in words])
    return rows


def test_two_parts_have_every_picture_side_by_side() -> None:
    """A third picture, of the whole drawing, takes none of theirs away, nor leaves a cell empty."""
    answer = check(SAMPLES / "bracing_plate.dxf", Job("mild-steel", 8.0, 8.0))
    rows = picture_rows(Tree.fromstring(answer_svg(answer)))
    assert [[words.partition(":")[0].partition(",")[0] for words in row] for row in rows] == [
        ["P1", "P2"], ["P1", "P2"], ["P1", "P2"], ["The whole drawing", "Time split"],
    ]  # fmt: skip
    assert all("order of cuts" in words for words in rows[1])
    assert all("local speed" in words for words in rows[2])


@pytest.mark.parametrize("count", range(1, 49))
def test_rows_of_pictures_leave_no_room_empty(count: int) -> None:
    """What the last row leaves free is wide enough for the split of the time, or nothing."""
    columns = columns_for(count)
    free = -count % columns
    room = (WIDE - 2.0 * EDGE - (columns - 1) * GAP) / columns
    if count % 12 not in (11, 5) or count == 5:  # neither 3 nor 4 divide these: one is free
        assert free == 0 or free * (room + GAP) - GAP >= LEAST_BARS
    else:
        assert (columns, free) in {(4, 1), (4, 3)}
