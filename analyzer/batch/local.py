"""A batch on this machine: all cores, and a drawing that kills its process costs only itself."""

from __future__ import annotations

import time
from collections.abc import Iterator
from functools import partial
from multiprocessing.connection import wait

from analyzer.batch.process import TIME_LIMIT_S, Lost, Worker
from analyzer.batch.work import Done, Pages, Todo, failure, work

_LOOK_S = 0.5
"""How often what is to be done is asked again while all that is there is worked on. [s]"""


def work_through(
    todo: Iterator[Todo], pages: Pages, *, jobs: int, time_limit_s: float = TIME_LIMIT_S
) -> Iterator[Done]:
    """Yield what comes of every task, as it is ready.

    Parameters
    ----------
    todo : iterator of Todo
        Drawn from only as fast as work is done.  One that has ended is asked again as long
        as anything is in work: a watched folder may have more by then.
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
    workers: list[Worker] = []
    answer = partial(_answer, pages)

    def hand_out() -> None:
        """Give every process something to do, as long as there is something."""
        idle = [worker for worker in workers if worker.todo is None]
        while idle or len(workers) < jobs:
            one = next(todo, None)
            if one is None:
                return
            if not idle:
                workers.append(Worker(answer, time_limit_s))
                idle.append(workers[-1])
            idle.pop().give(one)

    try:
        while True:
            hand_out()
            busy = [worker for worker in workers if worker.todo is not None]
            if not busy:
                return
            first = min(worker.deadline for worker in busy) - time.monotonic()
            pipes = [worker.pipe for worker in workers]
            ready = wait(pipes, timeout=min(max(first, 0.0), _LOOK_S))
            told = [_heard(worker, worker.pipe in ready) for worker in workers]
            workers[:] = [worker for worker in workers if not worker.ended]
            hand_out()  # work goes on while the answers are kept
            yield from (done for done in told if done is not None)
    finally:
        for worker in workers:
            worker.end()


def _answer(pages: Pages, todo: Todo) -> Done:
    return work(todo.task, pages, todo.targets)


def _heard(worker: Worker, ready: bool) -> Done | None:
    """Return what came of a drawing, None where its process goes on."""
    todo = worker.todo
    told: Done | Lost | None = worker.heard(ready)
    return failure(todo.task, told.reason) if isinstance(told, Lost) else told
