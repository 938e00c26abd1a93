"""Measure the packer.

    python tests/benchmarks/packing.py strips [SECONDS] [NAME ...]
    python tests/benchmarks/packing.py growth
    python tests/benchmarks/packing.py effort
    python tests/benchmarks/packing.py different [COUNT ...]
    python tests/benchmarks/packing.py pictures FOLDER
    python tests/benchmarks/packing.py strip-pictures FOLDER SECONDS NAME ...

`strips` prints density beside the published one for the instances of the ESICUP collection
(EURO working group on cutting and packing), which lie outside this repository; two seeds at
once on two cores.
"""

import csv
import json
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from analyzer.drawing.reading import read_drawing
from analyzer.geometry.contours import Contours
from analyzer.layout.layout import Layout
from analyzer.packing.bare import bare_part
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.pack import Packing, pack
from analyzer.packing.stock import Stock
from analyzer.packing.strip import Strip, pack_strip
from analyzer.parts.find import find_parts
from analyzer.parts.part import Part

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_drawings"
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
    """Return the strip of one instance and the processor seconds it took."""
    parts, demands, height = instance(name)
    began = time.process_time()
    strip = pack_strip(parts, demands, height, Spacing(0.0, 0.0), effort_s=seconds, seed=seed)
    return strip, time.process_time() - began


def strips(seconds: float, names: list[str]) -> None:
    """Print a table of densities."""
    means = published()
    print("| instance | items | first | ours | published mean | behind | processor s a seed |")
    print("|---" * 7 + "|")
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


