"""A batch on a cluster, without one: a stand-in for the connection, and one in this process."""

import contextlib
import pickle
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from batch.test_run import ASKED
from shared import SAMPLES

from analyzer.batch import cluster
from analyzer.batch.cluster import SHARED, Cluster, Other, Run, work_on_cluster
from analyzer.batch.process import Lost
from analyzer.batch.tasks import Task, tasks_of
from analyzer.batch.work import Done, Pages, Sent, Todo, work, work_sent
from analyzer.errors import InputError

pytest.importorskip("distributed")
HERE = Cluster("tcp://nowhere")


class Future:
    """One answer, there at once."""

    def __init__(self, told: Any, status: str = "finished") -> None:
        self.told, self.status = told, status

    def add_done_callback(self, hear: Callable[["Future"], None]) -> None:
        if self.status != "pending":
            hear(self)

    def result(self) -> Any:
        if isinstance(self.told, Exception):
            raise self.told
        return self.told


class Client:
    """Behaves as the library's client does, and works in this thread."""

    def __init__(self, answer: Callable[[Sent], Any] = work_sent, threads: int = 2) -> None:
        self.answer, self.threads = answer, threads
        self.status, self.sent, self.most = "running", 0, 0
        self.cancelled: list[Future] = []
        self.told: dict[str, Any] = {"tcp://one": cluster.versions()}

    def submit(self, _: object, packed: bytes, *more: object, key: str, pure: bool) -> Future:
        assert not pure
        assert key.startswith("burrcast-")
        self.sent += 1
        answer = self.answer(pickle.loads(packed))
        if isinstance(answer, Future):
            return answer
        return Future(answer, "error" if isinstance(answer, Exception) else "finished")

    def gather(self, futures: list[Future], errors: str) -> list[Any]:
        return [future.result() for future in futures]

    def nthreads(self) -> dict[str, int]:
        return {"tcp://one": self.threads} if self.threads else {}

    def run(self, *what: object, on_error: str) -> dict[str, Any]:
        return self.told

    def cancel(self, futures: list[Future], force: bool) -> None:
        self.cancelled += futures

    def close(self, timeout: float) -> None:
        self.status = "closed"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder: Path = tmp_path_factory.mktemp("drawings")
    for name in ("gusset", "cleat"):
        (folder / f"{name}.dxf").write_bytes((SAMPLES / f"{name}.dxf").read_bytes())
    (folder / "broken.dxf").write_text("0\nSECTION\n2\nENTITIES\n0\nLINE\n")
    (folder / "burrcast.toml").write_text("[machine]\nlift_s = 0.4\n")
    return folder


def tasks(folder: Path) -> list[Task]:
    gone = Task(9, "gone.dxf", folder / "gone.dxf", ASKED)
    return [*tasks_of(folder, ASKED), gone]  # type: ignore[list-item]


@contextlib.contextmanager
def client(made: Client, monkeypatch: pytest.MonkeyPatch) -> Iterator[Client]:
    monkeypatch.setattr(cluster, "joined", lambda address: made)
    yield made
    assert made.status == "closed"


def run(todo: list[Task], out: Path, where: Cluster = HERE) -> dict[str, Done]:
    pages = Pages(("json", "csv"))
    made = [Todo(t, (str(out / f"{t.number}.json"), str(out / f"{t.number}.csv"))) for t in todo]
    told = list(work_on_cluster(iter(made), pages, where))
    assert len({done.number for done in told}) == len(told) == len(todo)
    return {done.row.drawing: replace(done, pages=()) for done in told}


