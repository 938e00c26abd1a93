"""Killed at any moment, a batch loses at most what was in flight, and ends with the same bytes."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from batch.test_run import contents
from forked import heeds_interrupts
from shared import SAMPLES, corpus_drawings, needs_corpus

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kills as POSIX knows them"),
]
KILLS = 20


def start(folder: Path, out: Path, *more: str) -> subprocess.Popen[bytes]:
    """Start a batch as the leader of a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "analyzer", "batch", str(folder), "--out", str(out),
         "--material=mild-steel", "--thickness=8mm", "--power=6kW", "--format=json", "--jobs=2",
         *more],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        preexec_fn=heeds_interrupts,
    )  # fmt: skip


def members(group: int) -> list[int]:
    """Processes of a group, the leader first."""
    found = subprocess.run(["pgrep", "-g", str(group)], capture_output=True, text=True, check=False)
    return sorted(int(pid) for pid in found.stdout.split())


def all_gone(group: int) -> bool:
    """Whether nothing of a group is left within ten seconds."""
    for _ in range(50):
        if not members(group):
            return True
        time.sleep(0.2)
    return False


def pages(out: Path) -> int:
    """Pages that are written."""
    return len(list(out.rglob("*.json")))


def kill(run: subprocess.Popen[bytes], whom: str, rng: random.Random) -> None:
    """Kill the parent, one worker, or all, unless the batch has ended."""
    if run.poll() is not None:
        return
    if whom == "group":
        os.killpg(run.pid, signal.SIGKILL)
    elif whom == "parent":
        run.kill()
    else:
        workers = [pid for pid in members(run.pid) if pid != run.pid]
        if workers:
            os.kill(rng.choice(workers), signal.SIGKILL)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder: Path = tmp_path_factory.mktemp("drawings")
    for path in sorted(SAMPLES.glob("*.dxf")):
        shutil.copy(path, folder)
        (folder / path.stem).mkdir()
        text = path.read_bytes().replace(b"  0\nEOF", b"999\nagain\n  0\nEOF")
        (folder / path.stem / path.name).write_bytes(text)
    return folder


@pytest.fixture(scope="module")
def undisturbed(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    out = tmp_path_factory.mktemp("undisturbed") / "out"
    begin = time.monotonic()
    assert start(folder, out).wait() == 0
    return out, time.monotonic() - begin


@pytest.mark.parametrize("whom", ["group", "parent", "worker"])
def test_killed_at_random_times(
    folder: Path, undisturbed: tuple[Path, float], tmp_path: Path, whom: str
) -> None:
    whole, lasts = undisturbed
    rng = random.Random(f"kill {whom}")
    out = tmp_path / "out"
    for _ in range(KILLS):
        run = start(folder, out)
        time.sleep(rng.uniform(0.05, 0.9 * lasts))
        kill(run, whom, rng)
        code = run.wait(timeout=300)
        if code == 0:  # it had ended, or came to its end: begin anew
            assert contents(out) == contents(whole)
            shutil.rmtree(out)
        elif whom == "worker":
            assert code == 3, "the drawing in flight is reported, the rest is done"
        assert all_gone(run.pid)
    assert start(folder, out).wait() == 0
    assert contents(out) == contents(whole)


def test_two_runs_on_one_folder_do_no_harm(
    folder: Path, undisturbed: tuple[Path, float], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    runs = [start(folder, out), start(folder, out)]
    assert [run.wait() for run in runs] == [0, 0]
    assert contents(out) == contents(undisturbed[0])


def test_an_interrupt_keeps_what_is_done(
    folder: Path, undisturbed: tuple[Path, float], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run = start(folder, out)
    while pages(out) < 10:
        assert run.poll() is None, "ended before ten drawings were done"
        time.sleep(0.05)
    run.send_signal(signal.SIGINT)
    assert run.wait(timeout=60) == 130
    assert all_gone(run.pid)
    assert 10 <= pages(out) < len(list(folder.rglob("*.dxf")))
    assert start(folder, out).wait() == 0
    assert contents(out) == contents(undisturbed[0])


@pytest.mark.skipif(sys.platform != "linux", reason="limits the size of files as Linux does")
def test_a_full_disk_ends_the_batch_plainly(folder: Path, tmp_path: Path) -> None:
    """A limit on the size of files stands in for the full disk."""
    out = tmp_path / "out"
    run = subprocess.run(
        ["bash", "-c", "ulimit -f 40; exec \"$@\"", "bash", sys.executable, "-m", "analyzer",
         "batch", str(folder), "--out", str(out), "--material=mild-steel", "--thickness=8mm",
         "--power=6kW", "--format=json", "--jobs=1"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.returncode == 2
    assert "Traceback" not in run.stderr
    assert "cannot" in run.stderr
    assert start(folder, out).wait() == 0  # what was kept is whole


@needs_corpus
def test_the_real_drawings_three_times_over(tmp_path: Path) -> None:
    for k in range(3):
        (tmp_path / "in" / f"customer {k}").mkdir(parents=True)
        for path in corpus_drawings():
            shutil.copy(path, tmp_path / "in" / f"customer {k}")
    run = start(tmp_path / "in", tmp_path / "out")
    assert run.wait() in (0, 3)
    lines = (tmp_path / "out" / "summary.csv").read_text().splitlines()
    assert len(lines) == 1 + 3 * len(corpus_drawings())
    copies = [[line.partition("/")[2] for line in lines[1:] if line.startswith(f"customer {k}/")]
              for k in range(3)]  # fmt: skip
    assert copies[0] == copies[1] == copies[2]
