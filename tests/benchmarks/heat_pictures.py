"""Pictures of three samples in oxygen: burr class along the edges, and what the head meets.

    python tests/benchmarks/heat_pictures.py FOLDER [THICKNESS]

One PNG a sample: above the worst burr class of every contour by width and colour, below the rise in
temperature the head meets, with the hottest webs and tips.  Those of docs/heat.md.
"""

import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np

mpl.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from analyzer.drawing.reading import read_drawing
from analyzer.effects.edges import forecast_edges
from analyzer.effects.evidence import EdgeForecast, HeatField, HeatForecast
from analyzer.effects.heat import forecast_heat
from analyzer.geometry.contours import Contours, Floats
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Plan
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ("base_plate", "deck_plate", "splice_plate")


def chords(contours: Contours) -> tuple[Contours, list[Floats]]:
    """Return fine chords, and each as two points."""
    fine = contours.flattened(0.05)
    return fine, [np.array(pair) for pair in zip(fine.starts, fine.ends, strict=True)]


def numbered(axes: Axes, places: list[tuple[float, float]], words: list[str]) -> None:
    """Write numbers at places and what they mean below, where nothing lies on one another."""
    for number, (place, side) in enumerate(
        zip(places, ((-1, 1), (1, 1), (1, -1)), strict=False), 1
    ):
        axes.annotate(
            str(number), place, fontsize=8, ha="center", va="center",
            xytext=(14 * side[0], 14 * side[1]), textcoords="offset points",
            bbox={"boxstyle": "circle,pad=0.25", "fc": "white", "ec": "black", "lw": 0.8},
            arrowprops={"arrowstyle": "-", "lw": 0.8, "shrinkA": 0,
                        "shrinkB": 0},
        )  # fmt: skip
    told = "\n".join(f"{number}  {word}" for number, word in enumerate(words, 1))
    axes.text(0.0, -0.06, told, fontsize=8, va="top", transform=axes.transAxes)


def draw_burr(axes: Axes, part: Part, edges: EdgeForecast) -> None:
    """Draw the worst class of every contour, its spots with their causes."""
    fine, lines = chords(part.contours)
    worst = np.array([np.flatnonzero(row > 1e-9).max(initial=0) for row in edges.metres])
    of_line = worst[fine.owner]
    colours = [BURR_COLOURS[k] for k in of_line.tolist()]
    axes.add_collection(
        LineCollection(
            lines, colors=colours, linewidths=np.array(BURR_WIDTHS)[of_line], capstyle="round"
        )
    )
    spots = edges.spots[:3]
    numbered(axes, [(s.x, s.y) for s in spots], [
        f"{s.length:.0f} mm of class {s.burr_class}, {s.cause}" for s in spots])  # fmt: skip
    for k, (colour, width) in enumerate(zip(BURR_COLOURS, BURR_WIDTHS, strict=True)):
        metres = edges.metres[:, k].sum()
        axes.plot([], [], color=colour, lw=width, label=f"class {k}: {metres:.2f} m")
    axes.legend(fontsize=8, loc="upper right", bbox_to_anchor=(1.0, -0.02), ncols=2, frameon=False)


def draw_heat(axes: Axes, part: Part, plan: Plan, forecast: HeatForecast, field: HeatField) -> None:
    """Draw the rise at arrival along the edges, at pierces, and the hottest webs and tips."""
    _, lines = chords(part.contours)
    axes.add_collection(LineCollection(lines, colors="#888888", linewidths=0.6))
    top = max(float(field.station_rises.max(initial=0.0)), float(field.pierces.max()), 20.0)
    look = {"cmap": "YlOrBr", "vmin": 0.0, "vmax": top, "edgecolors": "#666666", "linewidths": 0.4}
    dots = None
    for places, rises, marker in (
        (field.station_xy, field.station_rises, "o"), (plan.pierces, field.pierces, "s"),
    ):  # fmt: skip
        order = np.argsort(rises, kind="stable")  # the hottest on top
        sizes = 8.0 + 40.0 * rises[order] / top
        dots = axes.scatter(
            *places[order].T, c=rises[order], s=sizes, marker=marker, zorder=2, **look
        )
    axes.figure.colorbar(dots, ax=axes, shrink=0.8, label="K above the start")
    places, words = [], []
    for k in np.argsort(-field.web_peak, kind="stable")[:3].tolist():
        web = part.webs[int(forecast.webs[k])]
        places.append((web.x, web.y))
        words.append(
            f"web of {web.width:.1f} mm: {field.web_arrival[k]:.0f} K as the head comes by, "
            f"{field.web_peak[k]:.0f} K at most; bound of its own two cuts "
            f"{forecast.strips[k]:.0f} K"
        )
    for k in np.argsort(-field.tip_peak, kind="stable")[: 3 - len(places)].tolist():
        tip = part.corners[int(field.tips[k])]
        places.append((tip.x, tip.y))
        words.append(f"tip of {tip.angle:.0f} degrees: {field.tip_peak[k]:.0f} K")
    numbered(axes, places, words)
    order = plan.begins[plan.order]
    axes.set_title(
        f"what the head meets: dots on the edge, squares at the pierces; first cut at "
        f"{order[0]:.0f} s, last at {order[-1]:.0f} s", fontsize=9,
    )  # fmt: skip


def picture(name: str, folder: Path, thickness: float) -> None:
    """Write the picture of the first part of a sample."""
    job = Job("mild-steel", thickness, thickness, gases=("oxygen",))
    setting = settings_for(job)[0][0]
    parts = find_parts(read_drawing(ROOT / "sample_drawings" / f"{name}.dxf"), thickness)
    part = max(parts.parts, key=lambda one: one.cut_length)
    plan = plan_alone(part, setting, Machine(), thickness)
    heat = forecast_heat(part, plan, setting, job)
    edges = forecast_edges(part, plan, setting, job, heat)
    low, top = part.contours.starts.min(axis=0), part.contours.starts.max(axis=0)
    ratio = float((top - low)[1] / (top - low)[0])
    figure, (upper, lower) = plt.subplots(
        2, 1, figsize=(9.0, 2.2 + 2 * min(8.0 * ratio, 4.6)), layout="constrained"
    )
    draw_burr(upper, part, edges)
    upper.set_title(f"{name}, {thickness:g} mm in oxygen: burr class", fontsize=9)
    if heat.field is not None:
        draw_heat(lower, part, plan, heat, heat.field)
    for axes in (upper, lower):
        axes.set_aspect("equal")
        axes.autoscale()
        axes.margins(0.06)
        axes.axis("off")
    figure.savefig(folder / f"heat_{name}.png", dpi=100)
    plt.close(figure)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    for sample in SAMPLES:
        picture(sample, target, float(sys.argv[2]) if len(sys.argv) > 2 else 20.0)
