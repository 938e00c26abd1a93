"""How near copies lie to one another and to the edge of the sheet, measured exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.geometry.clearance import box_pairs, clearances, contains_points
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.layout.layout import Layout
from analyzer.layout.touching import SAME_LINE, SharedLines, shared_lines

AT_END = 0.1
"""Parts that touch this near to the end of a common line touch at its corner. [mm]"""

REACH = 60.0
"""Gaps wider than this are nobody's concern: wider than any limit at 50 mm plate. [mm]"""


@dataclass(frozen=True, eq=False)
class Spaces:
    """Gaps and margins of one sheet.

    Attributes
    ----------
    copies : ndarray of int, shape (k, 2)
        Placements that lie near one another, low first.
    gaps : ndarray, shape (k,)
        Metal between them; 0 where they touch or cross. [mm]
    gap_at : ndarray, shape (k, 2)
        Middle of the shortest way between them, on the sheet. [mm]
    overlaps : ndarray of bool, shape (k,)
        One lies on the other: some metal would have to be cut for both.
    margins : ndarray, shape (n,)
        From every placement to the edge of the sheet; negative where it sticks out;
        infinite where the sheet is not known. [mm]
    margin_at : ndarray, shape (n, 2)
        Where that is, on the part. [mm]
    shared : SharedLines
        Lines two copies have in common.
    """

    copies: Ints
    gaps: Floats
    gap_at: Floats
    overlaps: Bools
    margins: Floats
    margin_at: Floats
    shared: SharedLines

    @property
    def least_gap(self) -> float:
        """Least gap between copies that share no line; infinite where there is none. [mm]"""
        apart = ~self.joined
        return float(self.gaps[apart].min(initial=np.inf))

    @property
    def least_margin(self) -> float:
        """Least margin; infinite where the sheet is not known or empty. [mm]"""
        return float(self.margins.min(initial=np.inf))

    @property
    def joined(self) -> Bools:
        """Which pairs have a line in common, or touch where one ends, shape (k,).

        Four parts that meet at a corner of their common lines: those across touch there.
        """
        if not len(self.shared) or not len(self.copies):
            return np.zeros(len(self.copies), bool)
        many = int(max(self.copies.max(), self.shared.copies.max())) + 1
        keys = self.shared.copies @ np.array([many, 1])
        found: Bools = np.isin(self.copies @ np.array([many, 1]), keys)
        touch = np.flatnonzero((self.gaps <= SAME_LINE) & ~self.overlaps & ~found)
        ends = np.vstack((self.shared.starts, self.shared.ends))
        if len(touch):
            tree = shapely.STRtree(shapely.points(ends))
            near, line = tree.query(
                shapely.points(self.gap_at[touch]), predicate="dwithin", distance=AT_END
            )
            of_line = np.vstack((self.shared.copies, self.shared.copies))[line]
            own = self.copies[touch[near]]
            ours = (of_line[:, :, None] == own[:, None, :]).any(axis=(1, 2))
            found[touch[near[ours]]] = True
        return found


def spaces_of(layout: Layout, edge: Contours | None = None, reach: float = REACH) -> Spaces:
    """Return gaps and margins of a layout.

    Parameters
    ----------
    layout : Layout
        Copies; a part in a cut-out of another is measured against that cut-out.
    edge : Contours, optional
        Outline of the sheet, first contour; without it the rectangle of the layout's
        length and width, where it has them.
    reach : float
        Gaps wider than this are not listed. [mm]
    """
    outlines = layout.outlines()
    return spaces_between(
        outlines, windows_of(layout, outlines), edge if edge is not None else sheet_edge(layout),
        reach,
    )  # fmt: skip


def sheet_edge(layout: Layout) -> Contours:
    """Return the outline of the layout's sheet, empty where its size is not known."""
    x, y = layout.length_mm, layout.width_mm
    if not (x > 0.0 and y > 0.0):
        return Contours.empty()
    return Contours.from_points([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]])


