"""Pictures of three samples in oxygen: burr class along the edges, and what the head meets.

    python tests/benchmarks/heat_pictures.py FOLDER [THICKNESS]

One PNG a sample: left the burr class of every stretch by width and shade, right the rise in
temperature at arrival, with webs, tips and pierces.  For looking at, not for a page.
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

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ("base_plate", "deck_plate", "splice_plate")
SHADES = ("#000000", "#0072B2", "#E69F00", "#D55E00")  # Okabe and Ito, safe for colour blindness


def chords(contours: Contours) -> tuple[Contours, list[Floats]]:
    """Return fine chords, and each as two points."""
    fine = contours.flattened(0.05)
    return fine, [np.array(pair) for pair in zip(fine.starts, fine.ends, strict=True)]


def draw_burr(axes: Axes, part: Part, edges: EdgeForecast) -> None:
    """Draw the worst class of every contour, its spots with their causes."""
    fine, lines = chords(part.contours)
    worst = np.array([np.flatnonzero(row > 1e-9).max(initial=0) for row in edges.metres])
    of_line = worst[fine.owner]
    axes.add_collection(
        LineCollection(lines, colors=[SHADES[k] for k in of_line], linewidths=0.8 + 0.9 * of_line)
    )
    for number, spot in enumerate(edges.spots[:3], start=1):
        axes.annotate(
            f"{number}: class {spot.burr_class}, {spot.cause}", (spot.x, spot.y), fontsize=7,
            xytext=(4, 4 + 9 * number), textcoords="offset points",
            arrowprops={"arrowstyle": "-", "lw": 0.5},
        )  # fmt: skip
    for k, shade in enumerate(SHADES):
        metres = edges.metres[:, k].sum()
        axes.plot([], [], color=shade, lw=1 + k, label=f"class {k}: {metres:.2f} m")
    axes.legend(fontsize=7, loc="upper left", bbox_to_anchor=(0.0, -0.08), ncols=4)


def draw_heat(axes: Axes, part: Part, plan: Plan, forecast: HeatForecast, field: HeatField) -> None:
    """Draw the rise at arrival along the edges, at webs, tips and pierces."""
    _, lines = chords(part.contours)
    axes.add_collection(LineCollection(lines, colors="#BBBBBB", linewidths=0.5))
    top = max(float(field.station_rises.max(initial=0.0)), float(field.pierces.max()), 20.0)
    dots = axes.scatter(
        *field.station_xy.T, c=field.station_rises, s=14, cmap="cividis", vmin=0.0, vmax=top
    )
    axes.scatter(
        *plan.pierces.T, c=field.pierces, s=26, marker="x", cmap="cividis", vmin=0.0, vmax=top
    )
    plt.colorbar(dots, ax=axes, shrink=0.7, label="K above the start")
    for number, k in enumerate(np.argsort(-field.web_peak)[:3].tolist()):
        web = part.webs[int(forecast.webs[k])]
        axes.annotate(
            f"web {field.web_arrival[k]:.0f} to {field.web_peak[k]:.0f}, "
            f"bound {forecast.strips[k]:.0f}", (web.x, web.y), fontsize=7,
            xytext=(10, 28 + 11 * number), textcoords="offset points",
            arrowprops={"arrowstyle": "-", "lw": 0.5},
        )  # fmt: skip
    for k in range(min(len(field.tips), 8)):
        tip = part.corners[int(field.tips[k])]
        axes.annotate(f"^{field.tip_peak[k]:.0f}", (tip.x, tip.y), fontsize=6)
    order = plan.begins[plan.order]
    axes.set_title(f"arrival; first at {order[0]:.0f} s, last at {order[-1]:.0f} s", fontsize=8)


def picture(name: str, folder: Path, thickness: float) -> None:
    """Write the picture of the first part of a sample."""
    job = Job("mild-steel", thickness, thickness, gases=("oxygen",))
    setting = settings_for(job)[0][0]
    parts = find_parts(read_drawing(ROOT / "sample_drawings" / f"{name}.dxf"), thickness)
    part = max(parts.parts, key=lambda one: one.cut_length)
    plan = plan_alone(part, setting, Machine(), thickness)
    heat = forecast_heat(part, plan, setting, job)
    edges = forecast_edges(part, plan, setting, job, heat)
    wide = part.width > 1.6 * part.height
    shape, size = ((2, 1), (10.0, 9.0)) if wide else ((1, 2), (13.0, 5.5))
    figure, (left, right) = plt.subplots(*shape, figsize=size)
    draw_burr(left, part, edges)
    left.set_title(f"{name}, {thickness:g} mm oxygen: burr class", fontsize=8)
    if heat.field is not None:
        draw_heat(right, part, plan, heat, heat.field)
    for axes in (left, right):
        axes.set_aspect("equal")
        axes.autoscale()
        axes.margins(0.08)
    figure.tight_layout()
    figure.savefig(folder / f"{name}.png", dpi=110)
    plt.close(figure)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    target.mkdir(parents=True, exist_ok=True)
    for sample in SAMPLES:
        picture(sample, target, float(sys.argv[2]) if len(sys.argv) > 2 else 20.0)
