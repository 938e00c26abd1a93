"""What is written about a part, set aside before contours are looked for.

Lettering, dimensions, broken lines and hatches that an export turned into plain lines lie
on any layer, the cut layer too, and cross outlines, so they have to go before chaining.
Each group goes with its reason and a fact that counts it; a layer the user called a cut
layer is left alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analyzer.drawing.dimension_lines import broken_lines, dimension_lines
from analyzer.drawing.drawing import Fact
from analyzer.drawing.hatching import hatch_lines
from analyzer.drawing.sources import Names, Shapes, Sources
from analyzer.drawing.straight import joined
from analyzer.drawing.written import Strokes, strokes_of, written
from analyzer.geometry.contours import Bools, Ints
from analyzer.geometry.near import components, distinct
from analyzer.units import counted

MOSTLY = 0.75
"""A layer of which at least this share is lettering and dimensions holds nothing else. [-]"""

LETTERING, DIMENSIONS = "looks like lettering", "looks like dimensions"
BROKEN, HATCH = "looks like a broken line", "looks like hatching"
LOGO = "in a small block named a logo or with filled areas"
LOGO_NAMES = ("logo", "emblem", "watermark")

LOGO_SIZE = 0.5
"""A block larger than this share of the drawing is no logo. [-]"""

_SAYS = {
    LETTERING: "look like lettering drawn as lines",
    DIMENSIONS: "look like dimension and extension lines with their arrows",
    BROKEN: "look like broken lines (hidden edges, bends, axes) drawn dash by dash",
    HATCH: "look like hatching",
    LOGO: "lie in a small block that is named a logo or holds filled areas",
}


@dataclass(frozen=True)
class Group:
    """Entities set aside for one reason.

    Attributes
    ----------
    reason : str
    rows : tuple of int
        Rows of the table of entities.
    x, y : float
        Start of the first. [drawing units]
    height : float
        Of the letters, 0 for other groups. [drawing units]
    """

    reason: str
    rows: tuple[int, ...]
    x: float
    y: float
    height: float = 0.0


def find_annotation(
    sources: Sources, shapes: Shapes, open_to: Bools, blocks: Mapping[int, str]
) -> list[Group]:
    """Return the groups of entities that are written about parts.

    Parameters
    ----------
    sources : Sources
    shapes : Shapes
    open_to : ndarray of bool, one per entity
        Entities that would be cut and that nobody called a cut.
    blocks : mapping of int to str
        Name of the block of every block reference at top level, by its row.
    """
    keep = open_to[shapes.segment_source]
    strokes = strokes_of(shapes.segments[keep], shapes.segment_source[keep])
    if strokes is None:
        return []
    pieces, (strokes, line) = strokes, _whole_lines(strokes, sources)
    reason = np.full(len(strokes.rows), "", dtype=object)
    reason[hatch_lines(strokes)] = HATCH
    for rows in _logos(sources, strokes, blocks):
        reason[rows] = LOGO
    height = _read_writing(strokes, reason)
    if height > 0.0:
        whole = {str(sources.layers[row]) for row in np.unique(_curved_rows(shapes, open_to))}
        _rest_of_layers(sources.layers[strokes.source], strokes, reason, height, whole)
    return _groups(shapes, pieces, reason[line], open_to, height)


def _whole_lines(strokes: Strokes, sources: Sources) -> tuple[Strokes, Ints]:
    """Return strokes with the pieces of a line made one, and the line of every piece.

    Only pieces on one layer and in one block reference: a drawing whose lines are broken
    elsewhere reads the same.
    """
    named = [str(name) for name in sources.layers.tolist()]
    # names stay objects: an array of text is as wide as its longest, and one may be 100 kB
    rank = {name: k for k, name in enumerate(sorted(set(named)))}
    layers = np.array([rank[name] for name in named], dtype=np.int64)[strokes.source]
    tops = np.where(strokes.source >= sources.count_top, sources.top[strokes.source], -1) + 1
    both = layers * (np.int64(tops.max(initial=0)) + 1) + tops
    kind = np.searchsorted(distinct(both), both)
    line, first, rows, node = joined(strokes.rows, strokes.node, kind)
    whole = Strokes(rows, strokes.source[first], node, strokes.place, strokes.extent)
    return whole, line


def _logos(sources: Sources, strokes: Strokes, blocks: Mapping[int, str]) -> list[Bools]:
    """Strokes of every small block that is a logo by its name or holds a filled area."""
    filled = np.flatnonzero(sources.types == "HATCH")
    filled = filled[filled >= sources.count_top]
    named = [row for row, name in blocks.items() if any(w in name.lower() for w in LOGO_NAMES)]
    found = []
    for top in sorted({*sources.top[filled].tolist(), *named}):
        mine = sources.top[strokes.source] == top
        ends = strokes.rows[mine, :4].reshape(-1, 2)
        if len(ends) and np.ptp(ends, axis=0).max() <= LOGO_SIZE * strokes.extent:
            found.append(mine)
    return found


def _read_writing(strokes: Strokes, reason: Names) -> float:
    """Write the reasons of lettering and what goes with it; return the height of letters."""
    rest = np.flatnonzero(reason == "")
    letters, height = written(strokes.take(reason == ""))
    if not letters.any():
        return 0.0
    reason[rest[letters]] = LETTERING
    for look, name in ((dimension_lines, DIMENSIONS), (broken_lines, BROKEN)):
        left = np.flatnonzero(reason == "")
        found = look(strokes.take(reason == ""), height)
        reason[left[found]] = name
    return height


def _rest_of_layers(
    layer: Names, strokes: Strokes, reason: Names, height: float, whole: set[str]
) -> None:
    """Set the scraps of layers aside that hold annotation only.

    Such a layer has no circle and no curve (it is not in `whole`), and no line left that
    closes but a letter; and some other layer has, so that an outline with gaps is never
    taken for a scrap.
    """
    left = reason == ""
    names = sorted(set(layer.tolist()))
    closes = {
        n: n in whole or _has_loop(strokes.take(left & (layer == n)), 1.3 * height) for n in names
    }
    if not whole and not any(closes.values()):
        return
    for name in names:
        own = layer == name
        if not closes[name] and (own & ~left).sum() >= MOSTLY * own.sum():
            reason[own & left & (strokes.rows[:, 4] == 0.0)] = DIMENSIONS


def _curved_rows(shapes: Shapes, open_to: Bools) -> Ints:
    rows = np.concatenate((shapes.conic_source, shapes.spline_source)).astype(np.int64)
    return rows[open_to[rows]]


def _has_loop(strokes: Strokes, least: float) -> bool:
    """Whether any lines close over more than `least`: a forest has fewer lines than nodes."""
    if not len(strokes.rows):
        return False
    node = np.sort(strokes.node, axis=1)
    bent = strokes.rows[:, 4] != 0.0
    key = node[:, 0] * len(strokes.place) + node[:, 1]
    key[bent] = -1 - np.arange(bent.sum())  # two half circles are no line drawn twice
    _, once = np.unique(key, return_index=True)
    label = components(len(strokes.place), node)
    count = int(label.max()) + 1
    nodes = np.bincount(label[np.unique(node)], minlength=count)
    lines = np.bincount(label[node[once, 0]], minlength=count)
    size = np.zeros(count)
    for k in (0, 1):
        low, high = np.full(count, np.inf), np.full(count, -np.inf)
        np.minimum.at(low, label[node.ravel()], strokes.place[node.ravel(), k])
        np.maximum.at(high, label[node.ravel()], strokes.place[node.ravel(), k])
        size = np.maximum(size, high - low)
    return bool(((lines >= nodes) & (lines > 0) & (size > least)).any())


def _groups(
    shapes: Shapes, strokes: Strokes, reason: Names, open_to: Bools, height: float
) -> list[Group]:
    """Return what goes, entity by entity: all lines of an entity, or it stays."""
    count = len(open_to)
    lines = np.bincount(strokes.source, minlength=count)
    groups = []
    gone = np.zeros(count, bool)
    for name in _SAYS:
        mine = np.bincount(strokes.source[reason == name], minlength=count)
        rows = np.flatnonzero((mine > 0) & (mine == lines))
        gone[rows] = True
        if len(rows):
            at = shapes.segments[np.isin(shapes.segment_source, rows)][0, :2].tolist()
            tall = height if name == LETTERING else 0.0
            groups.append(Group(name, tuple(rows.tolist()), at[0], at[1], tall))
    drawn = open_to & (lines > 0)
    drawn[_curved_rows(shapes, open_to)] = True
    return [] if gone[drawn].all() else groups  # nothing but lettering: it is meant


def annotation_facts(groups: list[Group], sources: Sources, factor: float) -> list[Fact]:
    """Return one fact a group, with its layers and how to have it cut after all."""
    facts = []
    for group in groups:
        layers = Counter(str(sources.layers[row]) for row in group.rows)
        named = ", ".join(f"{name!r} ({count:,})" for name, count in sorted(layers.items())[:5])
        more = f" and {len(layers) - 5} more layers" if len(layers) > 5 else ""
        tall = f", letters about {group.height * factor:.3g} mm high" if group.height else ""
        facts.append(
            Fact(
                "view-not-part",
                f"{_counted(len(group.rows))} on layer {named}{more} {_SAYS[group.reason]}{tall}, "
                "so not cut; or are they to be cut? Then give --layer cut=NAME",
                group.x * factor, group.y * factor,
            )
        )  # fmt: skip
    return facts


def _counted(number: int) -> str:
    return counted(number, "entity", "entities")
