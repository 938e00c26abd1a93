"""Read a drawing that already is a laid-out sheet: what lies where, how near, what is shared."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from analyzer.drawing.drawing import CUT_FOR_NOW, Drawing, Fact
from analyzer.geometry.contours import Contours, Floats
from analyzer.layout.layout import Layout, Placement
from analyzer.layout.sheet_outline import Size, is_rectangle, set_sheet_aside
from analyzer.layout.spacing import AT_END, Spaces, spaces_between, windows_of
from analyzer.layout.touching import SharedLines
from analyzer.parts.find import find_parts
from analyzer.parts.frames import AGREE
from analyzer.parts.part import PartSet
from analyzer.tolerances import DEFAULT, Tolerances
from analyzer.units import counted

SLACK = 1e-3
"""A part may stick out of the sheet by so much before it is said. [mm]"""


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
        "layer", "evidence", or "option"; empty where it is not known.
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


def drawn_sheet(
    drawing: Drawing, thickness: float, *, sheet: Size | None = None,
    tolerances: Tolerances = DEFAULT,
) -> DrawnSheet:  # fmt: skip
    """Return the sheet a drawing shows; its outline is decided before its parts.

    Parameters
    ----------
    drawing : Drawing
        As read.
    thickness : float
        Of the sheet, > 0. [mm]
    sheet : (float, float), optional
        Length and width the user gave. [mm]
    tolerances : Tolerances
    """
    aside = set_sheet_aside(drawing, sheet, tolerances)
    return read_sheet(find_parts(aside, thickness, tolerances), sheet=sheet)


def read_sheet(parts: PartSet, *, sheet: Size | None = None) -> DrawnSheet:
    """Return copies, gaps, margins, common lines and skeleton cuts of a drawn sheet.

    Parameters
    ----------
    parts : PartSet
        Parts of the drawing; see `drawn_sheet` for one whose sheet outline is drawn among
        the cuts.
    sheet : (float, float), optional
        Length and width the user gave. [mm]
    """
    cuts = parts.drawing.cuts
    rows = [copy[0] for part in parts.parts for copy in part.copies]
    drawn = cuts.take(rows)
    edge, edge_from, facts = _edge(parts.drawing, Contours.join([drawn, parts.loose]), sheet)
    known = len(edge) > 0
    low = (edge if known else drawn).box[:, :2].min(axis=0) if known or len(drawn) else np.zeros(2)
    shift = -low
    edge, drawn = edge.moved(np.eye(2), shift), drawn.moved(np.eye(2), shift)
    skeleton = parts.loose.moved(np.eye(2), shift)
    length, width = edge.box[0, 2:].tolist() if known else (0.0, 0.0)
    layout = Layout(parts.parts, _placements(parts, drawn), length, width)
    spaces = spaces_between(drawn, windows_of(layout, drawn), edge)
    remnant = known and not is_rectangle(edge, 0)
    facts += (*_facts(spaces, skeleton, low), *_scrap_questions(layout, drawn, spaces.shared, low))
    return DrawnSheet(
        _without_common_doubles(parts, spaces.shared), layout, (float(low[0]), float(low[1])),
        edge, edge_from, remnant, spaces, skeleton, facts,
    )  # fmt: skip


def _without_common_doubles(parts: PartSet, shared: SharedLines) -> PartSet:
    """Drop what is said of lines drawn twice where all of them are the common lines of parts."""
    drawing = parts.drawing
    if not 0.0 < drawing.doubled_mm <= shared.total_mm + SLACK * max(len(shared), 1):
        return parts
    facts = tuple(fact for fact in drawing.facts if fact.kind != "double-line")
    return replace(parts, drawing=replace(drawing, facts=facts))


def _placements(parts: PartSet, drawn: Contours) -> tuple[Placement, ...]:
    """Every copy, turned as it was found and laid on the centroid of its drawn outline."""
    found = []
    centres = drawn.centroid
    at = 0
    for index, part in enumerate(parts.parts):
        own = part.contours.centroid[0]
        turns = np.array(part.turns) if part.turns else np.zeros(len(part.copies))
        for turn in turns.tolist():
            degrees = round(float(np.degrees(turn)) % 360.0, 9) % 360.0
            there = centres[at] - Placement(index, turn_deg=degrees).points(own[None, :])[0]
            found.append(Placement(index, float(there[0]), float(there[1]), degrees))
            at += 1
    return tuple(found)


# --- where the sheet ends ---------------------------------------------------


def _edge(
    drawing: Drawing, everything: Contours, sheet: Size | None
) -> tuple[Contours, str, tuple[Fact, ...]]:
    """Outline of the sheet in the drawing's axes, what told it, and facts."""
    if len(drawing.sheets):
        return _drawn_edge(drawing, sheet)
    if sheet is None or not len(everything):
        words = "no outline of a sheet found: margins are not judged; give --sheet LENGTHxWIDTH"
        return Contours.empty(), "", (Fact("sheet-outline", words),)
    return _given_edge(everything, sheet)


