"""The table of ratios of docs/performance.md, against other libraries in the same run.

    python tests/benchmarks/ratios.py [SECTION ...] [--rounds N] [--entities N] [--write]

Sections: read, chain, containment, webs, profile, moves, order, packing, pictures, heat, start,
check, memory, growth; without any, all.  Batches and clusters have commands of their own, named
in docs/performance.md.
Seconds are of processor time; both sides of a ratio are run in turns and the medians compared, so
that a busy machine changes ratios little.  `--write` puts the table into docs/performance.md.
"""

import argparse
import math
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, wraps
from pathlib import Path
from unittest import mock

import numpy as np
import profile_vs_toppra
import ratios_of_stations
import shapely
from big_sheet import draw
from ezdxf import edgeminer
from side_by_side import ENVIRONMENT, medians

from analyzer.drawing import chain as chaining
from analyzer.drawing import outlines, reading
from analyzer.geometry.clearance import clearances
from analyzer.parts.containment import find_containment, polygons_of
from analyzer.parts.webs import web_reach
from analyzer.tolerances import DEFAULT

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "performance.md"
BEGIN, END = "<!-- ratios: begin -->", "<!-- ratios: end -->"
JOB = ["--material=mild-steel", "--thickness=5mm", "--power=10kW", "--format=json"]
PYTHON = sys.executable
GROWTH = (1_000, 10_000, 100_000, 300_000)


@dataclass(frozen=True)
class Row:
    """One line of the table; a goal is the most a ratio may be."""

    what: str
    against: str
    ours: float
    theirs: float
    goal: float
    unit: str = "s"

    @property
    def ratio(self) -> float:
        """Ours divided by theirs. [-]"""
        return self.ours / self.theirs

    def written(self) -> str:
        """Return the line as a row of a table."""
        goal, met = f"{self.goal:.3g}", "met" if self.ratio <= self.goal else "**not met**"
        if math.isnan(self.goal):
            goal, met = "", "no goal"
        cells = (
            self.what, self.against, f"{amount(self.ours)} {self.unit}".strip(),
            f"{amount(self.theirs)} {self.unit}".strip(), f"{self.ratio:#.3g}", goal, met,
        )  # fmt: skip
        return "| " + " | ".join(cells) + " |"


def amount(value: float) -> str:
    """Return a value with three digits that count, whole from 1,000 up."""
    return f"{value:,.0f}" if value >= 1000.0 else f"{value:.3g}"


def seconds(call: Callable[[], object]) -> float:
    """Return the processor time of one call. [s]"""
    begin = time.process_time()
    call()
    return time.process_time() - begin


