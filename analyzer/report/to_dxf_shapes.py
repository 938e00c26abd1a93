"""What is drawn into a marked DXF: marks, sizes and remedies as a few plain shapes.

Only lines, circles, filled corners and single lines of text: every DXF version has them.
Everything here is in the drawing's own unit, axes and origin.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from analyzer.analysis import Analysis
from analyzer.comparison import Answer
from analyzer.geometry.contours import Contours, Floats
from analyzer.report.escape import shown
from analyzer.report.labels import put_apart
from analyzer.report.line_ends import broken
from analyzer.report.marks import Mark, drawing_marks, marks_of
from analyzer.report.palette import LEVEL_SHAPES
from analyzer.report.view import View, view_of
from analyzer.rules.rule import Finding

Point = tuple[float, float]

WORDS = "WORDS"
LAYERS = {"LOSS": 7, "REWORK": 30, "NOTE": 150, WORDS: 7}
"""Our layers, one a level and one for words, with their colour index; the shape of a mark tells
its level, so that the colour, which other programs show in their own way, only repeats it."""

WHITE, DARK = 255, 250
SHARE, LEAST_MM, MOST_MM = 1.0 / 75.0, 1.5, 14.0
"""Half size of a mark as a share of the drawing's larger side, and its bounds. [-, mm, mm]"""

HALF = {"circle": 1.0, "diamond": 1.35, "square": 0.95}
"""Half the room of a mark, in half sizes. [-]"""

MOST_NUMBERED = 150
"""Places with a number, the first of every mark before all others; the rest show a small shape."""

SMALL = 0.35
DOWN = 8.0
"""How far below the drawing marks may stand; the list begins further down. [half sizes]"""

LETTER, LEADING, COLUMNS = 0.75, 1.7, 78
"""Width of a letter and step from line to line, in letter heights; columns of the list. [-]"""

BESIDE, BELOW = 0.7, 1.0
"""Height of the letters beside a mark and in the list below, in half sizes. [-]"""

NOTE_COLUMNS, NOTE_LINES = 34, 4
"""Columns and lines of the words beside a mark. [-]"""

_LINE_SAMPLES = 200_000


@dataclass(frozen=True)
class Line:
    """A straight line on one of our layers."""

    layer: str
    start: Point
    end: Point


@dataclass(frozen=True)
class Circle:
    """A circle on one of our layers."""

    layer: str
    middle: Point
    radius: float


@dataclass(frozen=True)
class Solid:
    """A filled four-sided figure, its corners in the order of a walk round it."""

    layer: str
    corners: tuple[Point, Point, Point, Point]
    colour: int


@dataclass(frozen=True)
class Text:
    """One line of text: `at` is its lower left corner, its middle or its lower right corner."""

    layer: str
    at: Point
    height: float
    words: str
    align: Literal["left", "middle", "right"] = "left"
    colour: int | None = None  # that of the layer


Shape = Line | Circle | Solid | Text


def shapes_of(answer: Answer) -> tuple[Shape, ...]:
    """Return all that is drawn for an answer: marks and words beside them, the list below.

    Marks are those of the gas advised, or of the first where none is.
    """
    analysis = answer.analysis
    view = view_of(answer)
    result = analysis.under(answer.advice.gas or "") or next(iter(analysis.gases), None)
    findings = result.findings if result else analysis.on_drawing
    marks = marks_of(findings) if result else drawing_marks(answer)
    scale = _Scale.of(analysis)
    shapes = [*_marks(marks, findings, analysis, scale)]
    shapes += _list(view, result.gas if result else "", scale)
    return tuple(shapes)


# --- sizes -------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Scale:
    """Millimetres to drawing units, the half size of a mark, and what is drawn. [mm]"""

    per_mm: float
    half: float
    box: Floats

    @staticmethod
    def of(analysis: Analysis) -> _Scale:
        drawing = analysis.drawing
        several = [c.box for c in (drawing.cuts, drawing.marks, drawing.bends) if len(c)]
        places = np.array([(t.x, t.y) for t in drawing.texts]).reshape(-1, 2)
        several += [np.hstack((places, places))] if len(places) and several else []
        if not several:
            return _Scale(1.0 / drawing.units.factor, 2.5, np.zeros(4))
        boxes = np.vstack(several)
        box = np.concatenate((boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)))
        half = float(np.clip((box[2:] - box[:2]).max() * SHARE, LEAST_MM, MOST_MM))
        return _Scale(1.0 / drawing.units.factor, half, box)

    def point(self, place: Sequence[float] | Floats) -> Point:
        """Return a place in drawing units."""
        return float(place[0]) * self.per_mm, float(place[1]) * self.per_mm

    def size(self, length: float) -> float:
        """Return a length in drawing units."""
        return length * self.per_mm


