"""How an answer is written in any format: short or with reasons, which table, which signs."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.errors import InputError

TABLES = ("findings", "features", "parts", "gases")
SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t"}
DECIMALS = {"point": ".", "comma": ","}


@dataclass(frozen=True)
class Manner:
    """What was asked about output.

    Attributes
    ----------
    why : bool
        With formula, inputs and source of every number, where the format has room.
    brief : bool
        Text in one line a drawing.
    table : str
        Which table a CSV holds, one of `TABLES`.
    decimal : str
        Decimal sign of numbers in a CSV, "point" or "comma".
    separator : str or None
        Between the cells of a CSV, one of `SEPARATORS`; None: comma, but semicolon where the
        comma is the decimal sign.

    Raises
    ------
    InputError
        If one sign would have to do both jobs.
    """

    why: bool = False
    brief: bool = False
    table: str = TABLES[0]
    decimal: str = "point"
    separator: str | None = None

    def __post_init__(self) -> None:
        if self.decimal == "comma" and self.separator == "comma":
            raise InputError(
                "the comma cannot be both decimal sign and separator",
                hint="take --separator semicolon or tab",
            )

    @property
    def between(self) -> str:
        """The sign between cells."""
        asked = self.separator or ("semicolon" if self.decimal == "comma" else "comma")
        return SEPARATORS[asked]

    @property
    def point(self) -> str:
        """The decimal sign."""
        return DECIMALS[self.decimal]


PLAIN = Manner()
"""As written where nothing else is asked."""
