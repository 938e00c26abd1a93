"""Parts onto sheets: the whole packing, proved before it is returned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.errors import InputError
from analyzer.layout.layout import Layout
from analyzer.packing.board import Field
from analyzer.packing.bounds import Asked, Bounds, bounds_of
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.grid import Way, cell_for, fills, fitted_cell
from analyzer.packing.improve import Ask, Effort, improved
from analyzer.packing.masks import TOUCH, Masks
from analyzer.packing.place import Filled, Shop, Work, metal, taken
from analyzer.packing.proof import prove, prove_quantities
from analyzer.packing.shapes import Metal, Ranking, Shape, metals, shapes_of
from analyzer.packing.slide import FEW, Slider
from analyzer.packing.stock import Stock
from analyzer.parts.part import Part


@dataclass(frozen=True, eq=False)
class PackedSheet:
    """Sheets laid alike.

    Attributes
    ----------
    layout : Layout
    copies : int
        How many alike.
    stock : int
        Which of the stock.
    used_length_mm : float
        From the left edge of the sheet to the rightmost metal. [mm]
    use : float
        Metal of the parts over metal of the sheet. [-]
    """

    layout: Layout
    copies: int
    stock: int
    used_length_mm: float
    use: float


@dataclass(frozen=True)
class Unplaced:
    """Parts that were not laid: which demand, how many, and why."""

    demand: int
    count: int
    reason: str


@dataclass(frozen=True, eq=False)
class Packing:
    """All sheets of one order.

    Attributes
    ----------
    sheets : tuple of PackedSheet
        Every one proved.
    unplaced : tuple of Unplaced
    bounds : Bounds
        How few sheets could do.
    effort : Effort
    best_ranks : tuple of (float, float)
        Of every demand, the rank of the best way it may lie, and of the best that fits on a
        sheet (infinite where none does). [-]
    """

    sheets: tuple[PackedSheet, ...]
    unplaced: tuple[Unplaced, ...]
    bounds: Bounds
    effort: Effort
    best_ranks: tuple[tuple[float, float], ...] = ()

    @property
    def sheet_count(self) -> int:
        """Sheets, copies counted."""
        return sum(sheet.copies for sheet in self.sheets)

    @property
    def use(self) -> float:
        """Metal of the parts over metal of the sheets used. [-]"""
        sheets = sum(s.copies * s.layout.length_mm * s.layout.width_mm for s in self.sheets)
        metal = sum(s.copies * s.use * s.layout.length_mm * s.layout.width_mm for s in self.sheets)
        return metal / sheets if sheets else 0.0


def pack(
    parts: Sequence[Part], demands: Sequence[Demand], stock: Sequence[Stock], spacing: Spacing,
    *, effort_s: float = 5.0, seed: int = 0, ranking: Ranking | None = None,
) -> Packing:  # fmt: skip
    """Lay parts onto sheets.

    Parameters
    ----------
    parts : sequence of Part
        In the axes of their drawings.
    demands : sequence of Demand
        Which of them, how many, how they may lie.
    stock : sequence of Stock
        Kinds of sheet there are.
    spacing : Spacing
        Gap, margin, clamps, grain.
    effort_s : float
        How long to search for better packings after the first.  It is counted in work,
        not by the clock, so that the same seed gives the same sheets; the clock only ends
        what takes more than four times as long, and `effort` says so. [s]
    seed : int
        Of the search.
    ranking : callable, optional
        How bad each way to lie is; better ones are taken where that costs no sheet.

    Returns
    -------
    Packing
        Every sheet of it proved by `prove`.

    Raises
    ------
    InputError
        If there is no stock, a demand names no part, or the effort cannot be meant.

    Examples
    --------
    >>> from analyzer.geometry.contours import Contours
    >>> from analyzer.packing.bare import bare_part
    >>> plate = bare_part(Contours.from_points([[0, 0], [100, 0], [100, 50], [0, 50]]))
    >>> found = pack([plate], [Demand(0, 3)], [Stock("s", 200, 200, 1)], Spacing(5, 10),
    ...              effort_s=0)
    >>> found.sheet_count, len(found.sheets[0].layout.placements), found.unplaced
    (1, 3, ())
    """
    _check(parts, demands, stock, effort_s)
    shop, ask, ways = _set_up(parts, demands, stock, spacing, ranking)
    work = Work()
    fitting, reasons = _fitting(shop, ask, stock, spacing, [own for _, own, _ in ways])
    asked = Ask(fitting, ask.counts, ask.spans)
    sheets, effort = improved(shop, asked, effort_s, seed, work)
    slider = Slider(shop.shapes) if effort_s > 0.0 else None
    packed = tuple(_packed(parts, demands, stock, shop, slider, sheet) for sheet in sheets)
    for sheet in packed:
        prove(sheet.layout, demands, stock[sheet.stock], spacing)
    laid = _laid(shop, sheets, len(demands))
    unplaced = _unplaced(demands, laid, reasons, _all_used(stock, sheets))
    prove_quantities([(s.layout, s.copies, s.stock) for s in packed], parts, demands, stock,
                     [(u.demand, u.count) for u in unplaced])  # fmt: skip
    bounds = bounds_of(
        [_asked(*way, many) for way, many in zip(ways, laid, strict=True)],
        [f for f, c in zip(shop.fields, ask.counts, strict=True) if c != 0],
        [a for a, c in zip(shop.areas, ask.counts, strict=True) if c != 0],
    )
    ranks = tuple(_best_ranks(way[2], shop.fields) for way in ways)
    return Packing(packed, unplaced, bounds, effort, ranks)


def _check(
    parts: Sequence[Part], demands: Sequence[Demand], stock: Sequence[Stock], effort_s: float
) -> None:
    if not stock:
        raise InputError("there is no sheet to lay parts on", hint="give a size such as 3000x1500")
    for demand in demands:
        if not 0 <= demand.part < len(parts):
            raise InputError(f"part {demand.part} of {len(parts)} parts is asked for")
    if not 0.0 <= effort_s <= 86_400.0:
        raise InputError(f"an effort of {effort_s:g} s cannot be meant", hint="0 to a day")


def _set_up(
    parts: Sequence[Part], demands: Sequence[Demand], stock: Sequence[Stock], spacing: Spacing,
    ranking: Ranking | None,
) -> tuple[Shop, Ask, list[Way]]:  # fmt: skip
    wide = metals(parts, demands, spacing.gap_mm)
    ways = [
        (demand, own, shapes_of(own, row, demand, spacing, ranking))
        for row, (demand, own) in enumerate(zip(demands, wide, strict=True))
    ]
    shapes = [shape for way in ways for shape in way[2]]
    ends = np.cumsum([len(way[2]) for way in ways], dtype=int).tolist()
    rows = tuple(tuple(range(e - len(w[2]), e)) for e, w in zip(ends, ways, strict=True))
    fields = tuple(Field.of(s, spacing) for s in stock)
    cell = cell_for(stock, len(shapes))
    masks = Masks(shapes, fitted_cell(cell, ways, fields))
    boxes = [parts[d.part].contours.box[0] for d in demands]
    sides = [sorted((float(b[2] - b[0]), float(b[3] - b[1]))) for b in boxes]
    spans = tuple((m.area, s[1], s[0]) for m, s in zip(wide, sides, strict=True))
    shop = Shop(masks, rows, fields, tuple(s.area_mm2 for s in stock))
    return shop, Ask(tuple(demands), tuple(s.count for s in stock), spans), ways


def _fitting(
    shop: Shop, ask: Ask, stock: Sequence[Stock], spacing: Spacing, wide: Sequence[Metal]
) -> tuple[tuple[Demand, ...], dict[int, str]]:
    """Demands with those set to none that fit on no sheet at all, and why."""
    fitting, reasons = [], {}
    for row, demand in enumerate(ask.demands):
        reason = _why_not(shop, row, ask, stock, spacing, wide[row])
        if reason:
            reasons[row] = reason
            demand = Demand(demand.part, 0, demand.turns, demand.mirror, demand.priority)
        fitting.append(demand)
    return tuple(fitting), reasons


def _why_not(
    shop: Shop, row: int, ask: Ask, stock: Sequence[Stock], spacing: Spacing, wide: Metal
) -> str:
    if not shop.shapes_of[row]:
        return f"none of its turns lies along the grain ({spacing.grain})"
    sizes = np.array([shop.shapes[i].size for i in shop.shapes_of[row]])
    rooms = np.array([f.size for f in shop.fields]) + TOUCH
    if (sizes[:, None] <= rooms[None]).all(axis=2).any():
        return ""
    long, short = ask.spans[row][1:]
    largest = max(stock, key=lambda s: s.area_mm2)
    length, width = (s - 2 * spacing.margin_mm for s in (largest.length_mm, largest.width_mm))
    if min(length, width) <= 0.0:
        return f"the margins of {spacing.margin_mm:g} mm leave no room on {largest.name}"
    free = replace(ask.demands[row], turns=None)
    turned = shapes_of(wide, row, free, replace(spacing, grain=None))
    if (np.array([s.size for s in turned])[:, None] <= rooms[None]).all(axis=2).any():
        return "turned as it may be it fits on no sheet; turned freely it would (turns free" + (
            ", off the grain)" if spacing.grain else ")"
        )
    return (
        f"larger than every sheet: {long:.0f} x {short:.0f} mm as drawn; the largest, "
        f"{largest.name}, leaves {length:.0f} x {width:.0f} mm inside its margins"
    )


def _packed(
    parts: Sequence[Part], demands: Sequence[Demand], stock: Sequence[Stock], shop: Shop,
    slider: Slider | None, sheet: Filled,
) -> PackedSheet:  # fmt: skip
    """Leave the grid: every part pushed left and down by exact lengths (not for effort 0)."""
    room = shop.fields[sheet.kind]
    index = [shape for shape, _, _ in sheet.laid]
    places = np.array([(column, row) for _, column, row in sheet.laid], float)
    corners = shop.masks.cell * places
    if slider is not None:
        corners = slider.push(index, corners, room.obstacles, FEW)
    placements = [
        shop.shapes[i].placement(demands[shop.shapes[i].demand].part, corner + room.origin)
        for i, corner in zip(index, corners, strict=True)
    ]
    kind = stock[sheet.kind]
    layout = Layout(tuple(parts), tuple(placements), kind.length_mm, kind.width_mm)
    used = float(layout.outlines().box[:, 2].max())
    return PackedSheet(
        layout, sheet.copies, sheet.kind, used, metal(shop, sheet.laid) / kind.area_mm2
    )


def _laid(shop: Shop, sheets: Sequence[Filled], demands: int) -> list[int]:
    total = [0] * demands
    for sheet in sheets:
        used = taken(shop, sheet.laid, demands)
        total = [t + sheet.copies * u for t, u in zip(total, used, strict=True)]
    return total


def _all_used(stock: Sequence[Stock], sheets: Sequence[Filled]) -> bool:
    used = [0] * len(stock)
    for sheet in sheets:
        used[sheet.kind] += sheet.copies
    return all(
        kind.count is not None and many >= kind.count
        for kind, many in zip(stock, used, strict=True)
    )


def _unplaced(
    demands: Sequence[Demand], laid: Sequence[int], reasons: dict[int, str], all_used: bool
) -> tuple[Unplaced, ...]:
    why = "the sheets in stock are used up" if all_used else "no room on any sheet that is left"
    return tuple(
        Unplaced(row, demand.quantity - many, reasons.get(row, why))
        for row, (demand, many) in enumerate(zip(demands, laid, strict=True))
        if demand.quantity > many
    )


def _best_ranks(shapes: Sequence[Shape], fields: Sequence[Field]) -> tuple[float, float]:
    rooms = np.array([field.size for field in fields]) + TOUCH
    fitting = [s.rank for s in shapes if (s.size <= rooms).all(axis=1).any()]
    return min((s.rank for s in shapes), default=np.inf), min(fitting, default=np.inf)


def _asked(demand: Demand, own: Metal, ways: Sequence[Shape], many: int) -> Asked:
    square = bool(ways) and demand.turns is not None and all(map(fills, ways))
    sizes = np.array([shape.size for shape in ways]) if square else None
    return Asked(many, own.area, own.grown_area, sizes)
