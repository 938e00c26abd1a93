"""What stands behind the answer: not checked, assumed, and where to take care."""

from __future__ import annotations

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Advice
from analyzer.motion.assumptions import ASSUMPTIONS
from analyzer.process.machine import START_VALUES
from analyzer.process.machine import assumptions as machine_assumptions
from analyzer.reasons import spoken


def not_checked(analysis: Analysis, advice: Advice) -> tuple[str, ...]:
    words = []
    if not analysis.job.plate_told:
        words.append("plate surface not told, taken as clean")
    if analysis.job.next_step is None:
        words.append("next step not told" + (f": {advice.next_step}" if advice.next_step else ""))
    words.append("heat along the cutting order")
    if analysis.shop.rates is None:
        words.append("money: no [rates] in the shop file")
    return tuple(words)


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
            f" pierce {setting.pierce_s:.2f} s, lead-in {setting.lead_mm:g} mm"
        )
    words.append(
        "Each part timed alone, times its count; hand work by rates of common practice, +-50 %"
    )
    return (*words, *(line.removesuffix(".") for line in ASSUMPTIONS))


def cautions(analysis: Analysis, advice: Advice) -> tuple[str, ...]:
    """Return one line of caution for everything here that can hurt someone.

    Sources: 29 CFR 1910.146 (air below 19.5 % oxygen), 29 CFR 1910.1026 (hexavalent chromium),
    NFPA 660:2025 (combustible dust); the flow and the rest: common practice, no source.
    """
    job, words = analysis.job, []
    gases = {advice.gas, advice.without_mixer.gas}
    if gases & {"nitrogen", "mixed"}:
        flow = " (70-140 Nm3/h per head at 10-20 mm)" if job.thickness_mm >= 10 else ""
        words.append(
            f"Nitrogen and mixed gas{flow} displace air in pits and closed rooms: have ventilation"
            " and oxygen monitoring checked by a competent person under your local rules."
        )
    if gases & {"oxygen", "mixed"}:
        words.append(
            "Oxygen lines and mixers: licensed gas installer only; oxygen under pressure burns with"
            " oil. No settings for the oxygen side are given here."
        )
    if job.material == "aluminium":
        words.append(
            "Aluminium dust can explode: follow the filter maker's and the fire code's procedure"
            " before changing from steel."
        )
    if job.material == "stainless":
        words.append(
            "Stainless fume holds hexavalent chromium: extraction and filters by your local limits."
        )
    if job.plate == "galvanised":
        words.append("Zinc fume: extraction at the cut.")
    if job.plate == "film":
        words.append("Film smokes and can ignite: watch the first cuts, extraction on.")
    words.append(
        "A planning aid: the machine's documents, local code and your safety officer come first."
    )
    return tuple(words)
