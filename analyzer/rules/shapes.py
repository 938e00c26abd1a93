"""Drawing rules that measure shapes themselves: islands in cut-outs, holes beside bends."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.geometry.contours import Floats, Ints
from analyzer.parts.part import Part
from analyzer.rules.drawing import from_facts
from analyzer.rules.limits import Row
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import LOSS, NOTE, NOTHING, REWORK, Features, Group, Scene, groups
from analyzer.rules.wording import ratio, size, whose
from analyzer.units import counted

ISLAND_CURE = "Bridge the letter, or put the lettering on a mark layer; ask the customer."


def islands(scene: Scene) -> Iterator[Draft]:
    """Pieces that fall out of cut-outs: the middles of letters, and what may be one.

    Where the finding of parts has set lettering islands aside it says so as a fact: they
    are lost.  A single piece in a ring-shaped cut-out can be a letter O or a part packed
    into another; that is a question.
    """
    yield from from_facts("islands-fall-out", LOSS, ISLAND_CURE)(scene)
    tallest = scene.constant("islands-fall-out", "letter_height_mm")
    for part, ring in _in_cut_outs(scene):
        if not _reads_as_letter(scene, part, ring):
            continue
        box = part.contours.box[0]
        across = _extent(box)
        yield Draft(
            "note", part.id, (_middle(box),), _extent(scene.parts.drawing.cuts.box[ring]),
            tallest, "mm",
            f"{counted(part.count, 'piece')} {size(across)} across in a ring-shaped cut-out, "
            "counted as a part: or the middle of a letter that falls out?",
            ISLAND_CURE, part.count,
        )  # fmt: skip


def _middle(box: Floats) -> tuple[float, float]:
    return float(box[0] + box[2]) / 2.0, float(box[1] + box[3]) / 2.0


def _extent(box: Floats) -> float:
    return float(max(box[2] - box[0], box[3] - box[1]))


def _in_cut_outs(scene: Scene) -> Iterator[tuple[Part, int]]:
    """Yield parts that lie in a cut-out, with that cut-out's row of the drawing's cuts.

    By boxes: the smallest cut-out whose box holds the part's.  A part is never wider than
    the hole it lies in, and lettering has its islands in the middle.  For every cut-out
    only the parts in its stretch of x are looked at.
    """
    parts, cuts = scene.parts.parts, scene.parts.drawing.cuts
    rows = np.array([r for p in parts for copy in p.copies for r in copy[1:]], dtype=np.int64)
    rows = rows[cuts.closed[rows]] if len(rows) else rows
    if not len(rows) or len(parts) < 2:
        return
    inner = np.array([part.contours.box[0] for part in parts])
    order = np.argsort(inner[:, 0], kind="stable")
    inner = inner[order]
    least = (inner[:, 2:] - inner[:, :2]).min(axis=0)
    boxes = cuts.box[rows]
    rows = rows[((boxes[:, 2:] - boxes[:, :2]) > least).all(axis=1)]
    rows = rows[np.argsort(-np.abs(cuts.area[rows]), kind="stable")]  # the smallest comes last
    holder: dict[int, int] = {}
    for row, box in zip(rows.tolist(), cuts.box[rows], strict=True):
        first, stop = np.searchsorted(inner[:, 0], [box[0], box[2]], side="right")
        some = inner[first:stop]
        inside = (some[:, 1] > box[1]) & (some[:, 2] < box[2]) & (some[:, 3] < box[3])
        for index in order[first:stop][inside].tolist():
            if row not in parts[index].copies[0]:
                holder[index] = row
    for index in sorted(holder):
        yield parts[index], holder[index]


def _reads_as_letter(scene: Scene, part: Part, ring: int) -> bool:
    """Return whether a cut-out around a part is a stroke of lettering.

    Its stroke, the area between both contours over half their lengths, is narrow against
    its extent, it is no taller than lettering is, and the piece is plain.
    """
    cuts, outline = scene.parts.drawing.cuts, part.contours
    extent = _extent(cuts.box[ring])
    between = abs(float(cuts.area[ring])) - float(outline.area[0])
    stroke = between / ((float(cuts.length[ring]) + float(outline.length[0])) / 2.0)
    widest = scene.constant("islands-fall-out", "letter_stroke")
    tallest = scene.constant("islands-fall-out", "letter_height_mm")
    return extent <= tallest and stroke <= widest * extent and len(outline) == 1


def near_bends(scene: Scene) -> Iterator[Draft]:
    """Holes so near to a bend line that bending pulls them out of round."""
    t = scene.thickness
    row = scene.limits.at("hole-near-bend", "nitrogen", scene.job.material, t)
    if row is None:
        return
    radius = scene.constant("hole-near-bend", "radius_per_thickness") * t
    reach = row["ok"] * t + radius
    for index, part in enumerate(scene.parts.parts):
        if not len(part.bends) or not part.holes:
            continue
        edge = _to_bends(part, reach)
        table = _features(index, part, (edge - radius) / t)
        levels: Ints = np.where(table.size < row["last"] * (1.0 - 1e-9), REWORK, NOTHING)
        between = (levels == NOTHING) & (table.size < row["ok"] * (1.0 - 1e-9))
        levels = np.where(between, NOTE, levels)
        for group in groups(table, levels):
            yield _near_bend(scene, part, table, group, row, radius)


def _features(index: int, part: Part, measure: Floats) -> Features:
    holes = part.holes
    return Features(
        np.full(len(holes), index), np.array([h.row for h in holes]),
        np.array([(h.x, h.y) for h in holes]), measure, np.array([h.diameter for h in holes]),
    )  # fmt: skip


def _to_bends(part: Part, reach: float) -> Floats:
    """Return the distance from the edge of every hole to the nearest bend line, shape (h,).

    Infinite beyond `reach`. [mm]
    """
    centres = np.array([(h.x, h.y) for h in part.holes])
    radii = np.array([h.diameter for h in part.holes]) / 2.0
    order = np.argsort(centres[:, 0], kind="stable")
    x = centres[order, 0]
    gap = np.full(len(radii), np.inf)
    wide = reach + float(radii.max())
    for a, b in zip(part.bends.starts, part.bends.ends, strict=True):
        first = np.searchsorted(x, min(a[0], b[0]) - wide)
        stop = np.searchsorted(x, max(a[0], b[0]) + wide, side="right")
        some = order[first:stop]
        step = b - a
        along = np.clip((centres[some] - a) @ step / max(float(step @ step), 1e-30), 0.0, 1.0)
        away = np.hypot(*(centres[some] - a - along[:, None] * step).T) - radii[some]
        gap[some] = np.minimum(gap[some], away)
    return np.where(gap <= reach, gap, np.inf)


def _near_bend(
    scene: Scene, part: Part, table: Features, group: Group, row: Row, radius: float
) -> Draft:
    edge = group.least * scene.thickness + radius
    away = row["ok"] * scene.thickness + radius
    holes = counted(group.count, "hole")
    its, them = ("its edge", "it") if group.count == 1 else ("their edges", "them")
    bound = f"{whose(row.own)} limit is {ratio(row['ok'])}"
    if edge < 0.0:
        said = f"{holes} across a bend line; {bound} of thickness clear of the bend."
    elif group.least < 0.0:
        said = (
            f"{holes} with the edge {size(edge)} mm from a bend line, within an inside radius "
            f"taken as {size(radius)}; {bound} of thickness beyond it."
        )
    else:
        said = (
            f"{holes} with the edge {size(edge)} mm from a bend line: {ratio(group.least)} of "
            f"thickness beyond an inside radius taken as {size(radius)}; {bound}."
        )
    return Draft(
        group.level, part.id, table.places(group.index), group.least, row["ok"], "of thickness",
        f"{said} Bending pulls {them} oval.",
        f"Move {its} to {size(away)} mm from the bend line, or drill after bending.", group.count,
    )  # fmt: skip


RULES = (
    Rule(
        name="islands-fall-out",
        group="drawing",
        kind="drawing",
        question="Does anything inside a cut-out fall out that should stay?",
        why=(
            "The inside of a cut letter A, B, D, O, P, Q, R, 0, 4, 6, 8 or 9 hangs on nothing. "
            "A single piece in a ring-shaped cut-out may be one too, and is asked about."
        ),
        remedy=ISLAND_CURE,
        example="The middles of letters drop: bridges, or a mark layer. And 5 more like it.",
        asks_change=True,
        on_drawing=islands,
    ),
    Rule(
        name="hole-near-bend",
        group="drawing",
        kind="drawing",
        question="Do holes keep clear of bend lines?",
        why=(
            "Metal flows where it is bent: a hole nearer to the bend than about twice the "
            "thickness beyond the inside radius is pulled oval. To stay truly round it must "
            "clear half the die opening, three to four thicknesses. Between both limits it is "
            "only a note; it is never a loss, as it can be drilled."
        ),
        remedy="Move the hole, or drill after bending.",
        example=(
            "2 holes with the edge 4 mm from a bend line: 1.00 of thickness beyond an inside "
            "radius taken as 2; our limit is 2.00. Bending pulls them oval."
        ),
        asks_change=True,
        on_drawing=near_bends,
    ),
)
