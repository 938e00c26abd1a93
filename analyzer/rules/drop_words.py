"""Words of the rules about parts and slugs on the slats."""

from __future__ import annotations

from analyzer.effects.drop import DropForecast
from analyzer.effects.evidence import Evidence
from analyzer.rules.rule import Place
from analyzer.rules.wording import size, wide_and_long

SPOKEN = (
    (0.1, "1 in 10"), (0.2, "1 in 5"), (0.25, "1 in 4"), (1 / 3, "1 in 3"), (0.5, "1 in 2"),
    (2 / 3, "2 in 3"), (0.75, "3 in 4"), (0.9, "9 in 10"),
)  # fmt: skip


def chance(value: float) -> str:
    """Return a chance as spoken.

    Examples
    --------
    >>> chance(0.5007), chance(0.295), chance(0.02), chance(0.999)
    ('1 in 2', '1 in 3', 'seldom', 'always')
    """
    if value < 0.06:
        return "seldom"
    if value > 0.95:
        return "always"
    return min(SPOKEN, key=lambda pair: abs(pair[0] - value))[1]


def measures(drop: DropForecast) -> str:
    """Return least width of a part, and its length that way. [mm]"""
    return wide_and_long(drop.width, drop.height)


def standoff(drop: DropForecast) -> str:
    """Return how high the head runs."""
    return f"{size(drop.machine.standoff_mm)} above the sheet"


def place_of(one: Evidence) -> tuple[Place]:
    """Return where a part is marked: the centroid of its outline."""
    x, y = one.part.contours.centroid[0].tolist()
    return ((x, y),)
