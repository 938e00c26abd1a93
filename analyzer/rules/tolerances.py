"""Rule tolerance-tighter-than-process: ISO 2768-1 asked, ISO 9013 class 1 held."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.parts.part import Part
from analyzer.rules.general_tolerances import cutting_deviation, general_deviation, tolerance_class
from analyzer.rules.rule import Draft, Place, Rule
from analyzer.rules.scene import Scene
from analyzer.rules.wording import size
from analyzer.units import counted


@dataclass(frozen=True, eq=False)
class Sizes:
    """Sizes from edge to edge of one part, and where: diameters, widths, lengths. [mm]"""

    size: Floats
    places: tuple[Place, ...]


def edge_to_edge(part: Part) -> Sizes:
    """Return the sizes a part's own edges make; distances between holes are none of them.

    The position of a hole is the machine's, not the cut's.
    """
    sizes: list[float] = []
    places: list[Place] = []
    for hole in part.holes:
        sizes.append(hole.diameter)
        places.append((hole.x, hole.y))
    for slot in part.slots:
        sizes += [slot.width, slot.length]
        places += [(slot.x, slot.y)] * 2
    told = {h.row for h in part.holes} | {s.row for s in part.slots}
    for row in np.flatnonzero(part.contours.closed).tolist():
        if row not in told:
            sizes += extents(part.contours, row)
            x, y = part.contours.centroid[row].tolist()
            places += [(x, y)] * 2
    return Sizes(np.array(sizes), tuple(places))


def extents(contours: Contours, row: int) -> list[float]:
    """Return the extents of a contour along its longest straight edge and across. [mm]

    Turning the part changes nothing; a contour without straight edges is measured along x.
    """
    some = contours.segments_of(row)
    straight = np.where(contours.bulges[some] == 0.0, contours.chords[some], 0.0)
    longest = int(straight.argmax())
    step = contours.ends[some][longest] - contours.starts[some][longest]
    along = step / np.hypot(*step) if straight[longest] > 0.0 else np.array([1.0, 0.0])
    points = contours.ring(row)
    across = np.array([-along[1], along[0]])
    return [float(np.ptp(points @ axis)) for axis in (along, across)]


def too_tight(scene: Scene) -> Iterator[Draft]:
    """Sizes whose general tolerance is tighter than laser cutting holds: one note a part."""
    asked = scene.job.tolerance
    if asked is None:
        return
    letter = tolerance_class(asked)
    for part in scene.parts.parts:
        sizes = edge_to_edge(part)
        wanted = general_deviation(letter, sizes.size)
        held = cutting_deviation(scene.thickness, sizes.size)
        tight = np.flatnonzero(wanted < held * (1.0 - 1e-9))  # nan compares false
        if not len(tight):
            continue
        worst = tight[np.argmax(held[tight] / wanted[tight])]
        places = tuple(dict.fromkeys(sizes.places[i] for i in tight.tolist()))
        yield Draft(
            "note", part.id, places, float(wanted[worst]), float(held[worst]), "mm",
            f"{counted(len(tight), 'size')} asked tighter than laser cutting holds: "
            f"{size(float(sizes.size[worst]))} mm by ISO 2768-{letter} +-{size(wanted[worst])}, by "
            f"ISO 9013 class 1 +-{size(held[worst])}.",
            "Ask the customer for ISO 9013 class 1 on cut edges, or machine these sizes.",
            len(tight),
        )  # fmt: skip


RULES = (
    Rule(
        name="tolerance-tighter-than-process",
        group="process",
        kind="drawing",
        question="Is the general tolerance wider than what laser cutting holds?",
        why=(
            "ISO 9013 gives laser cuts up to 32 mm tolerance class 1. ISO 2768-m is tighter "
            "for small holes and on thick sheet. Only sizes from edge to edge are meant: "
            "the pitch of holes is the machine's position and is held. Asked only with "
            "--tolerance."
        ),
        remedy="Ask the customer for ISO 9013 class 1 on cut edges, or machine these sizes.",
        example=(
            "1 size asked tighter than laser cutting holds: 80 mm by ISO 2768-m +-0.3, "
            "by ISO 9013 class 1 +-0.4."
        ),
        asks_change=True,
        on_drawing=too_tight,
    ),
)
