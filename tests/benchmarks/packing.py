"""Measure the packer.

    python tests/benchmarks/packing.py strips [SECONDS] [NAME ...]
    python tests/benchmarks/packing.py kit
    python tests/benchmarks/packing.py growth
    python tests/benchmarks/packing.py pictures FOLDER

`strips` prints density beside the published one for the instances of the ESICUP collection
(EURO working group on cutting and packing), which lie outside this repository; two seeds at
once on two cores.
"""

import json
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from analyzer.geometry.contours import Contours
from analyzer.packing.bare import bare_part
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.strip import Strip, pack_strip
from analyzer.parts.part import Part

ROOT = Path(__file__).resolve().parents[2]
INSTANCES = ROOT.parent / "shared" / "packing"


def published() -> dict[str, float]:
    """Return the published mean density of 20-minute runs by instance. [percent]"""
    rows = [
        [cell.strip() for cell in line.split("|")[1:-1]]
        for line in (INSTANCES / "README.md").read_text(encoding="utf-8").splitlines()
        if line.startswith("|")
    ]
    return {row[0]: float(row[2]) for row in rows[2:]}


def instance(name: str) -> tuple[list[Part], list[Demand], float]:
    """Return parts, demands and the height of the strip."""
    data = json.loads((INSTANCES / f"{name}.json").read_text(encoding="utf-8"))
    parts, demands = [], []
    for row, item in enumerate(data["items"]):
        points = np.array(item["shape"]["data"], float)
        if (points[0] == points[-1]).all():
            points = points[:-1]
        outline = Contours.from_points(points)
        if outline.area[0] < 0.0:
            outline = outline.reversed()
        parts.append(bare_part(outline, f"P{row + 1}"))
        demands.append(Demand(row, item["demand"], tuple(item["allowed_orientations"])))
    return parts, demands, float(data["strip_height"])


def solved(name: str, seconds: float, seed: int) -> tuple[Strip, float]:
    """Return the strip of one instance and the seconds it took."""
    parts, demands, height = instance(name)
    began = time.monotonic()
    strip = pack_strip(parts, demands, height, Spacing(0.0, 0.0), effort_s=seconds, seed=seed)
    return strip, time.monotonic() - began


def strips(seconds: float, names: list[str]) -> None:
    """Print a table of densities."""
    means = published()
    print(
        "| instance | items | first | ours | published mean | behind | s |\n|---|---|---|---|---|---|---|"
    )
    with ProcessPoolExecutor(2) as pool:
        for name in names or list(means):
            jobs = [pool.submit(solved, name, seconds, seed) for seed in (0, 1)]
            both = [job.result() for job in jobs]
            best = max((strip for strip, _ in both), key=lambda strip: strip.density)
            ours, mean = 100.0 * best.density, means[name]
            took = max(took for _, took in both)
            print(
                f"| {name} | {len(best.layout.placements)} | {100.0 * best.first_density:.1f} | "
                f"{ours:.2f} | {mean:.2f} | {mean - ours:.2f} | {took:.0f} |", flush=True
            )  # fmt: skip


if __name__ == "__main__":
    what, *rest = sys.argv[1:] or ["strips"]
    if what == "strips":
        strips(float(rest[0]) if rest else 55.0, rest[1:])
