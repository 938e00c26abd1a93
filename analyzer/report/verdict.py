"""The first lines of the page: which gas, minutes, money, why, and what would change it."""

from __future__ import annotations

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Advice
from analyzer.drawing.drawing import CUT_FOR_NOW
from analyzer.motion.plan import Timing
from analyzer.reasons import FEW_CENTS, listed, money
from analyzer.report.wording import TERMS, money_with_band, with_band
from analyzer.rules.registry import rule_named
from analyzer.rules.wording import capital
from analyzer.spread import cost_band, time_band
from analyzer.units import digits_of, unit_of

# A break-even that leaves less of an input, or wants so many times as much, is not said [-].
LEAST_LEFT, MOST_WANTED = 0.25, 10.0
TOO_THICK = "thickness-beyond-power"


def verdict_words(
    analysis: Analysis, advice: Advice, *, listed_below: bool = True, command: str = "check"
) -> str:
    """Say which gas to cut with, or why none; losses are listed below, or by `command`."""
    if advice.gas is None:
        return f"No gas advised: {advice.reason}."
    best = analysis.under(advice.gas)
    lost = [f for f in best.findings if f.level == "loss"] if best else []
    words = _gas_verdict(analysis, advice)
    if best and any(f.rule == TOO_THICK for f in lost):
        return _past_the_limit(analysis, advice, best, words)
    where = "below" if listed_below else f"that burrcast {command} lists"
    if any(rule_named(f.rule).group == "drawing" for f in lost):
        words += " But mend the drawing first: it is not ready to cut."
    elif lost:
        words += f" Mend the losses {where} first."
    return words + _are_all_parts(analysis, best)


def _are_all_parts(analysis: Analysis, best: GasResult | None) -> str:
    """Ask first whether all outlines are parts, where some may be views of others."""
    asked = [
        f.mark
        for f in (best.findings if best else ())
        if f.rule == "view-not-part" and f.sort == CUT_FOR_NOW
    ]
    if not asked:
        return ""
    count = analysis.totals.parts
    which = "is the outline a part" if count == 1 else f"are all {count:,} outlines parts"
    return f" Look first: {which}? See {listed(map(str, asked[:3]))}."


def _past_the_limit(analysis: Analysis, advice: Advice, best: GasResult, words: str) -> str:
    """Say that even the least bad gas is past its limit."""
    every = " in every gas" if TOO_THICK in advice.in_every_gas else ""
    if best.setting.power_level != "beyond":
        return f"Not with this gas supply: too little pressure{every}. The least bad: {words}"
    return f"Not on this laser: too thick for its power{every}. The least bad: {words}"


def _gas_verdict(analysis: Analysis, advice: Advice) -> str:
    """Name the gas; one that needs more than bottles or a tank as an "if", without a shop file."""
    result = analysis.under(advice.gas or "")
    if result is None:
        return ""
    words, needs, other = result.gas.upper(), "", advice.without_mixer.gas
    if result.gas == "mixed":
        share = result.setting.oxygen_share_percent
        words, needs = f"MIXED GAS (nitrogen with {share:.3g} % oxygen)", "your laser has a mixer"
    if result.gas == "air":
        other = advice.without_air.gas if advice.without_air else None
        pressure = result.setting.pressure_bar
        needs = f"you have compressed air for {pressure:.3g} bar at the head"
    if analysis.shop.gases is not None or not needs or not other:
        return f"Cut with {words}."
    last = advice.without_air.gas if advice.without_air else None
    if other == "air" and last:  # air is not in every shop either
        return f"Cut with {words} if {needs}, else with AIR if you have it, else {last.upper()}."
    return f"Cut with {words} if {needs}, otherwise with {other.upper()}."


def time_words(analysis: Analysis, best: GasResult) -> str:
    """Say how long all copies take at the machine, and whose speed that is."""
    parts, setting, shop = best.evidence, best.setting, analysis.shop
    total = with_band(time_band(best.timing, setting, shop))
    whose = setting.speed_source
    if shop.calibration is not None:
        whose += f"; {shop.calibration.words(setting.gas)}"
    if len(parts) == 1 and parts[0].part.count > 1:
        each = with_band(time_band(parts[0].plan.timing, setting, shop))
        return f"{each} each, {total} for all {parts[0].part.count}; {whose}"
    if len(parts) == 1:
        return f"{total}; {whose}"
    count = analysis.totals.parts
    return f"{total} for {'both' if count == 2 else f'all {count:,}'} parts; {whose}"


