"""Draw how sample parts and their slugs lie on the slats, as PNG.

    python tests/benchmarks/draw_drops.py FOLDER

Left: the part on slats along its long side, where it is likeliest to tip, at the first offset
that lets it; right: the chance that no slat is touched, that it tips, and that it lies still,
both ways, with its slugs below.  For people; not part of the tests.
"""

from __future__ import annotations

import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np
import shapely

mpl.use("Agg")
import matplotlib.pyplot as plt
from matplotlib.patches import Rectangle

from analyzer.drawing.reading import read_drawing
from analyzer.effects.drop import DropForecast, OnSlats, forecast_drop, lay_on_slats
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.parts.find import find_parts
from analyzer.process.choose import settings_for
from analyzer.process.machine import Machine

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = {  # drawing: material, thickness [mm], power [kW], gas
    "name_plate.dxf": ("stainless", 3.0, 6.0, "nitrogen"),
    "bracing_plate.dxf": ("mild-steel", 12.0, 12.0, "oxygen"),
    "splice_plate.dxf": ("mild-steel", 15.0, 15.0, "nitrogen"),
}
# Okabe and Ito, colours that the colour-blind tell apart
FALLS, TIPS, STILL = "#D55E00", "#E69F00", "#0072B2"


def metal_of(contours: Contours) -> shapely.Polygon:
    rings = [contours.ring(row, 0.05) for row in range(len(contours)) if contours.closed[row]]
    return shapely.Polygon(rings[0], rings[1:])


def worst_offset(metal: shapely.Polygon, bed: OnSlats) -> tuple[float, shapely.Geometry]:
    """Return the first offset at which the metal tips or falls, else 0; and its contact."""
    slats, (low_x, low_y, high_x, high_y) = bed.slats, metal.bounds
    first = None
    for offset in np.linspace(0.0, slats.pitch, 400, endpoint=False):
        begin = np.floor((low_x - offset) / slats.pitch) - 1
        some = np.arange(begin, (high_x - offset) / slats.pitch + 1) * slats.pitch + offset
        boxes = shapely.box(some, low_y - 9, some + slats.thickness, high_y + 9)
        contact = metal.intersection(shapely.union_all(boxes))
        first = (offset, contact) if first is None else first
        if contact.is_empty or not contact.convex_hull.contains(metal.centroid):
            return float(offset), contact
    assert first is not None
    return first


def draw_part(axes: plt.Axes, bed: OnSlats) -> None:
    metal = metal_of(bed.part.contours.moved(bed.poses[0].matrix))
    offset, contact = worst_offset(metal, bed)
    low_x, low_y, high_x, high_y = metal.bounds
    for ring in (metal.exterior, *metal.interiors):
        axes.plot(*ring.xy, color="black", linewidth=0.8)
    for k in range(-20, 60):
        x = offset + k * bed.slats.pitch + np.floor(low_x / bed.slats.pitch) * bed.slats.pitch
        if low_x - 60 < x < high_x + 60:
            size = (bed.slats.thickness, high_y - low_y + 30)
            axes.add_patch(Rectangle((x, low_y - 15), *size, color="0.75", zorder=0))
    hull = contact.convex_hull
    if hull.geom_type == "Polygon" and not hull.is_empty:
        axes.fill(*hull.exterior.xy, color=STILL, alpha=0.18, label="hull of contact")
    axes.plot(*metal.centroid.xy, "o", color=FALLS, label="centroid")
    axes.set_aspect("equal")
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.06), ncols=2, fontsize=7)
    axes.set_title("slats along the long side", fontsize=9)


def draw_chances(axes: plt.Axes, bed: OnSlats, drop: DropForecast) -> None:
    rows = [("part, along", drop.along), ("part, across", drop.across)]
    bars = [(name, lie.falls, lie.tips, lie.still) for name, lie in rows]
    slugs = drop.slugs
    for model in bed.models.tolist():
        at = np.flatnonzero(slugs.rows == model)
        sort = int(np.flatnonzero(bed.cut_outs == model)[0])
        number = int((bed.sorts == bed.sorts[sort]).sum())
        for name, way in (("along", slugs.along), ("across", slugs.across)):
            for k in at.tolist():
                word = "slug" if number == 1 else "slugs"
                wide = f"{way.width[k]:.{0 if way.width[k] >= 10.0 else 1}f}"
                label = f"{number} {word} {wide} wide, {name}"
                bars.append((label, way.falls[k], way.tips[k], way.still[k]))
    bars = bars[:14]
    y = -np.arange(len(bars), dtype=float)
    left = np.zeros(len(bars))
    for column, (colour, word) in enumerate(
        ((FALLS, "no slat touched"), (TIPS, "tips"), (STILL, "lies still")), start=1
    ):
        values = np.array([bar[column] for bar in bars])
        axes.barh(y, values, left=left, color=colour, label=word, height=0.75)
        left += values
    axes.set_yticks(y, [bar[0] for bar in bars], fontsize=7)
    axes.set_xlim(0.0, 1.0)
    axes.set_xlabel("share of all slat offsets", fontsize=8)
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3, fontsize=7)


def main() -> None:
    folder = Path(sys.argv[1])
    for name, (kind, thickness, power, gas) in SAMPLES.items():
        job = Job(kind, thickness, power, gases=(gas,))
        (setting,), _ = settings_for(job)
        part = find_parts(read_drawing(ROOT / "sample_drawings" / name), thickness).parts[0]
        bed = lay_on_slats(part, Machine())
        drop = forecast_drop(bed, setting, job)
        figure, (one, two) = plt.subplots(1, 2, figsize=(10, 5), layout="constrained")
        draw_part(one, bed)
        draw_chances(two, bed, drop)
        figure.suptitle(f"{name}: {kind} {thickness:g} mm, {gas}", fontsize=10)
        figure.savefig(folder / f"drop_{Path(name).stem}.png", dpi=90)
        plt.close(figure)


if __name__ == "__main__":
    main()
