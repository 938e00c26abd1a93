"""A layout: where copies of parts lie on one sheet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.contours import Contours, Floats
from analyzer.parts.part import Part


@dataclass(frozen=True)
class Placement:
    """Where one copy lies.

    Attributes
    ----------
    part : int
        Which of the layout's parts.
    x, y : float
        Where the origin of the part's drawing lands, from the sheet's lower left corner. [mm]
    turn_deg : float
        Turn about that origin, counter-clockwise. [degrees]
    mirrored : bool
        Whether x was negated before turning.
    """

    part: int
    x: float = 0.0
    y: float = 0.0
    turn_deg: float = 0.0
    mirrored: bool = False

    @property
    def matrix(self) -> Floats:
        """Rotation, and mirror, of the copy, shape (2, 2). [-]

        Examples
        --------
        >>> Placement(0, turn_deg=90.0, mirrored=True).matrix.round(9).tolist()
        [[-0.0, -1.0], [-1.0, 0.0]]
        """
        angle = np.radians(self.turn_deg)
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        return turn @ np.diag([-1.0, 1.0]) if self.mirrored else turn

    def points(self, points: Floats) -> Floats:
        """Return points of the drawing where they lie on the sheet, shape (k, 2). [mm]"""
        placed: Floats = points @ self.matrix.T + np.array([self.x, self.y])
        return placed

    def contours(self, contours: Contours) -> Contours:
        """Return contours where they lie on the sheet; closed ones keep metal on their left."""
        placed = contours.moved(self.matrix, (self.x, self.y))
        if not self.mirrored or not placed.closed.any():
            return placed
        turned = placed.reversed()
        rows = [
            (turned if placed.closed[row] else placed).take([row]) for row in range(len(placed))
        ]
        return Contours.join(rows)


@dataclass(frozen=True, eq=False)
class Layout:
    """Copies of parts on one sheet.

    Attributes
    ----------
    parts : tuple of Part
        Distinct parts.
    placements : tuple of Placement
        One a copy.
    length_mm, width_mm : float
        The sheet along x and y; 0 where it is not known. [mm]
    """

    parts: tuple[Part, ...]
    placements: tuple[Placement, ...]
    length_mm: float = 0.0
    width_mm: float = 0.0

    def __post_init__(self) -> None:
        for placement in self.placements:
            if not 0 <= placement.part < len(self.parts):
                raise InputError(f"part {placement.part} of {len(self.parts)} parts is placed")

    def outlines(self) -> Contours:
        """Return the first contour of every copy where it lies, in the order of placements."""
        return self._outlines

    @cached_property
    def _outlines(self) -> Contours:
        """All copies at once: the outline of every part and hand, taken, turned and moved."""
        if not self.placements:
            return Contours.empty()
        plain = [part.contours.take([0]) for part in self.parts]
        flip = np.diag([-1.0, 1.0])
        mirrored = [c.moved(flip).reversed() if c.closed.all() else c.moved(flip) for c in plain]
        part = np.array([p.part for p in self.placements])
        hand = np.array([p.mirrored for p in self.placements])
        taken = Contours.join(plain + mirrored).take(part + len(plain) * hand)
        angle = np.radians([p.turn_deg for p in self.placements])
        at = np.array([(p.x, p.y) for p in self.placements])
        cos, sin = np.cos(angle)[taken.owner], np.sin(angle)[taken.owner]

        def placed(points: Floats) -> Floats:
            x, y = points[:, 0], points[:, 1]
            turned = np.column_stack((cos * x - sin * y, sin * x + cos * y))
            moved: Floats = turned + at[taken.owner]
            return moved

        return replace(taken, starts=placed(taken.starts), ends=placed(taken.ends))
