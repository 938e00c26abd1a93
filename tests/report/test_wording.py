"""Names that are too long for their line: one way to shorten them, none mistaken for another."""

import re
from functools import cache
from pathlib import Path
from shutil import copy
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_tree import read_page
from shared import SAMPLES

from analyzer.orders import Given
from analyzer.report.to_html_sheet import sheet_html
from analyzer.report.to_sheet import sheet_page
from analyzer.report.to_svg_sheet import sheet_svg
from analyzer.report.wording import short_forms
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.sheeting import Sheeting

LONG = "footbridge_over_the_mill_stream_north_abutment_{}_hand_splice_plate_revision_b.dxf"
NAMES = [LONG.format(hand) for hand in ("left", "right")]


@cache
def sheeting() -> Sheeting:
    """Return a sheet of two drawings whose names differ in their middles only."""
    with TemporaryDirectory() as folder:
        for name, sample in zip(NAMES, ("cleat", "gusset"), strict=True):
            copy(SAMPLES / f"{sample}.dxf", Path(folder) / name)
        path = Path(folder) / "order.csv"
        lines = ["drawing,quantity", *(f"{name},2" for name in NAMES)]
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        options = SheetOptions(effort_s=0.0, what_if=False)
        return plan_sheets(path, Given("mild-steel", 10.0, 10.0), None, options)


@given(
    st.lists(st.text("ab_", max_size=60), min_size=1, max_size=30, unique=True), st.integers(12, 40)
)
def test_short_forms_fit_and_differ(names: list[str], room: int) -> None:
    short = short_forms(names, room)
    assert list(short) == names
    assert all(len(told) <= room for told in short.values())
    assert all(told == name for name, told in short.items() if len(name) <= room)
    longer = [told for name, told in short.items() if len(name) > room]
    assert len(set(longer)) == len(longer)
    assert all("..." in told for told in longer)


def test_every_name_stands_whole_on_the_text_page_and_is_cut_one_way_in_its_table() -> None:
    text = sheet_page(sheeting())
    run_on = "".join(text.split())
    assert all(name in run_on for name in NAMES)
    cut = {word for word in re.findall(r"\S*\.\.\S*", text) if "foot" in word}
    assert len(cut) == 2  # one form for each
    assert not [word for word in cut if "..." not in word]
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("made", [sheet_html, sheet_svg])
def test_pages_and_pictures_never_shorten_names(made: object) -> None:
    """There lines are broken, by the browser or by us."""
    page = made(sheeting())  # type: ignore[operator]
    words = (
        "".join(read_page(page[page.index("<svg") :]).text.split())
        if made is sheet_svg
        else (read_page(page).text)
    )
    assert all(name in words for name in NAMES)
    assert not re.findall(r"foot\w*\.\.", page)
