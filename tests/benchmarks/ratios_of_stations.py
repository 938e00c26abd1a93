"""Ratios that need no big sheet: order, moves, packing, pictures.  Run by ratios.py."""

import io
import tempfile
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import networkx as nx
import numpy as np
import packing
import picture_ratio
import rectpack
import ruckig
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from analyzer.comparison import Answer, check
from analyzer.job import Job
from analyzer.motion.tour import short_tour
from analyzer.motion.traverse import rest_to_rest_times
from analyzer.packing.demand import Spacing
from analyzer.packing.pack import pack
from analyzer.packing.stock import Stock
from analyzer.report.to_png import answer_picture
from analyzer.report.to_png_lines import polylines
from analyzer.report.to_svg import answer_svg

TOURS = Path(__file__).parents[1] / "motion" / "tours.toml"
SHEET = (3000, 1500)  # that the kit is packed on [mm]
NO_GOAL = float("nan")
GAP = 5  # between parts [mm]

Measured = tuple[str, str, float, float, float, str]
"""What, against, ours, theirs, greatest ratio, unit."""
Turns = Callable[[dict[str, Callable[[], object]], int], dict[str, float]]


def order(in_turns: Turns, rounds: int) -> list[Measured]:
    """A short way: time and length against networkx, length against a proved optimum."""
    places = np.random.default_rng(3).integers(0, 1_000_000, (500, 2))
    graph = nx.Graph()
    gap = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    graph.add_weighted_edges_from((i, j, gap[i, j]) for i in range(500) for j in range(i))
    ways: dict[str, np.ndarray] = {}

    def ours() -> None:
        ways["ours"] = np.append(short_tour(places[1:], places[0], start=places[0]) + 1, 0)

    def theirs() -> None:
        ways["theirs"] = np.array(nx.approximation.greedy_tsp(graph, source=0)[1:])

    found = in_turns({"ours": ours, "theirs": theirs}, rounds)
    length = {name: float(gap[np.append(0, way[:-1]), way].sum()) for name, way in ways.items()}
    greedy = "networkx `greedy_tsp`"
    told = tomllib.loads(TOURS.read_text(encoding="utf-8"))["pcb442"]
    holes = np.array(told["xy"].split(), dtype=np.int64).reshape(-1, 2)
    for x, low, high, step in told.get("columns", []):
        y = np.arange(low, high + 1, step)
        holes = np.concatenate((holes, np.column_stack((np.full(len(y), x), y))))
    rows = []
    for words, kicks, goal in (("as a check does it", None, 1.04), ("2,000 kicks", 2000, 1.02)):
        way = short_tour(holes[1:], holes[0], start=holes[0], kicks=kicks)
        trip = holes[np.concatenate(([0], way + 1, [0]))]
        round_trip = float(np.rint(np.hypot(*np.diff(trip, axis=0).T)).sum())
        what = f"length of a tour of 442 holes, {words}"
        rows.append(
            (what, "proved optimum of pcb442 (TSPLIB)", round_trip, told["optimum"], goal, "")
        )
    return [
        ("length of a tour of 500 places", greedy, length["ours"], length["theirs"], 1.0, ""),
        ("the same, time", greedy, found["ours"], found["theirs"], NO_GOAL, "s"),
        *rows,
    ]


def moves(in_turns: Turns, rounds: int) -> list[Measured]:
    """Moves from rest to rest with limited jerk."""
    lengths = 10.0 ** np.random.default_rng(11).uniform(-2.0, 3.5, 3000)

    def theirs() -> None:
        solver, move = ruckig.Ruckig(1), ruckig.InputParameter(1)
        move.max_velocity, move.max_acceleration, move.max_jerk = [2000.0], [15e3], [2e5]
        for length in lengths.tolist():
            move.target_position = [length]
            solver.calculate(move, ruckig.Trajectory(1))

    ours = lambda: rest_to_rest_times(lengths, 2000.0, 15e3, 2e5)  # noqa: E731
    found = in_turns({"ours": ours, "theirs": theirs}, rounds)
    return [("3,000 moves from rest to rest with jerk", "ruckig, one by one", found["ours"],
             found["theirs"], 0.05, "s")]  # fmt: skip


