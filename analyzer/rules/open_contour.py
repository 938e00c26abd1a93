"""What rule open-contour says: cut lines that do not close, by what they are, and their gaps."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analyzer.drawing.drawing import IN_PAPER_SPACE
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.rules.open_lines import Chains, chains_of
from analyzer.rules.rule import Draft, Place
from analyzer.rules.scene import Scene
from analyzer.rules.wording import size
from analyzer.units import counted

JOINS = (0.2, 0.5, 1.0, 2.0)  # values of --join that are told, up to the widest allowed [mm]
LISTED = 3  # open contours, and gaps of one, told in full before the rest is only counted


def open_contours(scene: Scene) -> Iterator[Draft]:
    """Cut lines that do not close, by what they are; and a drawing without any part."""
    parts, loose = scene.parts, scene.parts.loose
    if not parts.parts:
        yield _no_part(scene)
        return
    if len(loose):
        chains = chains_of(loose, scene.limits)
        yield from _outlines(
            None, chains, "loss", "outline", "Close it in the drawing: without it there is no part."
        )
        yield from _lines(
            None, chains, "rework", "line outside every part",
            "Ask what it is: delete it, or put it on a mark or bend layer.",
        )  # fmt: skip
    for part in parts.parts:
        rows = np.flatnonzero(~part.contours.closed)
        if not len(rows):
            continue
        chains = chains_of(part.contours.take(rows), scene.limits)
        yield from _outlines(
            part.id, chains, "rework", "cut-out", "Close it in the drawing, or the slug hangs on."
        )
        yield from _lines(
            part.id, chains, "note", "slit",
            "Check that it is meant: it is cut from end to end.",
        )  # fmt: skip


def _outlines(
    part: str | None, chains: Chains, level: str, what: str, cure: str
) -> Iterator[Draft]:
    """Yield what should close, with every gap and the option that closes it."""
    chosen = np.flatnonzero(chains.closes)
    if not len(chosen):
        return
    gaps = chains.closes[chains.of_gap]
    said = counted(len(chosen), f"open {what}")
    yield Draft(
        level, part, _places(chains.places[gaps]), float(chains.widths[gaps].max()), 0.0, "mm",
        f"{said}: {_gaps_told(chains, chosen)}.",
        _either(_option(chains, chosen), cure), int(gaps.sum()),
    )  # fmt: skip


def _lines(part: str | None, chains: Chains, level: str, what: str, cure: str) -> Iterator[Draft]:
    """Yield lines that are not meant to close."""
    rows = np.flatnonzero(~chains.closes[chains.chain])
    if not len(rows):
        return
    first, _, rest = what.partition(" ")
    said = counted(len(rows), f"open {what}", f"open {first}s {rest}".rstrip())
    apart = float(chains.widths[~chains.closes[chains.of_gap]].max())
    yield Draft(
        level, part, _starts(chains.lines, rows), apart, 0.0, "mm",
        f"{said}: {_ends(chains.lines, rows)}.", cure, len(rows),
    )  # fmt: skip


def _gaps_told(chains: Chains, chosen: Ints) -> str:
    """Return the gaps of the first few outlines in words."""
    said = []
    for chain in chosen[:LISTED].tolist():
        rows = chains.rows(chain)
        mine = np.flatnonzero(chains.of_gap == chain)
        widths = chains.widths[mine]
        if len(rows) == 1:
            said.append(f"{_ends(chains.lines, rows)}, gap {size(widths[0])} mm")
            continue
        each = [
            f"{size(width)} mm at ({size(x)}, {size(y)})"
            for width, (x, y) in zip(
                widths[:LISTED].tolist(), chains.places[mine[:LISTED]].tolist(), strict=True
            )
        ]
        each += [f"{len(mine) - LISTED} more"] if len(mine) > LISTED else []
        said.append(f"in {len(rows)} lines, gaps {', '.join(each[:-1])} and {each[-1]}")
    more = len(chosen) - LISTED
    return "; ".join(said) + (f"; and {more:,} more" if more > 0 else "")


def _option(chains: Chains, chosen: Ints) -> str:
    """Return words for the option that closes outlines whose gaps are all narrow enough.

    Never for a line so short that joining leaves it alone.
    """
    widest = chains.widest()[chosen]
    alone = np.bincount(chains.chain, minlength=len(chains))[chosen] == 1
    near: Bools = (widest <= JOINS[-1]) & (~alone | (chains.length()[chosen] > 4.0 * JOINS[-1]))
    if not near.any():
        return ""
    join = next(value for value in JOINS if value >= float(widest[near].max()) - 1e-9)
    gaps = int(np.isin(chains.of_gap, chosen[near]).sum())
    which = "it" if gaps == 1 else "them"
    if not near.all():
        which = f"{int(near.sum()):,} of {len(near):,}"
    return f"--join {join:g}mm closes {which}; else "


def _either(option: str, cure: str) -> str:
    return option + cure[:1].lower() + cure[1:] if option else cure


def _places(places: Floats) -> tuple[Place, ...]:
    return tuple((x, y) for x, y in places.tolist())


def _starts(lines: Contours, rows: Ints) -> tuple[Place, ...]:
    return _places(lines.starts[lines.offsets[rows]])


def _ends(lines: Contours, rows: Ints) -> str:
    """Return both ends of the first few lines in words."""
    first = lines.starts[lines.offsets[rows[:LISTED]]].tolist()
    last = lines.ends[lines.offsets[rows[:LISTED] + 1] - 1].tolist()
    said = [
        f"from ({size(a)}, {size(b)}) to ({size(c)}, {size(d)})"
        for (a, b), (c, d) in zip(first, last, strict=True)
    ]
    more = len(rows) - LISTED
    return "; ".join(said) + (f"; and {more:,} more" if more > 0 else "")


def _no_part(scene: Scene) -> Draft:
    loose = scene.parts.loose
    if not len(loose):
        say = "No cut line was found, so there is no part."
        cure = "Check the layers: cut lines may lie on a mark, bend or frame layer."
        if any(fact.sort == IN_PAPER_SPACE for fact in scene.parts.drawing.facts):
            cure = "Ask for the part in model space: what lies in paper space is a view of it."
        return Draft("loss", None, (), 0.0, 1.0, "closed contours", say, cure)
    chains = chains_of(loose, scene.limits)
    chosen, rest = np.flatnonzero(chains.closes), np.flatnonzero(~chains.closes[chains.chain])
    told = []
    if len(chosen):
        told.append(f"{counted(len(chosen), 'open outline')}: {_gaps_told(chains, chosen)}")
    if len(rest):
        other = "other open line" if told else "open line"
        told.append(f"{counted(len(rest), other)}, {_ends(loose, rest)}")
    places = chains.places[chains.closes[chains.of_gap]]
    places = np.vstack((places, loose.starts[loose.offsets[rest]]))
    return Draft(
        "loss", None, _places(places), 0.0, 1.0, "closed contours",
        f"No contour closes, so there is no part: {'; '.join(told)}.",
        _either(_option(chains, chosen), "Close the outline in the drawing."), len(places),
    )  # fmt: skip
