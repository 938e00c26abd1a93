"""What is to be laid: how many of each part, how it may lie, and the spacing to keep."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.errors import InputError

SIDES = ("left", "right", "bottom", "top")
GRAINS = ("x", "y")


@dataclass(frozen=True)
class Demand:
    """One row of an order.

    Attributes
    ----------
    part : int
        Which of the parts.
    quantity : int
        How many; 0 is allowed and asks for nothing.
    turns : tuple of float or None
        Turns it may lie at, counter-clockwise against its drawing; None: any. [degrees]
    mirror : bool
        Whether it may be turned over, too.
    priority : int
        Where stock runs out, higher ones are laid first.
    """

    part: int
    quantity: int
    turns: tuple[float, ...] | None = (0.0, 90.0, 180.0, 270.0)
    mirror: bool = False
    priority: int = 0

    def __post_init__(self) -> None:
        if self.quantity < 0:
            raise InputError(f"{self.quantity} parts cannot be laid", hint="give 0 or more")
        if self.turns is not None and not self.turns:
            raise InputError("a part that may lie at no turn at all", hint="allow 0 at least")


@dataclass(frozen=True)
class Clamp:
    """A strip along a side of the sheet where clamps hold it: no part lies there.

    Attributes
    ----------
    side : str
        "left", "right", "bottom" or "top".
    depth_mm : float
        How far it reaches into the sheet. [mm]
    start_mm, end_mm : float
        From where to where along the side; the end is None for all of it. [mm]
    """

    side: str
    depth_mm: float
    start_mm: float = 0.0
    end_mm: float | None = None

    def __post_init__(self) -> None:
        if self.side not in SIDES:
            raise InputError(f"a clamp at {self.side!r}", hint="one of " + ", ".join(SIDES))
        if not self.depth_mm > 0.0:
            raise InputError(f"a clamp {self.depth_mm:g} mm deep holds nothing")

    def box(self, length_mm: float, width_mm: float) -> tuple[float, float, float, float]:
        """Return least x, least y, greatest x, greatest y on a sheet of that size. [mm]

        Examples
        --------
        >>> Clamp("top", 30.0).box(3000.0, 1500.0)
        (0.0, 1470.0, 3000.0, 1500.0)
        """
        along = length_mm if self.side in ("bottom", "top") else width_mm
        low, high = self.start_mm, along if self.end_mm is None else min(self.end_mm, along)
        return {
            "left": (0.0, low, self.depth_mm, high),
            "right": (length_mm - self.depth_mm, low, length_mm, high),
            "bottom": (low, 0.0, high, self.depth_mm),
            "top": (low, width_mm - self.depth_mm, high, width_mm),
        }[self.side]


@dataclass(frozen=True)
class Spacing:
    """What is kept free.

    Attributes
    ----------
    gap_mm : float
        Least metal between two parts, also to the cut-out a part lies in. [mm]
    margin_mm : float
        Least metal between a part and the edge of the sheet. [mm]
    clamps : tuple of Clamp
        Strips where no part lies at all.
    grain : str or None
        "x" or "y": the x axis of every drawing must lie along it (either way), as for a
        brushed face; None where the plate has none that shows.
    """

    gap_mm: float = 5.0
    margin_mm: float = 10.0
    clamps: tuple[Clamp, ...] = ()
    grain: str | None = None

    def __post_init__(self) -> None:
        for name, value in (("gap", self.gap_mm), ("margin", self.margin_mm)):
            if not 0.0 <= value < 1000.0:
                raise InputError(f"a {name} of {value:g} mm cannot be meant")
        if self.grain is not None and self.grain not in GRAINS:
            raise InputError(f"grain {self.grain!r}", hint="x or y, or none")
