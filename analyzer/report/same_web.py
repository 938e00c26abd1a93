"""A web both too thin and too hot is one thing to read: two rules, one line.

The findings stay apart in JSON and on the pictures; each rule has its own measure and limit.
"""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.rules.rule import Finding

THIN, HOT = "web-too-thin", "web-overheats"


def fold_heat(findings: Sequence[Finding]) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return the findings that keep a line, and those of heat told on the line of thin webs.

    Parameters
    ----------
    findings : sequence of Finding
        Of one gas.

    Returns
    -------
    kept, folded : tuple of Finding
        Folded is what `web-overheats` says only about webs that `web-too-thin` speaks of too;
        where it speaks of one more web it keeps a line of its own.
    """
    thin = {(f.part, place) for f in findings if f.rule == THIN for place in f.places}
    folded = tuple(
        f
        for f in findings
        if f.rule == HOT and f.places and all((f.part, place) in thin for place in f.places)
    )
    return tuple(f for f in findings if f not in folded), folded


def too_hot(webs: int, heated: Sequence[Finding]) -> str:
    """Return the sentence about the heat of thin webs.

    Parameters
    ----------
    webs : int
        Thin webs the line speaks of.
    heated : sequence of Finding
        Those folded into it, at least one.

    Examples
    --------
    >>> one = Finding(2, HOT, "rework", "A", 1, ((0.0, 0.0),), 152.0, 110.0, "K", "", "")
    >>> too_hot(1, [one])
    'It overheats too: 152 K warmer, limit 110.'
    >>> too_hot(5, [one])
    '1 of them overheats too: 152 K warmer, limit 110.'
    """
    worst = max(heated, key=lambda f: f.measured / f.limit)
    hot = sum(f.count for f in heated)
    who = ("It overheats" if webs == 1 else "They overheat") if hot == webs else f"{hot} of them "
    if hot != webs:
        who += "overheats" if hot == 1 else "overheat"
    most = "up to " if hot > 1 else ""
    return f"{who} too: {most}{worst.measured:.0f} K warmer, limit {worst.limit:.0f}."
