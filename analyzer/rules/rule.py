"""What a rule is, and what it finds."""

from __future__ import annotations

from dataclasses import dataclass

LEVELS = ("note", "rework", "loss")


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
    """

    mark: int
    rule: str
    level: str
    part: str | None
    count: int
    places: tuple[tuple[float, float], ...]
    measured: float
    limit: float
    unit: str
    message: str
    remedy: str

    @property
    def x(self) -> float | None:
        """First place. [mm]"""
        return self.places[0][0] if self.places else None

    @property
    def y(self) -> float | None:
        """First place. [mm]"""
        return self.places[0][1] if self.places else None
