"""What a layer is for: cut, mark, bend, sheet, frame, or ignored; and why we think so.

The order is: what the user said, then what the drawing hides, then the layer's name,
then the linetype.  Everything that is not cut is reported.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Any

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.drawing.sources import Sources
from analyzer.errors import InputError
from analyzer.geometry.contours import Bools
from analyzer.units import counted

ROLES = ("cut", "mark", "bend", "sheet", "frame", "ignore")
USED = ("cut", "mark", "bend")

# Beginnings of words in layer names, several languages.  Common practice, no source.
_STEMS: dict[str, tuple[str, ...]] = {
    "bend": (
        "bend", "bieg", "abkant", "kantlinie", "kantung", "fold", "pliage", "pli", "plegado",
        "doblez", "piega", "piegatur", "dobra", "buig", "zetlijn", "ohyb", "bock", "savij",
        "曲げ", "折弯", "折彎",
    ),
    "mark": (
        "mark", "engrav", "etch", "gravi", "gravur", "scribe", "scribing", "beschrift",
        "signier", "lettering", "znac", "znač", "彫刻", "刻印", "刻字", "打标", "雕刻",
    ),
    "frame": ("frame", "border", "rahmen", "zeichnungsrahmen", "title", "schriftfeld", "cadre",
              "format"),
    "ignore": (
        "dim", "bemass", "bemaß", "maße", "cota", "cotation", "koty", "text", "txt", "note",
        "anno", "label", "hinweis", "constr", "hilfs", "aux", "centre", "center", "mittel",
        "achse", "axis", "axes", "symm", "hidden", "verdeckt", "phantom", "hatch", "schraff",
        "viewport", "vport",
    ),
}  # fmt: skip
_WHOLE_NAMES = {
    "sheet": "sheet", "stock": "sheet", "sheetoutline": "sheet", "blechtafel": "sheet",
    "tafel": "sheet", "rohteil": "sheet", "rohling": "sheet", "rawmaterial": "sheet",
}  # fmt: skip
# A name with one of these is a cut layer even if it speaks of a frame or a text too.
_CUT_STEMS = (
    "cut",
    "schneid",
    "schnitt",
    "laser",
    "outline",
    "contour",
    "kontur",
    "profile",
    "切断",
)
# A centre mark, bend note or mark-up layer is not what its second word says.
_BEFORE = {"centermark": "ignore", "centremark": "ignore", "centerline": "ignore"}

_LINETYPE = re.compile(
    r"(ACAD_ISO|CENTER|CENTRE|DASH|DOT|DIVIDE|PHANTOM|HIDDEN|BORDER|STRICH|MITTE|VERDECKT|PUNKT)"
)

_SAYS = {
    "mark": "mark lines",
    "bend": "bend lines",
    "sheet": "the sheet outline",
    "frame": "the drawing frame",
    "ignore": "not cut lines",
}

_MOST_LAYERS = 12  # layers of one role named where they are told together


@dataclass(frozen=True)
class Role:
    """What a line is for, and the reason in words.

    `soft` is a role by layer name or linetype that gives way when nothing else is left
    to cut.
    """

    role: str
    reason: str = ""
    soft: bool = False


@dataclass(frozen=True)
class LayerState:
    """What the layer table says of one layer."""

    off: bool = False
    frozen: bool = False
    plots: bool = True
    linetype: str = "CONTINUOUS"


def layer_states(document: Any) -> dict[str, LayerState]:
    """Return the layer table by name in lower case."""
    states = {}
    for layer in document.layers:
        states[str(layer.dxf.name).lower()] = LayerState(
            bool(layer.is_off()), bool(layer.is_frozen()), bool(layer.dxf.get("plot", 1)),
            str(layer.dxf.get("linetype", "CONTINUOUS")),
        )  # fmt: skip
    return states


def check_patterns(patterns: Sequence[tuple[str, str]]) -> None:
    """Raise InputError for a role that does not exist."""
    for role, name in patterns:
        if role not in ROLES:
            raise InputError(
                f"layer role {role!r} of {name!r} is not known", hint="use " + ", ".join(ROLES)
            )


def missing_layers(layers: Iterable[str], asked: Iterable[tuple[str, str]]) -> list[Fact]:
    """Return a fact for every role that was asked for and that no layer here is called after."""
    there = sorted(set(layers))
    small = [name.lower() for name in there]
    named = ", ".join(map(repr, there[:_MOST_LAYERS]))
    more = f" and {len(there) - _MOST_LAYERS} more" if len(there) > _MOST_LAYERS else ""
    return [
        Fact(
            "layer-not-there",
            f"no layer here is called {pattern!r}, as {role}={pattern} asks; layers with lines"
            f" or words: {named or 'none'}{more}",
        )
        for role, pattern in dict.fromkeys(asked)
        if not any(fnmatchcase(name, pattern.lower()) for name in small)
    ]


def readable(name: str) -> str:
    """Return a layer name with coded characters such as _U+5F6B or \\U+5F6B as they are."""
    return re.sub(
        r"[\\_]U\+([0-9A-Fa-f]{4})",
        lambda m: chr(int(m[1], 16)) if not 0xD800 <= int(m[1], 16) < 0xE000 else m[0], name,
    )  # fmt: skip


def role_by_name(name: str) -> str | None:
    """Return the role a layer name speaks of, None where it says nothing."""
    plain = readable(name).casefold()
    words = [word for word in re.split(r"[^\w]+|[_\d]+", plain) if word]
    whole = "".join(words)
    if whole in _WHOLE_NAMES:
        return _WHOLE_NAMES[whole]
    if any(stem in whole for stem in _BEFORE):
        return "ignore"
    for role in ("bend", "mark"):
        if any(word.startswith(stem) for word in words for stem in _STEMS[role]):
            return role
    if any(word.startswith(stem) for word in words for stem in _CUT_STEMS):
        return "cut"
    for role in ("frame", "ignore"):
        if any(word.startswith(stem) for word in words for stem in _STEMS[role]):
            return role
    return None


def role_of(
    layer: str, linetype: str, around: str, states: dict[str, LayerState],
    patterns: Sequence[tuple[str, str]],
) -> Role:  # fmt: skip
    """Return the role of a line.

    Parameters
    ----------
    layer, linetype : str
        As in force on the line.
    around : str
        Layers of the block references around it, joined by line ends.
    states : dict of LayerState
        The layer table, by name in lower case.
    patterns : sequence of (role, layer name pattern)
        From options and shop file, the first match counts.
    """
    state = states.get(layer.lower(), LayerState())
    for role, pattern in patterns:
        if fnmatchcase(layer.lower(), pattern.lower()):
            return Role(role, "told so" if role != "ignore" else "told to ignore this layer")
    for outer in around.split("\n"):
        if outer and states.get(outer.lower(), LayerState()).frozen:
            return Role("ignore", f"in a block on layer {outer!r}, which is frozen")
    for hidden, word in ((state.off, "off"), (state.frozen, "frozen")):
        if hidden:
            return Role("ignore", f"layer is {word}")
    if layer.lower() == "defpoints":
        return Role("ignore", "layer Defpoints never plots")
    if not state.plots:
        return Role("ignore", "layer does not plot")
    named = role_by_name(layer)
    if named is not None and named != "cut":
        return Role(named, "by its name", soft=named not in ("mark", "bend"))
    in_force = state.linetype if linetype.upper() in ("BYLAYER", "BYBLOCK", "") else linetype
    if _LINETYPE.match(in_force.upper()):
        return Role("ignore", f"linetype {in_force.upper()}", soft=True)
    return Role("cut")


def layer_fact(layer: str, role: Role, count: int) -> Fact:
    """Return the fact that tells the role of a layer's entities."""
    taken = f"taken as {_SAYS[role.role]} ({role.reason})"
    words = f"layer {layer!r}: {counted(count, 'entity', 'entities')} {taken}"
    return Fact("layer-role", words, count=count, sort=taken, layer=layer)


