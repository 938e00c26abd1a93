"""Hand work after cutting: burr, oxide, handling, in minutes per part.

Rates by hand with an angle grinder and a brush, from `data/rework.toml`; common practice,
no source, +-50 %.  Which burr must come off depends on what follows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.process.load import number, table

_NAMES = {"galvanise": "galvanising", "powder": "powder coating", "weld": "welding"}
_NAMES |= {"paint": "painting", "bend": "bending", "tap": "tapping", "visible": "a visible face"}


@dataclass(frozen=True)
class Rework:
    """Hand work on one part.

    Attributes
    ----------
    minutes : float
        Sum of the three below. [min]
    burr_min, oxide_min, handling_min : float
        Burr off; oxide off, or the edge pickled; picking up and turning. [min]
    words : tuple of str
        What is and is not counted, in short phrases.
    """

    minutes: float
    burr_min: float
    oxide_min: float
    handling_min: float
    words: tuple[str, ...]


def rework_minutes(
    job: Job,
    gas: str,
    metres_outer: Sequence[float],
    metres_inner: Sequence[float],
    weight_kg: float,
) -> Rework:
    """Return the hand work one part needs before its next step.

    Parameters
    ----------
    job : Job
        Material, thickness and next step are used.
    gas : str
        Canonical name.
    metres_outer, metres_inner : sequence of float, length 4
        Edge of outlines and of cut-outs by burr class 0..3. [m]
    weight_kg : float
        Weight of the part. [kg]

    Raises
    ------
    InputError
        If the next step is not known.
    """
    burr, burr_words = _burr(job, metres_outer, metres_inner)
    outer, inner = float(sum(metres_outer)), float(sum(metres_inner))
    oxide, oxide_words = _oxide(job, gas, outer, inner)
    handling = handling_minutes(weight_kg) if burr > 0.0 or oxide > 0.0 else 0.0
    return Rework(burr + oxide + handling, burr, oxide, handling, burr_words + oxide_words)


def handling_minutes(weight_kg: float) -> float:
    """Return the time to pick up, turn and put down one part. [min]"""
    heavy = weight_kg > number("rework", "handling", "heavy_above_kg")
    return number("rework", "handling", "heavy_min" if heavy else "light_min")


def least_class_off(next_step: str | None) -> int:
    """Return the least burr class that must come off before `next_step`.

    Raises
    ------
    InputError
        If the next step is not known; the message lists the valid ones.
    """
    classes = table("rework", "burr", "from")
    name = next_step or "not-told"
    if name not in classes:
        steps = ", ".join(k for k in classes if k != "not-told")
        raise InputError(f"next step {name!r} is not known", hint=f"use one of {steps}")
    return int(classes[name])


def _burr(
    job: Job, outer: Sequence[float], inner: Sequence[float]
) -> tuple[float, tuple[str, ...]]:
    rates = table("rework", "burr")["minutes_per_m"]
    twice = number("rework", "burr", "cut_outs")
    metres = [float(o) + twice * float(i) for o, i in zip(outer, inner, strict=True)]
    times = [rate * m for rate, m in zip(rates, metres, strict=True)]
    least = least_class_off(job.next_step)
    removed, left = sum(times[least:]), sum(times[1:least])
    words = []
    if removed > 0.0:
        which = f"class {least} and up" if least < 3 else "class 3"
        words.append(f"burr {which} off, {removed:.2g} min")
    if left > 0.0:
        upto = "class 1" if least == 2 else "classes 1 and 2"
        words.append(f"burr {upto} left as cut; taking it off would add {left:.2g} min")
    return removed, tuple(words)


def _oxide(job: Job, gas: str, outer: float, inner: float) -> tuple[float, tuple[str, ...]]:
    if outer + inner <= 0.0:
        return 0.0, ()
    if job.material == "mild-steel":
        return _mild_steel_oxide(job, gas, outer, inner)
    if job.material == "stainless" and gas != "nitrogen":
        return _stainless_oxide(job, outer + inner)
    return 0.0, ()


def brush_minutes(thickness_mm: float, outer_m: float, inner_m: float) -> float:
    """Return the time to brush loose oxide off by hand; cut-outs take longer. [min]"""
    row = table("rework", "oxide")
    thick = thickness_mm > row["thick_above_mm"]
    rate = row["m_per_min_thick" if thick else "m_per_min_thin"]
    return float((outer_m + row["cut_outs"] * inner_m) / rate)


def _mild_steel_oxide(
    job: Job, gas: str, outer: float, inner: float
) -> tuple[float, tuple[str, ...]]:
    step, row = job.next_step or "not told", table("rework", "oxide")
    minutes = brush_minutes(job.thickness_mm, outer, inner)
    if gas == "oxygen":
        if step in row["off_before"]:
            return minutes, (f"oxide off before {_NAMES[step]}, {minutes:.2g} min",)
        if step in ("not told", "none"):
            said = f"if painted, coated or welded, its oxide off adds {minutes:.2g} min"
            return 0.0, (said,)
        return 0.0, ("loose oxide stays on the edge",)
    if gas == "mixed":
        return 0.0, _mixed_words(job.next_step)
    if gas == "air":
        if step in row["air_off_before"]:
            return minutes, (f"air-cut edge cleaned before {_NAMES[step]}, {minutes:.2g} min",)
        if step in ("powder", "paint", "galvanise"):
            return 0.0, (f"air-cut edge: test it before {_NAMES[step]}",)
        if step == "not told":
            return 0.0, (f"if welded, cleaning the air-cut edge adds {minutes:.2g} min",)
    return 0.0, ()


def _mixed_words(step: str | None) -> tuple[str, ...]:
    """Trade fact (common practice, no source): the thin dark oxide of mixed gas may stay."""
    if step in ("powder", "paint"):
        return ("thin oxide stays on: confirm with the coater",)
    if step == "galvanise":
        return ("thin oxide stays on: confirm with the galvaniser",)
    return ()


def _stainless_oxide(job: Job, metres: float) -> tuple[float, tuple[str, ...]]:
    minutes = number("rework", "pickle", "minutes_per_m") * metres
    if job.next_step in table("rework", "pickle")["off_before"]:
        return minutes, (f"oxidised edge pickled or brushed, {minutes:.2g} min and the wait",)
    if job.next_step in (None, "none"):
        return 0.0, (f"if the edge is visible, pickling or brushing adds {minutes:.2g} min",)
    return 0.0, ("the edge is oxidised",)
