"""Draw a perforated plate as PNG, against matplotlib drawing nothing but the same lines.

    python tests/benchmarks/picture_ratio.py [HOLES [ROUNDS]]

Both draw the same chords at the same size and resolution; the clock is processor time, in turns,
the median of ROUNDS after one unmeasured round.
"""

import io
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import ezdxf
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from analyzer.comparison import Answer, check
from analyzer.job import Job
from analyzer.report.to_png import answer_picture
from analyzer.report.to_png_lines import polylines
from analyzer.report.to_png_words import DPI, TALL, WIDE

PITCH = 12.0  # of the holes [mm]
GOAL = 2.0  # times the bare lines


def plate(holes: int, file: Path) -> None:
    """Write a plate with so many round holes and a few slots."""
    document = ezdxf.new(units=4)
    space = document.modelspace()
    across = int(holes**0.5 * 1.2)
    for k in range(holes):
        x, y = 20.0 + PITCH * (k % across), 20.0 + PITCH * (k // across)
        space.add_circle((x, y), 3.5)
    wide = 40.0 + PITCH * (across - 1)
    tall = 40.0 + PITCH * ((holes - 1) // across)
    corners = [(0.0, 0.0), (wide, 0.0), (wide, tall), (0.0, tall)]
    space.add_lwpolyline(corners, close=True)
    document.saveas(file)


def bare(answer: Answer) -> bytes:
    """Draw the contours as they are flattened for the picture, and nothing else."""
    (part,) = answer.analysis.parts.parts
    step = 0.2 * max(part.width / WIDE, part.height / TALL) / DPI
    figure = Figure(figsize=(WIDE, TALL), dpi=DPI)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.04, 0.04, 0.92, 0.92))
    axes.add_collection(LineCollection(polylines(part.contours, step), colors="black"))
    axes.set_xlim(0.0, part.width)
    axes.set_ylim(0.0, part.height)
    axes.set_aspect("equal")
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png", dpi=DPI)
    return buffer.getvalue()


def measured(ways: dict[str, Callable[[], bytes]], rounds: int) -> dict[str, float]:
    """Return the median processor time of each way, run in turns. [s]"""
    times: dict[str, list[float]] = {name: [] for name in ways}
    for turn in range(rounds + 1):
        for name, draw in ways.items():
            before = time.process_time()
            draw()
            if turn:
                times[name].append(time.process_time() - before)
    return {name: statistics.median(values) for name, values in times.items()}


def main(holes: int = 10_000, rounds: int = 5) -> float:
    """Measure, print, return the ratio."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "perforated.dxf"
        plate(holes, file)
        answer = check(file, Job("mild-steel", 4.0, 6.0))
    found = measured(
        {"bare lines": lambda: bare(answer), "picture": lambda: answer_picture(answer)}, rounds
    )
    ratio = found["picture"] / found["bare lines"]
    for name, seconds in found.items():
        print(f"{1000.0 * seconds:8.0f} ms  {name} of {holes + 1:,} contours")
    print(f"   ratio {ratio:.2f}   goal at most {GOAL:g}")
    return ratio


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
