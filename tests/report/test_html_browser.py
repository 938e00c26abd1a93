"""Pages in a real browser: nothing is fetched or complained of, switches switch, links lead."""

import re
import shutil
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from chromium import Tab, browser, needs_chromium
from shared import CORPUS, SAMPLES, needs_corpus

from analyzer.comparison import Answer, check
from analyzer.job import Job
from analyzer.orders import Given
from analyzer.report.marks import pictures_of
from analyzer.report.to_html import answer_html
from analyzer.report.to_html_sheet import sheet_html
from analyzer.report.to_json import check_object
from analyzer.request import Request
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.units import parse_length, parse_power, span

pytestmark = [pytest.mark.slow, needs_chromium]

JOBS = {
    "gusset": Job("mild-steel", 10.0, 10.0, next_step="powder"),
    "bracing_plate": Job("mild-steel", 12.0, 10.0),
    "deck_plate": Job("aluminium", 8.0, 10.0),
    "name_plate": Job("stainless", 3.0, 6.0, next_step="visible"),
    "rough_plate": Job("mild-steel", 4.7625, 6.0),
}
MOST_SHEETS_OF_PAPER = 2
every_sample = pytest.mark.parametrize("name", JOBS)
SEEN = "[...document.querySelectorAll('{}')].filter(e => e.getClientRects().length)"


@pytest.fixture(scope="module")
def tab() -> Iterator[Tab]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Answer]]:
    folder = tmp_path_factory.mktemp("pages")
    answers = {name: check(SAMPLES / f"{name}.dxf", job) for name, job in JOBS.items()}
    for name, answer in answers.items():
        (folder / f"{name}.html").write_text(answer_html("compare", answer), encoding="utf-8")
    (folder / "sheet.html").write_text(sheet_page(folder), encoding="utf-8")
    return folder, answers


def sheet_page(folder: Path) -> str:
    """Return the page of a drawn sheet with 400 copies of two parts."""
    drawing = ezdxf.new()
    drawing.units = 4
    space = drawing.modelspace()
    edge = [(0, 0), (3000, 0), (3000, 1500), (0, 1500)]
    space.add_lwpolyline(edge, close=True, dxfattribs={"layer": "SHEET"})
    for k in range(400):
        x, y = 20 + k // 20 * 148, 20 + k % 20 * 73
        if k % 3:
            corners = [(x, y), (x + 120, y), (x + 120, y + 60), (x, y + 60)]
            space.add_lwpolyline(corners, close=True)
        else:
            bowed = [(x, y, 0), (x + 120, y, 0), (x + 120, y + 30, 0.4), (x, y + 60, 0)]
            space.add_lwpolyline(bowed, format="xyb", close=True)
        space.add_circle((x + 30, y + 28), 6)
    path = folder / "sheet.dxf"
    drawing.saveas(path)
    given = Given(material="mild-steel", thickness_mm=6.0, power_kw=10.0)
    sheeting = plan_sheets(path, given, options=SheetOptions(what_if=False))
    assert len(sheeting.jobs[0].sheets[0].layout.placements) == 400
    return sheet_html(sheeting)


def opened(tab: Tab, path: Path, width: int = 1200) -> float:
    tab.said.clear()
    tab.asked.clear()
    return tab.open(path, width)


def choose(tab: Tab, gas: str) -> None:
    tab.run(f"document.getElementById('gas-{gas}').click()")


def marks_seen(tab: Tab) -> set[int]:
    found = tab.run(SEEN.format("a.mark") + ".map(e => +e.querySelector('text').textContent)")
    return set(found)


# --- nothing from elsewhere --------------------------------------------------------------


@pytest.mark.parametrize("name", [*JOBS, "sheet"])
def test_no_complaint_and_no_request(tab: Tab, pages: Any, name: str) -> None:
    path = pages[0] / f"{name}.html"
    opened(tab, path)
    assert tab.said == []
    assert tab.asked == [path.as_uri()]
    for gas in tab.run("[...document.querySelectorAll('input[value]')].map(e => e.value)"):
        if tab.run(f"document.getElementById('gas-{gas}') !== null"):
            choose(tab, gas)
    assert tab.said == []
    assert tab.asked == [path.as_uri()]


