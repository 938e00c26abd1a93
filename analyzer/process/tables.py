"""The shop's own cutting rows: interpolated, never stretched in silence."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

_SAME = 1e-6  # two thicknesses, or two powers, nearer than this in proportion are one


@dataclass(frozen=True)
class OwnRow:
    """One row of the shop's own cutting table.

    Attributes
    ----------
    material, gas : str
        Canonical names.
    power_kw, thickness_mm : float
        Where the row holds. [kW, mm]
    speed_m_per_min : float
        Speed on a long straight cut. [m/min]
    kerf_mm, pierce_s, oxygen_share_percent, pressure_bar : float or None
        Where the shop knows them. [mm, s, % by volume, bar gauge at the head]
    nozzle : str or None
        Bore of the nozzle in mm, S before a single and D before a double one ("S4.0").
    confirmed : bool
        The shop says the row is right although the check doubts it.
    where : str
        File and line, for messages.
    """

    material: str
    gas: str
    power_kw: float
    thickness_mm: float
    speed_m_per_min: float
    kerf_mm: float | None = None
    pierce_s: float | None = None
    oxygen_share_percent: float | None = None
    confirmed: bool = False
    where: str = ""
    pressure_bar: float | None = None
    nozzle: str | None = None

    @property
    def label(self) -> str:
        """Short name in messages."""
        return f"{self.thickness_mm:g} mm / {self.power_kw:g} kW"

    def holds_at(self, power_kw: float) -> bool:
        """Return whether the row was told for this power."""
        return math.isclose(self.power_kw, power_kw, rel_tol=_SAME)


@dataclass(frozen=True)
class RowDoubt:
    """Why an own row is not believed (rule `table-implausible`).

    Attributes
    ----------
    row : OwnRow
        The row.
    words : str
        What is odd, in a sentence.
    measured, limit : float
        Both in `unit`.
    unit : str
        What was compared.
    set_aside : bool
        The row is not used until confirmed; False where the doubt is only a hint.
    """

    row: OwnRow
    words: str
    measured: float
    limit: float
    unit: str
    set_aside: bool


@dataclass(frozen=True)
class OwnValues:
    """What the own rows say at one thickness; None where they do not say."""

    speed_m_per_min: float
    kerf_mm: float | None
    pierce_s: float | None
    oxygen_share_percent: float | None
    source: str
    formula: str
    pressure_bar: float | None = None
    nozzle: str | None = None


def matching(
    rows: Iterable[OwnRow], material: str, gas: str, power_kw: float
) -> tuple[OwnRow, ...]:
    """Return the rows for this material, gas and power, thin to thick."""
    found = (r for r in rows if (r.material, r.gas) == (material, gas) and r.holds_at(power_kw))
    return tuple(sorted(found, key=lambda r: r.thickness_mm))


def own_values(rows: Sequence[OwnRow], thickness_mm: float) -> OwnValues | None:
    """Return what `rows` say at `thickness_mm`; None outside their range.

    Speed, kerf and pierce are log-log in thickness between neighbouring rows (a power law
    passes exactly), oxygen share and pressure are linear, the nozzle is that of the next
    thicker row that names one.

    Parameters
    ----------
    rows : sequence of OwnRow
        Of one material, gas and power, thin to thick (see `matching`).
    thickness_mm : float
        Sheet thickness. [mm]

    Raises
    ------
    ValueError
        If the rows are not of one material, gas and power.
    """
    if len({(r.material, r.gas, r.power_kw) for r in rows}) > 1:
        raise ValueError("own rows of more than one material, gas or power")
    speed = _at(rows, thickness_mm, "speed_m_per_min")
    if speed is None:
        return None
    exact = [r for r in rows if math.isclose(r.thickness_mm, thickness_mm, rel_tol=_SAME)]
    if exact:
        source = f"your table, row {exact[0].label}"
        formula = f"read from your table, row {exact[0].label}"
    else:
        below = max((r for r in rows if r.thickness_mm < thickness_mm), key=_thickness)
        above = min((r for r in rows if r.thickness_mm > thickness_mm), key=_thickness)
        source = f"your table, between rows {below.label} and {above.label}"
        formula = (
            f"log-log between {below.speed_m_per_min:g} m/min at {below.thickness_mm:g} mm "
            f"and {above.speed_m_per_min:g} m/min at {above.thickness_mm:g} mm"
        )
    return OwnValues(
        speed,
        _at(rows, thickness_mm, "kerf_mm"),
        _at(rows, thickness_mm, "pierce_s"),
        _at(rows, thickness_mm, "oxygen_share_percent", logarithmic=False),
        source,
        formula,
        _at(rows, thickness_mm, "pressure_bar", logarithmic=False),
        _nozzle(rows, thickness_mm),
    )


def believed(rows: Iterable[OwnRow], doubts: Iterable[RowDoubt]) -> tuple[OwnRow, ...]:
    """Return the rows that may be used: not set aside, or confirmed by the shop."""
    aside = {id(d.row) for d in doubts if d.set_aside and not d.row.confirmed}
    return tuple(r for r in rows if id(r) not in aside)


def _thickness(row: OwnRow) -> float:
    return row.thickness_mm


def _at(
    rows: Sequence[OwnRow], thickness_mm: float, name: str, *, logarithmic: bool = True
) -> float | None:
    """Return column `name` between the rows that have it; None outside them."""
    have = [(r.thickness_mm, getattr(r, name)) for r in rows if getattr(r, name) is not None]
    for t, value in have:
        if math.isclose(t, thickness_mm, rel_tol=_SAME):
            return float(value)
    if not have or not have[0][0] < thickness_mm < have[-1][0]:
        return None
    t, y = np.asarray(have, dtype=float).T
    if logarithmic:
        return float(np.exp(np.interp(math.log(thickness_mm), np.log(t), np.log(y))))
    return float(np.interp(thickness_mm, t, y))


def _nozzle(rows: Sequence[OwnRow], thickness_mm: float) -> str | None:
    """Return the nozzle of the next thicker row that names one; None outside those rows."""
    have = [r for r in rows if r.nozzle]
    if not have or thickness_mm < have[0].thickness_mm * (1.0 - _SAME):
        return None
    thicker = (r for r in have if r.thickness_mm >= thickness_mm * (1.0 - _SAME))
    return next((r.nozzle for r in thicker), None)
