"""One description of what is shown; every human format is written from it.

Verdict first, then minutes, then what to change, then the rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Advice, Answer, listed, span
from analyzer.motion.plan import Timing
from analyzer.report.escape import shown
from analyzer.rules.rule import LEVELS, Finding

BAND = 0.25  # band of a time until calibrated on own stop-watch times [-]
# Findings about the gas and the edge: hand work to expect, nothing to change in the drawing.
ABOUT_THE_EDGE = frozenset({
    "edge-burrs", "small-contour-burrs", "corner-slows", "thickness-beyond-power",
    "gas-unsuited", "edge-unfit-for-next-step", "plate-unsuited", "table-implausible",
})  # fmt: skip
QUIET = frozenset({"speck", "gap-closed"})  # told under "The drawing", no line of their own
GAS_WORDS = {"mixed": "mixed gas"}


@dataclass(frozen=True)
class Line:
    """One kind of finding: marks, level, what and what to do."""

    marks: tuple[int, ...]
    level: str
    what: str
    remedy: str


@dataclass(frozen=True)
class Row:
    """One row of a table: label and one cell a column."""

    label: str
    cells: tuple[str, ...]


@dataclass(frozen=True)
class View:
    """All that is shown of one drawing, in reading order."""

    title: str
    job: str
    summary: str
    verdict: str
    minutes: str
    reasons: tuple[str, ...]
    change: tuple[Line, ...]
    nothing_to_change: bool
    expect: tuple[Line, ...]
    gases: tuple[str, ...]
    gas_rows: tuple[Row, ...]
    gas_notes: tuple[str, ...]
    part_rows: tuple[Row, ...]
    facts: tuple[str, ...]
    account: str
    ignored: tuple[str, ...]
    not_checked: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    why: tuple[Row, ...] = ()


PART_COLUMNS = ("part", "off", "size mm", "kg", "cut mm", "pierces", "each")


def view_of(answer: Answer, *, why: bool = False) -> View:
    """Return what is shown of `answer`; with `why` the numbers behind it as well."""
    analysis, advice = answer.analysis, answer.advice
    best = analysis.under(advice.gas) if advice.gas else None
    read = best or (analysis.gases[0] if analysis.gases else None)
    findings = read.findings if read else ()
    change = lines_of(analysis, [f for f in findings if f.rule not in ABOUT_THE_EDGE | QUIET])
    expect = lines_of(analysis, [f for f in findings if f.rule in ABOUT_THE_EDGE])
    told = {f.rule for f in findings if f.rule not in QUIET}
    return View(
        title=shown(analysis.drawing.file),
        job=_job(analysis),
        summary=_summary(analysis),
        verdict=_verdict(analysis, advice),
        minutes=_minutes(analysis, best) if best else "",
        reasons=_reasons(analysis, advice, best),
        change=change,
        nothing_to_change=best is not None and all(line.level == "note" for line in change),
        expect=expect,
        gases=tuple(result.gas for result in analysis.gases),
        gas_rows=_gas_rows(analysis),
        gas_notes=_gas_notes(analysis),
        part_rows=_part_rows(analysis, best),
        facts=_facts(analysis, told),
        account=_account(analysis),
        ignored=_ignored(analysis),
        not_checked=_not_checked(analysis, advice),
        assumptions=_assumptions(analysis, read),
        cautions=cautions(analysis, advice),
        why=_why(read) if why and read else (),
    )


# --- words -------------------------------------------------------------------------------


def gas_words(gas: str) -> str:
    """Return the gas as it is spoken of."""
    return GAS_WORDS.get(gas, gas)


def with_band(seconds: float) -> str:
    """Return a time as spoken, with its honest band. [s]

    Examples
    --------
    >>> with_band(1518.0), with_band(65.0), with_band(4.2)
    ('25 min (19-32)', '65 s (49-81)', '4.2 s (3.2-5.2)')
    """
    low, high = (1.0 - BAND) * seconds, (1.0 + BAND) * seconds
    unit, scale = ("s", 1.0) if seconds < 119.5 else ("min", 60.0)
    digits = 1 if seconds / scale < 9.95 else 0
    return (
        f"{seconds / scale:.{digits}f} {unit} ({low / scale:.{digits}f}-{high / scale:.{digits}f})"
    )


def several(count: int, word: str) -> str:
    """Return "1 hole", "3 holes"."""
    return f"{count:,} {word}{'' if count == 1 else 's'}"


def _job(analysis: Analysis) -> str:
    job = analysis.job
    words = [f"{job.material} {job.thickness_mm:g} mm", f"{job.power_kw:g} kW"]
    words.append(f"plate {job.plate}" if job.plate_told else "plate not told")
    words.append(f"next step {job.next_step}" if job.next_step else "next step not told")
    return ", ".join(words)


def _summary(analysis: Analysis) -> str:
    totals, units = analysis.totals, analysis.drawing.units
    parts = several(totals.parts, "part")
    if totals.distinct_parts != totals.parts:
        parts += f" ({totals.distinct_parts} different)"
    words = [
        parts, several(totals.contours, "cut contour"), f"{totals.cut_length:,.0f} mm of cut",
        several(totals.pierces, "pierce"), f"{weight(totals.weight)}",
    ]  # fmt: skip
    if totals.mark_length:
        words.append(f"{totals.mark_length:,.0f} mm of marking")
    words.append(f"drawn in {shown(units.name)} ({shown(units.source)})")
    return ", ".join(words)


def weight(kilograms: float) -> str:
    """Return a weight, grams below one kilogram. [kg]"""
    return f"{kilograms * 1000:.0f} g" if kilograms < 0.9995 else f"{kilograms:,.1f} kg"


def _verdict(analysis: Analysis, advice: Advice) -> str:
    if advice.gas is None:
        return f"No gas advised: {advice.reason}."
    best = analysis.under(advice.gas)
    lost = best is not None and any(f.level == "loss" for f in best.findings)
    return _gas_verdict(analysis, advice) + (" First mend the losses below." if lost else "")


def _gas_verdict(analysis: Analysis, advice: Advice) -> str:
    gas = advice.gas or ""
    if gas != "mixed":
        return f"Cut with {gas_words(gas).upper()}."
    mixed = analysis.under("mixed")
    share = mixed.setting.oxygen_share_percent if mixed else 0.0
    words = f"MIXED GAS (nitrogen with {share:g} % oxygen)"
    other = advice.without_mixer.gas
    if analysis.shop.gases is None and other:
        return f"Cut with {words} if your laser has a mixer, otherwise with {other.upper()}."
    return f"Cut with {words}."


def _minutes(analysis: Analysis, best: GasResult) -> str:
    parts, total = best.evidence, best.timing.total
    whose = best.setting.speed_source
    if len(parts) == 1 and parts[0].part.count > 1:
        each = f"{with_band(parts[0].plan.timing.total)} each, "
        return f"{each}{with_band(total)} for all {parts[0].part.count}; {whose}"
    if len(parts) == 1:
        return f"{with_band(total)}; {whose}"
    return f"{with_band(total)} for all {analysis.totals.parts} parts; {whose}"


def _reasons(analysis: Analysis, advice: Advice, best: GasResult | None) -> tuple[str, ...]:
    if best is None:
        return ()
    words = [f"Why: {advice.reason}."]
    if not advice.proven and advice.runner_up:
        words.append(
            f"The difference to {gas_words(advice.runner_up)} is smaller than what we know:"
            " choose by the edge."
        )
    if advice.gas == "mixed" and analysis.shop.gases is None and advice.without_mixer.gas:
        words.append(
            f"Without a mixer: {advice.without_mixer.gas}, because {advice.without_mixer.reason}."
        )
    if advice.what_if:
        words.append(f"What if: {advice.what_if}.")
    if advice.flip:
        words.append(f"What would change it: {advice.flip}.")
    hangs = _hangs_on(best.timing)
    if hangs:
        words.append(hangs)
    if advice.in_every_gas:
        words.append(f"In every gas: {listed(advice.in_every_gas)}; that decides nothing.")
    return tuple(words)


TERMS = {
    "cut": "the table speed", "slowed": "corners, curves and small contours",
    "leads": "the lead-ins", "starts": "the starts (sensing and gas settling)",
    "pierce": "the pierces", "traverse": "the moves between contours", "marking": "the marking",
}  # fmt: skip


def _hangs_on(timing: Timing) -> str:
    """Say which term the time hangs on, where it is not plain cutting."""
    name = max(TERMS, key=lambda term: float(getattr(timing, term)))
    share = float(getattr(timing, name)) / timing.total if timing.total > 0.0 else 0.0
    if name == "cut" or share < 0.4:
        return ""
    return f"The time hangs on {TERMS[name]}: {share * 100:.0f} % of it."


# --- findings ----------------------------------------------------------------------------


def lines_of(analysis: Analysis, findings: Sequence[Finding]) -> tuple[Line, ...]:
    """Return one line for every rule, losses first."""
    by_rule: dict[str, list[Finding]] = {}
    for finding in findings:
        by_rule.setdefault(finding.rule, []).append(finding)
    lines = [_line(analysis, group) for group in by_rule.values()]
    return tuple(sorted(lines, key=lambda line: (-LEVELS.index(line.level), line.marks)))


def _line(analysis: Analysis, group: list[Finding]) -> Line:
    """Say the worst of one kind in full, and how many more there are."""
    group = sorted(group, key=lambda f: (-LEVELS.index(f.level), f.mark))
    worst = group[0]
    what = f"{_where(analysis, worst)}{shown(worst.message, 400)}"
    if len(group) > 1:
        what = f"{what} {_more(analysis, group[1:])}"
    where_else = _gases_with(analysis, worst)
    if worst.level == "loss" and worst.rule not in ABOUT_THE_EDGE and where_else:
        what = f"{what} {where_else}"
    marks = tuple(dict.fromkeys(f.mark for f in group))
    return Line(marks, worst.level, what, shown(worst.remedy, 400))


def _where(analysis: Analysis, finding: Finding) -> str:
    """Name the part, where there is more than one."""
    if finding.part is None or len(analysis.parts.parts) < 2:
        return ""
    count = next((p.count for p in analysis.parts.parts if p.id == finding.part), 1)
    return f"{finding.part} ({count} off): " if count > 1 else f"{finding.part}: "


def _more(analysis: Analysis, rest: list[Finding]) -> str:
    places = sum(f.count for f in rest)
    parts = list(dict.fromkeys(f.part for f in rest if f.part))
    on = f" on {listed(parts[:4])}" if parts and len(analysis.parts.parts) > 1 else ""
    if len(parts) > 4:
        on = f" on {len(parts)} parts"
    return f"And {places} more like it{on}, none worse."


def _gases_with(analysis: Analysis, finding: Finding) -> str:
    """Say in which gases the same place is a loss."""
    place = finding.places[:1]
    same = [
        result.gas
        for result in analysis.gases
        if any(
            f.rule == finding.rule and f.part == finding.part and f.level == "loss"
            and (not place or place[0] in f.places)
            for f in result.findings
        )
    ]  # fmt: skip
    if len(analysis.gases) < 2:
        return ""
    if len(same) == len(analysis.gases):
        return "The same in every gas."
    better = [gas_words(r.gas) for r in analysis.gases if r.gas not in same]
    return f"Not with {listed(better)}."


# --- tables ------------------------------------------------------------------------------


def _gas_rows(analysis: Analysis) -> tuple[Row, ...]:
    gases = analysis.gases
    if not gases:
        return ()

    def row(label: str, cells: Iterable[str]) -> Row:
        return Row(label, tuple(cells))

    rows = [
        row("oxygen in the gas", (f"{r.setting.oxygen_share_percent:g} %" for r in gases)),
        row("speed, m/min", (f"{r.setting.speed_m_per_min:.2f}" for r in gases)),
    ]
    if len(analysis.parts.parts) == 1 and analysis.totals.parts > 1:
        rows.append(row("time each", (span(r.evidence[0].plan.timing.total) for r in gases)))
    rows.append(row("time", (span(r.timing.total) for r in gases)))
    for name in TERMS:
        values = [float(getattr(r.timing, name)) for r in gases]
        if max(values) > 0.0:
            rows.append(row(f"  {name}", (span(value) for value in values)))
    for number, words in enumerate(
        ("no burr, m", "wipes off, m", "brush or belt, m", "grinder, m")
    ):
        if any(r.edge_m[number] > 0.0 for r in gases):
            rows.append(row(words, (f"{r.edge_m[number]:.2f}" for r in gases)))
    rows.append(row("hand work", (span(60.0 * r.rework_min) for r in gases)))
    rows.append(row("machine + hand", (span(60.0 * r.minutes) for r in gases)))
    for level in reversed(LEVELS):
        rows.append(row(level, (_count(r.findings, level) for r in gases)))
    return tuple(rows)


def _count(findings: Iterable[Finding], level: str) -> str:
    return str(sum(f.count for f in findings if f.level == level) or "-")


def _gas_notes(analysis: Analysis) -> tuple[str, ...]:
    notes = [
        f"{result.gas}: past what {analysis.job.power_kw:g} kW cuts well"
        f" ({result.setting.power_ok:g} mm; with caution to {result.setting.power_caution:g} mm)"
        for result in analysis.gases
        if not result.setting.within_power
    ]
    notes += [f"{row.gas} left out: {shown(row.reason)}" for row in analysis.left_out]
    return tuple(notes)


def _part_rows(analysis: Analysis, best: GasResult | None) -> tuple[Row, ...]:
    if len(analysis.parts.parts) < 2:
        return ()
    times = {e.part.id: span(e.plan.timing.total) for e in best.evidence} if best else {}
    kilograms = _weights(analysis)
    rows = []
    for part in analysis.parts.parts:
        hand = f"other hand of {part.other_hand_of}" if part.other_hand_of else ""
        rows.append(Row(part.id, (
            str(part.count), f"{part.width:.1f} x {part.height:.1f}", kilograms[part.id],
            f"{part.cut_length:.0f}", str(part.pierces), times.get(part.id, "-"), hand,
        )))  # fmt: skip
    return tuple(rows)


def _weights(analysis: Analysis) -> dict[str, str]:
    from analyzer.analysis import weight_of

    return {p.id: weight(weight_of(p, analysis.job)) for p in analysis.parts.parts}


# --- the drawing -------------------------------------------------------------------------


def _facts(analysis: Analysis, told: set[str]) -> tuple[str, ...]:
    """Return one line for every kind of fact that no finding has told yet."""
    by_kind: dict[str, list[str]] = {}
    for fact in (*analysis.drawing.facts, *analysis.parts.facts):
        if fact.kind not in told:
            by_kind.setdefault(fact.kind, []).append(shown(fact.message, 400))
    lines = []
    for messages in by_kind.values():
        different = list(dict.fromkeys(messages))
        more = f" (and {len(different) - 1} more like it)" if len(different) > 1 else ""
        lines.append(different[0] + more)
    return tuple(lines)


def _account(analysis: Analysis) -> str:
    account, inside = analysis.drawing.account, analysis.drawing.in_blocks
    left = account.total - account.used
    words = f"{several(account.total, 'entity').replace('entitys', 'entities')}: "
    words += f"{account.used:,} used, {left:,} ignored"
    if inside.total:
        words += f"; in blocks {inside.total:,}: {inside.used:,} used, "
        words += f"{inside.total - inside.used:,} ignored"
    return words


def _ignored(analysis: Analysis) -> tuple[str, ...]:
    rows = [(row, "") for row in analysis.drawing.account.ignored]
    rows += [(row, " in blocks") for row in analysis.drawing.in_blocks.ignored]
    return tuple(
        f"{row.count:,} {shown(row.type, 60)} on {shown(row.layer, 60)}{where}:"
        f" {shown(row.reason, 200)}"
        for row, where in rows
    )


# --- what stands behind it ---------------------------------------------------------------


def _not_checked(analysis: Analysis, advice: Advice) -> tuple[str, ...]:
    words = []
    if not analysis.job.plate_told:
        words.append("plate surface not told, taken as clean")
    if analysis.job.next_step is None:
        words.append("next step not told" + (f": {advice.next_step}" if advice.next_step else ""))
    words.append("heat along the cutting order; whether parts and slugs tip or fall")
    words.append("gas use, electricity and money")
    return tuple(words)


def _assumptions(analysis: Analysis, read: GasResult | None) -> tuple[str, ...]:
    machine, shop = analysis.shop.machine, analysis.shop
    whose = (
        "from your shop file" if shop.path else "start values, common practice, not your machine"
    )
    words = [
        f"Machine ({whose}): rapid {machine.rapid_m_per_min:g} m/min at"
        f" {machine.rapid_acceleration:g} m/s2, cutting acceleration"
        f" {machine.cut_acceleration:g} m/s2, corner tolerance {machine.corner_tolerance_mm:g} mm,"
        f" {machine.start_overhead_s:g} s per start, {machine.lift_s:g} s per lift"
    ]
    if read is not None:
        setting = read.setting
        spread = "" if setting.own_table else ", +-30 %"
        words.append(
            f"{gas_words(setting.gas).capitalize()}: {setting.speed_m_per_min:.2f} m/min"
            f" ({setting.speed_source}{spread}), kerf {setting.kerf_mm:.2f} mm,"
            f" pierce {setting.pierce_s:.2f} s, lead-in {setting.lead_mm:g} mm"
        )
    words.append(
        "Each part timed alone, times its count; hand work by rates of common practice, +-50 %"
    )
    return tuple(words)


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


def _why(read: GasResult) -> tuple[Row, ...]:
    """Return every headline number with how it was made."""
    rows = []
    for number in read.numbers:
        inputs = ", ".join(f"{name} {value}" for name, value in number.inputs)
        words = f"{number.formula}" + (f" [{inputs}]" if inputs else "")
        rows.append(Row(number.name, (
            f"{number.value:.4g} {number.unit}", shown(words, 400),
            shown(f"{number.source}; {number.sure}", 300),
        )))  # fmt: skip
    return tuple(rows)