def spaces_between(
    outlines: Contours, windows: tuple[Contours, Ints], edge: Contours, reach: float = REACH
) -> Spaces:
    """Return gaps and margins of outlines as they lie.

    Parameters
    ----------
    outlines : Contours
        One a copy, counter-clockwise.
    windows : (Contours, ndarray of int)
        Cut-outs with other copies in them, and the copy each is a cut-out of.
    edge : Contours
        Outline of the sheet, or empty.
    reach : float
        Gaps wider than this are not listed. [mm]
    """
    count = len(outlines)
    lines = Contours.join([outlines, windows[0]])
    owner = np.concatenate((np.arange(count), windows[1])).astype(np.int64)
    near = clearances(lines, reach)
    pair = np.sort(owner[near.rows], axis=1)
    keep = np.flatnonzero(pair[:, 0] != pair[:, 1])
    pair, width = pair[keep], near.widths[keep]
    middle = (near.first[keep] + near.second[keep]) / 2.0
    # of several lines of one pair the nearest; a guest and its host's outline among them
    order = np.lexsort((width, pair[:, 1], pair[:, 0]))
    pair, width, middle = pair[order], width[order], middle[order]
    first = np.flatnonzero((np.diff(pair, axis=0, prepend=-1) != 0).any(axis=1))
    pair, width, middle = pair[first], width[first], middle[first]
    margins, at = _margins(outlines, edge)
    shared = shared_lines(outlines)
    over = _overlapping(outlines, windows, pair)
    return Spaces(pair, width, middle, over, margins, at, shared)


def windows_of(layout: Layout, outlines: Contours) -> tuple[Contours, Ints]:
    """Return cut-outs that other copies lie in, where they lie, and the copy each belongs to."""
    box = outlines.box
    host, guest = box_pairs(box, box[:, [0, 1, 0, 1]], 0.0)
    held = (box[host, :2] <= box[guest, :2]) & (box[host, 2:] >= box[guest, 2:])
    within = (host != guest) & held.all(axis=1)
    found: list[Contours] = []
    owner: list[int] = []
    for copy in np.unique(host[within]).tolist():
        placement = layout.placements[copy]
        inner = layout.parts[placement.part].contours
        rows = np.flatnonzero(inner.closed & (inner.area < 0.0))
        placed = placement.contours(inner.take(rows))
        _, hole = box_pairs(box[guest[within & (host == copy)]][:, [0, 1, 0, 1]], placed.box, 0.0)
        hole = np.unique(hole)
        found.append(placed.take(hole))
        owner += [copy] * len(hole)
    return Contours.join(found), np.array(owner, dtype=np.int64)


def _overlapping(outlines: Contours, windows: tuple[Contours, Ints], pair: Ints) -> Bools:
    """Which pairs lie on one another: a point of the one in the metal of the other, or crossing."""
    over = np.zeros(len(pair), bool)
    start = outlines.points_at(outlines.offsets[:-1], np.full(len(outlines), 0.37))
    for one, other in ((0, 1), (1, 0)):
        holds = contains_points(outlines, pair[:, one], start[pair[:, other]])
        if holds.any() and len(windows[0]):  # in a cut-out of it is not on it
            rows = np.flatnonzero(holds)
            at, window = np.nonzero(pair[rows, one][:, None] == windows[1][None, :])
            inside = contains_points(windows[0], window, start[pair[rows[at], other]])
            holds[rows[at[inside]]] = False
        over |= holds
    return over


def _margins(outlines: Contours, edge: Contours) -> tuple[Floats, Floats]:
    """From every outline to the edge of the sheet, and where."""
    count = len(outlines)
    box = outlines.box
    margins = np.full(count, np.inf)
    at = (box[:, :2] + box[:, 2:]) / 2.0
    if not count or not len(edge):
        return margins, at
    edge = edge.take([0])
    sheet = edge.box[0]
    if _is_rectangle(edge):
        sides = np.column_stack((box[:, :2] - sheet[:2], sheet[2:] - box[:, 2:]))
        side = sides.argmin(axis=1)
        every = np.arange(count)
        at = at.copy()
        at[every, side % 2] = box[every, side]
        return sides[every, side], at
    near = clearances(Contours.join([edge, outlines]), np.inf)
    mine = near.rows[:, 0] == 0
    copy = near.rows[mine, 1] - 1
    margins[copy], at[copy] = near.widths[mine], near.second[mine]
    start = outlines.starts[outlines.offsets[:-1]]
    inside = contains_points(edge, np.zeros(count, np.int64), start)
    return np.where(inside, margins, -margins), at


def _is_rectangle(edge: Contours) -> bool:
    box = edge.box[0]
    size = float((box[2:] - box[:2]).prod())
    straight = bool((edge.bulges == 0.0).all())
    return straight and abs(abs(float(edge.area[0])) - size) <= 1e-9 * size
