"""Edges of one role become contours: cleaned, chained, merged, in a fixed order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from analyzer.drawing.back_steps import without_back_steps
from analyzer.drawing.chain import Chained, chain
from analyzer.drawing.clean import without_doubles, without_zero_length
from analyzer.drawing.drawing import Fact
from analyzer.drawing.edges import Edges
from analyzer.drawing.merge import merge_short
from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.geometry.near import distinct
from analyzer.tolerances import Tolerances
from analyzer.units import counted

_MOST_OPEN_FACTS = 20  # open contours told one by one
_MOST_HANDLES = 10
_ORDER_STEP = 1e-4  # boxes are compared on this grid, so that rounding changes no order [mm]


@dataclass(frozen=True)
class Outlines:
    """Contours of one role.

    Attributes
    ----------
    contours : Contours
        Closed ones counter-clockwise, sorted by their boxes.
    sources : tuple of ndarray
        Entities (rows of their table) of every contour.
    doubled : ndarray of int
        Entities that lost something to another drawn at the same place.
    without_length : ndarray of int
        Entities of which some piece has no length.
    facts : tuple of Fact
        Without handles: `about` tells the entities of each.
    about : tuple of tuple of int, one per fact
        Entities (rows of their table) it is about, the first ten.
    shared_mm : float
        Length that two contours have in common. [mm]
    doubled_mm : float
        Length left out because it was drawn twice. [mm]
    """

    contours: Contours
    sources: tuple[Ints, ...]
    doubled: Ints
    without_length: Ints
    facts: tuple[Fact, ...]
    about: tuple[tuple[int, ...], ...]
    shared_mm: float
    doubled_mm: float = 0.0


def outline(
    edges: Edges, closed: Bools, tolerances: Tolerances, origin: Floats, repeated: int = 0
) -> Outlines:
    """Return the contours that edges form, and what was found on the way.

    Parameters
    ----------
    edges : Edges
    closed : ndarray of bool, one per entity
        Entities that close upon themselves.
    tolerances : Tolerances
    origin : ndarray, shape (2,)
        Where the edges' own origin lies in the drawing, for facts and results. [mm]
    repeated : int
        Points of polylines that repeat the point before, for the count of zero lengths.
    """
    facts: list[Fact] = []
    about: dict[str, Ints] = {}
    first_nothing = edges.starts[edges.lengths <= tolerances.vanish][:1].ravel().tolist()
    edges, without_length = without_zero_length(edges, tolerances.vanish)
    nothing = len(without_length) + repeated
    if nothing:
        about["zero-length"] = distinct(without_length)
        x, y = first_nothing or (None, None)
        words = f"{counted(nothing, 'piece')} of zero length left out"
        facts.append(Fact("zero-length", words, x, y, nothing))
    edges, doubles = without_doubles(edges, closed, tolerances)
    if len(doubles.entities):
        about["double-line"] = doubles.entities
        x, y = doubles.place or (None, None)
        count = len(doubles.entities)
        number = counted(count, "entity overlaps another", "entities overlap others")
        facts.append(
            Fact(
                "double-line",
                f"{number} and would be cut twice: {doubles.length:.3f} mm removed",
                x, y, count,
            )
        )  # fmt: skip
    chained = chain(edges, tolerances)
    facts += chained.facts
    contours, sources, of_segment = _contours(chained, tolerances)
    contours, about["back-step"] = without_back_steps(contours, of_segment, tolerances, facts)
    contours, sources = _ordered(contours, sources)
    pieces = len(contours.bulges)
    contours = _begun_low(merge_short(contours, tolerances))
    if len(contours.bulges) < pieces:
        facts.append(
            Fact(
                "merged",
                f"{pieces:,} segments became"
                f" {counted(len(contours.bulges), 'line or arc', 'lines and arcs')}"
                f" within {tolerances.flatten:g} mm",
                count=pieces - len(contours.bulges),
            )
        )  # fmt: skip
    shared = chained.edges.lengths[chained.walk.shared]
    if len(shared):
        about["shared-edge"] = distinct(chained.edges.source[chained.walk.shared])
        middle = chained.edges.points_at(chained.walk.shared[:1], np.array([0.5]))[0]
        facts.append(
            Fact(
                "shared-edge",
                f"{counted(len(shared), 'line is', 'lines are')} the edge of two contours:"
                f" {shared.sum():.3f} mm, cut once",
                float(middle[0]), float(middle[1]), len(shared),
            )
        )  # fmt: skip
    facts = [_at(fact, origin) for fact in facts]
    contours = replace(contours, starts=contours.starts + origin, ends=contours.ends + origin)
    told = [(fact, about.get(fact.kind, np.zeros(0, np.int64))) for fact in facts]
    told += _open_facts(contours, sources) + _speck_facts(contours, sources, tolerances)
    return Outlines(
        contours, sources, doubles.entities, without_length, tuple(fact for fact, _ in told),
        tuple(tuple(rows[:_MOST_HANDLES].tolist()) for _, rows in told), float(shared.sum()),
        float(doubles.length),
    )  # fmt: skip


def _at(fact: Fact, origin: Floats) -> Fact:
    """Return a fact with its place in the drawing's own axes."""
    if fact.x is None or fact.y is None:
        return fact
    return replace(fact, x=fact.x + float(origin[0]), y=fact.y + float(origin[1]))


# --- from half edges to contours ------------------------------------------


