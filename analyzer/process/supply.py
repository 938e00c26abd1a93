"""What gas the shop has, and what its supply can give: section [gases] of the shop file.

Only pressures at the head and what a supply delivers are asked for.  Nothing about the
oxygen side of a mixer is read or said: that is work for a licensed gas installer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any

from analyzer.process.gas import GASES, gas_named
from analyzer.process.typed import TomlFile

KINDS = ("tank", "bundle", "cylinder", "generator", "compressor")
SUPPLIED = ("oxygen", "nitrogen", "air")
"""Gases that come from a supply; mixed gas is made of the first two."""


@dataclass(frozen=True)
class Supply:
    """Where one gas comes from; None where the shop does not say.

    Attributes
    ----------
    kind : str or None
        One of KINDS.
    flow_nm3_per_h : float or None
        Most it delivers without end. [Nm3/h, 0 C, 1.01325 bar]
    content_nm3 : float or None
        What one filling, cylinder or bundle holds. [Nm3]
    pressure_bar : float or None
        Gauge pressure it gives at the head. [bar]
    """

    kind: str | None = None
    flow_nm3_per_h: float | None = None
    content_nm3: float | None = None
    pressure_bar: float | None = None


@dataclass(frozen=True)
class Supplies:
    """What the shop says of its gas.

    Attributes
    ----------
    mixer : bool or None
        A third gas line with a mixer; None when not told.
    by_gas : mapping of str to Supply
        For the gases of SUPPLIED that are told.
    """

    mixer: bool | None = None
    by_gas: Mapping[str, Supply] = field(default_factory=dict)

    def of(self, gas: str) -> Supply:
        """Return the supply of one of SUPPLIED."""
        return self.by_gas.get(gas, Supply())

    def pressure_bar(self, gas: str) -> float | None:
        """Return the gauge pressure at the head for a cutting gas; None when not told. [bar]

        Mixed gas is asked of its nitrogen only: no settings for the oxygen side.
        """
        return self.of("nitrogen" if gas == "mixed" else gas).pressure_bar


@dataclass(frozen=True)
class Shortage:
    """A supply that delivers less than the head takes while it blows.

    Attributes
    ----------
    gas : str
        One of SUPPLIED.
    needed_nm3_per_h, delivered_nm3_per_h : float
        While it blows, and at most. [Nm3/h]
    kind : str or None
        One of KINDS.
    """

    gas: str
    needed_nm3_per_h: float
    delivered_nm3_per_h: float
    kind: str | None


NO_SUPPLIES = Supplies()
_SUPPLY = ("supply", "flow_nm3_per_h", "content_nm3", "pressure_bar")


def split_flow(gas: str, flow: float, oxygen_percent: float) -> dict[str, float]:
    """Return a flow or a volume of a cutting gas by the supplies it comes from."""
    if gas == "air":
        return {"air": flow}
    oxygen = flow * oxygen_percent / 100.0
    parts = {"oxygen": oxygen, "nitrogen": flow - oxygen}
    return {name: part for name, part in parts.items() if part > 0.0}


def shortages(
    gas: str, flow_nm3_per_h: float, oxygen_percent: float, supplies: Supplies
) -> tuple[Shortage, ...]:
    """Return the supplies that deliver less than a cutting gas takes while it blows."""
    found = []
    for name, needed in split_flow(gas, flow_nm3_per_h, oxygen_percent).items():
        supply = supplies.of(name)
        delivered = supply.flow_nm3_per_h
        if delivered is not None and needed > delivered:
            found.append(Shortage(name, needed, delivered, supply.kind))
    return tuple(found)


def pressure_level(gas: str, needed_bar: float, least_bar: float, has_bar: float | None) -> str:
    """Return "ok", "caution" or "beyond" for the pressure at the head.

    Below the table's pressure it is caution; air, whose pressure a compressor limits, is
    beyond below the least it cuts with (or below the table's pressure, where that is less).
    """
    if has_bar is None or has_bar >= needed_bar * (1.0 - 1e-9):
        return "ok"
    least = min(least_bar, needed_bar)
    return "beyond" if gas == "air" and has_bar < least * (1.0 - 1e-9) else "caution"


def parse_gases(file: TomlFile, value: Any) -> dict[str, Any]:
    """Return `gases` (None where not told) and `supplies` that [gases] tells.

    Raises
    ------
    InputError
        If a key is not known, a value cannot be meant, or mixer and list disagree.
    """
    table = file.table("gases", value)
    file.known("gases", table, ("available", "mixer", "compressor_bar", *SUPPLIED))
    by_gas = {
        gas: _supply(file, f"gases.{gas}", file.table(f"gases.{gas}", table[gas]))
        for gas in SUPPLIED
        if gas in table
    }
    if "compressor_bar" in table:
        if "pressure_bar" in table.get("air", {}):
            raise file.wrong(
                "compressor_bar and pressure_bar of air say the same thing", "keep one",
                "gases", "compressor_bar",
            )  # fmt: skip
        bar = file.number("gases", table, "compressor_bar", 0.0, 60.0)
        air = by_gas.get("air", Supply("compressor"))
        by_gas["air"] = Supply(air.kind, air.flow_nm3_per_h, air.content_nm3, bar)
    mixer = file.flag("gases", table, "mixer") if "mixer" in table else None
    gases = _available(file, table) if "available" in table else None
    if gases is None and mixer is not None:
        gases = _implied(mixer, "air" in by_gas)
    elif gases is not None and mixer is not None and mixer != ("mixed" in gases):
        raise file.wrong(
            "mixer = true, but mixed gas is not available" if mixer
            else "mixed gas is available, but mixer = false",
            "mixed gas needs a mixer; make the two agree", "gases", "mixer",
        )  # fmt: skip
    if gases is not None and mixer is None:
        mixer = "mixed" in gases
    told = {} if gases is None else {"gases": gases}
    return told | {"supplies": Supplies(mixer, by_gas)}


def _implied(mixer: bool, air: bool) -> tuple[str, ...]:
    """Return the gases of a shop that tells its mixer but no list: air only where told."""
    has = {"oxygen", "nitrogen"} | ({"mixed"} if mixer else set()) | ({"air"} if air else set())
    return tuple(gas for gas in GASES if gas in has)


def _available(file: TomlFile, table: Mapping[str, Any]) -> tuple[str, ...]:
    given = file.texts("gases", table, "available")
    names = {file.placed("gases", "available", partial(gas_named, gas)) for gas in given}
    if not names:
        raise file.wrong(
            "no gas is available",
            "list what the shop has, or leave the key out",
            "gases",
            "available",
        )
    return tuple(g for g in GASES if g in names)


def _supply(file: TomlFile, section: str, table: Mapping[str, Any]) -> Supply:
    file.known(section, table, _SUPPLY)

    def told(key: str, high: float) -> float | None:
        return file.number(section, table, key, 0.001, high) if key in table else None

    return Supply(
        file.choice(section, table, "supply", KINDS) if "supply" in table else None,
        told("flow_nm3_per_h", 100_000.0),
        told("content_nm3", 1_000_000.0),
        told("pressure_bar", 60.0),
    )
