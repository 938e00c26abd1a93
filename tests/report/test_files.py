"""Output files: whole or not at all, never over another file unless asked."""

import os
import stat
from pathlib import Path

import pytest

from analyzer.errors import InputError
from analyzer.report import files
from analyzer.report.files import check_targets, target_of, write_whole


def test_writes_and_leaves_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "new" / "part.json"
    write_whole(target, "äöü\n")
    assert target.read_bytes() == "äöü\n".encode()
    assert os.listdir(target.parent) == ["part.json"]
    umask = os.umask(0)
    os.umask(umask)
    assert stat.S_IMODE(target.stat().st_mode) == 0o666 & ~umask


def test_never_over_an_existing_file(tmp_path: Path) -> None:
    target = tmp_path / "part.json"
    target.write_text("old")
    with pytest.raises(InputError, match=r"is there already.*--force"):
        write_whole(target, "new")
    assert target.read_text() == "old"
    write_whole(target, "new", force=True)
    assert target.read_text() == "new"
    assert os.listdir(tmp_path) == ["part.json"]


@pytest.mark.parametrize("force", [True, False])
def test_never_through_a_link(tmp_path: Path, force: bool) -> None:
    other = tmp_path / "precious"
    other.write_text("old")
    target = tmp_path / "part.json"
    target.symlink_to(other)
    if force:
        write_whole(target, "new", force=True)
        assert not target.is_symlink()
    else:
        with pytest.raises(InputError):
            write_whole(target, "new")
    assert other.read_text() == "old"


def test_a_failed_write_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "part.json"
    target.write_text("old")

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", full)
    with pytest.raises(InputError, match="No space left"):
        write_whole(target, "new", force=True)
    assert target.read_text() == "old"
    assert os.listdir(tmp_path) == ["part.json"]


def test_targets_are_checked_before_any_work(tmp_path: Path) -> None:
    one, two = tmp_path / "a" / "x.dxf", tmp_path / "b" / "x.dxf"
    with pytest.raises(InputError, match="would both be written"):
        check_targets(tmp_path / "out", [one, two], ["json"], force=False)
    check_targets(tmp_path / "out", [one], ["json", "text", "json"], force=False)
    assert not (tmp_path / "out").exists()
    (tmp_path / "x.json").write_text("")
    with pytest.raises(InputError, match="is there already"):
        check_targets(tmp_path, [one], ["json"], force=False)
    check_targets(tmp_path, [one], ["json"], force=True)
    with pytest.raises(InputError, match="is a file"):
        check_targets(tmp_path / "x.json", [one], ["json"], force=True)


def test_a_drawing_is_never_the_target(tmp_path: Path) -> None:
    drawing = tmp_path / "x.json"
    drawing.write_text("")
    with pytest.raises(InputError, match="is a drawing itself"):
        check_targets(tmp_path, [drawing], ["json"], force=True)


def test_name() -> None:
    assert target_of(Path("out"), Path("in/gusset.v2.dxf"), "json") == Path("out/gusset.v2.json")
