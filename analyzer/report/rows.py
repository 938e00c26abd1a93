"""Tables of the page: the gases side by side, the parts, the numbers behind."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from analyzer.analysis import Analysis, GasResult, weight_of
from analyzer.comparison import Advice
from analyzer.money import Bill, prices_used
from analyzer.motion.plan import Timing
from analyzer.parts.part import Part
from analyzer.process.flow import range_words
from analyzer.process.rates import GAS_KEYS, Price, Rates
from analyzer.reasons import TERM_WORDS, listed, spoken
from analyzer.report.escape import shown
from analyzer.report.wording import TERM_LABELS, weight
from analyzer.rules.rule import LEVELS
from analyzer.units import by_hand, span

MOST_PARTS = 12
PART_COLUMNS = ("part", "off", "as drawn mm", "weight", "cut mm", "pierces", "each")


@dataclass(frozen=True)
class Row:
    """One row of a table: label and one cell a column; `term` of the time split, if it is one."""

    label: str
    cells: tuple[str, ...]
    term: str = ""


def gas_rows(analysis: Analysis, *, full: bool = False) -> tuple[Row, ...]:
    """Return the gases side by side; with `full` gas, electricity and the split of the money."""
    gases = analysis.gases
    if not gases or not analysis.totals.contours:
        return ()

    def row(label: str, cells: Iterable[str]) -> Row:
        return Row(label, tuple(cells))

    rows = [
        row("oxygen in the gas", (f"{r.setting.oxygen_share_percent:.3g} %" for r in gases)),
        row("speed, m/min", (f"{r.setting.speed_m_per_min:.2f}" for r in gases)),
    ]
    if len(analysis.parts.parts) == 1 and analysis.totals.parts > 1:
        rows.append(row("time each", (span(r.evidence[0].plan.timing.total) for r in gases)))
    rows.append(row("time", (span(r.timing.total) for r in gases)))
    rows += term_rows(r.timing for r in gases)
    if any(r.fly_s > 0.0 for r in gases):
        rows.append(row("time with fly cutting", (span(r.timing.total - r.fly_s) for r in gases)))
    for number, words in enumerate(
        ("no burr, m", "wipes off, m", "brush or belt, m", "grinder, m")
    ):
        if any(r.edge_m[number] >= 0.005 for r in gases):
            rows.append(row(words, (f"{r.edge_m[number]:.2f}" for r in gases)))
    if any(r.rework_min > 0.0 for r in gases):
        rows.append(row("hand work", (by_hand(60.0 * r.rework_min) for r in gases)))
        rows.append(row("machine + hand", (span(60.0 * r.minutes) for r in gases)))
    if full:
        rows.append(row("gas, Nm3", (quantity(r.gas_nm3.total_nm3) for r in gases)))
        rows.append(row("electricity, kWh", (quantity(r.energy_kwh) for r in gases)))
    rows += [row(label, cells) for label, cells in _money_cells(analysis, full=full)]
    for level in reversed(LEVELS):
        rows.append(row(f"places of {level}", (places_words(r, level) for r in gases)))
    return tuple(rows)


def term_rows(timings: Iterable[Timing]) -> list[Row]:
    """Return where the time goes, term by term, one column a timing; terms that are 0 left out."""
    shown, columns = [], list(timings)
    for term, label in TERM_LABELS.items():
        values = [float(getattr(timing, term)) for timing in columns]
        if max(values) > 0.0:
            shown.append(Row(f"  {label}", tuple(map(span, values)), term))
    return shown


def quantity(value: float) -> str:
    """Return a quantity with three digits that count, never in powers of ten."""
    return f"{value:.0f}" if value >= 99.5 else f"{value:#.3g}"


def _money_cells(analysis: Analysis, *, full: bool) -> Iterator[tuple[str, list[str]]]:
    """Yield the cost of every gas, and its terms where asked for."""
    rates = analysis.shop.rates
    costs = [result.cost for result in analysis.gases if result.cost is not None]
    if rates is None or len(costs) != len(analysis.gases):
        return
    # to the cent up to a hundred: a difference of 0.71 must not hide in "10" and "11"
    digits = 2 if max(cost.total for cost in costs) < 100.0 else 0
    yield f"cost, {shown(rates.currency, 8)}", [f"{cost.total:,.{digits}f}" for cost in costs]
    for term, words in TERM_WORDS.items():
        values = [float(getattr(cost, term)) for cost in costs]
        if full and max(values) >= 0.005:
            yield f"  {words}", [f"{value:,.{digits}f}" for value in values]


def price_notes(analysis: Analysis) -> tuple[str, ...]:
    """Say the supplies assumed and the prices that are not the shop's own."""
    rates = analysis.shop.rates
    bills = [result.bill for result in analysis.gases if result.bill is not None]
    return () if rates is None or not bills else notes_of_prices(rates, bills)


