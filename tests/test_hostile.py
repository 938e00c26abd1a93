"""Hostile and damaged drawings through the whole command.

Outcomes are those of the manifest of the hostile set (../shared/hostile), made anew here:
its cases come from public issue threads of readers and writers of DXF, named in each
case.  Where the set is not there, own mutants of the sample drawings and every past find
are still tried.
"""

import importlib.util
import json
import os
import random
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from click.testing import CliRunner
from forked import Run, run_forked, warm_up, written
from mutants import mutant
from shared import CORPUS, SAMPLES, SHARED

from analyzer.cli import burrcast

HOSTILE = SHARED / "hostile"
JOB = ("--material", "mild-steel", "--thickness", "5", "--power", "6", "--gas", "nitrogen")
needs_set = pytest.mark.skipif(
    not (HOSTILE / "make_hostile.py").is_file(),
    reason="the makers of hostile drawings (../shared/hostile) are not here",
)
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is not strict JSON")


def loads(text: str | bytes) -> dict[str, Any]:
    value: dict[str, Any] = json.loads(text, parse_constant=_refuse_constant)
    return value


def check_account(answer: dict[str, Any]) -> None:
    """Hold total = used + ignored, with a reason, at top level and in blocks."""
    entities = answer["drawing"]["entities"]
    for account in (entities, entities["in_blocks"]):
        rows = account["ignored"]
        assert account["total"] == account["used"] + sum(row["count"] for row in rows)
        assert all(row["reason"] and row["count"] > 0 for row in rows)


# --- the core of the hostile set ------------------------------------------


@pytest.fixture(scope="module")
def core(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict[str, Any]]]:
    """Make the core of the hostile set, without its files of 100 MB and more."""
    folder = tmp_path_factory.mktemp("hostile") / "set"
    subprocess.run(
        [sys.executable, str(HOSTILE / "make_hostile.py"), str(folder), "--core", "--no-big"],
        check=True, capture_output=True,
    )  # fmt: skip
    cases = json.loads((folder / "manifest.json").read_text("utf-8"))["cases"]
    return folder, [case for case in cases if case["kind"] != "batch"]


def outcome(case: dict[str, Any], code: int, out: str, err: str) -> str:
    """Return what the manifest would call this result, or what is wrong with it."""
    if "Traceback" in err + out:
        return "traceback"
    for pattern in case["forbid"]:
        if pattern["in"] == "any" and re.search(pattern["re"], out + err):
            return f"forbidden {pattern['re']!r}"
    if code == 2:
        plain = out == "" and len(err.strip().splitlines()) == 1
        return "refuse" if plain else "a refusal that is not one plain line"
    if code != 0:
        return f"exit {code}"
    answer = loads(out)
    check_account(answer)
    wanted = case["result"] or {}
    share = wanted.get("tol_rel", 1e-4)
    right = all(
        abs(answer["totals"][key] - wanted[key]) <= share * max(1.0, abs(wanted[key]))
        for key in ("cut_length_mm", "pierces", "parts", "area_mm2")
        if key in wanted
    )
    messages = json.dumps([answer["drawing"]["facts"], answer["drawing"]["entities"]["ignored"],
                           [gas["findings"] for gas in answer["gases"]]])  # fmt: skip
    said = any(re.search(pattern, messages + err) for pattern in case["warn_any"])
    if not right:
        return "wrong numbers"
    if said or not case["warn_any"]:
        return "warn" if case["expect"] == "warn" else "same" if wanted else "warn"
    return "same" if "same" in case["accept"] else "silent"


@needs_set
def test_the_core_of_the_hostile_set(core: tuple[Path, list[dict[str, Any]]]) -> None:
    """Every case as its manifest accepts it, at least 90 % as it prefers."""
    folder, cases = core
    runner = CliRunner()
    wrong, preferred, tried = [], 0, 0
    for case in cases:
        if "nonroot" in case["needs"] and hasattr(os, "geteuid") and os.geteuid() == 0:
            continue  # root reads what nobody may read
        path = os.fsdecode(os.path.join(os.fsencode(folder), os.fsencode(case["file"])))
        result = runner.invoke(burrcast, ["check", path, *JOB, "--format", "json"])
        got = outcome(case, result.exit_code, result.stdout, result.stderr)
        tried += 1
        preferred += got == case["expect"]
        if got not in case["accept"]:
            wrong.append(f"{case['file']}: {got}, wanted {' or '.join(case['accept'])}")
    assert not wrong, "\n".join(wrong)
    assert tried > 90
    assert preferred >= 0.9 * tried


