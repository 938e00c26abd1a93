"""Sheets filled one after the other: every part as far left, then as low, as it can lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from analyzer.packing.board import Board, Field
from analyzer.packing.masks import Masks
from analyzer.packing.shapes import Shape

WEIGHTS = (1.0, 0.5, 0.0)
"""What of a part's own length counts when the way it lies is chosen: its right end must be
least, its middle, or its left end."""


CARES = (0.0, 300.0, 1e6)
"""What of the rank of a way to lie counts when it is chosen: none, so much more length that its
right end may reach, or before all else. [mm]"""

MASK_COST = 50
"""A cell of a new mask costs as much as this many cells of a board written (measured)."""


@dataclass(frozen=True, eq=False)
class Shop:
    """All that filling needs to know and never changes.

    Attributes
    ----------
    masks : Masks
        Of all shapes.
    shapes_of : tuple of tuple of int
        The shapes of every demand.
    fields : tuple of Field
        The room of every kind of sheet.
    areas : tuple of float
        Metal of every kind of sheet. [mm^2]
    """

    masks: Masks
    shapes_of: tuple[tuple[int, ...], ...]
    fields: tuple[Field, ...]
    areas: tuple[float, ...]

    @property
    def shapes(self) -> Sequence[Shape]:
        """All shapes."""
        return self.masks.shapes


@dataclass(frozen=True)
class Recipe:
    """In which order and how parts are laid in one round.

    Attributes
    ----------
    lots : tuple of (int, int)
        Demands in the order they are laid, and how many at most each time.
    weight : float
        One of `WEIGHTS`.
    kinds : tuple of int or None
        Kinds of sheet in the order they are used up; None: whichever is filled best.
    care : float
        One of `CARES`.
    """

    lots: tuple[tuple[int, int], ...]
    weight: float = 1.0
    kinds: tuple[int, ...] | None = None
    care: float = 0.0


@dataclass(frozen=True)
class Filled:
    """Sheets laid alike.

    Attributes
    ----------
    kind : int
        Of sheet.
    copies : int
        How many alike.
    laid : tuple of (shape, column, row)
    """

    kind: int
    copies: int
    laid: tuple[tuple[int, int, int], ...]


@dataclass(eq=False)
class Work:
    """Work done, in grid cells: the same on every machine, unlike seconds."""

    done: int = 0
    per_step: int = field(default=12_000, repr=False)

    def add(self, cells: int, steps: int = 1) -> None:
        """Count cells read or written in a number of array steps."""
        self.done += cells + self.per_step * steps


def fill(
    shop: Shop, kind: int, left: Sequence[int], recipe: Recipe, work: Work
) -> tuple[tuple[int, int, int], ...]:
    """Return what one sheet takes of the parts that are left."""
    board = Board(shop.fields[kind], shop.masks)
    remaining = list(left)
    before = shop.masks.cells
    for demand, most in recipe.lots:
        for _ in range(min(most, remaining[demand])):
            if not _lay_one(shop, board, demand, recipe):
                break
            remaining[demand] -= 1
    work.add(board.cells + MASK_COST * (shop.masks.cells - before), board.steps)
    return tuple(board.laid)


def _lay_one(shop: Shop, board: Board, demand: int, recipe: Recipe) -> bool:
    best: tuple[float, int, int] | None = None
    chosen = (0, 0, 0)
    for index in shop.shapes_of[demand]:
        place = board.first_free(index)
        if place is None:
            continue
        shape = shop.shapes[index]
        reach = place[0] * shop.masks.cell + recipe.weight * float(shape.size[0])
        reach += recipe.care * shape.rank
        score = (round(reach, 6), place[1], index)
        if best is None or score < best:
            best, chosen = score, (index, *place)
    if best is None:
        return False
    board.lay(*chosen)
    return True


def solve(
    shop: Shop, left: Sequence[int], counts: Sequence[int | None], recipe: Recipe, work: Work
) -> list[Filled]:
    """Lay all parts that are left onto sheets, until parts or sheets run out.

    Parameters
    ----------
    shop : Shop
    left : sequence of int
        How many of every demand.
    counts : sequence of int or None
        Sheets of every kind; None: any number.
    recipe : Recipe
    work : Work
        Adds what was done.
    """
    remaining, stock = list(left), list(counts)
    sheets: list[Filled] = []
    while any(remaining):
        best = _best_sheet(shop, remaining, stock, recipe, work)
        if best is None:
            break
        kind, laid = best
        used = taken(shop, laid, len(remaining))
        copies = min(have // need for have, need in zip(remaining, used, strict=True) if need)
        if stock[kind] is not None:
            copies = min(copies, stock[kind] or 0)
            stock[kind] = (stock[kind] or 0) - copies
        remaining = [have - copies * need for have, need in zip(remaining, used, strict=True)]
        sheets.append(Filled(kind, copies, laid))
    return sheets


def taken(shop: Shop, laid: Sequence[tuple[int, int, int]], demands: int) -> list[int]:
    """Return how many of every demand lie on a sheet."""
    rows = [shop.shapes[index].demand for index, _, _ in laid]
    counts: list[int] = np.bincount(np.array(rows, np.int64), minlength=demands).tolist()
    return counts


def metal(shop: Shop, laid: Sequence[tuple[int, int, int]]) -> float:
    """Return the metal of what lies on a sheet. [mm^2]"""
    return sum(shop.shapes[index].area for index, _, _ in laid)


def badness(shop: Shop, laid: Sequence[tuple[int, int, int]]) -> float:
    """Return the sum of the ranks of what lies on a sheet. [-]"""
    return sum(shop.shapes[index].rank for index, _, _ in laid)


def reach(shop: Shop, laid: Sequence[tuple[int, int, int]]) -> float:
    """Return how far along x what is laid reaches. [mm]"""
    cell = shop.masks.cell
    return max((c * cell + float(shop.shapes[i].size[0]) for i, c, _ in laid), default=0.0)


def _best_sheet(
    shop: Shop, left: list[int], stock: list[int | None], recipe: Recipe, work: Work
) -> tuple[int, tuple[tuple[int, int, int], ...]] | None:
    """The next sheet: the least that takes all that is left, else the one filled best."""
    kinds = recipe.kinds or range(len(shop.fields))
    found: list[tuple[tuple[float, ...], int, tuple[tuple[int, int, int], ...]]] = []
    for kind in kinds:
        if stock[kind] == 0:
            continue
        laid = fill(shop, kind, left, recipe, work)
        if not laid:
            continue
        if recipe.kinds is not None:
            return kind, laid
        area = shop.areas[kind]
        last = len(laid) == sum(left)
        key = (0.0, area) if last else (1.0, -metal(shop, laid) / area)
        found.append(((*key, float(kind)), kind, laid))
    if not found:
        return None
    _, kind, laid = min(found, key=lambda f: f[0])
    return kind, laid