def test_the_policy_holds(tab: Tab, pages: Any, tmp_path: Path) -> None:
    """A script, a picture and a style smuggled into the page do nothing, and are complained of."""
    page = (pages[0] / "gusset.html").read_text(encoding="utf-8")
    smuggled = "<script>document.title = 'bad'</script><img src='http://127.0.0.1:9/x.png'>"
    bad = page.replace("<main>", f"<main>{smuggled}<p style='color: red' id='red'>x</p>")
    path = tmp_path / "bad.html"
    path.write_text(bad, encoding="utf-8")
    opened(tab, path)
    assert tab.run("document.title") == "gusset.dxf, burrcast"
    assert tab.run("getComputedStyle(document.getElementById('red')).color") != "rgb(255, 0, 0)"
    assert len(tab.said) >= 3


# --- choosing a gas ----------------------------------------------------------------------


@every_sample
def test_every_gas_shows_its_own_marks_and_numbers(tab: Tab, pages: Any, name: str) -> None:
    folder, answers = pages
    told = check_object(answers[name])
    opened(tab, folder / f"{name}.html")
    assert (
        tab.run("document.querySelector('input[name=gas]:checked').value")
        == (told["advice"]["gas"])
    )
    for gas in told["gases"]:
        choose(tab, gas["gas"])
        assert marks_seen(tab) == {f["mark"] for f in gas["findings"] if f["places"]}
        badges = tab.run(SEEN.format(".badge") + ".map(e => e.id)")
        numbers = {f["mark"] for f in gas["findings"]}
        hidden = tab.run("document.querySelectorAll('.in details .badge').length")
        seen = {int(b.rpartition("-")[2]) for b in badges}
        assert seen <= numbers
        assert len(seen) >= len(numbers) - hidden
        assert all(b.startswith(f"finding-{gas['gas']}-") for b in badges)
        words = tab.run("document.querySelector('label:has(:checked)').innerText")
        assert span(gas["time_s"]["total"]) in words.replace("\u00a0", " ")
        chosen = tab.run(
            "[...document.querySelectorAll('.gas-table th[scope=col]')].filter(e =>"
            " getComputedStyle(e).backgroundColor != 'rgba(0, 0, 0, 0)').map(e => e.className)"
        )
        assert chosen == [f"of-{gas['gas']}"]
        edges = tab.run(SEEN.format("p.key") + ".map(e => e.innerText.replaceAll('\\u00a0', ' '))")
        assert len(edges) == 1
        metres = [float(x) for x in re.findall(r"([\d.]+) m(?= |$|[a-z\n])", edges[0])]
        assert metres == [round(m, 2) for m in gas["edge_m_by_burr_class"] if m >= 0.005]


def test_the_keyboard_is_enough(tab: Tab, pages: Any) -> None:
    """Tab reaches the gases, an arrow key chooses the next, Enter follows a link."""
    opened(tab, pages[0] / "gusset.html")
    for _ in range(10):
        tab.press("Tab")
        if tab.run("document.activeElement.name") == "gas":
            break
    assert tab.run("document.activeElement.value") == "mixed"
    before = marks_seen(tab)
    tab.press("ArrowRight")
    assert tab.run("document.querySelector('input[name=gas]:checked').value") == "air"
    assert marks_seen(tab) != before
    for _ in range(40):
        tab.press("Tab")
        if tab.run("document.activeElement.classList.contains('mark')"):
            break
    target = tab.run("document.activeElement.getAttribute('href')")
    assert target.startswith("#finding-air-")
    tab.press("Enter")
    assert tab.run("location.hash") == target


def test_the_order_of_cuts_can_be_shown(tab: Tab, pages: Any) -> None:
    opened(tab, pages[0] / "gusset.html")
    assert tab.run(SEEN.format(".turn") + ".length") == 0
    tab.run("document.getElementById('show-order').click()")
    numbers = tab.run(SEEN.format(".turn") + ".map(e => +e.textContent)")
    assert {1, 13} <= set(numbers) <= set(range(1, 14))  # as many as contours
    assert marks_seen(tab) == set()


@pytest.mark.parametrize("width", [320, 390, 700, 1280])
@pytest.mark.parametrize("name", ["deck_plate", "gusset", "bracing_plate", "sheet"])
def test_no_number_of_the_order_lies_on_another(
    tab: Tab, pages: Any, name: str, width: int
) -> None:
    opened(tab, pages[0] / f"{name}.html", width)
    tab.run("document.getElementById('show-order').click()")
    for rows in tab.run(
        SEEN.format(".pic") + ".map(p => [...p.querySelectorAll('.turn')].filter("
        "e => e.getClientRects().length).map(e => e.getBoundingClientRect().toJSON()))"
    ):
        assert len(rows) >= 2
        for k, one in enumerate(rows):
            for other in rows[:k]:
                apart = max(one["left"] - other["right"], other["left"] - one["right"])
                above = max(one["top"] - other["bottom"], other["top"] - one["bottom"])
                assert apart > -0.5 or above > -7.0  # a line of letters is taller than digits


