"""The answer as a page of text: check at most 100 columns wide, compare 80."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from analyzer.comparison import Answer
from analyzer.report.rows import PART_COLUMNS, Row
from analyzer.report.view import Line, View, view_of

WIDTH, COMPARE_WIDTH = 100, 80
LEVEL_WORDS = {"loss": "LOSS", "rework": "REWORK", "note": "NOTE"}
INDENT = 2


def check_page(answer: Answer, *, why: bool = False) -> str:
    """Return the page of `burrcast check`."""
    view = view_of(answer, why=why)
    blocks = [
        _head(view),
        _verdict(view),
        _change(view),
        section("Expect", finding_lines(view.expect) + wrapped(view.hand_work, INDENT)),
        _gases(view),
        section("Parts", table(PART_COLUMNS, view.part_rows) + bullets(view.part_notes)),
        _drawing(view),
        section("Not checked", bullets(view.not_checked)),
        section("Assumptions", bullets(view.assumptions)),
        section("Take care", bullets(view.cautions)),
        section("Why these numbers", why_lines(view.why)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def compare_page(answer: Answer, *, why: bool = False) -> str:
    """Return the page of `burrcast compare`: the gases side by side, and the advice."""
    view, wide = view_of(answer, why=why, full=True), COMPARE_WIDTH
    blocks = [
        _head(view, wide),
        _verdict(view, wide),
        _gases(view, wide),
        section("Otherwise", wrapped(view.otherwise, INDENT, width=wide)),
        section("Not checked", bullets(view.not_checked, wide)),
        section("Take care", bullets(view.cautions, wide)),
        section("Why these numbers", why_lines(view.why, wide)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


# --- blocks ------------------------------------------------------------------------------


def _head(view: View, width: int = WIDTH) -> list[str]:
    lines = wrapped(view.title, width=width)
    for words in (view.job, view.summary):
        lines += wrapped(words, INDENT, width=width)
    return lines


def _verdict(view: View, width: int = WIDTH) -> list[str]:
    lines = wrapped(view.verdict, width=width)
    for words in (view.minutes, view.money, *view.reasons):
        lines += wrapped(words, INDENT, width=width)
    return lines


def _change(view: View) -> list[str]:
    if not view.change:
        return ["Nothing to change."] if view.nothing_to_change else []
    title = "Nothing to change. Look once" if view.nothing_to_change else "Change before cutting"
    return section(title, finding_lines(view.change))


def _gases(view: View, width: int = WIDTH) -> list[str]:
    if not view.gas_rows:
        return section("Gases", bullets(view.gas_notes, width))
    lines = table(("", *view.gases), view.gas_rows)
    return section("Gases, all parts", lines + bullets(view.gas_notes, width))


def _drawing(view: View) -> list[str]:
    return section("The drawing", [
        *bullets((view.account, *view.ignored)), *bullets(view.facts),
    ])  # fmt: skip


# --- pieces ------------------------------------------------------------------------------


def section(title: str, lines: Sequence[str]) -> list[str]:
    """Return a block with its title; nothing where there are no lines."""
    return [title, *lines] if lines else []


def wrapped(
    text: str, indent: int = 0, hanging: int | None = None, width: int = WIDTH
) -> list[str]:
    """Break `text` into lines of at most `width` columns; none for no text."""
    first = " " * indent
    return textwrap.wrap(
        text,
        width,
        initial_indent=first,
        subsequent_indent=" " * (hanging or indent),
        break_on_hyphens=False,
    )


def bullets(items: Iterable[str], width: int = WIDTH) -> list[str]:
    """Return one indented paragraph an item."""
    return [line for item in items for line in wrapped(item, INDENT, INDENT + 2, width)]


def finding_lines(lines: Iterable[Line]) -> list[str]:
    """One finding a paragraph: marks, level, what; then what to do."""
    out = []
    for line in lines:
        marks = ",".join(map(str, line.marks[:2])) + (".." if len(line.marks) > 2 else "")
        head = f"{marks:>7}  {LEVEL_WORDS[line.level]:<7} "
        out += wrapped(head + line.what, 0, len(head))
        if line.remedy:
            out += wrapped("> " + line.remedy, len(head), len(head) + 2)
    return out


def table(head: Sequence[str], rows: Sequence[Row]) -> list[str]:
    """First column left, the others right; empty columns at the end without a head stay left."""
    if not rows:
        return []
    every = [tuple(head), *((row.label, *row.cells) for row in rows)]
    columns = max(map(len, every))
    widths = [max(len(r[c]) for r in every if c < len(r)) for c in range(columns)]
    out = []
    for cells in every:
        words = [
            cell.ljust(widths[c]) if c == 0 or c >= len(head) else cell.rjust(widths[c])
            for c, cell in enumerate(cells)
        ]
        out.append((" " * INDENT + "  ".join(words)).rstrip())
    return out


def why_lines(rows: Iterable[Row], width: int = WIDTH) -> list[str]:
    """Return every headline number with how it was made."""
    out = []
    for row in rows:
        value, how, whose = row.cells
        out += wrapped(f"{row.label:<12} {value:<14} = {how}; {whose}", INDENT, INDENT + 15, width)
    return out
