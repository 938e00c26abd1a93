"""The gases side by side: which one to cut with, why, and what would change it.

The rules are those of `docs/advice.md`: among the gases that lose nothing of their own, least
money where the shop has rates, else least machine and hand minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from analyzer.analysis import Analysis, GasResult, analyse, rework_of
from analyzer.choosing import LOST_WHOLE, SPEED_ALONE, Pick, choose
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.flips import BreakEven, break_evens, nearest
from analyzer.job import Job
from analyzer.money import cost_of
from analyzer.reasons import (
    Key,
    against,
    by_the_edge,
    changes,
    cleaner,
    listed,
    losses,
    losses_in_every_gas,
    spoken,
)
from analyzer.shop import Shop, load_shop
from analyzer.spread import Band, difference, worth
from analyzer.units import by_hand

# Steps tried to say what "not told" hides, by material, the likeliest first.
STEPS = {
    "mild-steel": ("powder", "weld", "galvanise", "visible"),
    "stainless": ("visible", "weld"),
    "aluminium": ("visible", "powder", "weld"),
}
STEP_WORDS = {"powder": "painted or powder coated", "weld": "welded", "galvanise": "galvanised",
              "visible": "left visible"}  # fmt: skip


@dataclass(frozen=True)
class Choice:
    """A gas with the one reason that decides it; gas None where none can be advised."""

    gas: str | None
    reason: str


@dataclass(frozen=True)
class Advice:
    """Which gas to cut with.

    Attributes
    ----------
    gas : str or None
        None where there is nothing to advise.
    reason : str
        The one reason that decides it.
    without_mixer : Choice
        The same without mixed gas; the same gas where that is not mixed.
    in_every_gas : tuple of str
        Rules whose `loss` is the same in every gas and so decides nothing.
    without_air : Choice or None
        The same without mixed gas and air, where air is advised or comes after mixed gas; None
        where nothing else is there.
    runner_up : str or None
        Next best gas of those that were compared.
    what_if : str
        What a gas the shop does not list would save; empty where nothing.
    if_mended : str
        The gas that would win once its own losses are mended in the drawing; empty where none.
    flip : str
        The one change nearest to turning the advice; empty where none is near.
    next_step : str
        What the next step would change where it was not told; empty where nothing.
    proven : bool
        False where the difference to the runner-up is smaller than what we know, and the
        reason does not say so itself.
    more : Band or None
        What the runner-up costs more, with its own band: money where the shop has rates,
        else minutes.
    break_evens : tuple of BreakEven
        Every input that could turn the advice, the nearest first.
    otherwise : str
        What changes with the runner-up: time, hand work, burr, oxide.
    edge : str
        Which gas to take where the edge matters; empty where the difference is proven, or with no
        next step where no other gas of the shop leaves less burr on.
    """

    gas: str | None
    reason: str
    without_mixer: Choice
    in_every_gas: tuple[str, ...]
    without_air: Choice | None = None
    runner_up: str | None = None
    what_if: str = ""
    if_mended: str = ""
    flip: str = ""
    next_step: str = ""
    proven: bool = True
    more: Band | None = None
    break_evens: tuple[BreakEven, ...] = ()
    otherwise: str = ""
    edge: str = ""


@dataclass(frozen=True, eq=False)
class Answer:
    """What `check` gives: the analysis of one drawing and the advice."""

    analysis: Analysis
    advice: Advice


def check(
    path: Path | str, job: Job, shop: Shop | None = None, options: ReadOptions | None = None
) -> Answer:
    """Read one drawing, look at it under every gas, and advise.

    Parameters
    ----------
    path : Path or str
        The DXF file.
    job : Job
        Material, thickness, power and what is known of plate and next step.
    shop : Shop, optional
        Machine, gases, own tables and limits; the start values where not given.
    options : ReadOptions, optional
        Units, layer roles, tolerances and limits on input.

    Raises
    ------
    InputError
        If the drawing cannot be read or the job is not possible.
    """
    chosen = options or ReadOptions()
    in_force = shop or load_shop(None, None)
    drawing = read_drawing(Path(path), chosen)
    analysis = analyse(drawing, job, in_force, chosen.tolerances)
    return Answer(analysis, advise(analysis))


def advise(analysis: Analysis) -> Advice:
    """Return which gas to cut with, and why."""
    everywhere = losses_in_every_gas(analysis.gases)
    common = tuple(sorted({rule for rule, _, _ in everywhere}))
    nothing = _nothing_to_advise(analysis)
    if nothing:
        return Advice(None, nothing, Choice(None, nothing), common)
    ours = _of_the_shop(analysis)
    currency = _currency(analysis)
    best = choose(ours, everywhere, currency)
    alone = len(ours) == 1 < len(analysis.gases)
    without_mixer = _without(ours, "mixed", everywhere, currency)
    without_mixer = without_mixer or Choice(None, "only mixed gas was looked at")
    with_air = "air" in (best.result.gas, without_mixer.gas)
    rival = best.rival
    more = difference(best.result, rival, analysis.shop) if rival else None
    proven = more is None or not more.spans_zero
    turns = break_evens(best.result, rival, analysis.shop.rates) if rival else ()
    return Advice(
        gas=best.result.gas,
        reason="the shop file lists no other gas that cuts this" if alone else best.reason,
        without_mixer=without_mixer,
        in_every_gas=common,
        without_air=_without(ours, "air", everywhere, currency) if with_air else None,
        runner_up=rival.gas if rival else None,
        what_if=_what_if(analysis, best.result, everywhere),
        if_mended=_if_mended(ours, best.result, everywhere, currency),
        flip=nearest(turns) if proven else "",
        next_step=_if_told(analysis, best.result),
        proven=proven or best.told,
        more=more,
        break_evens=turns,
        otherwise=changes(best.result, rival) if rival else "",
        edge=_edge(analysis, best, ours, everywhere, proven=proven or best.told),
    )


def _edge(
    analysis: Analysis, best: Pick, ours: list[GasResult], everywhere: set[Key], *, proven: bool
) -> str:
    """Say which gas to take where the edge matters, and why that does not decide."""
    clean = None
    if analysis.job.next_step == "none":  # what stays on is not in the minutes
        clean = cleaner(best.result, (
            r for r in ours
            if r.setting.within_power and not losses(r.findings) - everywhere
        ))  # fmt: skip
    rival = best.rival
    if not proven and rival and clean in (None, rival):
        edge = by_the_edge(best.result, rival)
        return f"no difference to {spoken(rival.gas)} we can prove{edge}"
    if clean is None:
        return ""
    left = "with no next step burr for brush or belt stays on"
    return f"{left}{by_the_edge(best.result, clean)}"


def _currency(analysis: Analysis) -> str:
    return analysis.shop.rates.currency if analysis.shop.rates else ""


def _without(ours: list[GasResult], gas: str, everywhere: set[Key], currency: str) -> Choice | None:
    """Return the choice without one gas; without air, mixed gas is none either."""
    out = {gas} if gas == "mixed" else {gas, "mixed"}
    rest = [result for result in ours if result.gas not in out]
    if not rest:
        return None
    pick = choose(rest, everywhere, currency)
    if len(rest) == 1:
        return Choice(pick.result.gas, "it is the only other gas here")
    return Choice(pick.result.gas, pick.reason)


def _nothing_to_advise(analysis: Analysis) -> str:
    """Reason why no gas can be advised; empty where one can."""
    if not analysis.parts.parts:
        return "the drawing has no closed contour that is a part, so there is nothing to choose for"
    if not analysis.gases:
        why = "; ".join(f"{row.gas}: {row.reason}" for row in analysis.left_out)
        return f"no gas has a speed for this job ({why})"
    return ""


def _of_the_shop(analysis: Analysis) -> list[GasResult]:
    """Gases the shop has; all of them where the shop does not say, or has none of these."""
    has = analysis.shop.gases
    ours = [result for result in analysis.gases if has is None or result.gas in has]
    return ours or list(analysis.gases)


def _what_if(analysis: Analysis, best: GasResult, everywhere: set[Key]) -> str:
    """Say what the best gas the shop does not list would save."""
    ours = _of_the_shop(analysis)
    others = [result for result in analysis.gases if result not in ours]
    if not others:
        return ""
    pick = choose([best, *others], everywhere, _currency(analysis)).result
    if pick is best:
        return ""
    if_had = "a mixer" if pick.gas == "mixed" else spoken(pick.gas)
    would = f"if the shop had {if_had} (its file lists none)"
    lost = losses(best.findings) - everywhere
    if len(losses(pick.findings) - everywhere) < len(lost):
        rules = listed(sorted({rule for rule, _, _ in lost}))
        return f"{would}, {spoken(pick.gas)} would lose less ({rules})"
    said = against(pick, best, _currency(analysis))
    return f"{would}, {spoken(pick.gas)} would win: {said}"


def _if_mended(ours: list[GasResult], best: GasResult, everywhere: set[Key], currency: str) -> str:
    """Say which gas would win if the designer mended what it loses: a slot, a hole, a web.

    A gas that loses all that is cut is no such gas: no change of the drawing helps it.
    """
    own = {result.gas: losses(result.findings) - everywhere for result in ours}
    mendable = [
        result
        for result in ours
        if result is best
        or (own[result.gas] and not any(rule in LOST_WHOLE for rule, _, _ in own[result.gas]))
    ]
    pick = choose(mendable, everywhere.union(*own.values()), currency).result
    little = worth(best) - worth(pick) < SPEED_ALONE * worth(best)
    if pick is best or not own[pick.gas] or little:
        return ""
    rules = listed(sorted({rule for rule, _, _ in own[pick.gas]}))
    return f"with {rules} mended {spoken(pick.gas)} would win: {against(pick, best, currency)}"


def _if_told(analysis: Analysis, best: GasResult) -> str:
    """Say what the next step would change where it was not told."""
    if analysis.job.next_step is not None:
        return ""
    everywhere = losses_in_every_gas(analysis.gases)
    steps = STEPS.get(analysis.job.material, ("visible",))
    for step in steps:
        changed = [_with_next(result, analysis, step) for result in _of_the_shop(analysis)]
        pick = choose(changed, everywhere, _currency(analysis))
        if pick.result.gas != best.gas:
            gas = spoken(pick.result.gas)
            before = next((one for one in changed if one.gas == best.gas), None)
            currency = _currency(analysis)
            why = against(pick.result, before, currency) if before else pick.reason
            return f"if {STEP_WORDS[step]}: {gas} instead, because {why}"
    more = {step: _with_next(best, analysis, step).rework_min - best.rework_min for step in steps}
    step = max(more, key=lambda name: more[name])
    if 60.0 * more[step] < 1.0:
        return "no next step we know would change the advice"
    gas = spoken(best.gas)
    return f"if {STEP_WORDS[step]}: {gas} still, with {by_hand(60.0 * more[step])} more by hand"


def _with_next(result: GasResult, analysis: Analysis, step: str) -> GasResult:
    """Return the result with the hand work before `step`."""
    job, shop = analysis.job, analysis.shop
    rework = tuple(rework_of(one, job, step, shop.rework) for one in result.evidence)
    minutes = sum(
        one.part.count * r.minutes for one, r in zip(result.evidence, rework, strict=True)
    )
    changed = replace(result, rework=rework, rework_min=float(minutes))
    if shop.rates is None or result.bill is None:
        return changed
    bill = replace(result.bill, rework_min=float(minutes))
    return replace(changed, bill=bill, cost=cost_of(bill, shop.rates))