def _drawn_edge(drawing: Drawing, sheet: Size | None) -> tuple[Contours, str, tuple[Fact, ...]]:
    outlines = drawing.sheets
    largest = int(np.abs(outlines.area).argmax())
    edge = outlines.take([largest])
    x, y = edge.box[0, :2].tolist()
    across, up = (edge.box[0, 2:] - edge.box[0, :2]).tolist()
    facts = []
    if drawing.sheet_from == "layer":
        words = f"sheet {across:.6g} x {up:.6g}, drawn on a sheet layer"
        facts.append(Fact("sheet-outline", words, x, y))
    if len(outlines) > 1:
        words = f"{len(outlines)} outlines of sheets: the largest is taken; one drawing a sheet"
        facts.append(Fact("several-sheets", words, x, y, len(outlines)))
    if sheet is not None and not _same_size((across, up), sheet):
        words = (
            f"the sheet is drawn {across:.6g} x {up:.6g}, you gave {sheet[0]:.6g} x "
            f"{sheet[1]:.6g}: taken as drawn"
        )
        facts.append(Fact("sheet-size-disagrees", words, x, y))
    return edge, drawing.sheet_from, tuple(facts)


def _same_size(one: Size, other: Size) -> bool:
    return all(abs(a - b) <= AGREE for a, b in zip(sorted(one), sorted(other), strict=True))


def _given_edge(everything: Contours, sheet: Size) -> tuple[Contours, str, tuple[Fact, ...]]:
    """Lay the rectangle the user gave: from the drawing's origin where that holds all."""
    low, high = everything.box[:, :2].min(axis=0), everything.box[:, 2:].max(axis=0)
    for length, width in (sheet, sheet[::-1]):
        if (low >= -SLACK).all() and (high <= np.array([length, width]) + SLACK).all():
            words = (
                f"sheet {length:.6g} x {width:.6g} as given, taken to begin at the drawing's "
                "origin, as its outline is not drawn: margins hold only if that is so"
            )
            return _rectangle(np.zeros(2), length, width), "option", (
                Fact("sheet-outline", words, 0.0, 0.0),
            )  # fmt: skip
    size = high - low
    fits = [s for s in (sheet, sheet[::-1]) if (size <= np.array(s) + SLACK).all()]
    length, width = fits[0] if fits else sheet
    corner = (low + high) / 2.0 - np.array([length, width]) / 2.0
    x, y = corner.tolist()
    edge = _rectangle(corner, length, width)
    if fits:
        words = (
            f"sheet {length:.6g} x {width:.6g} as given; where it lies is not drawn, so the parts "
            "are taken to lie in its middle: margins are a guess"
        )
        return edge, "option", (Fact("sheet-place-unknown", words, x, y),)
    words = (
        f"the parts reach over {size[0]:.6g} x {size[1]:.6g} and do not fit the sheet "
        f"{length:.6g} x {width:.6g} you gave"
    )
    return edge, "option", (Fact("sheet-too-small", words, x, y),)


def _rectangle(corner: Floats, length: float, width: float) -> Contours:
    steps = np.array([[0.0, 0.0], [length, 0.0], [length, width], [0.0, width]])
    return Contours.from_points(corner + steps)


# --- what is said -----------------------------------------------------------


def _facts(spaces: Spaces, skeleton: Contours, low: Floats) -> tuple[Fact, ...]:
    facts = []
    shared = spaces.shared
    if len(shared):
        x, y = ((shared.starts[0] + shared.ends[0]) / 2.0 + low).tolist()
        words = (
            f"{counted(len(shared), 'common line')} of two parts, {shared.total_mm:.1f} mm: cut "
            "once; the kerf takes half its width from either part"
        )
        facts.append(Fact("common-lines", words, x, y, len(shared)))
    if len(skeleton):
        x, y = (skeleton.starts[0] + low).tolist()
        words = (
            f"{counted(len(skeleton), 'open cut line')} outside the parts, "
            f"{skeleton.length.sum():.1f} mm: taken for cuts through the skeleton, cut last"
        )
        facts.append(Fact("skeleton-cuts", words, x, y, len(skeleton)))
    return tuple(facts)


def _scrap_questions(
    layout: Layout, drawn: Contours, shared: SharedLines, low: Floats
) -> tuple[Fact, ...]:
    """Ask about copies that look like scrap between two cuts through the skeleton.

    Such cuts close a loop with the parts they end on.  What they enclose has no cut-outs, and
    touches two parts or more only amid their sides, where a common cut would reach a corner.
    """
    if len(shared) < 2:
        return ()
    corner = np.abs(drawn.turns) > np.radians(DEFAULT.smooth_deg)
    tree = shapely.STRtree(shapely.points(drawn.starts[corner]))
    owner = drawn.owner[corner]
    inside = np.ones((len(shared), 2), bool)  # amid the side of the first, of the second copy
    for ends in (shared.starts, shared.ends):
        line, near = tree.query(shapely.points(ends), predicate="dwithin", distance=AT_END)
        for side in (0, 1):
            mine = shared.copies[line, side] == owner[near]
            inside[line[mine], side] = False
    found = []
    for copy in np.unique(shared.copies).tolist():
        rows, own = np.nonzero(shared.copies == copy)
        others = np.unique(shared.copies[rows, 1 - own])
        plain = len(layout.parts[layout.placements[copy].part].contours) == 1
        if plain and len(others) > 1 and inside[rows, 1 - own].all():
            found.append(copy)
    if not found:
        return ()
    x, y = (drawn.centroid[found[0]] + low).tolist()
    number = counted(len(found), "line")
    words = (
        f"{number} between parts, counted as parts: or scrap between cuts through the skeleton? "
        "Then end those cuts short of the parts"
    )
    return (Fact("view-not-part", words, x, y, len(found), sort=CUT_FOR_NOW),)
