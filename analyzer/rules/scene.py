"""What the rules look at: the features of all parts in flat arrays, measured once.

A `Scene` is the drawing with its parts and the job; a `Case` is a scene under one gas.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.effects.evidence import Evidence
from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.job import Job
from analyzer.parts.part import Part, PartSet
from analyzer.process.setting import Setting
from analyzer.rules.limits import Limits, Row
from analyzer.rules.rule import LEVELS, Place

SAME = 0.01  # features measured alike within this are one finding [-]
LEAST_STEP = 1e-3  # and such that differ by less than this, near zero [mm, degrees]
SLACK = 1e-9  # arithmetic noise that must not cross a limit [-]
DRAWN = 0.003  # sizes of splines and of inch drawings are not sharper than this [-]
NEAR = 0.10  # beyond the last limit by less than this: a test piece, no loss [-]
NOTHING, NOTE, REWORK, LOSS = 0, 1, 2, 3


@dataclass(frozen=True, eq=False)
class Features:
    """Features of one sort, of all parts, one row each.

    Attributes
    ----------
    part : ndarray of int, shape (n,)
        Index of the part.
    row : ndarray of int, shape (n,)
        Contour of the part.
    xy : ndarray, shape (n, 2)
        Where. [mm]
    size : ndarray, shape (n,)
        Diameter, width or angle. [mm or degrees]
    other : ndarray, shape (n,)
        A second measure: length of a slot, radius of a corner, index of a corner. [mm]
    """

    part: Ints
    row: Ints
    xy: Floats
    size: Floats
    other: Floats

    def __len__(self) -> int:
        return len(self.size)

    def places(self, index: Ints) -> tuple[Place, ...]:
        """Return the places at `index`, from the bottom up, then left to right."""
        chosen = self.xy[index]
        order = np.lexsort((chosen[:, 0], chosen[:, 1]))
        return tuple((x, y) for x, y in chosen[order].tolist())


def features(rows: Sequence[tuple[int, int, float, float, float, float]]) -> Features:
    """Return features from rows of part, contour, x, y, size, other."""
    table = np.array(rows, dtype=float).reshape(-1, 6)
    return Features(
        table[:, 0].astype(np.int64), table[:, 1].astype(np.int64),
        table[:, 2:4], table[:, 4], table[:, 5],
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Scene:
    """A drawing with its parts, the job and the limits; features are measured once."""

    parts: PartSet
    job: Job
    limits: Limits

    @property
    def thickness(self) -> float:
        """Sheet thickness. [mm]"""
        return self.job.thickness_mm

    def part_id(self, index: int) -> str:
        """Return the name of part `index`."""
        return self.parts.parts[index].id

    def constant(self, rule: str, name: str) -> float:
        """Return a constant of a rule's limits."""
        return self.limits.constant(rule, name)

    @cached_property
    def facts(self) -> dict[str, tuple[Fact, ...]]:
        """Facts of the drawing and of finding the parts, by kind, each once."""
        found: dict[str, dict[Fact, None]] = {}
        for fact in (*self.parts.drawing.facts, *self.parts.facts):
            found.setdefault(fact.kind, {})[fact] = None
        return {kind: tuple(facts) for kind, facts in found.items()}

    @cached_property
    def holes(self) -> Features:
        """Round cut-outs, then the others that are no slots; size = 4 area / perimeter."""
        rows = [
            (p, h.row, h.x, h.y, h.diameter, 1.0)
            for p, part in enumerate(self.parts.parts)
            for h in part.holes
        ]
        rows += [row for p, part in enumerate(self.parts.parts) for row in _compact(p, part)]
        return features(rows)

    @cached_property
    def slots(self) -> Features:
        """Slots; size = width, other = length."""
        return features(
            [
                (p, s.row, s.x, s.y, s.width, s.length)
                for p, part in enumerate(self.parts.parts)
                for s in part.slots
            ]
        )

    @cached_property
    def webs(self) -> Features:
        """Metal between neighbouring contours; size = width."""
        return features(
            [
                (p, w.rows[0], w.x, w.y, w.width, w.rows[1])
                for p, part in enumerate(self.parts.parts)
                for w in part.webs
            ]
        )

    @cached_property
    def corners(self) -> Features:
        """Corners; size = angle of the metal, other = radius."""
        return features(
            [
                (p, c.row, c.x, c.y, c.angle, c.radius)
                for p, part in enumerate(self.parts.parts)
                for c in part.corners
            ]
        )


