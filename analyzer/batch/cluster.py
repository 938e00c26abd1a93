"""A batch on many machines: the same drawings, answers and pages, through a Dask cluster.

A drawing is one task of the cluster.  On the machine that gets it a process of ours answers
for it, as on one machine: what kills that process, or takes too long, costs one drawing and
not the worker.  A worker that is lost altogether is the scheduler's to deal with: it hands its
drawings to others.  What is found is kept and written here, by the one who asked.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import pickle
import queue
import stat
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from analyzer._version import __version__
from analyzer.batch.process import TIME_LIMIT_S, Lost
from analyzer.batch.row import REFUSED
from analyzer.batch.store import digest_of
from analyzer.batch.tasks import Task
from analyzer.batch.there import Other, answer_there, give_up, versions
from analyzer.batch.work import (
    TRIES,
    ChangingDrawingError,
    Done,
    Pages,
    Sent,
    Todo,
    failure,
    put_down,
    refusal,
    work,
)  # fmt: skip
from analyzer.budgets import DEFAULT as BUDGETS
from analyzer.errors import BurrcastError, InputError
from analyzer.request import Request
from analyzer.shop import Shop, load_shop

if TYPE_CHECKING:
    from distributed import Client, Future

SENT, SHARED = "sent", "shared"
_CONNECT_S = 10.0
_LOOK_S = 0.5
_NO_WORKER_S = 60.0
"""Without any worker for so long, a batch ends. [s]"""
_MOST_BYTES = 256_000_000
"""Of drawings in flight; one alone may be larger."""


@dataclass(frozen=True)
class Cluster:
    """Where the machines are found.

    Attributes
    ----------
    address : str
        Of the scheduler.
    drawings : str
        `sent` with every task, or `shared`: opened by the workers under the same path.
    wait_s : float
        Without any worker for so long, a batch ends. [s]
    """

    address: str
    drawings: str = SENT
    wait_s: float = _NO_WORKER_S


def work_on_cluster(
    todo: Iterator[Todo], pages: Pages, cluster: Cluster, *, time_limit_s: float = TIME_LIMIT_S
) -> Iterator[Done]:
    """Yield what comes of every task, as it is ready; a sibling of `local.work_through`.

    Parameters
    ----------
    todo : iterator of Todo
        Drawn from only as fast as work is done, twice as many in flight as threads; asked
        again after its end as long as anything is in flight.
    pages : Pages
        What to write for every drawing.
    cluster : Cluster
    time_limit_s : float
        A drawing that takes longer is given up. [s]

    Raises
    ------
    InputError
        If the scheduler cannot be reached or is lost, no worker is there, a worker has
        another version, or pages cannot be written.
    """
    client = joined(cluster.address)
    run = Run(client, pages, cluster, time_limit_s)
    try:
        run.check_workers()
        while True:
            run.hand_out(todo)
            heard = run.heard()
            run.hand_out(todo)  # work goes on while the answers are kept
            yield from heard
            if not heard and not run.in_flight:
                return
    finally:
        run.end()


def joined(address: str) -> Client:
    """Return a connection to the scheduler at `address`.

    Raises
    ------
    InputError
        If the library is not installed or nobody answers there.
    """
    try:
        from distributed import Client
    except ImportError:
        raise InputError(
            "a cluster needs the package distributed",
            hint="install the extra: pip install 'burrcast[cluster]'",
        ) from None
    for name in ("distributed", *logging.root.manager.loggerDict):
        if name.split(".")[0] == "distributed":  # one plain line of ours says it
            logging.getLogger(name).setLevel(logging.CRITICAL)
    try:
        return Client(address, timeout=_CONNECT_S, set_as_default=False, name="burrcast")
    except (OSError, ValueError, TypeError, ImportError) as error:
        raise InputError(
            f"no scheduler answers: {str(error).splitlines()[0] if str(error) else 'in time'}",
            where=address, hint="give the address dask scheduler prints, such as"
            " tcp://host:8786; see docs/cluster.md",
        ) from None  # fmt: skip


@dataclass
class _Flight:
    """A drawing that is away."""

    todo: Todo
    size: int = 0
    state: tuple[int, int] = (-1, -1)
    digest: str = ""
    tries: int = 1


class Run:
    """One batch on a cluster: what is in flight, and what has come back.

    Parameters
    ----------
    client : distributed.Client
        Or what behaves as one.
    pages, cluster, time_limit_s
        As in `work_on_cluster`.
    """

    def __init__(self, client: Client, pages: Pages, cluster: Cluster, time_limit_s: float) -> None:
        self._client, self._cluster = client, cluster
        self._pages, self._limit = pages, time_limit_s
        self._name = f"burrcast-{uuid4().hex}"
        self._ready: queue.SimpleQueue[Future[Any]] = queue.SimpleQueue()
        self.in_flight: dict[Future[Any], _Flight] = {}
        self._here: list[Done] = []
        self._count = self._bytes = 0
        self._threads, self._looked, self._alone_since = 1, -1e9, time.monotonic()
        self._shops: dict[tuple[Request, Path], tuple[float, Shop]] = {}

    # --- out ------------------------------------------------------------------------------

    def check_workers(self) -> None:
        """Refuse workers of another version, before any work."""
        for worker, told in self._asked(
            lambda: self._client.run(versions, on_error="return")
        ).items():
            if told != versions():
                raise _other_version(worker, told)

    def hand_out(self, todo: Iterator[Todo]) -> None:
        """Send drawings until enough are in flight."""
        self._look_at_workers()
        while len(self.in_flight) < 2 * self._threads + 2 and self._bytes < _MOST_BYTES:
            one = next(todo, None)
            if one is None:
                return
            self._send(_Flight(one))
            if self._here:
                return  # told at once: a folder of refused ones must not pile up

    def _look_at_workers(self) -> None:
        """Count the threads there are; end where there are none for long."""
        now = time.monotonic()
        if now - self._looked < 2.0 * _LOOK_S:
            return
        self._looked = now
        threads = sum(self._asked(self._client.nthreads).values())
        if threads:
            self._alone_since = now
        elif now - self._alone_since > self._cluster.wait_s:
            raise InputError(
                f"no worker has been there for {self._cluster.wait_s:g} s",
                where=self._cluster.address,
                hint=f"start one: dask worker {self._cluster.address};"
                " run again, what is finished is kept",
            )
        self._threads = max(threads, 1)

    def _send(self, flight: _Flight) -> None:
        task = flight.todo.task
        sent = self._packed(flight)
        if sent is None:  # it cannot even be opened: said here, in the same words
            self._here.append(work(task))
            return
        self._count += 1
        packed = pickle.dumps(sent, protocol=5)
        future = self._client.submit(
            answer_there, packed, self._name, versions(), self._limit,
            key=f"{self._name}-{self._count}", pure=False,
        )  # fmt: skip
        flight.size = len(packed)
        self._bytes += flight.size
        self.in_flight[future] = flight
        future.add_done_callback(self._ready.put)

    def _packed(self, flight: _Flight) -> Sent | None:
        """Return a drawing ready to go, None where it cannot be opened or is too large."""
        task = flight.todo.task
        try:
            budgets = BUDGETS.changed(task.request.limits)
            shop = self._shop(task)
            state = task.path.stat()
            flight.state = (state.st_size, state.st_mtime_ns)
            if not stat.S_ISREG(state.st_mode) or state.st_size > 1e6 * budgets.file_mb:
                return None
            if self._cluster.drawings == SHARED:
                task.path.open("rb").close()
                there = replace(task, path=task.path.absolute())
                return Sent(there, None, shop, self._pages)
            data = task.path.read_bytes()
            flight.digest = hashlib.sha256(data).hexdigest()
            return Sent(task, data, shop, self._pages)
        except (OSError, ValueError, BurrcastError):
            return None

    def _shop(self, task: Task) -> Shop:
        """Return the shop file in force, read anew only every few seconds."""
        where, now = (task.request, task.path.parent), time.monotonic()
        read, shop = self._shops.get(where, (-1e9, None))
        if shop is None or now - read > 5.0:
            shop = load_shop(task.request.shop, task.path.parent)
            self._shops[where] = (now, shop)
        return shop

    # --- back -----------------------------------------------------------------------------

    def heard(self) -> list[Done]:
        """Return what has come back, after waiting a little where nothing has."""
        told, self._here = self._here, []
        if told or not self.in_flight:
            return told
        back = []
        with contextlib.suppress(queue.Empty):
            back.append(self._ready.get(timeout=_LOOK_S))
            while len(back) < 2 * self._threads + 2:
                back.append(self._ready.get_nowait())
        fine = [future for future in back if future.status in ("finished", "lost")]
        answers = self._asked(lambda: self._client.gather(fine, errors="skip")) if fine else []
        if len(answers) != len(fine):  # a worker went with the answer, and again on the way
            answers = [self._one(future) for future in fine]
        told += self._of(zip(fine, answers, strict=True))
        told += self._of((future, self._one(future)) for future in back if future not in fine)
        return told

    def _of(self, answers: Any) -> list[Done]:
        """Take answers for what was in flight; send again what has changed meanwhile."""
        told = []
        for future, answer in answers:
            flight = self.in_flight.pop(future)
            self._bytes -= flight.size
            done = self._taken(flight, answer)
            if done is not None:
                told.append(done)
        return told

    def _one(self, future: Future[Any]) -> Any:
        """Return the answer of one future, Lost where its workers were lost with it."""
        from distributed import KilledWorker

        if future.status == "cancelled":
            raise self._lost()
        try:
            return self._asked(future.result)
        except KilledWorker:
            return Lost(
                "every worker that had it was lost (killed, or out of memory);"
                " run again, or report it"
            )

    def _taken(self, flight: _Flight, answer: Any) -> Done | None:
        task = flight.todo.task
        if isinstance(answer, Other):
            raise _other_version(answer.worker, answer.versions)
        if isinstance(answer, Lost):
            return failure(task, answer.reason)
        done, pages = answer
        if self._cluster.drawings == SHARED:
            unopened = not done.key and done.row.status == REFUSED
            if unopened and not done.changing:
                raise InputError(
                    "cannot be opened by the workers", where=str(task.path),
                    hint="put it on storage they share under the same path, or use --drawings sent",
                )  # fmt: skip
        elif not self._as_sent(flight):
            if flight.tries >= TRIES:
                return refusal(task, str(ChangingDrawingError(task.path.name)))
            self._send(_Flight(flight.todo, tries=flight.tries + 1))
            return None
        return put_down(replace(done, number=task.number), pages, flight.todo.targets)

    def _as_sent(self, flight: _Flight) -> bool:
        """Whether a drawing still is what was sent."""
        path = flight.todo.task.path
        with contextlib.suppress(OSError):
            state = path.stat()
            if (state.st_size, state.st_mtime_ns) == flight.state:
                return True
        return digest_of(path) == flight.digest

    # --- the connection -------------------------------------------------------------------

    def _asked(self, question: Callable[[], Any]) -> Any:
        """Return what the scheduler says, or the plain error that it is lost."""
        from distributed import KilledWorker

        if self._client.status != "running":
            raise self._lost()
        try:
            return question()
        except (InputError, KilledWorker):
            raise
        except Exception as error:
            if self._client.status != "running" or _is_of_connection(error):
                raise self._lost() from None
            raise InputError(
                f"a worker or the scheduler cannot run burrcast: {type(error).__name__}: {error}",
                where=self._cluster.address,
                hint=f"install burrcast {__version__} with its extra cluster on all of them",
            ) from None

    def _lost(self) -> InputError:
        return InputError(
            "the connection to the scheduler was lost", where=self._cluster.address,
            hint="start it again and run the same command; what is finished is kept with --out",
        )  # fmt: skip

    def end(self) -> None:
        """Give up what is in flight and leave."""
        with contextlib.suppress(Exception):
            if self._client.status == "running":
                if self.in_flight:
                    self._client.cancel(list(self.in_flight), force=True)
                self._client.run(give_up, self._name, on_error="ignore")
        self.in_flight.clear()
        with contextlib.suppress(Exception):
            self._client.close(timeout=2.0)


def _is_of_connection(error: Exception) -> bool:
    from asyncio import CancelledError

    return isinstance(error, OSError | TimeoutError | CancelledError) or (
        type(error).__name__ in ("FutureCancelledError", "CommClosedError")
    )


def _other_version(worker: str, told: Any) -> InputError:
    """Return the error of a worker whose answers could differ from ours."""
    if isinstance(told, dict):
        ours = versions()
        pairs = [
            f"{name} {told.get(name, 'none')} where we have {ours[name]}"
            for name in ours
            if told.get(name) != ours[name]
        ]
        words = ", ".join(pairs)
    else:
        words = f"no burrcast that runs ({type(told).__name__}: {told})"
    return InputError(
        f"worker {worker} has {words}", hint="install the same versions on every machine"
    )