# --- marks -------------------------------------------------------------------------------


def _marks(
    marks: Sequence[Mark], findings: Sequence[Finding], analysis: Analysis, scale: _Scale
) -> Iterator[Shape]:
    """Yield every place of every mark, numbers apart from one another and clear of lines."""
    found = [
        (mark, finding) for mark, finding in zip(marks, findings, strict=True) if len(mark.places)
    ]
    levels = list(LEVEL_SHAPES)
    found.sort(key=lambda pair: -levels.index(pair[0].level))
    spots: list[tuple[Mark, Finding | None, Floats]] = [
        (mark, finding, mark.places[0]) for mark, finding in found
    ]
    spots += [(mark, None, place) for mark, _ in found for place in mark.places[1:]]
    numbered, bare = spots[:MOST_NUMBERED], spots[MOST_NUMBERED:]
    for mark, _, place in bare:
        yield from _shape(mark.level, place, SMALL * scale.half, scale)
    if not numbered:
        return
    notes = [_beside(finding) if finding else [] for _, finding, _ in numbered]
    places = np.array([place for _, _, place in numbered])
    shape_half = [
        HALF[LEVEL_SHAPES[mark.level]] * (1.3 if mark.number > 99 else 1.0)
        for mark, _, _ in numbered
    ]
    half = np.array([_room(n, h) for n, h in zip(notes, shape_half, strict=True)]) * scale.half
    reach = 40.0 * scale.half
    box = scale.box + np.array([-reach, -DOWN * scale.half, reach, reach])
    middles = put_apart(places, half, box, np.vstack((_ink(analysis, scale), places)))
    for (mark, _, place), own, words, wide, middle in zip(
        numbered, shape_half, notes, half, middles, strict=True
    ):
        side = 1.0 if place[0] <= middle[0] else -1.0  # the mark stands towards its place
        along = np.array([side, 0.0])
        at = middle - along * (wide[0] - own * scale.half)
        yield from _leader(mark.level, place, at, own * scale.half, scale)
        yield from _numbered(mark, at, scale)
        yield from _words(words, at + along * (own + 0.4) * scale.half, side, scale)


def _beside(finding: Finding) -> list[str]:
    """Return the size and the remedy as the few short lines that stand beside a mark."""
    lines = broken(_size(finding), NOTE_COLUMNS)
    remedy = broken(shown(finding.remedy), NOTE_COLUMNS)
    if len(remedy) > NOTE_LINES - 1:
        last = remedy[NOTE_LINES - 2]
        if len(last) > NOTE_COLUMNS - 4:
            last = last[: NOTE_COLUMNS - 4].rsplit(" ", 1)[0]  # a word is left whole or left out
        remedy = [*remedy[: NOTE_LINES - 2], f"{last} ..."]
    return (lines[:1] + remedy)[:NOTE_LINES]


def _size(finding: Finding) -> str:
    """Return what was measured beside its limit; nothing where it is no measure."""
    if not (np.isfinite(finding.measured) and np.isfinite(finding.limit)):
        return ""
    if finding.measured == finding.limit or not finding.unit:
        return finding.rule
    measured, limit = f"{finding.measured:.3g}", f"{finding.limit:.3g}"
    if finding.unit == "of all positions":
        measured, limit = f"{finding.measured:.0%}", f"{finding.limit:.0%}"
    words = f"{measured} {finding.unit}"
    told = f"{words} (limit {limit})"
    return told if finding.limit != 0.0 and len(told) <= NOTE_COLUMNS else words


def _room(words: Sequence[str], own: float) -> tuple[float, float]:
    """Return half width and half height of a mark with its words, in half sizes."""
    if not words:
        return own, own
    wide = 0.4 + LETTER * BESIDE * max(map(len, words))
    return own + wide / 2.0, max(own, 0.5 * BESIDE * LEADING * len(words))


