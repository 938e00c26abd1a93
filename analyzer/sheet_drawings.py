"""The drawings of a job: read once, their parts named as the list writes them, looked at."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from analyzer.analysis import Analysis, analyse_parts
from analyzer.drawing.drawing import Drawing
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.packing.demand import Demand
from analyzer.part_list import Wanted
from analyzer.parts.find import find_parts
from analyzer.parts.part import PartSet
from analyzer.process.setting import Setting
from analyzer.sheeting import NamedDrawing, RefusedRow
from analyzer.shop import Shop
from analyzer.units import counted


@dataclass
class Reader:
    """Reads every drawing once, and finds its parts once a thickness."""

    options: ReadOptions
    drawings: dict[Path, Drawing] = field(default_factory=dict)
    sets: dict[tuple[Path, float], PartSet] = field(default_factory=dict)

    def drawing(self, path: Path) -> Drawing:
        """Return a drawing as read."""
        if path not in self.drawings:
            self.drawings[path] = read_drawing(path, self.options)
        return self.drawings[path]

    def parts(self, path: Path, thickness: float) -> PartSet:
        """Return the parts of a drawing."""
        key = path, thickness
        if key not in self.sets:
            drawing = self.drawing(path)
            self.sets[key] = find_parts(drawing, thickness, self.options.tolerances)
        return self.sets[key]


@dataclass(frozen=True, eq=False)
class Source:
    """One drawing of a job, looked at under one next step.

    Attributes
    ----------
    name : str
        As written in the list.
    analysis : Analysis
        Its parts, named.
    ordered : int
        How many of the drawing the list orders; 0 where no list speaks of it.
    """

    name: str
    analysis: Analysis
    ordered: int = 0


@dataclass(frozen=True, eq=False)
class Pieces:
    """What one job is made of.

    Attributes
    ----------
    job : Job
        The first row's; a next step only where all rows have the same.
    sources : tuple of Source
        One a drawing (and next step).
    demands : tuple of Demand
        Parts counted through all analyses.
    notes : tuple of str
        What the list asks for and the reader should know.
    steps : tuple of str
        Next steps, where they differ.
    drawings : tuple of NamedDrawing
        Each once.
    """

    job: Job
    sources: tuple[Source, ...]
    demands: tuple[Demand, ...]
    notes: tuple[str, ...]
    steps: tuple[str, ...]
    drawings: tuple[NamedDrawing, ...]


def grouped(rows: Iterable[Wanted]) -> list[list[Wanted]]:
    """Return the rows that can lie on one sheet together, in the order of the list.

    The next step does not part them: every part is judged by its own.
    """
    groups: dict[Job, list[Wanted]] = {}
    for row in rows:
        groups.setdefault(replace(row.job, next_step=None), []).append(row)
    return list(groups.values())


def named(parts: PartSet, name: str, which: int | None = None) -> PartSet:
    """Return the parts called by the name of their drawing, "#2" behind it for the second.

    Parameters
    ----------
    parts : PartSet
        Of one drawing.
    name : str
        The drawing as written in the list.
    which : int, optional
        Only this one, from 1; its name is as written.

    Raises
    ------
    InputError
        If there is no such part.
    """
    if which is not None:
        if which > len(parts.parts):
            raise InputError(
                f"{name}: the drawing has {counted(len(parts.parts), 'part')}",
                hint="burrcast check lists them",
            )
        chosen = parts.parts[which - 1]
        return replace(parts, parts=(replace(chosen, id=name, other_hand_of=None),))
    called = {
        part.id: name if k == 1 else f"{name}#{k}" for k, part in enumerate(parts.parts, start=1)
    }
    return replace(parts, parts=tuple(
        replace(part, id=called[part.id], other_hand_of=called.get(part.other_hand_of or ""))
        for part in parts.parts
    ))  # fmt: skip


def pieces_of(
    rows: Sequence[Wanted], reader: Reader, settings: Sequence[Setting], shop: Shop,
    refused: list[RefusedRow],
) -> Pieces | None:  # fmt: skip
    """Return the parts and demands of one job; None where no row is left.

    Parameters
    ----------
    rows : sequence of Wanted
        Rows that can lie on one sheet.
    reader : Reader
        Reads the drawings.
    settings : sequence of Setting
        One a gas.
    shop : Shop
        The shop.
    refused : list of RefusedRow
        Takes rows whose drawing cannot be used.
    """
    sources: dict[tuple[str, Job], Source] = {}
    first: dict[tuple[str, Job], int] = {}
    demands: list[Demand] = []
    notes: list[str] = []
    used: list[Wanted] = []
    read: dict[str, NamedDrawing] = {}
    at = 0
    for row in rows:
        key = row.name, row.job
        try:
            found = _usable(row, reader)
            if key not in first:
                made = analyse_parts(found, row.job, shop, settings)
                first[key], sources[key] = at, Source(row.name, made)
                at += len(found.parts)
        except InputError as error:
            refused.append(RefusedRow(row.name, row.line, str(error)))
            continue
        used.append(row)
        sources[key] = replace(sources[key], ordered=sources[key].ordered + row.quantity)
        ids = tuple(part.id for part in found.parts)
        read.setdefault(row.name, NamedDrawing(row.name, found.drawing, ids))
        notes += _notes(row, found)
        for k, part in enumerate(found.parts):
            each = 1 if row.which is not None else part.count
            demands.append(
                Demand(first[key] + k, row.quantity * each, row.turns, row.mirror, row.priority)
            )
    if not used:
        return None
    steps = tuple(dict.fromkeys(row.job.next_step or "not told" for row in used))
    job = used[0].job if len(steps) == 1 else replace(used[0].job, next_step=None)
    told = steps if len(steps) > 1 else ()
    said = tuple(dict.fromkeys(notes))
    return Pieces(job, tuple(sources.values()), tuple(demands), said, told, tuple(read.values()))


def _usable(row: Wanted, reader: Reader) -> PartSet:
    parts = reader.parts(row.path, row.job.thickness_mm)
    if not parts.parts:
        raise InputError(
            "the drawing has no closed contour that is a part",
            hint="burrcast check says what it has",
        )
    return named(parts, row.name, row.which)


def _notes(row: Wanted, found: PartSet) -> list[str]:
    """Say what of a drawing is cut more than once, and what is left out."""
    notes = []
    if row.which is None:
        often = [part for part in found.parts if part.count > 1]
        notes += [
            f"{part.id} is drawn {part.count} times in its file: {row.quantity * part.count} of it"
            for part in often
        ]
        if len(found.parts) > 1:
            notes.append(f"{row.name} holds {len(found.parts)} parts: all of them are cut")
    if len(found.loose):
        notes.append(
            f"{row.name}: {len(found.loose)} open cut lines outside its parts are on no sheet"
        )
    return notes
