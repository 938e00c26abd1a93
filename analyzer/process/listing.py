"""The process tables in force, as rows to print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analyzer.job import Job
from analyzer.process.choose import LeftOut, settings_for
from analyzer.process.load import table
from analyzer.process.machine import START_VALUES, Machine
from analyzer.process.material import CUTTABLE
from analyzer.process.setting import Setting
from analyzer.process.supply import NO_SUPPLIES, Supplies
from analyzer.process.tables import OwnRow

THICKNESSES = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0)
"""Sheets of the starter tables. [mm]"""


@dataclass(frozen=True)
class ListedRow:
    """One line of the tables: what would be used, or why nothing is.

    Attributes
    ----------
    material, gas : str
        Canonical names.
    thickness_mm, power_kw : float
        Where the row holds. [mm, kW]
    setting : Setting or None
        All values with their sources; None where the gas has no speed.
    reason : str
        Why there is no setting; empty where there is one.
    """

    material: str
    gas: str
    thickness_mm: float
    power_kw: float
    setting: Setting | None
    reason: str = ""

    @property
    def mark(self) -> str:
        """How sure the speed is."""
        return "" if self.setting is None else dict(self.setting.sources)["speed_mm_s"]


def process_table(
    power_kw: float,
    *,
    materials: Iterable[str] = CUTTABLE,
    thicknesses: Iterable[float] = (),
    own_rows: Sequence[OwnRow] = (),
    supplies: Supplies = NO_SUPPLIES,
    machine: Machine = START_VALUES,
) -> tuple[ListedRow, ...]:
    """Return the tables in force at one power: by material, gas in answer order, thickness.

    Parameters
    ----------
    power_kw : float
        Laser power. [kW]
    materials : iterable of str
        Canonical names.
    thicknesses : iterable of float
        Sheets to list; none means those of the starter tables and of the own rows of the
        material. [mm]
    own_rows : sequence of OwnRow
        Rows of the shop.
    supplies, machine : Supplies, Machine
        What the shop has of gas, and the head its flow hangs on.

    Raises
    ------
    InputError
        If the power or a thickness is impossible.
    """
    given = tuple(thicknesses)
    listed = []
    for material in materials:
        own = {r.thickness_mm for r in own_rows if r.material == material}
        starter = set(THICKNESSES) if material in CUTTABLE else set()
        by_gas: dict[str, list[ListedRow]] = {}
        for t in given or sorted(own | starter):
            job = Job(material, t, power_kw)
            made = settings_for(job, own_rows=own_rows, supplies=supplies, machine=machine)
            for row in _rows(job, *made):
                by_gas.setdefault(row.gas, []).append(row)
        listed += [row for rows in by_gas.values() for row in rows]
    return tuple(listed)


def starter_sources() -> tuple[tuple[str, str], ...]:
    """Return every group of starter values with its source, in the order of the files."""
    found: list[tuple[str, str]] = []
    for name in ("materials", "speed", "settings", "cut", "flow", "electricity", "rework"):
        _collect(name, table(name), found)
    return tuple(found)


def _rows(job: Job, settings: Iterable[Setting], left_out: Iterable[LeftOut]) -> list[ListedRow]:
    material, t, power = job.material, job.thickness_mm, job.power_kw
    rows = [ListedRow(material, s.gas, t, power, s) for s in settings]
    return rows + [ListedRow(material, x.gas, t, power, None, x.reason) for x in left_out]


def _collect(path: str, node: object, found: list[tuple[str, str]]) -> None:
    if not isinstance(node, dict):
        return
    if isinstance(node.get("source"), str):
        found.append((path, node["source"]))
    for key, below in node.items():
        _collect(f"{path}.{key}", below, found)
