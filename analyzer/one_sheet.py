"""One sheet under every gas: what lies on it, how long it takes, what each part takes of it."""

from __future__ import annotations

from dataclasses import dataclass

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
    net_cost : float or None
        The same with plate by the weight of the parts, as where the rest is kept.
    """

    part: int
    count: int
    time_s: float
    cut_mm: float
    rework_min: float
    cost: float | None = None
    net_cost: float | None = None


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