def test_speed_and_heat_can_be_shown(tab: Tab, pages: Any) -> None:
    """Each alone, with its key; in oxygen heat is followed, in nitrogen the page says it is not."""
    folder, answers = pages
    opened(tab, folder / "gusset.html")
    for gas in ("oxygen", "nitrogen"):
        choose(tab, gas)
        part = next(g for g in pictures_of(answers["gusset"]) if g.gas == gas).parts[0]
        tab.run("document.getElementById('show-speed').click()")
        classes = tab.run(SEEN.format("g.speed path") + ".map(e => +e.className.baseVal.slice(-1))")
        assert set(classes) == set(part.speed_runs.burr_class.tolist()) - {0}
        assert marks_seen(tab) == set()
        assert tab.run(SEEN.format("p.speed") + ".length") == 1
        assert tab.run(SEEN.format(".found") + ".length") == 0
        tab.run("document.getElementById('show-warm').click()")
        rises = part.pierce_rises
        circles = 0 if rises is None else len(rises)
        assert tab.run(SEEN.format("g.warm circle") + ".length") == circles
        assert (circles == 0) == (
            "not followed" in tab.run(SEEN.format("p.warm") + "[0].innerText")
        )
        assert tab.run(SEEN.format("g.speed path") + ".length") == 0


def test_a_page_of_many_parts_has_a_list_that_leads_to_each(tab: Tab, tmp_path: Path) -> None:
    drawing = ezdxf.new()
    drawing.units = 4
    for k in range(30):
        x, y = k % 6 * 200, k // 6 * 200
        corners = [(x, y), (x + 100 + k, y), (x + 100 + k, y + 80), (x, y + 80)]
        drawing.modelspace().add_lwpolyline(corners, close=True)
        drawing.modelspace().add_circle((x + 50, y + 40), 4 + k / 4)
    drawing.saveas(tmp_path / "thirty.dxf")
    answer = check(tmp_path / "thirty.dxf", Job("mild-steel", 5.0, 6.0))
    path = tmp_path / "thirty.html"
    path.write_text(answer_html("check", answer), encoding="utf-8")
    opened(tab, path)
    assert tab.said == []
    links = tab.run("[...document.querySelectorAll('nav a')].map(e => e.getAttribute('href'))")
    assert len(links) >= 30
    for link in links[::7]:
        tab.run(f"document.querySelector('nav a[href=\"{link}\"]').click()")
        assert tab.run("document.querySelector(':target').id") == link[1:]
        tab.run("document.querySelector(':target figcaption a').click()")
        assert tab.run("document.querySelector(':target').id") == "parts"


# --- links -------------------------------------------------------------------------------


@every_sample
def test_links_lead_to_the_mark_and_back(tab: Tab, pages: Any, name: str) -> None:
    opened(tab, pages[0] / f"{name}.html", width=700)
    links = tab.run(SEEN.format("a.badge") + ".map(e => [e.id, e.getAttribute('href')])")
    for badge, href in links[:4]:
        for source, target in ((badge, href[1:]), (href[1:], badge)):
            click = "new MouseEvent('click', {bubbles: true, cancelable: true})"
            tab.run(f"document.getElementById('{source}').dispatchEvent({click})")
            assert tab.run("document.querySelector(':target').id") == target
            tab.run("new Promise(done => requestAnimationFrame(done))")
            box = tab.run(f"document.getElementById('{target}').getBoundingClientRect().toJSON()")
            assert -1 <= box["top"] <= 900
            assert 0 <= box["bottom"] <= 940


