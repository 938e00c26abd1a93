"""The answer about sheets: what lies on each, how long it takes in every gas, what it costs.

Only the words of the answer stand here and in `one_sheet.py`; `sheet_planning.py` makes it.  One
`SheetJob` is one material, thickness and plate: what can lie on one sheet.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from analyzer.comparison import Answer
from analyzer.drawing.drawing import Drawing
from analyzer.job import Job
from analyzer.one_sheet import SheetResult

# --- what was asked for and could not be ---------------------------------------------------


@dataclass(frozen=True)
class RefusedRow:
    """A row of a list, or a drawing, that could not be used. Line 0 where it has none."""

    file: str
    line: int
    reason: str


@dataclass(frozen=True)
class NotPlaced:
    """Parts that are on no sheet, and why."""

    name: str
    count: int
    reason: str


# --- what could be otherwise ---------------------------------------------------------------


@dataclass(frozen=True)
class SizeRow:
    """The order laid on one size of sheet alone, in the gas advised.

    Attributes
    ----------
    name : str
        The sheet.
    length_mm, width_mm : float
        [mm]
    sheets : int
        Sheets needed.
    use : float
        Share of them that becomes parts. [-]
    minutes : float
        At the machine, all sheets. [min]
    cost : float or None
        All sheets as plate; None without rates.
    left : int
        Parts that cannot be laid on it.
    """

    name: str
    length_mm: float
    width_mm: float
    sheets: int
    use: float
    minutes: float
    cost: float | None
    left: int = 0


@dataclass(frozen=True)
class CommonLine:
    """What cutting common lines once would change, in the gas advised.

    Attributes
    ----------
    able : bool
        Whether the job allows it at all.
    reason : str
        Why not, or what it takes.
    lines : int
        Edges that could be cut once, all sheets.
    length_mm : float
        Their length. [mm]
    saved_min : float
        Machine time saved, all sheets. [min]
    pierces : int
        Pierces saved, all sheets.
    risky : int
        Parts of these pairs that tip or fall more often than 3 in 10.
    """

    able: bool
    reason: str
    lines: int = 0
    length_mm: float = 0.0
    saved_min: float = 0.0
    pierces: int = 0
    risky: int = 0


@dataclass(frozen=True)
class Kept:
    """A distance that is kept, and for whose sake.

    Attributes
    ----------
    value_mm : float
        [mm]
    why : str
        Gas and rule, or "as you said", with the source.
    """

    value_mm: float
    why: str


@dataclass(frozen=True, eq=False)
class NamedDrawing:
    """A drawing of the job.

    Attributes
    ----------
    name : str
        As written in the list.
    drawing : Drawing
        As read: its entities used and ignored.
    parts : tuple of str
        Names of the parts taken from it.
    """

    name: str
    drawing: Drawing
    parts: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class SheetJob:
    """One material, thickness and plate.

    Attributes
    ----------
    file : str
        Base name of the list or the drawing.
    answer : Answer
        All copies on all sheets as one analysis, and the advice; parts carry their names.
    sheets : tuple of SheetResult
        Fullest first, as they are cut.
    gap, margin : Kept
        Distances between parts, and to the edge of the sheet.
    bound : int
        Sheets below which it cannot be done; 0 for a drawn sheet.
    unplaced : tuple of NotPlaced
        Parts on no sheet.
    sizes : tuple of SizeRow
        What other sheets would need; the best one first.
    common : CommonLine or None
        None where it was not looked at.
    notes : tuple of str
        What was decided on the way and should be said.
    steps : tuple of str
        Next steps of its parts, where they differ.
    drawings : tuple of NamedDrawing
        Each once, in the order of the list.
    without : str
        Which parts alone keep another gas away, and what it would give; empty where none.
    """

    file: str
    answer: Answer
    sheets: tuple[SheetResult, ...]
    gap: Kept
    margin: Kept
    bound: int = 0
    unplaced: tuple[NotPlaced, ...] = ()
    sizes: tuple[SizeRow, ...] = ()
    common: CommonLine | None = None
    notes: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    drawings: tuple[NamedDrawing, ...] = ()
    without: str = ""

    @property
    def job(self) -> Job:
        """Material, thickness, laser, plate, next step."""
        return self.answer.analysis.job

    @property
    def count(self) -> int:
        """Sheets to cut."""
        return sum(sheet.copies for sheet in self.sheets)

    @property
    def parts(self) -> int:
        """Parts on all sheets."""
        return sum(sheet.copies * len(sheet.layout.placements) for sheet in self.sheets)

    @property
    def use(self) -> float:
        """Share of all sheets that becomes parts; 0 where a size is not known. [-]"""
        gross = sum(sheet.copies * sheet.gross_mm2 for sheet in self.sheets)
        net = sum(sheet.copies * sheet.net_mm2 for sheet in self.sheets)
        return net / gross if gross > 0.0 else 0.0

    def net_cost(self, gas: str) -> float:
        """Return the money of all sheets under `gas`, plate by the weight of the parts."""
        under = ((sheet.copies, sheet.under(gas)) for sheet in self.sheets)
        return float(
            sum(n * (s.net_cost or 0.0) for n, one in under for s in (one.shares if one else ()))
        )

    @property
    def unload_min(self) -> float:
        """Unloading and sorting by hand, all sheets. [min]"""
        return float(sum(sheet.copies * sheet.unload_min for sheet in self.sheets))

    @property
    def read(self) -> str:
        """The gas to show: the one advised, else the first; empty where there is none."""
        gases = self.answer.analysis.gases
        return self.answer.advice.gas or (gases[0].gas if gases else "")


@dataclass(frozen=True, eq=False)
class Sheeting:
    """What `burrcast sheet` gives for one list or drawing.

    Attributes
    ----------
    path : Path
        The list or the drawing.
    jobs : tuple of SheetJob
        In the order of the list.
    refused : tuple of RefusedRow
        Rows that could not be used.
    """

    path: Path
    jobs: tuple[SheetJob, ...]
    refused: tuple[RefusedRow, ...] = field(default=())
