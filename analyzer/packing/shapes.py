"""The ways each part may lie, grown by half the gap and moved to its own corner."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from analyzer.geometry.contours import Floats
from analyzer.layout.layout import Placement
from analyzer.packing.convex import convex_pieces
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.outward import grown, metal_of
from analyzer.parts.part import Part

OUTSIDE = 0.25
"""Polygons may lie this far outside arcs, or in small parts a thousandth of their size. [mm]"""

MOST_CORNERS = 60
"""Corners of a grown outline; wavier ones are smoothed to the outside."""

MOST_TURNS = 12
"""Turns tried of a part that may lie anyhow."""


OFF_SQUARE = (45.0, 135.0, 30.0, 60.0, 120.0, 150.0, 15.0, 75.0, 105.0, 165.0)
"""Turns looked at where no other is good, those preferred first. [degrees]"""

_FINE = 1e-3  # [mm]

Ranking = Callable[[int, Sequence[tuple[float, bool]]], Sequence[float]]
"""How bad each way to lie is, given the part and its ways (turn [degrees], turned over): 0 is good.
What makes a way bad is not known here: the caller says."""


@dataclass(frozen=True, eq=False)
class Shape:
    """One part in one way it may lie.

    Attributes
    ----------
    demand : int
        Row of the demand it belongs to.
    turn_deg, mirrored
        How it lies.
    polygon : Polygon
        Its metal grown by half the gap, its box starting at 0, 0. [mm]
    pieces : list of ndarray
        Convex pieces of that. [mm]
    solid : list of ndarray
        Convex pieces of the same with its cut-outs closed. [mm]
    rooms : ndarray, shape (k, 2)
        Extent of every cut-out. [mm]
    size : ndarray, shape (2,)
        Extent of the polygon. [mm]
    shift : ndarray, shape (2,)
        From the corner of the box to the origin of the drawing. [mm]
    area : float
        Metal without the gap. [mm^2]
    rank : float
        How bad this way to lie is; 0 is good. [-]
    """

    demand: int
    turn_deg: float
    mirrored: bool
    polygon: Polygon
    pieces: list[Floats]
    solid: list[Floats]
    rooms: Floats
    size: Floats
    shift: Floats
    area: float
    rank: float = 0.0

    def holds(self, other: Shape) -> bool:
        """Return whether `other` may fit into a cut-out of this one.

        Where it cannot, the cut-outs may be taken as closed: a shape in one piece that reaches
        into a cut-out and does not fit into it meets its rim.
        """
        return bool((self.rooms >= other.size - _FINE).all(axis=1).any())

    def placement(self, part: int, corner: Floats) -> Placement:
        """Return where the part lies when the corner of its box is at `corner`. [mm]"""
        x, y = (float(v) for v in corner + self.shift)
        return Placement(part, x, y, self.turn_deg, self.mirrored)


@dataclass(frozen=True, eq=False)
class Metal:
    """A part to be laid, in its drawing's axes.

    Attributes
    ----------
    grown : Polygon
        Its metal grown by half the gap, to the outside throughout. [mm]
    area : float
        Of the metal. [mm^2]
    grown_area : float
        Of all within half the gap of it, never too large. [mm^2]
    """

    grown: Polygon
    area: float
    grown_area: float


def metals(
    parts: Sequence[Part], demands: Sequence[Demand], gap: float, *, most: int = MOST_CORNERS
) -> list[Metal]:
    """Return the grown metal of every demand.

    Cut-outs in which nothing of this order could lie are closed, so that they cost nothing.
    """
    boxes = [parts[d.part].contours.box[0] for d in demands]
    least = min((float(min(b[2] - b[0], b[3] - b[1])) for b in boxes), default=0.0)
    made: dict[int, Metal] = {}
    for demand in demands:
        if demand.part not in made:
            part = parts[demand.part]
            tolerance = min(OUTSIDE, max(part.width, part.height) / 1000.0)
            shape = metal_of(part, tolerance)
            wide = grown(shape, gap / 2.0, most=most, least_hole=0.7 * (least + gap))
            made[demand.part] = Metal(wide, part.area, _least_grown(part, gap / 2.0))
    return [made[d.part] for d in demands]


def _least_grown(part: Part, reach: float) -> float:
    """Area within `reach` of the metal, from below: round corners of few chords."""
    shape = metal_of(part, _FINE)
    wide = shape.buffer(reach, quad_segs=4)
    return float(max(wide.area - 2.0 * _FINE * shape.length, part.area))


def shapes_of(
    metal: Metal, row: int, demand: Demand, spacing: Spacing, ranking: Ranking | None = None
) -> list[Shape]:
    """Return every different way a demand may lie, the first turn given first.

    Of ways that take the same room the best by `ranking` is kept, else the first.
    """
    turns = turns_of(metal.grown, demand, spacing)
    if ranking is not None and demand.turns is None and spacing.grain is None:
        turns += _better_turns(demand.part, turns, ranking)
    hands = (False, True) if demand.mirror else (False,)
    ways = [(turn, mirrored) for mirrored in hands for turn in turns]
    ranks = ranking(demand.part, ways) if ranking else [0.0] * len(ways)
    found: list[Shape] = []
    for (turn, mirrored), rank in zip(ways, ranks, strict=True):
        shape = replace(_shape(metal, row, turn, mirrored), rank=float(rank))
        same = (k for k, other in enumerate(found) if _same(shape.polygon, other.polygon))
        at = next(same, None)
        if at is None:
            found.append(shape)
        elif shape.rank < found[at].rank:
            found[at] = shape
    return found


def turns_of(polygon: Polygon, demand: Demand, spacing: Spacing) -> tuple[float, ...]:
    """Return the turns to try. [degrees]

    Free turns are the quarter turns and those that lay a long side of the hull along x.
    Grain leaves those that lay the drawing's x axis along it.
    """
    turns = demand.turns
    if turns is None:
        turns = _free_turns(polygon)
    if spacing.grain is None:
        return turns
    along = 0.0 if spacing.grain == "x" else 90.0
    if demand.turns is None:
        return (along, along + 180.0)
    return tuple(t for t in turns if abs((t - along + 90.0) % 180.0 - 90.0) < 1e-9)


def _free_turns(polygon: Polygon) -> tuple[float, ...]:
    hull = shapely.get_coordinates(shapely.orient_polygons(shapely.convex_hull(polygon)).exterior)
    step = np.diff(hull, axis=0)
    size = np.hypot(*step.T)
    order = np.argsort(-size, kind="stable")[:3]
    sides = [-float(np.degrees(np.arctan2(*step[i, ::-1]))) for i in order]
    turns = [0.0, 180.0, 90.0, 270.0]
    for side in sides:
        for quarter in (0.0, 180.0, 90.0, 270.0):
            turn = round((side + quarter) % 360.0, 6)
            if all(abs((turn - t + 180.0) % 360.0 - 180.0) > 1.0 for t in turns):
                turns.append(turn)
    return tuple(turns[:MOST_TURNS])


def _better_turns(part: int, turns: Sequence[float], ranking: Ranking) -> tuple[float, ...]:
    """Return a turn off the square, and its opposite, where it is better than all tried ones."""
    if min(ranking(part, [(turn, False) for turn in turns])) <= 0.0:
        return ()
    more = OFF_SQUARE
    ranks = ranking(part, [(turn, False) for turn in more])
    at = min(range(len(more)), key=lambda k: (ranks[k], k))
    if ranks[at] >= min(ranking(part, [(turn, False) for turn in turns])):
        return ()
    return more[at], more[at] + 180.0


def _shape(metal: Metal, row: int, turn: float, mirrored: bool) -> Shape:
    matrix = Placement(0, turn_deg=turn, mirrored=mirrored).matrix
    turned = shapely.transform(metal.grown, lambda points: points @ matrix.T)
    low = np.array(turned.bounds[:2])
    local = shapely.orient_polygons(shapely.transform(turned, lambda points: points - low))
    size = np.array(local.bounds[2:])
    pieces = convex_pieces(local)
    solid, rooms = pieces, np.zeros((0, 2))
    if local.interiors:
        solid = convex_pieces(Polygon(local.exterior))
        boxes = shapely.bounds(list(local.interiors))
        rooms = boxes[:, 2:] - boxes[:, :2]
    return Shape(row, turn, mirrored, local, pieces, solid, rooms, size, -low, metal.area)


def _same(one: Polygon, other: Polygon) -> bool:
    if abs(one.area - other.area) > 1e-6 * one.area:
        return False
    difference: float = shapely.symmetric_difference(one, other).area
    return bool(difference <= 1e-6 * one.area)