def told_together(facts: Iterable[Fact]) -> list[str]:
    """Return what facts about roles say, the layers of one role and reason in one sentence.

    Examples
    --------
    >>> told_together(layer_fact(name, Role("bend", "by its name"), 2) for name in ("B", "BEND"))
    ["layers 'B' (2) and 'BEND' (2): taken as bend lines (by its name)"]
    """
    by_role: dict[str, list[Fact]] = {}
    for fact in dict.fromkeys(facts):
        by_role.setdefault(fact.sort or fact.message, []).append(fact)
    lines = []
    for role, alike in by_role.items():
        if len(alike) == 1:
            lines.append(alike[0].message)
            continue
        named = [f"{fact.layer!r} ({fact.count:,})" for fact in alike[:_MOST_LAYERS]]
        if len(alike) > _MOST_LAYERS:
            named.append(f"{len(alike) - _MOST_LAYERS} more")
        lines.append(f"layers {', '.join(named[:-1])} and {named[-1]}: {role}")
    return lines


@dataclass(frozen=True, eq=False)
class GivenRoles:
    """The role of every entity.

    Attributes
    ----------
    names : list of str
        "cut", "mark" or "bend"; empty for what is not used.
    open_to : ndarray of bool, one per entity
        Would be cut, and nobody said so: geometry may still show that it is no cut.
    facts : tuple of Fact
    sheet : ndarray of bool, one per entity
        Drawn on a layer for the outline of the sheet.
    """

    names: list[str]
    open_to: Bools
    facts: tuple[Fact, ...]
    sheet: Bools


