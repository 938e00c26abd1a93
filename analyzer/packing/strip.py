"""Parts on one strip of given height, as short as can be: coil, or one long left-over.

The same measure the literature on irregular packing uses, so that ours can be compared with
what is published.  First every part as far left as it goes, then shorter and shorter strips on
which all are pushed apart again (`separate`), at last exact pushes to the left.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.errors import InputError
from analyzer.geometry.contours import Floats
from analyzer.layout.layout import Layout
from analyzer.packing.board import Board, Field
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.improve import HARD_STOP, RATE, Effort
from analyzer.packing.masks import Masks
from analyzer.packing.place import MASK_COST, Work
from analyzer.packing.proof import prove, prove_quantities
from analyzer.packing.separate import Separation, Tables
from analyzer.packing.shapes import Shape, metals, shapes_of
from analyzer.packing.slide import Slider
from analyzer.packing.stock import Stock
from analyzer.parts.part import Part

ROWS = 90
"""Places of the grid across the strip, nearly."""

FIRST_CUT, LEAST_CUT = 0.02, 0.001
"""How much of the strip is cut off at a time, at first and at least. [-]"""

PATIENCE = 60
"""Rounds without progress after which a length is given up for a new start."""

CELL_COST = 4
"""Reading a cell of a depth table costs as much as this many cells of a board (measured)."""

AT_ONCE_S = 5.0
"""Effort one length may take at most; the same whatever is asked for, so that more effort goes
through the same steps and further. [s]"""

PUSH_COST = 75_000
"""One look along a way costs as much as this many cells of a board (measured)."""


@dataclass(frozen=True, eq=False)
class Strip:
    """Parts on a strip, proved.

    Attributes
    ----------
    layout : Layout
        Its length is what is used.
    density : float
        Metal over height times used length. [-]
    first_density : float
        That of the first layout, before the search. [-]
    effort : Effort
    """

    layout: Layout
    density: float
    first_density: float
    effort: Effort


def pack_strip(
    parts: Sequence[Part], demands: Sequence[Demand], height_mm: float, spacing: Spacing,
    *, effort_s: float = 10.0, seed: int = 0,
) -> Strip:  # fmt: skip
    """Lay all parts on one strip, as short as can be.

    Parameters
    ----------
    parts, demands
        As for `pack`; priorities do not count.
    height_mm : float
        Of the strip. [mm]
    spacing : Spacing
        Gap and margin; clamps do not count here.
    effort_s : float
        Counted in work, as for `pack`. [s]
    seed : int

    Raises
    ------
    InputError
        If a part does not fit across the strip, or nothing is asked for.
    """
    began = time.process_time()
    gap, margin = spacing.gap_mm, spacing.margin_mm
    plain = Spacing(gap, margin, (), spacing.grain)
    wide = metals(parts, demands, gap)
    inset = margin - gap / 2.0
    room = height_mm - 2.0 * inset
    shapes: list[Shape] = []
    options: list[tuple[int, ...]] = []
    for row, (metal, demand) in enumerate(zip(wide, demands, strict=True)):
        own = [s for s in shapes_of(metal, row, demand, plain) if s.size[1] <= room + 1e-7]
        if demand.quantity and not own:
            raise InputError(f"part {parts[demand.part].id} does not fit across {height_mm:g} mm")
        rows = tuple(range(len(shapes), len(shapes) + len(own)))
        shapes += own
        options += [rows] * demand.quantity
    if not options:
        raise InputError("there is nothing to lay on the strip")
    search = Search(shapes, options, room, seed)
    clock = search.shorten(effort_s, began)
    placements = [
        shapes[index].placement(demands[shapes[index].demand].part, corner + inset)
        for index, corner in search.pushed
    ]
    layout = Layout(tuple(parts), tuple(placements), 0.0, height_mm)
    used = float(layout.outlines().box[:, 2].max()) + margin
    layout = Layout(tuple(parts), tuple(placements), used, height_mm)
    sheet = Stock("strip", used, height_mm, 1)
    prove(layout, demands, sheet, plain)
    prove_quantities([(layout, 1, 0)], parts, demands, [sheet], [])
    metal_area = sum(shapes[own[0]].area for own in options)
    first = (search.first_length + 2.0 * inset) * height_mm
    effort = Effort(effort_s, search.rounds, search.work.done, clock)
    return Strip(layout, metal_area / (used * height_mm), metal_area / first, effort)


class Search:
    """Shorter and shorter strips.

    Attributes
    ----------
    first_length : float
        Of the first layout. [mm]
    best : tuple
        Shape, column and row of every item of the shortest one found.
    pushed : list of (shape, corner)
        Every item of the shortest after exact pushes, `shortest` long. [mm]
    rounds : int
        Lengths tried.
    work : Work
    """

    def __init__(
        self, shapes: Sequence[Shape], options: Sequence[Sequence[int]], height: float, seed: int
    ) -> None:
        self.shapes, self.options = shapes, options
        self.masks = Masks(shapes, cell_of(shapes, height))
        self.rng = np.random.default_rng(seed)
        self.work, self.rounds = Work(), 1
        self.big = sorted(range(len(options)), key=lambda i: -shapes[options[i][0]].area)
        start = self._first(height)
        masks = MASK_COST * self.masks.cells
        self.work.add(masks)
        self.items = Separation(Tables(self.masks), options, start, 0.0, height, self.rng)
        self.best = self.items.state()
        self.length = self.first_length = self._length()
        self.slider, self.shortest = Slider(shapes), np.inf
        self.pushed: list[tuple[int, Floats]] = []
        self._push()

    def _first(self, height: float) -> list[tuple[int, int, int]]:
        """Lay all, large ones first, as far left as they go."""
        area = sum(self.shapes[own[0]].polygon.area for own in self.options)
        longest = max(float(shape.size[0]) for shape in self.shapes)
        length = 1.5 * area / height + longest
        while True:
            board = Board(Field(np.zeros(2), np.array([length, height])), self.masks)
            start = {item: self._leftmost(board, item) for item in self.big}
            self.work.add(board.cells, board.steps)
            found = [start[item] for item in range(len(self.options))]
            laid = [place for place in found if place is not None]
            if len(laid) == len(found):
                return laid
            length *= 1.5

    def _leftmost(self, board: Board, item: int) -> tuple[int, int, int] | None:
        best = None
        for index in self.options[item]:
            place = board.first_free(index)
            if place is not None:
                end = place[0] * self.masks.cell + float(self.shapes[index].size[0])
                key = (round(end, 6), place[1], index, place[0])
                best = key if best is None else min(best, key)
        if best is None:
            return None
        laid = (best[2], best[3], best[1])
        board.lay(*laid)
        return laid

    def _length(self) -> float:
        return float(
            (self.items.column * self.masks.cell + self.items.size[self.items.shape, 0]).max()
        )

    def shorten(self, effort_s: float, began: float) -> bool:
        """Search until the effort is used up; say whether the clock ended it."""
        budget = self.work.done + effort_s * RATE
        cut, fails = FIRST_CUT, 0
        while self.work.done < budget:
            if time.process_time() - began > HARD_STOP * effort_s + 2.0:
                return True
            self.items.restore(self.best)
            self.items.set_length(self.length * (1.0 - cut))
            if fails:
                self._disturb(1 + fails % 3)
            masks, cells, steps = self.masks.cells, self.items.cells, self.items.steps
            most = min(AT_ONCE_S * RATE, budget - self.work.done)
            apart = self.items.run(int(most), CELL_COST, self.work.per_step, PATIENCE)
            self.work.add(
                CELL_COST * (self.items.cells - cells)
                + MASK_COST * (self.masks.cells - masks), self.items.steps - steps
            )  # fmt: skip
            self.rounds += 1
            if apart:
                self.best, self.length, fails = self.items.state(), self._length(), 0
                self._push()
                continue
            fails += 1
            if fails % 2 == 0:
                cut = max(cut * 0.7, LEAST_CUT)
        return False

    def _disturb(self, times: int) -> None:
        """Let large items change places."""
        if len(self.big) < 2:
            return
        large = self.big[: max(4, len(self.big) // 2)]
        for _ in range(times):
            one, other = self.rng.choice(len(large), 2, replace=False).tolist()
            self.items.swap(large[one], large[other])

    def _push(self) -> None:
        """Push the items left and down from where the grid has them; keep what is shortest."""
        shape, column, row = self.best
        index = shape.tolist()
        steps = self.slider.steps
        at = self.masks.cell * np.column_stack((column, row)).astype(float)
        at = self.slider.push(index, at)
        self.work.add(PUSH_COST * (self.slider.steps - steps), 0)
        length = float((at[:, 0] + self.items.size[shape, 0]).max())
        if length < self.shortest:
            self.shortest, self.pushed = length, list(zip(index, at, strict=True))


def cell_of(shapes: Sequence[Shape], height: float) -> float:
    """Return the side of the grid: that of the drawings where they keep to one, else fine.

    Corners on a grid of their own (1 mm, 0.5 mm) fit without loss only on that grid.
    """
    points = np.concatenate([shapely.get_coordinates(shape.polygon) for shape in shapes])
    wished = height / ROWS
    for unit in (1.0, 0.5, 0.25):
        off = points / unit
        if float(np.abs(off - np.round(off)).max()) < 1e-9:
            return unit / np.ceil(unit / wished) if unit > wished else unit * (wished // unit)
    return wished
