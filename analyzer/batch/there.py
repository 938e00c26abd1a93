"""What a worker of the cluster does for a batch: answers in a process of its own, gives up.

Runs on the other machines; the library hands these functions over by name.
"""

from __future__ import annotations

import pickle
import platform
import threading
import time
from dataclasses import dataclass
from importlib.metadata import version
from multiprocessing import current_process
from multiprocessing.connection import wait
from typing import Any

from analyzer._version import __version__
from analyzer.batch.process import Lost, Worker
from analyzer.batch.work import Done, work_sent

_LIBRARIES = ("ezdxf", "shapely", "numpy")
"""Their versions may change the last digit of a number."""


@dataclass(frozen=True)
class Other:
    """A worker that cannot answer for us: it has other versions."""

    worker: str
    versions: dict[str, str]


def versions() -> dict[str, str]:
    """Return the versions that decide what an answer says."""
    global _VERSIONS
    if not _VERSIONS:
        _VERSIONS = {"burrcast": __version__, **{name: version(name) for name in _LIBRARIES}}
    return dict(_VERSIONS)


_VERSIONS: dict[str, str] = {}


@dataclass
class _Crew:
    """The process of one thread of a worker, and the run it works for."""

    process: Worker
    limit_s: float
    run: str
    given_up: bool = False


_CREWS: dict[int, _Crew] = {}
"""By thread."""
_CREWS_LOCK = threading.Lock()


def answer_there(
    packed: bytes, run: str, asked: dict[str, str], time_limit_s: float
) -> tuple[Done, tuple[str | bytes, ...]] | Lost | Other:
    """Answer for a drawing in a process of this thread's own; runs in a worker of the cluster."""
    if asked != versions():
        return Other(platform.node(), versions())
    process = _process_for(run, time_limit_s)
    process.give(packed)
    while True:
        left = max(process.deadline - time.monotonic(), 0.0)
        told: Any = process.heard(bool(wait([process.pipe], timeout=left)))
        if told is not None:
            return told  # type: ignore[no-any-return]


def _process_for(run: str, time_limit_s: float) -> Worker:
    """Return the process of this thread, a new one where the last has ended."""
    me = threading.get_ident()
    with _CREWS_LOCK:
        crew = _CREWS.get(me)
        if crew is not None and not crew.given_up and crew.limit_s == time_limit_s:
            crew.run = run
            if not crew.process.ended:
                return crew.process
    if crew is not None and not crew.process.ended:
        crew.process.end()
    # A worker under a nanny is a process that may have none of its own; ours ends with it.
    current_process().daemon = False
    crew = _Crew(Worker(_answer, time_limit_s), time_limit_s, run)
    with _CREWS_LOCK:
        _CREWS[me] = crew
    return crew.process


def _answer(packed: bytes) -> tuple[Done, tuple[str | bytes, ...]]:
    return work_sent(pickle.loads(packed))


def give_up(run: str) -> None:
    """End what is worked on for a run whose answers nobody waits for; runs in a worker."""
    with _CREWS_LOCK:
        for crew in _CREWS.values():
            if crew.run == run and not crew.process.ended:
                crew.given_up = True
                crew.process.kill()
