"""What the sheet rules look at: one layout under one gas, planned, its spaces measured."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from analyzer.effects.drop_sheet import PlacedDrops
from analyzer.effects.heat_sheet import SheetHeat
from analyzer.geometry.contours import Floats, Ints
from analyzer.job import Job
from analyzer.layout.layout import Layout
from analyzer.layout.spacing import Spaces
from analyzer.motion.sheet import SheetPlan
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting
from analyzer.rules.limits import Limits, Row
from analyzer.rules.rule import Place


@dataclass(frozen=True, eq=False)
class SheetCase:
    """A sheet under one gas.

    Attributes
    ----------
    job, setting, machine, limits : Job, Setting, Machine, Limits
        What is cut how, and the limits in force.
    plan : SheetPlan
        Order and times; its layout is the sheet.
    spaces : Spaces
        Gaps and margins of that layout.
    names : sequence of str
        What to call every part of the layout.
    heat : SheetHeat or None
        Rises along the order; None for gases in which heat decides nothing.
    drops, turned : PlacedDrops or None
        Copies on the slats as they lie, and with every one turned a quarter.
    kept : mapping of int to str
        What kept the packer from laying a part safely, by part: "room", "size" (of the sheet),
        "turns" (those it may have), "grain", or the degrees of a turn off the square that would
        be safe but is not allowed; none of a drawn sheet.
    """

    job: Job
    setting: Setting
    machine: Machine
    limits: Limits
    plan: SheetPlan
    spaces: Spaces
    names: Sequence[str]
    heat: SheetHeat | None = None
    drops: PlacedDrops | None = None
    turned: PlacedDrops | None = None
    kept: Mapping[int, str] = field(default_factory=dict)

    @property
    def layout(self) -> Layout:
        """The sheet."""
        return self.plan.layout

    @property
    def gas(self) -> str:
        """Name of the gas."""
        return self.setting.gas

    @property
    def gas_words(self) -> str:
        """The gas in a sentence."""
        return "mixed gas" if self.gas == "mixed" else self.gas

    @property
    def thickness(self) -> float:
        """Sheet thickness. [mm]"""
        return self.job.thickness_mm

    def limit(self, rule: str) -> Row | None:
        """Return the limits of `rule` in force; None where it says nothing."""
        return self.limits.at(rule, self.gas, self.job.material, self.thickness)

    def constant(self, rule: str, name: str) -> float:
        """Return a constant of a rule's limits."""
        return self.limits.constant(rule, name)

    def name(self, copy: int) -> str:
        """Return what to call the part of a placement."""
        return self.names[self.layout.placements[copy].part]


def places_of(xy: Floats, rows: Ints) -> tuple[Place, ...]:
    """Return places on the sheet at `rows`, in that order."""
    return tuple((x, y) for x, y in xy[rows].tolist())
