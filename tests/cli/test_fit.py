"""burrcast fit: a list of times in, what they say out, into the shop file only when asked."""

import json
import re
import shutil
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result
from shared import ROOT

from analyzer.cli import burrcast
from analyzer.shop import load_shop

SAMPLES = ROOT / "sample_drawings"
HEAD = "drawing,gas,minutes,material,thickness_mm"
ROWS = (
    "gusset.dxf,nitrogen,0.75,mild-steel,10",
    "deck_plate.dxf,nitrogen,4.4,mild-steel,3",
    "splice_plate.dxf,nitrogen,1.7,mild-steel,15",
)
SHOP = "# our shop\r\n[machine]\r\npower_kw = 10  # kept\r\n\r\n[job]\r\nnext = 'paint'\r\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for row in ROWS:
        shutil.copy(SAMPLES / row.split(",")[0], tmp_path)
    (tmp_path / "burrcast.toml").write_bytes(SHOP.encode())
    return tmp_path


def run(folder: Path, rows: tuple[str, ...], *words: str) -> Result:
    (folder / "times.csv").write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return CliRunner().invoke(burrcast, ["fit", str(folder / "times.csv"), *words])


def answer(result: Result) -> dict[str, Any]:
    written: dict[str, Any] = json.loads(result.stdout)
    schema = json.loads((ROOT / "docs/schemas/burrcast.fit-1.json").read_text(encoding="utf-8"))
    jsonschema.validate(written, schema)
    return written


def test_the_page_says_how_good_and_what_was_found(folder: Path) -> None:
    result = run(folder, ROWS)
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("Calibrated on 3 sheets: ")
    assert max(map(len, result.stdout.splitlines())) <= 80
    assert "start overhead, s" in result.stdout
    assert "Nothing written; --write puts it into the shop file." in result.stdout
    assert (folder / "burrcast.toml").read_bytes() == SHOP.encode()


def test_json_is_that_of_its_schema(folder: Path) -> None:
    written = answer(run(folder, ROWS, "--format", "json"))
    assert written["machine"]["off_after"] < written["machine"]["off_before"]
    assert [row["file"] for row in written["machine"]["residuals"]] == [
        row.split(",")[0] for row in ROWS
    ]
    assert written["written"] is False


def test_write_keeps_every_other_byte_and_check_says_so(folder: Path) -> None:
    assert run(folder, ROWS, "--write").exit_code == 0
    made = (folder / "burrcast.toml").read_bytes()
    assert made.startswith(SHOP.encode())
    assert b"[calibration]" in made[len(SHOP) :]
    again = run(folder, ROWS, "--write")  # replaced, not added once more
    assert again.exit_code == 0
    assert (folder / "burrcast.toml").read_bytes() == made
    check = ["check", str(folder / "gusset.dxf"), "--material", "mild-steel", "--thickness", "10"]
    page = CliRunner().invoke(burrcast, check).stdout
    assert "calibrated on 3 sheets" in " ".join(page.split())


def test_a_bad_row_is_named_and_left_out(folder: Path) -> None:
    bad = (*ROWS, "gusset.dxf,nitrogen,soon,mild-steel,10", "gone.dxf,oxygen,2,mild-steel,10")
    result = run(folder, bad)
    assert result.exit_code == 3
    assert "line 5:" in result.stdout
    assert "line 6:" in result.stdout
    assert [row["line"] for row in answer(run(folder, bad, "--format", "json"))["refused"]] == [
        5,
        6,
    ]


def test_minutes_and_seconds_of_a_stop_watch_are_translated(folder: Path) -> None:
    """7:14 is no decimal number: the row is left out, and the page says what to write."""
    result = run(folder, (*ROWS, "gusset.dxf,nitrogen,7:14,mild-steel,10"))
    assert result.exit_code == 3
    page = " ".join(result.stdout.split())
    assert "line 5: column minutes: '7:14' is not a number (7 min 14 s are 7.23 minutes)" in page


def test_too_few_times_end_in_one_sentence(folder: Path) -> None:
    result = run(folder, ROWS[:2])
    assert result.exit_code == 2
    assert "too few" in result.stderr
    assert result.stderr.count("\n") == 1


def test_write_without_a_shop_file_is_refused(folder: Path) -> None:
    (folder / "burrcast.toml").unlink()
    result = run(folder, ROWS, "--power", "10", "--write")
    assert result.exit_code == 2
    assert "there is no shop file to write to" in result.stderr


def test_times_that_fit_nothing_are_said_and_never_written(folder: Path) -> None:
    """A row of minutes for one sheet instead of twenty must not spoil the shop file."""
    wrong = (*ROWS[:2], "splice_plate.dxf,nitrogen,30,mild-steel,15", "gusset.dxf,N2,9,S235,6")
    page = run(folder, wrong)
    assert page.exit_code == 0
    said = " ".join(page.stdout.split())
    assert "no better than start values. Look first at line" in said
    assert "The times scatter too much to tell" in said
    assert not re.search(r"\d{4,} %", said)
    assert max(map(len, page.stdout.splitlines())) <= 80
    result = run(folder, wrong, "--write")
    assert result.exit_code == 2
    assert "the times do not fit" in result.stderr
    assert "nothing written" in result.stderr
    assert (folder / "burrcast.toml").read_bytes() == SHOP.encode()


def test_what_is_written_can_be_read(folder: Path) -> None:
    """A byte order mark and what stands in the file already do not matter."""
    (folder / "burrcast.toml").write_bytes(b"\xef\xbb\xbf" + SHOP.encode())
    assert run(folder, ROWS, "--write").exit_code == 0
    shop = load_shop(folder / "burrcast.toml", None)
    assert shop.calibration is not None
    assert shop.calibration.sheets == 3


def test_hand_work_that_fits_nothing_is_left_out_and_the_machine_written(folder: Path) -> None:
    """The page promised that --write puts it in, and --write then refused all of it."""
    head = HEAD + ",deburr_minutes,next"
    rows = ["gusset.dxf,nitrogen,0.75,mild-steel,10,30,powder",
            "deck_plate.dxf,nitrogen,4.4,mild-steel,3,0.02,powder",
            "splice_plate.dxf,nitrogen,1.7,mild-steel,15,0.05,powder"]  # fmt: skip
    (folder / "times.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    asked = ["fit", str(folder / "times.csv")]
    page = " ".join(CliRunner().invoke(burrcast, asked).stdout.split())
    assert "could be off by more than 300 %. Look first at line" in page
    assert "--write leaves hand work out." in page
    result = CliRunner().invoke(burrcast, [*asked, "--write"])
    assert result.exit_code == 0, result.output
    calibration = load_shop(folder / "burrcast.toml").calibration
    assert calibration is not None
    assert (calibration.sheets, calibration.rework_times) == (3, 0)
    assert "burr_factor" not in (folder / "burrcast.toml").read_text(encoding="utf-8")