@pytest.mark.parametrize("width", [320, 700, 1200])
def test_marks_stand_on_their_place(tab: Tab, pages: Any, width: int) -> None:
    """However wide the window, the dot of a mark lies where the hole is drawn.

    The outline's box on the screen and the finding's place in the JSON say where.
    """
    folder, answers = pages
    told = check_object(answers["gusset"])
    opened(tab, folder / "gusset.html", width)
    choose(tab, "oxygen")
    part = answers["gusset"].analysis.parts.parts[0].contours.box[0]
    box = tab.run("document.querySelector('.line path').getBoundingClientRect().toJSON()")
    scale = (box["right"] - box["left"]) / (part[2] - part[0])
    assert (box["bottom"] - box["top"]) / (part[3] - part[1]) == pytest.approx(scale, rel=0.02)
    for finding in told["gases"][0]["findings"]:
        if not finding["places"]:
            continue
        dot = tab.run(
            f"(() => {{ const mark = document.getElementById('mark-oxygen-{finding['mark']}');"
            " const at = mark.parentNode;"
            " const same = e => ['x', 'y'].every(n => e.getAttribute(n) == at.getAttribute(n));"
            " const dots = [...at.parentNode.querySelectorAll('svg > circle')];"
            " return dots.find(e => same(e.parentNode)).getBoundingClientRect().toJSON(); })()"
        )
        x, y = (dot["left"] + dot["right"]) / 2, (dot["top"] + dot["bottom"]) / 2
        assert x == pytest.approx(box["left"] + (finding["x"] - part[0]) * scale, abs=2.0)
        assert y == pytest.approx(box["bottom"] - (finding["y"] - part[1]) * scale, abs=2.0)


@pytest.mark.parametrize("width", [480, 1200])
@every_sample
def test_no_mark_lies_on_another_or_outside(tab: Tab, pages: Any, name: str, width: int) -> None:
    """In every gas; corners of diamonds apart, whose boxes may meet. On the grey of the picture."""
    opened(tab, pages[0] / f"{name}.html", width)
    for gas in tab.run("[...document.querySelectorAll('input[name=gas]')].map(e => e.value)"):
        choose(tab, gas)
        sheets = tab.run(
            SEEN.format(".sheet") + ".map(s => [s.getBoundingClientRect().toJSON(),"
            " [...s.querySelectorAll('.mark .shape')].filter(e => e.getClientRects().length)"
            ".map(e => e.getBoundingClientRect().toJSON())])"
        )
        for around, marks in sheets:
            for k, one in enumerate(marks):
                assert around["left"] - 1 <= one["left"]
                assert one["right"] <= around["right"] + 1
                assert around["top"] - 1 <= one["top"]
                for other in marks[:k]:
                    apart = max(
                        one["left"] - other["right"], other["left"] - one["right"],
                        one["top"] - other["bottom"], other["top"] - one["bottom"],
                    )  # fmt: skip
                    assert apart > -4.0  # lines of two pixels, drawn half outside, both meet


# --- size, light, paper ------------------------------------------------------------------


@pytest.mark.parametrize("width", [320, 1200])
@pytest.mark.parametrize("name", [*JOBS, "sheet"])
def test_words_can_be_read_at_any_width(tab: Tab, pages: Any, name: str, width: int) -> None:
    """No text below 14 px, and no need to scroll sideways but within tables."""
    opened(tab, pages[0] / f"{name}.html", width)
    assert tab.run("document.scrollingElement.scrollWidth") <= width
    small = tab.run(
        "(() => { const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);"
        " const found = []; while (walk.nextNode()) { const e = walk.currentNode.parentElement;"
        " if (walk.currentNode.data.trim() && e.getClientRects().length &&"
        " parseFloat(getComputedStyle(e).fontSize) < 14) found.push(walk.currentNode.data); }"
        " return found; })()"
    )
    assert small == []


def test_light_and_dark(tab: Tab, pages: Any) -> None:
    grounds = {}
    for scheme in ("light", "dark"):
        tab.prefer(scheme)
        opened(tab, pages[0] / "gusset.html")
        colour = tab.run("getComputedStyle(document.body).backgroundColor")
        grounds[scheme] = sum(int(x) for x in re.findall(r"\d+", colour)[:3])
    tab.prefer("light")
    assert grounds["light"] > 600
    assert grounds["dark"] < 150


@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="no pdfinfo here (poppler-utils)")
@pytest.mark.parametrize("name", sorted(p.name.split(".")[0] for p in SAMPLES.glob("*.toml")))
def test_every_sample_is_printed_on_two_pages(tab: Tab, tmp_path: Path, name: str) -> None:
    """In every gas; the last page holds more than the cautions."""
    told = tomllib.loads((SAMPLES / f"{name}.expected.toml").read_text(encoding="utf-8"))["job"]
    answer = Request(
        material=told["material"], thickness_mm=parse_length(told["thickness"]),
        power_kw=parse_power(told["power"]), plate=told.get("plate"), next_step=told.get("next"),
    ).answer(SAMPLES / f"{name}.dxf")  # fmt: skip
    page, path = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(answer_html("check", answer), encoding="utf-8")
    opened(tab, page)
    for gas in answer.analysis.gases:
        choose(tab, gas.gas)
        path.write_bytes(tab.pdf())
        sizes = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
        count = re.findall(r"Pages: +(\d+)", sizes)[0]
        assert int(count) <= MOST_SHEETS_OF_PAPER
        last = subprocess.run(
            ["pdftotext", "-f", count, path, "-"], capture_output=True, text=True, check=True
        ).stdout
        assert not last.lstrip().startswith("Take care")


