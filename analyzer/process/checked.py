"""Own tables looked at as a whole: which rows are refused, doubted, or not there."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from analyzer.process.doubts import row_doubts
from analyzer.process.gas import GASES
from analyzer.process.own_rows import BadRow
from analyzer.process.tables import OwnRow, RowDoubt, believed


@dataclass(frozen=True)
class NoRows:
    """A gas without usable rows, where another gas of this material and power has some."""

    material: str
    power_kw: float
    gas: str


@dataclass(frozen=True)
class TableCheck:
    """What was found in the shop's own tables.

    Attributes
    ----------
    rows : int
        Rows there, those that cannot be read included.
    used : int
        Rows that are believed, and told for the laser's power where that is known.
    unreadable : tuple of BadRow
        Rows that could not be read.
    refused : tuple of RowDoubt
        Rows that are not used until confirmed.
    doubted : tuple of RowDoubt
        Rows that are used and should be looked at.
    confirmed : tuple of RowDoubt
        Rows the check doubts and the shop has confirmed: used.
    missing : tuple of NoRows
        Gases for which starter values fill in.
    power_kw : float or None
        Of the laser, where the shop file tells it. [kW]
    elsewhere : tuple of OwnRow
        Rows that are believed but told for another power: used only where `--power` asks.
    """

    rows: int
    used: int
    unreadable: tuple[BadRow, ...]
    refused: tuple[RowDoubt, ...]
    doubted: tuple[RowDoubt, ...]
    confirmed: tuple[RowDoubt, ...]
    missing: tuple[NoRows, ...]
    power_kw: float | None = None
    elsewhere: tuple[OwnRow, ...] = ()


def check_tables(
    rows: Sequence[OwnRow], unreadable: Sequence[BadRow] = (),
    gases: Collection[str] | None = None, power_kw: float | None = None,
) -> TableCheck:  # fmt: skip
    """Return what is wrong with the shop's own rows.

    Parameters
    ----------
    rows : sequence of OwnRow
        Rows that could be read.
    unreadable : sequence of BadRow
        Rows that could not.
    gases : collection of str or None
        Gases the shop has; None is every one.
    power_kw : float or None
        Of the laser; None where it is not told. [kW]
    """
    doubts = row_doubts(rows)
    grave = tuple(d for d in doubts if d.set_aside)
    used = believed(rows, doubts)
    elsewhere = tuple(r for r in used if power_kw is not None and not r.holds_at(power_kw))
    return TableCheck(
        rows=len(rows) + len(unreadable),
        used=len(used) - len(elsewhere),
        unreadable=tuple(unreadable),
        refused=tuple(d for d in grave if not d.row.confirmed),
        doubted=tuple(d for d in doubts if not d.set_aside),
        confirmed=tuple(d for d in grave if d.row.confirmed),
        missing=tuple(_missing(rows, used, gases)),
        power_kw=power_kw,
        elsewhere=elsewhere,
    )


def _missing(
    rows: Sequence[OwnRow], used: Sequence[OwnRow], gases: Collection[str] | None
) -> list[NoRows]:
    there = {(r.material, r.power_kw, r.gas) for r in used}
    found = []
    for material, power in sorted({(r.material, r.power_kw) for r in rows}):
        for gas in GASES:
            wanted = gas in gases if gases is not None else True
            if gas == "oxygen" and material != "mild-steel":
                wanted = False
            if wanted and (material, power, gas) not in there:
                found.append(NoRows(material, power, gas))
    return found
