"""What an hour, a cubic metre, a kilowatt-hour and a kilogram cost: [rates] of the shop file.

Money is reckoned only where the shop tells its machine and labour rates.  What else it
leaves out is filled with typical values in EUR (`data/rates.toml`), and the answer says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analyzer.process.load import table
from analyzer.process.supply import Supplies
from analyzer.process.typed import TomlFile

NEEDED = ("machine_per_h", "labour_per_h")
# Key: least and most that can be meant, in any currency.
_KEYS: dict[str, tuple[float, float]] = {
    "machine_per_h": (0.0, 1e8),
    "labour_per_h": (0.0, 1e8),
    "operator_share": (0.0, 2.0),
    "planned_time_factor": (1.0, 3.0),
    "nitrogen_per_nm3": (0.0, 1e6),
    "oxygen_per_nm3": (0.0, 1e6),
    "air_per_nm3": (0.0, 1e6),
    "electricity_per_kwh": (0.0, 1e6),
    "consumables_per_beam_h": (0.0, 1e6),
    "unloading_min_per_part": (0.0, 600.0),
    "mild_steel_per_kg": (0.0, 1e7),
    "stainless_per_kg": (0.0, 1e7),
    "aluminium_per_kg": (0.0, 1e7),
}
_NOT_MONEY = ("operator_share", "planned_time_factor", "unloading_min_per_part")
GAS_KEYS = {gas: f"{gas}_per_nm3" for gas in ("nitrogen", "oxygen", "air")}


@dataclass(frozen=True)
class Price:
    """One rate in force.

    Attributes
    ----------
    value : float
        In the unit its name says.
    spread : float
        How far it may be off, as a share; 0 where the shop told it. [-]
    source : str
        "your [rates]", or where the typical value is from.
    """

    value: float
    spread: float
    source: str

    @property
    def told(self) -> bool:
        """Whether the shop told it."""
        return self.spread == 0.0


@dataclass(frozen=True)
class Rates:
    """What the shop pays.

    Attributes
    ----------
    currency : str
        Name of the money.
    told : mapping of str to float
        The rates the shop wrote down, by their keys in [rates].
    supplies : Supplies
        Where gas comes from: it chooses the typical gas price.
    """

    currency: str
    told: Mapping[str, float]
    supplies: Supplies

    def price(self, key: str) -> Price:
        """Return the rate called `key`: the shop's, else a typical one.

        A material without a typical price is not priced: value 0, said in its source.
        """
        if key in self.told:
            return Price(self.told[key], 0.0, "your [rates]")
        for gas, name in GAS_KEYS.items():
            if key == name:
                kind = self.supply(gas)
                return _typical(table("rates", "gas", gas)[kind])
        rows = table("rates")
        if key not in rows:
            return Price(0.0, 0.0, "not priced")
        return _typical(rows[key])

    def supply(self, gas: str) -> str:
        """Return where `gas` is taken to come from: as told, else the usual supply."""
        rows = table("rates", "gas", gas)
        kind = self.supplies.of(gas).kind
        return kind if kind is not None and kind in rows else str(next(iter(rows)))

    def material_per_kg(self, material: str) -> Price:
        """Return the price of one kilogram of plate."""
        return self.price(f"{material.replace('-', '_')}_per_kg")


def _typical(row: Mapping[str, Any]) -> Price:
    value = float(row["value"])
    spread = float(row["high"]) / value - 1.0 if value > 0.0 else 0.0
    return Price(value, spread, str(row["source"]))


def parse_rates(file: TomlFile, value: Any) -> dict[str, Any]:
    """Return the field `rates` that [rates] tells; its supplies are filled in by the shop.

    Raises
    ------
    InputError
        If a key is not known, a value cannot be meant, machine or labour rate is missing, or
        the money is not EUR and a price is left to our typical values.
    """
    section = file.table("rates", value)
    file.known("rates", section, ("currency", *_KEYS))
    euro = table("rates", "currency")["name"]
    currency = file.text_at("rates", section, "currency") if "currency" in section else euro
    if not 1 <= len(currency) <= 8 or not currency.isprintable() or currency != currency.strip():
        raise file.wrong(
            f"currency = {currency!r} cannot be meant", 'write its name, such as "EUR"',
            "rates", "currency",
        )  # fmt: skip
    told = {
        key: file.number("rates", section, key, *bounds)
        for key, bounds in _KEYS.items()
        if key in section
    }
    missing = [key for key in NEEDED if key not in told]
    if missing:
        raise file.wrong(
            f"[rates] has no {' and no '.join(missing)}",
            "money needs machine_per_h and labour_per_h; leave [rates] out to weigh by minutes",
            "rates",
        )
    if currency != euro:
        blank = [key for key in _KEYS if key not in told and key not in _NOT_MONEY]
        if blank:
            raise file.wrong(
                f"in {currency} every price is needed: {', '.join(blank)}",
                f"our typical prices are in {euro}; a gas you do not have may cost 0",
                "rates",
            )
    return {"rates": Rates(currency, told, Supplies())}
