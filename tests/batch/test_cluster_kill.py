"""A real scheduler and real workers on this machine, killed half-way; the documented commands."""

import contextlib
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from batch.test_run import contents
from forked import heeds_interrupts
from shared import ROOT, SAMPLES

pytest.importorskip("distributed")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="kills as POSIX knows them"),
]
DASK = [sys.executable, "-m", "dask"]
LIMIT_S = 240.0


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def start(*command: str, path: Path = ROOT) -> subprocess.Popen[str]:
    """Start a command as the leader of a group of its own, with our code before any other."""
    return subprocess.Popen(
        command, env={**os.environ, "PYTHONPATH": str(path)}, start_new_session=True,
        preexec_fn=heeds_interrupts,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        cwd=path,  # python -m looks here first
    )  # fmt: skip


def kill(process: subprocess.Popen[str]) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + LIMIT_S
    while not true():
        assert time.monotonic() < end, "did not come about in time"
        time.sleep(0.05)


class Machines:
    """A scheduler and its workers, each a group of processes."""

    def __init__(self, workers: int = 2) -> None:
        self.address = f"tcp://127.0.0.1:{free_port()}"
        self.scheduler: subprocess.Popen[str]
        self.workers: list[subprocess.Popen[str]] = []
        self.begin()
        for _ in range(workers):
            self.add()

    def begin(self) -> None:
        port = self.address.rpartition(":")[2]
        self.scheduler = start(
            *DASK, "scheduler", "--host=127.0.0.1", f"--port={port}", "--no-dashboard"
        )

    def add(self, path: Path = ROOT) -> None:
        self.workers.append(
            start(*DASK, "worker", self.address, "--nthreads=1", "--no-dashboard", path=path)
        )

    def end(self) -> None:
        for one in (*self.workers, self.scheduler):
            kill(one)


