"""One sheet being filled: for every shape the places on the grid that are still free."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from analyzer.geometry.contours import Bools, Floats
from analyzer.packing.convex import convex_pieces
from analyzer.packing.demand import Spacing
from analyzer.packing.masks import TOUCH, Masks, minkowski, rastered
from analyzer.packing.outward import outward_ring
from analyzer.packing.shapes import Shape
from analyzer.packing.stock import Stock

NOWHERE = -1


@dataclass(frozen=True, eq=False)
class Field:
    """The room of one kind of sheet.

    Attributes
    ----------
    origin : ndarray, shape (2,)
        Where grown shapes may start, on the sheet. [mm]
    size : ndarray, shape (2,)
        Room for grown shapes from there. [mm]
    obstacles : tuple of ndarray
        Convex pieces where no grown shape may reach, from `origin`. [mm]
    """

    origin: Floats
    size: Floats
    obstacles: tuple[Floats, ...] = ()

    @staticmethod
    def of(stock: Stock, spacing: Spacing) -> Field:
        """Return the room of a sheet: less margin and clamps, and what a remnant lacks."""
        inset = spacing.margin_mm - spacing.gap_mm / 2.0
        origin = np.array([inset, inset])
        sheet = np.array([stock.length_mm, stock.width_mm])
        size = np.maximum(sheet - 2.0 * inset, 0.0)
        return Field(origin, size, _obstacles(stock, spacing, origin))


def _obstacles(stock: Stock, spacing: Spacing, origin: Floats) -> tuple[Floats, ...]:
    half = spacing.gap_mm / 2.0
    shapes = []
    for clamp in spacing.clamps:
        low_x, low_y, high_x, high_y = clamp.box(stock.length_mm, stock.width_mm)
        if high_x - low_x > 2.0 * half and high_y - low_y > 2.0 * half:
            # a grown part may reach into the clamp by half the gap: its metal does not
            shapes.append(_inset_box(clamp.side, (low_x, low_y, high_x, high_y), half))
    if stock.outline is not None:
        shapes += _missing(stock, max(spacing.margin_mm - half, 0.0))
    pieces: list[Floats] = []
    for shape in shapes:
        for polygon in shapely.get_parts(shape):
            if polygon.geom_type == "Polygon" and polygon.area > 0.0:
                pieces += [piece - origin for piece in convex_pieces(polygon)]
    return tuple(pieces)


def _inset_box(side: str, box: tuple[float, ...], half: float) -> BaseGeometry:
    """Shrink the clamp by half the gap, but not at the edge of the sheet it sits on."""
    low_x, low_y, high_x, high_y = box
    far = 1000.0
    inner: BaseGeometry = shapely.box(
        low_x - far if side == "left" else low_x + half,
        low_y - far if side == "bottom" else low_y + half,
        high_x + far if side == "right" else high_x - half,
        high_y + far if side == "top" else high_y - half,
    )
    return inner


def _missing(stock: Stock, reach: float) -> list[BaseGeometry]:
    """All around a left-over piece, and its holes, grown by the margin less half the gap."""
    assert stock.outline is not None
    outline = stock.outline
    away = outline.reversed()  # metal of what is missing lies on the other side
    rings = []
    for row in range(len(outline)):
        of_sheet = (outline.area[row] > 0.0) == (row == 0)
        rings.append(outward_ring(away if of_sheet else outline, row, 0.05))
    far = reach + 50.0
    around = shapely.box(-far, -far, stock.length_mm + far, stock.width_mm + far)
    around = shapely.difference(around, shapely.make_valid(Polygon(rings[0])))
    holes = [shapely.make_valid(Polygon(ring)) for ring in rings[1:]]
    missing = shapely.union_all([around, *holes])
    return [missing.buffer(reach, join_style="mitre", mitre_limit=20.0) if reach else missing]


@dataclass(eq=False)
class Board:
    """Free places of every shape; shapes laid so far.

    Attributes
    ----------
    field : Field
    masks : Masks
    laid : list of (shape, column, row)
        In the order they were laid.
    cells : int
        Grid cells written, and
    steps : int
        in how many array steps: the measure of work.
    """

    field: Field
    masks: Masks
    laid: list[tuple[int, int, int]] = dataclasses.field(default_factory=list)
    cells: int = 0
    steps: int = 0

    def __post_init__(self) -> None:
        self._taken: dict[int, Bools] = {}
        self._seen: dict[int, int] = {}
        self._cursor: dict[int, int] = {}

    def grid(self, shape: Shape) -> tuple[int, int]:
        """Return how many places along x and y a shape has on the empty rectangle."""
        room = np.floor((self.field.size - shape.size + TOUCH) / self.masks.cell)
        return int(room[0]) + 1, int(room[1]) + 1

    def taken(self, index: int) -> Bools:
        """Return the places where a shape would meet what is laid, shape (columns, rows)."""
        taken = self._taken.get(index)
        if taken is None:
            taken = self._empty(index)
            self._taken[index] = taken
            self._seen[index] = self._cursor[index] = 0
        fresh = self.laid[self._seen[index] :]
        if len(fresh) > 1:
            self.masks.prepare((other for other, _, _ in fresh), index)
        for other, column, row in fresh:
            self.steps += 1
            self.cells += stamp(taken, self.masks, other, index, column, row)
        self._seen[index] = len(self.laid)
        return taken

    def _empty(self, index: int) -> Bools:
        shape = self.masks.shapes[index]
        columns, rows = self.grid(shape)
        if columns <= 0 or rows <= 0:
            return np.ones((0, 0), bool)
        self.cells += columns * rows
        if not self.field.obstacles:
            return np.zeros((columns, rows), bool)
        sums = minkowski(self.field.obstacles, [-piece for piece in shape.pieces])
        return rastered(sums, self.masks.cell, np.zeros(2, np.int64), (columns, rows))

    def first_free(self, index: int) -> tuple[int, int] | None:
        """Return the free place of a shape with least x, then y; None where there is none."""
        taken = self.taken(index)
        flat = taken.reshape(-1)
        start = self._cursor[index]
        if start == NOWHERE or not len(flat):
            return None
        at = start + int(flat[start:].argmin())
        if flat[at]:
            self._cursor[index] = NOWHERE
            return None
        self._cursor[index] = at
        column, row = divmod(at, taken.shape[1])
        return column, row

    def lay(self, index: int, column: int, row: int) -> None:
        """Lay a shape there."""
        self.laid.append((index, column, row))

    def corner(self, column: int, row: int) -> Floats:
        """Return where on the sheet a place of the grid is. [mm]"""
        return self.field.origin + self.masks.cell * np.array([column, row], float)


def stamp(taken: Bools, masks: Masks, other: int, index: int, column: int, row: int) -> int:
    """Take away the places where shape `index` would meet `other` at a place; cells written."""
    mask = masks.between(other, index)
    x, y = column + mask.first[0], row + mask.first[1]
    m, n = mask.meets.shape
    left, low = max(x, 0), max(y, 0)
    right, high = min(x + m, taken.shape[0]), min(y + n, taken.shape[1])
    if left >= right or low >= high:
        return 0
    taken[left:right, low:high] |= mask.meets[left - x : right - x, low - y : high - y]
    return int((right - left) * (high - low))
