"""Bars of machine and hand hours as a picture."""

from __future__ import annotations

import io
from collections.abc import Sequence

from analyzer.report.palette import BURR_COLOURS

MACHINE, HAND = BURR_COLOURS[3], BURR_COLOURS[1]
"""The bars are told apart by their hatching too."""

_MOST = 20


def hours_picture(rows: Sequence[tuple[str, float, float]]) -> bytes:
    """Return a PNG with machine and hand hours of every row, the largest on top.

    Parameters
    ----------
    rows : sequence of (label, machine hours, hand hours)
        More than twenty become one row "others".
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    shown = list(rows[:_MOST])
    if len(rows) > _MOST:
        rest = rows[_MOST:]
        shown.append((f"{len(rest)} others", sum(r[1] for r in rest), sum(r[2] for r in rest)))
    figure = Figure(figsize=(8.0, 1.2 + 0.45 * len(shown)), dpi=110, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    places = list(range(len(shown)))[::-1]
    machine, hand = [row[1] for row in shown], [row[2] for row in shown]
    axes.barh(places, machine, color=MACHINE, label="machine")
    axes.barh(places, hand, left=machine, color=HAND, hatch="///", label="by hand")
    axes.set_yticks(places, [row[0] for row in shown])
    axes.set_xlabel("hours, quantities counted")
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False, loc="lower right")
    stream = io.BytesIO()
    figure.savefig(stream, format="png", metadata={"Software": None})
    return stream.getvalue()
