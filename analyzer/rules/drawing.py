"""Rules about the drawing that judge what the stations found and repaired."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from analyzer.drawing.drawing import CUT_FOR_NOW, NEARLY_TWICE, Fact
from analyzer.rules.open_contour import open_contours
from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import LOSS, NOTE, REWORK, Scene
from analyzer.rules.wording import capital

CROSSING_CURE = "Redraw the crossing; ask the designer which line is meant."


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
        example=(
            "1 open outline: in 2 lines, gaps 0.7 mm at (300, 0.35) and 0.3 mm at (400, 50.15)."
        ),
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
