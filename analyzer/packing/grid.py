"""The grid of places: how fine it is, and fitted to rectangles so that they lie without loss."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.geometry.contours import Floats
from analyzer.packing.board import Field
from analyzer.packing.demand import Demand
from analyzer.packing.masks import TOUCH
from analyzer.packing.shapes import Metal, Shape
from analyzer.packing.stock import Stock

CELLS = 1.1e6
"""Places on the grid of the largest sheet: 2 mm apart on 3000 x 1500."""

LEAST_CELL = 0.5
"""A finer grid gains nothing a laser could keep. [mm]"""

MANY_SHAPES = 150
"""From here on the grid grows coarser, so that time does not grow with the square."""

FINER = 0.8
"""How much finer the grid may be to fit rectangles; work grows with the square. [-]"""

MOST_FITTED = 6
"""Kinds of rectangle the grid is fitted to, those of most metal."""


Way = tuple[Demand, Metal, list[Shape]]
"""What is to be laid: how many, its metal, the ways it may lie."""


def cell_for(stock: Sequence[Stock], shapes: int) -> float:
    """Return the side of the grid: finer on small sheets, coarser for very many shapes. [mm]"""
    area = max(s.length_mm * s.width_mm for s in stock)
    cell = float(np.sqrt(area / CELLS)) * max(1.0, shapes / MANY_SHAPES)
    return max(LEAST_CELL, cell)


def fitted_cell(cell: float, ways: Sequence[Way], fields: Sequence[Field]) -> float:
    """Return a slightly finer grid on which rectangles lie side by side without loss.

    On a grid that does not divide them every copy loses a part of a cell, and rows that just fit
    are lost whole.  Where rectangles are half the order or more, the grid is a fraction of one of
    their sides: the one that lays most rows and columns of them, then that loses least.

    Parameters
    ----------
    cell : float
        The coarsest grid there may be. [mm]
    ways : sequence of (Demand, Metal, list of Shape)
        What is to be laid.
    fields : sequence of Field
        Room of the kinds of sheet.
    """
    area = [demand.quantity * own.grown_area for demand, own, _ in ways]
    square = [k for k, way in enumerate(ways) if area[k] and way[2] and all(map(fills, way[2]))]
    if not square or 2.0 * sum(area[k] for k in square) < sum(area):
        return cell
    most = sorted(square, key=lambda k: -area[k])[:MOST_FITTED]
    sizes = np.array([shape.size for k in most for shape in ways[k][2][:1]])
    weight = np.array([area[k] for k in most])
    sides = sizes.ravel()
    first, last = np.ceil(sides / cell), np.floor(sides / max(FINER * cell, LEAST_CELL))
    parts = [s / np.arange(a, b + 1.0) for s, a, b in zip(sides, first, last, strict=True)]
    cells = np.unique(np.concatenate([[cell], *parts]))[::-1]
    steps = cells[:, None, None] * np.ceil((sizes - TOUCH) / cells[:, None, None])
    rooms = np.array([field.size for field in fields]) + TOUCH
    laid = np.max([_rows(steps, room) for room in rooms], axis=0)
    lost = (steps / sizes - 1.0).sum(axis=2)
    every = np.maximum(np.max([_rows(sizes[None], room) for room in rooms], axis=0), 1.0)
    kept = ((laid / every) @ weight).round(9)
    return float(cells[np.lexsort((lost @ weight, -kept))[0]])


def _rows(steps: Floats, room: Floats) -> Floats:
    """Return how many rectangles lie in rows and columns, laid the one way or the other."""
    along, across = (np.floor(room / side).prod(axis=-1) for side in (steps, steps[..., ::-1]))
    rows: Floats = np.maximum(along, across)
    return rows


def fills(shape: Shape) -> bool:
    """Whether a shape is a rectangle that lies square to the sheet."""
    return bool(shape.polygon.area >= (1.0 - 1e-9) * float(shape.size.prod()))
