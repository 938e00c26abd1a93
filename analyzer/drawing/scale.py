"""The unit of a drawing: what was asked for, else its header, else what its sizes say.

Evidence is a score in log-odds, kept small and explainable: how usual the size is for a
sheet-metal part, whether the round holes are ones that drills and screws have, what the
texts say, and a bonus for the unit the header names.  A header is contradicted only by
evidence that outweighs the bonus, and neither that nor a guess is ever silent.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.drawing.dimensions import UNIT_FACTORS
from analyzer.drawing.drawing import Fact, UnitsFound
from analyzer.errors import InputError
from analyzer.geometry.contours import Contours, Floats
from analyzer.units import INSUNITS, LENGTH_UNITS, MM_PER_INCH

LARGEST_PART_MM, SMALLEST_PART_MM = 6000.0, 5.0

# Clearance holes ISO 273:1979 (fine, medium, coarse) and tap drills ISO 2306:1972 for
# coarse threads, M2 to M24. [mm]
_CLEARANCE = (
    2.2, 2.4, 2.6, 2.7, 2.9, 3.1, 3.2, 3.4, 3.6, 3.7, 3.9, 4.2, 4.3, 4.5, 4.8, 5.3, 5.5, 5.8,
    6.4, 6.6, 7.0, 7.4, 7.6, 8.0, 8.4, 9.0, 10.0, 10.5, 11.0, 12.0, 13.0, 13.5, 14.5, 15.0,
    15.5, 16.5, 17.0, 17.5, 18.5, 19.0, 20.0, 21.0, 22.0, 24.0, 23.0, 26.0, 25.0, 28.0,
)  # fmt: skip
_TAP_DRILLS = (
    1.6, 2.05, 2.5, 2.9, 3.3, 4.2, 5.0, 6.0, 6.8, 8.5, 10.2, 12.0, 14.0, 15.5, 17.5, 19.5, 21.0,
)  # fmt: skip
USUAL_HOLES = np.array(sorted({*_CLEARANCE, *_TAP_DRILLS}))

# Log-odds, our own judgement: common practice, no source.
_PRIOR = {"mm": 2.5, "in": 0.5, "cm": -0.5, "m": -1.5}
_HEADER_BONUS = 5.0
_TEXT_BONUS = 2.0
_HOLE_WEIGHT = 2.0
_INCH_BONUS, _TEN_BONUS = 8.0, 3.0  # 25.4 is no scale, 10 may be one
_USUAL_SIZE_MM, _SPREAD = 250.0, 1.1


@dataclass(frozen=True)
class Evidence:
    """What speaks for a unit.

    Attributes
    ----------
    width, height : float
        Of what would be cut. [drawing units]
    holes : ndarray, shape (n,)
        Diameters of the round cut-outs, each size once. [drawing units]
    texts : sequence of str
        Words in the drawing.
    insunits : int or None
        Header code $INSUNITS, None where there is none.
    metric : bool or None
        Header flag $MEASUREMENT, None where there is none.
    times : float
        What the texts of dimensions say over what they measure.
    """

    width: float
    height: float
    holes: Floats
    texts: Sequence[str]
    insunits: int | None
    metric: bool | None
    times: float = 1.0

    @property
    def by_dimensions(self) -> str | None:
        """The unit the dimensions speak of, None where they say nothing."""
        return UNIT_FACTORS.get(self.times)


def check_unit(asked: str | None) -> str | None:
    """Return the name of the unit asked for.

    Raises
    ------
    InputError
        If it is not known.
    """
    if asked is None:
        return None
    name = asked.strip().lower()
    if name not in LENGTH_UNITS:
        raise InputError(
            f"unit {asked!r} is not known", hint="use one of " + ", ".join(LENGTH_UNITS)
        )
    return "in" if name in ("inch", '"') else name


def find_units(asked: str | None, evidence: Evidence) -> tuple[UnitsFound, list[Fact]]:
    """Return the unit of a drawing, and a fact wherever it is not certain.

    Raises
    ------
    InputError
        If the unit asked for is not known.
    """
    if asked is not None:
        name = check_unit(asked) or "mm"
        return UnitsFound(name, "option", LENGTH_UNITS[name]), []
    told = INSUNITS.get(evidence.insunits or 0)
    if evidence.width <= 0.0 and evidence.height <= 0.0:
        if told:
            return UnitsFound(told, "header", LENGTH_UNITS[told]), []
        words = "the drawing names no unit and holds nothing to tell it by; taken as mm"
        return UnitsFound("mm", "evidence", 1.0), [Fact("unit-guessed", words)]
    scores = {name: score(name, evidence, told) for name in {*_PRIOR, *([told] if told else [])}}
    ranked = sorted(scores, key=lambda name: (-scores[name], name))
    best = ranked[0]
    if best == told:
        return UnitsFound(best, "header", LENGTH_UNITS[best]), _dimensions_doubt(best, evidence)
    other = told or ranked[1]
    found = UnitsFound(best, "evidence", LENGTH_UNITS[best])
    return found, [_doubt(best, other, told, evidence), *_dimensions_doubt(best, evidence)]


def odd_size(units: UnitsFound, contours: Contours) -> list[Fact]:
    """Return the fact that a unit the header names makes the largest contour an odd size.

    A part larger than 6 m fits no sheet, one smaller than 5 mm falls through the slats.
    """
    if units.source != "header" or not len(contours):
        return []
    sizes = contours.box[:, 2:] - contours.box[:, :2]
    largest = sizes[int(np.argmax(sizes.max(axis=1)))]
    longest = float(largest.max())
    if SMALLEST_PART_MM <= longest <= LARGEST_PART_MM:
        return []

    def size(factor: float) -> str:
        return f"{largest[0] * factor:,.1f} x {largest[1] * factor:,.1f} mm"

    names = [name for name in _PRIOR if name != units.name]
    other = min(names, key=lambda n: abs(math.log(longest * LENGTH_UNITS[n] / units.factor / 250)))
    text = (
        f"the header says {units.name}, which makes the largest contour {size(1.0)}, an odd size;"
        f" as {other} it is {size(LENGTH_UNITS[other] / units.factor)}"
    )
    return [Fact("unit-guessed", text)]


def score(name: str, evidence: Evidence, told: str | None) -> float:
    """Return how much speaks for a unit, in log-odds."""
    factor = LENGTH_UNITS[name]
    size = max(evidence.width, evidence.height) * factor
    total = _PRIOR.get(name, -3.0)
    total -= math.log(size / _USUAL_SIZE_MM) ** 2 / (2.0 * _SPREAD**2)
    total += _HOLE_WEIGHT * hole_score(evidence.holes * factor)
    if told == name:
        total += _HEADER_BONUS
    if evidence.by_dimensions == name:
        inch = abs(abs(math.log(evidence.times)) - math.log(MM_PER_INCH)) < 1e-3
        total += _INCH_BONUS if inch else _TEN_BONUS
    words = " ".join(evidence.texts).casefold()
    if name == "mm" and re.search(r"\d ?mm\b|\bmm\b", words):
        total += _TEXT_BONUS
    if name == "in" and re.search(r"\d ?(\"|inch)|\binch", words):
        total += _TEXT_BONUS
    if evidence.metric is not None and name in ("mm", "in"):
        total += 0.3 if evidence.metric == (name == "mm") else 0.0
    return total


def hole_score(diameters: Floats) -> float:
    """Return between -1 and 1 how usual the sizes of round holes are.

    One of ISO 273 or ISO 2306 counts 1, or a multiple of 1/64 in up to half an inch 0.5;
    a size no laser cuts in a part (below 0.5 mm, above 150 mm) counts -1.
    """
    if not len(diameters):
        return 0.0
    right = np.clip(np.searchsorted(USUAL_HOLES, diameters), 1, len(USUAL_HOLES) - 1)
    away = np.minimum(
        np.abs(diameters - USUAL_HOLES[right]), np.abs(diameters - USUAL_HOLES[right - 1])
    )
    step = diameters / MM_PER_INCH * 64.0
    fraction = (np.abs(step - np.round(step)) < 0.02) & (step < 32.5) & (step > 2.5)
    value = np.where(fraction, 0.5, 0.0)
    value = np.where(away <= 0.02, 1.0, value)
    value = np.where((diameters < 0.5) | (diameters > 150.0), -1.0, value)
    return float(value.mean())


def _doubt(best: str, other: str, told: str | None, evidence: Evidence) -> Fact:
    """Return the fact that tells a unit that was not read, with both sizes."""

    def size(name: str) -> str:
        return _size(name, evidence)

    if told:
        why = "its dimensions" if evidence.by_dimensions == best else "sizes and holes"
        text = (
            f"the header says {told}, which makes {size(told)} and does not fit {why};"
            f" taken as {best}: {size(best)}"
        )
    else:
        text = (
            f"the drawing names no unit; taken as {best}: {size(best)};"
            f" as {other} it is {size(other)}"
        )
    return Fact("unit-guessed", text)


def _dimensions_doubt(best: str, evidence: Evidence) -> list[Fact]:
    """Return the fact that dimensions speak of another unit than the drawing was read in."""
    other = evidence.by_dimensions
    if other is None or other == best:
        return []
    text = (
        f"dimensions say {evidence.times:.4g} times what is drawn, as if it were in {other}: "
        f"{_size(other, evidence)}; taken as {best}: {_size(best, evidence)}"
    )
    return [Fact("unit-guessed", text)]


def _size(name: str, evidence: Evidence) -> str:
    factor = LENGTH_UNITS[name]
    return f"{evidence.width * factor:,.1f} x {evidence.height * factor:,.1f} mm"
