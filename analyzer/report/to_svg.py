"""The answer as one SVG file: parts true to scale, marks, burr along the edges, order of cuts.

Arcs stay arcs.  Nothing is loaded from elsewhere and there is no script; fonts are those of the
reader.  All sizes are pixels of a picture 1000 wide.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from analyzer.comparison import Answer
from analyzer.reasons import spoken
from analyzer.report.line_ends import broken
from analyzer.report.marks import drawing_marks, pictures_of
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS, OUTLINE
from analyzer.report.to_html_element import el, together
from analyzer.report.to_svg_figure import figures_of, spots_on
from analyzer.report.to_svg_marks import shape_of, size_of, small_shapes
from analyzer.report.to_svg_pictures import EDGE, WIDE, Block, pictures_in
from analyzer.report.verdict import verdict_words
from analyzer.report.view import Line, view_of
from analyzer.units import counted

EDGE_WORDS = ("no burr", "wipes off", "brush or belt", "grinder")
FONT = "system-ui, 'Liberation Sans', 'DejaVu Sans', sans-serif"


def answer_svg(answer: Answer, *, gas: str | None = None) -> str:
    """Return the picture of one drawing under one gas.

    Parameters
    ----------
    answer : Answer
        What is known and advised.
    gas : str, optional
        Gas to show; the advised one, else the first.
    """
    analysis = answer.analysis
    read = gas or answer.advice.gas or (analysis.gases[0].gas if analysis.gases else None)
    gases = pictures_of(answer)
    shown_gas = next((one for one in gases if one.gas == read), None)
    best = analysis.under(read) if read else None
    marks = shown_gas.marks if shown_gas else drawing_marks(answer)
    figures, left = figures_of(analysis, [marks])
    spots = spots_on(marks, figures)
    view = view_of(answer, gas=read)
    told = f"{view.title}: {verdict_words(analysis, answer.advice)}"
    head = [view.job, view.minutes, f"Shown in {spoken(read)}." if read else ""]
    levels = {mark.number: mark.level for mark in marks}
    blocks = [
        *words_of(told, size=18, weight=700),
        *(block for words in head for block in words_of(words)),
        key_of(best.edge_m if best else ()),
        *pictures_in(figures, spots, shown_gas, gases),
        *(words_of(f"{counted(left, 'part')} more without a picture.") if left else ()),
        *(found_line(line, levels) for line in (*view.change, *view.expect, *view.repaired)),
    ]
    return file_of(view.title, blocks)


def file_of(title: str, blocks: Iterable[Block]) -> str:
    """Return blocks one below the other as a whole file."""
    made, down = [], EDGE
    for block in blocks:
        made.append(el("g", block.markup, transform=f"translate({EDGE:g} {down:.1f})"))
        down += block.height
    height = down + EDGE
    whole = el(
        "svg", el("title", title), small_shapes(),
        el("rect", width=WIDE, height=f"{height:.0f}", fill="#FFFFFF"), *made,
        xmlns="http://www.w3.org/2000/svg", width=f"{WIDE:g}", height=f"{height:.0f}",
        viewBox=f"0 0 {WIDE:g} {height:.0f}", font_family=FONT, font_size="14",
    )  # fmt: skip
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{whole}\n'


# --- words -------------------------------------------------------------------------------


def words_of(words: str, *, size: int = 14, weight: int = 400, indent: float = 0.0) -> list[Block]:
    """Return words broken into lines; widths are guessed by the number of letters."""
    broad = 0.64 if weight > 400 else 0.55  # of a letter, against the size
    letters = int((WIDE - 2.0 * EDGE - indent) / (broad * size))
    step = 1.4 * size
    return [
        Block(el("text", line, x=indent, y=size, font_size=size, font_weight=weight), step)
        for line in broken(words, letters)
    ]  # fmt: skip


def found_line(line: Line, levels: Mapping[int, str]) -> Block:
    """Return one kind of finding: its marks, what it is, what to do."""
    shapes, across, tall = [], 0.0, 0.0
    for number in line.marks[:4]:
        level = levels.get(number, line.level)
        wide, high = size_of(level, number)
        shapes.append(shape_of(level, number, across + wide, 20.0))
        across, tall = across + 2.0 * wide + 6.0, max(tall, 2.0 * high)
    if len(line.marks) > 4:
        shapes.append(el("text", f"+{len(line.marks) - 4}", x=across, y=25.0))
    rows = [*words_of(f"{line.level.upper()}: {line.what}", indent=200.0),
            *words_of(line.remedy, weight=600, indent=200.0)]  # fmt: skip
    made, down = [], 4.0
    for row in rows:
        made.append(el("g", row.markup, transform=f"translate(0 {down:.1f})"))
        down += row.height
    return Block(together(*shapes, *made), max(down, tall) + 10.0)


def key_of(edge_m: Sequence[float] = ()) -> Block:
    """Return the key to marks, and to the edges by their metres of every class."""
    shapes = [("note", "look once"), ("rework", "hand work"), ("loss", "scrap to expect")]
    made, across = [], 0.0
    for level, words in shapes:
        made.append(el("use", href=f"#s-{level}", x=across + 7.0, y=15.0))
        made.append(el("text", words, x=across + 20.0, y=20.0))
        across += 36.0 + 7.5 * len(words)
    for burr, metres in enumerate(edge_m):
        if metres < 0.005:
            continue
        words = f"{EDGE_WORDS[burr]} {metres:.2f} m"
        if burr:
            made.append(el("path", d=f"M{across:g} 15h28", stroke=BURR_COLOURS[burr],
                           stroke_width=BURR_WIDTHS[burr] + 1.0))  # fmt: skip
        made.append(el("path", d=f"M{across:g} 15h28", stroke=OUTLINE))
        made.append(el("text", words, x=across + 34.0, y=20.0))
        across += 50.0 + 7.5 * len(words)
    return Block(together(*made), 34.0)
