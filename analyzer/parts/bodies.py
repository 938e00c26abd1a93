"""Copies of parts as drawn: an outline with all that lies in it, before same ones are counted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.drawing.drawing import Drawing
from analyzer.geometry.contours import Bools, Contours, Ints
from analyzer.parts.containment import Containment, middles, smallest_around
from analyzer.tolerances import Tolerances

CUT, OPEN, MARK, BEND = 0, 1, 2, 3
"""Kinds of lines: closed cut, open cut, mark, bend."""


@dataclass(frozen=True, eq=False)
class Bodies:
    """Every copy of every part in a drawing, in order of their lower left corners (y, then x).

    Attributes
    ----------
    lines : Contours
        Cut contours of the drawing (outlines counter-clockwise, cut-outs clockwise), then
        its marks, then its bends.
    kind : ndarray of int, shape (n,)
        CUT, OPEN, MARK or BEND.
    body : ndarray of int, shape (n,)
        The copy a line belongs to; -1 where it belongs to none.
    outline : ndarray of int, shape (b,)
        Row of every copy's outline.
    islands : ndarray of bool, shape (n,)
        Closed contours inside a cut-out that fall out with its slug: no parts.
    """

    lines: Contours
    kind: Ints
    body: Ints
    outline: Ints
    islands: Bools

    def rows_of(self) -> tuple[Ints, Ints]:
        """Return rows sorted by copy (outline first, then by kind), and where each copy begins."""
        mine = np.flatnonzero(self.body >= 0)
        first = np.zeros(len(self.kind), bool)
        first[self.outline] = True
        order = mine[np.lexsort((mine, self.kind[mine], ~first[mine], self.body[mine]))]
        return order, np.searchsorted(self.body[order], np.arange(len(self.outline) + 1))


def find_bodies(
    drawing: Drawing, held: Containment, islands: Ints, tolerances: Tolerances
) -> Bodies:
    """Return the copies: closed contours of even depth with what lies directly in them.

    `islands` are rows of closed cuts that are counted to the part around them.
    """
    cuts = drawing.cuts
    closed = cuts.closed
    island = np.zeros(len(cuts), bool)
    island[islands] = True
    even = held.depth % 2 == 0
    # where contours cross, a cut-out may lie in another one: it bounds metal then
    even |= (held.parent >= 0) & ~even[held.parent] & ~even & closed
    outline = np.flatnonzero(closed & even & ~island)
    corner = np.round(cuts.box[outline][:, :2], 6)
    outline = outline[np.lexsort((corner[:, 0], corner[:, 1]))]
    label = np.full(len(cuts) + 1, -1)  # one more, so that parent -1 finds -1
    label[outline] = np.arange(len(outline))
    body = label[:-1].copy()
    inside = np.flatnonzero(~(closed & even) | island)
    parent = held.parent[inside]
    above = np.where(island[inside], held.parent[parent], parent)
    body[inside] = label[above]
    wanted = np.where(closed & even & ~island, 1.0, -1.0)
    turn = closed & (np.sign(cuts.area) != wanted)
    both = Contours.join([cuts, cuts.reversed()])
    oriented = both.take(np.arange(len(cuts)) + len(cuts) * turn)
    others = [
        _holders(drawing.marks, cuts, label, held, tolerances),
        _holders(drawing.bends, cuts, label, held, tolerances),
    ]
    kinds = (
        np.where(closed, CUT, OPEN), np.full(len(drawing.marks), MARK),
        np.full(len(drawing.bends), BEND),
    )  # fmt: skip
    return Bodies(
        Contours.join([oriented, drawing.marks, drawing.bends]),
        np.concatenate(kinds),
        np.concatenate((body, *others)),
        outline,
        np.concatenate((island, np.zeros(len(drawing.marks) + len(drawing.bends), bool))),
    )


def _holders(
    lines: Contours, cuts: Contours, label: Ints, held: Containment, tolerances: Tolerances
) -> Ints:
    """The copy whose outline holds most of five points of every line; -1 for none.

    A bend line may run across a cut-out of its own part, so cut-outs do not count.
    """
    count = len(lines)
    if not count or not len(cuts):
        return np.full(count, -1)
    votes: list[Ints] = []
    for share in (0.5, 0.03, 0.25, 0.75, 0.97):
        parent = smallest_around(cuts, middles(lines, share), tolerances)
        while (lost := (parent >= 0) & (label[parent] < 0)).any():
            parent = np.where(lost, held.parent[parent], parent)
        votes.append(label[parent])
    table = np.array(votes)
    agree = (table[:, None, :] == table[None, :, :]).sum(axis=1)
    agree = np.where(table >= 0, agree, 0)
    chosen: Ints = table[agree.argmax(axis=0), np.arange(count)]
    return chosen