@needs_set
def test_nothing_in_a_drawing_commands_the_page(core: tuple[Path, list[dict[str, Any]]]) -> None:
    """The printed page of every case whose names or texts are hostile, with all reasons."""
    folder, cases = core
    hostile = [case for case in cases if case["category"] in ("90_injection", "91_names")]
    assert hostile
    for case in hostile:
        path = os.fsdecode(os.path.join(os.fsencode(folder), os.fsencode(case["file"])))
        result = CliRunner().invoke(burrcast, ["check", path, *JOB, "--why"])
        page = result.stdout + result.stderr
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", page), case
        assert page.isprintable() or all(line.isprintable() for line in page.split("\n")), case


# --- mutants --------------------------------------------------------------


def samples() -> list[bytes]:
    """Return the sample drawings."""
    return [path.read_bytes() for path in sorted(SAMPLES.glob("*.dxf"))]


def fault_of(run: Run, megabytes: float = 1024.0) -> str:
    """Return what a run broke of what is promised on any input, nothing if it held."""
    if run.late:
        return "still running after its time"
    if run.code not in (0, 2):
        return f"exit {run.code}: {run.err[-300:]!r}"
    if b"Traceback" in run.err + run.out:
        return f"traceback: {run.err[-300:]!r}"
    if run.megabytes > megabytes:
        return f"{run.megabytes:.0f} MB"
    lines = run.err.strip().splitlines()
    if run.code == 2:
        return "" if len(lines) == 1 and not run.out else f"no plain refusal: {run.err[-300:]!r}"
    try:
        check_account(loads(run.out))
    except (ValueError, AssertionError) as error:
        return f"{type(error).__name__}: {error}"
    return ""


@needs_fork
@pytest.mark.parametrize(("begin", "end"), [(0, 20), pytest.param(20, 200, marks=pytest.mark.slow)])
def test_mutants_of_the_samples(tmp_path: Path, begin: int, end: int) -> None:
    """Damage on purpose: an answer whose account adds up, or one plain line."""
    drawings = samples()
    args = ["check", str(tmp_path / "mutant.dxf"), *JOB, "--format", "json"]
    written(tmp_path, drawings[0])
    warm_up(args)
    faults, answers = [], 0
    for number in range(begin, end):
        written(tmp_path, mutant(f"quick {number}", drawings))
        run = run_forked(args)
        answers += run.code == 0
        fault = fault_of(run)
        if fault:
            faults.append(f"mutant {number}: {fault}")
    assert not faults, "\n".join(faults)
    assert (end - begin) / 5 < answers < end - begin  # it neither refuses nor accepts everything


# --- past finds, made by hand ---------------------------------------------


def _drawing(*entities: str, version: str = "AC1015") -> bytes:
    """Return a drawing in mm of entities given as words: code, value, code, value ..."""
    header = f"0 SECTION 2 HEADER 9 $ACADVER 1 {version} 9 $INSUNITS 70 4 0 ENDSEC"
    words = " ".join((header, "0 SECTION 2 ENTITIES", *entities, "0 ENDSEC 0 EOF")).split()
    return ("\n".join(words) + "\n").encode()


def _line(x0: float, y0: float, x1: float, y1: float) -> str:
    return f"0 LINE 8 0 10 {x0} 20 {y0} 11 {x1} 21 {y1}"


_SPLINE = "0 SPLINE 8 0 71 3 " + " ".join(f"40 {k}" for k in [0.0] * 4 + [*range(1, 60)] + [60] * 4)
_WAVY = _SPLINE + " " + " ".join(f"10 {k} 20 {(k * 7) % 11}" for k in range(63))
_SQUARE = (_line(0, 0, 50, 0), _line(50, 0, 50, 50), _line(50, 50, 0, 50), _line(0, 50, 0, 0))

FINDS: dict[str, bytes] = {
    # 3 GB: all splines of a drawing were flattened together
    "a hundred and fifty copies of a long spline": _drawing(*[_WAVY] * 150),
    # a hang: every copy was asked about every other when hatching was looked for
    "three thousand copies of a square": _drawing(*_SQUARE * 3000),
    # 4 GB: long lines boxed in 64 pieces each, wherever line ends crowd
    "long lines through a crowd of ends": _drawing(
        *(_line(0, k, 900, 900 - k) for k in range(0, 900, 6)),
        *(_line(450 + k / 999, 450, 450 + k / 999, 450.01) for k in range(999)),
    ),
    # 2 GB: layer names in an array of text, every one as wide as the longest
    "one layer name of a hundred thousand letters": _drawing(
        *_SQUARE, _line(3, 3, 9, 9).replace("8 0 ", f"8 {'B' * 100_000} ", 1),
        *(_line(0, 60 + k, 50, 60 + k) for k in range(3000)),
    ),
    # minutes: a part half a kilometre high over thousands of slats
    "a part of half a kilometre": _drawing(
        _line(0, 0, 5e5, 0), _line(5e5, 0, 5e5, 9), _line(5e5, 9, 0, 9), _line(0, 9, 0, 0)
    ),
    # a leader that points at the centre of a hole was taken to end on its edge
    "a line to the centre of a hole": _drawing(*_SQUARE, "0 CIRCLE 8 0 10 25 20 25 40 5",
                                               _line(25, 25, 35, 45)),
    # closed outlines came out open in drawings of a version without light polylines
    "a light polyline in an old drawing": _drawing(
        "0 LWPOLYLINE 8 0 90 3 70 1 10 0 20 0 10 90 20 0 10 90 20 90", version="AC1009"
    ),
    # every reader refused it: a spline without its marker
    "a spline without its marker": _drawing(_WAVY, version="AC1006"),
}  # fmt: skip


