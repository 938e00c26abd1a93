"""Sheets as page and as picture: every copy where it lies, every number that of the JSON."""

import re
import xml.etree.ElementTree as Tree
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import ezdxf
import numpy as np
import pytest
from page_tree import read_page
from shared import SAMPLES
from svg_path import points_along

from analyzer.orders import Given
from analyzer.report.to_html_sheet import sheet_html
from analyzer.report.to_sheet_json import sheet_object
from analyzer.report.to_svg_sheet import letter_of, sheet_figure, sheet_svg
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.sheeting import Sheeting
from analyzer.units import span

SVG = "{http://www.w3.org/2000/svg}"
LIST = """drawing,quantity,material,thickness_mm,next
gusset.dxf,3,mild-steel,10,paint
cleat.dxf,4,mild-steel,10,paint
name_plate.dxf,2,stainless,3,visible
missing.dxf,2,stainless,3,visible
"""


@cache
def drawn() -> Sheeting:
    """Return a sheet with six plates in three turns, close to its edge, and four discs."""
    drawing = ezdxf.new()
    drawing.units = 4
    space = drawing.modelspace()
    edge = [(0, 0), (2500, 0), (2500, 1000), (0, 1000)]
    space.add_lwpolyline(edge, close=True, dxfattribs={"layer": "SHEET"})
    corners = np.array([(0, 0), (160, 0), (160, 40), (60, 40), (60, 110), (0, 110)], dtype=float)
    for k in range(6):
        angle = np.radians((0.0, 90.0, 37.0)[k % 3])
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        at = np.array([140.0 + 400.0 * k, 60.0])
        space.add_lwpolyline((corners @ turn.T + at).tolist(), close=True)
        x, y = (np.array([30.0, 80.0]) @ turn.T + at).tolist()
        space.add_circle((x, y), 9)
    for k in range(4):
        space.add_circle((3.0 + 40.0 + 120.0 * k, 500.0), 40)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "laid <b>out&amp;.dxf"
        drawing.saveas(path)
        given = Given(material="mild-steel", thickness_mm=6.0, power_kw=10.0)
        return plan_sheets(path, given, options=SheetOptions(what_if=False))


@cache
def listed() -> Sheeting:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "order.csv"
        rows = re.sub(r"^(\w+\.dxf)", lambda m: str(SAMPLES / m[1]), LIST, flags=re.M)
        path.write_text(rows, encoding="utf-8")
        options = SheetOptions(effort_s=0.2, what_if=False)
        return plan_sheets(path, Given(power_kw=10.0), options=options)


