"""What a rule is, and what it finds."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analyzer.rules.scene import Case, Scene

LEVELS = ("note", "rework", "loss")

Place = tuple[float, float]


@dataclass(frozen=True)
class Finding:
    """A fact judged by a rule, for one gas.

    Attributes
    ----------
    mark : int
        Its number on the picture and in the text; the same places of one rule have
        the same number under every gas.
    rule : str
        Name of the rule.
    level : str
        "note" (look), "rework" (hand work to expect) or "loss" (scrap, crash, re-cut).
    part : str or None
        Part it is on; None for the drawing.
    count : int
        Equal features it stands for.
    places : tuple of (x, y)
        Where they are, in the drawing's axes; may be empty. [mm]
    measured, limit : float
        What was measured, and the limit in force, both in `unit`.
    unit : str
        Unit of both.
    message : str
        What, where, size, limit, consequence: one or two sentences.
    remedy : str
        What to do, verb first, and who.
    wants_mm : float
        Size from which nothing is found any more, where the remedy names one; else 0.
    sort : str
        That of the facts it judges, where they have one, or what sort of its rule it is.
    """

    mark: int
    rule: str
    level: str
    part: str | None
    count: int
    places: tuple[Place, ...]
    measured: float
    limit: float
    unit: str
    message: str
    remedy: str
    wants_mm: float = 0.0
    sort: str = ""

    @property
    def x(self) -> float | None:
        """First place. [mm]"""
        return self.places[0][0] if self.places else None

    @property
    def y(self) -> float | None:
        """First place. [mm]"""
        return self.places[0][1] if self.places else None


@dataclass(frozen=True)
class Draft:
    """A finding before it has a number: what a rule returns; fields as in `Finding`."""

    level: str
    part: str | None
    places: tuple[Place, ...]
    measured: float
    limit: float
    unit: str
    message: str
    remedy: str
    count: int = 1
    wants_mm: float = 0.0
    sort: str = ""


@dataclass(frozen=True)
class Rule:
    """A rule: its words, and how it finds the fault it is named after.

    Attributes
    ----------
    name : str
        The fault, not the cure; never reused for another.
    group : str
        "drawing", "holes", "slots and webs", "corners", "edges", "process" or "sheet".
    kind : str
        "drawing" (judged once, the same under every gas), "shape" (a part's measure
        against the limit of every gas), "process" (the evidence of every gas) or "sheet" (a
        layout under every gas, `analyzer.rules.judge_sheet`).
    question : str
        What it asks of every part.
    why : str
        What goes wrong, and by which cause.
    remedy : str
        What to do about it, verb first.
    example : str
        A finding of it, as the page words it.
    asks_change : bool
        True where the drawing or the job should be changed (or the customer asked)
        before cutting; False for what is only foretold: hand work, slower corners, a
        look.  A part whose findings are all of the second sort has "Nothing to change".
    on_drawing, on_gas : callable or None
        Finds it, once per drawing or once per gas; exactly one is given, but for the kind
        "sheet", which has neither.
    """

    name: str
    group: str
    kind: str
    question: str
    why: str
    remedy: str
    example: str
    asks_change: bool
    on_drawing: Callable[[Scene], Iterable[Draft]] | None = None
    on_gas: Callable[[Case], Iterable[Draft]] | None = None
