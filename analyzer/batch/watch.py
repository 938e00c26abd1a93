"""A folder that is watched: every new or changed drawing once, when it is fully written.

File events say where to look; what counts is the file itself: its size and time of change must
have stood still for a while.  The folder is also searched anew now and then, since events of a
network drive or of a full queue are lost.
"""

from __future__ import annotations

import os
import queue
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from analyzer.batch.overview import overview_of
from analyzer.batch.places import Places
from analyzer.batch.row import Row
from analyzer.batch.run import Batch, Plan, Progress, claim, folders_of, keep, kept_already, worked
from analyzer.batch.store import Store
from analyzer.batch.summary import write_summary
from analyzer.batch.tasks import PATTERN, Task, Unusable, is_wanted, tasks_of
from analyzer.batch.work import Done, Todo
from analyzer.errors import InputError
from analyzer.report.manner import PLAIN, Manner
from analyzer.report.temporary import clear_leftovers
from analyzer.request import Request

if TYPE_CHECKING:
    from watchdog.events import FileSystemEvent

SETTLE_S = 2.0
_SEARCH_S = 30.0
"""The folder is searched anew so often. [s]"""
_SUMMARY_S = 10.0
"""While there is work the summary is written so often, more seldom where that takes long. [s]"""

State = tuple[int, int, int]
"""Size, time of change [ns] and inode of a file."""


@dataclass(frozen=True)
class Watched:
    """What is watched, and how.

    Attributes
    ----------
    folder : Path
    request : Request
        For every drawing.
    pattern : str
        Names of drawings.
    settle_s : float
        A file is whole when it has not changed for so long. [s]
    manner : Manner
        How the summary is written.
    search_s : float
        The folder is searched anew so often. [s]
    """

    folder: Path
    request: Request
    pattern: str = PATTERN
    settle_s: float = SETTLE_S
    manner: Manner = PLAIN
    search_s: float = _SEARCH_S


def watch(
    watched: Watched,
    plan: Plan,
    store: Store,
    tell: Callable[[Row, Progress], None],
    stopped: Callable[[], bool] = lambda: False,
) -> Batch:
    """Do every drawing as it appears or changes, until stopped.

    Parameters
    ----------
    watched : Watched
    plan : Plan
        With a folder of results.
    store : Store
    tell : callable
        Hears of every row as it is ready.
    stopped : callable
        Asked again and again; what is in work is given up when it says yes, as on Ctrl-C.

    Returns
    -------
    Batch
        What was found, in the order a batch over the folder would tell it.

    Raises
    ------
    InputError
        If the folder cannot be watched, results cannot be kept, or the cluster is lost.
    """
    desk = Desk(watched, plan, store, tell)
    observer = _observed(watched.folder, desk.stir)
    try:
        while not stopped():
            for done in worked(desk, plan) if desk.waiting() else ():
                desk.take(done)
                desk.write_now_and_then(_SUMMARY_S)
                if stopped():
                    break
            desk.write_now_and_then(0.0)
            time.sleep(desk.tick_s)
    except KeyboardInterrupt:
        pass
    finally:
        observer.stop()
        observer.join(5.0)
        desk.give_up()
        desk.write_summary()
        clear_leftovers(desk.folders)
    return desk.batch()


def _observed(folder: Path, stir: Callable[[Path | None], None]) -> _Observer:
    """Tell `stir` of every file below `folder` that may have changed, None for "search"."""
    try:
        from watchdog.events import FileSystemEventHandler
        from watchdog.observers import Observer
    except ImportError:
        raise InputError(
            "watching a folder needs the package watchdog",
            hint="install the extra: pip install 'burrcast[watch]'",
        ) from None

    class Handler(FileSystemEventHandler):
        def on_any_event(self, event: FileSystemEvent) -> None:
            if event.event_type not in ("created", "modified", "moved", "closed"):
                return  # our own reading, and what is gone
            if event.is_directory:
                if event.event_type != "modified":
                    stir(None)
                return
            moved = event.event_type == "moved"
            stir(Path(os.fsdecode(event.dest_path if moved else event.src_path)))

    observer = Observer()
    observer.schedule(Handler(), str(folder), recursive=True)
    try:
        observer.start()
    except OSError as error:
        raise InputError(
            f"cannot be watched: {error.strerror or error}", where=str(folder),
            hint="too many folders for the system? run burrcast batch without --watch now and then",
        ) from None  # fmt: skip
    return observer


class _Observer(Protocol):
    """What we need of the library's observer."""

    def stop(self) -> None:
        """End it."""

    def join(self, timeout: float | None = None) -> None:
        """Wait until it has ended."""


@dataclass
class _File:
    """What is known of a drawing in the folder."""

    name: str
    state: State | None = None
    since: float = 0.0
    number: int = -1
    given: State | None = None
    away: bool = False
    row: Row | None = None
    key: str = ""
    pages: tuple[str, ...] = ()


