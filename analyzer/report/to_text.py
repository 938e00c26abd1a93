"""The answer as a page of text, at most 80 columns wide."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from analyzer.comparison import Answer
from analyzer.report.line_ends import broken
from analyzer.report.rows import PART_COLUMNS, Row
from analyzer.report.view import Line, View, view_of
from analyzer.report.wording import short_forms

WIDTH = 80
LEAST_NAME = 16  # characters of a name that a table keeps
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
    view = view_of(answer, why=why, full=True)
    blocks = [
        _head(view),
        _verdict(view),
        _gases(view),
        section("Otherwise", wrapped(view.otherwise, INDENT)),
        section("Not checked", bullets(view.not_checked)),
        section("Take care", bullets(view.cautions)),
        section("Why these numbers", why_lines(view.why)),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


# --- blocks ------------------------------------------------------------------------------


def _head(view: View) -> list[str]:
    lines = wrapped(view.title)
    for words in (view.job, view.summary):
        lines += wrapped(words, INDENT)
    return lines


def _verdict(view: View) -> list[str]:
    lines = wrapped(view.verdict)
    for words in (view.minutes, view.money, *view.reasons):
        lines += wrapped(words, INDENT)
    return lines


def _change(view: View) -> list[str]:
    if not view.change:
        return ["Nothing to change."] if view.nothing_to_change else []
    title = "Nothing to change. Look once" if view.nothing_to_change else "Change before cutting"
    return section(title, finding_lines(view.change))


def _gases(view: View) -> list[str]:
    if not view.gas_rows:
        return section("Gases", bullets(view.gas_notes))
    lines = table(("", *view.gases), view.gas_rows)
    return section("Gases, all parts", lines + bullets(view.gas_notes))


def _drawing(view: View) -> list[str]:
    return section("The drawing", [
        *bullets((view.account, *view.ignored)), *bullets(view.facts),
    ])  # fmt: skip


# --- pieces ------------------------------------------------------------------------------


def section(title: str, lines: Sequence[str]) -> list[str]:
    """Return a block with its title; nothing where there are no lines."""
    return [title, *lines] if lines else []


def wrapped(text: str, indent: int = 0, hanging: int | None = None) -> list[str]:
    """Break `text` into lines of at most `WIDTH` columns; none for no text."""
    return broken(text, WIDTH, first=" " * indent, rest=" " * (hanging or indent))


def bullets(items: Iterable[str]) -> list[str]:
    """Return one indented paragraph an item."""
    return [line for item in items for line in wrapped(item, INDENT, INDENT + 2)]


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
    """First column left, the others right; empty columns at the end without a head stay left.

    A table wider than `WIDTH` first shortens the names in its first column, then goes on
    below with the same first column, so that numbers stay in their columns.
    """
    if not rows:
        return []
    every = [tuple(head), *((row.label, *row.cells) for row in rows)]
    columns = max(map(len, every))
    widths = [max(len(r[c]) for r in every if c < len(r)) for c in range(columns)]
    room = WIDTH - INDENT - sum(2 + width for width in widths[1:])
    widths[0] = min(widths[0], max(room, LEAST_NAME))
    lines: list[str] = []
    for start, stop in _blocks(widths):
        lines += _columns(every, widths, len(head), range(start, stop))
    return lines


def _blocks(widths: Sequence[int]) -> list[tuple[int, int]]:
    """Return which columns stand side by side; the first one stands in every block."""
    blocks, start, used = [], 1, INDENT + widths[0]
    for c in range(1, len(widths)):
        if c > start and used + 2 + widths[c] > WIDTH:
            blocks.append((start, c))
            start, used = c, INDENT + widths[0]
        used += 2 + widths[c]
    return [*blocks, (start, len(widths))]


def _columns(
    every: Sequence[Sequence[str]], widths: Sequence[int], heads: int, shown: range
) -> list[str]:
    lines, short = [], short_forms((cells[0] for cells in every), widths[0])
    for cells in every:
        words = [short[cells[0]].ljust(widths[0])]
        for c in shown:
            cell = cells[c] if c < len(cells) else ""
            words.append(cell.ljust(widths[c]) if c >= heads else cell.rjust(widths[c]))
        lines.append((" " * INDENT + "  ".join(words)).rstrip())
    return lines


def why_lines(rows: Iterable[Row]) -> list[str]:
    """Return every headline number with how it was made."""
    out = []
    for row in rows:
        value, how, whose = row.cells
        out += wrapped(f"{row.label:<12} {value:<14} = {how}; {whose}", INDENT, INDENT + 15)
    return out
