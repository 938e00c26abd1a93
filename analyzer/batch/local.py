"""A batch on this machine: all cores, and a drawing that kills its process costs only itself.

Every process has a pipe of its own and shares no lock with others: a pool whose processes share
one stands still, or breaks as a whole, when one of them is killed while it holds the lock.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess

from analyzer.batch.row import FAILED, Row
from analyzer.batch.tasks import Task
from analyzer.batch.work import Done, Pages, work
from analyzer.errors import InputError
from analyzer.report.escape import whole

TIME_LIMIT_S = 300.0
_TASKS_PER_PROCESS = 500
"""A process is renewed after so many drawings, so that what a library hoards goes with it."""
_START_S = 60.0
"""A new process may take so long to import everything; a drawing's time begins after it. [s]"""


@dataclass(frozen=True)
class Todo:
    """A task and the files of its pages."""

    task: Task
    targets: tuple[str, ...] = ()


def work_through(
    todo: Iterator[Todo], pages: Pages, *, jobs: int, time_limit_s: float = TIME_LIMIT_S
) -> Iterator[Done]:
    """Yield what comes of every task, as it is ready.

    Parameters
    ----------
    todo : iterator of Todo
        Drawn from only as fast as work is done.
    pages : Pages
        What to write for every drawing.
    jobs : int
        Processes.
    time_limit_s : float
        A drawing that takes longer is given up. [s]

    Raises
    ------
    InputError
        If pages cannot be written.
    """
    workers: list[_Worker] = []
    try:
        while True:
            _hand_out(todo, workers, pages, jobs, time_limit_s)
            busy = [worker for worker in workers if worker.todo is not None]
            if not busy:
                return
            first = min(worker.deadline for worker in busy) - time.monotonic()
            ready = wait([worker.pipe for worker in workers], timeout=max(first, 0.0))
            told = [_heard(worker, worker.pipe in ready, time_limit_s) for worker in workers]
            workers[:] = [worker for worker in workers if not worker.ended]
            # work goes on while the answers are kept
            _hand_out(todo, workers, pages, jobs, time_limit_s)
            yield from (done for done in told if done is not None)
    finally:
        for worker in workers:
            worker.end()


def _hand_out(
    todo: Iterator[Todo], workers: list[_Worker], pages: Pages, jobs: int, time_limit_s: float
) -> None:
    """Give every process something to do, as long as there is something."""
    idle = [worker for worker in workers if worker.todo is None]
    while idle or len(workers) < jobs:
        one = next(todo, None)
        if one is None:
            return
        if not idle:
            workers.append(_Worker(pages))
            idle.append(workers[-1])
        idle.pop().give(one, time_limit_s)


def _heard(worker: _Worker, ready: bool, time_limit_s: float) -> Done | None:
    """Return what a process has to say, or what became of it; None where it goes on."""
    todo = worker.todo
    if ready:
        try:
            told = worker.pipe.recv()
        except (EOFError, OSError):
            code = worker.end()
            words = f"its process ended of itself (code {code}); run again, or report it"
            return _failed(todo.task, words) if todo else None
        if told is None:
            worker.begun(time_limit_s)
            return None
        worker.finished()
        if isinstance(told, tuple):
            problem, where, hint = told
            raise InputError(problem, where=where, hint=hint)
        return told  # type: ignore[no-any-return]
    if todo is not None and time.monotonic() >= worker.deadline:
        worker.end()
        return _failed(
            todo.task, f"took longer than {time_limit_s:g} s and was given up (see --time-limit)"
        )
    return None


def _failed(task: Task, reason: str) -> Done:
    return Done(task.number, "", Row(whole(task.name), FAILED, reason, task.quantity))


class _Worker:
    """A process that answers for one drawing at a time."""

    def __init__(self, pages: Pages) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self._process: SpawnProcess = context.Process(
            target=_work_on, args=(theirs, pages), daemon=True
        )
        self._process.start()
        theirs.close()
        self.todo: Todo | None = None
        self.deadline = 0.0
        self.ended = False
        self._count, self._ready = 0, False

    def give(self, todo: Todo, time_limit_s: float) -> None:
        """Hand a drawing over."""
        self.todo = todo
        late = 0.0 if self._ready else _START_S
        self.deadline = time.monotonic() + time_limit_s + late
        with contextlib.suppress(OSError):  # it has died: heard when its pipe is read
            self.pipe.send(todo)

    def begun(self, time_limit_s: float) -> None:
        """Take note that the process has imported all it needs."""
        self._ready = True
        self.deadline = time.monotonic() + time_limit_s

    def finished(self) -> None:
        """Take note that the drawing is done; end where it is time for a new process."""
        self.todo = None
        self._count += 1
        if self._count >= _TASKS_PER_PROCESS:
            self.end()

    def end(self) -> int | None:
        """End the process at once and return its exit code."""
        self.ended = True
        self.pipe.close()
        self._process.join(0.2 if self.todo is None else 0.0)
        if self._process.is_alive():
            self._process.kill()
        self._process.join()
        return self._process.exitcode


def _work_on(pipe: Connection, pages: Pages) -> None:
    """Answer for drawing after drawing, until the pipe is closed; runs in its own process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt is the parent's to deal with
    threading.Thread(target=_end_with_parent, daemon=True).start()
    with contextlib.suppress(OSError):
        pipe.send(None)
    while True:
        try:
            todo = pipe.recv()
        except (EOFError, OSError):
            return
        told: Done | tuple[str, str, str]
        try:
            told = work(todo.task, pages, todo.targets)
        except InputError as error:
            told = (error.problem, error.where, error.hint)
        try:
            pipe.send(told)
        except OSError:
            return


def _end_with_parent() -> None:
    """End this process when its parent is gone: nobody would hear the answer."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
