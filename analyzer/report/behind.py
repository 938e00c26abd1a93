"""What stands behind the answer: what was not checked, and what was assumed."""

from __future__ import annotations

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Advice
from analyzer.motion.assumptions import ASSUMPTIONS
from analyzer.process.hand_rates import START_RATES, HandRates
from analyzer.process.machine import START_VALUES
from analyzer.process.machine import assumptions as machine_assumptions
from analyzer.reasons import spoken


def not_checked(analysis: Analysis, advice: Advice) -> tuple[str, ...]:
    words = []
    if not analysis.job.plate_told:
        words.append("plate surface not told, taken as clean")
    if analysis.job.next_step is None:
        words.append("next step not told" + (f": {advice.next_step}" if advice.next_step else ""))
    if analysis.shop.rates is None:
        words.append("money: no [rates] in the shop file")
    return tuple(words)


def whose_hand_rates(rates: HandRates) -> str:
    """Return whose rates of hand work are in force, and how sure they are."""
    return (
        "rates of common practice, +-50 %" if rates == START_RATES else f"your rates, {rates.words}"
    )


def assumptions(analysis: Analysis, read: GasResult | None) -> tuple[str, ...]:
    machine = analysis.shop.machine
    lines, whose = machine_assumptions(machine), ""
    if machine == START_VALUES:
        lines = tuple(line.replace(" (start value)", "") for line in lines)
        whose = " (start values, common practice, not your machine)"
    words = [f"Machine{whose}: {', '.join(lines)}"]
    if read is not None:
        setting = read.setting
        spread = "" if setting.own_table else ", +-30 %"
        words.append(
            f"{spoken(setting.gas).capitalize()}: {setting.speed_m_per_min:.2f} m/min"
            f" ({setting.speed_source}{spread}), kerf {setting.kerf_mm:.2f} mm,"
            f" pierce {setting.pierce_s:.2f} s, lead-in {setting.lead_mm:.3g} mm"
        )
    words.append(
        "Each part timed alone, times its count; hand work by"
        f" {whose_hand_rates(analysis.shop.rework)}"
    )
    if any(fact.kind == "shared-edge" for fact in analysis.parts.drawing.facts):
        words.append(
            "An edge that two parts share is timed with each of them (burrcast sheet: once); its"
            " length and burr are counted once"
        )
    return (*words, *(line.removesuffix(".") for line in ASSUMPTIONS))
