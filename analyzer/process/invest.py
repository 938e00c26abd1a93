"""What a mixer or a compressor would cost the shop: section [invest] of the shop file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from analyzer.process.typed import TomlFile

_KEYS = {
    "mixer_price": (0.0, 1e9),
    "mixer_per_month": (0.0, 1e8),
    "compressor_price": (0.0, 1e9),
    "compressor_per_month": (0.0, 1e8),
}


@dataclass(frozen=True)
class Invest:
    """Prices, in the money of [rates]; None where not told.

    Attributes
    ----------
    mixer_price, compressor_price : float or None
        To buy and install: a mixer with third gas line; a high-pressure compressor with
        dryer and filters.
    mixer_per_month, compressor_per_month : float
        Service and rent every month, beside gas and electricity.
    """

    mixer_price: float | None = None
    mixer_per_month: float = 0.0
    compressor_price: float | None = None
    compressor_per_month: float = 0.0


NO_INVEST = Invest()


def parse_invest(file: TomlFile, value: Any) -> dict[str, Any]:
    """Return the field `invest` that [invest] tells.

    Raises
    ------
    InputError
        If a key is not known or a value cannot be meant.
    """
    section = file.table("invest", value)
    file.known("invest", section, tuple(_KEYS))
    told = {
        key: file.number("invest", section, key, *bounds)
        for key, bounds in _KEYS.items()
        if key in section
    }
    return {"invest": Invest(**told)}
