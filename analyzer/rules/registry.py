"""All rules, in the order the answers list them."""

from __future__ import annotations

from analyzer.rules import (
    corners,
    drawing,
    drop,
    drop_slugs,
    edges,
    heat,
    holes,
    leads,
    necks,
    process,
    shapes,
    sheet,
    slots,
    tapped,
    tolerances,
    words,
)
from analyzer.rules.limits import known
from analyzer.rules.rule import Rule

_ORDER = (
    "open-contour", "gap-closed", "double-line", "crossing-contour", "unit-guessed", "speck",
    "view-not-part", "symbol-not-cut", "note-disagrees", "left-right-pair", "islands-fall-out",
    "hole-near-bend",
    "hole-too-small", "no-room-for-lead-in", "lead-in-crosses-line", "hole-likely-threaded",
    "slot-too-narrow", "kerf-fills-feature", "web-too-thin", "web-overheats",
    "neck-too-thin",
    "tip-too-sharp", "inside-radius-too-tight", "corner-slows",
    "edge-burrs", "small-contour-burrs",
    "part-falls-through", "part-tips", "part-may-stick", "cut-out-tips", "slug-may-stick",
    "thickness-beyond-power", "gas-supply-too-small", "gas-unsuited", "edge-unfit-for-next-step",
    "plate-unsuited", "tolerance-tighter-than-process", "table-implausible",
    "parts-too-close", "margin-too-small", "part-larger-than-sheet", "crowded-heat",
)  # fmt: skip
_BY_NAME: dict[str, Rule] = {
    rule.name: rule
    for module in (
        drawing, words, shapes, holes, leads, tapped, slots, necks, corners, edges, drop,
        drop_slugs, heat, process, tolerances, sheet,
    )
    for rule in module.RULES
}  # fmt: skip

RULES: tuple[Rule, ...] = tuple(_BY_NAME[name] for name in _ORDER)
"""Every rule that is judged, drawing rules first."""

RANK = {rule.name: rank for rank, rule in enumerate(RULES)}


def rule_named(name: str) -> Rule:
    """Return the rule called `name`.

    Raises
    ------
    InputError
        If there is none; the message names the nearest one.

    Examples
    --------
    >>> rule_named("hole-too-small").group
    'holes'
    """
    known(name, _ORDER, "rule", "explain")
    return _BY_NAME[name]