def boxes_on_sheets(sizes: list[tuple[float, float]]) -> int:
    """Return the sheets rectpack needs for the boxes of parts, gaps and margin as ours."""
    packer = rectpack.newPacker(pack_algo=rectpack.MaxRectsBssf, rotation=True)
    for wide, tall in sizes:
        packer.add_rect(int(np.ceil(wide + GAP)), int(np.ceil(tall + GAP)))
    packer.add_bin(SHEET[0] - 20 + GAP, SHEET[1] - 20 + GAP, count=100)
    packer.pack()
    if len(packer.rect_list()) != len(sizes):
        raise RuntimeError("rectpack placed not all")
    return len(packer)


def packed(in_turns: Turns, rounds: int) -> list[Measured]:
    """The footbridge kit as of one plate, against its boxes."""
    parts, demands = packing.kit(1)
    sizes = [
        (parts[d.part].width, parts[d.part].height) for d in demands for _ in range(d.quantity)
    ]
    stock = [Stock("sheet", float(SHEET[0]), float(SHEET[1]))]
    sheets: dict[str, float] = {}

    def ours() -> None:
        sheets["ours"] = pack(parts, demands, stock, Spacing(GAP, 10.0), effort_s=0.0).sheet_count

    def theirs() -> None:
        sheets["theirs"] = boxes_on_sheets(sizes)

    found = in_turns({"ours": ours, "theirs": theirs}, rounds)
    against = "rectpack, their boxes"
    return [
        ("sheets for 300 parts of the kit, first packing", against, sheets["ours"],
         sheets["theirs"], 1.0, "sheets"),
        ("the same, time", against, found["ours"], found["theirs"], NO_GOAL, "s"),
    ]  # fmt: skip


def pictures(in_turns: Turns, rounds: int) -> list[Measured]:
    """A plate with 10,000 holes as PNG and SVG, maps and bars included, against bare lines."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "perforated.dxf"
        picture_ratio.plate(10_000, file)
        answer = check(file, Job("mild-steel", 4.0, 6.0))
    answer_picture(answer)  # once before the clock runs: fonts
    found = in_turns(
        {
            "png": lambda: answer_picture(answer),
            "bare png": lambda: picture_ratio.bare(answer),
            "svg": lambda: answer_svg(answer),
            "bare svg": lambda: bare_svg(answer),
        },
        rounds,
    )
    against = "matplotlib drawing only the same lines"
    return [
        ("PNG of 10,000 holes", against, found["png"], found["bare png"], 2.0, "s"),
        (
            "SVG of 10,000 holes, maps and marks included",
            against,
            found["svg"],
            found["bare svg"],
            0.15,
            "s",
        ),
    ]


def bare_svg(answer: Answer) -> bytes:
    """Draw nothing but the contours, as SVG."""
    (part,) = answer.analysis.parts.parts
    figure = Figure(figsize=(8.0, 6.0))
    FigureCanvasSVG(figure)
    axes = figure.add_axes((0.04, 0.04, 0.92, 0.92))
    axes.add_collection(LineCollection(polylines(part.contours, 0.2), colors="black"))
    axes.set_xlim(0.0, part.width)
    axes.set_ylim(0.0, part.height)
    buffer = io.BytesIO()
    figure.savefig(buffer, format="svg")
    return buffer.getvalue()


def effects(in_turns: Turns, rounds: int) -> list[Measured]:
    """Heat of 5,042 contours in oxygen, every web followed, against its goal in seconds."""
    import heat_growth

    setting = heat_growth.settings_for(heat_growth.JOB)[0][0]
    part = heat_growth.plate(71, 20.0)
    plan = heat_growth.plan_alone(part, setting, heat_growth.Machine(), 12.0)
    begin = time.process_time()
    heat_growth.forecast_heat(part, plan, setting, heat_growth.JOB)
    spent = time.process_time() - begin
    return [("heat of 5,042 contours, every web followed", "the goal of 2 s", spent, 2.0, 1.0,
             "s")]  # fmt: skip
