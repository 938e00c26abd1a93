"""Rows of the table of ratios about plans and pictures: moves, order, packing, drawing.

Lengths and sheets are compared as well as seconds: a short way that is found slowly and a long one
found at once are both no use.
"""

import io
import math
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import networkx
import numpy as np
import packing
import picture_ratio
import rectpack
import ruckig
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from ratio_row import Row, in_turns
from scipy.sparse.csgraph import minimum_spanning_tree

from analyzer.comparison import Answer, check
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.motion.tour import short_tour
from analyzer.motion.traverse import rest_to_rest_times
from analyzer.packing.bare import bare_part
from analyzer.packing.demand import Demand, Spacing
from analyzer.packing.pack import pack
from analyzer.packing.stock import Stock
from analyzer.report.to_png import answer_picture
from analyzer.report.to_png_lines import polylines
from analyzer.report.to_svg import answer_svg

TOURS = Path(__file__).resolve().parents[1] / "motion" / "tours.toml"
MOVES = 20_000
PIERCES = 1_000
WAYS = 100_000.0  # side of the square they lie in, hundredths of a millimetre
KICKS = 4_000  # about one second
HOLES = 10_000
RECTANGLES = 150
SHEET = (1000, 700)
STRIP, STRIP_EFFORT = "shirts", 20.0


def move_rows(rounds: int) -> list[Row]:
    """Moves from rest to rest with limited jerk."""
    lengths = 10.0 ** np.random.default_rng(3).uniform(0.0, 3.0, MOVES)
    v, a, j = 1500.0, 12_000.0, 2e5

    def theirs() -> list[float]:
        otg, move, found = ruckig.Ruckig(1), ruckig.InputParameter(1), ruckig.Trajectory(1)
        move.current_position = [0.0]
        move.max_velocity, move.max_acceleration, move.max_jerk = [v], [a], [j]
        times = []
        for length in lengths.tolist():
            move.target_position = [length]
            otg.calculate(move, found)
            times.append(found.duration)
        return times

    np.testing.assert_allclose(rest_to_rest_times(lengths, v, a, j), theirs(), rtol=1e-9)
    ours = in_turns(
        {"ours": lambda: rest_to_rest_times(lengths, v, a, j), "theirs": theirs}, max(rounds, 3)
    )
    return [Row(f"{MOVES:,} moves with limited jerk", "ruckig", ours["ours"], ours["theirs"], 0.05)]


def pierces() -> np.ndarray:
    """Return places drawn at random in a square, whole numbers, shape (PIERCES, 2)."""
    return np.random.default_rng(1).integers(0, int(WAYS), (PIERCES, 2))


def around(places: np.ndarray, order: np.ndarray) -> float:
    """Return the length of the round trip in this order."""
    step = np.diff(places[np.append(order, order[0])].astype(float), axis=0)
    return float(np.hypot(*step.T).sum())


def round_trip(places: np.ndarray, kicks: int | None = None) -> np.ndarray:
    """Return our order of all rows, from row 0 and back to it."""
    order = short_tour(places[1:], places[0], start=places[0], kicks=kicks)
    return np.concatenate(([0], order + 1))


def greedy_trip(places: np.ndarray) -> np.ndarray:
    """Return the order networkx finds."""
    away = np.hypot(*(places[:, None] - places[None]).astype(float).transpose(2, 0, 1))
    graph = networkx.from_numpy_array(away)
    return np.array(networkx.algorithms.approximation.greedy_tsp(graph, source=0)[:-1])


def least_length(places: np.ndarray, tries: int = 120) -> float:
    """Return a length no round trip can be shorter than.

    The ascent of Held and Karp, Operations Research 18 (1970) 1138 (from memory): a tree over all
    places but one and the two shortest ways to that one is never longer than a round trip; neither
    is it when every place charges a toll on its ways and twice all tolls are paid back.  It comes
    within about 1 % of the shortest.
    """
    away = np.hypot(*(places[:, None] - places[None]).astype(float).transpose(2, 0, 1))
    toll, before, best = np.zeros(len(places)), np.zeros(len(places)), -math.inf
    reach = away.mean() / 40.0  # of the first step; found by trying
    for turn in range(tries):
        lift = 2.0 * abs(toll).max() + 1.0  # no cost of 0 or less, which the tree takes for no way
        cost = away + toll[:, None] + toll[None] + lift
        tree = minimum_spanning_tree(cost[1:, 1:]).tocoo()
        nearest = np.argsort(cost[0, 1:])[:2] + 1
        whole = tree.data.sum() + cost[0, nearest].sum() - lift * len(places)
        best = max(best, float(whole - 2.0 * toll.sum()))
        ends = np.concatenate((tree.row + 1, tree.col + 1, nearest, [0, 0]))
        degree = np.bincount(ends, minlength=len(places)) - 2.0
        toll += reach * 0.95**turn * (0.7 * degree + 0.3 * before)
        before = degree
    return best


