"""Bars: where the seconds go, and metres of edge by burr class, gas by gas."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from analyzer.process.burr import class_words
from analyzer.report.marks import Bar
from analyzer.report.palette import BURR_COLOURS, METAL, OUTLINE, TERM_COLOURS, TERM_HATCHES
from analyzer.units import span, unit_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SIZE = 7.0
SHOWN = 0.005
"""A term below this share of the longest bar is not in the legend. [-]"""

BAR = 0.68  # thickness of a bar, of the distance between two [-]

BELOW = -13.0
"""The legend hangs so far below the axis, under its numbers. [pt]"""

BURR_HATCHES = ("", "..", "//", "")


def time_bars(
    axes: Axes, gases: Sequence[str], bars: Sequence[Sequence[Bar]], shown: str,
    of: str = "all copies",
) -> None:  # fmt: skip
    """Draw one bar a gas, split into its terms; the gas of the picture in bold."""
    totals = [sum(bar.seconds for bar in row) for row in bars]
    longest = max([*totals, 1e-9])
    unit, scale = unit_of(longest)
    seen: dict[str, str] = {}
    for k, row in enumerate(bars):
        left = 0.0
        for bar in row:
            if bar.seconds > 0.0:
                _box(axes, k, left / scale, bar.seconds / scale, TERM_COLOURS[bar.term],
                     TERM_HATCHES[bar.term])  # fmt: skip
                if bar.seconds >= SHOWN * longest:
                    seen[bar.term] = bar.words
            left += bar.seconds
        _value(axes, k, totals[k] / scale, span(totals[k]))
    _names(axes, gases, shown, longest / scale)
    terms = [bar.term for bar in (bars[0] if bars else ()) if bar.term in seen]
    terms += [term for term in seen if term not in terms]
    _legend(axes, [(TERM_COLOURS[t], TERM_HATCHES[t], seen[t]) for t in terms])
    axes.set_title(f"Time split, {unit}, {of}", fontsize=SIZE + 1, loc="left")


def burr_bars(
    axes: Axes, gases: Sequence[str], metres: Sequence[Sequence[float]], shown: str,
    of: str = "all copies",
) -> None:  # fmt: skip
    """Draw one bar a gas: metres of drawn edge by burr class."""
    longest = max([sum(row) for row in metres] + [1e-9])
    seen = set()
    for k, row in enumerate(metres):
        left = 0.0
        for burr_class, length in enumerate(row):
            if length > 0.0:
                colour = BURR_COLOURS[burr_class] if burr_class else METAL
                _box(axes, k, left, length, colour, BURR_HATCHES[burr_class])
                seen.add(burr_class)
            left += length
    _names(axes, gases, shown, longest)
    _legend(axes, [
        (BURR_COLOURS[c] if c else METAL, BURR_HATCHES[c], f"{c} {class_words(c)}")
        for c in sorted(seen)
    ])  # fmt: skip
    axes.set_title(f"Edge by burr class, m, {of}", fontsize=SIZE + 1, loc="left")


def _box(axes: Axes, k: int, left: float, width: float, colour: str, hatch: str) -> None:
    from matplotlib.patches import Rectangle

    axes.add_patch(
        Rectangle(
            (left, -k - BAR / 2.0), width, BAR, facecolor=colour, hatch=hatch, edgecolor=OUTLINE,
            linewidth=0.6,
        )
    )  # fmt: skip


def _value(axes: Axes, k: int, at: float, words: str) -> None:
    axes.annotate(
        words, (at, -k), (3.0, 0.0), textcoords="offset points", fontsize=SIZE, va="center",
        parse_math=False,
    )  # fmt: skip


def _names(axes: Axes, gases: Sequence[str], shown: str, longest: float) -> None:
    axes.set_yticks([-float(k) for k in range(len(gases))], list(gases), fontsize=SIZE + 0.5)
    for label, gas in zip(axes.get_yticklabels(), gases, strict=True):
        label.set_fontweight("bold" if gas == shown else "normal")
    axes.set_xlim(0.0, longest * 1.14)
    axes.set_ylim(-len(gases) + 0.5, 0.5)
    axes.tick_params(axis="x", labelsize=SIZE, length=2.0, pad=1.5)
    axes.tick_params(axis="y", length=0.0)
    axes.locator_params(axis="x", nbins=5)
    for side in ("top", "right", "left"):
        axes.spines[side].set_visible(False)


def _legend(axes: Axes, rows: Sequence[tuple[str, str, str]]) -> None:
    from matplotlib.patches import Rectangle
    from matplotlib.transforms import ScaledTranslation

    handles = [
        Rectangle((0, 0), 1, 1, facecolor=colour, hatch=hatch, edgecolor=OUTLINE, linewidth=0.6)
        for colour, hatch, _ in rows
    ]
    if not handles:
        return
    longest = max(len(words) for _, _, words in rows)
    room = axes.bbox.width / axes.figure.dpi * 72.0  # [pt]
    columns = int(room // (longest * 0.58 * SIZE + 3.2 * SIZE))
    columns = min(max(columns, 1), 4)
    below = ScaledTranslation(0.0, BELOW / 72.0, axes.figure.dpi_scale_trans)
    axes.legend(
        handles, [words for _, _, words in rows], loc="upper left", ncols=min(columns, len(rows)),
        bbox_to_anchor=(-0.02, 0.0), bbox_transform=axes.transAxes + below,
        fontsize=SIZE, frameon=False, handlelength=1.6,
        handleheight=1.0, columnspacing=1.0, labelspacing=0.3, borderaxespad=0.0,
    )  # fmt: skip
