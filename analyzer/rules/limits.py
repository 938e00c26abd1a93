"""Limits of the rules: limits.toml, with the shop's own values laid over it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Any

from analyzer.errors import InputError
from analyzer.process.gas import GASES
from analyzer.process.material import CUTTABLE

BOUNDS = ("above", "up_to", "from", "below")
SUBSTITUTE = "aluminium"  # stands in for materials only own rows allow (copper, brass)
OWN = "your shop file"


@dataclass(frozen=True)
class Row:
    """Limits of one rule for some gases, one material and a band of thickness.

    Attributes
    ----------
    gases : tuple of str
        Gases it holds for.
    material : str or None
        Material it holds for; None is every one.
    bounds : tuple of (str, float)
        "above", "up_to", "from", "below" the thickness it holds for. [mm]
    values : tuple of (str, float)
        The limits by name.
    source : str
        Source mark in words.
    own : bool
        True where the shop file gave it.
    """

    gases: tuple[str, ...]
    material: str | None
    bounds: tuple[tuple[str, float], ...]
    values: tuple[tuple[str, float], ...]
    source: str
    own: bool = False

    def __getitem__(self, name: str) -> float:
        return dict(self.values)[name]

    def fits(self, gas: str, material: str, thickness: float) -> bool:
        """Return whether the row holds for a gas, material and thickness."""
        bound = dict(self.bounds)
        return (
            gas in self.gases
            and self.material in (None, material)
            and bound.get("above", -math.inf) < thickness <= bound.get("up_to", math.inf)
            and bound.get("from", -math.inf) <= thickness < bound.get("below", math.inf)
        )

    @property
    def band(self) -> str:
        """The band of thickness in words: "above 3 up to 6 mm"."""
        words = {"above": "above", "up_to": "up to", "from": "from", "below": "below"}
        said = " ".join(f"{words[name]} {value:g}" for name, value in self.bounds)
        return f"{said} mm" if said else "every thickness"


@dataclass(frozen=True)
class Constant:
    """One number of a rule that is the same for every gas: value, unit, source, meaning."""

    value: float
    unit: str
    source: str
    what: str
    own: bool = False


@dataclass(frozen=True)
class RuleLimits:
    """Limits of one rule: its unit, what is measured, rows (first fit wins), constants."""

    unit: str
    what: str
    rows: tuple[Row, ...]
    constants: Mapping[str, Constant]


@dataclass(frozen=True)
class Limits:
    """Limits of every rule by its name."""

    rules: Mapping[str, RuleLimits]

    def at(self, rule: str, gas: str, material: str, thickness: float) -> Row | None:
        """Return the limits in force; None where the rule says nothing there.

        A value the shop's row leaves out is taken from the row beneath it, and `last`
        never lies above `ok`.
        """
        known = material if material in CUTTABLE else SUBSTITUTE
        fitting = [row for row in self.rules[rule].rows if row.fits(gas, known, thickness)]
        if not fitting:
            return None
        values = dict(fitting[0].values)
        beneath = next((row for row in fitting if not row.own), None)
        if fitting[0].own and beneath is not None:
            values = {**dict(beneath.values), **values}
        if "ok" in values and "last" in values:
            values["last"] = min(values["last"], values["ok"])
        return replace(fitting[0], values=tuple(values.items()))

    def constant(self, rule: str, name: str) -> float:
        """Return the value of a rule's constant."""
        return self.rules[rule].constants[name].value


def load_limits(overrides: Mapping[str, Any] = {}) -> Limits:
    """Return the limits, with those of a shop file's `[limits]` section laid over them.

    Parameters
    ----------
    overrides : mapping
        By rule: a constant's name to its value, or a gas (or "all") to a table of
        values, or to a list of such tables with bounds and a material.

    Raises
    ------
    InputError
        If a rule, gas, value name or value is not possible; the message names the
        nearest valid one.

    Examples
    --------
    >>> own = load_limits({"hole-too-small": {"nitrogen": {"ok": 0.8}}})
    >>> row = own.at("hole-too-small", "nitrogen", "mild-steel", 10.0)
    >>> row["ok"], row["last"], row.own
    (0.8, 0.5, True)
    """
    rules = dict(_starter())
    for name, override in overrides.items():
        known(name, rules, "rule with limits", "limits")
        where = f"limits.{name}"
        if not isinstance(override, Mapping):
            raise InputError(f"{override!r} is not a table of limits", where=where)
        rules[name] = _overridden(rules[name], override, where)
    return Limits(rules)


