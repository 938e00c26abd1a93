"""No line ends between a number and its unit, on any page of any sample."""

import re
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_tree import read_page
from shared import SAMPLES

from analyzer.comparison import Answer, check
from analyzer.job import Job
from analyzer.report.line_ends import HARD, broken, unbroken
from analyzer.report.to_html import answer_html
from analyzer.report.to_png_words import wrapped
from analyzer.report.to_svg import answer_svg
from analyzer.report.to_text import check_page, compare_page

# SI Brochure, 9th edition, 5.4.3: the number always precedes the unit and a space separates the
# two; ISO 80000-1, 7.1.4: a line break there is to be avoided (from memory).
UNITS = (
    "mm", "m", "s", "min", "h", "kg", "g", "K", "%", "bar", "kW", "kWh", "Nm3", "Nm3/h", "m/min",
    "mm/s", "m/s2", "m/s3", "EUR", "degrees", "mm2",
)  # fmt: skip
_UNITS = "|".join(map(re.escape, UNITS))
TORN = re.compile(rf"\d\n *(?:{_UNITS})(?![\w/])|\bclass\n *\d")
LOOSE = re.compile(rf"\d (?:{_UNITS})(?![\w/])|\bclass \d")
NAMES = sorted(path.stem for path in SAMPLES.glob("*.dxf"))


@cache
def answer_of(name: str) -> Answer:
    return check(Path(SAMPLES) / f"{name}.dxf", Job("mild-steel", 8.0, 10.0))


@pytest.mark.parametrize("name", NAMES)
def test_text_keeps_numbers_with_their_units(name: str) -> None:
    answer = answer_of(name)
    for text in (check_page(answer, why=True), compare_page(answer, why=True)):
        assert HARD not in text  # terminals and files get ordinary blanks
        assert max(map(len, text.splitlines())) <= 80
        assert not TORN.findall(text)


@pytest.mark.parametrize("name", NAMES[::4])
def test_pages_leave_no_blank_where_a_line_could_end(name: str) -> None:
    pages = (answer_html("compare", answer_of(name), why=True), answer_svg(answer_of(name)))
    for page in pages:
        tree = page[page.index("<body") :] if "<body" in page else page
        bare = re.sub(r"<style.*?</style>|<[^>]*>", "\n", tree, flags=re.DOTALL)
        assert HARD in bare
        assert not LOOSE.findall(bare)


def test_lines_of_pictures_on_paper() -> None:
    words = "A hole of 15 mm takes 2.5 s at 2.5 bar, burr class 2 on 200 x 100 mm of it"
    for width in (0.5, 0.7, 0.9, 1.3, 2.0):
        lines = wrapped(words, 8.0, width, 30)
        assert " ".join(lines) == words
        assert not TORN.findall("\n".join(lines))


@given(
    st.lists(st.sampled_from(["a", "hole", "15", "2.5", *UNITS, "x", "class", "in"]), max_size=40),
    st.integers(24, 80),
)
def test_breaking_loses_nothing_and_keeps_the_width(words: list[str], columns: int) -> None:
    text = " ".join(words)
    lines = broken(text, columns)
    assert unbroken(text).replace(HARD, " ") == text
    held = max(map(len, unbroken(text).split(" ")), default=0)
    if held <= columns:  # else one chain of numbers is longer than a line
        assert " ".join(lines) == text
        for above, below in pairwise(lines):
            last, first = above.split()[-1], below.split()[0]
            assert not (last[-1].isdigit() and first in UNITS), (above, below)
    assert all(len(line) <= columns for line in lines)


def test_a_page_is_read_with_its_blanks() -> None:
    """Whoever reads a page by program sees blanks as blanks."""
    body = read_page(answer_html("check", answer_of("gusset"))).text
    assert "8 mm" in " ".join(body.split())
