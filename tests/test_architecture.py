"""Imports point downward only, and every foreign library stays in its home.

The stations and their order are those of DEVELOPERS.md.  What is checked is the source,
parsed, so that an import inside a function counts as well.
"""

import ast
import graphlib
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from shared import ROOT

PACKAGE = ROOT / "analyzer"

# Stations from the bottom to the top; those in one row are siblings and do not import
# each other.  `job` holds values only and lies below `process`, which answers for a job.
LAYERS: tuple[tuple[str, ...], ...] = (
    ("_version", "errors"),
    ("units", "tolerances", "budgets", "garbage"),
    ("job",),
    ("geometry", "process"),
    ("drawing",),
    ("parts",),
    ("layout",),
    ("motion", "packing"),
    ("effects",),
    ("rules",),
    ("shop",),
    ("orders",),
    ("part_list",),
    ("headlines",),
    ("heat_headlines",),
    ("money",),
    ("analysis",),
    ("spread",),
    ("reasons",),
    ("flips", "least_squares", "choosing"),
    ("comparison",),
    ("one_sheet", "calibration", "payback"),
    ("sheeting",),
    ("sheet_spacing", "sheet_results", "sheet_drawings"),
    ("sheet_sums", "sheet_order"),
    ("what_if",),
    ("sheet_planning",),
    ("request",),
    ("report",),
    ("batch",),
    ("cli",),
    ("__init__", "__main__"),
)
RANK = {station: rank for rank, row in enumerate(LAYERS) for station in row}

# Where a foreign library may be imported: the start of the module's name.
EVERYWHERE = ("analyzer.",)
HOMES: dict[str, tuple[str, ...]] = {
    "numpy": EVERYWHERE,
    "ezdxf": ("analyzer.drawing.", "analyzer.report.to_dxf"),
    "shapely": (
        "analyzer.geometry.", "analyzer.parts.", "analyzer.layout.",
        "analyzer.packing.", "analyzer.effects.",
    ),
    "networkx": ("analyzer.drawing.chain", "analyzer.motion.order"),
    "matplotlib": ("analyzer.report.to_png",),
    "click": ("analyzer.cli.",),
    "scipy": ("analyzer.least_squares",),
    "distributed": ("analyzer.batch.cluster",),
    "watchdog": ("analyzer.batch.watch",),
}  # fmt: skip
LAZY = {
    "networkx",
    "matplotlib",
    "scipy",
    "rich",
    "pebble",
    "distributed",
    "watchdog",
}  # imported in the branch that needs them


@dataclass(frozen=True)
class Import:
    """One import: the whole module name, the line, and whether it runs at import time."""

    target: str
    line: int
    at_import: bool


def imports_of(source: str, module: str) -> Iterator[Import]:
    """Yield every import of a module's source; those for type checking only are left out."""
    package = module.split(".")[:-1]

    def visit(node: ast.AST, at_import: bool) -> Iterator[Import]:
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            for child in node.orelse:
                yield from visit(child, at_import)
            return
        if isinstance(node, ast.Import):
            for name in node.names:
                yield Import(name.name, node.lineno, at_import)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            start = ".".join([*base, *([node.module] if node.module else [])])
            for name in node.names:
                yield Import(f"{start}.{name.name}", node.lineno, at_import)
        inside = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for child in ast.iter_child_nodes(node):
            yield from visit(child, at_import and not inside)

    yield from visit(ast.parse(source), True)


def station_of(module: str) -> str:
    """Return the station of a module: "motion" of "analyzer.motion.order"."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else "__init__"


def faults(module: str, source: str) -> list[str]:
    """Return what is wrong with the imports of one module, one sentence each."""
    found = []
    mine = station_of(module)
    if mine not in RANK:
        return [f"{module}: the station {mine!r} has no place in the layers"]
    for item in imports_of(source, module):
        top = item.target.split(".")[0]
        where = f"{module}, line {item.line}"
        if top == "analyzer":
            other = station_of(item.target)
            other = other if other in RANK else "__init__"  # a name of the package itself
            if other != mine and RANK[other] >= RANK[mine]:
                found.append(f"{where}: {mine} imports {other}, which is not below it")
        elif top not in sys.stdlib_module_names:
            homes = HOMES.get(top, ())
            if not f"{module}.".startswith(homes or ("-",)):
                found.append(f"{where}: {top} is not at home here")
            if top in LAZY and item.at_import:
                found.append(f"{where}: {top} is imported before it is needed")
    return found


def module_name(path: Path) -> str:
    """Return the dotted name of a file of the package."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" and len(parts) > 2 else parts)


