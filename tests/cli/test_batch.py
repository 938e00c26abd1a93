"""The command: what it prints, its exit codes, and what it refuses."""

import json
import shutil
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result
from shared import ROOT, SAMPLES

from analyzer.cli import burrcast

JOB = ["--material=mild-steel", "--thickness=8mm", "--power=6kW", "--jobs=1"]


def run(*args: object) -> Result:
    return CliRunner().invoke(burrcast, ["batch", *map(str, args), *JOB])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "in").mkdir()
    for name in ("gusset", "washer_plate"):
        shutil.copy(SAMPLES / f"{name}.dxf", tmp_path / "in")
    return tmp_path / "in"


def test_json_keeps_to_its_schema(folder: Path) -> None:
    (folder / "empty.dxf").write_text("")
    result = run(folder, "--format=json")
    answer = json.loads(result.stdout)
    schema = json.loads((ROOT / "docs/schemas/burrcast.batch-1.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(answer)
    assert [row["drawing"] for row in answer["drawings"]] == [
        "empty.dxf", "gusset.dxf", "washer_plate.dxf",
    ]  # fmt: skip
    assert (answer["done"], answer["refused"], result.exit_code) == (2, 1, 3)


def test_exit_codes(folder: Path) -> None:
    assert run(folder).exit_code == 0
    assert run(folder, "--fail-on=note").exit_code == 1


def test_what_it_refuses(folder: Path, tmp_path: Path) -> None:
    assert "no drawing found" in str(run(tmp_path / "in", "--pattern=*.dwg").output)
    assert "add --out" in str(run(folder, "--format=html").output)
    assert "neither" in str(run(tmp_path / "nothing").output)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("dear")
    assert "other files" in str(run(folder, "--out", tmp_path / "out").output)
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["letter.txt"]


def test_the_example_of_the_page_is_what_the_command_prints() -> None:
    page = (ROOT / "docs/batch.md").read_text(encoding="utf-8")
    example = page.partition("```console\n$ burrcast batch sample_drawings")[2]
    example = example.partition("\n")[2].partition("```")[0]
    printed = set(run(SAMPLES).stdout.splitlines())
    lines = [line for line in example.splitlines() if line not in ("", "...")]
    assert len(lines) > 10
    assert [line for line in lines if line not in printed] == []
