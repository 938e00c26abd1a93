"""A watched folder: each drawing once, when it is whole; nothing lost, nothing doubled."""

import os
import queue
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from batch.test_run import ASKED, contents
from click.testing import CliRunner
from forked import heeds_interrupts
from shared import ROOT, SAMPLES

from analyzer.batch import watch as module
from analyzer.batch.row import Row
from analyzer.batch.run import Plan
from analyzer.batch.store import Store
from analyzer.batch.tasks import is_wanted, tasks_of
from analyzer.batch.watch import Desk, Watched, watch
from analyzer.batch.work import Pages, Todo, work
from analyzer.cli import burrcast
from analyzer.report.temporary import SUFFIX, this_host

GUSSET = (SAMPLES / "gusset.dxf").read_bytes()
CLEAT = (SAMPLES / "cleat.dxf").read_bytes()


class Bench:
    """A desk whose clock is ours, worked at by hand."""

    def __init__(self, top: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.now = top / "in", 1000.0
        self.folder.mkdir()
        monkeypatch.setattr(module.time, "monotonic", lambda: self.now)
        self.store = Store(top / "out")
        self.told: list[Row] = []
        self.desk = Desk(
            Watched(self.folder, ASKED, settle_s=2.0, search_s=1e6), Plan(out=top / "out"),
            self.store, lambda row, far: self.told.append(row),
        )  # fmt: skip
        assert self.names() == []  # the first search

    def put(self, name: str, data: bytes) -> Path:
        path = self.folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
        self.desk.stir(path)
        return path

    def handed(self, seconds: float = 0.0) -> list[Todo]:
        """What is handed out by the end of some time."""
        out: list[Todo] = []
        for _ in range(max(int(seconds / 0.5), 1)):
            self.now += 0.5
            out += list(self.desk)
        return out

    def names(self, seconds: float = 0.0) -> list[str]:
        return [todo.task.name for todo in self.handed(seconds)]


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Bench]:
    made = Bench(tmp_path, monkeypatch)
    yield made
    made.store.close()


def test_a_drawing_is_handed_out_once_and_only_when_it_stands_still(bench: Bench) -> None:
    for length in (100, 2000, 3000):
        bench.put("a.dxf", GUSSET[:length])
        assert bench.names(1.5) == []  # written to again before it has settled
    bench.put("a.dxf", GUSSET)
    assert bench.names(2.5) == ["a.dxf"]
    bench.desk.stir(bench.folder / "a.dxf")  # an event without a change
    assert bench.names(5.0) == []


def test_what_a_killed_run_left_is_cleared(bench: Bench) -> None:
    folder = bench.store.path.parent / "customer"
    folder.mkdir()
    left = folder / f".burrcast-{this_host()}-4711-k3j9x0ab{SUFFIX}"
    left.write_text("half")
    os.utime(left, (0.0, 0.0))
    bench.desk.plan = replace(bench.desk.plan, pages=Pages(("csv",)))
    bench.put("customer/a.dxf", GUSSET)
    assert bench.names(2.5) == ["customer/a.dxf"]
    assert list(folder.iterdir()) == []


def test_renamed_in_removed_and_foreign_files(bench: Bench) -> None:
    (bench.folder / "b.part").write_bytes(CLEAT)
    bench.desk.stir(bench.folder / "b.part")
    (bench.folder / "b.part").rename(bench.folder / "b.dxf")
    bench.desk.stir(bench.folder / "b.dxf")
    gone = bench.put("gone.dxf", CLEAT)
    gone.unlink()
    bench.desk.stir(bench.store.path.parent / "mine.dxf")
    assert bench.names(2.5) == ["b.dxf"]
    assert bench.names(5.0) == []


def test_a_change_while_it_is_worked_on_is_done_again(bench: Bench) -> None:
    path = bench.put("a.dxf", GUSSET)
    (todo,) = bench.handed(2.5)
    done = work(todo.task)
    path.write_bytes(CLEAT)
    bench.desk.stir(path)
    assert bench.names(5.0) == []  # not twice at the same time
    bench.desk.take(done)
    (again,) = bench.handed(2.5)
    bench.desk.take(work(again.task))
    assert bench.names(5.0) == []
    (row,) = bench.desk.batch().rows
    assert row.pierces == work(again.task).row.pierces != done.row.pierces