def kit(times: int = 1, thickness: float = 0.0) -> tuple[list[Part], list[Demand]]:
    """Return parts and demands of the footbridge kit, all as if of one plate; or one thickness."""
    turns = {"0": (0.0,), "90": (0.0, 90.0, 180.0, 270.0), "180": (0.0, 180.0), "free": None}
    parts: list[Part] = []
    demands: list[Demand] = []
    with (SAMPLES / "footbridge_kit.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if thickness not in (0.0, float(row["thickness_mm"])):
                continue
            for part in find_parts(read_drawing(SAMPLES / row["drawing"]), 10.0).parts:
                many = int(row["quantity"]) * part.count * times
                over, rank = row["mirror"] == "yes", int(row["priority"])
                demands.append(Demand(len(parts), many, turns[row["turns"]], over, rank))
                parts.append(part)
    return parts, demands


def measured(times: int, effort_s: float) -> tuple[Packing, float]:
    """Return the packing of the kit on 3000 x 1500 and the processor seconds it took."""
    parts, demands = kit(times)
    began = time.process_time()
    stock = [Stock("3000x1500", 3000.0, 1500.0)]
    packing = pack(parts, demands, stock, Spacing(5.0, 10.0), effort_s=effort_s)
    return packing, time.process_time() - began


def growth() -> None:
    """Print seconds of the first packing against the number of parts."""
    print("| parts | sheets | bound | net density | processor s | exponent |")
    print("|---" * 6 + "|")
    before = None
    for times in (1, 2, 4, 8):
        packing, took = measured(times, 0.0)
        exponent = f"{np.log2(took / before):.2f}" if before else ""
        print(
            f"| {300 * times} | {packing.sheet_count} | {packing.bounds.sheets} | "
            f"{packing.use:.3f} | {took:.1f} | {exponent} |", flush=True
        )  # fmt: skip
        before = took


def efforts() -> None:
    """Print what more effort gains on the kit."""
    print("| effort s | sheets | bound | net density | shortest used mm | processor s |")
    print("|---" * 6 + "|")
    for effort in (0.0, 2.0, 10.0, 30.0):
        packing, took = measured(1, effort)
        last = min(sheet.used_length_mm for sheet in packing.sheets)
        print(
            f"| {effort:g} | {packing.sheet_count} | {packing.bounds.sheets} | {packing.use:.3f} | "
            f"{last:.0f} | {took:.1f} |", flush=True
        )  # fmt: skip


def different(count: int) -> tuple[list[Part], list[Demand]]:
    """Return `count` different parts, two of each: angles, plates with a hole, cut corners."""
    rng = np.random.default_rng(7)
    parts, demands = [], []
    for row in range(count):
        a, b = np.sort(rng.uniform(60.0, 360.0, 2))[::-1].round(1)
        c, d = (a * rng.uniform(0.3, 0.7)).round(1), (b * rng.uniform(0.3, 0.7)).round(1)
        outline = [
            [[0, 0], [a, 0], [a, d], [c, d], [c, b], [0, b]],
            [[0, 0], [a, 0], [a, b], [0, b]],
            [[0, 0], [a, 0], [a, d], [c, b], [0, b]],
        ][row % 3]
        rings = [Contours.from_points(outline)]
        if row % 3 == 1:
            rings.append(Contours.circle(a / 2, b / 2, 0.3 * b).reversed())
        parts.append(bare_part(Contours.join(rings), f"P{row + 1}"))
        demands.append(Demand(row, 2))
    return parts, demands


def many_different(counts: list[int]) -> None:
    """Print seconds of the first packing against the number of different parts."""
    print("| different parts | parts | sheets | bound | net density | processor s | exponent |")
    print("|---" * 7 + "|")
    before: tuple[int, float] | None = None
    for count in counts:
        parts, demands = different(count)
        began = time.process_time()
        stock = [Stock("3000x1500", 3000.0, 1500.0)]
        packing = pack(parts, demands, stock, Spacing(5.0, 10.0), effort_s=0.0)
        took = time.process_time() - began
        exponent = ""
        if before:
            exponent = f"{np.log(took / before[1]) / np.log(count / before[0]):.2f}"
        print(
            f"| {count} | {2 * count} | {packing.sheet_count} | {packing.bounds.sheets} | "
            f"{packing.use:.3f} | {took:.1f} | {exponent} |", flush=True
        )  # fmt: skip
        before = count, took


def pictures(folder: Path) -> None:
    """Draw the layouts of the kit, all 300 parts as if of one plate."""
    packing, _ = measured(1, 10.0)
    for number, sheet in enumerate(packing.sheets, 1):
        draw(sheet.layout, folder / f"packing_{number}.png", sheet.copies, sheet.use)


def draw(layout: Layout, path: Path, copies: int, use: float) -> None:
    """Draw one layout true to scale."""
    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import pyplot
    from matplotlib.patches import PathPatch, Rectangle
    from matplotlib.path import Path as Outline

    figure, axes = pyplot.subplots(figsize=(12.0, 12.0 * layout.width_mm / layout.length_mm + 0.5))
    axes.add_patch(Rectangle((0, 0), layout.length_mm, layout.width_mm, fill=False, lw=1.0))
    for placement in layout.placements:
        contours = placement.contours(layout.parts[placement.part].contours)
        corners, codes = [], []
        for row in np.flatnonzero(contours.closed).tolist():
            ring = contours.ring(row, 0.05)
            corners.append(np.vstack((ring, ring[:1])))
            codes += [Outline.MOVETO] + [Outline.LINETO] * (len(ring) - 1) + [Outline.CLOSEPOLY]
        shade = 0.95 - 0.05 * (placement.part % 6)
        patch = PathPatch(Outline(np.vstack(corners), codes), fc=str(shade), ec="black", lw=0.6)
        axes.add_patch(patch)
    edge = 0.01 * layout.length_mm
    axes.set_xlim(-edge, layout.length_mm + edge)
    axes.set_ylim(-edge, layout.width_mm + edge)
    axes.set_aspect("equal")
    axes.axis("off")
    many = len(layout.placements)
    axes.set_title(f"{layout.length_mm:.0f} x {layout.width_mm:.0f}, {many} parts, "
                   f"{100.0 * use:.1f} % metal, {copies} off", fontsize=9)  # fmt: skip
    figure.savefig(path, dpi=70, bbox_inches="tight")
    pyplot.close(figure)


def strip_pictures(folder: Path, seconds: float, names: list[str]) -> None:
    """Draw strips of published instances."""
    for name in names:
        strip, _ = solved(name, seconds, 0)
        draw(strip.layout, folder / f"strip_{name}.png", 1, strip.density)


def main() -> None:
    """Run what was asked for."""
    what, *rest = sys.argv[1:] or ["strips"]
    if what == "strips":
        strips(float(rest[0]) if rest else 55.0, rest[1:])
    elif what == "different":
        many_different([int(count) for count in rest] or [25, 50, 100, 200, 300])
    elif what == "pictures":
        pictures(Path(rest[0]))
    elif what == "strip-pictures":
        strip_pictures(Path(rest[0]), float(rest[1]), rest[2:])
    else:
        {"growth": growth, "effort": efforts}[what]()


if __name__ == "__main__":
    main()