@dataclass
class Desk(Iterator[Todo]):
    """Knows every drawing, and hands out those that are whole and not done.

    As an iterator it ends when nothing is ready now, and may have more when asked again.
    """

    watched: Watched
    plan: Plan
    store: Store
    tell: Callable[[Row, Progress], None]
    progress: Progress = field(default_factory=Progress)

    def __post_init__(self) -> None:
        if self.plan.out is None:
            raise InputError("a watched folder needs one for results", hint="add --out DIR")
        self.tick_s = min(max(self.watched.settle_s / 4.0, 0.02), 0.5)
        self._out = self.plan.out
        self._places = Places(self._out)
        self.folders: set[Path] = set()
        self._writes_in(())
        self._files: dict[Path, _File] = {}
        self._by_number: list[Path] = []
        self._stirred: dict[Path, None] = {}
        self._ready: dict[Path, None] = {}
        self._events: queue.SimpleQueue[Path | None] = queue.SimpleQueue()
        self._next_search = self._next_look = -1e9
        self._written, self._took, self._changed = time.monotonic(), 0.0, True

    # --- what may have changed --------------------------------------------------------------

    def stir(self, path: Path | None) -> None:
        """Take note that a file may have changed, None for anything; from any thread."""
        self._events.put(path)

    def _look(self) -> None:
        """See which drawings are whole."""
        now = time.monotonic()
        if now < self._next_look:
            return
        self._next_look = now + self.tick_s
        self._hear_events()
        if now >= self._next_search:
            self._search()
            took = time.monotonic() - now
            self._next_search = now + max(self.watched.search_s, 20.0 * took)
        for path in list(self._stirred):
            file = self._files[path]
            if file.away:
                continue  # looked at when its answer is there
            state = _state(path)
            if state is None or state == file.given:  # gone again, or as it was
                del self._stirred[path]
            elif state != file.state:
                file.state, file.since = state, now
            elif now - file.since >= self.watched.settle_s:
                del self._stirred[path]
                self._ready[path] = None

    def _hear_events(self) -> None:
        while True:
            try:
                path = self._events.get_nowait()
            except queue.Empty:
                return
            if path is None:
                self._next_search = -1e9
            elif is_wanted(path, self.watched.folder, self.watched.pattern, self._out):
                self._stir(path)

    def _search(self) -> None:
        """Look through the whole folder for what no event told of."""
        found = tasks_of(
            self.watched.folder, self.watched.request,
            pattern=self.watched.pattern, leave_out=self._out,
        )  # fmt: skip
        for one in found:
            if isinstance(one, Unusable):
                continue  # a folder that cannot be read now may be later
            self._stir(one.path)

    def _stir(self, path: Path) -> None:
        if path not in self._files:
            name = path.relative_to(self.watched.folder).as_posix()
            self._files[path] = _File(name)
        self._stirred[path] = None

    # --- handing out ------------------------------------------------------------------------

    def waiting(self) -> bool:
        """Whether a drawing is whole and was not handed out yet."""
        self._look()
        return bool(self._ready)

    def __next__(self) -> Todo:
        """Return the next drawing that is whole and has no answer yet."""
        self._look()
        while self._ready:
            path = next(iter(self._ready))
            del self._ready[path]
            todo = self._handed(path)
            if todo is not None:
                return todo
        raise StopIteration

    def _handed(self, path: Path) -> Todo | None:
        """Return what is to be done for a drawing, None where its answer is kept already."""
        file = self._files[path]
        file.given = _state(path)
        if file.given != file.state:
            file.given = None
            self._stirred[path] = None  # changed this very moment: wait again
            return None
        if file.number < 0:
            file.number = len(self._by_number)
            self._by_number.append(path)
            file.pages = tuple(self._places.page(file.name, f) for f in self.plan.pages.formats)
            self._writes_in(file.pages)
            self.progress.total += 1
        task = Task(file.number, file.name, path, self.watched.request)
        kept = kept_already(task, file.pages, self.store)
        if kept is not None:
            self.progress.kept += file.row is None
            self._hear(file, *kept)
            return None
        claim(file.pages, self.plan, self.store)
        file.away = True
        return Todo(task, tuple(str(self._out / page) for page in file.pages))

    def _writes_in(self, pages: tuple[str, ...]) -> None:
        """Clear folders of what an earlier run has left, before the first page goes there."""
        new = folders_of(self._out, [pages]) - self.folders
        clear_leftovers(new)
        self.folders |= new

    def take(self, done: Done) -> None:
        """Keep an answer; a drawing that has changed meanwhile is done again."""
        path = self._by_number[done.number]
        file = self._files[path]
        file.away = False
        keep(done, file.pages, self.store)
        if _state(path) != file.given:
            file.given = None
            self._stirred[path] = None
        self.progress.done += file.row is None
        self._hear(file, done.key, done.row)

    def _hear(self, file: _File, key: str, row: Row) -> None:
        file.key, file.row = key, row
        self._changed = True
        self.tell(row, self.progress)

    def give_up(self) -> None:
        """Forget what is in work: the next run does it."""
        for file in self._files.values():
            file.away = False

    # --- telling ----------------------------------------------------------------------------

    def batch(self) -> Batch:
        """Return all that is found, in the order a batch over the folder tells it."""
        files = [file for file in self._files.values() if file.row is not None]
        files.sort(key=lambda file: _place(file.name))
        return Batch(
            [file.row for file in files if file.row is not None],
            [file.key for file in files],
            [file.pages for file in files],
        )

    def write_now_and_then(self, pause_s: float) -> None:
        """Bring the files about the whole folder up to date, in a sixth of the time at most."""
        begin = time.monotonic()
        if self._changed and begin >= self._written + max(pause_s, 5.0 * self._took):
            self.write_summary()
            self._written = time.monotonic()
            self._took = self._written - begin

    def write_summary(self) -> None:
        """Bring the files about the whole folder up to date where there is news."""
        if not self._changed:
            return
        batch = self.batch()
        write_summary(
            batch, overview_of(batch.rows), self.store, self.watched.folder.name,
            self.watched.manner,
        )  # fmt: skip
        self._changed = False


def _state(path: Path) -> State | None:
    """Return how a file looks, None where it is gone."""
    try:
        state = path.stat()
    except OSError:
        return None
    return state.st_size, state.st_mtime_ns, state.st_ino


def _place(name: str) -> tuple[tuple[int, bytes], ...]:
    """Return a key that sorts names as a search does: files of a folder, then what is below."""
    *folders, last = name.split("/")
    return (*((1, os.fsencode(folder)) for folder in folders), (0, os.fsencode(last)))
