"""docs/validation.md agrees with the tests it is made of (the numbers are made by running them)."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import outside
import pytest
from benchmarks import validation
from shared import ROOT

PAGE = (ROOT / "docs" / "validation.md").read_text(encoding="utf-8")
CHECKS = validation.marked()


def test_sixty_checks_and_more_are_listed() -> None:
    assert len(CHECKS) >= 60
    table = PAGE.split("## Checks against the outside")[1].split("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ") and "| what |" not in line]
    assert len(rows) == len(CHECKS)
    assert f"{len(CHECKS)} checks" in PAGE


def test_every_check_stands_on_the_page_with_its_source() -> None:
    missing = [test for test, (what, src) in CHECKS.items() if f"| {what} | {src} |" not in PAGE]
    assert missing == [], "make docs/validation.md anew"


def test_every_source_is_said() -> None:
    assert all(what.strip() and source.strip() for what, source in CHECKS.values())


def test_what_the_data_files_say_stands_there() -> None:
    assert validation.with_marks(PAGE) == PAGE, "python tests/benchmarks/validation.py --marks"
    assert "| limits.toml | hole-too-small.rows" in PAGE


def test_what_is_not_validated_stands_there() -> None:
    assert validation.NOT_CHECKED in PAGE
    assert "| starter speeds | ±30 % |" in PAGE


def test_the_recorder_keeps_what_is_compared_and_hides_no_failure() -> None:
    with outside.recording() as rows:
        assert pytest.approx(2.0, rel=0.1) == 2.1
        assert np.array([1.0, 2.0]) == pytest.approx([1.0, 2.05], abs=0.1)
        np.testing.assert_allclose([3.0], [3.0])
        outside.record(5, 6, 1)
        assert pytest.approx(1.0) != 1.1
        with pytest.raises(AssertionError):
            np.testing.assert_allclose([3.0], [4.0])
        assert rows[0] == (2.0, 2.1, pytest.approx(0.2))
    assert [row[:2] for row in rows[1:4]] == [(2.05, 2.0), (3.0, 3.0), (5.0, 6.0)]
    outside.record(7, 7, 1)
    assert (7.0, 7.0, 1.0) not in rows  # nothing is kept after the block


@pytest.mark.slow
def test_a_marked_test_leaves_its_line(tmp_path: Path) -> None:
    name = "tests/process/test_material.py::test_weight"
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "0", name],
        cwd=ROOT, env=os.environ | {"BURRCAST_OUTSIDE": str(tmp_path)}, capture_output=True,
    )  # fmt: skip
    assert done.returncode == 0
    (line,) = [text for file in tmp_path.glob("*.jsonl") for text in file.open()]
    assert name in line
    assert "[[78.5, 78.5," in line
