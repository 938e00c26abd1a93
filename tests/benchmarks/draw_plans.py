"""Draw the path with the speed along it, and the cutting order, of sample drawings as PNG.

    python tests/benchmarks/draw_plans.py FOLDER [DRAWING ...]

For people who want to see what the head does; not part of the tests.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np

mpl.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.collections import LineCollection

from analyzer.drawing.reading import read_drawing
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.alone import plan_alone
from analyzer.motion.plan import Plan
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine
from analyzer.process.setting import Setting

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = {  # drawing: thickness [mm], power [kW], gas
    "gusset.dxf": (10.0, 10.0, "nitrogen"),
    "deck_plate.dxf": (3.0, 6.0, "nitrogen"),
    "splice_plate.dxf": (15.0, 15.0, "oxygen"),
}
STEP = 0.4  # longest piece drawn in one colour [mm]


def setting_of(thickness: float, power: float, gas: str) -> Setting:
    (setting,), _ = settings_for(Job("mild-steel", thickness, power, gases=(gas,)))
    return setting


def pieces(plan: Plan) -> tuple[np.ndarray, np.ndarray]:
    """Return short lines along the path and the speed on each, m/min."""
    path, profile = plan.path, plan.profile
    counts = np.clip(np.ceil(path.lengths / STEP), 4, 400).astype(int)
    segment = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    low, high = within / counts[segment], (within + 1) / counts[segment]
    lines = np.stack((path.points_at(segment, low), path.points_at(segment, high)), axis=1)
    return lines, profile.speeds_at(segment, (low + high) / 2.0) * 0.06


def outline(axes: plt.Axes, contours: Contours, colour: str, width: float) -> None:
    flat = contours.flattened(0.02)
    lines = np.stack((flat.starts, flat.ends), axis=1)
    axes.add_collection(LineCollection(lines, colors=colour, linewidths=width))


def draw(part: Part, plan: Plan, setting: Setting, title: str, file: Path) -> None:
    wide = part.width >= part.height
    figure, both = plt.subplots(*((2, 1) if wide else (1, 2)), figsize=(9, 9 if wide else 6))
    speed_axes, order_axes = both
    lines, speeds = pieces(plan)
    drawn = LineCollection(lines, array=speeds, cmap="viridis", linewidths=2.0)
    drawn.set_clim(0.0, setting.speed_m_per_min)
    speed_axes.add_collection(drawn)
    figure.colorbar(drawn, ax=speed_axes, label="speed, m/min", shrink=0.7)
    first = plan.path.starts[plan.path.offsets[:-1]]
    for axes in both:
        leads = np.stack((plan.pierces, first), axis=1)
        axes.add_collection(LineCollection(leads, colors="#d55e00", linewidths=1.2))
        axes.plot(*plan.pierces.T, "o", color="#d55e00", markersize=3 if len(first) < 60 else 1.2)
        axes.set_aspect("equal")
        axes.margins(0.03)
    outline(order_axes, part.contours, "0.4", 0.8)
    way = plan.pierces[plan.order]
    order_axes.plot(*way.T, "-", color="#0072b2", linewidth=0.9)
    if len(way) <= 120:
        for number, (x, y) in enumerate(way, start=1):
            order_axes.annotate(str(number), (x, y), xytext=(3, 3), textcoords="offset points",
                                fontsize=7, color="#0072b2")  # fmt: skip
    outline(order_axes, part.marks, "#009e73", 0.8)
    speed_axes.set_title(f"{title}: speed, {plan.timing.total:.1f} s", fontsize=10)
    order_axes.set_title("order, pierces (dots) and moves", fontsize=10)
    for axes in both:
        axes.autoscale_view()
    figure.tight_layout()
    figure.savefig(file, dpi=80)
    plt.close(figure)


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    wanted = sys.argv[2:] or list(SAMPLES)
    for name in wanted:
        thickness, power, gas = SAMPLES.get(Path(name).name, (10.0, 10.0, "nitrogen"))
        path = Path(name) if Path(name).exists() else ROOT / "sample_drawings" / name
        setting = setting_of(thickness, power, gas)
        part = max(find_parts(read_drawing(path), thickness).parts, key=lambda p: p.cut_length)
        plan = plan_alone(part, setting, Machine(), thickness)
        title = f"{path.stem}, {thickness:g} mm, {gas}"
        draw(part, plan, setting, title, folder / f"{path.stem}.png")


if __name__ == "__main__":
    main()
