"""Where to take care: one line for everything in the answer that can hurt someone.

They are reminders.  Local code, the machine's documents and the safety officer come first;
docs/gas.md lists limits and sources.
"""

from __future__ import annotations

from analyzer.analysis import Analysis
from analyzer.comparison import Advice
from analyzer.process.flow import range_factor

COPPERS = ("copper", "brass")


def cautions(analysis: Analysis, advice: Advice) -> tuple[str, ...]:
    """Return the lines for the gases advised, the material and the plate, each once.

    Sources: 29 CFR 1910.146 (air below 19.5 % or above 23.5 % oxygen), 29 CFR 1910.1026
    (hexavalent chromium), NFPA 660:2025 (combustible dust), IEC 60825-1 and ISO 11553-1
    (lasers, from memory), EIGA Doc 04 and 33 (oxygen, from memory); what a head takes in
    practice and the rest: common practice, no source.
    """
    lines = (
        *_of_the_gases(analysis, advice),
        *_of_the_material(analysis.job.material),
        *_of_the_plate(analysis.job.plate),
        "A planning aid: the machine's documents, local code and your safety officer come first."
        " The beam is laser class 4: its enclosure stays shut (IEC 60825-1).",
    )
    return tuple(lines)


def _of_the_gases(analysis: Analysis, advice: Advice) -> list[str]:
    gases = {advice.gas, advice.without_mixer.gas}
    if advice.without_air:
        gases.add(advice.without_air.gas)
    lines = []
    if gases & {"nitrogen", "mixed"}:
        lines.append(
            f"Nitrogen and mixed gas{_flow(analysis, gases)} displace air in pits and closed"
            " rooms; below 19.5 % oxygen the air is dangerous (29 CFR 1910.146). Have ventilation"
            " and oxygen monitoring checked by a competent person under your local rules."
        )
    if "mixed" in gases or "mixer" in advice.what_if:
        lines.append(
            "A mixer wants oxygen at more than its outlet pressure, often more than oxygen line and"
            " regulators are rated for; oxygen under pressure burns with oil or a fast valve: a job"
            " for a licensed gas installer only. No settings for the oxygen side are given here."
        )
    if "oxygen" in gases:
        lines.append(
            "Oxygen lines: licensed gas installer only, and clean of oil. Air above 23.5 % oxygen"
            " feeds fire in clothes and dust (29 CFR 1910.146)."
        )
    if "air" in gases:
        lines.append(
            "Air at this pressure: vessels and lines by your local pressure rules; the cut gives"
            " nitrogen oxides and ozone, extraction on."
        )
    return lines


def _flow(analysis: Analysis, gases: set[str | None]) -> str:
    """Say how much a head takes: nitrogen on thick plate is a flow few rooms are built for."""
    results = [r for r in analysis.gases if r.gas in gases and r.gas in ("nitrogen", "mixed")]
    standoff = analysis.shop.machine.standoff_mm
    flows = (r.setting.flow_nm3_per_h * range_factor(r.setting, standoff) for r in results)
    most = max(flows, default=0.0)  # of a range of nozzles with the larger bore: to be safe
    if not most:
        return ""
    usual = "; 70-140 are usual at 10-20 mm" if analysis.job.thickness_mm >= 10.0 else ""
    return f" (about {most:.0f} Nm3/h per head{usual})"


def _of_the_material(material: str) -> list[str]:
    if material == "aluminium":
        return [
            "Aluminium dust can explode, worse with iron oxide in it: follow the procedure of"
            " filter maker and fire code (NFPA 660) before changing from steel."
        ]
    if material == "stainless":
        return [
            "Stainless fume holds hexavalent chromium (29 CFR 1910.1026: 5 micrograms per m3):"
            " extraction and filters by your local limits."
        ]
    if material in COPPERS:
        return ["Copper and brass throw the beam back: only if the laser's maker allows it."]
    return []


def _of_the_plate(plate: str) -> list[str]:
    if plate == "galvanised":
        return ["Zinc fume: extraction at the cut."]
    if plate == "film":
        return ["Film smokes and can ignite: watch the first cuts, extraction on."]
    return []
