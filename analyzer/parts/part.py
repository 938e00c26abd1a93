"""A part and its features; a set of parts of one drawing."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.drawing.drawing import Drawing, Fact
from analyzer.geometry.contours import Contours


@dataclass(frozen=True)
class Hole:
    """A round cut-out. x, y and diameter [mm]; row of the part's contours."""

    x: float
    y: float
    diameter: float
    row: int


@dataclass(frozen=True)
class Slot:
    """A long narrow cut-out (round-ended or rectangular). Lengths [mm], angle [degrees].

    `width` is the least width across, `length` the extent along `angle`.
    """

    x: float
    y: float
    width: float
    length: float
    angle: float
    row: int


@dataclass(frozen=True)
class Corner:
    """A change of direction within the window of arc length.

    Attributes
    ----------
    x, y : float
        Where its middle is. [mm]
    angle : float
        Angle of the *metal* there: below 180 the metal is a tip (outside corner),
        above 180 it surrounds the corner (inside corner). [degrees]
    radius : float
        Radius of the fillet, 0 for a sharp corner. [mm]
    turn : float
        How far the head turns, 0..180. [degrees]
    row : int
        Contour of the part.
    position : float
        Drawn length from the contour's start to it. [mm]
    """

    x: float
    y: float
    angle: float
    radius: float
    turn: float
    row: int
    position: float


@dataclass(frozen=True)
class Web:
    """Metal between two contours. Middle x, y and least width [mm]; both rows, low first."""

    x: float
    y: float
    width: float
    rows: tuple[int, int]


@dataclass(frozen=True)
class Neck:
    """Metal between two stretches of one contour. Middle x, y, least width [mm]; its row."""

    x: float
    y: float
    width: float
    row: int


@dataclass(frozen=True, eq=False)
class Part:
    """A distinct part: one of its copies, in the drawing's own axes.

    Attributes
    ----------
    id : str
        "P1", "P2", ... in the order of the drawing's copies (least y, then x).
    count : int
        Copies that are the same after moving or turning (never mirroring).
    other_hand_of : str or None
        The part whose mirror image this is.
    contours : Contours
        Row 0 is the outline, counter-clockwise; then the cut-outs, clockwise;
        then open cut lines inside it, as drawn.  Islands of lettering (inside a cut-out,
        they fall out with it) count among the cut-outs: cut, but no metal of the part.
    marks : Contours
        Mark lines inside it, as drawn: not cut.
    bends : Contours
        Bend lines inside it.
    holes, slots, corners, webs : tuples
        Features; a round cut-out is a hole, never a slot.
    copies : tuple of tuple of int
        Rows of the drawing's cut contours that make every copy, outline first.
    islands : tuple of int
        Rows of `contours` that are islands of lettering.
    necks : tuple of Neck
        Thin metal between two stretches of one contour, fingers included.
    turns : tuple of float
        How every copy is turned against the first about its outline's centroid,
        counter-clockwise, one a copy; empty where nobody asked. [rad]
    """

    id: str
    count: int
    other_hand_of: str | None
    contours: Contours
    marks: Contours
    bends: Contours
    holes: tuple[Hole, ...]
    slots: tuple[Slot, ...]
    corners: tuple[Corner, ...]
    webs: tuple[Web, ...]
    copies: tuple[tuple[int, ...], ...]
    islands: tuple[int, ...] = ()
    necks: tuple[Neck, ...] = ()
    turns: tuple[float, ...] = ()

    @property
    def area(self) -> float:
        """Area of the metal: outline less cut-outs, within which islands lie. [mm^2]"""
        inside_cut_outs = self.contours.area[list(self.islands)].sum()
        return float(self.contours.area.sum() - inside_cut_outs)

    @property
    def width(self) -> float:
        """Extent along x as drawn. [mm]"""
        box = self.contours.box[0]
        return float(box[2] - box[0])

    @property
    def height(self) -> float:
        """Extent along y as drawn. [mm]"""
        box = self.contours.box[0]
        return float(box[3] - box[1])

    @property
    def cut_length(self) -> float:
        """Drawn length of all its contours. [mm]"""
        return float(self.contours.length.sum())

    @property
    def pierces(self) -> int:
        """One pierce a contour."""
        return len(self.contours)


@dataclass(frozen=True, eq=False)
class PartSet:
    """All parts of a drawing.

    Attributes
    ----------
    drawing : Drawing
        The drawing, with symbols that are not cuts set aside.
    parts : tuple of Part
        Distinct parts.
    loose : Contours
        Open cut lines outside every part: cut and pierced, but no part.
    facts : tuple of Fact
        What finding the parts brought up (crossing contours, pairs of hands, ...).
    """

    drawing: Drawing
    parts: tuple[Part, ...]
    loose: Contours
    facts: tuple[Fact, ...] = ()
