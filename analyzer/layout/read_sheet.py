"""Read a drawing that already is a laid-out sheet."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.drawing.drawing import Fact
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout
from analyzer.layout.spacing import Spaces
from analyzer.layout.touching import SharedLines
from analyzer.parts.part import PartSet


@dataclass(frozen=True, eq=False)
class DrawnSheet:
    """A sheet as drawn.

    Attributes
    ----------
    parts : PartSet
        Distinct parts, the outline of the sheet set aside.
    layout : Layout
        Their copies; length and width 0 where the sheet is not known.
    corner : tuple of float
        Lower left corner of the sheet in the drawing's own axes: what lies at x, y on the
        sheet is drawn at x + corner[0], y + corner[1]. [mm]
    outline : Contours
        Outline of the sheet, its lower left corner at 0, 0; empty where it is not known.
    outline_from : str
        "option", "layer" or "evidence"; empty where it is not known.
    remnant : bool
        Whether the outline is no rectangle.
    spaces : Spaces
        Gaps, margins and common lines.
    skeleton : Contours
        Open cut lines outside every part: cuts through the skeleton, on the sheet.
    facts : tuple of Fact
        What reading it brought up; places in the drawing's own axes.
    """

    parts: PartSet
    layout: Layout
    corner: tuple[float, float]
    outline: Contours
    outline_from: str
    remnant: bool
    spaces: Spaces
    skeleton: Contours
    facts: tuple[Fact, ...]

    @property
    def shared(self) -> SharedLines:
        """Lines two copies have in common."""
        return self.spaces.shared
