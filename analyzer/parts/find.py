"""Contours to parts: what belongs together, what is the same, and its features."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from analyzer.drawing.drawing import Drawing, Fact
from analyzer.geometry.contours import Bools, Contours, Ints
from analyzer.parts.bodies import BEND, MARK, OPEN, Bodies, find_bodies
from analyzer.parts.containment import check_pairs, crossing_contours
from analyzer.parts.corners import find_corners
from analyzer.parts.holes import find_holes, find_slots, round_cut_outs
from analyzer.parts.lettering import lettering_islands
from analyzer.parts.necks import find_necks
from analyzer.parts.part import Corner, Hole, Neck, Part, PartSet, Slot, Web
from analyzer.parts.pen_lines import pen_wide_rings
from analyzer.parts.same import Sames, find_same
from analyzer.parts.symbols import set_symbols_aside
from analyzer.parts.views import views_in_line
from analyzer.parts.webs import find_webs
from analyzer.tolerances import DEFAULT, Tolerances


def find_parts(drawing: Drawing, thickness: float, tolerances: Tolerances = DEFAULT) -> PartSet:
    """Return the parts of a drawing, same ones counted, with their features.

    Symbols are set aside first; then closed contours of even depth bound parts, those of
    odd depth are cut-outs of the part around them.  Open cuts, marks and bends go with
    the part they lie in; open cuts outside every part, or in a cut-out, are `loose`.

    Parameters
    ----------
    drawing : Drawing
        As read.
    thickness : float
        Of the sheet, > 0: it sets how corners and webs are told. [mm]

    Raises
    ------
    DrawingError
        If more contours lie in one another than the limit `pairs` allows, or more parts
        differ than `distinct_parts` does.
    """
    check_pairs(drawing.cuts, drawing.budgets)
    drawing, seen = set_symbols_aside(drawing, thickness, tolerances)
    cuts, held = seen.cuts, seen.held
    islands = lettering_islands(cuts, held, seen.circles)
    bodies = find_bodies(drawing, held, islands, tolerances)
    sames = find_same(bodies, tolerances)
    drawing.budgets.check("distinct_parts", int(sames.part.max(initial=-1)) + 1)
    parts = _parts(bodies, sames, thickness, tolerances)
    loose = cuts.take(np.flatnonzero((bodies.body[: len(cuts)] < 0) & ~cuts.closed))
    facts = (
        *crossing_contours(cuts, tolerances), *_pair_facts(parts), *_island_facts(cuts, islands),
        *views_in_line(drawing, held, parts), *pen_wide_rings(parts),
    )  # fmt: skip
    return PartSet(drawing, parts, loose, facts)


@dataclass(frozen=True, eq=False)
class _Features:
    """Features by part."""

    holes: dict[int, list[Hole]]
    slots: dict[int, list[Slot]]
    corners: dict[int, list[Corner]]
    webs: dict[int, list[Web]]
    necks: dict[int, list[Neck]]


def _parts(
    bodies: Bodies, sames: Sames, thickness: float, tolerances: Tolerances
) -> tuple[Part, ...]:
    """Make a part of the first copy of each, in order of the first copies."""
    rows, begin = bodies.rows_of()
    cut = bodies.kind[rows] <= OPEN
    copies = _copies(rows, begin, cut, sames.part)
    _, first = np.unique(sames.part, return_index=True)
    count = len(first)
    by_part = np.argsort(sames.part, kind="stable")
    turns = np.split(sames.turn[by_part], np.searchsorted(sames.part[by_part], np.arange(1, count)))
    index = np.concatenate([np.arange(begin[b], begin[b + 1]) for b in first] or [rows[:0]])
    owner = np.repeat(np.arange(count), np.diff(begin)[first])
    every, kind = rows[index], bodies.kind[rows[index]]
    cuts = every[kind <= OPEN]
    part = owner[kind <= OPEN]
    at = np.searchsorted(part, np.arange(count + 1))
    name = np.arange(len(cuts)) - at[part]
    contours = bodies.lines.take(cuts)
    island = bodies.islands[cuts]
    features = _features(contours, part, name, thickness, tolerances)
    parts = []
    for k in range(count):
        hand = sames.hand_of.get(k)
        mine = slice(at[k], at[k + 1])
        all_of = slice(*np.searchsorted(owner, (k, k + 1)))
        lines, kinds = every[all_of], kind[all_of]
        parts.append(
            Part(
                f"P{k + 1}", len(copies[k]), None if hand is None else f"P{hand + 1}",
                contours.take(np.arange(at[k], at[k + 1])),
                bodies.lines.take(lines[kinds == MARK]),
                bodies.lines.take(lines[kinds == BEND]),
                tuple(features.holes[k]), tuple(features.slots[k]), tuple(features.corners[k]),
                tuple(features.webs[k]), tuple(copies[k]),
                tuple(name[mine][island[mine]].tolist()), tuple(features.necks[k]),
                tuple(turns[k].tolist()),
            )
        )  # fmt: skip
    return tuple(parts)


def _copies(rows: Ints, begin: Ints, cut: Bools, part: Ints) -> dict[int, list[tuple[int, ...]]]:
    """Rows of the drawing's cuts that make every copy, by part."""
    copies: dict[int, list[tuple[int, ...]]] = defaultdict(list)
    for body, which in enumerate(part.tolist()):
        piece = slice(begin[body], begin[body + 1])
        copies[which].append(tuple(rows[piece][cut[piece]].tolist()))
    return copies


