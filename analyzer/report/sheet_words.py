"""The sentences of the page about sheets."""

from __future__ import annotations

import re
from collections.abc import Sequence

from analyzer.comparison import Advice
from analyzer.one_sheet import SheetResult
from analyzer.process.hand_rates import START_RATES
from analyzer.process.machine import START_VALUES
from analyzer.process.machine import assumptions as machine_assumptions
from analyzer.process.material import material
from analyzer.process.unloading import unloading_words
from analyzer.reasons import listed, money, spoken
from analyzer.report.behind import not_checked
from analyzer.report.cautions import cautions
from analyzer.report.escape import shown
from analyzer.report.verdict import reason_words, verdict_words
from analyzer.report.view import Line, asks_change, lines_of
from analyzer.report.wording import money_with_band, shortened, weight, with_band
from analyzer.rules.registry import rule_named
from analyzer.rules.wording import edge_length
from analyzer.sheeting import CommonLine, Sheeting, SheetJob
from analyzer.spread import cost_band, time_band
from analyzer.units import by_hand, counted, span

HEAVY_KG = 25.0  # above this a crane or a second pair of hands is named once [kg]


def job_words(job: SheetJob) -> str:
    """Say what is cut: list, material, thickness, laser, plate, next step."""
    what = job.job
    words = [
        f"{shown(job.file)}: {material(what.material).words} {what.thickness_mm:g} mm",
        f"{what.power_kw:g} kW",
        f"plate {what.plate}" if what.plate_told else "plate not told",
    ]
    if job.steps:
        words.append(f"next steps {listed(job.steps)}")
    else:
        words.append(f"next step {what.next_step}" if what.next_step else "next step not told")
    return ", ".join(words)


def hand_minutes(job: SheetJob) -> float:
    """Return rework in the gas shown, and unloading, all sheets. [min]"""
    best = job.answer.analysis.under(job.read)
    return (best.rework_min if best else 0.0) + job.unload_min


def jobs_words(jobs: Sequence[SheetJob]) -> str:
    """Say what several jobs come to, every one in the gas shown: sheets, parts, machine, hand."""
    known = [best for job in jobs if (best := job.answer.analysis.under(job.read))]
    words = [
        counted(sum(job.count for job in jobs), "sheet"),
        counted(sum(job.parts for job in jobs), "part"),
    ]
    if known:
        words.append(f"{span(sum(best.timing.total for best in known))} at the machine")
        words.append(f"{by_hand(60.0 * sum(map(hand_minutes, jobs)))} by hand")
    return ", ".join(words)


def part_names(job: SheetJob) -> dict[str, str]:
    """Return what every part is called: without its folder where that leaves them different."""
    ids = [part.id for part in job.answer.analysis.parts.parts]
    plain = {name: re.split(r"[\\/]", name)[-1] for name in ids}
    if len(set(plain.values())) < len(set(ids)):
        plain = {name: name for name in ids}
    return {name: shown(words) for name, words in plain.items()}


def verdict_of(job: SheetJob) -> list[str]:
    """Return the answer in its first lines: sheets, gas, minutes, money, why."""
    analysis, advice = job.answer.analysis, job.answer.advice
    best = analysis.under(job.read)
    lines = [verdict_words(analysis, advice)]
    if best is None or not job.sheets:
        return lines
    lines.append(_count_words(job))
    time = with_band(time_band(best.timing, best.setting, analysis.shop))
    whose = best.setting.speed_source
    if analysis.shop.calibration is not None:
        whose += f"; {analysis.shop.calibration.words(best.gas)}"
    each = _each_words(job)
    lines.append(f"{time} at the machine{each}; {whose}")
    hand = [f"{by_hand(60.0 * job.unload_min)} unloading and sorting"]
    if best.rework_min * 60.0 >= 0.5:
        hand.insert(0, f"{by_hand(60.0 * best.rework_min)} rework")
    lines.append(f"By hand: {', '.join(hand)}")
    spread = cost_band(best, analysis.shop)
    if best.cost is not None and spread is not None and analysis.shop.rates is not None:
        lines.append(money_with_band(spread, analysis.shop.rates.currency) + _plate_words(job))
    lines += reason_words(analysis, advice, best)
    return lines


def _plate_words(job: SheetJob) -> str:
    """Say what of the money is plate, and what is left where the rest of it is kept."""
    best, net = job.answer.analysis.under(job.read), job.net_cost(job.read)
    if best is None or best.cost is None or not best.cost.material:
        return ""
    words = f"; {best.cost.material:,.0f} of it plate, whole sheets"
    if round(net) >= round(best.cost.total):
        return words
    return f"{words} ({money(net)} in all with plate by the weight of the parts)"


def _count_words(job: SheetJob) -> str:
    kinds: dict[str, int] = {}
    for sheet in job.sheets:
        size = sheet_size(sheet)
        kinds[size] = kinds.get(size, 0) + sheet.copies
    sheets = listed(
        f"{counted(n, 'sheet')} {size}" if size else counted(n, "sheet")
        for size, n in kinds.items()
    )
    totals = job.answer.analysis.totals
    words = f"{sheets}, {counted(totals.parts, 'part')}, {weight(totals.weight)}"
    if job.use > 0.0:
        gross = sum(s.copies * s.sheet_kg for s in job.sheets)
        words += f" of {weight(gross)} plate ({100.0 * job.use:.0f} % used)"
    if job.bound and not job.unplaced:
        words += _bound_words(job)
    return words


def _bound_words(job: SheetJob) -> str:
    if job.bound >= job.count:
        return "; fewer sheets cannot do" if job.count > 1 else ""
    return f"; no fewer than {job.bound} could do"


