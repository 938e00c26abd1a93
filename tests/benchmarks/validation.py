"""docs/validation.md: what was checked against the outside, and how far apart it was.

    python tests/benchmarks/validation.py > docs/validation.md

Runs every test marked `outside` and lists what each compared (tests/outside.py), then the real
drawings beside the truth their makers state, the facts of the trade with their marks, and what
nobody has checked.  Takes a few minutes; needs the real drawings beside the repository.

    python tests/benchmarks/validation.py --marks

only puts the marks of the data files into the page there is, after a change of data.
"""

import ast
import json
import os
import re
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

GROUPS = {
    "geometry": "Geometry",
    "parts": "Parts and features",
    "layout": "Layout",
    "motion": "Motion and time",
    "process": "Process: heat, gas, hand work",
    "effects": "Heat, drop, edges",
    "rules": "Tolerances and threads",
    "packing": "Packing",
    "": "The whole",
}

HEAD = """# Validation

What this tool claims, and how each claim was held against something outside it. Made by
`python tests/benchmarks/validation.py`: {count} checks of the test suite compare with a standard, a
handbook, a closed form, another library or a drawing made elsewhere, {pairs:,} pairs of numbers in
all, each with the source beside it. A check that fails stops the suite; this page only shows how
much room is left.

Read the sources as they are written. *From memory* and *common practice, no source* are just
that; *secondary* means that a public page quoting the standard was read, not the standard;
*worked by hand* is arithmetic outside the program, right only as far as its inputs are. The
[sources](sources.md) are numbered; [the formulas](index.md) have a page each.

## Checks against the outside

One row per check: of all its pairs the one that uses most of what it may differ.

"""

# Short marks that some files use without a list of their own.
MARKS = {
    "V2": "seen on a secondary public page, the standard itself not read",
    "M": "from memory, not verified",
    "C": "common practice, no source",
}

FACTS = "\n## Facts of the trade and other data, with their marks"

NOT_CHECKED = """
## Not validated, and why

| what | how far to trust it | why |
|---|---|---|
| starter speeds | ±30 % | common practice and memory; no maker publishes a table, and no machine was at hand |
| pierce times | ±50 % | as above |
| kerf, lead-in, nozzle and pressure of the starter tables | a start | from memory |
| burr classes | one class | read from bands of common practice; no cut edge was measured |
| limits of holes, slots, webs, tips | a start | shops differ; ours lie within what they use |
| hand work | ±50 % | rates of common practice |
| heat along the order | bound and pattern 1 %, webs 15 % | the formulas are checked, the heat left by a cut and the limits of temperature are not; no plate was measured |
| drop, tip, stick | the chance is exact, the outcome is not | slats, jet and jam are modelled, not filmed |
| minutes of a whole part | ±25 % until you have run `burrcast fit` | everything above, in one sum; no stop-watch time of a real machine was at hand |
| money | as good as your rates | typical prices are common practice |
| packing against other packers | rectangles and published strips only | other instances and longer runs were not tried |

What would turn these into checks: timed sheets and measured edges of a machine that is written
down. [Calibration](calibration.md) takes the first; please send the second.
"""


def written(value: float) -> str:
    """Return a number with six digits, no noise."""
    return "0" if value == 0.0 else f"{value:.6g}"


def gap(expected: float, got: float) -> str:
    """Return how far the two are apart, with two digits."""
    off = got - expected
    return "0" if off == 0.0 else f"{off:+.1e}" if abs(off) < 1e-3 else f"{off:+.2g}"