def _features(
    contours: Contours, part: Ints, name: Ints, thickness: float, tolerances: Tolerances
) -> _Features:
    """Find the features of all parts at once; `part` and `name` tell whose row each is."""
    found = _Features(
        defaultdict(list), defaultdict(list), defaultdict(list), defaultdict(list),
        defaultdict(list),
    )  # fmt: skip
    circles = round_cut_outs(contours, tolerances)
    cut_out = np.flatnonzero(contours.area < 0.0)
    round_ones = cut_out[circles.round[cut_out]]
    for row, hole in zip(
        round_ones.tolist(), find_holes(circles, round_ones, name[round_ones]), strict=True
    ):
        found.holes[int(part[row])].append(hole)
    others = cut_out[~circles.round[cut_out]]
    for row, slot in find_slots(contours.take(others), name[others]):
        found.slots[int(part[others[row]])].append(slot)
    bent = np.flatnonzero(~circles.round)
    for row, corners in zip(
        bent.tolist(), find_corners(contours.take(bent), name[bent], thickness), strict=True
    ):
        found.corners[int(part[row])].extend(corners)
    for which, web in find_webs(contours, name, part, thickness, tolerances):
        found.webs[which].append(web)
    for which, neck in find_necks(contours, name, part, thickness):
        found.necks[which].append(neck)
    return found


def _pair_facts(parts: tuple[Part, ...]) -> list[Fact]:
    by_id = {part.id: part for part in parts}
    facts = []
    for part in parts:
        if part.other_hand_of is None:
            continue
        twin = by_id[part.other_hand_of]
        x, y = part.contours.centroid[0].tolist()
        facts.append(
            Fact(
                "left-right-pair",
                f"{twin.id} ({twin.count} drawn) and {part.id} ({part.count} drawn) are left and "
                "right hand of one shape, counted apart: is a pair meant?",
                x, y,
            )
        )  # fmt: skip
    return facts


def _island_facts(cuts: Contours, islands: Ints) -> list[Fact]:
    if not len(islands):
        return []
    where = cuts.centroid[islands]
    words = "the middle of a letter drops" if len(islands) == 1 else "the middles of letters drop"
    return [
        Fact("islands-fall-out", f"{words}: bridges, or a mark layer", float(x), float(y))
        for x, y in where.tolist()
    ]
