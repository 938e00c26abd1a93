"""Work by hand once a sheet is cut: parts off and sorted, heavy ones by crane, skeleton off."""

from __future__ import annotations

from collections.abc import Iterable

from analyzer.process.load import number, table
from analyzer.process.rates import Rates


def part_minutes(weight_kg: float, rates: Rates | None) -> float:
    """Return the minutes to take one part off and sort it. [min]

    Parameters
    ----------
    weight_kg : float
        Of the part. [kg]
    rates : Rates or None
        The shop's, for the minutes of a light part.
    """
    if weight_kg > number("unloading", "crane", "above_kg"):
        return number("unloading", "crane", "min_per_part")
    return light_part_minutes(rates)


def light_part_minutes(rates: Rates | None) -> float:
    """Return the minutes of a part that is taken off by hand. [min]"""
    if rates is not None:
        return rates.price("unloading_min_per_part").value
    return float(table("rates", "unloading_min_per_part")["value"])


def sheet_minutes(weights_kg: Iterable[tuple[float, int]], rates: Rates | None) -> float:
    """Return the minutes by hand of one sheet.

    Parameters
    ----------
    weights_kg : iterable of (float, int)
        Weight of one copy, and how many, by part. [kg]
    rates : Rates or None
        The shop's.

    Examples
    --------
    >>> round(sheet_minutes([(2.0, 40), (30.0, 2)], None), 1)  # 40 x 0.2 + 2 x 2 + 3
    15.0
    """
    parts = sum(count * part_minutes(weight, rates) for weight, count in weights_kg)
    return parts + number("unloading", "skeleton", "min_per_sheet")


def unloading_words(rates: Rates | None) -> str:
    """Say what is reckoned for unloading, and whose numbers they are."""
    crane, skeleton = table("unloading", "crane"), table("unloading", "skeleton")
    told = rates is not None and rates.price("unloading_min_per_part").told
    light = light_part_minutes(rates)
    return (
        f"Unloading by hand: {light:g} min a part ({'your rate' if told else 'our guess'}),"
        f" {crane['min_per_part']:g} above {crane['above_kg']:g} kg, {skeleton['min_per_sheet']:g}"
        f" a sheet for the skeleton ({skeleton['source']})"
    )