def test_a_lost_event_is_made_up_for_by_a_search(bench: Bench) -> None:
    (bench.folder / "sub").mkdir()
    (bench.folder / "sub" / "c.dxf").write_bytes(CLEAT)
    assert bench.names(5.0) == []
    bench.desk.stir(None)
    assert bench.names(3.0) == ["sub/c.dxf"]


def test_what_is_kept_is_not_done_again(bench: Bench) -> None:
    bench.put("a.dxf", GUSSET)
    (todo,) = bench.handed(2.5)
    bench.desk.take(work(todo.task))
    copy = bench.put("sub/a.dxf", GUSSET)  # the same drawing elsewhere
    assert bench.names(2.5) == []
    assert [row.drawing for row in bench.told] == ["a.dxf", "sub/a.dxf"]
    copy.write_bytes(CLEAT)
    bench.desk.stir(copy)
    assert bench.names(2.5) == ["sub/a.dxf"]


def test_rows_stand_as_a_batch_tells_them(bench: Bench) -> None:
    for name in ("z.dxf", "b/y.dxf", "a/x.dxf", "A.dxf", "b.dxf", "b/a.dxf"):
        bench.put(name, b"")
    for todo in bench.handed(2.5):
        bench.desk.take(work(todo.task))
    plain = [one.name for one in tasks_of(bench.folder, ASKED)]
    assert [row.drawing for row in bench.desk.batch().rows] == plain


