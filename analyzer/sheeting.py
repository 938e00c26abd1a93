"""The answer about sheets: what lies on each, how long it takes in every gas, what it costs.

Only the words of the answer stand here; `sheet_planning.py` makes it.  One `SheetJob` is one
material, thickness and plate: what can lie on one sheet.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from analyzer.comparison import Answer
from analyzer.drawing.drawing import Drawing
from analyzer.effects.drop_sheet import PlacedDrops
from analyzer.effects.heat_sheet import SheetHeat
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.layout.layout import Layout
from analyzer.layout.read_sheet import DrawnSheet
from analyzer.money import Bill, Cost
from analyzer.motion.plan import Timing
from analyzer.motion.sheet import SheetPlan
from analyzer.packing.stock import Stock
from analyzer.process.flow import GasUse
from analyzer.process.material import material
from analyzer.process.setting import Setting
from analyzer.rules.rule import Finding


@dataclass(frozen=True)
class Share:
    """What all copies of one part take of one sheet.

    Attributes
    ----------
    part : int
        Which of the layout's parts.
    count : int
        Copies on the sheet.
    time_s : float
        Machine time: its own cuts, an equal share of the moves a copy, and of the pallet
        change by area; the shares add up to the sheet. [s]
    cut_mm : float
        Drawn cut length, a common line half to either part. [mm]
    rework_min : float
        Hand work after cutting. [min]
    cost : float or None
        Money, plate by area with its share of the skeleton; None without rates.
    """

    part: int
    count: int
    time_s: float
    cut_mm: float
    rework_min: float
    cost: float | None = None


@dataclass(frozen=True, eq=False)
class SheetGas:
    """One sheet under one gas; all of it for one sheet, not for its copies.

    Attributes
    ----------
    setting : Setting
        Cutting data.
    plan : SheetPlan
        Order, pierces and clock of the whole sheet.
    timing : Timing
        Where the seconds go, pallet change under `handling`. [s]
    edge_m : tuple of four float
        Drawn edge by burr class 0..3. [m]
    gas_nm3 : GasUse
        Gas used. [Nm3]
    energy_kwh : float
        Electricity of the whole machine. [kWh]
    rework_min : float
        Hand work on its parts after cutting. [min]
    bill : Bill
        Quantities that cost money.
    cost : Cost or None
        What they cost, the whole sheet as plate; None where the shop has no rates.
    shares : tuple of Share
        By part, in the order of the layout's parts.
    findings : tuple of Finding
        What the rules for sheets say; places on the sheet.
    heat : SheetHeat or None
        What the beam meets at every pierce; None for gases in which heat decides nothing.
    """

    setting: Setting
    plan: SheetPlan
    timing: Timing
    edge_m: tuple[float, float, float, float]
    gas_nm3: GasUse
    energy_kwh: float
    rework_min: float
    bill: Bill
    cost: Cost | None
    shares: tuple[Share, ...]
    findings: tuple[Finding, ...] = ()
    heat: SheetHeat | None = None

    @property
    def gas(self) -> str:
        """Name of the gas."""
        return self.setting.gas

    @property
    def minutes(self) -> float:
        """Machine and hand work together. [min]"""
        return self.timing.total / 60.0 + self.rework_min


@dataclass(frozen=True, eq=False)
class SheetResult:
    """One sheet, and how many are cut alike.

    Attributes
    ----------
    number : int
        From 1, in the order of the answer.
    layout : Layout
        Where the copies lie, from the sheet's lower left corner.
    copies : int
        Identical sheets.
    names : tuple of str
        Of every part of the layout: its drawing as written in the list, "#2" appended for
        the second part of a drawing.
    stock : Stock or None
        The sheet it is laid on; None where the layout was read from a drawing.
    outline : Contours
        Edge of the sheet, first contour; empty where a drawing does not show it.
    gases : tuple of SheetGas
        In the order of the job's gases.
    drops : PlacedDrops
        How every copy lies on the slats.
    unload_min : float
        Taking parts and skeleton off and sorting, by hand. [min]
    job : Job
        Material, thickness, laser.
    drawn : DrawnSheet or None
        What reading a laid-out sheet found.
    """

    number: int
    layout: Layout
    copies: int
    names: tuple[str, ...]
    stock: Stock | None
    outline: Contours
    gases: tuple[SheetGas, ...]
    drops: PlacedDrops
    unload_min: float
    job: Job
    drawn: DrawnSheet | None = None

    @property
    def counts(self) -> dict[int, int]:
        """Copies on one sheet by part of the layout, in the order of the parts."""
        found: dict[int, int] = {}
        for placement in self.layout.placements:
            found[placement.part] = found.get(placement.part, 0) + 1
        return dict(sorted(found.items()))

    @property
    def net_mm2(self) -> float:
        """Metal of the parts. [mm^2]"""
        return float(sum(n * self.layout.parts[p].area for p, n in self.counts.items()))

    @property
    def gross_mm2(self) -> float:
        """Metal of the sheet; 0 where its size is not known. [mm^2]"""
        if self.stock is not None:
            return self.stock.area_mm2
        return float(abs(self.outline.area[0])) if len(self.outline) else 0.0

    @property
    def use(self) -> float:
        """Share of the sheet that becomes parts; 0 where its size is not known. [-]"""
        return self.net_mm2 / self.gross_mm2 if self.gross_mm2 > 0.0 else 0.0

    @property
    def parts_kg(self) -> float:
        """Weight of the parts on one sheet. [kg]"""
        return material(self.job.material).weight_kg(self.net_mm2, self.job.thickness_mm)

    @property
    def sheet_kg(self) -> float:
        """Weight of one sheet; 0 where its size is not known. [kg]"""
        return material(self.job.material).weight_kg(self.gross_mm2, self.job.thickness_mm)

    def under(self, gas: str) -> SheetGas | None:
        """Return the sheet under `gas`, None where it is not listed."""
        return next((result for result in self.gases if result.gas == gas), None)


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