def _ink(analysis: Analysis, scale: _Scale) -> Floats:
    """Return points along all that is drawn."""
    drawn = Contours.join([analysis.drawing.cuts, analysis.drawing.marks])
    lengths = drawn.lengths
    if not len(lengths):
        return np.zeros((0, 2))
    step = max(scale.half, float(lengths.sum()) / _LINE_SAMPLES)
    counts = np.maximum(np.ceil(lengths / step), 1).astype(np.int64)
    segment = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    return drawn.points_at(segment, (within + 0.5) / counts[segment])


def _shape(level: str, middle: Floats, half: float, scale: _Scale) -> Iterator[Shape]:
    """Yield a note's circle, a rework's diamond or a loss's filled square."""
    layer, shape = level.upper(), LEVEL_SHAPES[level]
    reach = half * HALF[shape]
    if shape == "circle":
        yield Circle(layer, scale.point(middle), scale.size(reach))
        return
    diamond = np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])
    square = np.array([(1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0)])
    round_it = middle + reach * (diamond if shape == "diamond" else square)
    corners = [scale.point(corner) for corner in round_it]
    if shape == "square":
        yield Solid(layer, (corners[0], corners[1], corners[2], corners[3]), DARK)
    for k in range(4):
        yield Line(layer, corners[k], corners[(k + 1) % 4])


def _numbered(mark: Mark, middle: Floats, scale: _Scale) -> Iterator[Shape]:
    wide = 1.3 if mark.number > 99 else 1.0
    yield from _shape(mark.level, middle, wide * scale.half, scale)
    colour = WHITE if LEVEL_SHAPES[mark.level] == "square" else None
    height = scale.size(0.85 * scale.half)
    yield Text(
        mark.level.upper(), scale.point(middle), height, str(mark.number), "middle", colour
    )  # fmt: skip


def _leader(
    level: str, place: Floats, middle: Floats, reach: float, scale: _Scale
) -> Iterator[Shape]:
    """Yield a line from a place to the edge of its mark, where that stands beside it."""
    step = middle - place
    length = float(np.hypot(*step))
    if length > reach:
        end = middle - step * (reach / length)
        yield Line(level.upper(), scale.point(place), scale.point(end))


def _words(words: Sequence[str], edge: Floats, side: float, scale: _Scale) -> Iterator[Shape]:
    """Yield lines of text from an edge, half of them above the middle of the mark."""
    letter = BESIDE * scale.half
    top = 0.5 * letter * LEADING * len(words)
    for k, line in enumerate(words):
        at = edge + np.array([0.0, top - letter * (LEADING * (k + 1) - (LEADING - 1.0) / 2.0)])
        align: Literal["left", "right"] = "left" if side > 0.0 else "right"
        yield Text(WORDS, scale.point(at), scale.size(letter), line, align)


# --- the list below the drawing ------------------------------------------------------------


def _list(view: View, gas: str, scale: _Scale) -> Iterator[Shape]:
    """Yield verdict, findings and remedies as lines of text below the drawing."""
    letter = BELOW * scale.half
    x, y = float(scale.box[0]), float(scale.box[1]) - (DOWN + 3.0) * scale.half
    for k, line in enumerate(_lines(view, gas)):
        at = (x, y - k * LEADING * letter)
        if line:
            yield Text(WORDS, scale.point(at), scale.size(letter), line)


def _lines(view: View, gas: str) -> Iterator[str]:
    yield from _wrapped((f"burrcast: {view.title}, {view.job}", view.verdict, view.minutes))
    if gas:
        yield f"Marks for {gas}: square = loss, diamond = rework, circle = note."
    yield "Added for reading only: cut from the drawing without these layers."
    if view.nothing_to_change and not view.change:
        yield "Nothing to change."
    for title, lines in (
        ("Change before cutting", view.change), ("Expect", view.expect),
        ("The drawing", view.repaired),
    ):  # fmt: skip
        if lines:
            yield ""
            yield title
        for line in lines:
            numbers = ", ".join(map(str, line.marks[:6])) + (" ..." if len(line.marks) > 6 else "")
            yield from _wrapped((f"{numbers} {line.level.upper()}: {line.what}",), 3)
            yield from _wrapped((f"> {line.remedy}",) if line.remedy else (), 5, 3)


def _wrapped(texts: Iterable[str], hanging: int = 0, indent: int = 0) -> Iterator[str]:
    for text in texts:
        yield from broken(text, COLUMNS, first=" " * indent, rest=" " * hanging)
