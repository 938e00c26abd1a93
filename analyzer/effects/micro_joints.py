"""Micro-joints: how many, how wide, where, and what it takes to break them.

A joint is a stretch of outline left uncut.  It goes onto a long straight edge, never onto
one that a mark or bend line runs along or meets nearby, and away from corners.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.effects.drop_data import constant, row_of, strength
from analyzer.geometry.contours import Contours, Floats
from analyzer.geometry.distance import foot_on_pieces, pieces_of
from analyzer.parts.part import Part

FRACTIONS = (0.25, 0.5, 0.75)  # of an edge, where a joint may be


@dataclass(frozen=True)
class MicroJoints:
    """Joints that hold one part.

    Attributes
    ----------
    count : int
        How many; 0 where plate this thick is held by none.
    least_mm, most_mm : float
        Width of each. [mm]
    force_n : tuple of float
        Force that shears all of them, at the least and the most width. [N]
    places : tuple of (x, y)
        Where, in the drawing's axes. [mm]
    """

    count: int
    least_mm: float = 0.0
    most_mm: float = 0.0
    force_n: tuple[float, float] = (0.0, 0.0)
    places: tuple[tuple[float, float], ...] = ()

    @property
    def by_hand(self) -> bool:
        """Whether the narrowest joints break by hand."""
        return self.force_n[0] <= constant("hand_n")


def shear_force(width: float, thickness: float, material: str) -> float:
    """Return the force that shears one joint, 0.8 Rm b t. [N]

    Shear strength taken as 0.8 of the tensile strength Rm (sheet-metal handbooks, from
    memory).

    Examples
    --------
    >>> round(shear_force(0.4, 3.0, "mild-steel"))
    346
    """
    return constant("shear_share") * strength(material) * width * thickness


def micro_joints(
    part: Part, width: float, height: float, thickness: float, material: str
) -> MicroJoints:
    """Return the joints that hold `part`, `width` x `height` in its canonical pose. [mm]"""
    row = row_of("micro-joint", thickness)
    if row is None:
        return MicroJoints(0)
    short, long = sorted((width, height))
    two = long > constant("large_from_mm") or long >= constant("long_from") * short
    least, most = float(row["least_mm"]), float(row["most_mm"])
    places = _places(part, 2 if two else 1)
    count = len(places)
    force = (
        count * shear_force(least, thickness, material),
        count * shear_force(most, thickness, material),
    )
    return MicroJoints(count, least, most, force, places)


def _places(part: Part, count: int) -> tuple[tuple[float, float], ...]:
    """Return `count` places on the outline, two of them as far apart as they can be."""
    points = _candidates(part)
    centre = part.contours.centroid[0]
    if count == 1:
        # nearest to the centroid: the part hangs level on it
        order = np.hypot(*(points - centre).T)
        chosen = [int(np.argmin(np.round(order, 6)))]
    else:
        apart = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1))
        first, second = np.unravel_index(int(np.argmax(np.round(apart, 6))), apart.shape)
        chosen = [int(first), int(second)]
    return tuple((float(x), float(y)) for x, y in points[chosen])


def _candidates(part: Part) -> Floats:
    """Points on long straight edges of the outline clear of marks and bends, shape (k, 2).

    Where an outline has no straight edge: the middles of its longest segments.
    """
    outline = part.contours.take([0])
    straight = (outline.bulges == 0.0) & ~outline.smooth
    length = outline.lengths
    pool = np.flatnonzero(straight) if straight.any() else np.arange(len(length))
    pool = pool[length[pool] >= constant("edge_share") * float(length[pool].max()) - 1e-9]
    pool = pool[np.argsort(-length[pool], kind="stable")][:64]
    edges = np.repeat(pool, len(FRACTIONS))
    share = np.tile(FRACTIONS, len(pool))
    points = outline.points_at(edges, share)
    free = _clear_of(points, Contours.join([part.marks, part.bends])) >= constant("clear_mm")
    return points[free] if free.any() else points


def _clear_of(points: Floats, lines: Contours) -> Floats:
    """Return the distance of every point from the nearest of `lines`, shape (k,). [mm]"""
    if not len(lines):
        return np.full(len(points), np.inf)
    pieces = pieces_of(lines)
    clear = [
        np.hypot(*(point - foot_on_pieces(np.tile(point, (len(pieces.start), 1)), pieces)).T).min()
        for point in points
    ]
    return np.array(clear)
