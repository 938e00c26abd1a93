"""What killed writers leave is removed by the next run; what is being written never is."""

import os
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from shared import SAMPLES

from analyzer.cli import burrcast
from analyzer.report import temporary
from analyzer.report.files import write_pieces, write_whole
from analyzer.report.temporary import OLD_S, SUFFIX, clear_leftovers, this_host

WRITES = """
import sys
from pathlib import Path
from analyzer.report.files import write_pieces

def pieces():
    yield "begun "
    print("writing", flush=True)
    sys.stdin.readline()
    yield "and ended"

write_pieces(Path(sys.argv[1]), pieces())
"""


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """A process in the midst of writing `part.json`."""
    run = subprocess.Popen(
        [sys.executable, "-c", WRITES, str(tmp_path / "part.json")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert run.stdout is not None
    assert run.stdout.readline() == "writing\n"
    yield run
    run.kill()
    run.communicate()


def leftovers(folder: Path) -> list[Path]:
    """Hidden files on their way to a name."""
    return [path for path in sorted(folder.iterdir()) if path.name.endswith(SUFFIX)]


def leave(folder: Path, host: str, age_s: float = 0.0) -> Path:
    """Put down what a process of a host has left that is gone."""
    path = folder / f".burrcast-{host}-4711-k3j9x0ab{SUFFIX}"
    path.write_text("half")
    os.utime(path, (time.time() - age_s,) * 2)
    return path


def test_what_a_killed_writer_left_is_removed(
    tmp_path: Path, writer: subprocess.Popen[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(temporary, "_JUST_CLOSED_S", -1.0)
    writer.kill()
    writer.wait()
    (left,) = leftovers(tmp_path)
    assert left.name.startswith(f".burrcast-{this_host()}-{writer.pid}-"), "host and process"
    clear_leftovers([tmp_path, tmp_path / "not there"])
    assert os.listdir(tmp_path) == []


@pytest.mark.parametrize("age_s", [0.0, 10.0 * OLD_S])
def test_what_is_being_written_stays(
    tmp_path: Path, writer: subprocess.Popen[str], age_s: float
) -> None:
    """However long ago its last piece came: the writer may have been suspended."""
    (held,) = leftovers(tmp_path)
    os.utime(held, (time.time() - age_s,) * 2)
    clear_leftovers([tmp_path])
    assert leftovers(tmp_path) == [held]
    assert writer.stdin is not None
    writer.stdin.write("\n")
    writer.stdin.flush()
    assert writer.wait() == 0
    assert os.listdir(tmp_path) == ["part.json"]
    assert (tmp_path / "part.json").read_text() == "begun and ended"


@pytest.mark.parametrize("host", ["other-0a1b2c3d", "unheld-0a1b2c3d"])
def test_of_another_host_only_what_is_old_is_removed(tmp_path: Path, host: str) -> None:
    young = leave(tmp_path, host, 0.9 * OLD_S)
    clear_leftovers([tmp_path])
    assert leftovers(tmp_path) == [young]
    leave(tmp_path, host, 1.1 * OLD_S)
    clear_leftovers([tmp_path])
    assert leftovers(tmp_path) == []


def test_files_of_the_user_stay(tmp_path: Path) -> None:
    names = [".burrcast-settings", ".burrcast-unfinished", "burrcast.unfinished"]
    for name in names:
        (tmp_path / name).write_text("mine")
        os.utime(tmp_path / name, (0.0, 0.0))
    folder = tmp_path / f".burrcast-{this_host()}-1-aaaaaaaa{SUFFIX}"
    folder.mkdir()
    clear_leftovers([tmp_path])
    assert sorted(os.listdir(tmp_path)) == sorted([*names, folder.name])


@pytest.mark.skipif(not temporary.MOVES_OPEN, reason="locks as POSIX systems have them")
def test_without_locks_nothing_young_is_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(descriptor: int) -> bool:
        raise OSError(95, "Operation not supported")

    ours = leave(tmp_path, this_host())
    monkeypatch.setattr(temporary, "_hold", none)
    clear_leftovers([tmp_path])
    assert leftovers(tmp_path) == [ours]
    with temporary.temporary(tmp_path) as (file, name):
        file.write(b"half")
        assert os.path.basename(name).startswith(".burrcast-unheld-")
        monkeypatch.undo()  # locks that come back must not tell that nobody writes
        clear_leftovers([tmp_path])
        assert os.path.exists(name)
    assert leftovers(tmp_path) == []


@pytest.mark.skipif(not temporary.MOVES_OPEN, reason="locks as POSIX systems have them")
def test_one_taken_before_it_is_held_is_made_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hold, taken = temporary._hold, []

    def late(descriptor: int) -> bool:
        if not taken:
            taken.extend(leftovers(tmp_path))
            os.unlink(taken[0])  # as another run does that holds it for a moment
        return hold(descriptor)

    monkeypatch.setattr(temporary, "_hold", late)
    write_whole(tmp_path / "part.json", "whole")
    assert len(taken) == 1
    assert (tmp_path / "part.json").read_text() == "whole"


def test_writers_and_clearers_at_once(tmp_path: Path) -> None:
    stop = threading.Event()

    def clear() -> None:
        while not stop.is_set():
            clear_leftovers([tmp_path])

    clearers = [threading.Thread(target=clear) for _ in range(2)]
    for one in clearers:
        one.start()
    try:
        for number in range(60):
            write_pieces(tmp_path / f"{number % 7}", [b"a" * 1000, b"b"], force=True)
    finally:
        stop.set()
        for one in clearers:
            one.join()
    assert sorted(os.listdir(tmp_path)) == [str(number) for number in range(7)]


@pytest.mark.skipif(not temporary.MOVES_OPEN, reason="Windows waits a minute")
def test_commands_remove_them(tmp_path: Path) -> None:
    size = ["--material=mild-steel", "--thickness=8mm", "--power=6kW", "--format=csv"]
    out = tmp_path / "out"
    (out / "customer").mkdir(parents=True)
    for folder, deep in (("in", ""), ("in/customer", "customer")):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "cleat.dxf").write_bytes((SAMPLES / "cleat.dxf").read_bytes())
        leave(out / deep, this_host())
    other = leave(out / "customer", "other-0a1b2c3d")
    run = CliRunner().invoke(
        burrcast, ["check", str(tmp_path / "in" / "cleat.dxf"), *size, "--out", str(out)]
    )
    assert run.exit_code == 0
    assert leftovers(out) == []
    assert len(leftovers(out / "customer")) == 2, "nothing is written there"
    leave(out, this_host())
    run = CliRunner().invoke(
        burrcast,
        ["batch", str(tmp_path / "in"), *size, "--out", str(out), "--force", "--jobs=1"],
    )
    assert run.exit_code == 0
    assert leftovers(out) == []
    assert leftovers(out / "customer") == [other]
