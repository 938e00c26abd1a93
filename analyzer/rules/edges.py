"""Rules about edges: hand work to expect by the burr forecast."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.effects.evidence import Evidence
from analyzer.geometry.contours import Floats
from analyzer.process.burr import class_words, round_class
from analyzer.process.rework import least_class_off
from analyzer.rules.hole_floors import hole_levels
from analyzer.rules.rule import Draft, Place, Rule
from analyzer.rules.scene import NOTHING, Case
from analyzer.rules.slots import slot_levels
from analyzer.rules.wording import across_words, edge_length
from analyzer.units import counted

SMALL = "small contour"


def edges_burr(case: Case) -> Iterator[Draft]:
    """Edges of class 2 and more outside small contours: one line per part and gas."""
    row = case.limit("edge-burrs")
    if row is None:
        return
    least = case.scene.constant("edge-burrs", "least_mm") / 1000.0
    for one in case.evidence:
        metres = _large_metres(one, row["class"])
        bad = np.arange(metres.shape[1]) >= row["class"]
        by_class = metres.sum(axis=0)
        if by_class[bad].sum() < least:
            continue
        # the worst class that reaches the least length, so that a start point does not decide
        worst = int(np.flatnonzero(bad & (by_class[::-1].cumsum()[::-1] >= least)).max())
        yield _edges_draft(case, one, worst, float(by_class[bad].sum()), row["class"], metres)


def _large_metres(one: Evidence, limit: float) -> Floats:
    """Return the metres by class of all contours that are not small, shape (n, 4).

    Where straight edges are better than the limit, only of contours with a stretch that is told:
    the fractions of a millimetre at which the head starts and ends add up to none.
    """
    metres = one.edges.metres.copy()
    metres[[spot.row for spot in one.edges.spots if spot.cause == SMALL]] = 0.0
    if int(round_class(one.edges.base_class)) < limit:
        told = np.zeros(len(metres), dtype=bool)
        told[[spot.row for spot in one.edges.spots]] = True
        metres[~told] = 0.0
    return metres


def _edges_draft(
    case: Case, one: Evidence, worst: int, metres: float, limit: float, by_row: Floats
) -> Draft:
    straight = int(round_class(one.edges.base_class))
    everywhere = straight >= limit
    if everywhere:
        places = _first_points(one, by_row, limit)
        where = f"{edge_length(metres)} of edge"
        number = len(places)
    else:
        slow = [s for s in one.edges.spots if s.cause != SMALL]
        places = tuple((spot.x, spot.y) for spot in slow)
        where = f"{edge_length(metres)} of edge where the head is slow"
        number = len(places)
    return Draft(
        "rework", one.part.id, places, float(worst), limit, "burr class",
        f"{where}: burr class {worst} in {case.gas_words} ({class_words(worst)}).",
        _left(case, worst) or f"{_tool(worst)} the lower edge; take the time into the offer.",
        number,
    )  # fmt: skip


def _first_points(one: Evidence, by_row: Floats, limit: float) -> tuple[Place, ...]:
    """Return the start of every contour with such an edge, the longest edge first."""
    contours = one.part.contours
    lengths = by_row[:, int(limit) :].sum(axis=1)
    rows = np.flatnonzero(lengths > 0.0)
    rows = rows[np.lexsort((rows, -lengths[rows]))]
    return tuple((x, y) for x, y in contours.starts[contours.offsets[rows]].tolist())


def _left(case: Case, worst: int) -> str:
    """Say that this burr is left as cut before the next step told; empty where it comes off."""
    if worst >= least_class_off(case.job.next_step):
        return ""
    return f"Left as cut with no next step; {_tool(worst).lower()} it where hands or eyes meet it."


def _tool(burr_class: int) -> str:
    """Return the verb for a burr class."""
    return "Grind" if burr_class >= 3 else "Brush or belt"


def small_contours_burr(case: Case) -> Iterator[Draft]:
    """Small contours that burr worse than the straight edges: one line per part and gas.

    Holes and slots that are too small for the gas are said there, not here again.
    """
    row = case.limit("small-contour-burrs")
    if row is None:
        return
    said = _said_already(case)
    for index, one in enumerate(case.evidence):
        spots = [
            spot
            for spot in one.edges.spots
            if spot.cause == SMALL
            and spot.burr_class >= row["class"]
            and (index, spot.row) not in said
        ]
        if spots:
            rows = [spot.row for spot in spots]
            contours = one.part.contours
            across = 4.0 * np.abs(contours.area[rows]) / contours.length[rows]
            worst = max(spot.burr_class for spot in spots)
            yield Draft(
                "rework", one.part.id, tuple((spot.x, spot.y) for spot in spots),
                float(worst), row["class"], "burr class",
                f"{counted(len(spots), 'small contour')} "
                f"{across_words(across)}: "
                f"burr class {worst} in {case.gas_words} ({class_words(worst)}).",
                _left(case, worst)
                or f"{_tool(worst)} the lower edge there, scraper in the holes.",
                len(spots),
            )  # fmt: skip


def _said_already(case: Case) -> set[tuple[int, int]]:
    """Return part and contour of every hole and slot that has a finding of its own."""
    said: set[tuple[int, int]] = set()
    for table, levels in (
        (case.scene.holes, hole_levels(case)),
        (case.scene.slots, slot_levels(case)),
    ):
        index = np.flatnonzero(levels > NOTHING)
        said.update(zip(table.part[index].tolist(), table.row[index].tolist(), strict=True))
    return said


RULES = (
    Rule(
        name="edge-burrs",
        group="edges",
        kind="process",
        question="How much edge needs a brush, a belt or a grinder?",
        why=(
            "Burr is melt that froze at the lower edge. It grows with thickness in nitrogen "
            "and air, with a poor plate, and where the head is slow; oxygen and mixed gas "
            "burr little. Classes: 0 none, 1 wipes off, 2 brush or belt, 3 grinder."
        ),
        remedy="Plan the hand work, or choose a gas that burrs less.",
        example="1.35 m of edge: burr class 2 in nitrogen (brush or belt).",
        asks_change=False,
        on_gas=edges_burr,
    ),
    Rule(
        name="small-contour-burrs",
        group="edges",
        kind="process",
        question="Do holes and other small contours burr worse than straight edges?",
        why=(
            "On a contour less than three thicknesses across the head never reaches its set "
            "speed and the sheet stays hot: one burr class more, in mixed gas none."
        ),
        remedy="Scrape the holes by hand, or choose mixed gas.",
        example="4 small contours 9 across: burr class 2 in nitrogen (brush or belt).",
        asks_change=False,
        on_gas=small_contours_burr,
    ),
)