@pytest.fixture
def machines() -> Iterator[Machines]:
    made = Machines()
    yield made
    made.end()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Sixty drawings, no two of the same bytes, and one that is refused."""
    folder: Path = tmp_path_factory.mktemp("drawings")
    for k, path in enumerate(sorted(SAMPLES.glob("*.dxf")) * 4):
        text = path.read_bytes().replace(b"  0\nEOF", b"999\nnumber %d\n  0\nEOF" % k)
        (folder / f"{k % 3}").mkdir(exist_ok=True)
        (folder / f"{k % 3}" / f"{path.stem}-{k}.dxf").write_bytes(text)
    (folder / "broken.dxf").write_text("0\nSECTION\n2\nENTITIES\n0\nLINE\n")
    (folder / "burrcast.toml").write_text("[machine]\nlift_s = 0.4\n")
    return folder


def batch(folder: Path, out: Path, *more: str) -> subprocess.Popen[str]:
    return start(
        sys.executable, "-m", "analyzer", "batch", str(folder), "--out", str(out), "--format=json",
        "--format=html", "--material=mild-steel", "--thickness=8mm", "--power=6kW", *more,
    )  # fmt: skip


@pytest.fixture(scope="module")
def local(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    out = tmp_path_factory.mktemp("local") / "out"
    run = batch(folder, out, "--jobs=2")
    told, _ = run.communicate(timeout=LIMIT_S)
    assert run.returncode == 3, told  # one is refused
    return contents(out)


def lines(told: str) -> list[str]:
    """The drawings that were told of, one line each."""
    return [line.split(":")[0] for line in told.splitlines() if re.match(r"\S+\.dxf: ", line)]


def half(out: Path) -> Callable[[], bool]:
    """Whether some, not all, drawings are done."""
    return lambda: len(list(out.rglob("*.json"))) >= 12


@pytest.mark.parametrize("how", ["sent", "shared"])
def test_the_same_bytes_as_on_one_machine(
    folder: Path, local: dict[str, bytes], machines: Machines, tmp_path: Path, how: str
) -> None:
    runs = [
        batch(folder, tmp_path / "out", "--scheduler", machines.address, f"--drawings={how}")
        for _ in range(2 if how == "sent" else 1)  # two at the same time, on one folder
    ]
    for run in runs:
        told, _ = run.communicate(timeout=LIMIT_S)
        assert run.returncode == 3, told
        assert len(set(lines(told))) == len(lines(told)) == 61
    assert contents(tmp_path / "out") == local


@pytest.mark.parametrize("whom", ["machine", "process"])
def test_a_worker_killed_half_way(
    folder: Path, local: dict[str, bytes], machines: Machines, tmp_path: Path, whom: str
) -> None:
    out = tmp_path / "out"
    run = batch(folder, out, "--scheduler", machines.address)
    until(half(out))
    first = machines.workers[0]
    if whom == "machine":
        kill(first)
    else:  # the worker below its nanny, which starts another
        found = subprocess.run(
            ["pgrep", "-P", str(first.pid)], capture_output=True, text=True, check=True
        )
        for pid in found.stdout.split():
            os.kill(int(pid), signal.SIGKILL)
    told, _ = run.communicate(timeout=LIMIT_S)
    assert run.returncode == 3, told
    assert len(set(lines(told))) == len(lines(told)) == 61
    assert contents(out) == local


def test_the_scheduler_killed_half_way(
    folder: Path, local: dict[str, bytes], machines: Machines, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run = batch(folder, out, "--scheduler", machines.address)
    until(half(out))
    kill(machines.scheduler)
    told, _ = run.communicate(timeout=LIMIT_S)
    assert run.returncode == 2, told
    assert "scheduler was lost" in told
    assert "Traceback" not in told
    kept = {path: path.stat().st_mtime_ns for path in out.rglob("*.json")}
    assert 12 <= len(kept) < 60
    machines.begin()
    for worker in machines.workers:
        kill(worker)
    machines.add()
    again = batch(folder, out, "--scheduler", machines.address)
    told, _ = again.communicate(timeout=LIMIT_S)
    assert again.returncode == 3, told
    assert contents(out) == local
    assert {path: path.stat().st_mtime_ns for path in kept} == kept  # none done twice


def test_an_interrupt_ends_what_is_in_flight(
    folder: Path, local: dict[str, bytes], machines: Machines, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run = batch(folder, out, "--scheduler", machines.address)
    until(half(out))
    os.kill(run.pid, signal.SIGINT)
    told, _ = run.communicate(timeout=60)
    assert run.returncode == 130, told
    again = batch(folder, out, "--scheduler", machines.address)
    told, _ = again.communicate(timeout=LIMIT_S)
    assert again.returncode == 3, told
    assert contents(out) == local


def test_a_worker_of_another_version_is_named(
    folder: Path, machines: Machines, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    shutil.copytree(ROOT / "analyzer", other / "analyzer")
    (other / "analyzer" / "_version.py").write_text('__version__ = "9.9.9"\n')
    machines.add(other)
    run = batch(folder, tmp_path / "out", "--scheduler", machines.address)
    told, _ = run.communicate(timeout=LIMIT_S)
    assert run.returncode == 2, told
    assert re.search(r"worker .* has burrcast 9\.9\.9 where we have ", told)


def test_the_documented_commands(tmp_path: Path) -> None:
    """Exactly as they stand in docs/cluster.md, in a copy of the tree, with nothing installed."""
    text = (ROOT / "docs" / "cluster.md").read_text(encoding="utf-8")
    install, scheduler, worker, run = re.findall(r"^```sh\n(.*)\n```$", text, flags=re.M)
    copy = tmp_path / "copy"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".*", "*.egg-info", "__pycache__"))
    env = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "VIRTUAL_ENV"))}

    def shell(command: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            ["bash", "-c", f"exec {command}" if "&&" not in command else command], cwd=copy,
            env=env, start_new_session=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
            text=True,
        )  # fmt: skip

    made = shell(install)
    told, _ = made.communicate(timeout=600)
    assert made.returncode == 0, told
    machines = [shell(scheduler), shell(worker), shell(worker)]
    try:
        last = shell(run)
        told, _ = last.communicate(timeout=LIMIT_S)
    finally:
        for one in machines:
            kill(one)
    assert last.returncode == 0, told
    assert "15 drawings done, 0 refused, 0 failed" in told
    assert len(list((copy / "results").glob("*.html"))) == 16