def test_half_a_drawing_refused_is_not_kept_for_the_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Refused for what was read, while the rest arrived: the whole must be read again."""
    path = tmp_path / "a.dxf"
    path.write_bytes(GUSSET[:3000])
    (task,) = tasks_of(tmp_path, ASKED)
    honest, times = type(ASKED).answer, []

    def late(self: object, drawing: Path, shop: object = None) -> object:
        times.append(1)
        try:
            return honest(self, drawing, shop)  # type: ignore[arg-type]
        finally:
            path.write_bytes(GUSSET)

    monkeypatch.setattr(type(ASKED), "answer", late)
    done = work(task)  # type: ignore[arg-type]
    assert (done.row.status, len(times)) == ("done", 2)


def test_only_what_a_search_finds_is_wanted(tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert is_wanted(tmp_path / "sub" / "A.DXF", tmp_path, "*.dxf", out)
    assert not is_wanted(tmp_path / "a.dxf.part", tmp_path, "*.dxf", out)
    assert not is_wanted(out / "a.dxf", tmp_path, "*.dxf", out)
    assert not is_wanted(tmp_path.parent / "a.dxf", tmp_path, "*.dxf", out)


def test_options_that_do_not_go_together(tmp_path: Path) -> None:
    for args, says in (
        (["--watch"], "add --out"),
        (["--settle=1"], "add --watch"),
        (["--drawings=shared"], "add --scheduler"),
        (["--scheduler=tcp://127.0.0.1:1", "--jobs=2"], "--jobs is about this machine"),
    ):
        result = CliRunner().invoke(burrcast, ["batch", str(tmp_path), *args])
        assert (result.exit_code, says in result.output) == (2, True), result.output


def test_events_of_a_real_folder_arrive(tmp_path: Path) -> None:
    seen: queue.SimpleQueue[Path | None] = queue.SimpleQueue()
    observer = module._observed(tmp_path, seen.put)
    try:
        (tmp_path / "x.part").write_bytes(CLEAT)
        (tmp_path / "x.part").rename(tmp_path / "x.dxf")
        found: set[Path | None] = set()
        while tmp_path / "x.dxf" not in found:
            found.add(seen.get(timeout=10.0))
    finally:
        observer.stop()
        observer.join(5.0)


# --- a real folder, real processes ------------------------------------------------------------


def until(true: Callable[[], bool], seconds: float = 240.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "did not come about in time"
        time.sleep(0.1)


def variant(k: int) -> bytes:
    """A drawing unlike all others: a comment before its end."""
    source = (GUSSET, CLEAT)[k % 2]
    return source.replace(b"  0\nEOF", b"999\nnumber %d\n  0\nEOF" % k)


@pytest.mark.slow
def test_slow_writers_renames_bursts_and_changes(tmp_path: Path) -> None:
    """Written slowly, renamed in, 200 at once, changed at work: ends as one batch would tell."""
    folder, out = tmp_path / "in", tmp_path / "out"
    folder.mkdir()
    (folder / "first.dxf").write_bytes(variant(-1))
    told: list[str] = []
    stop = threading.Event()
    store = Store(out)
    rng = random.Random(11)

    def act() -> None:
        slow = (folder / "slow.dxf").open("wb", buffering=0)
        data = variant(1000)
        pieces = [data[i : i + 2000] for i in range(0, len(data), 2000)]
        (folder / "burst").mkdir()
        for k in range(200):
            (folder / "burst" / f"{k:03}.dxf").write_bytes(variant(k))
            if k % 20 == 0 and pieces:
                slow.write(pieces.pop(0))
        (tmp_path / "aside.dxf").write_bytes(variant(2000))
        (tmp_path / "aside.dxf").rename(folder / "renamed.dxf")
        (tmp_path / "moved").mkdir()
        (tmp_path / "moved" / "m.dxf").write_bytes(variant(3000))
        (tmp_path / "moved").rename(folder / "moved")
        for piece in pieces:
            slow.write(piece)
            time.sleep(0.2)
        slow.close()
        for k in range(60):  # change some while they are worked on
            name = f"{rng.randrange(200):03}.dxf"
            (folder / "burst" / name).write_bytes(variant(5000 + k))
            time.sleep(0.1)
        until(lambda: len(set(told)) == 204)
        time.sleep(6.0)  # what was changed last settles and is done
        stop.set()

    actor = threading.Thread(target=act)
    actor.start()
    # the plan's processes are this machine's; tests run under xdist's main module
    watched = Watched(folder, ASKED, settle_s=0.8, search_s=5.0)
    batch = watch(
        watched,
        Plan(jobs=2, out=out),
        store,
        lambda row, far: told.append(row.drawing),
        stop.is_set,
    )
    actor.join()
    assert len(batch.rows) == 204
    assert {row.status for row in batch.rows} == {"done"}
    store.close()
    plain = subprocess.run(
        [sys.executable, "-m", "analyzer", "batch", str(folder), "--out", str(tmp_path / "plain"),
         "--material=mild-steel", "--thickness=8mm", "--power=6kW", "--jobs=2"],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    assert plain.returncode == 0, plain.stderr
    assert contents(tmp_path / "plain") == contents(out)
    unchanged = ("first.dxf", "renamed.dxf", "moved/m.dxf", "slow.dxf")
    assert all(told.count(name) == 1 for name in unchanged)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="signals as POSIX knows them")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_the_command_ends_cleanly(tmp_path: Path, how: signal.Signals) -> None:
    folder, out = tmp_path / "in", tmp_path / "out"
    folder.mkdir()
    shutil.copy(SAMPLES / "gusset.dxf", folder)
    run = subprocess.Popen(
        [sys.executable, "-m", "analyzer", "batch", str(folder), "--watch", "--settle=0.3",
         "--out", str(out), "--material=mild-steel", "--thickness=8mm", "--power=6kW"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        preexec_fn=heeds_interrupts,
    )  # fmt: skip
    until(lambda: (out / "summary.csv").is_file() and "gusset" in (out / "summary.csv").read_text())
    shutil.copy(SAMPLES / "cleat.dxf", folder)
    until(lambda: "cleat" in (out / "summary.csv").read_text())
    for name in ("name_plate", "base_plate"):
        shutil.copy(SAMPLES / f"{name}.dxf", folder)
    time.sleep(0.8)
    os.kill(run.pid, how)
    printed, complained = run.communicate(timeout=60)
    assert run.returncode == 0, complained
    assert "drawings done, 0 refused, 0 failed" in printed
    assert "Traceback" not in complained
