"""A process that answers for one thing at a time, and whose death costs only that.

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
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any

from analyzer.errors import InputError
from analyzer.garbage import look_seldom

TIME_LIMIT_S = 300.0
_MOST = 500
"""A process is renewed after so many drawings, so that what a library hoards goes with it."""
_START_S = 60.0
"""A new process may take so long to import everything; a drawing's time begins after it. [s]"""


@dataclass(frozen=True)
class Lost:
    """Nothing came of what a process was given, and why."""

    reason: str


class Worker:
    """A process that answers for one thing at a time.

    Parameters
    ----------
    answer : callable
        What it does with everything it is given; must be importable.  What it raises as
        InputError is raised by `heard`.
    time_limit_s : float
        What takes longer is given up. [s]
    """

    def __init__(self, answer: Callable[[Any], Any], time_limit_s: float) -> None:
        context = multiprocessing.get_context("spawn")
        self.pipe, theirs = context.Pipe()
        self._process: SpawnProcess = context.Process(
            target=_work_on, args=(theirs, answer), daemon=True
        )
        self._process.start()
        theirs.close()
        self.todo: Any = None
        self.deadline = 0.0
        self.ended = False
        self._limit = time_limit_s
        self._count, self._ready = 0, False

    def give(self, todo: Any) -> None:
        """Hand something over."""
        self.todo = todo
        late = 0.0 if self._ready else _START_S
        self.deadline = time.monotonic() + self._limit + late
        with contextlib.suppress(OSError):  # it has died: heard when its pipe is read
            self.pipe.send(todo)

    def heard(self, ready: bool) -> Any:
        """Return what the process has to say, Lost, or None where it goes on.

        Parameters
        ----------
        ready : bool
            Whether there is something to read in its pipe.
        """
        if ready:
            try:
                told = self.pipe.recv()
            except (EOFError, OSError):
                code = self.end()
                words = f"its process ended of itself (code {code}); run again, or report it"
                return Lost(words) if self.todo is not None else None
            if told is None:
                self._ready = True
                self.deadline = time.monotonic() + self._limit
                return None
            self._finished()
            if isinstance(told, _Refused):
                raise InputError(told.problem, where=told.where, hint=told.hint)
            return told
        if self.todo is not None and time.monotonic() >= self.deadline:
            self.end()
            return Lost(f"took longer than {self._limit:g} s and was given up (see --time-limit)")
        return None

    def _finished(self) -> None:
        """Take note that it is done; end where it is time for a new process."""
        self.todo = None
        self._count += 1
        if self._count >= _MOST:
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

    def kill(self) -> None:
        """Kill the process from another thread; whoever listens to its pipe hears the end."""
        self._process.kill()


@dataclass(frozen=True)
class _Refused:
    """An InputError on its way through a pipe."""

    problem: str
    where: str
    hint: str


def _work_on(pipe: Connection, answer: Callable[[Any], Any]) -> None:
    """Answer for one thing after another until the pipe is closed; runs in its own process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # an interrupt is the parent's to deal with
    threading.Thread(target=_end_with_parent, daemon=True).start()
    look_seldom()
    with contextlib.suppress(OSError):
        pipe.send(None)
    while True:
        try:
            todo = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            told = answer(todo)
        except InputError as error:
            told = _Refused(error.problem, error.where, error.hint)
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
