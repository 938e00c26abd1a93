"""Every real drawing through the command: no traceback, and everything adds up.

The drawings are public files of other people's parts (see the corpus's own manifest); what they
hold is checked by the stations, here only that the answer is whole.
"""

import atexit
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result
from shared import ROOT, corpus_drawings, needs_corpus

from analyzer.cli import burrcast

DRAWINGS = corpus_drawings()
JOB = ["--material", "mild-steel", "--thickness", "3", "--power", "6"]
MAY_BE_REFUSED = {"trimesh__tray-easy1.dxf"}  # everything on paper space
SCHEMA = json.loads((ROOT / "docs" / "schemas" / "burrcast.check-1.json").read_text("utf-8"))
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


OUT = Path(tempfile.mkdtemp(prefix="burrcast-corpus-"))
atexit.register(shutil.rmtree, OUT, ignore_errors=True)


@cache
def answer(path: Path) -> Result:
    """Run the command once for both formats; the files stand in OUT."""
    words = ["--format", "json", "--format", "text", "--out", str(OUT)]
    return CliRunner().invoke(burrcast, ["check", str(path), *JOB, *words])


def written(path: Path) -> dict[str, Any]:
    result = answer(path)
    if result.exit_code == 2:
        pytest.skip(f"refused: {result.stderr.strip()}")
    text = (OUT / f"{path.stem}.json").read_text("utf-8")
    value: dict[str, Any] = json.loads(text, parse_constant=_refuse)
    return value


def _refuse(name: str) -> None:
    raise AssertionError(f"{name} in JSON")


pytestmark = needs_corpus
each = pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.name)


@each
def test_an_answer_or_one_plain_line(path: Path) -> None:
    result = answer(path)
    assert result.exit_code == 0 or path.name in MAY_BE_REFUSED, result.stderr
    assert result.stdout == ""
    if result.exit_code:
        assert result.exit_code == 2
        assert len(result.stderr.splitlines()) == 1
        assert not (OUT / f"{path.stem}.json").exists()


@each
def test_true_to_the_schema(path: Path) -> None:
    errors = [f"{list(e.path)}: {e.message}" for e in VALIDATOR.iter_errors(written(path))]
    assert errors == []


@each
def test_every_entity_is_used_or_ignored_with_a_reason(path: Path) -> None:
    entities = written(path)["drawing"]["entities"]
    for account in (entities, entities["in_blocks"]):
        assert account["total"] == account["used"] + sum(r["count"] for r in account["ignored"])


@each
def test_metres_and_times_add_up(path: Path) -> None:
    value = written(path)
    drawn = value["totals"]["cut_length_mm"] / 1000
    parts = {part["id"]: part for part in value["parts"]}
    for gas in value["gases"]:
        assert sum(gas["edge_m_by_burr_class"]) == pytest.approx(drawn, rel=1e-9, abs=1e-8)
        time = dict(gas["time_s"])
        assert time.pop("total") == pytest.approx(sum(time.values()), abs=5e-5)
        assert [part["id"] for part in gas["parts"]] == list(parts)
        copies = sum(parts[p["id"]]["count"] * p["time_s"] for p in gas["parts"])
        assert copies <= gas["time_s"]["total"] + 1e-4 * (value["totals"]["parts"] + 1)
        for part in gas["parts"]:
            assert sum(part["edge_m_by_burr_class"]) == pytest.approx(
                parts[part["id"]]["cut_length_mm"] / 1000, rel=1e-9, abs=5e-9
            )
    totals = value["totals"]
    assert totals["parts"] == sum(part["count"] for part in value["parts"])
    assert totals["distinct_parts"] == len(parts)
    assert totals["area_mm2"] == pytest.approx(
        sum(part["count"] * part["area_mm2"] for part in value["parts"]), abs=1e-3
    )
    assert totals["pierces"] == totals["contours"]


@each
def test_findings_point_at_parts_and_places(path: Path) -> None:
    value = written(path)
    parts = {part["id"] for part in value["parts"]}
    for gas in value["gases"]:
        for finding in gas["findings"]:
            assert finding["part"] is None or finding["part"] in parts
            assert (finding["x"] is None) == (not finding["places"])
            assert all(math.isfinite(p["x"]) and math.isfinite(p["y"]) for p in finding["places"])
            assert finding["count"] >= len(finding["places"]) or not finding["places"]


@each
def test_the_advice_stands_on_the_losses(path: Path) -> None:
    value = written(path)
    advice = value["advice"]
    if not value["parts"] or not value["gases"]:
        assert advice["gas"] is None
        return
    losses = {
        gas["gas"]: {
            (f["rule"], f["part"], p["x"], p["y"])
            for f in gas["findings"] if f["level"] == "loss"
            for p in f["places"] or [{"x": None, "y": None}]
        }
        for gas in value["gases"]
    }  # fmt: skip
    everywhere = set.intersection(*losses.values())
    own = {gas: len(keys - everywhere) for gas, keys in losses.items()}
    assert own[advice["gas"]] == min(own.values())
    assert set(advice["in_every_gas"]) == {key[0] for key in everywhere}


@each
def test_a_page_for_every_drawing(path: Path) -> None:
    if answer(path).exit_code == 2:
        return
    page = (OUT / f"{path.stem}.text").read_text("utf-8")
    assert max(map(len, page.splitlines())) <= 100
    assert path.name in page
    assert "Not checked" in page


@pytest.mark.parametrize("name", ["barc__side_cover.dxf", "m17rru__nameplate.dxf"])
def test_same_bytes_whatever_the_hash_seed(name: str) -> None:
    path = next(path for path in DRAWINGS if path.name == name)
    outputs = {
        subprocess.run(
            [sys.executable, "-m", "analyzer", "check", str(path), *JOB, "--format", "json"],
            capture_output=True, check=True, env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("0", "1")
    }  # fmt: skip
    assert len(outputs) == 1


def test_several_drawings_some_refused(tmp_path: Path) -> None:
    bad = tmp_path / "bad.dxf"
    bad.write_bytes(b"hello")
    result = CliRunner().invoke(
        burrcast, ["check", str(DRAWINGS[0]), str(bad), *JOB, "--format", "json"]
    )
    assert result.exit_code == 3
    value = json.loads(result.stdout)
    assert value["schema"] == "burrcast.set/1"
    assert [row["drawing"]["file"] for row in value["results"]] == [DRAWINGS[0].name]
    assert [row["file"] for row in value["refused"]] == ["bad.dxf"]