@needs_fork
@pytest.mark.parametrize("name", FINDS)
def test_a_past_find_stays_mended(tmp_path: Path, name: str) -> None:
    path = written(tmp_path, FINDS[name])
    run = run_forked(["check", str(path), *JOB, "--format", "json"], seconds=60.0)
    assert fault_of(run) == ""
    if name == "a part of half a kilometre":
        assert run.code == 2
        assert b"coordinate_mm" in run.err
    else:
        assert run.code == 0, run.err


@needs_fork
def test_a_damaged_table_of_layouts_is_refused(tmp_path: Path) -> None:
    """The library raised a bare KeyError where the model space is asked for."""
    import ezdxf

    document = ezdxf.new("R2010")
    document.modelspace().add_circle((0, 0), 5)
    path = tmp_path / "layouts.dxf"
    document.saveas(path, fmt="bin")
    data = path.read_bytes()
    faults = []
    for at in (m.start() for m in re.finditer(b"Model\x00", data)):
        written(tmp_path, data[:at] + b"Mod\xe5l" + data[at + 5 :])
        faults.append(fault_of(run_forked(["check", str(tmp_path / "mutant.dxf"), *JOB,
                                           "--format", "json"])))  # fmt: skip
    assert faults
    assert not any(faults), faults


# --- the fuzzer, over real drawings ----------------------------------------


def _fuzz() -> ModuleType:
    spec = importlib.util.spec_from_file_location("fuzz", HOSTILE / "fuzz.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def pool() -> Iterator[list[tuple[str, bytes]]]:
    """Real drawings of up to 400 kB, by name."""
    paths = [path for path in sorted(CORPUS.glob("*.dxf")) if path.stat().st_size <= 400_000]
    return [(path.name, path.read_bytes()) for path in paths]


@pytest.mark.slow
@needs_set
@needs_fork
def test_two_thousand_mutants_of_real_drawings(
    tmp_path: Path, pool: list[tuple[str, bytes]]
) -> None:
    fuzz = _fuzz()
    args = ["check", str(tmp_path / "mutant.dxf"), *JOB, "--format", "json"]
    warm_up(args)
    faults = []
    for number in range(2000):
        data, way = fuzz.mutate(random.Random(f"slow:{number}"), pool)
        written(tmp_path, data)
        fault = fault_of(run_forked(args))
        if fault:
            faults.append(f"{number} {way}: {fault}")
    assert not faults, "\n".join(faults)


@pytest.mark.slow
@needs_set
@needs_fork
def test_changes_that_must_not_matter(tmp_path: Path, pool: list[tuple[str, bytes]]) -> None:
    """Order, direction, lines in two pieces, comments, line ends: the same numbers.

    1e-8 relative: where the middle of a split line lies within the weld distance of
    another end, both move to their mean, at most half of 1e-4 mm.
    """
    fuzz = _fuzz()
    args = ["check", str(tmp_path / "mutant.dxf"), *JOB, "--format", "json"]
    warm_up(args)

    def totals(data: bytes) -> dict[str, float] | str:
        written(tmp_path, data)
        run = run_forked(args)
        return loads(run.out)["totals"] if run.code == 0 else fault_of(run)

    known: dict[str, Any] = {}
    for number in range(2000):
        rng = random.Random(f"slow:{number}")
        name, data = rng.choice(pool)
        changed, way = fuzz.preserve(rng, data)
        if changed is None:
            continue
        if name not in known:
            known[name] = totals(data)
        got = totals(changed)
        assert got == pytest.approx(known[name], rel=1e-8), (number, name, way)


@pytest.mark.slow
@needs_set
def test_the_same_bytes_under_any_hash_seed(tmp_path: Path) -> None:
    """Each of 100 mutants is run twice by the fuzzer, with hash seeds 0 and 1."""
    command = f"{sys.executable} -m analyzer check {{file}} {' '.join(JOB)} --format json"
    done = subprocess.run(
        [sys.executable, str(HOSTILE / "fuzz.py"), "--cmd", command, "--corpus", str(CORPUS),
         "--n", "100", "--seed", "3", "--json", "--determinism", "--max-size", "200000",
         "--save", str(tmp_path / "finds"), "--timeout", "60"],
        capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
