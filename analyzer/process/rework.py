"""Work after cutting: burr, oxide, rounding, handling, in minutes per part.

By hand or by machine as the shop has it (`hand_rates.HandRates`); start values from
`data/rework.toml`: common practice, no source, +-50 %.  Which burr must come off depends on
what follows.  docs/money.md has the formulas.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.process.hand_rates import START_RATES, HandRates
from analyzer.process.load import number, table

_NAMES = {"galvanise": "galvanising", "powder": "powder coating", "weld": "welding"}
_NAMES |= {"paint": "painting", "bend": "bending", "tap": "tapping", "visible": "a visible face"}
_NAMES |= {"none": "no next step"}
_START_OF_CUT = 0.01  # share of the edge that does not choose the feed of a machine [-]


@dataclass(frozen=True)
class Rework:
    """Work on one part after cutting.

    Attributes
    ----------
    minutes : float
        Sum of the four below. [min]
    burr_min, oxide_min, handling_min : float
        Burr off; oxide off, or the edge pickled; picking up and turning, or laying on. [min]
    words : tuple of str
        What is and is not counted, in short phrases.
    rounding_min : float
        Edges rounded. [min]
    """

    minutes: float
    burr_min: float
    oxide_min: float
    handling_min: float
    words: tuple[str, ...]
    rounding_min: float = 0.0


@dataclass(frozen=True)
class Body:
    """What a machine needs to know of a part: its longer side [mm] and one face [mm^2]."""

    length_mm: float = 0.0
    area_mm2: float = 0.0


@dataclass(frozen=True)
class StepReason:
    """What a next step asks of the edge, the standard that says so, and how sure that is."""

    reason: str
    standard: str
    mark: str


@dataclass(frozen=True)
class _Work:
    """Minutes of one kind of work, of laying on for it, and whether it is done by hand."""

    minutes: float = 0.0
    laying_on: float = 0.0
    words: tuple[str, ...] = ()

    @property
    def by_hand(self) -> bool:
        return self.minutes > 0.0 and self.laying_on == 0.0


def rework_minutes(
    job: Job,
    gas: str,
    metres_outer: Sequence[float],
    metres_inner: Sequence[float],
    weight_kg: float,
    *,
    rates: HandRates = START_RATES,
    body: Body | None = None,
) -> Rework:
    """Return the work one part needs before its next step.

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
    rates : HandRates
        Tools and rates of the shop.
    body : Body, optional
        Size of the part, for work by machine.

    Raises
    ------
    InputError
        If the next step is not known.
    """
    size = body or Body()
    outer, inner = float(sum(metres_outer)), float(sum(metres_inner))
    works = (
        _burr(job, metres_outer, metres_inner, rates, size),
        _oxide(job, gas, outer, inner, rates, size),
        _rounding(job, outer, inner, rates, size),
    )
    burr, oxide, rounding = (work.minutes for work in works)
    burr, oxide = burr * rates.burr_factor, oxide * rates.oxide_factor
    handling = sum(work.laying_on for work in works)
    if any(work.by_hand for work in works):
        handling += handling_minutes(weight_kg, rates)
    handling *= rates.handling_factor
    words = tuple(word for work in works for word in work.words)
    return Rework(burr + oxide + rounding + handling, burr, oxide, handling, words, rounding)


def handling_minutes(weight_kg: float, rates: HandRates = START_RATES) -> float:
    """Return the time to pick up, turn and put down one part. [min]"""
    heavy = weight_kg > rates.rate("heavy_above_kg")
    return rates.rate("heavy_part_min" if heavy else "light_part_min")


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


def step_reason(next_step: str) -> StepReason:
    """Return why a next step asks for hand work, with the standard where there is one."""
    row = table("rework", "step", next_step)
    return StepReason(row["reason"], row["standard"], row["mark"])


# --- burr --------------------------------------------------------------------------------


def _burr(
    job: Job, outer: Sequence[float], inner: Sequence[float], rates: HandRates, size: Body
) -> _Work:
    least = least_class_off(job.next_step)
    if rates.burr == "belt":
        return _belt(outer, inner, least, rates, size)
    twice = rates.rate("cut_outs_factor")
    metres = [float(o) + twice * float(i) for o, i in zip(outer, inner, strict=True)]
    times = [rate * m for rate, m in zip(rates.minutes_per_m(), metres, strict=True)]
    removed, left = sum(times[least:]), sum(times[1:least])
    words = []
    if removed > 0.0:
        which = f"class {least} and up" if least < 3 else "class 3"
        words.append(f"burr {which} off, {_shown(removed)}")
    if left > 0.0:
        upto = "class 1" if least == 2 else "classes 1 and 2"
        words.append(f"burr {upto} left as cut; taking it off would add {_shown(left)}")
    return _Work(removed, 0.0, tuple(words))


def _belt(
    outer: Sequence[float], inner: Sequence[float], least: int, rates: HandRates, size: Body
) -> _Work:
    """One pass on the belt at the feed of the worst class that must come off."""
    metres = [float(o) + float(i) for o, i in zip(outer, inner, strict=True)]
    worst = max((n for n in (1, 2, 3) if metres[n] > _START_OF_CUT * sum(metres)), default=0)
    if worst < max(least, 1):
        left = (f"burr class {worst} left as cut",) if worst else ()
        return _Work(words=left)
    minutes = _pass(size, rates.rate(f"belt_class_{worst}_m_per_min"), rates)
    words = (f"burr class {worst} off on the belt, {_shown(minutes)}",)
    return _Work(minutes, rates.rate("belt_part_min"), words)


def _pass(size: Body, feed_m_per_min: float, rates: HandRates) -> float:
    """Return the machine time of one part in one pass, parts side by side shared. [min]"""
    return size.length_mm / 1000.0 / feed_m_per_min / rates.rate("parts_abreast")


# --- oxide -------------------------------------------------------------------------------


def _oxide(job: Job, gas: str, outer: float, inner: float, rates: HandRates, size: Body) -> _Work:
    if outer + inner <= 0.0:
        return _Work()
    if job.material == "mild-steel":
        return _mild_steel_oxide(job, gas, _off(job, outer, inner, rates, size))
    if job.material == "stainless" and gas != "nitrogen":
        return _stainless_oxide(job, (outer + inner) * rates.rate("pickle_min_per_m"))
    return _Work()


def _off(job: Job, outer: float, inner: float, rates: HandRates, size: Body) -> _Work:
    """Return the work of taking loose oxide off, by hand or machine."""
    if rates.oxide == "machine":
        thick = job.thickness_mm >= number("rework", "oxide", "passes_above_mm")
        start = number("rework", "oxide", "thick_passes") if thick else 1.0
        passes = dict(rates.told).get("brush_passes", start)
        minutes = passes * _pass(size, rates.rate("brush_m_per_min"), rates)
        return _Work(minutes, rates.rate("belt_part_min"))
    if rates.oxide == "blast":
        faces_m2 = 2.0 * size.area_mm2 * 1e-6 + (outer + inner) * job.thickness_mm * 1e-3
        return _Work(60.0 * faces_m2 / rates.rate("blast_m2_per_h"))
    return _Work(brush_minutes(job.thickness_mm, outer, inner, rates))


def brush_minutes(
    thickness_mm: float, outer_m: float, inner_m: float, rates: HandRates = START_RATES
) -> float:
    """Return the time to brush loose oxide off by hand; cut-outs take longer. [min]"""
    row = table("rework", "oxide")
    thick = thickness_mm > row["thick_above_mm"]
    rate = row["m_per_min_thick" if thick else "m_per_min_thin"]
    rate = dict(rates.told).get("oxide_m_per_min", rate)
    return float((outer_m + rates.rate("cut_outs_factor") * inner_m) / rate)


def _mild_steel_oxide(job: Job, gas: str, off: _Work) -> _Work:
    step, row, time = job.next_step or "not told", table("rework", "oxide"), _shown(off.minutes)

    def counted(words: str) -> _Work:
        return _Work(off.minutes, off.laying_on, (words,))

    if gas == "oxygen":
        if step in row["off_before"]:
            return counted(f"oxide off before {_NAMES[step]}, {time}")
        if step in ("not told", "none"):
            return _Work(words=(f"if painted, coated or welded, its oxide off adds {time}",))
        return _Work(words=("loose oxide stays on the edge",))
    if gas == "mixed":
        return _Work(words=_mixed_words(job.next_step))
    if gas == "air":
        if step in row["air_off_before"]:
            return counted(f"air-cut edge cleaned before {_NAMES[step]}, {time}")
        if step in ("powder", "paint", "galvanise"):
            return _Work(words=(f"air-cut edge: test it before {_NAMES[step]}",))
        if step == "not told":
            return _Work(words=(f"if welded, cleaning the air-cut edge adds {time}",))
    return _Work()


def _mixed_words(step: str | None) -> tuple[str, ...]:
    """Trade fact (common practice, no source): the thin dark oxide of mixed gas may stay."""
    if step in ("powder", "paint"):
        return ("thin oxide stays on: confirm with the coater",)
    if step == "galvanise":
        return ("thin oxide stays on: confirm with the galvaniser",)
    return ()


def _stainless_oxide(job: Job, minutes: float) -> _Work:
    time = _shown(minutes)
    if job.next_step in table("rework", "pickle")["off_before"]:
        return _Work(minutes, 0.0, (f"oxidised edge pickled or brushed, {time} and the wait",))
    if job.next_step in (None, "none"):
        return _Work(words=(f"if the edge is visible, pickling or brushing adds {time}",))
    return _Work(words=("the edge is oxidised",))


# --- rounding ----------------------------------------------------------------------------


def _rounding(job: Job, outer: float, inner: float, rates: HandRates, size: Body) -> _Work:
    """Round both edges of every cut to R 2, where the shop does so before this step."""
    step = job.next_step or ""
    if step not in rates.round_edges_before or outer + inner <= 0.0:
        return _Work()
    lines = number("rework", "rounding", "edge_lines")
    words = f"edges rounded R 2 before {_NAMES.get(step, step)}"
    if rates.rounding == "machine":
        minutes = lines * _pass(size, rates.rate("rounding_m_per_min"), rates)
        return _Work(minutes, rates.rate("belt_part_min"), (f"{words}, {_shown(minutes)}",))
    minutes = lines * (outer + inner) * rates.rate("rounding_min_per_m")
    return _Work(minutes, 0.0, (f"{words}, {_shown(minutes)}",))


def _shown(minutes: float) -> str:
    if minutes >= 120.0:
        return f"{minutes / 60.0:.2g} h"
    return f"{minutes:.0f} min" if minutes >= 10.0 else f"{minutes:.2g} min"