@pytest.mark.parametrize("made", [drawn, listed])
def test_markup_and_links(made: object) -> None:
    tree = read_page(sheet_html(made()))  # type: ignore[operator]
    ids = [node.attributes["id"] for node in tree.walk() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    for node in tree.walk():
        if "href" in node.attributes:
            assert (node.attributes["href"] or "")[1:] in ids
    marks = {m.attributes["id"]: m for m in tree.all("a", class_="mark") if "id" in m.attributes}
    badges = {b.attributes["id"]: b for b in tree.all("a", class_="badge")}
    assert {b.attributes["href"] for b in badges.values()} == {f"#{name}" for name in marks}
    for mark in marks.values():
        assert mark.shown_in() == badges[(mark.attributes["href"] or "")[1:]].shown_in()
    assert "laid <b>out&amp;.dxf" in tree.text or made is listed


@pytest.mark.parametrize("made", [drawn, listed])
def test_findings_are_those_of_the_json(made: object) -> None:
    """Every mark of every gas stands beside its finding, those with a place on a picture too."""
    sheeting = made()  # type: ignore[operator]
    tree = read_page(sheet_html(sheeting))
    several = len(sheeting.jobs) > 1
    for number, job in enumerate(sheeting.jobs, 1):
        told = sheet_object(job)
        prefix = f"j{number}-" if several else ""
        for gas in told["findings"]:
            key = f"{prefix}{gas['gas']}"
            rows = list(gas["findings"])
            for sheet in told["sheets"]:
                rows += next(g for g in sheet["gases"] if g["gas"] == gas["gas"])["findings"]
            badges = [
                int((b.attributes["id"] or "").rpartition("-")[2])
                for b in tree.all(class_="badge")
                if b.shown_in() == {key}
            ]
            assert sorted(badges) == sorted({f["mark"] for f in rows})
            placed = {f["mark"] for f in rows if f["places"]}
            seen = {
                int(m.all("text")[0].text)
                for m in tree.all("a", class_="mark")
                if m.shown_in() == {key}
            }
            assert seen == placed


@pytest.mark.parametrize("made", [drawn, listed])
def test_times_of_sheets_are_those_of_the_json(made: object) -> None:
    sheeting = made()  # type: ignore[operator]
    tree = read_page(sheet_html(sheeting))
    for number, job in enumerate(sheeting.jobs, 1):
        prefix = f"j{number}-" if len(sheeting.jobs) > 1 else ""
        told = sheet_object(job)
        buttons = tree.all("input", name=f"{prefix}gas")
        assert [b.attributes["value"] for b in buttons] == [
            g["gas"] for g in told["totals"]["gases"]
        ]
        for button, gas in zip(buttons, told["totals"]["gases"], strict=True):
            assert button.parent is not None
            assert span(gas["time_s"]["total"]) in button.parent.text
        captions = tree.all("figure", class_="of-sheet")
        for sheet, figure in zip(told["sheets"], captions, strict=False):
            if number > 1:
                break
            for gas in sheet["gases"]:
                words = [
                    s.text for s in figure.all("span") if s.shown_in() == {f"{prefix}{gas['gas']}"}
                ]
                assert any(span(gas["time_s"]["total"]) in said for said in words)


def test_rows_that_could_not_be_used_are_named() -> None:
    text = read_page(sheet_html(listed())).text
    assert "Not used" in text
    assert "missing.dxf" in text


@pytest.mark.parametrize("mirrored", [False, True])
def test_every_copy_is_drawn_where_it_lies(mirrored: bool) -> None:
    """Definitions moved, turned and mirrored as SVG says, against the outlines of the layout."""
    sheet = drawn().jobs[0].sheets[0]
    if mirrored:
        over = tuple(replace(placed, mirrored=True) for placed in sheet.layout.placements)
        sheet = replace(sheet, layout=replace(sheet.layout, placements=over))
    assert len(sheet.layout.placements) == 10
    assert len({round(p.turn_deg) for p in sheet.layout.placements}) >= 3
    figure = sheet_figure(sheet, "s")
    root = Tree.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{figure.drawn(1.0)}</svg>')
    parts = {
        g.get("id"): np.vstack([
            p for path in g.iter(f"{SVG}path") if path.get("fill-rule")
            for p in points_along(path.get("d") or "", 64)[:1]
        ])
        for g in root.iter(f"{SVG}g")
        if (g.get("id") or "").startswith("s-")
    }  # fmt: skip
    uses = list(root.iter(f"{SVG}use"))
    assert len(uses) == len(sheet.layout.placements)
    outlines = sheet.layout.outlines()
    for k, use in enumerate(uses):
        points = placed_by(parts[(use.get("href") or "")[1:]], use.get("transform") or "")
        x = figure.frame.x + points[:, 0] * figure.frame.unit
        y = figure.frame.y - points[:, 1] * figure.frame.unit
        box = outlines.box[k]
        assert [x.min(), y.min(), x.max(), y.max()] == pytest.approx(box.tolist(), abs=0.1)


def placed_by(points: np.ndarray, words: str) -> np.ndarray:
    """Apply an SVG transform list: the last acts first (SVG 2, 8.5)."""
    for name, values in reversed(re.findall(r"(\w+)\(([^)]*)\)", words)):
        number = [float(v) for v in values.split()]
        if name == "scale":
            points = points * np.array(number)
        elif name == "rotate":
            a = np.radians(number[0])
            points = points @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        else:
            assert name == "translate"
            points = points + np.array(number)
    return points


def test_the_picture_of_sheets() -> None:
    words = sheet_svg(listed())
    root = Tree.fromstring(words)
    ids = {e.get("id") for e in root.iter() if e.get("id")}
    hrefs = [(e.get("href") or "")[1:] for e in root.iter() if e.get("href")]
    assert set(hrefs) <= ids
    texts = " ".join(t.text or "" for t in root.iter(f"{SVG}text"))
    for word in ("3 x gusset.dxf", "4 x cleat.dxf", "2 x name_plate.dxf", "Order of cuts"):
        assert word in texts.replace(f"{SAMPLES}/", "").replace("\u00a0", " ")
    assert "<script" not in words
    assert words == sheet_svg(listed())


def test_letters() -> None:
    assert [letter_of(k) for k in (0, 1, 25, 26, 27, 701, 702)] == [
        "A", "B", "Z", "AA", "AB", "ZZ", "AAA",
    ]  # fmt: skip


def test_what_all_jobs_assume_is_said_once() -> None:
    """The machine and the rates stand under the first job; the gas of each under its own."""
    page = read_page(sheet_html(listed()))
    blocks = page.all("article", class_="job")
    assert len(blocks) == 2
    machine = [block.text.count("cutting acceleration") for block in blocks]
    gases = len(listed().jobs[0].answer.analysis.gases)
    assert machine == [gases, 0]
    assert "The rest as under 1" in blocks[1].text
    assert "m/min (starter value" in blocks[1].text
    assert "The rest as under" not in read_page(sheet_html(drawn())).text
