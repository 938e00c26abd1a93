"""The sample drawings, read by the whole line, against what stands beside them.

The truth of NAME.expected.toml is our own closed forms (lengths, areas), the numbers the
drawing was made with (sizes, holes, counts), and the limits of common practice (flags);
none of it was taken from the program.
"""

import csv
import json
import math
import os
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from click.testing import CliRunner
from shared import ROOT, SAMPLES

from analyzer.drawing.reading import read_drawing
from analyzer.parts.find import find_parts
from analyzer.parts.part import PartSet
from analyzer.units import parse_length

NAMES = sorted(path.name.removesuffix(".expected.toml") for path in SAMPLES.glob("*.expected.toml"))
GASES = ("oxygen", "nitrogen", "mixed", "air")


@cache
def expected(name: str) -> dict[str, Any]:
    return tomllib.loads((SAMPLES / f"{name}.expected.toml").read_text(encoding="utf-8"))


def closed_form(text: str) -> float:
    """Return the value of a formula in pi, roots and angles; comments are left out."""
    formula = " ".join(line.split("#")[0] for line in text.splitlines())
    names = {name: getattr(math, name) for name in ("pi", "sqrt", "tan", "atan", "cos", "sin")}
    return float(eval(f"({formula})", {"__builtins__": {}}, names))


@cache
def parts_of(name: str) -> PartSet:
    thickness = parse_length(expected(name)["job"]["thickness"])
    return find_parts(read_drawing(SAMPLES / f"{name}.dxf"), thickness)


@cache
def answer_of(name: str) -> dict[str, Any]:
    """Return what `burrcast check --format json` says of a sample."""
    from analyzer.cli import burrcast

    options = [f"--{key}={value}" for key, value in expected(name)["job"].items()]
    result = CliRunner().invoke(
        burrcast, ["check", str(SAMPLES / f"{name}.dxf"), *options, "--format", "json"]
    )
    assert result.exit_code == 0, result.output
    answer: dict[str, Any] = json.loads(result.stdout)
    return answer


# --- the drawings themselves --------------------------------------------------


def test_every_drawing_has_its_truth() -> None:
    assert sorted(path.stem for path in SAMPLES.glob("*.dxf")) == NAMES
    assert len(NAMES) >= 8


