"""Read a drawing: from a file to contours in millimetres, with an account of everything."""

from __future__ import annotations

import gc
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from analyzer import budgets as _budgets
from analyzer import tolerances as _tolerances
from analyzer.budgets import Budgets
from analyzer.drawing.annotation import annotation_facts, find_annotation
from analyzer.drawing.blocks import expand
from analyzer.drawing.content import ZERO_LENGTH
from analyzer.drawing.dimensions import judge_dimensions, times_said
from analyzer.drawing.drawing import (
    IN_PAPER_SPACE,
    Account,
    Drawing,
    Entity,
    Fact,
    Ignored,
    Text,
)
from analyzer.drawing.load import load_document
from analyzer.drawing.outlines import Outlines, outline
from analyzer.drawing.raw import RawDrawing
from analyzer.drawing.roles import USED, check_patterns, give_roles, layer_states, missing_layers
from analyzer.drawing.scale import Evidence, check_unit, find_units, odd_size
from analyzer.drawing.shaping import extent, hole_sizes, to_edges
from analyzer.drawing.sniff import read_bytes
from analyzer.drawing.sources import EXPANDED, Shapes, Sources, missing
from analyzer.drawing.space import read_space
from analyzer.errors import DrawingError, InputError
from analyzer.geometry.contours import Bools, Contours, Floats
from analyzer.geometry.crossings import open_crossings
from analyzer.tolerances import Tolerances
from analyzer.units import counted


@dataclass(frozen=True)
class ReadOptions:
    """How to read a drawing.

    Attributes
    ----------
    units : str or None
        Unit of the drawing; None means header, then evidence.
    layer_roles : tuple of (role, layer name pattern)
        Roles cut, mark, bend, sheet, frame or ignore; the first match counts.
    asked_roles : tuple of (role, layer name pattern)
        Those of them that were asked for with this drawing in mind: one that no layer
        matches is said, since it is a slip of the pen. Patterns of a shop file are for all.
    tolerances : Tolerances
    budgets : Budgets
    """

    units: str | None = None
    layer_roles: tuple[tuple[str, str], ...] = ()
    asked_roles: tuple[tuple[str, str], ...] = ()
    tolerances: Tolerances = _tolerances.DEFAULT
    budgets: Budgets = _budgets.DEFAULT


def read_drawing(path: Path, options: ReadOptions = ReadOptions()) -> Drawing:
    """Return the drawing in a DXF file, text or binary.

    Parameters
    ----------
    path : Path
    options : ReadOptions

    Raises
    ------
    DrawingError
        If the file cannot be read as a flat drawing, or breaks a limit on input.
    InputError
        If a unit or a layer role of the options is not known.
    """
    path = Path(path)
    check_unit(options.units)
    check_patterns(options.layer_roles)
    try:
        with _collector_resting():
            return _read(path, options)
    except DrawingError:
        raise
    except InputError as error:  # from geometry, which knows no file names
        raise DrawingError(error.problem, where=path.name, hint=error.hint) from None