def give_roles(
    sources: Sources, states: dict[str, LayerState], patterns: Iterable[tuple[str, str]]
) -> GivenRoles:
    """Return the role of every entity; what it is ignored for goes into its reason."""
    columns = (sources.layers.tolist(), sources.linetypes.tolist(), sources.around.tolist())
    keys = list(zip(*columns, strict=True))
    patterns = tuple(patterns)
    known = {key: role_of(*key, states, patterns) for key in set(keys)}
    usable = [
        not reason and kind != "INSERT"
        for reason, kind in zip(sources.reasons.tolist(), sources.types.tolist(), strict=True)
    ]
    given = [known[key] for key in keys]
    facts = _soft_ones_cut(keys, usable, given)
    counts: Counter[tuple[str, Role]] = Counter()
    for i, ok in enumerate(usable):
        if ok and given[i].role != "cut":
            counts[keys[i][0], given[i]] += 1
            if given[i].role not in USED:
                sources.reasons[i] = _reason(given[i])
    for (layer, role), count in sorted(counts.items(), key=lambda c: (c[0][0], str(c[0][1]))):
        facts.append(layer_fact(layer, role, count))
    names = [
        role.role if ok and role.role in USED else ""
        for ok, role in zip(usable, given, strict=True)
    ]
    sheet = [ok and role.role == "sheet" for ok, role in zip(usable, given, strict=True)]
    untold = [name == "cut" and not role.reason for name, role in zip(names, given, strict=True)]
    return GivenRoles(
        names, np.array(untold, dtype=bool), tuple(facts), np.array(sheet, dtype=bool)
    )


def _soft_ones_cut(
    keys: list[tuple[str, str, str]], usable: list[bool], given: list[Role]
) -> list[Fact]:
    """Cut what is soft where nothing else is left to cut, and say so."""
    if not any(usable) or any(
        ok and role.role in USED for ok, role in zip(usable, given, strict=True)
    ):
        return []
    soft = [i for i, ok in enumerate(usable) if ok and given[i].soft]
    for i in soft:
        given[i] = Role("cut")
    if not soft:
        return []
    names = sorted({keys[i][0] for i in soft})
    words = (
        "taken as cut lines, because nothing else is left to cut: "
        f"{counted(len(soft), 'entity', 'entities')} on " + ", ".join(map(repr, names[:5]))
    )
    return [Fact("layer-role", words, count=len(soft))]


def _reason(role: Role) -> str:
    said = {"sheet": "sheet outline, ", "frame": "drawing frame, "}.get(role.role, "")
    return f"not cut: {said}{role.reason}"
