"""burrcast check and compare on the samples: formats, files, exit codes."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import ezdxf
import jsonschema
import pytest
from click.testing import CliRunner, Result
from shared import ROOT, SAMPLES

from analyzer.cli import burrcast

JOB = ["--material", "mild-steel", "--thickness", "10", "--power", "10"]
GUSSET, BASE = str(SAMPLES / "gusset.dxf"), str(SAMPLES / "base_plate.dxf")


def run(*words: str) -> Result:
    return CliRunner().invoke(burrcast, words)


def schema(name: str) -> dict[str, object]:
    return json.loads((ROOT / "docs" / "schemas" / f"{name}.json").read_text(encoding="utf-8"))


def test_check_and_compare_keep_to_their_schemas() -> None:
    for what in ("check", "compare"):
        for why in ([], ["--why"]):
            result = run(what, GUSSET, *JOB, "--format", "json", *why)
            assert result.exit_code == 0, result.stderr
            assert result.stderr == ""
            jsonschema.validate(json.loads(result.stdout), schema(f"burrcast.{what}-1"))


def test_compare_is_check_with_the_hand_work() -> None:
    check = json.loads(run("check", GUSSET, *JOB, "--format", "json").stdout)
    compare = json.loads(run("compare", GUSSET, *JOB, "--format", "json").stdout)
    for row in compare["gases"]:
        assert row.pop("rework_min") >= 0
        assert min(row.pop("gas_nm3").values()) >= 0
        assert row.pop("energy_kwh") > 0
    assert compare.pop("schema") == "burrcast.compare/1"
    assert check.pop("schema") == "burrcast.check/1"
    assert compare == check


def test_several_drawings_make_a_set(tmp_path: Path) -> None:
    result = run("check", GUSSET, BASE, *JOB, "--format", "json")
    assert result.exit_code == 0
    value = json.loads(result.stdout)
    jsonschema.validate(value, schema("burrcast.set-1"))
    assert [row["drawing"]["file"] for row in value["results"]] == ["gusset.dxf", "base_plate.dxf"]
    single = json.loads(run("check", BASE, *JOB, "--format", "json").stdout)
    assert value["results"][1] == single
    result = run("check", GUSSET, str(tmp_path / "none.dxf"), *JOB)
    assert result.exit_code == 3
    assert "gusset.dxf" in result.stdout
    assert len(result.stderr.splitlines()) == 1


def test_fail_on_looks_at_the_advised_gas() -> None:
    """Holes of 3.5 in 10 mm are lost in every gas (common practice: d/t 0.35)."""
    assert run("check", GUSSET, *JOB, "--fail-on", "loss").exit_code == 1
    assert run("check", GUSSET, *JOB).exit_code == 0


def test_gas_asked_for() -> None:
    value = json.loads(
        run(
            "check", GUSSET, *JOB, "--gas", "nitrogen", "--gas", "oxygen", "--format", "json"
        ).stdout
    )
    assert [row["gas"] for row in value["gases"]] == ["oxygen", "nitrogen"]


def test_out_writes_whole_files_and_no_page(tmp_path: Path) -> None:
    out = tmp_path / "answers"
    words = ["check", GUSSET, BASE, *JOB, "--format", "json", "--format", "text"]
    result = run(*words, "--out", str(out))
    assert result.exit_code == 0, result.stderr
    assert result.stdout == ""
    assert sorted(os.listdir(out)) == [
        "base_plate.json", "base_plate.text", "gusset.json", "gusset.text",
    ]  # fmt: skip
    assert (out / "gusset.json").read_text() == run(
        "check", GUSSET, *JOB, "--format", "json"
    ).stdout
    again = run(*words, "--out", str(out))
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert run(*words, "--out", str(out), "--force").exit_code == 0


def test_the_shop_file_is_found_upward(tmp_path: Path) -> None:
    folder = tmp_path / "orders" / "bridge"
    folder.mkdir(parents=True)
    shutil.copy(GUSSET, folder)
    (tmp_path / "burrcast.toml").write_text(
        "[job]\nmaterial = 'S235'\nthickness_mm = 10\n[machine]\npower_kw = 10\n",
        encoding="utf-8",
    )
    result = run("check", str(folder / "gusset.dxf"), "--format", "json")
    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["job"]["thickness_mm"] == 10
    result = run("check", str(folder / "gusset.dxf"), "--thickness", "8", "--format", "json")
    assert json.loads(result.stdout)["job"]["thickness_mm"] == 8


def test_same_bytes_in_any_language_and_hash_seed() -> None:
    outputs = set()
    for seed, language in (("0", "C"), ("1", "C.UTF-8")):
        done = subprocess.run(
            [sys.executable, "-m", "analyzer", "check", GUSSET, *JOB],
            capture_output=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "LC_ALL": language},
        )  # fmt: skip
        outputs.add(done.stdout)
    assert len(outputs) == 1
    assert outputs.pop().isascii()


def test_the_public_names_are_there() -> None:
    import analyzer

    for name in analyzer.__all__:
        assert getattr(analyzer, name) is not None
    with pytest.raises(AttributeError):
        analyzer.nothing  # noqa: B018
    answer = analyzer.check(GUSSET, analyzer.Job("mild-steel", 10.0, 10.0))
    assert answer.advice.gas == "mixed"


def test_join_closes_wider_gaps(tmp_path: Path) -> None:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0.5), (0, 50), (80, 50), (80, 0), (0, 0)])
    path = tmp_path / "gap.dxf"
    document.saveas(path)

    def parts(*words: str) -> int:
        result = run("check", str(path), *JOB, "--format", "json", *words)
        return int(json.loads(result.stdout)["totals"]["parts"])

    assert parts() == 0
    assert parts("--join", "0.6mm") == 1
    result = run("check", str(path), *JOB, "--join", "30")
    assert result.exit_code == 2
    assert "--join" in result.stderr


def test_too_thick_in_every_gas_is_said_first() -> None:
    """30 mm of stainless on 6 kW: 5 mm per kW, the most is 2.3 (common practice, no source)."""
    words = ["--material", "stainless", "--thickness", "30", "--power", "6"]
    page = run("check", GUSSET, *words).stdout
    assert "Not on this laser: too thick for its power in every gas." in page
