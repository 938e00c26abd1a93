"""What a drawing holds once it is read: contours by role, the account of entities, facts, texts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from analyzer.budgets import DEFAULT, Budgets
from analyzer.errors import BurrcastError
from analyzer.geometry.contours import Contours

CUT_FOR_NOW = "cut for now"
"""Sort of a fact that asks whether something is to be cut which is cut until it is answered."""
NEARLY_TWICE = "nearly twice"
"""Sort of a crossing of two contours that are one, drawn nearly twice."""
IN_PAPER_SPACE = "in paper space"
"""Sort of a fact about nothing to cut where something lies in paper space."""


@dataclass(frozen=True)
class Fact:
    """What a station measured or repaired, without an opinion.

    Attributes
    ----------
    kind : str
        Name of the fact; that of the rule which judges it, where there is one.
    message : str
        What was found, in one sentence, with sizes.
    x, y : float or None
        Where, in the drawing's own axes. [mm]
    count : int
        How many of them this fact stands for.
    handles : tuple of str
        Handles of the entities it is about, the first ten of them, where it is about any.
    sort : str
        What sort of its kind it is, where whoever reads it tells them apart: `CUT_FOR_NOW`,
        `NEARLY_TWICE` or `IN_PAPER_SPACE`, or the words for a role of a layer.
    layer : str
        The layer whose role it tells.
    """

    kind: str
    message: str
    x: float | None = None
    y: float | None = None
    count: int = 1
    handles: tuple[str, ...] = ()
    sort: str = ""
    layer: str = ""


@dataclass(frozen=True, order=True)
class Ignored:
    """Entities of one type and layer not used for cutting, with the reason."""

    type: str
    layer: str
    reason: str
    count: int


@dataclass(frozen=True)
class Account:
    """Entities of the drawing: every one is used or ignored with a reason."""

    total: int
    used: int
    ignored: tuple[Ignored, ...] = ()

    def __post_init__(self) -> None:
        left_out = sum(row.count for row in self.ignored)
        if self.total != self.used + left_out:
            raise BurrcastError(
                f"{self.total} entities, but {self.used} used and {left_out} ignored"
            )

    def set_aside(self, entities: Iterable[Entity], reason: str) -> Account:
        """Return the account with `entities`, used so far, ignored for `reason`."""
        more = Counter((e.type, e.layer) for e in entities)
        rows = Counter({(r.type, r.layer, r.reason): r.count for r in self.ignored})
        for (kind, layer), count in more.items():
            rows[kind, layer, reason] += count
        return Account(
            self.total,
            self.used - sum(more.values()),
            tuple(sorted(Ignored(*key, count) for key, count in rows.items())),
        )


class Entity(NamedTuple):
    """A DXF object that some contour was made from."""

    handle: str
    type: str
    layer: str
    in_block: bool = False  # expanded from an INSERT: counted in `in_blocks`, not at top level


@dataclass(frozen=True)
class UnitsFound:
    """The drawing's unit, where that was read, and its factor to millimetres."""

    name: str  # "mm", "in", "cm", ...
    source: str  # "option", "header" or "evidence"
    factor: float


@dataclass(frozen=True)
class Text:
    """Words in or about the drawing: evidence, never geometry."""

    text: str
    x: float
    y: float
    height: float
    layer: str
    kind: str  # "text", "dimension" or "attribute"


@dataclass(frozen=True)
class Dimension:
    """A dimension that says another size than is drawn. [mm]"""

    text: str
    said: float
    drawn: float
    x: float
    y: float


@dataclass(frozen=True)
class Dimensions:
    """What the dimensions of a drawing say.

    Attributes
    ----------
    count : int
        Dimensions at top level that measure a length.
    scales : tuple of (float, int)
        How many times what is drawn some of them show on purpose, and how many do.
    disputed : tuple of Dimension
        Those that say another size than is drawn.
    """

    count: int = 0
    scales: tuple[tuple[float, int], ...] = ()
    disputed: tuple[Dimension, ...] = ()


@dataclass(frozen=True, eq=False)
class Drawing:
    """A drawing as contours in millimetres, in its own axes and origin.

    Attributes
    ----------
    file : str
        Base name of the file.
    units : UnitsFound
        Unit the drawing was read in.
    cuts : Contours
        Cut lines: closed contours, and open ones that do not close.
    cut_sources : tuple of tuple of Entity, one per cut contour
        Entities each was made from.
    marks, bends : Contours
        Lines on mark and bend layers: not cut, not pierced.
    account, in_blocks : Account
        Entities at top level of modelspace (an INSERT is one), and what INSERTs hold.
    facts : tuple of Fact
        What was measured and repaired, in a fixed order.
    texts : tuple of Text
        Texts and dimension texts, in drawing order.
    shared_mm : float
        Length of cut lines that two contours have in common: it is in the length of both
        and is cut once. [mm]
    budgets : Budgets
        Limits on input it was read under; later stations keep to them too.
    dimensions : Dimensions
        What dimensions say against what they measure.
    sheets : Contours
        Closed outlines of sheets: on a sheet layer, or told by evidence; not cut.
    sheet_from : str
        What told them: "layer" or "evidence"; empty where there is none.
    doubled_mm : float
        Length of cut lines left out because they were drawn twice. [mm]
    """

    file: str
    units: UnitsFound
    cuts: Contours
    cut_sources: tuple[tuple[Entity, ...], ...]
    marks: Contours
    bends: Contours
    account: Account
    in_blocks: Account
    facts: tuple[Fact, ...] = ()
    texts: tuple[Text, ...] = ()
    shared_mm: float = 0.0
    budgets: Budgets = DEFAULT
    dimensions: Dimensions = Dimensions()
    sheets: Contours = field(default_factory=Contours.empty)
    sheet_from: str = ""
    doubled_mm: float = 0.0

    def sheet_aside(self, row: int, reason: str, fact: Fact) -> Drawing:
        """Return the drawing with the cut contour at `row` taken for the outline of a sheet."""
        outline = self.cuts.take([row])
        return replace(
            self.set_aside([row], reason, [fact]), sheets=Contours.join([self.sheets, outline]),
            sheet_from="evidence",
        )  # fmt: skip

    def set_aside(self, rows: Iterable[int], reason: str, facts: Iterable[Fact]) -> Drawing:
        """Return the drawing without the cut contours at `rows`, their entities ignored.

        An entity that other cut contours were made from too stays used.
        """
        out = set(rows)
        if not out:
            return replace(self, facts=self.facts + tuple(facts))
        keep = [row for row in range(len(self.cuts)) if row not in out]
        kept = {entity for row in keep for entity in self.cut_sources[row]}
        gone = {entity for row in out for entity in self.cut_sources[row]} - kept
        return replace(
            self,
            cuts=self.cuts.take(keep),
            cut_sources=tuple(self.cut_sources[row] for row in keep),
            account=self.account.set_aside([e for e in gone if not e.in_block], reason),
            in_blocks=self.in_blocks.set_aside([e for e in gone if e.in_block], reason),
            facts=self.facts + tuple(facts),
        )
