"""The page: nothing from elsewhere, no link without an end, every number that of the JSON."""

import base64
import hashlib
import re
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from page_tree import Node, read_page
from shared import CORPUS, SAMPLES, needs_corpus

from analyzer.comparison import Answer, check
from analyzer.job import Job
from analyzer.report import palette
from analyzer.report.marks import pictures_of
from analyzer.report.to_html import answer_html
from analyzer.report.to_json import check_object
from analyzer.report.wording import TERM_LABELS
from analyzer.units import span

CSS = Path(__file__).parents[2] / "analyzer" / "report" / "page.css"
JOBS = {
    "gusset": Job("mild-steel", 10.0, 10.0, next_step="powder"),
    "bracing_plate": Job("mild-steel", 12.0, 10.0),
    "deck_plate": Job("aluminium", 8.0, 10.0),
    "name_plate": Job("stainless", 3.0, 6.0, next_step="visible"),
    "rough_plate": Job("mild-steel", 4.7625, 6.0),
}
REAL = {
    "m17rru__chassis.dxf": Job("stainless", 2.0, 6.0),  # 18 different parts
    "replimat__3mm_2x_01.04.10_Sieve.dxf": Job("mild-steel", 3.0, 6.0),
    "trimesh__cycloidal.dxf": Job("mild-steel", 6.0, 6.0),
}
every_sample = pytest.mark.parametrize("name", JOBS)
every_page = pytest.mark.parametrize(
    "name", [*JOBS, *(pytest.param(name, marks=needs_corpus) for name in REAL)]
)


@cache
def answer_of(name: str) -> Answer:
    if name in JOBS:
        return check(SAMPLES / f"{name}.dxf", JOBS[name])
    return check(CORPUS / name, REAL[name])


@cache
def json_of(name: str) -> dict[str, Any]:
    return check_object(answer_of(name))


@cache
def page_of(name: str) -> str:
    return answer_html("compare", answer_of(name))


@cache
def tree_of(name: str) -> Node:
    return read_page(page_of(name))


# --- nothing from elsewhere --------------------------------------------------------------


def check_nothing_from_elsewhere(page: str) -> None:
    """One file: no script, no address, one style that the policy names by its digest."""
    tree = read_page(page)
    assert not tree.all("script") + tree.all("link") + tree.all("iframe") + tree.all("img")
    for node in tree.walk():
        for name, value in node.attributes.items():
            assert not name.startswith("on"), f"{name} on <{node.name}>"
            assert name != "style"
            if (value or "").startswith("default-src"):
                continue  # the policy, looked at below: a digest may hold two slashes
            assert not re.search(r"(?i)(https?|data|javascript|file|ftp):|//", value or ""), value
            if name in ("href", "xlink:href"):
                assert (value or "").startswith("#")
    (style,) = tree.all("style")
    assert not re.search(r"(?i)url\(|@import|expression|http", style.text)
    digest = base64.b64encode(hashlib.sha256(style.text.encode()).digest()).decode()
    (policy,) = tree.all("meta", **{"http-equiv": "Content-Security-Policy"})
    said = (policy.attributes["content"] or "").split("; ")
    assert said == [
        "default-src 'none'", f"style-src 'sha256-{digest}'", "base-uri 'none'",
        "form-action 'none'",
    ]  # fmt: skip


@every_page
def test_nothing_from_elsewhere(name: str) -> None:
    check_nothing_from_elsewhere(page_of(name))


def test_the_check_for_things_from_elsewhere_can_fail() -> None:
    page = page_of("gusset").replace("<main>", '<main><p onclick="x()">')
    with pytest.raises(AssertionError):
        check_nothing_from_elsewhere(page)
    with pytest.raises(AssertionError):
        check_nothing_from_elsewhere(page_of("gusset").replace("--ink: #16181b", "--ink: #16181c"))


EVIL = "<img src=x onerror=alert(1)>&\"'</style><script>"


def test_names_from_a_drawing_are_words(tmp_path: Path) -> None:
    drawing = ezdxf.new()
    for number in range(9):  # many kinds of ignored things, so that the fold is used too
        drawing.modelspace().add_text(EVIL, dxfattribs={"layer": f"{number}LAYER"})
    drawing.modelspace().add_circle((0, 0), 40)
    path = tmp_path / (EVIL.replace("/", "-") + ".dxf")
    drawing.saveas(path)
    path.write_bytes(path.read_bytes().replace(b"LAYER", EVIL.encode()))  # as no library would
    page = answer_html("check", check(path, JOBS["gusset"]))
    check_nothing_from_elsewhere(page)
    tree = read_page(page)
    assert path.name in tree.text
    assert tree.text.count(EVIL) >= 9
    assert not tree.all("img")