def _compact(index: int, part: Part) -> Iterator[tuple[int, int, float, float, float, float]]:
    """Cut-outs of a part that are neither holes nor slots, by their equivalent diameter."""
    contours = part.contours
    told = [h.row for h in part.holes] + [s.row for s in part.slots]
    rest = contours.area < 0.0
    rest[[*told, *part.islands]] = False
    rows = np.flatnonzero(rest)
    if not len(rows):
        return
    size = 4.0 * np.abs(contours.area[rows]) / contours.length[rows]
    places = contours.centroid[rows].tolist()
    for row, (x, y), diameter in zip(rows.tolist(), places, size.tolist(), strict=True):
        yield index, row, x, y, diameter, 0.0


@dataclass(frozen=True, eq=False)
class Case:
    """A scene under one gas: its setting, and the evidence of every part."""

    scene: Scene
    setting: Setting
    evidence: Sequence[Evidence]
    loose: Evidence | None

    @property
    def gas(self) -> str:
        """Name of the gas."""
        return self.setting.gas

    @property
    def gas_words(self) -> str:
        """The gas in a sentence."""
        return "mixed gas" if self.gas == "mixed" else self.gas

    @property
    def job(self) -> Job:
        """The job."""
        return self.scene.job

    @property
    def thickness(self) -> float:
        """Sheet thickness. [mm]"""
        return self.scene.thickness

    def limit(self, rule: str) -> Row | None:
        """Return the limits of `rule` in force; None where it says nothing."""
        return self.scene.limits.at(rule, self.gas, self.job.material, self.thickness)


def levels_of(values: Floats, ok: float, last: float) -> Ints:
    """Return NOTHING, REWORK or LOSS of every value against "at least" limits, shape (n,).

    Less than 10 % beyond the last limit is no loss: the limits have no source that sharp.
    A size drawn at the ok limit is at it, within what a spline or an inch leaves of it.

    Examples
    --------
    >>> levels_of(np.array([0.998, 0.99, 0.5, 0.46, 0.45, 0.1]), ok=1.0, last=0.5).tolist()
    [0, 2, 2, 2, 3, 3]
    """
    below_ok = values < ok * (1.0 - DRAWN)
    beyond = values <= (1.0 - NEAR) * last * (1.0 + SLACK)
    return np.where(below_ok, np.where(beyond, LOSS, REWORK), NOTHING)


def at_the_limit(value: float, last: float) -> bool:
    """Return whether a value lies at the last limit or less than 10 % beyond it."""
    return (1.0 - NEAR) * last < value <= last * (1.0 + SLACK)


def quoted(level: str, value: float, ok: float, last: float) -> tuple[float, bool]:
    """Return the "at least" limit a finding quotes, and whether the value is just below it.

    Rework misses the clean limit, loss the last one.  Rework beyond the last limit, by less
    than 10 %, quotes that one and says how near it is.

    Examples
    --------
    >>> quoted("rework", 0.5, 1.0, 0.5), quoted("rework", 0.48, 1.0, 0.5)
    ((1.0, False), (0.5, True))
    >>> quoted("loss", 0.3, 1.0, 0.5)
    (0.5, False)
    """
    just = level == "rework" and value < last * (1.0 - DRAWN)
    return (last if level == "loss" or just else ok), just


@dataclass(frozen=True, eq=False)
class Group:
    """Equal features of one part: same level, measured value within 1 %."""

    part: int
    level: str
    index: Ints  # rows of the feature table
    least: float
    most: float

    @property
    def count(self) -> int:
        """Features of the group."""
        return len(self.index)


def groups(table: Features, levels: Ints, among: Bools | None = None) -> Iterator[Group]:
    """Yield the groups of all features with a level, in the order part, worst, smallest."""
    chosen = np.flatnonzero((levels > NOTHING) if among is None else ((levels > NOTHING) & among))
    order = chosen[np.lexsort((table.size[chosen], -levels[chosen], table.part[chosen]))]
    part, level, size = table.part[order], levels[order], table.size[order]
    breaks = np.flatnonzero(np.diff(part) | np.diff(level)) + 1
    for start, stop in zip([0, *breaks], [*breaks, len(order)], strict=True):
        while start < stop:
            upto = size[start] + max(SAME * abs(size[start]), LEAST_STEP)
            end = start + int(np.searchsorted(size[start:stop], upto, side="right"))
            yield Group(
                int(part[start]), LEVELS[int(level[start]) - 1], order[start:end],
                float(size[start]), float(size[end - 1]),
            )  # fmt: skip
            start = end


def by_part(table: Features, chosen: Bools) -> Iterator[tuple[int, Ints]]:
    """Yield every part with chosen features, and their rows of the table."""
    index = np.flatnonzero(chosen)
    index = index[np.argsort(table.part[index], kind="stable")]
    if len(index):
        for rows in np.split(index, np.flatnonzero(np.diff(table.part[index])) + 1):
            yield int(table.part[rows[0]]), rows
