"""What decides an answer besides the drawing: options as values, filled up from the shop file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer.errors import InputError

if TYPE_CHECKING:
    from analyzer.comparison import Answer
    from analyzer.job import Job
    from analyzer.shop import Shop
    from analyzer.tolerances import Tolerances

_PLAIN = "write it without quotes and unit; the name tells the unit"
MOST_JOIN = 2.0  # wider than this, a gap is no slip of the pen [mm]


@dataclass(frozen=True)
class Request:
    """Options of one question; None or empty where nothing was told.

    Attributes
    ----------
    material, plate, next_step : str or None
        As in `analyzer.job.Job`.
    thickness_mm, power_kw : float or None
        Plain numbers. [mm], [kW]
    units : str or None
        Unit of the drawing.
    join_mm : float or None
        Gap to close. [mm]
    tolerance : str or None
        General tolerance class.
    gases : str or sequence of str
    share_percent : float or None
        Oxygen in the mixed gas. [% by volume]
    shop : Path, str or None
        Shop file; the nearest one above the drawing where not told.
    layer_roles : tuple of (role, layer name pattern)
    limits : tuple of (name, value)
        Limits on input that are lowered or raised.
    """

    material: str | None = None
    thickness_mm: float | None = None
    power_kw: float | None = None
    plate: str | None = None
    next_step: str | None = None
    units: str | None = None
    join_mm: float | None = None
    tolerance: str | None = None
    gases: str | Sequence[str] = ()
    share_percent: float | None = None
    shop: Path | str | None = None
    layer_roles: tuple[tuple[str, str], ...] = ()
    limits: tuple[tuple[str, float], ...] = ()

    def answer(self, path: Path | str, shop: Shop | None = None) -> Answer:
        """Read, look and advise for one drawing, with the shop file that is in force for it.

        Raises
        ------
        InputError
            If the drawing cannot be read or the job is not possible.
        """
        from analyzer.budgets import DEFAULT as BUDGETS
        from analyzer.comparison import check
        from analyzer.drawing.reading import ReadOptions
        from analyzer.shop import load_shop

        path = Path(path)
        shop = shop or load_shop(self.shop, path.parent)
        options = ReadOptions(
            units=self.units, layer_roles=(*self.layer_roles, *shop.layer_roles),
            asked_roles=tuple(self.layer_roles),
            tolerances=self.tolerances(), budgets=BUDGETS.changed(self.limits),
        )  # fmt: skip
        return check(path, self.job(shop), shop, options)

    def tolerances(self) -> Tolerances:
        """Return the tolerances, with the gap to close as asked."""
        from analyzer.tolerances import DEFAULT

        if self.join_mm is None:
            return DEFAULT
        if not DEFAULT.weld <= self.join_mm <= MOST_JOIN:
            raise InputError(
                f"gaps of {self.join_mm:g} mm cannot be closed",
                where="--join",
                hint=f"use {DEFAULT.weld:g} to {MOST_JOIN:g} mm; wider gaps must be drawn shut",
            )
        return replace(DEFAULT, join=self.join_mm)

    def job(self, shop: Shop) -> Job:
        """Return the job from the options, else the shop file; name all that is missing."""
        from analyzer.job import Job
        from analyzer.process.choose import check_range
        from analyzer.process.gas import gas_named
        from analyzer.process.material import material_named
        from analyzer.process.recipe import asked_share

        material = self.material or shop.material
        thickness = self.thickness_mm if self.thickness_mm is not None else shop.thickness_mm
        power = self.power_kw if self.power_kw is not None else shop.power_kw
        wanted = {"--material": material, "--thickness": thickness, "--power": power}
        missing = [name for name, value in wanted.items() if value is None]
        if material is None or thickness is None or power is None:
            raise InputError(
                f"missing {' and '.join(missing)}",
                hint="give it as an option or in the shop file burrcast.toml, for example"
                " --material mild-steel --thickness 10mm --power 10kW",
            )
        for name, value in (("thickness_mm", thickness), ("power_kw", power)):
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise InputError(f"{name} = {value!r} is not a number", hint=_PLAIN)
        check_range(thickness, power)
        gases = (self.gases,) if isinstance(self.gases, str) else self.gases
        if self.share_percent is not None:
            asked_share(self.share_percent, tuple(gas_named(gas) for gas in gases))
        return Job(
            material=material_named(material, {row.material for row in shop.own_rows}).name,
            thickness_mm=thickness,
            power_kw=power,
            plate=self.plate or shop.plate or "clean",
            plate_told=bool(self.plate or shop.plate),
            next_step=self.next_step or shop.next_step,
            gases=tuple(gas_named(gas) for gas in gases),
            oxygen_share_percent=self.share_percent,
            tolerance=self.tolerance,
        )