# --- links -------------------------------------------------------------------------------


def check_links(tree: Node) -> None:
    """Every id is there once; every link leads to one; marks and findings lead to each other."""
    ids = [node.attributes["id"] for node in tree.walk() if "id" in node.attributes]
    assert len(ids) == len(set(ids))
    links = [node for node in tree.walk() if "href" in node.attributes]
    for link in links:
        assert (link.attributes["href"] or "")[1:] in ids, link.attributes
    marks = {m.attributes["id"]: m for m in tree.all("a", class_="mark") if "id" in m.attributes}
    badges = {b.attributes["id"]: b for b in tree.all("a", class_="badge")}
    there = {name: f"#{name}".replace("mark", "finding", 1) for name in marks}
    assert {name: m.attributes["href"] for name, m in marks.items()} == there
    back = {b.attributes["href"] for b in badges.values()}
    assert back == {f"#{name}" for name in marks}
    for name, mark in marks.items():
        other = badges[(mark.attributes["href"] or "")[1:]]
        assert mark.shown_in() == other.shown_in(), f"{name} and its finding differ in gas"


@every_page
def test_links_lead_to_marks_and_back(name: str) -> None:
    check_links(tree_of(name))


@every_page
def test_marks_of_every_gas_are_the_findings_of_the_json(name: str) -> None:
    tree, told = tree_of(name), json_of(name)
    for gas in told["gases"]:
        key = gas["gas"]
        placed = {f["mark"] for f in gas["findings"] if f["places"]}
        marks = [m for m in tree.all("a", class_="mark") if m.shown_in() == {key}]
        assert {int(m.all("text")[0].text) for m in marks} == placed
        badges = [
            int((b.attributes["id"] or "").rpartition("-")[2])
            for b in tree.all(class_="badge")
            if b.shown_in() == {key}
        ]
        assert sorted(badges) == sorted(f["mark"] for f in gas["findings"])
        level = {f["mark"]: f["level"] for f in gas["findings"]}
        for mark in marks:
            number = int(mark.all("text")[0].text)
            (shape,) = mark.all(class_="shape")
            assert shape.name == {"note": "circle", "rework": "path", "loss": "rect"}[level[number]]


@every_sample
def test_every_place_is_on_a_picture(name: str) -> None:
    """As many marks and small shapes in every gas as the JSON has places."""
    tree = tree_of(name)
    for gas in json_of(name)["gases"]:
        shapes = [
            node
            for layer in tree.all("g", class_=f"in-{gas['gas']}")
            for node in (*layer.all("a", class_="mark"), *layer.all("use"))
            if not (node.attributes.get("href") or "").startswith("#e-")  # lines used again
        ]
        assert len(shapes) == sum(len(f["places"]) for f in gas["findings"])


def test_a_mark_stands_where_the_finding_is() -> None:
    """The first rivet hole of the gusset, as shares of the part's box with its margin of 1 %."""
    answer = answer_of("gusset")
    (lost,) = [f for f in check_object(answer)["gases"][0]["findings"] if f["level"] == "loss"]
    box = answer.analysis.parts.parts[0].contours.box[0]
    margin = 0.01 * max(box[2] - box[0], box[3] - box[1])
    across = (lost["x"] - box[0] + margin) / (box[2] - box[0] + 2 * margin)
    down = (box[3] + margin - lost["y"]) / (box[3] - box[1] + 2 * margin)
    tree = tree_of("gusset")
    (mark,) = tree.all(id=f"mark-oxygen-{lost['mark']}")
    assert mark.parent is not None
    assert mark.parent.attributes["x"] == f"{100 * across:.2f}%"
    assert mark.parent.attributes["y"] == f"{100 * down:.2f}%"


# --- numbers -----------------------------------------------------------------------------


@every_page
def test_a_radio_button_for_every_gas(name: str) -> None:
    tree, told = tree_of(name), json_of(name)
    buttons = tree.all("input", name="gas")
    assert [b.attributes["value"] for b in buttons] == [g["gas"] for g in told["gases"]]
    checked = [b.attributes["value"] for b in buttons if "checked" in b.attributes]
    assert checked == [told["advice"]["gas"]]
    for button, gas in zip(buttons, told["gases"], strict=True):
        assert button.parent is not None
        assert button.parent.name == "label"
        assert span(gas["time_s"]["total"]) in button.parent.text
    (fieldset,) = [f for f in tree.all("fieldset") if f.all("input", name="gas")]
    assert fieldset.all("legend")[0].text