MODULES = {module_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}


def test_the_package_was_found() -> None:
    assert {"analyzer.__init__", "analyzer.geometry", "analyzer.geometry.contours"} <= set(MODULES)


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_downward_and_libraries_stay_at_home(module: str) -> None:
    # A package's own __init__ ("analyzer.geometry") counts as a module of its station.
    assert faults(module, MODULES[module].read_text(encoding="utf-8")) == []


def test_no_module_is_longer_than_can_be_taken_in() -> None:
    """400 lines at most: beyond that a module does two things, and is parted at the seam."""
    lines = {p: p.read_text(encoding="utf-8").count("\n") for p in PACKAGE.rglob("*.py")}
    assert len(lines) > 200
    assert [p.relative_to(ROOT).as_posix() for p, n in lines.items() if n > 400] == []


def test_no_module_imports_itself_in_a_circle() -> None:
    graph: dict[str, set[str]] = {}
    for module, path in MODULES.items():
        targets = graph.setdefault(module, set())
        # A package's __init__ is its own module: "analyzer.geometry" and not its parts.
        for item in imports_of(path.read_text(encoding="utf-8"), module):
            for name in (item.target, item.target.rpartition(".")[0]):
                if name in MODULES and name != module:
                    targets.add(name)
                    break
    tuple(graphlib.TopologicalSorter(graph).static_order())  # raises CycleError


@pytest.mark.parametrize(
    ("module", "source", "says"),
    [
        ("analyzer.geometry.bad", "from analyzer.cli import check", "cli, which is not below"),
        ("analyzer.geometry.bad", "from ..cli import check", "cli, which is not below"),
        ("analyzer.geometry.bad", "import analyzer.process.tables", "process, which is not below"),
        ("analyzer.motion.bad", "from analyzer.packing.place import x", "packing, which is not"),
        ("analyzer.motion.bad", "def f():\n from analyzer.rules import x", "rules, which is not"),
        ("analyzer.cli.bad", "from analyzer import check", "__init__, which is not below"),
        ("analyzer.rules.bad", "import ezdxf", "ezdxf is not at home"),
        ("analyzer.report.to_text", "from click import echo", "click is not at home"),
        ("analyzer.drawing.chain", "import networkx", "networkx is imported before"),
        ("analyzer.report.to_png", "import matplotlib.pyplot", "matplotlib is imported before"),
        ("analyzer.motion.bad", "def f():\n import scipy", "scipy is not at home"),
        ("analyzer.nowhere.bad", "", "no place in the layers"),
    ],
)
def test_the_check_can_fail(module: str, source: str, says: str) -> None:
    found = faults(module, source)
    assert len(found) == 1
    assert says in found[0]


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("analyzer.cli.good", "import click\nfrom analyzer.report.to_text import page"),
        ("analyzer.drawing.chain", "def f():\n import networkx"),
        ("analyzer.report.to_dxf", "import ezdxf, json"),
        ("analyzer.geometry.good", "import numpy as np\nfrom analyzer.geometry.arcs import x"),
        ("analyzer.geometry.good", "from analyzer.errors import InputError"),
    ],
)
def test_the_check_lets_pass_what_is_right(module: str, source: str) -> None:
    assert faults(module, source) == []


def test_no_code_looks_for_words_in_a_message() -> None:
    """What a fact or finding means stands in a field; its words are for people."""
    found = []
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            texts: list[ast.expr] = []
            if isinstance(node, ast.Compare) and isinstance(node.ops[0], ast.In | ast.NotIn):
                texts = node.comparators
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                texts = node.args * (node.func.attr in ("search", "match", "fullmatch", "findall"))
            said = [t for t in texts if isinstance(t, ast.Attribute)]
            found += [f"{path.name}:{t.lineno}" for t in said if t.attr in ("message", "remedy")]
    assert found == []