def marked(folder: Path = ROOT / "tests") -> dict[str, tuple[str, str]]:
    """Return what and source by test, as the markers in the test files say them."""
    found = {}
    for path in sorted(folder.rglob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            for mark in getattr(node, "decorator_list", ()):
                if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "pytest.mark.outside":
                    what, source = (ast.literal_eval(word) for word in mark.args)
                    found[f"{path.relative_to(ROOT).as_posix()}::{node.name}"] = (what, source)
    return found


def run() -> dict[str, list[tuple[float, float, float]]]:
    """Run the marked tests; return their comparisons by test."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-m", "outside", "-n", "0"],
            cwd=ROOT,
            env=os.environ | {"BURRCAST_OUTSIDE": folder},
            stdout=sys.stderr,
            check=False,
        )
        if done.returncode:
            raise SystemExit("a check failed: mend it before the page is made")
        rows: dict[str, list[tuple[float, float, float]]] = {}
        for path in Path(folder).glob("*.jsonl"):
            for line in path.read_text(encoding="utf-8").splitlines():
                kept = json.loads(line)
                rows.setdefault(kept["test"], []).extend(kept["rows"])
    return rows


def table(rows: dict[str, list[tuple[float, float, float]]]) -> Iterator[str]:
    """Yield one table of checks per station, and say which made no comparison."""
    checks = marked()
    silent = sorted(set(checks) - {test for test, pairs in rows.items() if pairs})
    if silent:
        raise SystemExit(f"marked as outside but nothing was compared: {', '.join(silent)}")
    for folder, title in GROUPS.items():
        mine = [
            t
            for t in checks
            if t.split("::")[0].removeprefix("tests/").rpartition("/")[0] == folder
        ]
        yield f"### {title}\n\n"
        yield "| what | source | pairs | expected | got | difference | allowed |\n"
        yield "|---|---|---|---|---|---|---|\n"
        for test in mine:
            what, source = checks[test]
            expected, got, within = max(
                rows[test], key=lambda row: abs(row[1] - row[0]) / (row[2] or 1.0)
            )
            yield (
                f"| {what} | {source} | {len(rows[test])} | {written(expected)} | {written(got)} "
                f"| {gap(expected, got)} | {within:.1e} |\n"
            )
        yield "\n"


def sources_of(value: object, marks: dict[str, str], at: str = "") -> Iterator[tuple[str, str]]:
    """Yield place and source, in words, of every table of a data file that names one."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if re.match(r"source|mark$", key) and isinstance(inner, str):
                where = at + (
                    f" ({key.removeprefix('source_')})" if key.startswith("source_") else ""
                )
                words = re.split(r"(; |, )", inner)
                yield where, "".join(marks.get(word, word) for word in words)
            elif key != "marks":
                yield from sources_of(inner, marks, f"{at}.{key}" if at else key)
    elif isinstance(value, list):
        for inner in value:
            yield from sources_of(inner, marks, at)


def facts() -> Iterator[str]:
    """Yield the section of what the data files hold, each place with its mark."""
    yield (
        f"{FACTS}\n\n"
        "Every value that is data, by file and place, with the mark that stands beside it there.\n"
        "The facts the starter values hang on are numbers 16 to 25 of the [sources](sources.md).\n\n"
        "| file | place | mark or source |\n|---|---|---|\n"
    )
    for path in sorted((ROOT / "analyzer").rglob("*.toml")):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        marks = MARKS | content.get("marks", {})
        places: dict[str, list[str]] = {}
        for where, source in sources_of(content, marks):
            key = source.replace("|", "/").replace("\n", " ")
            places.setdefault(key, [])
            if where not in places[key]:
                places[key].append(where)
        for source, where in places.items():
            yield f"| {path.name} | {', '.join(where) or 'all'} | {source} |\n"


def real_drawings() -> str:
    """Return the section of the real drawings, as its own command prints it."""
    command = [sys.executable, str(Path(__file__).with_name("real_drawings.py"))]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return text.removeprefix("# Validation\n").strip("\n") + "\n"


def with_marks(page: str) -> str:
    """Return the page with the section of the data files written anew."""
    before, rest = page.split(FACTS, 1)
    return before + "".join(facts()) + "\n## Not" + rest.split("\n## Not", 1)[1]


def main() -> None:
    """Print the page."""
    if "--marks" in sys.argv:
        path = ROOT / "docs" / "validation.md"
        path.write_text(with_marks(path.read_text(encoding="utf-8")), encoding="utf-8")
        return
    rows = run()
    body = "".join(table(rows))
    print(HEAD.format(count=len(marked()), pairs=sum(map(len, rows.values()))), end="")
    print(body + real_drawings(), end="")
    print("".join(facts()), end="")
    print(NOT_CHECKED, end="")


if __name__ == "__main__":
    main()