@every_page
def test_bars_are_the_time_split_of_the_json(name: str) -> None:
    tree, told = tree_of(name), json_of(name)
    terms = {label: term for term, label in TERM_LABELS.items()} | {"time": "total"}
    longest = max(gas["time_s"]["total"] for gas in told["gases"])
    (table,) = tree.all("table", class_="gas-table")
    seen = set()
    for row in table.all("tr"):
        bars = row.all("svg", class_="bar")
        if not bars:
            continue
        term = terms[row.all("th")[0].text]
        seen.add(term)
        for bar, gas in zip(bars, told["gases"], strict=True):
            seconds = gas["time_s"][term]
            assert float(bar.attributes["data-s"] or "") == pytest.approx(seconds, abs=1e-3)
            share = float((bar.all("rect")[0].attributes["width"] or "").rstrip("%"))
            assert share == pytest.approx(100.0 * seconds / longest, abs=0.01)
    needed = {t for g in told["gases"] for t, s in g["time_s"].items() if s > 0.0}
    assert seen == needed


@every_page
def test_the_key_to_edges_has_the_metres_of_the_json(name: str) -> None:
    tree, told = tree_of(name), json_of(name)
    for gas in told["gases"]:
        (key,) = [p for p in tree.all("p", class_="found") if p.shown_in() == {gas["gas"]}]
        metres = [float(x) for x in re.findall(r"([\d.]+) m(?= |$|[a-z])", key.text)]
        assert metres == [round(m, 2) for m in gas["edge_m_by_burr_class"] if m >= 0.005]


@every_page
def test_the_page_stays_small(name: str) -> None:
    assert len(page_of(name).encode()) < 600_000


@every_sample
def test_the_answer_comes_first(name: str) -> None:
    """Verdict, minutes, gases, findings or picture, table, cautions (practice.md 3)."""
    words = tree_of(name).all("body")[0].text
    order = ["Cut with", "Why:", "Look at it in", "The drawing", "Assumed", "Take care"]
    found = [words.index(word) for word in order]
    assert found == sorted(found)
    assert len(words[: found[0]]) < 400


def test_the_same_answer_gives_the_same_bytes() -> None:
    again = answer_html("compare", check(SAMPLES / "gusset.dxf", JOBS["gusset"]))
    assert again == page_of("gusset")


def test_why_can_start_open() -> None:
    closed = read_page(page_of("gusset")).all("details", id="why")[0]
    opened = read_page(answer_html("check", answer_of("gusset"), why=True))
    assert "open" not in closed.attributes
    assert "open" in opened.all("details", id="why")[0].attributes
    numbers = {n.name for n in answer_of("gusset").analysis.gases[0].numbers}
    shown = {r.all("th")[0].text for r in closed.all("tr") if r.shown_in() == {"oxygen"}}
    assert numbers <= shown


def test_a_drawing_without_a_part_is_a_page_too(tmp_path: Path) -> None:
    drawing = ezdxf.new()
    drawing.modelspace().add_line((0, 0), (100, 0))
    drawing.saveas(tmp_path / "line.dxf")
    page = answer_html("check", check(tmp_path / "line.dxf", JOBS["gusset"]))
    check_nothing_from_elsewhere(page)
    check_links(read_page(page))
    assert "No gas advised" in page


# on the pictures' own paper
PICTURE_COLOURS = {"#fff", "#000", "#555", "#004488", "#004a8f", "#16181b"}

# --- light, dark, paper ------------------------------------------------------------------


def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.1, https://www.w3.org/TR/WCAG21/#dfn-relative-luminance."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def ratio(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def schemes() -> list[dict[str, str]]:
    """Return the colours of the style: light, dark, paper, in the order of the file."""
    text = CSS.read_text(encoding="utf-8")
    lists = [
        dict(re.findall(r"--([a-z]+):\s*(#[0-9a-f]{6})", block))
        for block in re.findall(r":root\s*\{([^}]*)\}", text)
        if "--ground" in block
    ]
    assert len(lists) == 3
    return lists


@pytest.mark.parametrize("scheme", [0, 1, 2], ids=["light", "dark", "paper"])
def test_contrast(scheme: int) -> None:
    """WCAG 2.1 AA: 4.5 for text (1.4.3), 3 for parts of controls and pictures (1.4.11)."""
    colour = schemes()[scheme]
    for text, ground in [
        ("ink", "ground"), ("soft", "ground"), ("link", "ground"), ("ink", "chosen"),
        ("soft", "chosen"), ("ink", "band"),
    ]:  # fmt: skip
        assert ratio(colour[text], colour[ground]) >= 4.5, (text, ground)
    for line, ground in [("rule", "ground"), ("bar", "ground"), ("bar", "chosen")]:
        assert ratio(colour[line], colour[ground]) >= 3.0, (line, ground)
    assert ratio("#16181b", colour["paper"]) >= 4.5  # words on the picture's own paper


