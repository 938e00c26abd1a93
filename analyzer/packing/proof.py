"""Every layout proved, by other means than it was made.

The packer works with grown polygons on a grid; the proof takes the contours as they lie and
measures them: chords within a micrometre first, and where that leaves a doubt, lines and arcs
exactly (`analyzer.geometry.clearance`).  A layout that fails is never returned.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from analyzer.errors import BurrcastError
from analyzer.geometry.clearance import clearances
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout, Placement
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.stock import Stock
from analyzer.parts.part import Part

Solid = NDArray[np.object_]

EXACT = 1e-6
"""Gaps and margins hold to this. [mm]"""

CHORD = 1e-3
"""First look: arcs as chords within this. [mm]"""


class ProofError(BurrcastError):
    """A layout that must not be: our own fault, never the user's."""

    exit_code = 70


def prove(layout: Layout, demands: Sequence[Demand], stock: Stock, spacing: Spacing) -> None:
    """Check one sheet: turns, inside, clear of clamps, gaps.

    Parameters
    ----------
    layout : Layout
    demands : sequence of Demand
        Tell how each part may lie.
    stock : Stock
        The sheet.
    spacing : Spacing

    Raises
    ------
    ProofError
        Naming the copy or the pair.
    """
    for copy, placement in enumerate(layout.placements):
        if not _may_lie(placement, demands, spacing):
            raise ProofError(
                f"copy {copy + 1} ({_name(layout, copy)}) may not lie at {placement.turn_deg:g} "
                f"degrees{', turned over' if placement.mirrored else ''}"
            )
    if not layout.placements:
        return
    outlines = layout.outlines()
    solid = shapely.polygons(_rings(outlines))
    _prove_inside(layout, outlines, solid, stock, spacing)
    _prove_clamps(layout, solid, stock, spacing)
    _prove_gaps(layout, outlines, solid, spacing.gap_mm)


def prove_quantities(
    sheets: Sequence[tuple[Layout, int, int]], parts: Sequence[Part], demands: Sequence[Demand],
    stock: Sequence[Stock], unplaced: Sequence[tuple[int, int]],
) -> None:  # fmt: skip
    """Check that every part asked for is laid or told of, and no sheet used that is not there.

    Parameters
    ----------
    sheets : sequence of (Layout, copies, stock)
    parts, demands, stock
        What was asked.
    unplaced : sequence of (demand, count)

    Raises
    ------
    ProofError
        Naming the part or the sheet.
    """
    balance = np.zeros(len(parts), np.int64)
    for demand in demands:
        balance[demand.part] += demand.quantity
    for row, count in unplaced:
        balance[demands[row].part] -= count
    used = np.zeros(len(stock), np.int64)
    for layout, copies, kind in sheets:
        used[kind] += copies
        rows = np.array([p.part for p in layout.placements], np.int64)
        balance -= copies * np.bincount(rows, minlength=len(parts))
    for row in np.flatnonzero(balance).tolist():
        name = f"part {parts[row].id} (row {row + 1})"
        raise ProofError(f"{name}: {balance[row]} neither laid nor told of")
    for sheet, many in zip(stock, used.tolist(), strict=True):
        if sheet.count is not None and many > sheet.count:
            raise ProofError(f"{many} sheets {sheet.name} are used, there are {sheet.count}")


def _may_lie(placement: Placement, demands: Sequence[Demand], spacing: Spacing) -> bool:
    if spacing.grain is not None:
        along = np.radians(placement.turn_deg - (0.0 if spacing.grain == "x" else 90.0))
        if abs(np.sin(along)) > 1e-9:
            return False
    for demand in demands:
        if demand.part != placement.part or (placement.mirrored and not demand.mirror):
            continue
        if demand.turns is None or any(
            abs((placement.turn_deg - t + 180.0) % 360.0 - 180.0) < 1e-9 for t in demand.turns
        ):
            return True
    return False


def _name(layout: Layout, copy: int) -> str:
    placement = layout.placements[copy]
    part = layout.parts[placement.part]
    return f"part {part.id}, row {placement.part + 1}, at {placement.x:.3f}, {placement.y:.3f}"


def _rings(contours: Contours) -> list[BaseGeometry]:
    return [shapely.linearrings(contours.ring(row, CHORD)) for row in range(len(contours))]