def _contours(
    chained: Chained, tolerances: Tolerances
) -> tuple[Contours, tuple[Ints, ...], Ints]:  # fmt: skip
    """Return the contours of a walk, the entities of each, and the entity of every segment."""
    edges, walk = chained.edges, chained.walk
    if not len(walk.closed):
        return Contours.empty(), (), np.zeros(0, np.int64)
    row, back = walk.half_edges // 2, (walk.half_edges % 2 == 1)
    starts = np.where(back[:, None], edges.ends[row], edges.starts[row])
    ends = np.where(back[:, None], edges.starts[row], edges.ends[row])
    turned = edges.headings[row][:, ::-1] + np.pi
    headings = np.where(back[:, None], turned, edges.headings[row])
    first, size = walk.offsets[:-1], np.diff(walk.offsets)
    before = np.arange(len(row)) - 1
    before[first] = walk.offsets[1:] - 1
    change = headings[:, 0] - headings[before, 1]
    change = np.abs(wrapped(change))
    smooth = (edges.curved[row] | edges.curved[row[before]]) & (
        change <= np.radians(tolerances.smooth_deg)
    )
    smooth[first] &= walk.closed
    contours = Contours(
        starts, ends, np.where(back, -1.0, 1.0) * edges.bulges[row], edges.lengths[row], smooth,
        walk.offsets, walk.closed,
    )  # fmt: skip
    owner = np.repeat(np.arange(len(size)), size)
    source = edges.source[row]
    real = source >= 0
    span = int(source.max(initial=0)) + 1
    key = distinct(owner[real] * span + source[real])
    cuts = np.searchsorted(key, np.arange(1, len(size)) * span)
    rows = key % span  # `numpy.split` takes thrice as long for many short pieces
    bounds = [0, *cuts.tolist(), len(rows)]
    return contours, tuple(rows[a:b] for a, b in pairwise(bounds)), source


def _ordered(contours: Contours, sources: tuple[Ints, ...]) -> tuple[Contours, tuple[Ints, ...]]:
    """Return contours counter-clockwise, begun at their lowest point, sorted by box.

    Open ones begin at their lower end.
    """
    if not len(contours):
        return contours, sources
    first, last = contours.offsets[:-1], contours.offsets[1:] - 1
    a, b = contours.starts[first], contours.ends[last]
    upside = (b[:, 1] < a[:, 1]) | ((b[:, 1] == a[:, 1]) & (b[:, 0] < a[:, 0]))
    turn = np.where(contours.closed, contours.area < 0.0, upside)
    turned = np.flatnonzero(turn)
    rows = np.arange(len(contours))
    rows[turned] = len(contours) + np.arange(len(turned))
    if len(turned):
        contours = Contours.join([contours, contours.take(turned).reversed()]).take(rows)
    contours = _begun_low(contours)
    box = np.round(contours.box / _ORDER_STEP)
    order = np.lexsort((np.round(contours.length, 4), box[:, 2], box[:, 3], box[:, 0], box[:, 1]))
    return contours.take(order), tuple(sources[row] for row in order.tolist())


def _begun_low(contours: Contours) -> Contours:
    """Return closed contours begun at their lowest point, the leftmost of these."""
    if not len(contours):
        return contours
    owner = contours.owner
    grid = np.round(contours.starts / _ORDER_STEP)
    order = np.lexsort((grid[:, 0], grid[:, 1], owner))
    begin = order[contours.offsets[:-1]]
    first, size = contours.offsets[:-1], np.diff(contours.offsets)
    shift = np.where(contours.closed, begin - first, 0)
    inside = np.arange(len(owner)) - np.repeat(first, size)
    rows = np.repeat(first, size) + (inside + np.repeat(shift, size)) % np.repeat(size, size)
    return contours.rearranged(rows)


# --- facts ----------------------------------------------------------------


Told = list[tuple[Fact, Ints]]  # a fact, and the entities it is about


def _open_facts(contours: Contours, sources: tuple[Ints, ...]) -> Told:
    rows = np.flatnonzero(~contours.closed)
    facts: Told = []
    for row in rows[:_MOST_OPEN_FACTS].tolist():
        a = contours.starts[contours.offsets[row]]
        b = contours.ends[contours.offsets[row + 1] - 1]
        fact = Fact(
            "open-contour",
            f"a cut line of {contours.length[row]:.3f} mm does not close: from"
            f" ({a[0]:.3f}, {a[1]:.3f}) to ({b[0]:.3f}, {b[1]:.3f}),"
            f" {np.hypot(*(b - a)):.3f} mm apart",
            float(a[0]), float(a[1]),
        )  # fmt: skip
        facts.append((fact, sources[row]))
    rest = rows[_MOST_OPEN_FACTS:]
    if len(rest):
        a = contours.starts[contours.offsets[rest[0]]]
        fact = Fact(
            "open-contour",
            f"{counted(len(rest), 'more cut line does', 'more cut lines do')} not close,"
            f" {contours.length[rest].sum():.3f} mm together",
            float(a[0]), float(a[1]), len(rest),
        )  # fmt: skip
        facts.append((fact, _made_of(rest, sources)))
    return facts


def _made_of(rows: Ints, sources: tuple[Ints, ...]) -> Ints:
    """Return the entities of the first contours at `rows`."""
    return np.concatenate([sources[row] for row in rows[:_MOST_HANDLES].tolist()])


def _speck_facts(contours: Contours, sources: tuple[Ints, ...], tolerances: Tolerances) -> Told:
    """Say where a contour is too small to be meant."""
    if not len(contours):
        return []
    box = contours.box
    size = (box[:, 2:] - box[:, :2]).max(axis=1)
    rows = np.flatnonzero(size < 5.0 * tolerances.join)
    if not len(rows):
        return []
    x, y = box[rows[0], :2]
    words = counted(len(rows), "contour is", "contours are")
    words += f" smaller than {5.0 * tolerances.join:g} mm"
    return [(Fact("speck", words, float(x), float(y), len(rows)), _made_of(rows, sources))]