def test_contrast_in_pictures() -> None:
    grounds = (palette.METAL, palette.CUT_OUT, *(scheme["paper"] for scheme in schemes()))
    for level, fill in palette.LEVEL_FILLS.items():
        assert ratio(palette.LEVEL_NUMBERS[level], fill) >= 4.5
        for ground in grounds:
            assert ratio(palette.LEVEL_LINES[level], ground) >= 3.0
    for ground in grounds:
        assert ratio(palette.OUTLINE, ground) >= 3.0
    text = CSS.read_text(encoding="utf-8")
    for colour in re.findall(r"fill: (#[0-9a-fA-F]{3,6})", text):
        full = colour if len(colour) == 7 else "#" + "".join(2 * c for c in colour[1:])
        assert ratio(full, "#ffffff") >= 4.5


def test_no_colour_stands_outside_the_lists() -> None:
    """So that the contrast test sees all of them; black and white on pictures aside."""
    text = re.sub(r"/\*.*?\*/", "", CSS.read_text(encoding="utf-8"), flags=re.S)
    rest = re.sub(r":root\s*\{[^}]*\}", "", text)
    assert set(re.findall(r"#[0-9a-fA-F]{3,6}\b", rest)) <= PICTURE_COLOURS


def test_text_is_at_least_14_px() -> None:
    text = CSS.read_text(encoding="utf-8")
    screen = text[: text.index("@media print")]
    sizes = re.findall(r"font(?:-size)?:[^;]*?([\d.]+)(px|rem)", screen)
    assert len(sizes) > 10
    for value, unit in sizes:
        assert float(value) * (16 if unit == "rem" else 1) >= 14.0


# --- the cards of the gases --------------------------------------------------------------


@every_page
def test_a_card_agrees_with_the_findings(name: str) -> None:
    """The card says ok only where nothing is worse than a note; any loss is named."""
    tree, told = tree_of(name), json_of(name)
    for gas in told["gases"]:
        (button,) = tree.all(id=f"gas-{gas['gas']}")
        assert button.parent is not None
        words = button.parent.text
        states = [node.text for node in button.parent.all("strong")]
        levels = {f["level"] for f in gas["findings"]}
        assert (states == ["ok"]) == (levels <= {"note"}), words
        lost = [f["rule"].replace("-", " ") for f in gas["findings"] if f["level"] == "loss"]
        assert bool(lost) == bool({"mend first", "not advisable"} & set(states))
        assert not lost or any(rule in words for rule in lost)


# --- many holes --------------------------------------------------------------------------


def test_many_holes_are_written_once(tmp_path: Path) -> None:
    """A page of four gases holds the outline of every hole once, and stays small."""
    drawing = ezdxf.new()
    drawing.units = 4
    space = drawing.modelspace()
    side = 16
    reach = side * 15 + 10
    space.add_lwpolyline([(0, 0), (reach, 0), (reach, reach), (0, reach)], close=True)
    for k in range(side * side):
        space.add_circle((12 + 15 * (k % side), 12 + 15 * (k // side)), 4)
    path = tmp_path / "holes.dxf"
    drawing.saveas(path)
    answer = check(path, Job("mild-steel", 5.0, 6.0))
    page = answer_html("check", answer)
    arcs = sum(
        (p.attributes.get("d") or "").count("a")
        for p in read_page(page).all("path")
        if not (p.attributes.get("class") or "").startswith("speed-")
    )
    changing = sum(
        len(set(runs.burr_class[runs.row == row].tolist())) > 1
        for gas in pictures_of(answer)
        for runs in [gas.parts[0].runs]
        for row in range(len(runs.contours))
    )
    assert 2 * side * side <= arcs <= 2 * side * side + 8 * changing
    assert len(page) < 300_000


def test_no_line_ends_within_the_name_of_an_option() -> None:
    """A browser ends lines after hyphens: "--" on one and "units" on the next is no option."""
    answer = check(SAMPLES / "rough_plate.dxf", JOBS["gusset"])
    found = re.findall(r'<p class="do">(.*?)</p>', answer_html("check", answer))
    named = [words for words in found if "--units" in words]
    assert named
    assert all('<span class="word">--units</span>' in words for words in named)