def notes_of_prices(
    rates: Rates, bills: Sequence[Bill], *, of_the_gas: bool = False
) -> tuple[str, ...]:
    """Say the supplies assumed and the typical prices among those that `bills` are charged at.

    With `of_the_gas` only what the choice of gas can change: neither plate nor unloading.
    """
    used = [gas for gas in GAS_KEYS if any(bill.use.of(gas) > 0.0 for bill in bills)]
    prices = {gas: rates.price(GAS_KEYS[gas]) for gas in used}
    gas = ", ".join(
        f"{name} {price.value:g} ({rates.supply(name)}{'' if price.told else ', typical'})"
        for name, price in prices.items()
    )
    words = [f"gas prices, {shown(rates.currency, 8)}/Nm3: {gas}"]
    other: dict[str, Price] = {}
    for bill in bills:
        other |= prices_used(bill, rates)
    typical = [
        f"{key} {price.value:g}"
        for key, price in other.items()
        if not price.told
        and key not in GAS_KEYS.values()
        and not (of_the_gas and (key == "unloading_min_per_part" or key.endswith("_per_kg")))
    ]
    if typical:
        words.append(f"typical, not yours: {', '.join(typical)}")
    return tuple(words)


def places_in_all(result: GasResult, level: str) -> int:
    """Return the places of one level on all copies: a finding of a part counts those of one."""
    copies = {one.part.id: one.part.count for one in result.evidence}
    return sum(
        f.count * (copies.get(f.part, 1) if f.part is not None else 1)
        for f in result.findings
        if f.level == level
    )


def places_words(result: GasResult, level: str) -> str:
    """Return the places of one level as a table tells them."""
    places = places_in_all(result, level)
    return f"{places:,}" if places else "-"


def gas_notes(analysis: Analysis) -> tuple[str, ...]:
    notes = [
        f"{spoken(result.gas)}: past what {analysis.job.power_kw:g} kW cuts well"
        f" ({result.setting.power_ok:g} mm; with caution to {result.setting.power_caution:g} mm)"
        for result in analysis.gases
        if result.setting.power_level != "ok"
    ]
    notes += [
        f"{spoken(result.gas)}: {result.setting.supplied_bar:g} bar at the head,"
        f" {result.setting.pressure_bar:.3g} bar wanted"
        for result in analysis.gases
        if result.setting.pressure_level != "ok"
    ]
    notes += [f"{row.gas} left out: {shown(row.reason)}" for row in analysis.left_out]
    return tuple(notes)


def nozzle_notes(analysis: Analysis) -> tuple[str, ...]:
    """Say of which gases the nozzle is a range, and how the gas is counted.

    Not of oxygen, of which a job takes little.
    """
    standoff = analysis.shop.machine.standoff_mm
    found: dict[str, list[str]] = {}
    for result in analysis.gases:
        said = range_words(result.setting, standoff)
        if said and result.gas != "oxygen":
            found.setdefault(f"nozzle {result.setting.nozzle}, {said}", []).append(result.gas)
    return tuple(f"{listed(map(spoken, gases))}: {said}" for said, gases in found.items())


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


def turn_rows(advice: Advice) -> tuple[Row, ...]:
    """Return every break-even, the nearest first."""
    return tuple(
        Row("break-even", (
            f"{point.at:.4g} {point.unit}",
            shown(f"{point.input}, now {point.value:.4g} {point.unit}: {point.words}", 300),
            f"{point.far:.1f} times its spread away",
        ))
        for point in advice.break_evens
    )  # fmt: skip


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
