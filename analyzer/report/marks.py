"""What pictures show of an answer, per gas: marks, edges by burr class, speed, heat, order, bars.

Built once from an `Answer`; page, SVG, PNG, PDF and marked DXF draw from it, so that they agree
with each other and with the findings of the JSON.  Places are in the drawing's own axes. [mm]

>>> from analyzer.report.marks import pictures_of
>>> for gas in pictures_of(answer):              # doctest: +SKIP
...     for mark in gas.marks:                   # one for every finding, numbered as there
...         mark.number, mark.level, mark.places
...     for part in gas.parts:                   # one for every distinct part, then loose lines
...         part.runs.lines, part.runs.burr_class # edges as `Contours`, arcs kept, and their class
...         part.moves, part.order, part.pierces # what the head does
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Answer
from analyzer.effects.evidence import Evidence
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.job import Job
from analyzer.motion.plan import Timing
from analyzer.parts.part import Part
from analyzer.report.along import Runs, Speeds, burr_runs, speed_runs, speeds_along
from analyzer.report.wording import TERM_LABELS
from analyzer.rules.rule import Finding


@dataclass(frozen=True, eq=False)
class Mark:
    """One finding as it is drawn.

    Attributes
    ----------
    number : int
        `mark` of the finding.
    level : str
        "note", "rework" or "loss": gives the shape (`palette.LEVEL_SHAPES`).
    rule : str
        Name of the rule.
    part : str or None
        Part it is on; None for the drawing.
    count : int
        Equal features it stands for.
    places : ndarray, shape (k, 2)
        All its places; k may be 0: such a mark stands in lists only. [mm]
    words : str
        The finding's message; not made safe for any format.
    remedy : str
        What to do.
    """

    number: int
    level: str
    rule: str
    part: str | None
    count: int
    places: Floats
    words: str
    remedy: str


@dataclass(frozen=True)
class Bar:
    """One term of the time split: name as in JSON, seconds, a word or two."""

    term: str
    seconds: float
    words: str


@dataclass(frozen=True, eq=False)
class PartPicture:
    """One distinct part (the copy whose features are listed) under one gas, or the loose lines.

    What is costly is made when first asked for.

    Attributes
    ----------
    evidence : Evidence
        All that is known of it; `part` and `plan` are its own.
    job : Job
        Material, thickness and power.
    marks : tuple of Mark
        Findings on it that have a place.
    """

    evidence: Evidence
    job: Job
    marks: tuple[Mark, ...]

    @property
    def part(self) -> Part:
        """The part; its id is "loose" for open cut lines outside every part."""
        return self.evidence.part

    @property
    def contours(self) -> Contours:
        """Drawn contours: row 0 the outline, then cut-outs, then open cut lines."""
        return self.evidence.part.contours

    @cached_property
    def runs(self) -> Runs:
        """Edges in stretches of one burr class."""
        return burr_runs(self.evidence, self.job)

    @cached_property
    def speeds(self) -> Speeds:
        """Speed along the edges, a place every 2 mm or less and at every joint."""
        return speeds_along(self.evidence, 2.0)

    @cached_property
    def speed_runs(self) -> Runs:
        """Edges in stretches of one class of local speed, 0 as in the table to 3 slow."""
        return speed_runs(self.contours, self.speeds)

    @property
    def coarse_speeds(self) -> Speeds:
        """The same at joints and on arcs only, for pictures of many lines; not kept."""
        return speeds_along(self.evidence, least=1, turn=np.pi / 3.0)

    @property
    def order(self) -> Ints:
        """Rows of the contours as they are cut, shape (n,)."""
        return self.evidence.plan.order

    @property
    def pierces(self) -> Floats:
        """Where every contour is pierced, by row, shape (n, 2). [mm]"""
        return self.evidence.plan.pierces

    @property
    def pierce_rises(self) -> Floats | None:
        """Rise over the plate's start at every pierce as it begins, by row, shape (n,). [K]

        None in gases where heat decides nothing and is not followed.
        """
        heat = self.evidence.heat
        return heat.field.pierces if heat and heat.field else None

    @cached_property
    def leads(self) -> Floats:
        """Lead-ins from pierce to path by row, shape (n, 2, 2). [mm]"""
        path = self.evidence.plan.path
        return np.stack((self.pierces, path.starts[path.offsets[:-1]]), axis=1)

    @cached_property
    def moves(self) -> Floats:
        """Moves from the end of every cut to the next pierce in order, shape (n - 1, 2, 2). [mm]"""
        path = self.evidence.plan.path
        leave = path.ends[path.offsets[1:] - 1]
        return np.stack((leave[self.order[:-1]], self.pierces[self.order[1:]]), axis=1)


@dataclass(frozen=True, eq=False)
class GasPicture:
    """All that pictures show of one drawing under one gas.

    Attributes
    ----------
    gas : str
        Name of the gas.
    marks : tuple of Mark
        One for every finding, in the order of the findings (JSON has the same).
    bars : tuple of Bar
        Time split of all copies, in the order of `Timing`; adds up to the total.
    parts : tuple of PartPicture
        One for every distinct part, in their order; last the loose lines, if any.
    """

    gas: str
    marks: tuple[Mark, ...]
    bars: tuple[Bar, ...]
    parts: tuple[PartPicture, ...]

    @property
    def total(self) -> float:
        """Time of all copies. [s]"""
        return sum(bar.seconds for bar in self.bars)

    @property
    def on_drawing(self) -> tuple[Mark, ...]:
        """Marks that belong to no single part and have a place."""
        return tuple(mark for mark in self.marks if mark.part is None and len(mark.places))


def pictures_of(answer: Answer) -> tuple[GasPicture, ...]:
    """Return what is shown under every gas, in their order."""
    analysis = answer.analysis
    return tuple(_picture(result, analysis) for result in analysis.gases)


def drawing_marks(answer: Answer) -> tuple[Mark, ...]:
    """Return the marks of a drawing that no gas can cut: those of the drawing rules."""
    return marks_of(answer.analysis.on_drawing)


def marks_of(findings: Iterable[Finding]) -> tuple[Mark, ...]:
    """Return one mark for every finding, in their order."""
    return tuple(
        Mark(
            one.mark, one.level, one.rule, one.part, one.count,
            np.array(one.places, dtype=float).reshape(-1, 2), one.message, one.remedy,
        )
        for one in findings
    )  # fmt: skip


def bars_of(timing: Timing) -> tuple[Bar, ...]:
    """Return the time split as bars, in the order of its terms."""
    return tuple(Bar(term, value, TERM_LABELS[term]) for term, value in timing.terms().items())


def _picture(result: GasResult, analysis: Analysis) -> GasPicture:
    marks = marks_of(result.findings)
    several = result.evidence + ((result.loose,) if result.loose else ())
    by_part: dict[str, list[Mark]] = {one.part.id: [] for one in several}
    for mark in marks:
        if mark.part in by_part and len(mark.places):
            by_part[mark.part].append(mark)
    parts = tuple(
        PartPicture(one, analysis.job, tuple(by_part[one.part.id])) for one in several
    )  # fmt: skip
    return GasPicture(result.gas, marks, bars_of(result.timing), parts)
