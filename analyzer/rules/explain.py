"""What `explain` and the documents say about a rule: its words and its limits with sources."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.process.gas import GASES
from analyzer.rules.limits import Limits, Row, load_limits
from analyzer.rules.registry import rule_named
from analyzer.rules.rule import Rule

VALUE_WORDS = {
    "ok": "clean from",
    "last": "lost below",
    "warm": "rework above",
    "hot": "lost above",
    "bound_warm": "bound above",
    "class": "said from",
    "per_thickness": "per thickness",
    "least_mm": "at least, mm",
}
NOT_LOST = {"hole-near-bend": "rework below"}
"""Rules whose last limit is that of rework: a hole pulled oval is drilled, not scrap."""


@dataclass(frozen=True)
class LimitLine:
    """One row of limits in words.

    Attributes
    ----------
    gas, material, band : str
        What it holds for, in words.
    values : tuple of (str, float)
        Limits by their words ("clean from", "lost below").
    source : str
        Source mark, or "your shop file".
    """

    gas: str
    material: str
    band: str
    values: tuple[tuple[str, float], ...]
    source: str


@dataclass(frozen=True)
class ConstantLine:
    """A number of the rule that no gas changes: name, value, unit, meaning, source."""

    name: str
    value: float
    unit: str
    what: str
    source: str


@dataclass(frozen=True)
class Explanation:
    """All that can be said about a rule.

    Attributes
    ----------
    rule : Rule
        Question, why, remedy, example.
    unit, measured : str
        Unit of its limits and what is measured; empty where it has none.
    limits : tuple of LimitLine
        In the order in which the first that fits is in force.
    constants : tuple of ConstantLine
        Further numbers.
    """

    rule: Rule
    unit: str
    measured: str
    limits: tuple[LimitLine, ...]
    constants: tuple[ConstantLine, ...]


def explain(name: str, limits: Limits | None = None) -> Explanation:
    """Return the words and limits of the rule called `name`.

    Parameters
    ----------
    limits : Limits, optional
        Those in force; without them the start values.

    Raises
    ------
    InputError
        If there is no such rule; the message names the nearest one.

    Examples
    --------
    >>> print(explain("web-too-thin").limits[0].values)
    (('clean from', 0.7), ('lost below', 0.35))
    """
    rule = rule_named(name)
    in_force = (limits or load_limits()).rules.get(name)
    if in_force is None:
        return Explanation(rule, "", "", (), ())
    return Explanation(
        rule, in_force.unit, in_force.what,
        tuple(_line(row, name) for row in in_force.rows),
        tuple(
            ConstantLine(key, c.value, c.unit, c.what, c.source)
            for key, c in in_force.constants.items()
        ),
    )  # fmt: skip


def _line(row: Row, rule: str) -> LimitLine:
    gas = "every gas" if set(row.gases) == set(GASES) else ", ".join(row.gases)
    material = "every material" if row.material is None else row.material.replace("-", " ")
    words = {**VALUE_WORDS, "last": NOT_LOST.get(rule, VALUE_WORDS["last"])}
    values = tuple((words[name], value) for name, value in row.values)
    return LimitLine(gas, material, row.band, values, row.source)