def known(name: object, valid: Mapping[str, Any] | Sequence[str], what: str, where: str) -> None:
    """Raise InputError naming the nearest valid one when `name` is not among `valid`."""
    if name in valid:
        return
    near = get_close_matches(str(name).lower(), list(valid), n=1)
    raise InputError(
        f"{name!r} is not a {what}",
        where=where,
        hint=(f"did you mean {near[0]}? " if near else "") + "use one of " + ", ".join(valid),
    )


def _overridden(base: RuleLimits, override: Mapping[str, Any], where: str) -> RuleLimits:
    rows: list[Row] = []
    constants = dict(base.constants)
    names = sorted({name for row in base.rows for name, _ in row.values})
    gases = ("all", *GASES) if names else ()
    for key, value in override.items():
        known(key, [*gases, *constants], "limit of this rule", where)
        if key in constants:
            number = _number(value, f"{where}.{key}")
            constants[key] = replace(constants[key], value=number, source=OWN, own=True)
            continue
        for table in value if isinstance(value, list) else [value]:
            rows.append(_own_row(key, table, names, f"{where}.{key}"))
    _check_pairs(constants, where)
    return replace(base, rows=(*rows, *base.rows), constants=constants)


def _check_pairs(constants: Mapping[str, Constant], where: str) -> None:
    """Refuse a limit of loss above that of rework where the shop told one of the two."""
    for name, last in constants.items():
        partners = (name.replace("last", "ok"), name.replace("_last", ""))
        ok_name = next((one for one in partners if one != name and one in constants), None)
        if ok_name is None:
            continue
        ok = constants[ok_name]
        if (last.own or ok.own) and last.value > ok.value:
            told = name if last.own else ok_name
            raise InputError(
                f"{name} = {last.value:g} is above {ok_name} = {ok.value:g}",
                where=f"{where}.{told}",
                hint=f"{name} is the limit of loss, {ok_name} that of rework: give both",
            )


def _own_row(gas: str, table: Any, names: Sequence[str], where: str) -> Row:
    if not isinstance(table, Mapping):
        raise InputError(f"{table!r} is not a table of limits", where=where)
    for key in table:
        known(key, [*names, *BOUNDS, "material"], "limit of this rule", where)
    material = table.get("material")
    if material is not None:
        known(material, CUTTABLE, "material", where)
    values = {k: _number(table[k], f"{where}.{k}") for k in names if k in table}
    if not values:
        raise InputError("no limit is given", where=where, hint="give " + " or ".join(names))
    if values.get("last", 0.0) > values.get("ok", math.inf):
        raise InputError(
            f"last = {values['last']:g} is above ok = {values['ok']:g}",
            where=where, hint="last is the limit of loss, ok that of rework: ok >= last",
        )  # fmt: skip
    bounds = {k: _number(table[k], f"{where}.{k}") for k in BOUNDS if k in table}
    gases = GASES if gas == "all" else (gas,)
    return Row(gases, material, tuple(bounds.items()), tuple(values.items()), OWN, own=True)


def _number(value: Any, where: str) -> float:
    fine = isinstance(value, int | float) and not isinstance(value, bool)
    if not fine or not math.isfinite(value) or value < 0:
        raise InputError(f"{value!r} is not a number from 0 up", where=where)
    return float(value)


@cache
def _starter() -> Mapping[str, RuleLimits]:
    """Return limits.toml as read."""
    text = files("analyzer.rules").joinpath("limits.toml").read_text(encoding="utf-8")
    content = tomllib.loads(text)
    marks = content.pop("marks")
    return {name: _rule_limits(table, marks) for name, table in content.items()}


def _rule_limits(table: Mapping[str, Any], marks: Mapping[str, str]) -> RuleLimits:
    constants = {
        name: Constant(float(c["value"]), c["unit"], marks[c["source"]], c["what"])
        for name, c in table.get("constants", {}).items()
    }
    rows = tuple(_starter_rows(table.get("rows", ()), marks))
    return RuleLimits(table["unit"], table["what"], rows, constants)


def _starter_rows(rows: Sequence[Mapping[str, Any]], marks: Mapping[str, str]) -> Iterator[Row]:
    apart = {"gas", "material", "source", *BOUNDS}
    for row in rows:
        gas = row.get("gas", GASES)
        yield Row(
            gases=(gas,) if isinstance(gas, str) else tuple(gas),
            material=row.get("material"),
            bounds=tuple((k, float(row[k])) for k in BOUNDS if k in row),
            values=tuple((k, float(v)) for k, v in row.items() if k not in apart),
            source=marks[row["source"]],
        )
