"""The answer in one line: drawing, gas, minutes, hand work, what is found."""

from __future__ import annotations

from analyzer.comparison import Answer
from analyzer.report.escape import shown
from analyzer.report.wording import shortened
from analyzer.rules.rule import LEVELS
from analyzer.units import by_hand, span

WIDTH, LEAST_NAME = 80, 12
PLURALS = {"loss": "losses", "rework": "reworks", "note": "notes"}


def brief_line(answer: Answer) -> str:
    """Return one line of at most 80 columns; a long name of a drawing loses its middle."""
    words = _words(answer)
    room = max(WIDTH - len(words) - 2, LEAST_NAME)
    return f"{shortened(shown(answer.analysis.drawing.file), room)}: {words}\n"


def _words(answer: Answer) -> str:
    analysis, advice = answer.analysis, answer.advice
    best = analysis.under(advice.gas) if advice.gas else None
    read = best or next(iter(analysis.gases), None)  # no part: alike in every gas
    findings = read.findings if read else analysis.on_drawing
    told = []
    if best:
        copies = analysis.totals.parts
        off = f" for {copies:,}" if copies > 1 else ""
        told = [f"{best.gas.upper()} {span(best.timing.total)}{off}"]
        if best.rework_min > 0.0:
            told.append(f"hand work {by_hand(60.0 * best.rework_min)}")
    counts = {level: sum(f.count for f in findings if f.level == level) for level in LEVELS}
    said = [
        f"{counts[level]:,} {level if counts[level] == 1 else PLURALS[level]}"
        for level in reversed(LEVELS)
        if counts[level]
    ]
    return f"{', '.join(told) or 'no gas advised'}; {', '.join(said) or 'nothing found'}"
