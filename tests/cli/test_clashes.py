"""Options that do not go together are refused before any work, in one line that says what to do."""

import errno
import os
from pathlib import Path

import pytest
from click.testing import CliRunner
from shared import SAMPLES

from analyzer.cli import burrcast
from analyzer.errors import InputError
from analyzer.report.files import write_whole

GUSSET = str(SAMPLES / "gusset.dxf")
KIT = str(SAMPLES / "footbridge_kit.csv")
FOLDER = str(SAMPLES)
JOB = ("--material=S235", "--thickness=8", "--power=6")


@pytest.mark.parametrize(
    ("words", "says", "hint"),
    [
        (["check", GUSSET, "--brief", "--format=json"], "--brief is about text", "--format text"),
        (["check", GUSSET, "--brief", "--why"], "no room for --why", "leave one of them out"),
        (["check", GUSSET, "--format=json", "--format=csv"], "only one format", "--out DIR"),
        (["check", GUSSET, GUSSET, "--format=svg"], "several drawings make several svg", "--out"),
        (["check", GUSSET, *JOB, "--gas=N2", "--share=4"], "share belongs to mixed", "--gas mixed"),
        (["sheet", KIT, "--power=6", "--gas=N2", "--share=4"], "belongs to mixed", "--gas mixed"),
        (["check", GUSSET, "--layer=OUTLINE"], "is not ROLE=NAME", "cut=OUTLINE"),
        (["check", GUSSET, "--layer=burr=OUTLINE"], "role 'burr' is not known", "cut, mark"),
        (["sheet", KIT, KIT, "--format=csv"], "several lists make several csv files", "--out DIR"),
        (["sheet", KIT, "--brief"], "--brief is for drawings, not for sheets", "leave it out"),
        (["batch", FOLDER, "--drawings=sent"], "--drawings is about a cluster", "--scheduler"),
        (["batch", FOLDER, "--jobs=2", "--scheduler=tcp://h:1"], "about this machine", "workers"),
        (["batch", FOLDER, "--settle=1"], "about a watched folder", "add --watch"),
        (["batch", FOLDER, "--watch"], "needs one for results", "add --out DIR"),
        (["batch", GUSSET, "--watch", "--out=x"], "only a folder can be watched", "FOLDER"),
    ],
)
def test_a_clash_is_one_line_and_writes_nothing(
    words: list[str], says: str, hint: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    job = ["--material=mild-steel", "--thickness=5mm", "--power=6kW"]
    result = CliRunner().invoke(burrcast, [*words, *job])
    assert result.exit_code == 2
    assert result.stdout == ""
    told = " ".join(result.stderr.split())
    assert says in told
    assert hint in told
    assert result.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_file_system_without_hard_links_keeps_the_promise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written whole, and never over an existing file unless asked."""

    def no_links(*_: object) -> None:
        raise OSError(errno.ENOTSUP, os.strerror(errno.ENOTSUP))

    monkeypatch.setattr(os, "link", no_links)
    target = tmp_path / "answer.json"
    write_whole(target, "whole", force=False)
    assert target.read_text(encoding="utf-8") == "whole"
    with pytest.raises(InputError):
        write_whole(target, "other", force=False)
    assert target.read_text(encoding="utf-8") == "whole"
    assert [path.name for path in tmp_path.iterdir()] == ["answer.json"]