@pytest.mark.parametrize("where", [HERE, Cluster("tcp://nowhere", SHARED)])
def test_the_same_as_on_one_machine(
    folder: Path, tmp_path: Path, where: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sent without its folder: the shop file beside it counts all the same."""
    with client(Client(), monkeypatch):
        told = run(tasks(folder), tmp_path / "out", where)
    for task in tasks(folder):
        targets = tuple(str(tmp_path / f"{task.number}.{form}") for form in ("json", "csv"))
        here = work(task, Pages(("json", "csv")), targets)
        assert told[task.name] == replace(here, pages=())
        for target in here.pages:
            assert (tmp_path / "out" / Path(target).name).read_bytes() == Path(target).read_bytes()


def test_few_are_in_flight(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever answers late is not flooded: twice its threads, and two."""
    made = Client(lambda sent: Future(None, "pending"), threads=3)
    monkeypatch.setattr(cluster, "_LOOK_S", 0.01)
    many = iter([Todo(tasks(folder)[1])] * 1000)
    flying = Run(made, Pages(), HERE, 60.0)  # type: ignore[arg-type]
    for _ in range(3):
        flying.hand_out(many)
        assert flying.heard() == []
    assert (made.sent, len(flying.in_flight)) == (8, 8)
    flying.end()
    assert (len(made.cancelled), made.status) == (8, "closed")


def test_bytes_in_flight_are_few(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = Client(lambda sent: Future(None, "pending"), threads=100)
    size = (folder / "gusset.dxf").stat().st_size
    monkeypatch.setattr(cluster, "_MOST_BYTES", 3 * size)
    gusset = next(task for task in tasks(folder) if task.name == "gusset.dxf")
    flying = Run(made, Pages(), HERE, 60.0)  # type: ignore[arg-type]
    flying.hand_out(iter([Todo(gusset)] * 100))
    assert 3 <= made.sent <= 4


def test_workers_lost_again_and_again_cost_one_drawing(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from distributed import KilledWorker

    def answer(sent: Sent) -> Any:
        return KilledWorker("x", None, 4) if sent.task.name == "cleat.dxf" else work_sent(sent)

    with client(Client(answer), monkeypatch):
        told = run(tasks(folder), tmp_path)
    assert (told["cleat.dxf"].row.status, told["cleat.dxf"].key) == ("failed", "")
    assert "every worker that had it was lost" in told["cleat.dxf"].row.reason
    assert told["gusset.dxf"].row.status == "done"


def test_what_ends_a_process_there_is_told_as_here(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with client(Client(lambda sent: Lost("its process ended of itself")), monkeypatch):
        told = run(tasks(folder), tmp_path)
    assert [done.row.status for done in told.values()].count("failed") == 3


def test_a_drawing_that_changes_on_the_way_is_sent_again(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes((folder / "gusset.dxf").read_bytes())
    task = Task(0, "a.dxf", path, ASKED)
    times: list[int] = []

    def answer(sent: Sent) -> Any:
        times.append(1)
        told = work_sent(sent)
        if len(times) == 1:
            path.write_bytes((folder / "cleat.dxf").read_bytes())
        return told

    with client(Client(answer), monkeypatch):
        told = run([task], tmp_path / "out")
    assert len(times) == 2
    assert told["a.dxf"] == replace(work(task), pages=())

    def restless(sent: Sent) -> Any:
        times.append(1)
        path.write_bytes(path.read_bytes() + b"\n")
        return work_sent(sent)

    times.clear()
    with client(Client(restless), monkeypatch):
        told = run([task], tmp_path / "out")
    assert (len(times), told["a.dxf"].key) == (3, "")
    assert "changes while it is read" in told["a.dxf"].row.reason


def says(made: Client, folder: Path, monkeypatch: pytest.MonkeyPatch, where: Cluster) -> str:
    with client(made, monkeypatch), pytest.raises(InputError) as caught:
        run(tasks(folder), folder / "never", where)
    assert caught.value.exit_code == 2
    return str(caught.value)


def test_what_ends_a_batch_plainly(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "_LOOK_S", 0.01)
    lost = Client(lambda sent: Future(None, "cancelled"))
    assert "scheduler was lost" in says(lost, folder, monkeypatch, HERE)
    closed = Client(lambda sent: OSError("closed"))
    assert "scheduler was lost" in says(closed, folder, monkeypatch, HERE)
    absent = Client(lambda sent: Future(None, "pending"), threads=0)
    alone = Cluster("tcp://nowhere", wait_s=0.05)
    assert "no worker" in says(absent, folder, monkeypatch, alone)
    old = Client()
    old.told["tcp://two"] = {**cluster.versions(), "burrcast": "0.0.9"}
    assert "tcp://two has burrcast 0.0.9 where" in says(old, folder, monkeypatch, HERE)
    none = Client()
    none.told["tcp://two"] = ModuleNotFoundError("no analyzer")
    assert "tcp://two has no burrcast that runs" in says(none, folder, monkeypatch, HERE)
    late = Client(lambda sent: Other("late", {**cluster.versions(), "numpy": "1.0"}))
    assert "late has numpy 1.0 where" in says(late, folder, monkeypatch, HERE)
    fault = Client(lambda sent: RuntimeError("no analyzer"))
    assert "cannot run burrcast" in says(fault, folder, monkeypatch, HERE)
    shared = Cluster("tcp://nowhere", SHARED)
    blind = Client(
        lambda sent: work_sent(replace(sent, task=replace(sent.task, path=folder / "else.dxf")))
    )
    assert "cannot be opened by the workers" in says(blind, folder, monkeypatch, shared)


def test_nobody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "_CONNECT_S", 0.3)
    for address in ("tcp://127.0.0.1:9", "nonsense://x", "tcp://"):
        with pytest.raises(InputError, match="no scheduler answers"):
            cluster.joined(address)


def test_the_extra_is_named_where_it_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"burrcast\[cluster\]"):
        cluster.joined("tcp://127.0.0.1:9")


def test_a_cluster_in_this_process(folder: Path, tmp_path: Path) -> None:
    """The library's own client, scheduler and worker; our processes below the worker's threads."""
    from distributed import LocalCluster

    with LocalCluster(
        processes=False, n_workers=1, threads_per_worker=1, dashboard_address=None
    ) as whole:
        address = whole.scheduler_address
        told = run(tasks(folder), tmp_path / "out", Cluster(address))
    here = {d.row.drawing: replace(d, pages=()) for d in map(work, tasks(folder))}
    assert told == here
