"""Evidence: all that is known of one part under one gas before a rule judges it."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.effects.drop import DropForecast
from analyzer.geometry.contours import Floats
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part
from analyzer.process.setting import Setting


@dataclass(frozen=True)
class BurrSpot:
    """A stretch of edge of one burr class. Place [mm], length [mm], class 0..3, cause in words."""

    x: float
    y: float
    length: float
    burr_class: int
    cause: str  # "small contour", "slow corner", "edge", "plate"
    row: int


@dataclass(frozen=True, eq=False)
class EdgeForecast:
    """Burr class along the edges of one part.

    Attributes
    ----------
    base_class : float
        Class of a long straight edge, before rounding. [-]
    metres : ndarray, shape (n, 4)
        Drawn edge of every contour by class 0..3; rows add up to its length. [m]
    spots : tuple of BurrSpot
        Stretches worse than the long straight edge, worst first.
    """

    base_class: float
    metres: Floats
    spots: tuple[BurrSpot, ...]


@dataclass(frozen=True, eq=False)
class Evidence:
    """One part under one gas: setting, plan, edge forecast, and what comes loose if asked."""

    part: Part
    setting: Setting
    plan: Plan
    edges: EdgeForecast
    drop: DropForecast | None = None
