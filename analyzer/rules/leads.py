"""Rule about lead-ins that cannot be put where they cross nothing."""

from __future__ import annotations

from collections.abc import Iterator

from analyzer.rules.rule import Draft, Rule
from analyzer.rules.scene import Case
from analyzer.rules.wording import size
from analyzer.units import counted


def crosses(case: Case) -> Iterator[Draft]:
    """Contours whose lead-in crosses something wherever it is put: one line per part and gas."""
    for one in case.evidence:
        rows = one.plan.blocked
        if not len(rows):
            continue
        lead = float(one.plan.leads[rows].max())
        outline = bool((rows == 0).any())
        what = "the part's own outline or a mark" if outline else "a mark, a bend line or an island"
        yield Draft(
            "rework", one.part.id, tuple(map(tuple, one.plan.pierces[rows].tolist())),
            lead, 0.0, "mm",
            f"{counted(len(rows), 'lead-in')} of {size(lead)} mm in {case.gas_words} "
            f"{'crosses' if len(rows) == 1 else 'cross'} {what} wherever put. It scars what is "
            "kept.",
            "Shorten the lead-in and pierce soft, or move the mark.", len(rows),
        )  # fmt: skip


RULES = (
    Rule(
        name="lead-in-crosses-line",
        group="holes",
        kind="process",
        question="Can every contour be entered without crossing a mark, a bend line or itself?",
        why=(
            "The lead-in is cut like any other line. Where every corner and side of a contour has "
            "a mark, a bend line, an island or the outline itself in its way, it cuts through "
            "one of them."
        ),
        remedy="Shorten the lead-in and pierce soft, or move the mark.",
        example=(
            "1 lead-in of 6 mm in oxygen crosses a mark, a bend line or an island wherever put. "
            "It scars what is kept."
        ),
        asks_change=True,
        on_gas=crosses,
    ),
)
