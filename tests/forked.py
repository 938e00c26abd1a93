"""The command run in a child of this process: no new start-up, its own limits and its own death.

A fork costs a few hundredths of a second where a new interpreter costs most of one, and a
crash, a hang or a flood of memory in it is seen and harms nothing.
"""

import io
import os
import resource
import signal
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analyzer.cli import burrcast


@dataclass(frozen=True)
class Run:
    """How a command ended."""

    code: int  # negative: the signal that ended it
    out: bytes
    err: bytes
    seconds: float
    megabytes: float
    late: bool  # killed because its time was over


def warm_up(args: Sequence[str]) -> None:
    """Run the command once here, so that children find every module loaded."""
    kept = sys.stdout
    sys.stdout = io.TextIOWrapper(io.BytesIO())
    try:
        burrcast.main(list(args))
    except SystemExit:
        pass
    finally:
        sys.stdout = kept


def run_forked(args: Sequence[str], *, seconds: float = 40.0, megabytes: int = 4096) -> Run:
    """Return how `burrcast ARGS` ends in a forked child within its limits."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        began = time.monotonic()
        child = os.fork()
        if child == 0:
            _be_the_child(list(args), out.fileno(), err.fileno(), megabytes)
        killed = threading.Event()

        def stop() -> None:
            killed.set()
            os.kill(child, signal.SIGKILL)

        timer = threading.Timer(seconds, stop)
        timer.start()
        _, status, used = os.wait4(child, 0)
        timer.cancel()
        took = time.monotonic() - began
        out.seek(0)
        err.seek(0)
        return Run(
            os.waitstatus_to_exitcode(status), out.read(), err.read(), took,
            used.ru_maxrss / 1024, killed.is_set(),
        )  # fmt: skip


def _be_the_child(args: list[str], out: int, err: int, megabytes: int) -> None:
    code = 1
    try:
        resource.setrlimit(resource.RLIMIT_AS, (megabytes << 20, megabytes << 20))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        os.dup2(out, 1)
        os.dup2(err, 2)
        sys.stdout, sys.stderr = open(1, "w", closefd=False), open(2, "w", closefd=False)  # noqa: SIM115
        try:
            burrcast.main(args)
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 0
        except BaseException:
            traceback.print_exc()
        sys.stdout.flush()
        sys.stderr.flush()
    finally:
        os._exit(code)


def written(folder: Path, data: bytes, name: str = "mutant.dxf") -> Path:
    """Write a drawing and return its path."""
    path = folder / name
    path.write_bytes(data)
    return path


def heeds_interrupts() -> None:
    """Undo what a shell does to jobs in the background: they are born deaf to SIGINT."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
