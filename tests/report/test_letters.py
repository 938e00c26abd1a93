"""Letters of parts on a sheet: in metal, and never touched by a mark, its line or its place."""

import re
import xml.etree.ElementTree as Tree
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.figure import Figure
from numpy.typing import NDArray
from page_tree import read_page
from shapely.geometry import LineString, Point, Polygon, box
from small_sheets import small_sheets

from analyzer.geometry.contours import Contours
from analyzer.report.letters import seats
from analyzer.report.palette import FIRST_PIERCE, LAST_PIERCE, LEVEL_SHAPES, contrast
from analyzer.report.to_html_sheet import sheet_html
from analyzer.report.to_png import sheet_pages
from analyzer.report.to_png_marks import MARKERS, SPAN
from analyzer.report.to_png_words import TALL, WIDE
from analyzer.report.to_svg_marks import size_of
from analyzer.report.to_svg_sheet import letter_half, sheet_svg
from analyzer.sheeting import Sheeting

SVG = "{http://www.w3.org/2000/svg}"
ROWS = (("gusset.dxf", 4), ("cleat.dxf", 20), ("post_foot.dxf", 3), ("washer_plate.dxf", 4))


@cache
def sheeting() -> Sheeting:
    """Return small sheets on which many parts tip: marks everywhere."""
    return small_sheets(ROWS)


def middles_apart(letters: NDArray[np.float64], other: Polygon | LineString) -> bool:
    """Whether no letter, rows of least x, least y, greatest x, greatest y, touches a shape."""
    return not any(box(*letter).intersects(other) for letter in letters)


@pytest.mark.parametrize("which", [0, 1])
def test_on_paper_no_letter_touches_a_mark(which: int) -> None:
    """Letters as they are drawn, not as they were planned."""
    figure = Figure(figsize=(WIDE, TALL))
    page = sheet_pages(sheeting())[which]
    page.draw(figure)
    figure.canvas.draw()  # type: ignore[attr-defined]
    axes = next(one for one in figure.axes if one.get_gid() == "main")
    points = 72.0 / figure.dpi
    letters = np.array(
        [t.get_window_extent().extents for t in axes.texts if t.get_gid() == "letter"]
    )
    letters *= points
    assert len(letters) >= 0.8 * len(page.sheet.layout.placements)
    to_paper = axes.transData
    seen = 0
    for drawn in axes.collections:
        name = drawn.get_gid() or ""
        if name.startswith(("mark-", "places-")) or name in ("first-pierce", "last-pierce"):
            half = np.sqrt(drawn.get_sizes()[0]) / 2.0  # type: ignore[attr-defined]
            half *= np.sqrt(2.0) if len(drawn.get_paths()[0]) == 5 and "mark" in name else 1.0
            for x, y in to_paper.transform(drawn.get_offsets()) * points:
                seen += 1
                assert middles_apart(letters, Point(x, y).buffer(half)), name
        if name == "leaders":
            for line in drawn.get_paths():
                ends = to_paper.transform(line.vertices) * points
                assert middles_apart(letters, LineString(ends))
    assert seen > 4


def test_letters_of_a_picture_touch_no_mark() -> None:
    """In the SVG file: boxes of letters against shapes of marks and their lines."""
    words = sheet_svg(sheeting())
    root, seen = Tree.fromstring(words), 0
    for panel in root.iter(f"{SVG}g"):
        texts = [t for t in panel.findall(f"{SVG}text") if t.get("class") == "letter"]
        if not texts:
            continue
        at = np.array([(float(t.get("x") or 0), float(t.get("y") or 0) - 6.0) for t in texts])
        half = np.array([letter_half(t.text or "") for t in texts])
        letters = np.hstack((at - half, at + half))
        for mark in panel.findall(f"{SVG}g"):
            number = next(iter(mark.iter(f"{SVG}text")), None)
            if number is None or not (mark.get("class") or "").startswith("mark-"):
                continue
            x, y = float(number.get("x") or 0), float(number.get("y") or 0) - 5.0
            wide, tall = size_of("rework", int(number.text or 0))
            assert "REWORK" in words
            diamond = Polygon([(x - wide, y), (x, y - tall), (x + wide, y), (x, y + tall)])
            assert middles_apart(letters, diamond)
            seen += 1
        for line in panel.findall(f"{SVG}path"):
            ends = re.fullmatch(r"M(\S+) (\S+)l(\S+) (\S+)", line.get("d") or "")
            if ends:
                x, y, dx, dy = map(float, ends.groups())
                assert middles_apart(letters, LineString([(x, y), (x + dx, y + dy)]))
    assert seen > 4


def test_letters_of_the_page_are_no_marks() -> None:
    """Sloping, of another face, and nothing in a box or ring; the same on page and picture."""
    page = read_page(sheet_html(sheeting()))
    letters = page.all("text", class_="letter")
    assert {text.text for text in letters} <= set("ABCD")
    assert len(letters) > 10
    svg = Tree.fromstring(sheet_svg(sheeting()))
    own = [t for t in svg.iter(f"{SVG}text") if t.get("class") == "letter"]
    assert {t.get("font-style") for t in own} == {"italic"}


def test_first_and_last_pierce_are_no_marks_and_tell_apart_without_colour() -> None:
    signs = (FIRST_PIERCE, LAST_PIERCE)
    assert not {marker for marker, _ in signs} & {MARKERS[s] for s in LEVEL_SHAPES.values()}
    assert set(SPAN) == set(MARKERS)
    assert FIRST_PIERCE[0] != LAST_PIERCE[0]
    assert contrast(FIRST_PIERCE[1], LAST_PIERCE[1]) > 7.0


@settings(max_examples=40, deadline=None)
@given(st.integers(3, 9), st.floats(0.2, 0.9), st.integers(0, 99))
def test_seats_lie_in_metal(corners: int, hole: float, seed: int) -> None:
    """Against shapely: inside the outline, outside the cut-out, clearances those to the lines."""
    angle = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    reach = np.random.default_rng(seed).uniform(60.0, 100.0, corners)
    outline = np.column_stack((np.cos(angle), np.sin(angle))) * reach[:, None]
    inner = hole * outline[::-1]
    part = Contours.join(
        [Contours.from_points(outline.tolist()), Contours.from_points(inner.tolist())]
    )
    places, clear = seats(part)
    metal = Polygon(outline, [inner])
    step = 200.0 / 160.0
    for place, own in zip(places, clear.tolist(), strict=True):
        if len(places) > 1:
            assert metal.buffer(1e-6).contains(Point(place))
        assert own == pytest.approx(metal.boundary.distance(Point(place)), abs=step)
