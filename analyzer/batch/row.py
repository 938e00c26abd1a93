"""One line of a batch: what is told of one drawing in lists and overviews."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

from analyzer.comparison import Answer
from analyzer.report.escape import whole
from analyzer.report.to_json import mm, seconds
from analyzer.rules.rule import LEVELS

DONE, REFUSED, FAILED = "done", "refused", "failed"

MEASURES_OF_THE_GAS = frozenset({"time_s", "rework_min"})
"""What a row tells only under a gas."""

MEASURES = MEASURES_OF_THE_GAS | {
    "parts", "cut_length_mm", "pierces", "weight_kg", "losses", "reworks", "notes", "small_holes",
    "entities", "ignored",
}  # fmt: skip
"""What a row tells only of a drawing that was read."""


@dataclass(frozen=True)
class Row:
    """One drawing of a batch.

    Attributes
    ----------
    drawing : str
        Its name, from the folder or as the list writes it.
    status : str
        done, refused (it cannot be read; the same tomorrow) or failed (our fault, or it took
        too long; tried again by the next run).
    reason : str
        Why it was refused or failed.
    quantity : int
        How many are wanted.
    material, thickness_mm, power_kw
        The job.
    parts, cut_length_mm, pierces, weight_kg
        Totals of the drawing, all copies drawn.
    gas : str
        Advised; empty where none is.
    time_s, rework_min, cost
        Under the advised gas, all copies drawn; `cost` None without rates.
    losses, reworks, notes : int
        Places by level under the advised gas.
    worst : str
        The worst level there, empty without a finding.
    first_loss : str
        What the first loss says.
    small_holes : int
        Holes smaller than the sheet is thick, all copies drawn.
    entities, ignored : int
        Of model space.
    """

    drawing: str
    status: str
    reason: str = ""
    quantity: int = 1
    material: str = ""
    thickness_mm: float | None = None
    power_kw: float | None = None
    parts: int = 0
    cut_length_mm: float = 0.0
    pierces: int = 0
    weight_kg: float = 0.0
    gas: str = ""
    time_s: float = 0.0
    rework_min: float = 0.0
    cost: float | None = None
    losses: int = 0
    reworks: int = 0
    notes: int = 0
    worst: str = ""
    first_loss: str = ""
    small_holes: int = 0
    entities: int = 0
    ignored: int = 0

    def to_json(self) -> str:
        """Return the row as one line of JSON."""
        return json.dumps(vars(self), allow_nan=False)

    @staticmethod
    def from_json(text: str) -> Row:
        """Return the row that `to_json` wrote."""
        return Row(**json.loads(text))

    def called(self, drawing: str, quantity: int) -> Row:
        """Return the same under the name and the quantity of another line of the input."""
        return replace(self, drawing=whole(drawing), quantity=quantity)


def row_of(answer: Answer, drawing: str, quantity: int) -> Row:
    """Return what a batch tells of an answer."""
    analysis, advice = answer.analysis, answer.advice
    best = analysis.under(advice.gas) if advice.gas else None
    read = best.findings if best else analysis.on_drawing
    if best is None and analysis.gases:
        read = analysis.gases[0].findings
    places = {level: sum(f.count for f in read if f.level == level) for level in LEVELS}
    losses = [f.message for f in read if f.level == "loss"]
    totals, account = analysis.totals, analysis.drawing.account
    small = sum(
        part.count * sum(hole.diameter < analysis.job.thickness_mm for hole in part.holes)
        for part in analysis.parts.parts
    )
    return Row(
        drawing=whole(drawing), status=DONE, quantity=quantity, material=analysis.job.material,
        thickness_mm=mm(analysis.job.thickness_mm), power_kw=mm(analysis.job.power_kw),
        parts=totals.parts, cut_length_mm=mm(totals.cut_length), pierces=totals.pierces,
        weight_kg=mm(totals.weight), gas=best.gas if best else "",
        time_s=seconds(best.timing.total) if best else 0.0,
        rework_min=seconds(best.rework_min) if best else 0.0,
        cost=seconds(best.cost.total) if best and best.cost else None,
        losses=places["loss"], reworks=places["rework"], notes=places["note"],
        worst=next((level for level in reversed(LEVELS) if places[level]), ""),
        first_loss=whole(losses[0]) if losses else "", small_holes=small,
        entities=account.total, ignored=account.total - account.used,
    )  # fmt: skip