def order_rows(rounds: int) -> list[Row]:
    """Round trips: as long as, and as fast as."""
    places = pierces()
    ways: dict[str, Callable[[], np.ndarray]] = {
        "ours": lambda: round_trip(places),
        "theirs": lambda: greedy_trip(places),
    }
    spent = in_turns(ways, rounds)
    ours, theirs = around(places, ways["ours"]()), around(places, ways["theirs"]())
    what, network = f"way through {PIERCES:,} pierces", "networkx `greedy_tsp`"
    begin = time.process_time()
    long = around(places, round_trip(places, kicks=KICKS))
    took = time.process_time() - begin
    shortest = tomllib.loads(TOURS.read_text(encoding="utf-8"))["pcb442"]
    known = np.array(shortest["xy"].split(), dtype=np.int64).reshape(-1, 2)
    for x, low, high, step in shortest.get("columns", []):
        y = np.arange(low, high + 1, step)
        known = np.concatenate((known, np.column_stack((np.full(len(y), x), y))))
    steps = np.diff(known[np.append(round_trip(known), 0)], axis=0)
    rounded = float(np.rint(np.hypot(*steps.T)).sum())  # as TSPLIB measures
    least = "no way can be shorter (Held and Karp's bound)"
    bound = least_length(places)
    scale = 1e-5  # hundredths of a millimetre to metres
    return [
        Row(what, network, spent["ours"], spent["theirs"], 1.0),
        Row(f"{what}, length", network, scale * ours, scale * theirs, 0.9, "m"),
        Row(f"{what}, length", least, scale * ours, scale * bound, 1.06, "m"),
        Row(f"{what}, length, {KICKS:,} kicks ({took:.1f} s)", least, scale * long, scale * bound,
            1.02, "m"),
        Row("way through the 442 places of TSPLIB pcb442", "its published shortest", rounded,
            float(shortest["optimum"]), 1.02, ""),
    ]  # fmt: skip


def packing_rows(rounds: int) -> list[Row]:
    """Rectangles against a packer of rectangles, a strip against the published density."""
    rng = np.random.default_rng(5)
    sizes = [tuple(int(v) for v in rng.integers(40, 400, 2)) for _ in range(RECTANGLES)]
    parts = [
        bare_part(Contours.from_points([[0, 0], [a, 0], [a, b], [0, b]]), f"R{k + 1}")
        for k, (a, b) in enumerate(sizes)
    ]
    demands = [Demand(k, 1) for k in range(len(parts))]

    def ours() -> int:
        stock = [Stock("s", float(SHEET[0]), float(SHEET[1]))]
        return pack(parts, demands, stock, Spacing(0.0, 0.0), effort_s=5.0).sheet_count

    def theirs() -> int:
        return min(
            bins_of(sizes, way) for way in (rectpack.MaxRectsBssf, rectpack.GuillotineBssfSas)
        )

    what = f"packing {RECTANGLES} different rectangles, sheets"
    against = "the better of two ways of rectpack"
    rows = [Row(what, against, float(ours()), float(theirs()), 1.0, "")]
    if packing.INSTANCES.is_dir():
        dense, mean = packing.solved(STRIP, STRIP_EFFORT, 0)[0].density, packing.published()[STRIP]
        what = f"strip {STRIP} of ESICUP, {STRIP_EFFORT:.0f} s, length over that of the metal"
        rows.append(Row(what, "published mean of 20-minute runs", 1.0 / dense, 100.0 / mean, 1.08,
                        ""))  # fmt: skip
    else:
        print("no published instances of strips here: their row is left out", file=sys.stderr)
    return rows


def bins_of(sizes: list[tuple[int, int]], way: object) -> int:
    """Return how many sheets rectpack needs."""
    packer = rectpack.newPacker(pack_algo=way, rotation=True)
    for size in sizes:
        packer.add_rect(*size)
    packer.add_bin(*SHEET, count=len(sizes))
    packer.pack()
    return len(packer)


def picture_rows(rounds: int) -> list[Row]:
    """PNG and SVG of a perforated plate against matplotlib drawing nothing but the lines."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "perforated.dxf"
        picture_ratio.plate(HOLES, file)
        answer = check(file, Job("mild-steel", 4.0, 6.0))
    ways = {
        "png": lambda: answer_picture(answer),
        "bare png": lambda: picture_ratio.bare(answer),
        "svg": lambda: answer_svg(answer),
        "bare svg": lambda: bare_svg(answer),
    }
    found = picture_ratio.measured(ways, rounds)
    what = f"of {HOLES + 1:,} contours, maps and marks included"
    against = "matplotlib `LineCollection`, the lines alone"
    return [
        Row(f"PNG {what}", against, found["png"], found["bare png"], picture_ratio.GOAL),
        Row(f"SVG {what}", against, found["svg"], found["bare svg"], 0.15),
    ]


def bare_svg(answer: Answer) -> bytes:
    """Draw the contours as SVG, and nothing else."""
    (part,) = answer.analysis.parts.parts
    figure = Figure(figsize=(10.0, 6.0))
    FigureCanvasSVG(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.add_collection(LineCollection(polylines(part.contours, 0.05), colors="black"))
    axes.set_xlim(0.0, part.width)
    axes.set_ylim(0.0, part.height)
    buffer = io.BytesIO()
    figure.savefig(buffer, format="svg")
    return buffer.getvalue()
