"""Which pictures a page of parts shows, and which findings stand on which of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from analyzer.analysis import Analysis, GasResult, weight_of
from analyzer.effects.evidence import Evidence
from analyzer.parts.part import Part
from analyzer.reasons import span
from analyzer.report.escape import shown
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_html_picture import Layer, picture, rules_of
from analyzer.report.to_svg_figure import WHOLE, Figure, figure_of_drawing, figure_of_part
from analyzer.report.to_svg_marks import Spot
from analyzer.report.wording import several, weight
from analyzer.rules.rule import LEVELS, Finding

MOST_FIGURES = 60


@dataclass(frozen=True)
class Pictures:
    """The pictures of a page.

    Attributes
    ----------
    figures : tuple of Figure
        What they show.
    drawn : tuple of Raw
        Their markup.
    rules : str
        Their style rules.
    marked : dict of str to frozenset of int
        Numbers that stand on a picture, by gas.
    note : Raw or None
        What is not shown.
    """

    figures: tuple[Figure, ...]
    drawn: tuple[Raw, ...]
    rules: str
    marked: dict[str, frozenset[int]]
    note: Raw | None


def pictures_of(analysis: Analysis) -> Pictures:
    """Return the pictures of all parts, and of the whole drawing where something is beside them."""
    by_gas: dict[str, Iterable[Finding]] = {r.gas: r.findings for r in analysis.gases}
    by_gas = by_gas or {"": analysis.on_drawing}
    shown_parts, left = _chosen(analysis, by_gas)
    figures = [figure_of_part(part, _caption(part, analysis)) for part in shown_parts]
    spots = {gas: _spots(findings, figures) for gas, findings in by_gas.items()}
    beside = [spot for of_gas in spots.values() for spot in of_gas.get(WHOLE, ())]
    if beside or not figures or len(analysis.parts.loose):
        places = np.array([(spot.x, spot.y) for spot in beside]).reshape(-1, 2)
        figures.append(figure_of_drawing(analysis, places))
    drawn = []
    for figure in figures:
        layers = {
            gas: _layer(figure, analysis.under(gas), spots[gas].get(figure.id, []))
            for gas in by_gas
        }
        drawn.append(el("figure", picture(figure, layers, small=len(figures) > 1),
                        _words(figure, analysis)))  # fmt: skip
    marked = {
        gas: frozenset(spot.number for rows in of_gas.values() for spot in rows)
        for gas, of_gas in spots.items()
    }
    note = el("p", f"{several(left, 'part')} more without a picture, those with least found.",
              class_="small soft") if left else None  # fmt: skip
    return Pictures(tuple(figures), tuple(drawn), "\n".join(map(rules_of, figures)), marked, note)


def _chosen(
    analysis: Analysis, by_gas: dict[str, Iterable[Finding]]
) -> tuple[list[Part], int]:  # fmt: skip
    """Return the parts to show, in their order: where there are many, those with most found."""
    parts = list(analysis.parts.parts)
    if len(parts) <= MOST_FIGURES:
        return parts, 0
    weights = dict.fromkeys((part.id for part in parts), 0)
    for findings in by_gas.values():
        for f in findings:
            if f.part in weights:
                weights[f.part] += 100 ** LEVELS.index(f.level)
    by_weight = sorted(range(len(parts)), key=lambda n: -weights[parts[n].id])
    kept = sorted(by_weight[:MOST_FIGURES])
    return [parts[n] for n in kept], len(parts) - len(kept)


def _spots(findings: Iterable[Finding], figures: list[Figure]) -> dict[str, list[Spot]]:
    """Return the places of all findings by picture; the first place of every mark is marked so."""
    known = {figure.id for figure in figures}
    rows: dict[str, list[Spot]] = {}
    seen: set[int] = set()
    ordered = sorted(findings, key=lambda f: (-LEVELS.index(f.level), f.mark))
    for f in ordered:
        words = shown(f.message, 160)
        for x, y in f.places:
            where = f.part if f.part in known else _around(x, y, figures)
            rows.setdefault(where or WHOLE, []).append(
                Spot(x, y, f.level, f.mark, words, f.mark not in seen)
            )
            seen.add(f.mark)
    return rows


def _around(x: float, y: float, figures: list[Figure]) -> str:
    """Return the smallest picture that holds a place, else that of the whole drawing."""
    holding = [
        figure for figure in figures
        if 0.0 <= figure.frame.share(x, y)[0] <= 1.0 and 0.0 <= figure.frame.share(x, y)[1] <= 1.0
    ]  # fmt: skip
    least = min(holding, key=lambda f: f.frame.width * f.frame.height, default=None)
    return least.id if least else WHOLE


def _layer(figure: Figure, result: GasResult | None, spots: list[Spot]) -> Layer:
    one = _evidence(figure, result)
    if one is None:
        return Layer(Raw(""), spots, Raw(""), Raw(""))
    return Layer(Raw(""), spots, Raw(""), Raw(""))


def _evidence(figure: Figure, result: GasResult | None) -> Evidence | None:
    if result is None:
        return None
    return next((one for one in result.evidence if one.part.id == figure.id), None)


def _caption(part: Part, analysis: Analysis) -> str:
    return (
        f"{several(part.pierces, 'pierce')}, {part.cut_length:,.0f} mm of cut,"
        f" {weight(weight_of(part, analysis.job))}"
    )


def _words(figure: Figure, analysis: Analysis) -> Raw:
    """Return what stands below a picture: its title, its size, its time in the gas chosen."""
    times = []
    for result in analysis.gases:
        one = _evidence(figure, result)
        if one is not None and one.part.count * len(analysis.parts.parts) > 1:
            words = f", {span(one.plan.timing.total)} each"
            times.append(el("span", words, class_=f"in in-{result.gas}"))
    return el("figcaption", el("b", figure.title), ". " if figure.caption else None,
              figure.caption, together(*times))  # fmt: skip