def cost_words(analysis: Analysis, best: GasResult) -> str:
    """Say what all copies cost, and one of them where all are alike."""
    cost, shop, count = best.cost, analysis.shop, analysis.totals.parts
    spread = cost_band(best, shop)
    if cost is None or spread is None or shop.rates is None:
        return ""
    words = money_with_band(spread, shop.rates.currency)
    if count > 1:
        words += f" for all {count:,}"
    if count > 1 and len(best.evidence) == 1:
        words += f", {money(cost.total / count)} each"
    plate = f"; {money(cost.material)} of it plate, by net weight" if cost.material else ""
    return f"{words}{plate}"


def far_off_words(advice: Advice) -> tuple[str, ...]:
    """Say the nearest change that would turn the advice, where it is not near."""
    if advice.flip or advice.more is None or advice.more.low <= 0.0:
        return ()  # said already, or the edge has decided and not the difference
    # nobody makes hand work or a price vanish, or pays a hundred times as much
    points = [
        point
        for point in advice.break_evens
        if LEAST_LEFT * point.value < point.at < MOST_WANTED * point.value
    ]
    if not points:
        return ("Nothing we know would change it.",)
    return (f"Nothing near would change it; far off, {points[0].words}.",)


def otherwise_words(analysis: Analysis, advice: Advice) -> str:
    """Say what changes with the next best gas, and how sure the difference is."""
    if not advice.otherwise or advice.more is None:
        return ""
    more, rates, per = advice.more, analysis.shop.rates, ""
    if rates is not None:
        scale, per = (100.0, " per 100") if abs(more.value) < FEW_CENTS else (1.0, "")
        unit, digits = rates.currency, 0 if scale * abs(more.value) >= 10.0 else 2
    else:
        unit, per_unit = unit_of(60.0 * more.value)
        scale, digits = 60.0 / per_unit, digits_of(abs(60.0 * more.value) / per_unit)
    low, high = scale * more.low, scale * more.high
    sure = f"{scale * more.value:+.{digits}f} {unit} ({low:+.{digits}f} to {high:+.{digits}f})"
    return f"{advice.otherwise}: {sure}{per or ' in all'}"


def reason_words(analysis: Analysis, advice: Advice, best: GasResult | None) -> tuple[str, ...]:
    """Say why, what else could be, and what would change it."""
    if best is None:
        return ()
    words = [f"Why: {advice.reason}."]
    if advice.edge:
        words.append(f"{capital(advice.edge)}.")
    if advice.gas == "mixed" and analysis.shop.gases is None and advice.without_mixer.gas:
        words.append(
            f"Without a mixer: {advice.without_mixer.gas}, because {advice.without_mixer.reason}."
        )
    if advice.without_air and analysis.shop.gases is None:
        which = "it" if advice.gas == "air" else "air"
        words.append(
            f"Without {which}: {advice.without_air.gas}, because {advice.without_air.reason}."
        )
    if advice.what_if:
        words.append(f"{capital(advice.what_if)}.")
    if advice.if_mended:
        words.append(f"{capital(advice.if_mended)}.")
    if advice.flip:
        words.append(f"What would change it: {advice.flip}.")
    hangs = _hangs_on(best.timing)
    if hangs:
        words.append(hangs)
    if advice.in_every_gas:
        words.append(f"In every gas: {listed(advice.in_every_gas)}; that decides nothing.")
    return tuple(words)


def _hangs_on(timing: Timing) -> str:
    """Say which term the time hangs on, where it is not plain cutting."""
    name = max(TERMS, key=lambda term: float(getattr(timing, term)))
    share = float(getattr(timing, name)) / timing.total if timing.total > 0.0 else 0.0
    if name == "cut" or share < 0.4:
        return ""
    return f"The time hangs on {TERMS[name]}: {share * 100:.0f} % of it."
