"""Tables of the page: the gases side by side, the parts, the numbers behind."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from analyzer.analysis import Analysis, GasResult, weight_of
from analyzer.parts.part import Part
from analyzer.reasons import by_hand, span, spoken
from analyzer.report.escape import shown
from analyzer.report.wording import TERMS, weight
from analyzer.rules.rule import LEVELS, Finding

MOST_PARTS = 12
PART_COLUMNS = ("part", "off", "size mm", "weight", "cut mm", "pierces", "each")


@dataclass(frozen=True)
class Row:
    """One row of a table: label and one cell a column."""

    label: str
    cells: tuple[str, ...]


def gas_rows(analysis: Analysis) -> tuple[Row, ...]:
    gases = analysis.gases
    if not gases or not analysis.totals.contours:
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
        if any(r.edge_m[number] >= 0.005 for r in gases):
            rows.append(row(words, (f"{r.edge_m[number]:.2f}" for r in gases)))
    if any(r.rework_min > 0.0 for r in gases):
        rows.append(row("hand work", (by_hand(60.0 * r.rework_min) for r in gases)))
        rows.append(row("machine + hand", (span(60.0 * r.minutes) for r in gases)))
    for level in reversed(LEVELS):
        rows.append(row(f"places of {level}", (_count(r.findings, level) for r in gases)))
    return tuple(rows)


def _count(findings: Iterable[Finding], level: str) -> str:
    return str(sum(f.count for f in findings if f.level == level) or "-")


def gas_notes(analysis: Analysis) -> tuple[str, ...]:
    notes = [
        f"{spoken(result.gas)}: past what {analysis.job.power_kw:g} kW cuts well"
        f" ({result.setting.power_ok:g} mm; with caution to {result.setting.power_caution:g} mm)"
        for result in analysis.gases
        if not result.setting.within_power
    ]
    notes += [f"{row.gas} left out: {shown(row.reason)}" for row in analysis.left_out]
    return tuple(notes)


def shown_parts(analysis: Analysis) -> list[Part]:
    """Return the parts of the table in their order; the largest where they are many."""
    parts = analysis.parts.parts
    by_size = sorted(range(len(parts)), key=lambda n: -parts[n].count * parts[n].cut_length)
    return [parts[n] for n in sorted(by_size[:MOST_PARTS])]


def part_notes(analysis: Analysis) -> tuple[str, ...]:
    """Say how many parts the table leaves out."""
    more = len(analysis.parts.parts) - MOST_PARTS
    return (f"and {more} more, with less to cut; all stand in --format json",) if more > 0 else ()


def part_rows(analysis: Analysis, best: GasResult | None) -> tuple[Row, ...]:
    if len(analysis.parts.parts) < 2:
        return ()
    times = {e.part.id: span(e.plan.timing.total) for e in best.evidence} if best else {}
    rows = []
    for part in shown_parts(analysis):
        hand = f"other hand of {part.other_hand_of}" if part.other_hand_of else ""
        rows.append(Row(part.id, (
            str(part.count), f"{part.width:.1f} x {part.height:.1f}",
            weight(weight_of(part, analysis.job)), f"{part.cut_length:.0f}",
            str(part.pierces), times.get(part.id, "-"), hand,
        )))  # fmt: skip
    return tuple(rows)


def why_rows(read: GasResult) -> tuple[Row, ...]:
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
