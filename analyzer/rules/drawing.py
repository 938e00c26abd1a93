"""Rules about the drawing that judge what the stations found and repaired."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

import numpy as np

from analyzer.drawing.drawing import CUT_FOR_NOW, IN_PAPER_SPACE, NEARLY_TWICE, Fact
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.geometry.near import close_pairs
from analyzer.rules.rule import Draft, Place, Rule
from analyzer.rules.scene import LOSS, NOTE, REWORK, Scene
from analyzer.rules.wording import capital, size
from analyzer.units import counted

JOINS = (0.2, 0.5, 1.0, 2.0)  # values of --join that are told, up to the widest allowed [mm]
CROSSING_CURE = "Redraw the crossing; ask the designer which line is meant."
LISTED = 3  # open contours named with both ends before the rest is only counted


def open_contours(scene: Scene) -> Iterator[Draft]:
    """Cut lines that do not close, by what they are; and a drawing without any part."""
    parts, loose = scene.parts, scene.parts.loose
    if not parts.parts:
        yield _no_part(scene)
        return
    within = scene.constant("open-contour", "closes_within")
    gaps, closes = _gaps(loose, within)
    for chosen, level, what, cure in (
        (closes, "loss", "outline", "Close it in the drawing: without it there is no part."),
        (~closes, "rework", "line outside every part",
         "Ask what it is: delete it, or put it on a mark or bend layer."),
    ):  # fmt: skip
        if chosen.any():
            yield _open(None, loose, np.flatnonzero(chosen), gaps, level, what, cure)
    for part in parts.parts:
        rows = np.flatnonzero(~part.contours.closed)
        if not len(rows):
            continue
        lines = part.contours.take(rows)
        gaps, closes = _gaps(lines, within)
        for chosen, level, what, cure in (
            (closes, "rework", "cut-out", "Close it in the drawing, or the slug hangs on."),
            (~closes, "note", "slit", "Check that it is meant: it is cut from end to end."),
        ):  # fmt: skip
            if chosen.any():
                yield _open(part.id, lines, np.flatnonzero(chosen), gaps, level, what, cure)


def _gaps(lines: Contours, within: float) -> tuple[Floats, Bools]:
    """Return the distance between both ends of open lines, and which should close."""
    if not len(lines):
        return np.zeros(0), np.zeros(0, dtype=bool)
    first, last = lines.starts[lines.offsets[:-1]], lines.ends[lines.offsets[1:] - 1]
    gaps = np.hypot(*(last - first).T)
    return gaps, gaps <= within * lines.length


def _open(
    part: str | None, lines: Contours, rows: Ints, gaps: Floats, level: str, what: str, cure: str
) -> Draft:
    widest = float(gaps[rows].max())
    said, option = "", ""
    if level in ("loss", "rework") and not what.startswith("line"):
        said, option = _closable(gaps[rows], lines.length[rows])
    return Draft(
        level, part, _start_places(lines, rows), widest, 0.0, "mm",
        f"{counted(len(rows), f'open {what}', _plural(what))}: {_ends(lines, rows)}{said}.",
        _either(option, cure), len(rows),
    )  # fmt: skip


def _closable(gaps: Floats, lengths: Floats) -> tuple[str, str]:
    """Return words for the gaps that are near to closing, and for the option that closes them.

    Never for a line so short that joining leaves it alone.
    """
    near = (gaps <= JOINS[-1]) & (lengths > 4.0 * JOINS[-1])
    if not near.any():
        return "", ""
    least, most = float(gaps[near].min()), float(gaps[near].max())
    join = next(value for value in JOINS if value >= most - 1e-9)
    one = near.sum() == 1
    said = f"; gap {most:.2f} mm" if one else f"; gaps {least:.2f} to {most:.2f} mm"
    said = f"; gaps {most:.2f} mm" if not one and most - least < 0.005 else said
    how = f"--join {join:g}mm closes {'it' if one else 'them'}"
    whole = len(gaps) == int(near.sum())
    return said, (f"{how}; else " if whole else f"{how}, {int(near.sum())} of {len(gaps)}; else ")


def _either(option: str, cure: str) -> str:
    return option + cure[:1].lower() + cure[1:] if option else cure


def _nearest_ends(lines: Contours) -> Floats:
    """Return how far each open line is from closing with any ends, the wider of both. [mm]

    Infinite beyond the widest join.
    """
    count = len(lines)
    ends = np.vstack((lines.starts[lines.offsets[:-1]], lines.ends[lines.offsets[1:] - 1]))
    pairs = close_pairs(ends, JOINS[-1])
    away = np.hypot(*(ends[pairs[:, 0]] - ends[pairs[:, 1]]).T)
    nearest = np.full(2 * count, np.inf)
    for column in (0, 1):
        np.minimum.at(nearest, pairs[:, column], away)
    widest: Floats = np.maximum(nearest[:count], nearest[count:])
    return widest


def _plural(what: str) -> str:
    return "open lines outside every part" if what.startswith("line") else f"open {what}s"


def _start_places(lines: Contours, rows: Ints) -> tuple[Place, ...]:
    return tuple((x, y) for x, y in lines.starts[lines.offsets[rows]].tolist())


def _ends(lines: Contours, rows: Ints) -> str:
    """Return both ends of the first few lines in words."""
    first = lines.starts[lines.offsets[rows[:LISTED]]].tolist()
    last = lines.ends[lines.offsets[rows[:LISTED] + 1] - 1].tolist()
    said = [
        f"from ({size(a)}, {size(b)}) to ({size(c)}, {size(d)})"
        for (a, b), (c, d) in zip(first, last, strict=True)
    ]
    more = len(rows) - LISTED
    return "; ".join(said) + (f"; and {more} more" if more > 0 else "")


def _no_part(scene: Scene) -> Draft:
    loose = scene.parts.loose
    rows = np.arange(len(loose))
    if not len(rows):
        say = "No cut line was found, so there is no part."
        cure = "Check the layers: cut lines may lie on a mark, bend or frame layer."
        if any(fact.sort == IN_PAPER_SPACE for fact in scene.parts.drawing.facts):
            cure = "Ask for the part in model space: what lies in paper space is a view of it."
        return Draft("loss", None, (), 0.0, 1.0, "closed contours", say, cure)
    said, option = _closable(_nearest_ends(loose), loose.length)
    say = (
        f"No contour closes, so there is no part: {counted(len(rows), 'open line')}, "
        f"{_ends(loose, rows)}{said}."
    )
    cure = _either(option, "Close the outline in the drawing.")
    return Draft(
        "loss", None, _start_places(loose, rows), 0.0, 1.0, "closed contours", say, cure,
        max(len(rows), 1),
    )  # fmt: skip


def from_facts(
    kind: str, level: int, remedy: str, *, together: bool = True, if_cut: str = ""
) -> Callable[[Scene], Iterable[Draft]]:
    """Return a rule body that turns the facts of a kind into findings.

    Parameters
    ----------
    together : bool
        One finding for all facts of the kind; else one for all that say the same.
    if_cut : str
        The remedy where a fact asks about what is cut for now.
    """

    def find(scene: Scene) -> Iterator[Draft]:
        facts = scene.facts.get(kind, ())
        if not together:
            for alike in _alike(facts):
                cut = if_cut and alike[0].sort == CUT_FOR_NOW
                yield _from_facts(alike, level, if_cut if cut else remedy)
        elif facts:
            yield _from_facts(facts, level, remedy)

    return find


def _alike(facts: Iterable[Fact]) -> list[list[Fact]]:
    """Return facts that say the same, each lot together."""
    lots: dict[tuple[str, str], list[Fact]] = {}
    for fact in facts:
        lots.setdefault((fact.sort, fact.message), []).append(fact)
    return list(lots.values())


def _from_facts(facts: Iterable[Fact], level: int, remedy: str) -> Draft:
    facts = list(facts)
    number = sum(fact.count for fact in facts)
    message = capital(facts[0].message.rstrip("."))
    message += "" if message.endswith("?") else "."
    if len(facts) > 1 and len({fact.message for fact in facts}) > 1:
        message = f"{message} And {number - facts[0].count:,} more like it."
    places = tuple((f.x, f.y) for f in facts if f.x is not None and f.y is not None)
    name = {NOTE: "note", REWORK: "rework", LOSS: "loss"}[level]
    return Draft(
        name, None, places, float(number), 0.0, "found", message, remedy, number,
        sort=facts[0].sort,
    )  # fmt: skip


def crossings(scene: Scene) -> Iterator[Draft]:
    """Contours that cross; apart from them those drawn nearly twice, one finding for a size."""
    facts = scene.facts.get("crossing-contour", ())
    for alike in _alike(fact for fact in facts if fact.sort == NEARLY_TWICE):
        yield _from_facts(alike, LOSS, "Delete one of each." if len(alike) > 1 else "Delete one.")
    rest = [fact for fact in facts if fact.sort != NEARLY_TWICE]
    if rest:
        yield _from_facts(rest, LOSS, CROSSING_CURE)


def handed_pairs(scene: Scene) -> Iterator[Draft]:
    """Parts that are the mirror image of another: never counted as the same."""
    parts = {part.id: part for part in scene.parts.parts}
    for part in scene.parts.parts:
        twin = parts.get(part.other_hand_of or "")
        if twin is None:
            continue
        places = tuple(
            (float(x), float(y)) for x, y in (p.contours.centroid[0] for p in (twin, part))
        )
        yield Draft(
            "note", part.id, places, float(part.count), float(twin.count), "copies",
            f"{part.id} ({part.count} drawn) is the other hand of {twin.id} ({twin.count} drawn): "
            "a left and right pair, or drawn mirrored by mistake?",
            "Order both hands apart: burr side, film and countersinks differ.", 2,
        )  # fmt: skip


def _fact_rule(
    name: str,
    level: int,
    question: str,
    why: str,
    remedy: str,
    example: str,
    *,
    asks: bool = True,
    together: bool = True,
    if_cut: str = "",
) -> Rule:
    find = from_facts(name, level, remedy, together=together, if_cut=if_cut)
    return Rule(name, "drawing", "drawing", question, why, remedy, example, asks, on_drawing=find)


RULES = (
    Rule(
        name="open-contour",
        group="drawing",
        kind="drawing",
        question="Does every outline and cut-out close?",
        why=(
            "An outline that does not close is no part; an open cut-out leaves its slug "
            "hanging. A slit that is meant to be open is cut as drawn."
        ),
        remedy="Close it in the drawing, or put the line on the layer it belongs to.",
        example="1 open outline: from (0, 0) to (0, 12.5).",
        asks_change=True,
        on_drawing=open_contours,
    ),
    _fact_rule(
        "gap-closed", NOTE,
        "Were small gaps between line ends closed?",
        "Ends nearer than the join distance are taken as one. The next program may not do so.",
        "Mend the gap in the drawing before it goes on.",
        "Gap of 0.05 mm closed at (100, 0).",
    ),
    _fact_rule(
        "double-line", REWORK,
        "Is any line drawn twice?",
        (
            "A line drawn twice is cut twice: the second pass ruins the edge and costs a "
            "pierce. Here every such line is counted and cut once."
        ),
        "Delete the doubles in the drawing before it goes on.",
        "3 lines drawn double, 125.4 mm, cut once.",
    ),
    Rule(
        name="crossing-contour",
        group="drawing",
        kind="drawing",
        question="Does any contour cross itself or another?",
        why=(
            "Where contours cross, nobody can tell metal from cut-out, and the part is cut into. "
            "One drawn nearly twice is cut twice: it comes out oval, the edge ruined."
        ),
        remedy=CROSSING_CURE,
        example="Contour crosses itself at (20, 35).",
        asks_change=True,
        on_drawing=crossings,
    ),
    _fact_rule(
        "unit-guessed", NOTE,
        "Is the drawing's unit told, and do the sizes fit it?",
        "Inches read as millimetres make a part 25.4 times too small.",
        "Check one size against the print, then give --units.",
        "Unit not told; read as inch: 355.6 x 101.6 mm, as millimetre 14 x 4 mm.",
    ),
    _fact_rule(
        "speck", NOTE,
        "Is anything so small that it cannot be meant?",
        "Scraps of lines are leftovers of drawing; each would cost a pierce.",
        "Delete it in the drawing.",
        "1 closed contour 0.05 mm across.",
        asks=False,
    ),
    _fact_rule(
        "view-not-part", NOTE,
        "Is anything drawn a view, a frame or a title block rather than a part?",
        (
            "Edge views, sections, details at another scale and frames lie in the same "
            "space as the flat part. Cut as parts they are scrap."
        ),
        "Look at it: if it is a part, put it on a cut layer.",
        "Rectangle 120 x 10 beside P1, one side the thickness: taken for its edge view.",
        together=False,
        if_cut="Look at it: if it is a view, delete it or give --layer ignore=NAME for it.",
    ),
    _fact_rule(
        "symbol-not-cut", NOTE,
        "Is anything drawn a symbol rather than a cut?",
        (
            "Thread symbols, countersink rings and centre marks are circles and arcs like "
            "any cut, and ruin the part when cut."
        ),
        "Look at it: if it is to be cut, put it on a cut layer.",
        "Arc r 5 around hole 8.5: thread symbol, not cut.",
        together=False,
        if_cut="Look at it: if it is a symbol, delete it or give --layer ignore=NAME for it.",
    ),
    Rule(
        name="left-right-pair",
        group="drawing",
        kind="drawing",
        question="Is one part the mirror image of another?",
        why=(
            "Left and right hand are two parts: burr side, brushed face, film and "
            "countersinks are on different sides. Counted as one, ten lefts arrive for five "
            "and five."
        ),
        remedy="Order both hands apart.",
        example="P2 (1 drawn) is the other hand of P1 (2 drawn): a left and right pair.",
        asks_change=False,
        on_drawing=handed_pairs,
    ),
)  # fmt: skip