@contextmanager
def _collector_resting() -> Iterator[None]:
    """Keep the garbage collector still meanwhile.

    A drawing is a million small objects that all live until we are done; walking them
    again and again costs a third of the time.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _read(path: Path, options: ReadOptions) -> Drawing:
    tags = RawDrawing(read_bytes(path, options.budgets), path.name)
    document, facts, plain = load_document(tags, options.budgets)
    space = read_space(document, tags, plain)
    sources, shapes = expand(document, space, tags.blocks, options.budgets, path.name)
    given = give_roles(sources, layer_states(document), options.layer_roles)
    roles = given.names
    facts += given.facts
    facts += missing_layers(sources.layers.tolist(), options.asked_roles)
    blocks = {insert.source: insert.name for insert in space.inserts}
    dimensions = space.dimensions
    del document, space  # a million objects, not needed any more
    notes = find_annotation(sources, shapes, given.open_to, blocks)
    for note in notes:
        for entity in note.rows:
            roles[entity], sources.reasons[entity] = "", f"not cut: {note.reason}"
    wanted = {name: np.array([role == name for role in roles], dtype=bool) for name in USED}

    # where nothing is cut, the size of what is marked still tells the unit
    seen = wanted["cut"] if wanted["cut"].any() else np.any(list(wanted.values()), axis=0)
    box = extent(shapes, seen)
    units, doubts = find_units(
        options.units, _evidence(tags, shapes, seen, box, times_said(dimensions))
    )
    facts += doubts + annotation_facts(notes, sources, units.factor)
    origin = _middle(box, units.factor, options.budgets, path.name)

    outlines = {}
    for name in USED:
        edges = to_edges(
            shapes, wanted[name], units.factor, origin, options.tolerances, options.budgets,
            path.name,
        )  # fmt: skip
        repeated = shapes.repeated_points if name == "cut" else 0
        outlines[name] = outline(edges, sources.closed, options.tolerances, origin, repeated)
        _check_reach(outlines[name].contours, origin, options, path.name)
        facts += _named(outlines[name], name, sources)
    facts += odd_size(units, outlines["cut"].contours)
    facts += _crossing_facts(outlines["cut"].contours, options, path.name)
    facts += _space_facts(tags, outlines["cut"])

    reasons = _reasons(sources, roles, outlines)
    account, in_blocks = _accounts(sources, reasons, tags)
    cut = outlines["cut"]
    sheets = _sheets(shapes, given.sheet, units.factor, origin, sources, options, path.name)
    return Drawing(
        path.name, units, cut.contours, _entities(cut, sources),
        outlines["mark"].contours, outlines["bend"].contours,
        account, in_blocks, tuple(facts), _texts(shapes, units.factor), cut.shared_mm,
        options.budgets,
        judge_dimensions(dimensions, units.factor, times_said(dimensions)),
        sheets, "layer" if len(sheets) else "", cut.doubled_mm,
    )  # fmt: skip


def _sheets(
    shapes: Shapes, wanted: Bools, factor: float, origin: Floats, sources: Sources,
    options: ReadOptions, where: str,
) -> Contours:  # fmt: skip
    """Return the closed contours on sheet layers."""
    if not wanted.any():
        return Contours.empty()
    edges = to_edges(shapes, wanted, factor, origin, options.tolerances, options.budgets, where)
    found = outline(edges, sources.closed, options.tolerances, origin).contours
    return found.take(found.closed)


# --- units and place ------------------------------------------------------


def _evidence(
    tags: RawDrawing, shapes: Shapes, cut: Bools, box: Floats | None, times: float
) -> Evidence:
    def code(name: str) -> int | None:
        try:
            return int(float(tags.header[name]))
        except (KeyError, ValueError, OverflowError):
            return None

    metric = code("$MEASUREMENT")
    width, height = (0.0, 0.0) if box is None else (box[2] - box[0], box[3] - box[1])
    return Evidence(
        float(width), float(height), hole_sizes(shapes, cut),
        [text.text for text in shapes.texts], code("$INSUNITS"),
        None if metric not in (0, 1) else metric == 1, times,
    )  # fmt: skip


def _middle(box: Floats | None, factor: float, budgets: Budgets, where: str) -> Floats:
    """Return the middle of the drawing, about which we compute. [mm]"""
    if box is None:
        return np.zeros(2)
    size = float((box[2:] - box[:2]).max()) * factor / 2.0
    budgets.check("coordinate_mm", size, where=where)
    middle: Floats = (box[:2] + box[2:]) / 2.0 * factor
    return middle


def _check_reach(contours: Contours, origin: Floats, options: ReadOptions, where: str) -> None:
    """Hold what became of the lines to the limit too: an arc may bulge far beyond its ends."""
    if len(contours):
        reach = float(np.abs(contours.box - np.tile(origin, 2)).max())
        options.budgets.check("coordinate_mm", reach - options.tolerances.join, where=where)


def _texts(shapes: Shapes, factor: float) -> tuple[Text, ...]:
    return tuple(
        Text(t.text, t.x * factor, t.y * factor, t.height * factor, t.layer, t.kind)
        for t in shapes.texts
    )


# --- facts and account ----------------------------------------------------


def _named(outlines: Outlines, role: str, sources: Sources) -> list[Fact]:
    """Return the facts of one role with handles; those of marks and bends name it in front."""
    facts = [
        replace(fact, handles=tuple(sources.handles[list(rows)].tolist())) if rows else fact
        for fact, rows in zip(outlines.facts, outlines.about, strict=True)
    ]
    if role == "cut":
        return facts
    needless = ("open-contour", "speck", "merged", "shared-edge")  # a mark need not close
    return [replace(f, kind=f"{role}-{f.kind}") for f in facts if f.kind not in needless]


def _crossing_facts(cuts: Contours, options: ReadOptions, where: str) -> list[Fact]:
    """Say where cut lines that do not close run across others: they are cut as drawn."""
    budgets = options.budgets
    budgets.check("open_lines", int((~cuts.closed).sum()), where=where)
    places, work = open_crossings(cuts, options.tolerances.flatten, budgets.crossings)
    budgets.check("crossings", work, where=where)
    if not len(places):
        return []
    many = "in one place" if len(places) == 1 else f"in {len(places):,} places"
    words = f"cut lines that do not close run across others {many}; they are cut as drawn"
    x, y = places[0].tolist()
    return [Fact("lines-cross", words, x, y, len(places))]


def _space_facts(tags: RawDrawing, cut: Outlines) -> list[Fact]:
    facts = []
    paper = tags.in_paper_space()
    if not len(cut.contours):
        words = "nothing to cut in model space"
        if paper:
            words += f"; {counted(paper, 'entity lies', 'entities lie')} in paper space,"
            words += " which is not read"
        facts.append(Fact("nothing-to-cut", words, sort=IN_PAPER_SPACE if paper else ""))
    return facts


def _reasons(sources: Sources, roles: list[str], outlines: dict[str, Outlines]) -> list[str]:
    """Return why every entity is not used, nothing for those that are."""
    reasons: list[str] = sources.reasons.tolist()
    used = np.zeros(len(reasons), dtype=bool)
    doubled = np.zeros(len(reasons), dtype=bool)
    no_length = np.zeros(len(reasons), dtype=bool)
    for part in outlines.values():
        for rows in part.sources:
            used[rows] = True
        doubled[part.doubled] = True
        no_length[part.without_length] = True
    for i, role in enumerate(roles):
        if role and not used[i]:
            reasons[i] = (
                "drawn twice" if doubled[i]
                else ZERO_LENGTH if no_length[i]
                else "shorter than a hair, or only the stub of an overshoot"
            )  # fmt: skip
    used[sources.top[used]] = True
    for i in range(sources.count_top):
        if sources.types[i] == "INSERT" and not reasons[i] and not used[i]:
            reasons[i] = "nothing in this block is cut"
    return reasons


def _accounts(sources: Sources, reasons: list[str], tags: RawDrawing) -> tuple[Account, Account]:
    """Return the accounts of top level and of what block references hold."""
    top = sources.count_top
    given = Counter(zip(sources.types[:top].tolist(), sources.layers[:top].tolist(), strict=True))
    told = tags.entities
    raw = Counter(
        (told.types[i], told.layers[i]) for i in np.flatnonzero(~told.paper).tolist()
    )  # fmt: skip
    return (
        _account(sources, reasons, range(top), missing(raw, given)),
        _account(sources, reasons, range(top, len(reasons)), sources.lost),
    )


def _account(
    sources: Sources,
    reasons: list[str],
    rows: range,
    lost: Counter[tuple[str, str]],
) -> Account:
    counts: Counter[tuple[str, str, str]] = Counter()
    used = 0
    for i in rows:
        if reasons[i] == EXPANDED:
            continue
        if reasons[i]:
            counts[sources.types[i], sources.layers[i], reasons[i]] += 1
        else:
            used += 1
    for (kind, layer), count in lost.items():
        counts[kind, layer, "lost by the reader"] += count
    ignored = tuple(sorted(Ignored(*key, count) for key, count in counts.items()))
    return Account(used + sum(row.count for row in ignored), used, ignored)


def _entities(outlines: Outlines, sources: Sources) -> tuple[tuple[Entity, ...], ...]:
    """Return the entities of every contour."""
    in_block = np.arange(len(sources.types)) >= sources.count_top
    columns = (sources.handles, sources.types, sources.layers, in_block)
    every = list(map(Entity, *(column.tolist() for column in columns)))
    return tuple(tuple([every[row] for row in rows.tolist()]) for rows in outlines.sources)
