"""Files on their way to a name, and what killed processes have left of them.

A file is written under a name of its own first, which tells host and process, and is held as
long as it is written: by an advisory lock of the whole open file, which the system gives up in
the very moment its process is gone, however it goes.  Numbers of processes are used again, so
they tell people only.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import platform
import re
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import BinaryIO

if sys.platform != "win32":
    import fcntl

SUFFIX = ".unfinished"
OLD_S = 7 * 86400.0
"""What cannot be told by its lock is abandoned when it was not written for so long. [s]"""
MOVES_OPEN = os.name == "posix"
"""Whether an open file can be given another name; Windows neither moves nor removes one."""
_JUST_CLOSED_S = 60.0
"""Where a file must be closed to be moved, one this young may be between the two. [s]"""
_UNHELD = "unheld"
_OURS = re.compile(r"\.burrcast-[a-z0-9_]+-[0-9a-f]{8}-[0-9]+-[a-z0-9_]{8}\.unfinished")


@cache
def this_host() -> str:
    """Return the host as part of a file name: its cleaned name, and a digest of the whole one.

    Cleaned names may agree where hosts do not, so the digest, with the number of the
    installation where the system has one, tells them apart.
    """
    whole = platform.node()
    number = b""
    with contextlib.suppress(OSError):
        number = Path("/etc/machine-id").read_bytes().strip()
    digest = hashlib.sha256(whole.encode("utf-8", "surrogateescape") + b"\0" + number)
    clean = re.sub("[^a-z0-9]", "_", whole.lower())[:20]
    return f"{clean or 'host'}-{digest.hexdigest()[:8]}"


@contextlib.contextmanager
def temporary(folder: Path) -> Iterator[tuple[BinaryIO, str]]:
    """Give a new file in `folder`, open and held, and its path; nothing of it is left after.

    Raises
    ------
    OSError
        If there cannot be one.
    """
    descriptor, name = _new(folder)
    try:
        with os.fdopen(descriptor, "wb") as file:
            yield file, name
    finally:
        with contextlib.suppress(OSError):
            os.unlink(name)


def clear_leftovers(folders: Iterable[Path]) -> None:
    """Remove the files that killed processes were writing in these folders, if they may be told.

    One of this host goes when nobody holds it.  A lock may not reach from host to host, so one
    of another host, or one that could not be held, goes only when besides it was not written for
    a week.  What cannot be removed stays.

    Parameters
    ----------
    folders : iterable of Path
        Those that are not there, or cannot be read, are left out.
    """
    for folder in set(folders):
        with contextlib.suppress(OSError), os.scandir(folder) as found:
            for entry in found:
                if _OURS.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                    with contextlib.suppress(OSError):
                        _clear(entry)


def _new(folder: Path) -> tuple[int, str]:
    """Return a new file that is held, or that its name tells cannot be."""
    host = this_host()
    while True:
        descriptor, name = tempfile.mkstemp(
            dir=folder, prefix=f".burrcast-{host}-{os.getpid()}-", suffix=SUFFIX
        )
        try:
            held = _hold(descriptor)
        except OSError:  # a file system without locks
            held = host.startswith(f"{_UNHELD}-")
            host = f"{_UNHELD}-{host[-8:]}"
        if held and _is_there(descriptor, name):
            return descriptor, name
        os.close(descriptor)  # taken for a leftover before it was held, or to be named anew
        with contextlib.suppress(OSError):
            os.unlink(name)


def _is_there(descriptor: int, name: str) -> bool:
    try:
        return os.path.samestat(os.fstat(descriptor), os.stat(name))
    except FileNotFoundError:
        return False


def _clear(entry: os.DirEntry[str]) -> None:
    """Remove one file that may be a leftover, where it surely is one."""
    age_s = time.time() - entry.stat(follow_symlinks=False).st_mtime
    ours = entry.name.startswith(f".burrcast-{this_host()}-")
    if not MOVES_OPEN:  # removing fails while it is open anywhere
        if age_s > (_JUST_CLOSED_S if ours else OLD_S):
            os.unlink(entry.path)
        return
    descriptor = os.open(entry.path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
    try:
        try:
            free = _hold(descriptor)
        except OSError:
            free, ours = True, False
        if free and (ours or age_s > OLD_S):
            os.unlink(entry.path)
    finally:
        os.close(descriptor)


def _hold(descriptor: int) -> bool:
    """Whether an open file is held from now on; not where another holds it.

    Raises
    ------
    OSError
        If the file system has no locks.
    """
    if sys.platform != "win32":
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
    return True
