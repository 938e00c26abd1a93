"""What is drawn among the cuts but is no cut: set aside as a question, never in silence.

What drawings mean by it is common practice, no source: thread symbols, countersink
rings, centre marks, edge views.  Each fact names both readings.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from analyzer.drawing.drawing import CUT_FOR_NOW, Drawing, Fact
from analyzer.geometry.circles import Circles
from analyzer.geometry.clearance import box_pairs
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.parts.centre_marks import centre_marks
from analyzer.parts.containment import Containment, find_containment, polygons_of
from analyzer.parts.frames import SHEET, surrounding
from analyzer.parts.holes import round_cut_outs
from analyzer.parts.threads import threads, threads_in
from analyzer.tolerances import DEFAULT, Tolerances

CONCENTRIC = 0.05
"""Centres of circles drawn about one centre agree within this. [mm]"""

RING_RATIO, RING_DIAMETER = 2.5, 60.0
"""A countersink or counterbore is at most so much wider than its hole [-], and so wide [mm]."""

SPECK_EXTENT, SPECK_AREA = 0.5, 0.2
"""A closed contour smaller than either [mm, mm^2] is hardly meant."""

FRAMES = 3
"""The edge of the paper, the frame and a sheet may lie in each other."""

BESIDE = 50.0
"""A note within this of a hole, or five diameters, stands beside it. [mm]"""


@dataclass(frozen=True, eq=False)
class Seen:
    """The cuts of a drawing as the search for symbols sees them."""

    cuts: Contours
    circles: Circles
    held: Containment

    @property
    def holes(self) -> Ints:
        """Rows of round cut-outs."""
        return np.flatnonzero(self.circles.round & (self.held.depth % 2 == 1))

    def diameter(self, row: int) -> float:
        """Diameter of the circle at `row`. [mm]"""
        return 2.0 * float(self.circles.radius[row])


@dataclass(frozen=True)
class Aside:
    """Contours set aside for one reason, with a fact for each or for all."""

    rows: tuple[int, ...]
    reason: str
    facts: tuple[Fact, ...]


def set_symbols_aside(
    drawing: Drawing, thickness: float, tolerances: Tolerances = DEFAULT
) -> tuple[Drawing, Seen]:
    """Return the drawing without what is no cut, with facts that ask, and its cuts as seen.

    Steps: contours without area; frames and sheets around everything; thread symbols,
    countersink rings and centre marks; then edge views, for which the symbols must be gone.
    """
    drawing = _apply(drawing, [_without_area(drawing.cuts)])
    seen = _look(drawing, tolerances)
    for _ in range(FRAMES):
        found = surrounding(seen.cuts, seen.held, seen.circles)
        if found is None:
            break
        row, reason, fact = found
        if not reason:
            drawing = _apply(drawing, [Aside((), "", (fact,))])
            break
        if reason == SHEET:
            drawing = drawing.sheet_aside(row, reason, fact)
        else:
            drawing = drawing.set_aside([row], reason, [fact])
        seen = _look(drawing, tolerances, seen)
    searches: tuple[Callable[[Seen], Aside], ...] = (thread_symbols, rings, _centre_marks)
    drawing = _apply(drawing, [search(seen) for search in searches])
    seen = _look(drawing, tolerances, seen)
    facts = (*_specks(seen), *stepped_holes(seen), *thread_notes(drawing, seen))
    views, doubts = edge_views(seen, thickness)
    drawing = _apply(drawing, [views, Aside((), "", (*facts, *doubts))])
    return drawing, _look(drawing, tolerances, seen)


def _look(drawing: Drawing, tolerances: Tolerances, before: Seen | None = None) -> Seen:
    if before is not None and len(before.cuts) == len(drawing.cuts):
        return before  # nothing was set aside
    held = find_containment(drawing.cuts, tolerances)
    return Seen(drawing.cuts, round_cut_outs(drawing.cuts, tolerances), held)


def _apply(drawing: Drawing, found: list[Aside]) -> Drawing:
    """Set all rows aside; the rows of each are those of the drawing given."""
    gone = np.zeros(0, np.int64)
    for one in found:
        rows = np.setdiff1d(np.array(one.rows, np.int64), gone)
        if len(rows) or one.facts:
            now = rows - np.searchsorted(gone, rows)
            drawing = drawing.set_aside(now.tolist(), one.reason, one.facts)
        gone = np.union1d(gone, rows)
    return drawing


def _fact(kind: str, message: str, point: Floats, sort: str = "") -> Fact:
    return Fact(kind, message, float(point[0]), float(point[1]), sort=sort)


# --- what has no area -------------------------------------------------------


def _without_area(cuts: Contours) -> Aside:
    rows = np.flatnonzero(cuts.closed & (np.abs(cuts.area) <= 1e-6 * cuts.length))
    # one that crosses itself may enclose as much on the left as on the right
    enclosed = shapely.area(shapely.make_valid(polygons_of(cuts.take(rows), 1e-4)))
    rows = rows[enclosed <= 1e-6 * cuts.length[rows]]
    middle = (cuts.box[:, :2] + cuts.box[:, 2:]) / 2.0
    facts = tuple(
        _fact(
            "speck",
            f"closed contour {cuts.length[row]:.4g} mm around without area: not cut; "
            "a slit would be drawn as one open line",
            middle[row],
        )
        for row in rows.tolist()
    )
    return Aside(tuple(rows.tolist()), "closed contour without area", facts)


def _specks(seen: Seen) -> list[Fact]:
    cuts = seen.cuts
    side = cuts.box[:, 2:] - cuts.box[:, :2]
    extent = side.max(axis=1, initial=0.0)
    area = np.abs(cuts.area)
    thin = (area < SPECK_AREA) & (area > 1e-6 * cuts.length)  # none at all: it crosses itself
    small = cuts.closed & ((extent < SPECK_EXTENT) | thin)
    return [
        _fact(
            "speck",
            f"closed contour {side[row, 0]:.3g} x {side[row, 1]:.3g} mm: cut as drawn; "
            "is it meant?",
            cuts.centroid[row],
        )
        for row in np.flatnonzero(small).tolist()
    ]


# --- circles about one centre -------------------------------------------------


def thread_symbols(seen: Seen) -> Aside:
    """Return open arcs of about three quarters about the centre of a hole."""
    centre, radius, rows = _open_arcs(seen.cuts)
    holes = seen.holes
    i, j = _near(centre, seen.circles.centre[holes], CONCENTRIC)
    ratio = radius[i] / seen.circles.radius[holes[j]]
    fits = (ratio > 0.6) & (ratio < 1.7) & (np.abs(ratio - 1.0) > 0.01)
    best: dict[int, int] = {}
    for arc, hole in zip(i[fits].tolist(), holes[j[fits]].tolist(), strict=True):
        gap = abs(radius[arc] - seen.circles.radius[hole])
        if arc not in best or gap < abs(radius[arc] - seen.circles.radius[best[arc]]):
            best[arc] = hole
    facts = tuple(
        _fact(
            "symbol-not-cut",
            f"arc of radius {radius[arc]:.4g} around hole {seen.diameter(hole):.4g}: "
            f"{_thread_words(2.0 * radius[arc], seen.diameter(hole))}, so not cut; "
            "or is it a slit?",
            centre[arc],
        )
        for arc, hole in best.items()
    )
    return Aside(tuple(int(rows[arc]) for arc in best), "thread symbol, not a cut", facts)


def _thread_words(nominal: float, hole: float) -> str:
    for thread in threads().values():
        if abs(thread.nominal - nominal) < 0.06 and abs(thread.drill - hole) < 0.31:
            return f"the symbol of a thread ({thread.name}, tap drill {thread.drill:g})"
    return "the symbol of a thread"


def _open_arcs(cuts: Contours) -> tuple[Floats, Floats, Ints]:
    """Centre, radius and row of open contours that are one arc of 200 to 345 degrees."""
    if not len(cuts):
        return np.zeros((0, 2)), np.zeros(0), np.zeros(0, np.int64)
    first = cuts.offsets[:-1]
    bent = np.logical_and.reduceat(cuts.bulges != 0.0, first) & ~cuts.closed
    longest = np.lexsort((-cuts.lengths, cuts.owner))[first]
    centre, radius = cuts.centres[longest], cuts.radii[longest]
    with np.errstate(invalid="ignore"):
        off = np.hypot(*(cuts.starts - centre[cuts.owner]).T) - radius[cuts.owner]
        mid = cuts.points_at(np.arange(len(off)), np.full(len(off), 0.5)) - centre[cuts.owner]
        off = np.maximum(np.abs(off), np.abs(np.hypot(*mid.T) - radius[cuts.owner]))
        alike = np.maximum.reduceat(off, first) <= np.maximum(0.02, 0.005 * radius)
    sweep = np.degrees(np.add.reduceat(np.abs(cuts.sweeps), first))
    rows = np.flatnonzero(bent & alike & (sweep >= 200.0) & (sweep <= 345.0))
    return centre[rows], radius[rows], rows


def _near(a: Floats, b: Floats, reach: float) -> tuple[Ints, Ints]:
    """Pairs of points at most `reach` apart."""
    return box_pairs(np.hstack((a, a)), np.hstack((b, b)), reach)


def _concentric_child(seen: Seen) -> Ints:
    """The only closed contour in each round one when it is round about the same centre, else -1."""
    cuts, circles, parent = seen.cuts, seen.circles, seen.held.parent
    inside = np.flatnonzero(cuts.closed & (parent >= 0))
    child = np.full(len(cuts), -1)
    child[parent[inside]] = inside
    only = np.bincount(parent[inside], minlength=len(cuts)) == 1
    away = np.hypot(*(circles.centre - circles.centre[child]).T)
    slack = np.maximum(CONCENTRIC, 0.01 * circles.radius)
    fits = only & circles.round & circles.round[child] & (away <= slack)
    return np.where(fits & (child >= 0), child, -1)


def rings(seen: Seen) -> Aside:
    """Return rings around holes (countersinks), and dots at the centres of holes.

    Two circles about one centre in the metal of a part with nothing else between or
    within: the outer one bounds no loose disc, the inner one is the hole.  A ring-shaped
    *part* has its outer circle at even depth and is left alone, and so is the innermost of
    four and more circles about one centre: rings and discs cut out of each other.  A dot
    is a circle of at most 2 mm in a hole four times as wide: a centre mark.
    """
    child = _concentric_child(seen)
    outer = np.flatnonzero((child >= 0) & (seen.held.depth % 2 == 1))
    outer = outer[child[outer] >= 0]
    empty = np.bincount(seen.held.parent[seen.held.parent >= 0], minlength=len(child)) == 0
    outer = outer[empty[child[outer]]]
    outer = outer[~_in_rings(child)[outer]]
    facts, rows = [], []
    for row in outer.tolist():
        large, small = seen.diameter(row), seen.diameter(int(child[row]))
        where = seen.circles.centre[row]
        if large <= RING_RATIO * small and large <= RING_DIAMETER:
            rows.append(row)
            facts.append(
                _fact(
                    "symbol-not-cut",
                    f"circle {large:.4g} around hole {small:.4g}: a countersink or counterbore, "
                    f"so only {small:.4g} is cut; or is {large:.4g} the hole, with a loose ring?",
                    where,
                )
            )
        elif small <= 2.0 and large >= 4.0 * small:
            rows.append(int(child[row]))
            facts.append(
                _fact(
                    "symbol-not-cut",
                    f"circle {small:.3g} at the centre of hole {large:.4g}: a centre mark, "
                    "so not cut; or is it a loose disc?",
                    where,
                )
            )
    return Aside(tuple(rows), "ring or dot about a hole, not a cut", tuple(facts))


def _in_rings(child: Ints) -> Bools:
    """Return which circles lie in a circle in a circle, all about one centre, shape (n,)."""
    once, twice = np.zeros(len(child), dtype=bool), np.zeros(len(child), dtype=bool)
    once[child[child >= 0]] = True
    twice[child[once & (child >= 0)]] = True
    return twice


def stepped_holes(seen: Seen) -> list[Fact]:
    """Return questions about three circles about one centre: a ring in a hole, or steps?"""
    child = _concentric_child(seen)
    outer = np.flatnonzero((child >= 0) & (seen.held.depth % 2 == 1))
    outer = outer[child[child[outer]] >= 0]
    found = []
    for row in outer.tolist():
        sizes = [seen.diameter(r) for r in (row, int(child[row]), int(child[child[row]]))]
        if sizes[0] <= RING_DIAMETER and sizes[0] <= RING_RATIO**2 * sizes[2]:
            names = ", ".join(f"{s:.4g}" for s in sizes)
            found.append(
                _fact(
                    "symbol-not-cut",
                    f"three circles {names} about one centre: cut as a ring-shaped part in a "
                    f"cut-out; or is it one stepped hole, of which only {sizes[2]:.4g} is cut?",
                    seen.circles.centre[row],
                    CUT_FOR_NOW,
                )
            )
    return found


def _centre_marks(seen: Seen) -> Aside:
    holes = seen.holes
    rows, places = centre_marks(seen.cuts, seen.circles.centre[holes], seen.circles.radius[holes])
    facts = tuple(
        _fact(
            "symbol-not-cut",
            "lines through the centres of holes: centre marks, so not cut; or are they slits?",
            place,
        )
        for place in places
    )
    return Aside(tuple(rows), "centre mark, not a cut", facts)


# --- threads by their notes -----------------------------------------------------


def thread_notes(drawing: Drawing, seen: Seen) -> list[Fact]:
    """Return holes drawn at the nominal diameter of a thread whose note stands beside them."""
    holes = seen.holes
    found = {}
    for text in drawing.texts:
        for thread in threads_in(text.text):
            fits = holes[np.abs(2.0 * seen.circles.radius[holes] - thread.nominal) <= 0.05]
            arm = seen.circles.centre[fits] - (text.x, text.y)
            away = np.hypot(arm[:, 0], arm[:, 1])
            reach = max(BESIDE, 5.0 * thread.nominal) + 2.0 * text.height
            if not len(fits) or away.min() > reach:
                continue
            row = int(fits[away.argmin()])
            found[row] = _fact(
                "hole-likely-threaded",
                f"{seen.diameter(row):.1f} with note {thread.name}: tap drill {thread.drill:g}",
                seen.circles.centre[row],
            )
    return list(found.values())


# --- views ----------------------------------------------------------------------


def edge_views(seen: Seen, thickness: float) -> tuple[Aside, list[Fact]]:
    """Return rectangles as thick as the sheet: edge views of parts beside them, and doubts.

    One that is as long as a part and in line with it is set aside as that part's edge
    view; any other stays a part, with a question.
    """
    cuts, box = seen.cuts, seen.cuts.box
    alone = cuts.closed & (seen.held.depth == 0)
    alone[seen.held.parent[seen.held.parent >= 0]] = False  # with something in it
    side = box[:, 2:] - box[:, :2]
    slack = max(0.02, 0.01 * thickness)
    thin = np.abs(side.min(axis=1, initial=np.inf) - thickness) <= slack
    filled = np.abs(np.abs(cuts.area) - side[:, 0] * side[:, 1]) <= 1e-6 * np.abs(cuts.area)
    strips = np.flatnonzero(alone & thin & filled & (side.max(axis=1, initial=0) > 2 * thickness))
    bodies = np.setdiff1d(np.flatnonzero(cuts.closed & (seen.held.depth == 0)), strips)
    sure, doubts = [], []
    for row in strips.tolist() if len(bodies) else []:
        axis = int(side[row].argmax())
        ends = np.abs(box[bodies][:, [axis, axis + 2]] - box[row, [axis, axis + 2]])
        beside = ends.max(axis=1) <= 0.1
        size = f"rectangle {side[row].max():.4g} x {side[row].min():.4g}"
        where = (box[row, :2] + box[row, 2:]) / 2.0
        if beside.any():
            other = bodies[beside][0]
            words = f"in line with the part {side[other, 0]:.4g} x {side[other, 1]:.4g}"
            sure.append(
                (row, f"{size} {words}, one side the thickness: its edge view, so not cut; "
                 "or is it a part of its own?", where)
            )  # fmt: skip
        elif (np.abs(side[bodies] - side[row].max()) <= 0.1).any():
            words = f"{size}, one side the thickness, as long as a part beside it is wide"
            doubts.append(
                _fact(
                    "view-not-part",
                    f"{words}: cut as a part; or is it an edge view?",
                    where,
                    CUT_FOR_NOW,
                )
            )
    facts = tuple(_fact("view-not-part", words, where) for _, words, where in sure)
    return Aside(tuple(row for row, _, _ in sure), "edge view, not a part", facts), doubts
