"""Packings made better: other orders and ways to lay, and the worst sheets laid again.

Every round depends on the seed, the parts and the best packing before it, never on the
clock, and is kept only where it is better.  So more effort goes through the same rounds and
further, and never ends worse.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.packing.demand import Demand
from analyzer.packing.place import (
    CARES,
    WEIGHTS,
    Filled,
    Recipe,
    Shop,
    Work,
    badness,
    metal,
    reach,
    solve,
    taken,
)

RATE = 2.5e9
"""Work that counts as one second of effort: about what one core of an office computer does."""

HARD_STOP = 4.0
"""Processor seconds, as a multiple of the effort asked for, after which the clock ends the search
and the answer says so."""

ALL = 1 << 30


@dataclass(frozen=True)
class Effort:
    """What was spent.

    Attributes
    ----------
    asked_s : float
        Effort asked for. [s]
    rounds : int
        Packings tried.
    work : int
        Grid cells read and written.
    stopped_by_clock : bool
        The machine was so slow that the clock ended it: another run may give another packing.
    """

    asked_s: float
    rounds: int
    work: int
    stopped_by_clock: bool


@dataclass(frozen=True)
class Ask:
    """What is wanted, for all rounds alike.

    Attributes
    ----------
    demands : sequence of Demand
    counts : sequence of int or None
        Sheets of every kind.
    spans : tuple of (float, float, float)
        Metal of one [mm^2], long and short side of its box [mm], of every demand.
    """

    demands: Sequence[Demand]
    counts: Sequence[int | None]
    spans: tuple[tuple[float, float, float], ...]


Score = tuple[float, ...]


def score(shop: Shop, ask: Ask, sheets: Sequence[Filled]) -> Score:
    """Return how bad a packing is; less is better.

    Metal not laid by falling priority, then metal of the sheets used, their number, how badly
    parts lie by their ranks, and how far along the sheet the last one is used.
    """
    left = [d.quantity for d in ask.demands]
    for sheet in sheets:
        used = taken(shop, sheet.laid, len(left))
        left = [have - sheet.copies * need for have, need in zip(left, used, strict=True)]
    levels = sorted({d.priority for d in ask.demands}, reverse=True)
    missing = [
        sum(
            many * span[0]
            for many, span, d in zip(left, ask.spans, ask.demands, strict=True)
            if d.priority == level
        )
        for level in levels
    ]
    area = sum(shop.areas[sheet.kind] * sheet.copies for sheet in sheets)
    last = min((reach(shop, sheet.laid) for sheet in sheets), default=0.0)
    number = float(sum(s.copies for s in sheets))
    bad = sum(s.copies * badness(shop, s.laid) for s in sheets)
    return (*missing, round(area, 3), number, round(bad, 6), round(last, 3))


def first_recipe(ask: Ask) -> Recipe:
    """Return large parts first, those of high priority before all others."""
    order = sorted(
        range(len(ask.demands)), key=lambda i: (-ask.demands[i].priority, -ask.spans[i][0], i)
    )
    return Recipe(tuple((i, ALL) for i in order))


def improved(
    shop: Shop, ask: Ask, effort_s: float, seed: int, work: Work
) -> tuple[list[Filled], Effort]:
    """Return the best packing found within the effort.

    Parameters
    ----------
    shop : Shop
    ask : Ask
    effort_s : float
        0: the first packing as it comes. [s]
    seed : int
        Of the orders tried.
    work : Work
        What was spent before; more is added.
    """
    began = time.process_time()
    quantities = [d.quantity for d in ask.demands]
    recipe = first_recipe(ask)
    best = solve(shop, quantities, ask.counts, recipe, work)
    least = score(shop, ask, best)
    choosy = len({shape.rank for shape in shop.shapes}) > 1
    if choosy:  # the good ways first: taken where that costs no sheet
        careful = replace(recipe, care=CARES[-1])
        trial = solve(shop, quantities, ask.counts, careful, work)
        if score(shop, ask, trial) < least:
            best, least, recipe = trial, score(shop, ask, trial), careful
    rng = np.random.default_rng(seed)
    rounds, clock = 1, False
    budget = work.done + effort_s * RATE
    while work.done < budget and any(quantities):
        clock = time.process_time() - began > HARD_STOP * effort_s + 2.0
        if clock:
            break
        trial_recipe = _varied(ask, recipe, rng, len(shop.fields))
        if choosy:
            trial_recipe = replace(trial_recipe, care=CARES[int(rng.integers(len(CARES)))])
        again = len(best) > 1 and rng.random() < 0.6
        if again:
            kept, left, counts = _without_worst(shop, ask, best, rng)
            trial = kept + solve(shop, left, counts, trial_recipe, work)
        else:
            trial = solve(shop, quantities, ask.counts, trial_recipe, work)
        work.add(0, 50)
        rounds += 1
        value = score(shop, ask, trial)
        if value < least:
            best, least = merged(trial), value
            if not again:
                recipe = trial_recipe
    return best, Effort(effort_s, rounds, work.done, clock)


def merged(sheets: Sequence[Filled]) -> list[Filled]:
    """Return sheets laid alike as copies of one."""
    found: dict[tuple[int, tuple[tuple[int, int, int], ...]], int] = {}
    for sheet in sheets:
        key = (sheet.kind, sheet.laid)
        found[key] = found.get(key, 0) + sheet.copies
    return [Filled(kind, copies, laid) for (kind, laid), copies in found.items()]


def _without_worst(
    shop: Shop, ask: Ask, sheets: list[Filled], rng: np.random.Generator
) -> tuple[list[Filled], list[int], list[int | None]]:
    """Take the emptiest sheets out again: what is kept, parts to lay, sheets to be had."""
    use = [metal(shop, s.laid) / shop.areas[s.kind] for s in sheets]
    order = sorted(range(len(sheets)), key=lambda i: use[i] * rng.uniform(0.85, 1.0))
    out = set(order[: int(rng.integers(2, 4))])
    kept = [sheet for i, sheet in enumerate(sheets) if i not in out]
    left = [d.quantity for d in ask.demands]
    counts = list(ask.counts)
    for sheet in kept:
        used = taken(shop, sheet.laid, len(left))
        left = [have - sheet.copies * need for have, need in zip(left, used, strict=True)]
        have = counts[sheet.kind]
        counts[sheet.kind] = None if have is None else have - sheet.copies
    return kept, left, counts


def _varied(ask: Ask, recipe: Recipe, rng: np.random.Generator, kinds: int) -> Recipe:
    """Another recipe: a new order by size with some luck, or the best one with lots moved."""
    if rng.random() < 0.5:
        lots = _by_size(ask, rng)
    else:
        lots = list(recipe.lots)
        for _ in range(int(rng.integers(1, 4))):
            moved = lots.pop(int(rng.integers(len(lots))))
            lots.insert(int(rng.integers(len(lots) + 1)), moved)
    if rng.random() < 0.4 and lots:  # part of one lot earlier
        demand = lots[int(rng.integers(len(lots)))][0]
        many = int(rng.integers(1, max(ask.demands[demand].quantity, 1) + 1))
        lots.insert(int(rng.integers(len(lots) + 1)), (demand, many))
    present = {demand for demand, most in lots if most == ALL}
    lots += [(d, ALL) for d in range(len(ask.demands)) if d not in present]
    if len({d.priority for d in ask.demands}) > 1 and rng.random() < 0.5:
        lots.sort(key=lambda lot: -ask.demands[lot[0]].priority)
    order = None
    if kinds > 1 and rng.random() < 0.5:
        order = tuple(int(k) for k in rng.permutation(kinds))
    return Recipe(tuple(lots), WEIGHTS[int(rng.integers(len(WEIGHTS)))], order)


def _by_size(ask: Ask, rng: np.random.Generator) -> list[tuple[int, int]]:
    measure = int(rng.integers(3))
    luck = rng.choice([0.0, 0.15, 0.5])
    keys = [
        float(np.log(max(span[measure], 1e-9)) + luck * rng.standard_normal()) for span in ask.spans
    ]
    return [(i, ALL) for i in sorted(range(len(keys)), key=lambda i: (-keys[i], i))]
