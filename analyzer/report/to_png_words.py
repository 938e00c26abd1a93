"""Words on a page: header, the list of what the marks mean, and the size of the paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from analyzer.report.line_ends import broken
from analyzer.report.palette import LEVEL_FILLS, LEVEL_LINES, LEVEL_SHAPES, OUTLINE
from analyzer.report.to_png_marks import MARKERS
from analyzer.report.view import Line

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

WIDE, TALL = 11.69, 8.27
"""A4 lying. [in]"""

EDGE = 0.42
DPI = 150
POINT = 1.0 / 72.0
BRACKETS = " In brackets: numbers without a place on this picture."
BOLD = 1.11
"""How much wider bold letters are. [-]"""

LETTER = 0.0073
"""Mean width of a letter for one point of type. [in]"""


@dataclass(frozen=True)
class Words:
    """Header and list of one page, made safe already."""

    title: str
    job: str
    verdict: str
    minutes: str
    lines: tuple[Line, ...]
    foot: str = ""


def wrapped(words: str, size: float, width: float, lines: int) -> list[str]:
    """Break words to lines of a width [in] in a size [pt]; what is too long ends in "..."."""
    room = max(int(width / (LETTER * size)), 12)
    return broken(words, room, most=lines) if words else []


def write(figure: Figure, x: float, y: float, words: str, size: float, **look: Any) -> None:
    figure.text(
        x / WIDE, y / TALL, words, fontsize=size, va="top", parse_math=False, **look
    )  # fmt: skip


def draw_header(figure: Figure, words: Words) -> float:
    """Write file, job, verdict and minutes; return where the page goes on. [in]"""
    width, y = WIDE - 2.0 * EDGE, TALL - 0.36
    title = wrapped(words.title, 13.0, width * 0.62, 1)
    write(figure, EDGE, y, title[0] if title else "", 13.0, fontweight="bold")
    job = wrapped(words.job, 8.0, width * 0.5, 2)
    write(figure, WIDE - EDGE, y, "\n".join(job), 8.0, ha="right", color="#333333")
    y -= 0.30
    for line in wrapped(words.verdict, 10.5 * BOLD, width, 2):
        write(figure, EDGE, y, line, 10.5, fontweight="bold")
        y -= 0.19
    for line in wrapped(words.minutes, 9.0, width, 1):
        write(figure, EDGE, y, line, 9.0)
        y -= 0.18
    return y - 0.06


def draw_list(figure: Figure, words: Words, placed: set[int]) -> float:
    """Write what the marks mean at the foot of the page; return where it begins. [in]

    Numbers that are not on the picture stand in brackets.
    """
    rows: list[tuple[str, str, str]] = []
    most = 7
    for line in words.lines[:most]:
        numbers = _numbers(line.marks, placed)
        rows.append((numbers, line.level, f"{line.what} {line.remedy}"))
    left = len(words.lines) - most
    if left > 0:
        rows.append(("", "", f"and {left} more: see the page of burrcast check"))
    size, step = 7.2, 0.135
    text_x = EDGE + 1.45
    room = WIDE - EDGE - text_x
    texts = [wrapped(text, size, room, 2 if k < 3 else 1) for k, (_, _, text) in enumerate(rows)]
    height = sum(len(lines) for lines in texts) * step + 0.05 * len(rows)
    y = top = 0.36 + height + (0.06 if rows else 0.0)
    if rows:
        figure.add_artist(_rule(top + 0.03))
    for (numbers, level, _), lines in zip(rows, texts, strict=True):
        if level:
            _level_shape(figure, EDGE + 0.07, y - 0.055, level)
            write(figure, EDGE + 0.22, y, level.upper(), size, fontweight="bold")
            write(figure, EDGE + 0.82, y, numbers, size)
        for text in lines:
            write(figure, text_x, y, text, size)
            y -= step
        y -= 0.05
    bare = any(mark not in placed for line in words.lines[:most] for mark in line.marks[:2])
    foot = words.foot + (BRACKETS if bare and placed else "")
    write(figure, EDGE, 0.26, foot, 6.5, color="#444444")
    return top + 0.12


def _numbers(marks: Sequence[int], placed: set[int]) -> str:
    told = ", ".join(f"{mark}" if mark in placed else f"({mark})" for mark in marks[:2])
    return told + (f" +{len(marks) - 2}" if len(marks) > 2 else "")


def _rule(y: float) -> Line2D:
    from matplotlib.lines import Line2D

    return Line2D([EDGE / WIDE, 1.0 - EDGE / WIDE], [y / TALL] * 2, color=OUTLINE, linewidth=0.6)


def _level_shape(figure: Figure, x: float, y: float, level: str) -> None:
    from matplotlib.lines import Line2D

    shape = LEVEL_SHAPES[level]
    size = 5.5 if shape == "diamond" else 7.0
    figure.add_artist(
        Line2D(
            [x / WIDE], [y / TALL], marker=MARKERS[shape], markersize=size, linestyle="none",
            markerfacecolor=LEVEL_FILLS[level], markeredgecolor=LEVEL_LINES[level],
        )
    )  # fmt: skip