def _each_words(job: SheetJob) -> str:
    """Say how long one sheet takes, where there are several."""
    times = [one.timing.total for s in job.sheets if (one := s.under(job.read)) is not None]
    if job.count < 2 or not times:
        return ""
    if span(min(times)) == span(max(times)):
        return f", {span(times[0])} a sheet"
    return f", {span(min(times))} to {span(max(times))} a sheet"


def sheet_size(sheet: SheetResult) -> str:
    """Return what the sheet is called; its size where a drawing showed it; empty if unknown."""
    if sheet.stock is not None:
        return shortened(shown(sheet.stock.name), 24)
    if sheet.gross_mm2 <= 0.0:
        return ""
    size = f"{sheet.layout.length_mm:.6g}x{sheet.layout.width_mm:.6g}"
    return f"{size} left-over" if sheet.drawn and sheet.drawn.remnant else size


def lines_below(job: SheetJob) -> tuple[tuple[Line, ...], tuple[Line, ...]]:
    """Return what asks for a change before cutting, and what is only foretold."""
    analysis = job.answer.analysis
    best = analysis.under(job.read)
    findings = best.findings if best else ()
    change = lines_of(analysis, [f for f in findings if asks_change(f)])
    rest = [f for f in findings if not asks_change(f) and rule_named(f.rule).group != "drawing"]
    return change, lines_of(analysis, rest)


def common_words(common: CommonLine) -> str:
    """Say what common lines would save, or why they are not for this job."""
    if not common.able:
        return f"Common lines: no ({common.reason})"
    words = (
        f"Common lines: {counted(common.lines, 'facing edge')}"
        f" ({edge_length(common.length_mm / 1000.0)}) cut once would save about"
        f" {span(60.0 * common.saved_min)} and {counted(common.pierces, 'pierce')},"
        " parts pushed together to one kerf"
    )
    if common.risky:
        words += f"; {counted(common.risky, 'part')} left out that would tip or fall"
    return words + ". Either part gives half the kerf error; not for tight or visible edges"


def kept_words(job: SheetJob) -> tuple[str, ...]:
    """Say what is kept between parts and to the edge, for whose sake, and the cutting data."""
    words = []
    if job.bound:  # a drawn sheet keeps what it keeps
        words.append(
            f"Gap {job.gap.value_mm:g} mm: {job.gap.why}; margin {job.margin.value_mm:g} mm:"
            f" {job.margin.why}"
        )
    best = job.answer.analysis.under(job.read)
    if best is not None:
        setting = best.setting
        spread = "" if setting.own_table else ", +-30 %"
        words.append(
            f"{spoken(setting.gas).capitalize()}: {setting.speed_m_per_min:.2f} m/min"
            f" ({setting.speed_source}{spread}), kerf {setting.kerf_mm:.2f} mm, pierce"
            f" {setting.pierce_s:.2f} s, lead-in {setting.lead_mm:g} mm"
        )
    return tuple(words)


def not_checked_of(job: SheetJob) -> tuple[str, ...]:
    """Return what nobody told and nobody looked at."""
    advice: Advice = job.answer.advice
    words = not_checked(job.answer.analysis, advice)
    if job.steps:
        words = tuple(line for line in words if not line.startswith("next step not told"))
        if "not told" in job.steps:
            words = (*words, "next step of some parts not told")
    return words


def assumptions_of(job: SheetJob) -> tuple[str, ...]:
    """Return what was taken where nobody said, and whose numbers stand behind the page."""
    analysis = job.answer.analysis
    machine = analysis.shop.machine
    lines, whose = machine_assumptions(machine), ""
    if machine == START_VALUES:
        lines = tuple(line.replace(" (start value)", "") for line in lines)
        whose = " (start values, common practice, not your machine)"
    words = [f"Machine{whose}: {', '.join(lines)}, pallet change {machine.pallet_change_s:g} s"]
    rates = analysis.shop.rework
    own = (
        "rates of common practice, +-50 %" if rates == START_RATES else f"your rates, {rates.words}"
    )
    words.append(f"Rework by {own}")
    words.append(unloading_words(analysis.shop.rates))
    words.append(
        "Program time: shops plan 1.1 to 1.2 times as much for lost cuts and alarms"
        " (common practice, no source)"
    )
    words.append("Slats across the long side of the sheet; plate by whole sheets, skeleton not"
                 " credited")  # fmt: skip
    return tuple(words)


def cautions_of(sheeting: Sheeting) -> tuple[str, ...]:
    """Return where to take care in all jobs, each line once; of flows the largest."""
    flow = re.compile(r"\(about (\d+) Nm3/h[^)]*\)")
    kept: dict[str, tuple[float, str]] = {}
    for job in sheeting.jobs:
        for line in cautions(job.answer.analysis, job.answer.advice):
            found = flow.search(line)
            key, much = flow.sub("", line), float(found[1]) if found else 0.0
            if key not in kept or much > kept[key][0]:
                kept[key] = (much, line)
    heavy = [shown(name) for job in sheeting.jobs for name in _heavy(job)]
    lines = tuple(line for _, line in kept.values())
    if not heavy:
        return lines
    return (
        f"Above {HEAVY_KG:g} kg a part ({listed(heavy[:3])}{' and more' if heavy[3:] else ''}):"
        " crane or two people, by your local rules for lifting.",
        *lines,
    )


def _heavy(job: SheetJob) -> list[str]:
    """Return the names of parts nobody should lift alone."""
    what = material(job.job.material)
    return [
        part.id
        for part in job.answer.analysis.parts.parts
        if part.count and what.weight_kg(part.area, job.job.thickness_mm) > HEAVY_KG
    ]