@pytest.fixture(scope="module")
def drawn_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run the script that draws the samples, as a reader would; return the folder."""
    return draw_into(tmp_path_factory.mktemp("first"), hash_seed="1")


def draw_into(folder: Path, hash_seed: str) -> Path:
    environment = os.environ | {"PYTHONHASHSEED": hash_seed}
    script = [sys.executable, str(SAMPLES / "draw.py"), str(folder)]
    subprocess.run(script, check=True, env=environment)
    return folder


def test_the_same_bytes_come_out_every_time(drawn_again: Path, tmp_path: Path) -> None:
    other = draw_into(tmp_path, hash_seed="2")
    for name in NAMES:
        file = f"{name}.dxf"
        assert (drawn_again / file).read_bytes() == (other / file).read_bytes()


def geometry(path: Path) -> list[tuple[str, dict[str, Any]]]:
    """Return all entities of a drawing, those of its blocks too, without their handles."""
    drawing = ezdxf.readfile(path)
    spaces = [drawing.modelspace(), *(b for b in drawing.blocks if not b.name.startswith("*"))]
    rows = []
    for entity in (entity for space in spaces for entity in space):
        values = entity.dxfattribs(drop={"handle", "owner"})
        if entity.dxftype() == "LWPOLYLINE":
            values["points"] = [tuple(map(float, p)) for p in entity.get_points("xyb")]
        rows.append((entity.dxftype(), {key: str(value) for key, value in values.items()}))
    return rows


@pytest.mark.parametrize("name", NAMES)
def test_the_script_draws_what_is_committed(name: str, drawn_again: Path) -> None:
    """Geometry, not bytes: another version of ezdxf may write other headers."""
    assert geometry(drawn_again / f"{name}.dxf") == geometry(SAMPLES / f"{name}.dxf")


@pytest.mark.parametrize("name", NAMES)
def test_every_number_is_the_value_of_its_formula(name: str) -> None:
    tables = [expected(name)["drawing"], *expected(name)["parts"]]
    checked = 0
    for table in tables:
        for key, formula in table.items():
            if not key.endswith("_from") or key == "units_from":
                continue
            stem = key.removesuffix("_from")
            (value,) = (table[k] for k in (f"{stem}_mm", f"{stem}_mm2") if k in table)
            assert value == pytest.approx(closed_form(formula), abs=1e-6)
            checked += 1
    assert checked >= 2


# --- read ---------------------------------------------------------------------


@pytest.mark.outside("Cut length of the sample drawings [mm]", "closed form beside each drawing")
@pytest.mark.parametrize("name", NAMES)
def test_contours_and_length(name: str) -> None:
    truth, drawing = expected(name)["drawing"], parts_of(name).drawing
    assert int(drawing.cuts.closed.sum()) == truth["contours"]
    assert int((~drawing.cuts.closed).sum()) == truth["open"]
    within = truth.get("cut_length_within", 1e-5)
    assert drawing.cuts.length.sum() == pytest.approx(truth["cut_length_mm"], abs=within)
    assert drawing.marks.length.sum() == pytest.approx(truth["mark_length_mm"], abs=1e-5)


@pytest.mark.parametrize("name", NAMES)
def test_units_and_account(name: str) -> None:
    truth, drawing = expected(name)["drawing"], parts_of(name).drawing
    assert (drawing.units.name, drawing.units.source) == (truth["units"], truth["units_from"])
    assert drawing.account.total == truth["entities"]
    assert drawing.account.used == truth.get("used", drawing.account.used)
    assert drawing.in_blocks.total == truth["in_blocks"]
    assert drawing.in_blocks.used == truth["in_blocks"]


@pytest.mark.parametrize("name", NAMES)
def test_parts_and_features(name: str) -> None:
    truths, found = expected(name)["parts"], parts_of(name).parts
    assert sorted(part.count for part in found) == sorted(truth["count"] for truth in truths)
    by_count = {part.count: part for part in found}
    for truth in truths:
        part = by_count[truth["count"]]
        if truth.get("other_hand") or len(truths) == 1:
            assert (part.other_hand_of is not None) == bool(truth.get("other_hand"))
        if "width_mm" in truth:
            assert part.width == pytest.approx(truth["width_mm"], abs=1e-3)
            assert part.height == pytest.approx(truth["height_mm"], abs=1e-3)
            within = truth.get("area_within", 1e-3)
            assert part.area == pytest.approx(truth["area_mm2"], abs=within)
        diameters = [round(hole.diameter, 4) for hole in part.holes]
        assert {str(d): diameters.count(d) for d in diameters} == truth["holes"]
        if "slots" in truth:
            assert len(part.slots) == truth["slots"]


# --- judged -------------------------------------------------------------------


def findings(name: str, gas: str, rule: str) -> list[dict[str, Any]]:
    """Return the findings of one rule under one gas; of every gas listed if `gas` is empty."""
    rows = [row for row in answer_of(name)["gases"] if gas in ("", row["gas"])]
    assert rows, f"{gas} is not among the gases of {name}"
    return [finding for row in rows for finding in row["findings"] if finding["rule"] == rule]


MUST = [(name, row) for name in NAMES for row in expected(name)["flags"]["must"]]


@pytest.mark.parametrize(("name", "row"), MUST, ids=[f"{n}-{r['rule']}" for n, r in MUST])
def test_what_must_be_flagged(name: str, row: dict[str, Any]) -> None:
    gases = row.get("gases") or [g["gas"] for g in answer_of(name)["gases"]]
    for gas in gases:
        found = findings(name, gas, row["rule"])
        assert found, f"{row['rule']} is missing in {gas}"
        if "levels" in row:
            levels: dict[str, int] = {}
            for finding in found:
                levels[finding["level"]] = levels.get(finding["level"], 0) + finding["count"]
            assert levels == row["levels"], gas
        if "count" in row:
            assert sum(finding["count"] for finding in found) == row["count"], gas


MUST_NOT = [(name, rule, ()) for name in NAMES for rule in expected(name)["flags"]["must_not"]]
MUST_NOT += [
    (name, row["rule"], tuple(row["gases"]))
    for name in NAMES
    for row in expected(name)["flags"].get("must_not_in", [])
]


@pytest.mark.parametrize(("name", "rule", "gases"), MUST_NOT)
def test_what_must_not_be_flagged(name: str, rule: str, gases: tuple[str, ...]) -> None:
    assert [f for gas in gases or ("",) for f in findings(name, gas, rule)] == []


@pytest.mark.parametrize("name", [n for n in NAMES if "advice" in expected(n)])
def test_advice(name: str) -> None:
    truth, advice = expected(name)["advice"], answer_of(name)["advice"]
    if "gas" in truth:
        assert advice["gas"] == truth["gas"]
    if "without_mixer" in truth:
        assert advice["without_mixer"]["gas"] == truth["without_mixer"]
    assert set(truth["in_every_gas"]) <= set(advice["in_every_gas"])


@pytest.mark.parametrize("name", NAMES)
def test_the_answer_holds_the_same_totals(name: str) -> None:
    truth, answer = expected(name), answer_of(name)
    totals = answer["totals"]
    assert totals["parts"] == sum(part["count"] for part in truth["parts"])
    assert totals["contours"] == truth["drawing"]["contours"] + truth["drawing"]["open"]
    assert totals["pierces"] == totals["contours"]
    assert totals["mark_length_mm"] == pytest.approx(truth["drawing"]["mark_length_mm"], abs=1e-5)
    for gas in answer["gases"]:
        edge = 1000.0 * sum(gas["edge_m_by_burr_class"])
        assert edge == pytest.approx(totals["cut_length_mm"], rel=1e-9)
        *terms, total = gas["time_s"].values()
        assert total == pytest.approx(sum(terms), abs=1e-3)


def test_the_samples_are_ours_and_stay_in_one_folder() -> None:
    assert {path.suffix for path in SAMPLES.iterdir() if path.is_file()} <= {
        ".dxf", ".toml", ".py", ".md", ".csv",
    }  # fmt: skip
    assert SAMPLES.parent == ROOT


def test_the_kit_is_an_order_of_three_hundred_parts() -> None:
    """Fourteen drawings, three materials; quantities are of drawings, some hold several parts."""
    with (SAMPLES / "footbridge_kit.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len({row["drawing"] for row in rows}) == 14
    assert {row["material"] for row in rows} == {"mild-steel", "stainless", "aluminium"}
    a_drawing = {row["drawing"]: row["drawing"].removesuffix(".dxf") for row in rows}
    count = {d: sum(p["count"] for p in expected(name)["parts"]) for d, name in a_drawing.items()}
    assert sum(int(row["quantity"]) * count[row["drawing"]] for row in rows) == 300
    thickness = {parse_length(expected(a_drawing[r["drawing"]])["job"]["thickness"]) for r in rows}
    assert thickness == {float(row["thickness_mm"]) for row in rows}
