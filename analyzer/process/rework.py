"""Work after cutting: burr, oxide, rounding, handling, in minutes per part.

By hand or by machine as the shop has it (`hand_rates.HandRates`); start values from
`data/rework.toml`: common practice, no source, +-50 %.  Which burr must come off depends on
what follows.  docs/money.md has the formulas.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analyzer.errors import InputError
from analyzer.job import Job
from analyzer.process.hand_rates import START_RATES, HandRates
from analyzer.process.load import number, table
from analyzer.units import by_hand, digits_of, unit_of

_NAMES = {"galvanise": "galvanising", "powder": "powder coating", "weld": "welding"}
_NAMES |= {"paint": "painting", "bend": "bending", "tap": "tapping", "visible": "a visible face"}
_NAMES |= {"none": "no next step"}
_LEAST_SAID = 1.0 / 60.0  # work left undone below this is not worth a word [min]
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
        What is counted, its shares in one unit that add up; then what is not, in short phrases.
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
    """Minutes of one kind of work, of laying on for it, and whether it is done by hand.

    `done` names what is counted, with {} for its time; `words` say what is not.
    """

    minutes: float = 0.0
    laying_on: float = 0.0
    words: tuple[str, ...] = ()
    done: str = ""

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
    turned = any(work.by_hand for work in works)
    laid_on = "laying on and turning {}" if turned and handling > 0.0 else "laying on {}"
    if turned:
        laid_on = laid_on if handling > 0.0 else "picking up and turning {}"
        handling += handling_minutes(weight_kg, rates)
    handling *= rates.handling_factor
    total = burr + oxide + rounding + handling
    done = (*(work.done for work in works), laid_on)
    words = _shares(done, (burr, oxide, rounding, handling))
    words += tuple(word for work in works for word in work.words)
    return Rework(total, burr, oxide, handling, words, rounding)


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
    done = ""
    if removed > 0.0:
        which = f"class {least} and up" if least < 3 else "class 3"
        done = f"burr {which} off {{}}"
    upto = "class 1" if least == 2 else "classes 1 and 2"
    adds = f"burr {upto} left as cut; taking it off would add"
    return _Work(removed, 0.0, _would_add(adds, left * rates.burr_factor), done)


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
    done = f"burr class {worst} off on the belt {{}}"
    return _Work(minutes, rates.rate("belt_part_min"), done=done)


def _pass(size: Body, feed_m_per_min: float, rates: HandRates) -> float:
    """Return the machine time of one part in one pass, parts side by side shared. [min]"""
    return size.length_mm / 1000.0 / feed_m_per_min / rates.rate("parts_abreast")


# --- oxide -------------------------------------------------------------------------------


def _oxide(job: Job, gas: str, outer: float, inner: float, rates: HandRates, size: Body) -> _Work:
    if outer + inner <= 0.0:
        return _Work()
    if job.material == "mild-steel":
        return _mild_steel_oxide(job, gas, _off(job, outer, inner, rates, size), rates)
    if job.material == "stainless" and gas != "nitrogen":
        return _stainless_oxide(job, (outer + inner) * rates.rate("pickle_min_per_m"), rates)
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


def _mild_steel_oxide(job: Job, gas: str, off: _Work, rates: HandRates) -> _Work:
    step, row = job.next_step or "not told", table("rework", "oxide")
    told = off.minutes * rates.oxide_factor

    if gas == "oxygen":
        if step in row["off_before"]:
            return replace(off, done=f"oxide off before {_NAMES[step]} {{}}")
        if step in ("not told", "none"):
            return _Work(words=_would_add("if painted, coated or welded, its oxide off adds", told))
        return _Work(words=("loose oxide stays on the edge",))
    if gas == "mixed":
        return _Work(words=_mixed_words(job.next_step))
    if gas == "air":
        if step in row["air_off_before"]:
            return replace(off, done=f"air-cut edge cleaned before {_NAMES[step]} {{}}")
        if step in ("powder", "paint", "galvanise"):
            return _Work(words=(f"air-cut edge: test it before {_NAMES[step]}",))
        if step == "not told":
            return _Work(words=_would_add("if welded, cleaning the air-cut edge adds", told))
    return _Work()


def _mixed_words(step: str | None) -> tuple[str, ...]:
    """Trade fact (common practice, no source): the thin dark oxide of mixed gas may stay."""
    if step in ("powder", "paint"):
        return ("thin oxide stays on: confirm with the coater",)
    if step == "galvanise":
        return ("thin oxide stays on: confirm with the galvaniser",)
    return ()


def _stainless_oxide(job: Job, minutes: float, rates: HandRates) -> _Work:
    if job.next_step in table("rework", "pickle")["off_before"]:
        return _Work(minutes, done="oxidised edge pickled or brushed {} and the wait")
    if job.next_step in (None, "none"):
        adds = "if the edge is visible, pickling or brushing adds"
        return _Work(words=_would_add(adds, minutes * rates.oxide_factor))
    return _Work(words=("the edge is oxidised",))


# --- rounding ----------------------------------------------------------------------------


def _rounding(job: Job, outer: float, inner: float, rates: HandRates, size: Body) -> _Work:
    """Round both edges of every cut to R 2, where the shop does so before this step."""
    step = job.next_step or ""
    if step not in rates.round_edges_before or outer + inner <= 0.0:
        return _Work()
    lines = number("rework", "rounding", "edge_lines")
    done = f"edges rounded R 2 before {_NAMES.get(step, step)} {{}}"
    if rates.rounding == "machine":
        minutes = lines * _pass(size, rates.rate("rounding_m_per_min"), rates)
        return _Work(minutes, rates.rate("belt_part_min"), done=done)
    minutes = lines * (outer + inner) * rates.rate("rounding_min_per_m")
    return _Work(minutes, done=done)


# --- words -------------------------------------------------------------------------------


def _would_add(words: str, minutes: float) -> tuple[str, ...]:
    """Say what work that is not done would add; nothing below a second."""
    return (f"{words} {by_hand(60.0 * minutes)}",) if minutes >= _LEAST_SAID else ()


def _shares(done: Sequence[str], minutes: Sequence[float]) -> tuple[str, ...]:
    """Name the shares of the work in the unit of their sum, rounded so that they add up."""
    unit, scale = unit_of(60.0 * sum(minutes))
    if unit == "h":  # nothing would be left of the shorter shares
        unit, scale = "min", 60.0
    values = [60.0 * share / scale for share in minutes]
    digits = digits_of(sum(values)) if unit == "min" else 0
    shown = [round(value, digits) for value in values]
    over = round(sum(values), digits) - sum(shown)
    longest = max(range(len(values)), key=lambda n: values[n])
    shown[longest] += over
    said = [
        words.format(f"{value:.{digits}f} {unit}")
        for words, value in zip(done, shown, strict=True)
        if words and round(value, digits) > 0.0
    ]
    return (", ".join(said),) if said else ()