@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="no pdfinfo here (poppler-utils)")
@every_sample
def test_paper(tab: Tab, pages: Any, tmp_path: Path, name: str) -> None:
    """A4, few pages, the gas chosen and the cautions on them."""
    opened(tab, pages[0] / f"{name}.html")
    choose(tab, "nitrogen")
    path = tmp_path / "page.pdf"
    path.write_bytes(tab.pdf())
    told = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    width, height = map(float, re.findall(r"Page size: +([\d.]+) x ([\d.]+)", told)[0])
    assert width == pytest.approx(210 / 25.4 * 72, abs=1.0)
    assert height == pytest.approx(297 / 25.4 * 72, abs=1.0)
    assert int(re.findall(r"Pages: +(\d+)", told)[0]) <= MOST_SHEETS_OF_PAPER
    words = subprocess.run(
        ["pdftotext", path, "-"], capture_output=True, text=True, check=True
    ).stdout
    assert "in nitrogen" in words
    assert "Take care" in words
    assert "The gases in short" in words
    assert "Look at it in" not in words  # nothing to click on paper


@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="no pdfinfo here (poppler-utils)")
def test_a_part_list_is_printed_without_a_page_of_cautions_alone(tab: Tab, tmp_path: Path) -> None:
    given = Given(power_kw=10.0)
    sheeting = plan_sheets(
        SAMPLES / "footbridge_kit.csv", given, options=SheetOptions(what_if=False)
    )
    page, path = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(sheet_html(sheeting), encoding="utf-8")
    opened(tab, page)
    path.write_bytes(tab.pdf())
    words = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    (last,) = [p for p in words.stdout.split("\f") if "Take care" in p]
    assert not last.lstrip().startswith("Take care")


def test_a_sheet_of_400_copies_is_small_and_quick(tab: Tab, pages: Any) -> None:
    path = pages[0] / "sheet.html"
    assert path.stat().st_size < 3_000_000
    assert min(opened(tab, path) for _ in range(3)) < 2.0
    assert tab.run("document.querySelectorAll('.of-sheet use[transform]').length") == 400


@needs_corpus
def test_a_drawing_of_many_parts(tab: Tab, tmp_path: Path) -> None:
    answer = check(CORPUS / "m17rru__chassis.dxf", Job("stainless", 2.0, 6.0))
    path = tmp_path / "many.html"
    path.write_text(answer_html("check", answer), encoding="utf-8")
    opened(tab, path)
    assert tab.said == []
    assert tab.run("document.querySelectorAll('figure').length") >= len(answer.analysis.parts.parts)
    opened(tab, path, width=320)
    assert tab.run("document.scrollingElement.scrollWidth") <= 320


PRINTED = {  # drawings of more than three parts, and the pages of paper they may take
    "m17rru__chassis.dxf": 4, "crkbd__top-bottom.dxf": 2, "trimesh__ae.r12a.dxf": 2,
    "bb3__EEZ_BB3_chassis_module_panels.dxf": 3,
}  # fmt: skip


@needs_corpus
@pytest.mark.skipif(shutil.which("pdfinfo") is None, reason="no pdfinfo here (poppler-utils)")
@pytest.mark.parametrize("name", PRINTED)
def test_many_parts_fill_their_pages_on_paper(tab: Tab, tmp_path: Path, name: str) -> None:
    """Three in a row, nothing for the mouse; no page of cautions alone."""
    answer = check(CORPUS / name, Job("mild-steel", 3.0, 6.0))
    page, path = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(answer_html("check", answer), encoding="utf-8")
    opened(tab, page)
    path.write_bytes(tab.pdf())
    words = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    pages = words.stdout.split("\f")[:-1]
    assert len(pages) <= PRINTED[name]
    assert not pages[-1].lstrip().startswith("Take care")
    assert "List of parts" not in words.stdout
    told = " ".join(words.stdout.split())
    assert all(f"{part.id}, {part.width:.1f} x" in told for part in answer.analysis.parts.parts)
