"""What a job's parts are laid on, how far apart, and with how much effort."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from analyzer.drawing.drawing import Drawing
from analyzer.effects.drop import SAFE
from analyzer.effects.drop_sheet import drops_on_sheet
from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.pack import Packing, pack
from analyzer.packing.shapes import OFF_SQUARE
from analyzer.packing.stock import Stock
from analyzer.packing.stock_section import StockRow
from analyzer.sheet_results import Bench
from analyzer.sheet_spacing import gap_for, margin_for
from analyzer.sheeting import Kept

USUAL = Stock("3000x1500", 3000.0, 1500.0)
"""Taken where nobody says what sheets there are: the commonest size (common practice, no
source)."""

EFFORT_S = 1.0
"""Time for a better layout, a job, where nobody says. [s]"""


STEP = 0.05  # chances nearer than this are alike for a layout [-]


@dataclass(frozen=True, eq=False)
class Lies:
    """How badly parts lie on the slats, as a ranking for the packer: every way looked at once.

    A way is good (0) where the part lies still, or tips without coming above the stand-off; else
    it is as bad as its chance to tip, and to fall twice over.

    Attributes
    ----------
    bench : Bench
        Parts and slats.
    """

    bench: Bench
    known: dict[tuple[int, float, bool], float] = field(default_factory=dict, repr=False)

    def __call__(self, part: int, ways: Sequence[tuple[float, bool]]) -> list[float]:
        """Return how bad each way (turn [degrees], turned over) of a part is. [-]"""
        new = [way for way in ways if (part, *way) not in self.known]
        if new:
            placed = tuple(Placement(0, 0.0, 0.0, turn, over) for turn, over in new)
            layout = Layout((self.bench.parts[part],), placed, 0.0, 0.0)
            machine = self.bench.shop.machine
            drops = drops_on_sheet(layout, machine)
            bad = np.maximum(np.round((drops.unstable + drops.falls) / STEP) * STEP, STEP)
            harmless = (drops.lever <= machine.standoff_mm) & (drops.falls <= SAFE)
            ranks = np.where(harmless | ~drops.loose, 0.0, bad)
            self.known.update(((part, *way), r) for way, r in zip(new, ranks.tolist(), strict=True))
        return [self.known[part, *way] for way in ways]


@dataclass(frozen=True)
class SheetOptions:
    """How to lay parts on sheets; None and empty: as the shop file says, else the usual.

    Attributes
    ----------
    stock : tuple of Stock
        Sheets there are.
    gap_mm, margin_mm : float or None
        Between parts and to the edge. [mm]
    turns : str or None
        "0", "90", "180" or "free", for rows that are silent.
    effort_s : float or None
        Time for a better layout, a job. [s]
    seed : int
        The same seed gives the same layout.
    what_if : bool
        Whether other sheets and common lines are looked at as well.
    """

    stock: tuple[Stock, ...] = ()
    gap_mm: float | None = None
    margin_mm: float | None = None
    turns: str | None = None
    effort_s: float | None = None
    seed: int = 0
    what_if: bool = True


@dataclass(frozen=True, eq=False)
class Order:
    """Parts to be laid and all that says how.

    Attributes
    ----------
    bench : Bench
        The parts.
    demands : tuple of Demand
        How many of each.
    stock : tuple of Stock
        Sheets there are.
    told : bool
        Whether somebody said what sheets there are.
    gap, margin : Kept
        Distances, and for whose sake.
    spacing : Spacing
        The same with clamps and grain, for the packer.
    effort_s : float
        Time for a better layout. [s]
    seed : int
        Of the search.
    notes : tuple of str
        What was taken where nobody said.
    lies : Lies
        How badly parts lie on the slats.
    """

    bench: Bench
    demands: tuple[Demand, ...]
    stock: tuple[Stock, ...]
    told: bool
    gap: Kept
    margin: Kept
    spacing: Spacing
    effort_s: float
    seed: int
    notes: tuple[str, ...]
    lies: Lies

    def packed(self, stock: Sequence[Stock], effort_s: float | None = None) -> Packing:
        """Return the parts laid on `stock`, every layout proved."""
        return pack(
            self.bench.parts, self.demands, stock, self.spacing,
            effort_s=self.effort_s if effort_s is None else effort_s, seed=self.seed,
            ranking=self.lies,
        )  # fmt: skip

    def kept_from(self, packing: Packing) -> dict[int, str]:
        """Return what kept parts from lying safely: room, size of sheet, their turns, grain."""
        return {
            demand.part: self._kept(demand, best, fitting)
            for demand, (best, fitting) in zip(self.demands, packing.best_ranks, strict=True)
        }

    def _kept(self, demand: Demand, best: float, fitting: float) -> str:
        if best == 0.0:
            return "room" if fitting == 0.0 else "size"
        if self.spacing.grain is not None:
            return "grain"
        if demand.turns is None:
            return "turns"
        ranks = self.lies(demand.part, [(turn, False) for turn in OFF_SQUARE])
        return next((f"{t:g}" for t, r in zip(OFF_SQUARE, ranks, strict=True) if r == 0.0), "turns")


def order_of(
    bench: Bench, demands: tuple[Demand, ...], options: SheetOptions,
    drawing_of: Callable[[Path], Drawing],
) -> Order:  # fmt: skip
    """Return how the demands of a job are to be laid: options first, then the shop file.

    Parameters
    ----------
    bench : Bench
        Parts, job, shop.
    demands : tuple of Demand
        How many of each part.
    options : SheetOptions
        What was asked for.
    drawing_of : callable
        Reads the drawing of a left-over piece.
    """
    told, job = bench.shop.sheets, bench.job
    stock = options.stock or _of_the_shop(bench, drawing_of)
    notes: list[str] = []
    if not stock:
        notes.append(
            f"No sheet size given: {USUAL.name} taken, the commonest; give yours with --sheet or"
            " under [sheets]"
        )
    settings, limits = bench.settings, bench.limits
    gap = gap_for(settings, job, limits, *_told(options.gap_mm, told.gap_mm))
    margin = margin_for(settings, job, limits, *_told(options.margin_mm, told.margin_mm))
    effort = EFFORT_S if told.effort_s is None else told.effort_s
    if told.grain is not None:
        notes.append(f"Grain along {told.grain} of the sheet: no part is turned off it")
    return Order(
        bench, demands, stock or (USUAL,), bool(stock), gap, margin,
        Spacing(gap.value_mm, margin.value_mm, told.clamps, told.grain),
        effort if options.effort_s is None else options.effort_s, options.seed, tuple(notes),
        Lies(bench),
    )  # fmt: skip


def _told(option: float | None, shop: float | None) -> tuple[float | None, str]:
    return (option, "as you said") if option is not None else (shop, "your shop file")


def _of_the_shop(bench: Bench, drawing_of: Callable[[Path], Drawing]) -> tuple[Stock, ...]:
    """Return the sheets of this material and thickness; left-over pieces are read now."""
    job = bench.job
    return tuple(
        row.stock if row.stock is not None else _left_over(row, drawing_of)
        for row in bench.shop.sheets.rows
        if row.serves(job.material, job.thickness_mm)
    )


def _left_over(row: StockRow, drawing_of: Callable[[Path], Drawing]) -> Stock:
    """Return the left-over piece a drawing shows: its largest closed line, holes behind it."""
    assert row.drawing is not None
    drawing = drawing_of(row.drawing)
    lines = Contours.join([drawing.sheets, drawing.cuts])
    closed = [k for k in range(len(lines)) if lines.closed[k]]
    if not closed:
        raise InputError(
            "no closed line", where=f"left-over piece {row.drawing}", hint="draw its outline shut"
        )
    closed.sort(key=lambda k: -abs(float(lines.area[k])))
    return Stock.left_over(row.name, lines.take(closed), row.count)