def _prove_inside(
    layout: Layout, outlines: Contours, solid: Solid, stock: Stock, spacing: Spacing
) -> None:
    box = outlines.box
    sheet = np.array([stock.length_mm, stock.width_mm])
    least = np.hstack((box[:, :2], sheet - box[:, 2:])).min(axis=1)
    if stock.outline is not None:
        metal = Polygon(
            stock.outline.ring(0, CHORD),
            [stock.outline.ring(row, CHORD) for row in range(1, len(stock.outline))],
        )
        away = shapely.distance(solid, shapely.boundary(metal)) - 2.0 * CHORD
        close = np.flatnonzero(away < spacing.margin_mm)
        for copy in close.tolist():  # again, lines and arcs exactly
            both = Contours.join([outlines.take([copy]), stock.outline])
            away[copy] = _between(both, 1)
        least = np.minimum(least, np.where(shapely.covers(metal, solid), away, -1.0))
    worst = int(np.argmin(least))
    if least[worst] < spacing.margin_mm - EXACT:
        raise ProofError(
            f"copy {worst + 1} ({_name(layout, worst)}) lies {least[worst]:.6f} mm from the edge "
            f"of sheet {stock.name}; the margin is {spacing.margin_mm:g}"
        )


def _prove_clamps(layout: Layout, solid: Solid, stock: Stock, spacing: Spacing) -> None:
    for clamp in spacing.clamps:
        box = np.array(clamp.box(stock.length_mm, stock.width_mm))
        inner = box + np.array([EXACT, EXACT, -EXACT, -EXACT])
        if not (inner[2:] > inner[:2]).all():
            continue
        hit = np.flatnonzero(shapely.intersects(solid, shapely.box(*inner)))
        if len(hit):
            copy = int(hit[0])
            raise ProofError(f"copy {copy + 1} ({_name(layout, copy)}) lies in the clamp {clamp}")


def _prove_gaps(layout: Layout, outlines: Contours, solid: Solid, gap: float) -> None:
    tree = shapely.STRtree(solid)
    one, other = tree.query(solid, predicate="dwithin", distance=gap + 4.0 * CHORD)
    for a, b in zip(*(v[one < other].tolist() for v in (one, other)), strict=True):
        width = _gap(layout, outlines, solid, a, b, gap)
        if width < gap - EXACT:
            raise ProofError(
                f"copy {a + 1} ({_name(layout, a)}) and copy {b + 1} ({_name(layout, b)}) lie "
                f"{width:.6f} mm apart; the gap is {gap:g}"
            )


def _gap(layout: Layout, outlines: Contours, solid: Solid, a: int, b: int, gap: float) -> float:
    """Metal between two copies, negative where they lie on one another. [mm]"""
    apart = float(shapely.distance(solid[a], solid[b])) - 2.0 * CHORD
    if apart >= gap:
        return apart
    if not _overlap(solid[a], solid[b]):
        return _between(outlines.take([a, b]), 1)
    for host, guest in ((a, b), (b, a)):
        window = _window(layout, solid, host, guest)
        if window is not None:
            return _between(Contours.join([outlines.take([guest]), window]), 1)
    return -1.0


def _overlap(one: BaseGeometry, other: BaseGeometry) -> bool:
    """More than two outlines that touch: chords of arcs that touch may cross by a little."""
    common: float = shapely.intersection(one, other).area
    return bool(common > 2.0 * CHORD * min(one.length, other.length))


def _window(layout: Layout, solid: Solid, host: int, guest: int) -> Contours | None:
    """Return the cut-out of `host` that holds `guest`, and islands of lettering in it."""
    placement = layout.placements[host]
    part = layout.parts[placement.part]
    inner = part.contours.closed & (part.contours.area < 0.0)
    rows = np.flatnonzero(inner)
    if not len(rows):
        return None
    placed = placement.contours(part.contours.take(rows))
    low_x, low_y, high_x, high_y = solid[guest].bounds
    low, high = placed.box[:, :2] - 1.0, placed.box[:, 2:] + 1.0
    holds = (low <= (low_x, low_y)).all(axis=1) & (high >= (high_x, high_y)).all(axis=1)
    for row in np.flatnonzero(holds).tolist():
        hole = Polygon(placed.ring(row, CHORD))
        outside: float = shapely.difference(solid[guest], hole).area
        if outside <= 2.0 * CHORD * solid[guest].length:
            islands = placement.contours(part.contours.take(list(part.islands)))
            return Contours.join([placed.take([row]), islands])
    return None


def _between(contours: Contours, first: int) -> float:
    """Least distance between the first contour and those from `first` on, exactly. [mm]"""
    near = clearances(contours, np.inf)
    across = (near.rows.min(axis=1) < first) & (near.rows.max(axis=1) >= first)
    return float(near.widths[across].min(initial=np.inf))
