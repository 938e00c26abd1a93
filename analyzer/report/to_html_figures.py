"""Which pictures a page of parts shows, and which findings stand on which of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from analyzer.analysis import Analysis
from analyzer.comparison import Answer
from analyzer.report.escape import shown
from analyzer.report.marks import GasPicture, PartPicture, drawing_marks, pictures_of
from analyzer.report.to_html_edges import SCREEN, Edges, edges_of
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_html_picture import (
    Layer,
    mostly_seen,
    picture,
    rules_of,
    turn_numbers,
    turns_on,
    warm_pierces,
)
from analyzer.report.to_svg_bands import burr_edges, speed_edges
from analyzer.report.to_svg_figure import (
    LOOSE,
    MOST_SPEEDS,
    WHOLE,
    Figure,
    figures_of,
    spots_on,
    traverse_lines,
)
from analyzer.report.to_svg_marks import Spot
from analyzer.rules.rule import LEVELS
from analyzer.units import counted, span

INDEXED = 6
"""Pictures from which more they are listed with links."""


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


def pictures_on(
    answer: Answer, prefix: str = "", elsewhere: Mapping[str, frozenset[int]] | None = None,
    *, beside: int | None = None, names: Mapping[str, str] | None = None,
) -> Pictures:  # fmt: skip
    """Return the pictures of all parts, and of the whole drawing where something is beside them.

    Parameters
    ----------
    answer : Answer
        What is known and advised.
    prefix : str
        Put before every key, where one page holds several answers.
    elsewhere : mapping of str to frozenset of int, optional
        Marks that stand on pictures of sheets, by gas.
    beside : int, optional
        How many pictures stand beside each; the more, the smaller they are.
    names : mapping of str to str, optional
        What parts are called instead of by their id.
    """
    analysis = answer.analysis
    gases = {one.gas: one for one in pictures_of(answer)}
    by_gas = {gas: one.marks for gas, one in gases.items()} or {"": drawing_marks(answer)}
    away = elsewhere or {}
    by_gas = {
        gas: tuple(mark for mark in marks if mark.number not in away.get(gas, ()))
        for gas, marks in by_gas.items()
    }
    figures, left = figures_of(analysis, list(by_gas.values()))
    figures = [_called(figure, prefix, names or {}) for figure in figures]
    spots = {gas: spots_on(marks, figures) for gas, marks in by_gas.items()}
    near = len(figures) - 1 if beside is None else beside
    drawn = []
    for figure in figures:
        shared = _shared(figure, gases, near)
        layers = {
            f"{prefix}{gas}": _layer(
                figure,
                gases.get(gas),
                spots[gas].get(figure.id, []),
                shared.bands[gas] if shared else None,
                near,
            )
            for gas in by_gas
        }
        back = (
            el(
                "span",
                ", ",
                el("a", "to the list of parts", href=f"#{prefix}parts"),
                class_="clicked",
            )
            if len(figures) > INDEXED
            else None
        )
        told = {key: layer.turns for key, layer in layers.items()}
        words = _words(figure, analysis, prefix, back, told)
        pic = picture(figure, layers, beside=near, shared=shared)
        drawn.append(el("figure", pic, words, id=f"part-{figure.key}"))
    marked = {
        gas: frozenset(spot.number for rows in of_gas.values() for spot in rows)
        | away.get(gas, frozenset())
        for gas, of_gas in spots.items()
    }
    note = el("p", f"{counted(left, 'part')} more without a picture, those with least found.",
              class_="small soft") if left else None  # fmt: skip
    rules = "\n".join(rules_of(figure, near) for figure in figures)
    return Pictures(tuple(figures), tuple(drawn), rules, marked, note)


def _called(figure: Figure, prefix: str, names: Mapping[str, str]) -> Figure:
    """Return a picture with its key and name as this page has them."""
    name = names.get(figure.id)
    title = figure.title.replace(shown(figure.id), name, 1) if name else figure.title
    return replace(figure, key=f"{prefix}{figure.key}", title=title)


def _shared(figure: Figure, gases: Mapping[str, GasPicture], near: int) -> Edges | None:
    """Return the lines of a part, shared by all gases; None where it is no part of each."""
    several = {gas: _part_in(one, figure.id) for gas, one in gases.items()}
    parts = [one.part for one in several.values() if one is not None]
    if figure.id == WHOLE or not parts or len(parts) < len(several):
        return None
    runs = {gas: one.runs for gas, one in several.items() if one is not None}
    return edges_of(figure, parts[0], runs, mostly_seen(figure, near))


def _part_in(gas: GasPicture, name: str) -> PartPicture | None:
    return next((part for part in gas.parts if part.part.id == name), None)


def _layer(
    figure: Figure, gas: GasPicture | None, spots: list[Spot], bands: Raw | None, near: int
) -> Layer:  # fmt: skip
    """Return what a gas puts on a picture; on the whole drawing the loose lines."""
    one = _part_in(gas, LOOSE if figure.id == WHOLE else figure.id) if gas else None
    if one is None:
        return Layer(Raw(""), spots, Raw(""), Raw(""), Raw(""), Raw(""))
    seen = mostly_seen(figure, near)
    places, frame = one.pierces[one.order], figure.frame
    edges = burr_edges(one.runs, frame, wider=SCREEN) if bands is None else bands
    speed, warm = Raw(""), Raw("")
    if len(one.contours) <= MOST_SPEEDS:
        speed = speed_edges(one.speed_runs, frame, wider=SCREEN, points=seen / frame.width)
    if one.pierce_rises is not None:
        warm = warm_pierces(one.pierces, one.pierce_rises, figure, near)
    turns = turns_on(places, figure, near)
    way, numbers = traverse_lines(places, frame), turn_numbers(turns, places, frame)
    return Layer(edges, spots, way, numbers, speed, warm, turns.words)


def index_of(pictures: Pictures, analysis: Analysis, prefix: str = "") -> Raw | None:
    """Return links to all pictures with their worst level in any gas; None where they are few."""
    if len(pictures.figures) <= INDEXED:
        return None
    worst: dict[str, int] = {}
    for finding in (finding for result in analysis.gases for finding in result.findings):
        name = finding.part or ""
        worst[name] = max(worst.get(name, 0), LEVELS.index(finding.level))
    items = []
    for figure in pictures.figures:
        level = LEVELS[worst[figure.id]] if figure.id in worst else ""
        name = figure.title.split(", ")[0]
        told = f" {level}" if level in ("rework", "loss") else None
        items.append(el("li", el("a", name, href=f"#part-{figure.key}"), told))
    return el("nav", el("h2", "List of parts"), el("ul", *items, class_="plain parts small"),
              id=f"{prefix}parts", tabindex="-1", aria_label="Parts")  # fmt: skip


def _words(
    figure: Figure, analysis: Analysis, prefix: str, back: Raw | None, turns: Mapping[str, str]
) -> Raw:
    """Return what stands below a picture: its title, its size, its time in the gas chosen.

    `turns` says by key of the gas which numbers of the order of cuts are on it.
    """
    times = []
    for result in analysis.gases:
        one = next((one for one in result.evidence if one.part.id == figure.id), None)
        if one is not None and one.part.count * len(analysis.parts.parts) > 1:
            words = f", {span(one.plan.timing.total)} each"
            times.append(el("span", words, class_=f"in in-{prefix}{result.gas}"))
    return el("figcaption", el("b", figure.title), ". " if figure.caption else None,
              figure.caption, together(*times), back,
              *turns_told(turns))  # fmt: skip


def turns_told(turns: Mapping[str, str]) -> list[Raw]:
    """Return which numbers of the order of cuts stand on a picture, by key of the gas."""
    return [
        el("span", el("span", f"; numbered: {words}", class_="order"), class_=f"in in-{key}")
        for key, words in turns.items()
        if words
    ]
