"""Rules about the layout of a sheet: gaps, margins, and parts no sheet is large enough for.

Places are on the sheet, from its lower left corner.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Floats, Ints
from analyzer.layout.alone import canonical_poses
from analyzer.rules.rule import LEVELS, Draft, Rule
from analyzer.rules.scene import LOSS, REWORK, at_the_limit, levels_of, quoted
from analyzer.rules.sheet_scene import SheetCase, places_of
from analyzer.rules.wording import (
    after_thin,
    capital,
    next_half,
    size,
    sizes,
    stated,
    whose,
    wide_and_long,
)
from analyzer.units import counted

MOST_PLACES = 200
"""Places of one finding that are told."""

OUTSIDE = 1e-3
"""A part sticks out of the sheet from here on. [mm]"""


# --- gaps -------------------------------------------------------------------------------


def parts_too_close(case: SheetCase) -> Iterator[Draft]:
    """Gaps below the limit, parts on one another, and pierces with no room between parts."""
    spaces = case.spaces
    yield from _on_one_another(case)
    row = case.limit("parts-too-close")
    if row is None:
        return
    ok = max(row["ok"] * case.thickness, row["least_mm"])
    last = min(max(row["last"] * case.thickness, case.constant("parts-too-close", "last_mm")), ok)
    levels = levels_of(spaces.gaps, ok, last)
    levels[spaces.joined | spaces.overlaps] = 0
    for level in (LOSS, REWORK):
        rows = np.flatnonzero(levels == level)
        if len(rows):
            yield _gaps(case, rows[np.argsort(spaces.gaps[rows], kind="stable")], level, ok, last,
                        whose(row.own))  # fmt: skip
    yield from _no_room_to_pierce(case)


def _gaps(
    case: SheetCase, rows: Ints, level: int, ok: float, last: float, whose_limit: str
) -> Draft:
    spaces = case.spaces
    least, most = float(spaces.gaps[rows[0]]), float(spaces.gaps[rows[-1]])
    test_piece = level == REWORK and at_the_limit(least, last)
    limit, just = quoted(LEVELS[level - 1], least, ok, last)
    one, other = spaces.copies[rows[0]].tolist()
    between = f"{counted(len(rows), 'gap')} of {sizes(least, most)} mm"
    if len(rows) > 1:
        between += " between parts, the least"
    kerf = case.setting.kerf_mm
    which = f"{whose_limit} limit for {case.gas_words}"
    meant = least <= 1.5 * kerf
    cure = f"Leave {next_half(ok)} mm between the parts." + (
        " If a common cut is meant, draw that line once." if meant else ""
    )
    return Draft(
        LEVELS[level - 1], None, places_of(spaces.gap_at, rows[:MOST_PLACES]), least, limit, "mm",
        f"{between} between {case.name(one)} and {case.name(other)}"
        f"{stated(which, size(limit), 'below' if just else '')} "
        f"{after_thin(case.gas, level == LOSS, 'the parts move')}",
        f"Cut one test piece first. {cure}" if test_piece else cure, len(rows),
    )  # fmt: skip


def _on_one_another(case: SheetCase) -> Iterator[Draft]:
    spaces = case.spaces
    rows = np.flatnonzero(spaces.overlaps)
    if len(rows):
        one, other = spaces.copies[rows[0]].tolist()
        pairs = "parts lie" if len(rows) == 1 else f"parts in {len(rows)} places lie"
        yield Draft(
            "loss", None, places_of(spaces.gap_at, rows[:MOST_PLACES]), 0.0, 0.0, "mm",
            f"{capital(pairs)} on one another, {case.name(one)} and "
            f"{case.name(other)} first: both are lost.",
            "Move them apart.", len(rows),
        )  # fmt: skip


def _no_room_to_pierce(case: SheetCase) -> Iterator[Draft]:
    """Outlines with no corner or side where lead-in and pierce keep clear of the neighbours."""
    crowded = case.plan.crowded
    if not len(crowded):
        return
    setting = case.setting
    room = setting.crater_mm + setting.kerf_mm / 2.0 + case.constant("parts-too-close", "beside_mm")
    needed = setting.lead_mm + room
    at = np.array([
        case.layout.placements[k].points(case.plan.plans[k].pierces[:1])[0]
        for k in crowded.tolist()
    ])  # fmt: skip
    mine = np.flatnonzero(np.isin(case.spaces.copies, crowded).sum(axis=1))
    gaps: Floats = case.spaces.gaps[mine]
    near = min(float(gaps.min(initial=np.inf)), float(case.spaces.margins[crowded].min()))
    measured = near if np.isfinite(near) else 0.0
    name = case.name(int(crowded[0]))
    yield Draft(
        "rework", None, places_of(at, np.arange(min(len(at), MOST_PLACES))), measured, needed,
        "mm",
        f"{counted(len(crowded), 'outline')} ({name}{' first' if len(crowded) > 1 else ''}) cannot "
        f"be pierced clear of what lies beside: lead-in {size(setting.lead_mm)}, crater and 1 mm "
        f"need {size(needed)} mm in {case.gas_words}. The crater would mark the neighbour.",
        f"Leave {next_half(needed)} mm beside one corner, or shorten the lead-in and pierce soft.",
        len(crowded),
    )  # fmt: skip


# --- margins ----------------------------------------------------------------------------


def margin_too_small(case: SheetCase) -> Iterator[Draft]:
    """Parts too near to the edge of the sheet, or beyond it."""
    row = case.limit("margin-too-small")
    margins = case.spaces.margins
    if row is None or not np.isfinite(margins).any():
        return
    ok = max(row["ok"] * case.thickness, row["least_mm"])
    last = case.constant("margin-too-small", "last_mm")
    out = margins < -OUTSIDE
    levels = np.where(out, LOSS, levels_of(np.maximum(margins, 0.0), ok, last))
    for level, mask in ((LOSS, out), (LOSS, ~out), (REWORK, ~out)):
        rows = np.flatnonzero((levels == level) & mask)
        if len(rows):
            rows = rows[np.argsort(margins[rows], kind="stable")]
            yield _margin(case, rows, level, ok, last, whose(row.own))


def _margin(
    case: SheetCase, rows: Ints, level: int, ok: float, last: float, whose_limit: str
) -> Draft:
    least, most = (float(case.spaces.margins[rows[k]]) for k in (0, -1))
    first = case.name(int(rows[0])) + (" first" if len(rows) > 1 else "")
    if least < -OUTSIDE:
        measured, limit = least, 0.0
        said = (
            f"{counted(len(rows), 'part')} ({first}) reach{'es' if len(rows) == 1 else ''} over "
            f"the edge of the sheet, by {size(-least)} mm."
        )
    else:
        measured, limit = least, last if level == LOSS else ok
        after = (
            "The cut runs out of the sheet." if level == LOSS
            else "The rim is too weak to hold, and the sheet lies no nearer than that."
        )  # fmt: skip
        said = (
            f"{counted(len(rows), 'part')} ({first}) {sizes(least, most)} mm from the edge of the "
            f"sheet; {whose_limit} limit is {size(limit)}. {after}"
        )
    return Draft(
        LEVELS[level - 1], None, places_of(case.spaces.margin_at, rows[:MOST_PLACES]), measured,
        limit, "mm", said, f"Keep {next_half(ok)} mm from the edge.", len(rows),
    )  # fmt: skip


# --- parts larger than the sheet ----------------------------------------------------------


@dataclass(frozen=True)
class TooLarge:
    """A part that fits no sheet: its name, how many, and its extents, the least first. [mm]"""

    name: str
    count: int
    width: float
    height: float


def part_larger_than_sheet(case: SheetCase) -> Iterator[Draft]:
    """Parts of a drawn sheet that no turn would bring onto it."""
    layout = case.layout
    if not (layout.length_mm > 0.0 and layout.width_mm > 0.0):
        return
    copies = np.bincount([p.part for p in layout.placements], minlength=len(layout.parts))
    large = []
    for index, part in enumerate(layout.parts):
        if not copies[index]:
            continue
        pose = canonical_poses(part.contours)[0]
        large.append(TooLarge(case.names[index], int(copies[index]), pose.width, pose.height))
    sheets = ((layout.length_mm, layout.width_mm),)
    yield from larger_than_sheets(large, sheets)


def larger_than_sheets(
    parts: Sequence[TooLarge], sheets: Sequence[tuple[float, float]], margin: float = 0.0
) -> Iterator[Draft]:
    """Yield a finding for every part that fits none of the sheets, however it is turned.

    Parameters
    ----------
    parts : sequence of TooLarge
        Any parts; those that fit are passed over.
    sheets : sequence of (float, float)
        Length and width. [mm]
    margin : float
        To the edge. [mm]
    """
    for part in parts:
        if any(_fits(part, sheet, margin) for sheet in sheets):
            continue
        length, width = max(sheets, key=lambda s: s[0] * s[1])
        wide = part.width > min(length, width) - 2.0 * margin
        least, most = min(length, width), max(length, width)
        measured, limit = (part.width, least) if wide else (part.height, most)
        yield Draft(
            "loss", part.name, (), measured, limit - 2.0 * margin, "mm",
            f"{part.name} is {wide_and_long(part.width, part.height)}, and fits no sheet: the "
            f"largest is {size(most)} x {size(least)}"
            + (f", less {size(margin)} at every edge." if margin > 0.0 else "."),
            "Get a larger sheet, or split the part and weld it.", part.count,
        )  # fmt: skip


def _fits(part: TooLarge, sheet: tuple[float, float], margin: float) -> bool:
    """Whether a part could lie on a sheet, by its least width and by its diagonal turned in.

    A long thin part may lie along the diagonal: a rectangle p x q fits a x b (p >= q, a >= b,
    p > a) if b >= (2 p q a + (p^2 - q^2) sqrt(p^2 + q^2 - a^2)) / (p^2 + q^2); Wetzel,
    "Rectangles in rectangles", Mathematics Magazine 73 (2000) 204-211 (from memory).
    """
    b, a = sorted(side - 2.0 * margin + OUTSIDE for side in sheet)
    q, p = sorted((part.width, part.height))
    if q > b or b <= 0.0:
        return False
    if p <= a:
        return True
    square = p * p + q * q
    return bool(b >= (2.0 * p * q * a + (p * p - q * q) * np.sqrt(square - a * a)) / square)


RULES = (
    Rule(
        name="parts-too-close",
        group="sheet",
        kind="sheet",
        question="Is there enough metal between the parts, and room to pierce beside them?",
        why=(
            "What is left between two parts carries the skeleton and takes the heat of both "
            "cuts. Too narrow, it burns through or lets go, and the parts move under the head. "
            "A pierce too near marks the neighbour with its crater. Parts with a common line "
            "are no fault: that line is cut once."
        ),
        remedy="Move the parts apart, or make the line a common cut.",
        example=(
            "3 gaps of 4 to 6 mm between parts, the least between GUSSET and CLIP; our limit for "
            "oxygen is 10. It gets hot and the parts move."
        ),
        asks_change=True,
    ),
    Rule(
        name="margin-too-small",
        group="sheet",
        kind="sheet",
        question="Do the parts keep clear of the edge of the sheet?",
        why=(
            "The edge of a sheet is not straight, the sheet never lies quite where it should, "
            "and a rim that is too narrow lets the skeleton spring."
        ),
        remedy="Move the parts inwards, or take a larger sheet.",
        example=(
            "2 parts (DECK PLATE first) 4 mm from the edge of the sheet; our limit is 10. The rim "
            "is too weak to hold, and the sheet lies no nearer than that."
        ),
        asks_change=True,
    ),
    Rule(
        name="part-larger-than-sheet",
        group="sheet",
        kind="sheet",
        question="Does every part fit a sheet?",
        why="A part longer or wider than every sheet cannot be cut from one piece.",
        remedy="Get a larger sheet, or split the part and weld it.",
        example=(
            "STRINGER is 180 wide, 3400 long, and fits no sheet: the largest is 3000 x 1500, less "
            "10 at every edge."
        ),
        asks_change=True,
    ),
)
