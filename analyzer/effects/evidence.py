"""Evidence: all that is known of one part under one gas before a rule judges it."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.effects.drop import DropForecast
from analyzer.geometry.contours import Floats, Ints
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
    cause: str  # "small contour", "slow corner", "heat"
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
class HeatField:
    """What the head meets along the cutting order: rises over the plate's start. [K]

    Attributes
    ----------
    pierces : ndarray, shape (n,)
        At the pierce of every contour, as it begins.
    web_arrival, web_peak : ndarray, shape (w,)
        In the middle of the webs of the forecast, as their second side is begun; and the highest
        mean across it after that.
    tips : ndarray of int, shape (k,)
        Corners of the part that are tips up to a right angle.
    tip_arrival, tip_peak : ndarray, shape (k,)
        At every such tip, as its first edge reaches it; and the highest a quarter of the
        thickness behind it.
    station_xy : ndarray, shape (g, 2)
        Middles of stretches along the edges. [mm]
    station_rows : ndarray of int, shape (g,)
        Their contours.
    station_lengths : ndarray, shape (g,)
        Their drawn lengths; they add up to those of the contours. [mm]
    station_rises : ndarray, shape (g,)
        What the head meets there.
    """

    pierces: Floats
    web_arrival: Floats
    web_peak: Floats
    tips: Ints
    tip_arrival: Floats
    tip_peak: Floats
    station_xy: Floats
    station_rows: Ints
    station_lengths: Floats
    station_rises: Floats


@dataclass(frozen=True, eq=False)
class HeatForecast:
    """Heat that the cuts of one part leave.

    Attributes
    ----------
    left : float
        Heat per area of cut, both sides together. [J/mm^2]
    webs : ndarray of int, shape (w,)
        Webs of the part no wider than the thickness.
    strips : ndarray, shape (w,)
        Bound of the rise in each of them: both sides cut at once, no way out but the ends. [K]
    pattern : ndarray, shape (n,)
        Mean rise of the plate around every cut-out once all are cut; 0 for others. [K]
    field : HeatField or None
        Rises along the cutting order; None for gases in which heat decides nothing.
    """

    left: float
    webs: Ints
    strips: Floats
    pattern: Floats
    field: HeatField | None = None


@dataclass(frozen=True, eq=False)
class Evidence:
    """One part under one gas: setting, plan, edge forecast, and what comes loose if asked."""

    part: Part
    setting: Setting
    plan: Plan
    edges: EdgeForecast
    drop: DropForecast | None = None
    heat: HeatForecast | None = None