def in_turns(ways: dict[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Return the median of every way, run in turns. [s]"""
    times = [{name: seconds(way) for name, way in ways.items()} for _ in range(rounds)]
    return {name: statistics.median(one[name] for one in times) for name in ways}


class Sheet:
    """A made-up sheet, and what the stations make of it."""

    def __init__(self, entities: int, folder: Path) -> None:
        self.path = folder / f"{entities}.dxf"
        self.truth = draw(entities, self.path)

    @property
    def command(self) -> list[str]:
        """The whole check of it, from this source tree."""
        return [PYTHON, "-m", "analyzer", "check", str(self.path), *JOB]

    @property
    def bare(self) -> list[str]:
        """Only opening it with ezdxf."""
        return [PYTHON, "-c", f"import ezdxf; ezdxf.readfile({str(self.path)!r})"]

    @cached_property
    def read(self) -> tuple[object, object]:
        """The drawing, and the edges that were chained."""
        taken = []

        @wraps(chaining.chain)
        def kept(edges, tolerances):
            taken.append(edges)
            return chaining.chain(edges, tolerances)

        with mock.patch.object(outlines, "chain", kept):
            drawing = reading.read_drawing(self.path)
        return drawing, max(taken, key=len)


def reading_row(sheet: Sheet, rounds: int) -> list[Row]:
    """Bytes to curves: the raw scan, the rest through ezdxf, and the table of entities."""
    import ezdxf

    spent = 0.0

    def timed(call):
        @wraps(call)
        def run(*args, **more):
            nonlocal spent
            begin = time.process_time()
            try:
                return call(*args, **more)
            finally:
                spent += time.process_time() - begin

        return run

    ours, theirs = [], []
    for _ in range(rounds):
        spent = 0.0
        names = ("RawDrawing", "load_document", "read_space")
        patches = [mock.patch.object(reading, n, timed(getattr(reading, n))) for n in names]
        for patch in patches:
            patch.start()
        reading.read_drawing(sheet.path)
        mock.patch.stopall()
        ours.append(spent)
        theirs.append(seconds(lambda: ezdxf.readfile(sheet.path)))
    what = f"reading {sheet.truth.entities:,} entities"
    return [Row(what, "`ezdxf.readfile`", statistics.median(ours), statistics.median(theirs), 0.15)]


def chain_rows(sheet: Sheet, rounds: int) -> list[Row]:
    """Lines and arcs to closed loops; the arcs of the others are their chords."""
    _, edges = sheet.read
    edges = edges.take(np.hypot(*(edges.ends - edges.starts).T) > 0.0)
    starts, ends = np.round(edges.starts, 4), np.round(edges.ends, 4)

    def miner():
        made = [
            edgeminer.make_edge(tuple(a), tuple(b), length)
            for a, b, length in zip(
                starts.tolist(), ends.tolist(), edges.lengths.tolist(), strict=True
            )
        ]
        return edgeminer.find_all_simple_chains(edgeminer.Deposit(made, gap_tol=1e-3))

    lines = shapely.linestrings(np.stack((starts, ends), axis=1))
    found = in_turns(
        {
            "ours": lambda: chaining.chain(edges, DEFAULT),
            "miner": miner,
            "polygonize": lambda: shapely.polygonize(lines),
        },
        rounds,
    )
    what = f"chaining {len(edges):,} lines and arcs"
    return [
        Row(what, "ezdxf's edge miner", found["ours"], found["miner"], 1 / 30),
        Row(what, "`shapely.polygonize` of ends on a grid", found["ours"], found["polygonize"],
            1 / 3),
    ]  # fmt: skip


def containment_row(sheet: Sheet, rounds: int) -> list[Row]:
    """Which closed contour holds which."""
    cuts = sheet.read[0].cuts
    polygons = polygons_of(cuts.take(cuts.closed), 0.01)

    def theirs():
        return shapely.STRtree(polygons).query(polygons, predicate="contains")

    ours = in_turns({"ours": lambda: find_containment(cuts), "theirs": theirs}, rounds)
    what = f"containment of {len(cuts):,} contours"
    return [Row(what, "`STRtree.query(contains)`", ours["ours"], ours["theirs"], 0.15)]


def webs_row(sheet: Sheet, rounds: int) -> list[Row]:
    """Least distances between neighbouring contours within the reach of webs at 5 mm."""
    cuts = sheet.read[0].cuts
    rings = shapely.boundary(polygons_of(cuts.take(cuts.closed), 0.01))

    def theirs():
        return shapely.STRtree(rings).query_nearest(rings, exclusive=True, return_distance=True)

    ways = {"ours": lambda: clearances(cuts, web_reach(5.0)), "theirs": theirs}
    found = in_turns(ways, rounds)
    what = f"webs between {len(cuts):,} contours"
    return [Row(what, "`STRtree.query_nearest`", found["ours"], found["theirs"], 0.06)]


def profile_row(sheet: Sheet, rounds: int) -> list[Row]:
    """Speed profile with times, at the same nodes."""
    profile_vs_toppra.toppra.setup_logging("ERROR")
    count = sheet.truth.entities
    lengths, ceilings, joints = profile_vs_toppra.limits(count)
    speed, a = profile_vs_toppra.speed_profile, profile_vs_toppra.ACCELERATION
    found = in_turns(
        {
            "ours": lambda: speed(lengths, ceilings, joints, [0, count], a),
            "theirs": lambda: profile_vs_toppra.with_toppra(lengths, ceilings, joints),
        },
        rounds,
    )
    return [Row(f"speed profile of {count:,} segments", "toppra", found["ours"],
                found["theirs"], 0.01)]  # fmt: skip


def of_station(name: str) -> Callable[["Sheet", int], list[Row]]:
    """Return the rows of a station that needs no big sheet."""

    def rows(sheet: Sheet, rounds: int) -> list[Row]:
        return [Row(*one) for one in getattr(ratios_of_stations, name)(in_turns, rounds)]

    return rows


def start_rows(sheet: Sheet, rounds: int) -> list[Row]:
    """Start-up of the help and of a small check."""
    sample = ROOT / "sample_drawings" / "gusset.dxf"
    bare = f"import ezdxf, shapely, numpy; ezdxf.readfile({str(sample)!r})"
    found = medians(
        {
            "click": [PYTHON, "-c", "import click"],
            "help": [PYTHON, "-m", "analyzer", "--help"],
            "bare": [PYTHON, "-c", bare],
            "check": [PYTHON, "-m", "analyzer", "check", str(sample), *JOB],
        },
        max(rounds, 5),
    )
    return [
        Row("`burrcast --help`", "`import click`", found["help"], found["click"], 2.0),
        Row("`burrcast check` of a sample", "imports and `readfile`", found["check"],
            found["bare"], 1.5),
    ]  # fmt: skip


def check_rows(sheet: Sheet, rounds: int) -> list[Row]:
    """The whole check against only opening the file."""
    found = medians(
        {
            "readfile": sheet.bare,
            "nitrogen": [*sheet.command, "--gas=nitrogen"],
            "all": sheet.command,
        },
        rounds,
    )
    what = f"whole check of {sheet.truth.entities:,} entities"
    against = "`ezdxf.readfile` alone"
    return [
        Row(f"{what}, nitrogen", against, found["nitrogen"], found["readfile"], 0.6),
        Row(f"{what}, all gases", against, found["all"], found["readfile"], 1.0),
    ]


def growth_rows(sheet: Sheet, rounds: int) -> list[Row]:
    """Whole checks of growing sheets; the goal is n to the 1.1, over 300,000 / 100,000 3.4."""
    rows, before = [], None
    for size in GROWTH:
        one = sheet if size == sheet.truth.entities else Sheet(size, sheet.path.parent)
        command = [*one.command, "--gas=nitrogen", "--limit", "entities=1000000"]
        spent = medians({"check": command}, 1)["check"]
        if before is not None:
            low, was = before
            many = one.truth.entities / low
            goal = 3.4 if size == GROWTH[-1] else many**1.1
            exponent = math.log(spent / was) / math.log(many)
            what = f"whole check, {one.truth.entities:,} entities (exponent {exponent:.2f})"
            rows.append(Row(what, f"the same, {low:,}", spent, was, goal))
        before = one.truth.entities, spent
    return rows


def memory_row(sheet: Sheet, rounds: int) -> list[Row]:
    """Greatest memory held at once, of processes of their own."""

    # started by a small process: a child's greatest memory begins with that of its parent
    starter = (
        "import resource, subprocess, sys;"
        "subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL);"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )

    def most(command: list[str]) -> float:
        run = [PYTHON, "-c", starter, *command]
        told = subprocess.run(
            run, capture_output=True, text=True, env=ENVIRONMENT, cwd=ROOT, check=True
        )
        return int(told.stdout.split()[-1]) / 1024.0

    what = f"peak memory, {sheet.truth.entities:,} entities, nitrogen"
    ours, theirs = most([*sheet.command, "--gas=nitrogen"]), most(sheet.bare)
    return [Row(what, "`ezdxf.readfile` alone", ours, theirs, 2.5, "MiB")]


SECTIONS: dict[str, Callable[[Sheet, int], list[Row]]] = {
    "read": reading_row,
    "chain": chain_rows,
    "containment": containment_row,
    "webs": webs_row,
    "profile": profile_row,
    "moves": of_station("moves"),
    "order": of_station("order"),
    "packing": of_station("packed"),
    "pictures": of_station("pictures"),
    "heat": of_station("effects"),
    "start": start_rows,
    "check": check_rows,
    "memory": memory_row,
    "growth": growth_rows,
}


def write(lines: list[str]) -> None:
    """Put the table between the two marks of the page."""
    text = PAGE.read_text(encoding="utf-8")
    head, rest = text.split(BEGIN)
    tail = rest.split(END)[1]
    table = "\n".join(lines)
    PAGE.write_text(f"{head}{BEGIN}\n{table}\n{END}{tail}", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("sections", nargs="*", metavar="SECTION", help=", ".join(SECTIONS))
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--entities", type=int, default=100_000)
    parser.add_argument("--write", action="store_true", help="into docs/performance.md")
    asked = parser.parse_args()
    unknown = set(asked.sections) - set(SECTIONS)
    if unknown:
        parser.error(f"no section {', '.join(sorted(unknown))}; there are {', '.join(SECTIONS)}")
    os.chdir(ROOT)  # `python -m analyzer` is this source tree
    load = os.getloadavg()[0]
    lines = [
        f"Python {platform.python_version()}, {os.cpu_count()} cores, load {load:.1f} at the start,"
        f" medians of {asked.rounds} (growth and memory: one run).",
        "",
        "| what | against | ours | theirs | ratio | goal at most | |",
        "|---|---|---|---|---|---|---|",
    ]
    print("\n".join(lines), flush=True)
    with tempfile.TemporaryDirectory() as folder:
        sheet = Sheet(asked.entities, Path(folder))
        for name in asked.sections or SECTIONS:
            for row in SECTIONS[name](sheet, asked.rounds):
                lines.append(row.written())
                print(lines[-1], flush=True)
    if asked.write:
        write(lines)


if __name__ == "__main__":
    main()
