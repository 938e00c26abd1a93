"""Choosing a gas, and the gases side by side: times as numbers and as bars, edges, findings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Answer
from analyzer.reasons import Key, losses, losses_in_every_gas, spoken
from analyzer.report.along import SLOW_SHARES
from analyzer.report.rows import Row
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_html_picture import edge_sample, speed_sample
from analyzer.report.to_svg_figure import MOST_SPEEDS
from analyzer.report.view import View
from analyzer.rules.rule import LEVELS, Finding
from analyzer.units import counted, span

STATES = {"rework": "caution", "loss": "not advisable"}
"""How far a gas can be advised by its worst finding; else "ok"."""

MEND = "mend first"
"""The same where the worst is a loss that no choice of gas avoids."""

EDGE_WORDS = ("no burr", "wipes off", "brush or belt", "grinder")


def choice(answer: Answer, prefix: str = "") -> Raw:
    """Return the radio buttons, each with its gas in three lines."""
    analysis, advice = answer.analysis, answer.advice
    everywhere = losses_in_every_gas(analysis.gases)
    first = advice.gas or analysis.gases[0].gas
    cards = []
    for result in analysis.gases:
        advised = ", advised" if result.gas == advice.gas else ""
        cards.append(el(
            "label",
            el("input", type="radio", name=f"{prefix}gas", id=f"gas-{prefix}{result.gas}",
               value=result.gas,
               checked=result.gas == first),
            el("b", spoken(result.gas)), el("span", f"{span(result.timing.total)}{advised}"),
            *(el("span", el("strong", state), f": {reason}" if reason else None)
              for state, reason in _state(result, everywhere)),
        ))  # fmt: skip
    return el(
        "fieldset",
        el(
            "legend",
            el("span", "Look at it in", class_="clicked"),
            el("span", "The gases in short", class_="printed"),
        ),
        el("div", *cards, class_="gases"),
    )


def shows() -> Raw:
    """Return the switch between what is found and the order of cuts, for all pictures."""
    return el(
        "fieldset", el("legend", "On the picture", class_="small"),
        el("label", el("input", type="radio", name="show", id="show-marks", checked=True),
           " what is found", class_="switch"),
        el("label", el("input", type="radio", name="show", id="show-order"),
           " order of cuts", class_="switch"),
        el("label", el("input", type="radio", name="show", id="show-speed"),
           " local speed", class_="switch"),
        el("label", el("input", type="radio", name="show", id="show-warm"),
           " heat at the pierces", class_="switch"),
        class_="shows",
    )  # fmt: skip


def _state(result: GasResult, everywhere: set[Key]) -> list[tuple[str, str]]:
    """Return how far a gas can be advised and why: losses it shares with all, its own worst."""
    shared = [f for f in result.findings if f.level == "loss" and losses([f]) <= everywhere]
    own = [f for f in result.findings if f.level != "note" and f not in shared]
    states = []
    if shared:
        states.append((MEND, f"{_worst(shared)}, in every gas"))
    if own:
        worst = max(own, key=lambda f: LEVELS.index(f.level))
        states.append((STATES[worst.level], _worst(own)))
    return states or [("ok", "")]


def _worst(findings: Sequence[Finding]) -> str:
    """Return the rule and the number of places of the worst of some findings."""
    worst = max(findings, key=lambda f: (LEVELS.index(f.level), f.count))
    places = f", {counted(worst.count, 'place')}" if worst.count > 1 else ""
    return f"{worst.rule.replace('-', ' ')}{places}"


def edge_key(analysis: Analysis, prefix: str = "") -> Raw:
    """Return the key to the edges: a sample of every class there is, and its metres."""
    keys = []
    for result in analysis.gases:
        samples = [
            el("span", edge_sample(burr), f" {EDGE_WORDS[burr]} {metres:.2f} m")
            for burr, metres in enumerate(result.edge_m)
            if metres >= 0.005
        ]
        keys.append(el(
            "div", el("p", "Edge: ", *samples, class_="key small found"), _speed_key(result),
            _warm_key(result), class_=f"in in-{prefix}{result.gas}",
        ))  # fmt: skip
    return together(*keys)


def _speed_key(result: GasResult) -> Raw:
    """Return the key to local speeds."""
    table = result.evidence[0].setting.speed_m_per_min if result.evidence else 0.0
    words = [f"from {100 * SLOW_SHARES[0]:.0f} % of {table:.3g} m/min up"]
    words += [f"below {100 * share:.0f} %" for share in SLOW_SHARES]
    samples = [el("span", speed_sample(k), f" {told}") for k, told in enumerate(words)]
    more = any(len(one.part.contours) > MOST_SPEEDS for one in result.evidence)
    note = f"Not drawn on parts of more than {MOST_SPEEDS:,} contours." if more else None
    return el("p", "Speed of the head: ", *samples, note, class_="key small speed")


def _warm_key(result: GasResult) -> Raw:
    """Return what the heat at the pierces means, or why there is none."""
    rises = [one.heat.field.pierces for one in result.evidence if one.heat and one.heat.field]
    if not rises:
        words = f"In {spoken(result.gas)} heat decides nothing and is not followed."
    else:
        most = max(float(rise.max(initial=0.0)) for rise in rises)
        words = (
            "How much warmer than at the start the plate is as the beam comes on:"
            f" up to {most:.0f} K."
        )
    return el("p", words, class_="key small warm")


# --- the table of gases ------------------------------------------------------------------


def gas_table(
    analysis: Analysis, words: View, prefix: str = "", heading: str = "Gases, all parts"
) -> Raw | None:
    """Return the gases side by side, the split of the time as bars."""
    notes = [el("li", note) for note in words.gas_notes]
    title = el("h2", heading)
    below = el("ul", *notes, class_="plain small") if notes else None
    if not words.gas_rows:
        return el("section", title, below) if notes else None
    longest = max(result.timing.total for result in analysis.gases)
    head = el("tr", el("td"), *(
        el("th", spoken(gas), scope="col", class_=f"of-{prefix}{gas}") for gas in words.gases
    ))  # fmt: skip
    body = [
        _row(row, [f"{prefix}{gas}" for gas in words.gases], _seconds(row, analysis), longest)
        for row in words.gas_rows
    ]
    table = el(
        "table", el("caption", "Bars: seconds, all to one scale", class_="small"),
        el("thead", head), el("tbody", *body), class_="gas-table",
    )  # fmt: skip
    return el(
        "section", title,
        el("div", table, class_="wide", tabindex="0", role="region", aria_label="Table of gases"),
        below,
    )  # fmt: skip


def _seconds(row: Row, analysis: Analysis) -> list[float] | None:
    """Return the seconds of a row of the time split, None for other rows."""
    if row.label == "time":
        return [result.timing.total for result in analysis.gases]
    if row.term:
        return [float(getattr(result.timing, row.term)) for result in analysis.gases]
    return None


def _row(row: Row, keys: Iterable[str], seconds: list[float] | None, longest: float) -> Raw:
    cells = []
    for number, (key, words) in enumerate(zip(keys, row.cells, strict=True)):
        bar = _bar(seconds[number], longest) if seconds and longest > 0.0 else None
        cells.append(el("td", words, bar, class_=f"of-{key}"))
    kind = "sum" if row.label == "time" else "term" if row.label.startswith("  ") else None
    return el("tr", el("th", row.label.strip(), scope="row"), *cells, class_=kind)


def _bar(value: float, longest: float) -> Raw:
    return el(
        "svg", el("rect", width=f"{100.0 * value / longest:.3f}%", height="5"), class_="bar",
        height="5", aria_hidden="true", data_s=f"{value:.4f}",
    )  # fmt: skip
