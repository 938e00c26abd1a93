"""A whole batch: found, done, kept, and told in the order of the input."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analyzer.batch.cluster import Cluster, work_on_cluster
from analyzer.batch.local import work_through
from analyzer.batch.places import Places
from analyzer.batch.process import TIME_LIMIT_S
from analyzer.batch.row import REFUSED, Row
from analyzer.batch.store import Store, digest_of, key_of, settings_of
from analyzer.batch.tasks import Task, Unusable
from analyzer.batch.work import Done, Pages, Todo
from analyzer.errors import BurrcastError, InputError
from analyzer.report.escape import whole
from analyzer.report.temporary import clear_leftovers
from analyzer.request import Request
from analyzer.shop import load_shop

_NOTE_EVERY = 500
"""Digests are noted in the store after so many drawings."""


@dataclass
class Progress:
    """How far a batch is, for whoever watches.

    Attributes
    ----------
    total, kept, done : int
        Drawings, those found finished from an earlier run, and those done now.
    """

    total: int = 0
    kept: int = 0
    done: int = 0


@dataclass(frozen=True)
class Plan:
    """How to do a batch.

    Attributes
    ----------
    pages : Pages
    jobs : int
    time_limit_s : float
    out : Path or None
        Folder of results; None keeps and writes nothing.
    force : bool
        Replace pages that no batch has written.
    cluster : Cluster or None
        Where other machines do the work; None does it here.
    """

    pages: Pages = field(default_factory=Pages)
    jobs: int = 1
    time_limit_s: float = TIME_LIMIT_S
    out: Path | None = None
    force: bool = False
    cluster: Cluster | None = None


@dataclass
class Batch:
    """What a batch has found: a row for everything, in the order of the input.

    Attributes
    ----------
    rows : list of Row
    keys : list of str
        Under which each answer is kept, empty where it is not.
    pages : list of tuple of str
        Pages of each drawing, from the folder of results.
    """

    rows: list[Row] = field(default_factory=list)
    keys: list[str] = field(default_factory=list)
    pages: list[tuple[str, ...]] = field(default_factory=list)


def run_batch(
    found: list[Task | Unusable], plan: Plan, store: Store | None = None,
    tell: Callable[[Row, Progress], None] | None = None,
) -> Batch:  # fmt: skip
    """Do what is not done yet; return a row for everything.

    Parameters
    ----------
    found : list of Task or Unusable
        What is to be done, in order.
    plan : Plan
    store : Store, optional
        Where answers are kept.
    tell : callable, optional
        Hears of every row as it is ready.

    Raises
    ------
    InputError
        If results cannot be written or kept; what is kept already stays.
    """
    rows: list[Row | None] = [None] * len(found)
    keys = [""] * len(found)
    progress = Progress(total=len(found))
    places = Places(plan.out) if plan.out is not None else None
    pages = [
        tuple(places.page(one.name, form) for form in plan.pages.formats) if places else ()
        for one in found
    ]

    folders = folders_of(plan.out, pages)
    clear_leftovers(folders)

    def hear(number: int, key: str, row: Row) -> None:
        rows[number], keys[number] = row, key
        if tell is not None:
            tell(row, progress)

    waiting: list[Task] = []
    for one in found:
        if isinstance(one, Unusable):
            progress.done += 1
            hear(one.number, "", Row(whole(one.name), REFUSED, whole(one.reason)))
        else:
            waiting.append(one)
    if store is not None:
        waiting = _not_finished(waiting, pages, store, progress, hear)
        claim([page for task in waiting for page in pages[task.number]], plan, store)
    for done in worked(_todo(waiting, pages, plan), plan):
        if store is not None:
            keep(done, pages[done.number], store)
        progress.done += 1
        hear(done.number, done.key, done.row)
    clear_leftovers(folders)  # of processes lost on the way
    return Batch([row for row in rows if row is not None], keys, pages)


def folders_of(out: Path | None, pages: Iterable[tuple[str, ...]]) -> set[Path]:
    """Return the folders in which results and pages are written."""
    if out is None:
        return set()
    return {
        out,
        *(out / folder for folder in {os.path.dirname(page) for of in pages for page in of}),
    }


def worked(todo: Iterator[Todo], plan: Plan) -> Iterator[Done]:
    """Yield what comes of every task, done here or on other machines."""
    if plan.cluster is not None:
        return work_on_cluster(todo, plan.pages, plan.cluster, time_limit_s=plan.time_limit_s)
    return work_through(todo, plan.pages, jobs=plan.jobs, time_limit_s=plan.time_limit_s)


def keep(done: Done, pages: tuple[str, ...], store: Store) -> None:
    """Keep an answer, and note its pages."""
    if done.key:
        store.keep(done.key, done.row, done.answer)
        if done.answer:
            store.wrote(pages, done.key)


def _todo(waiting: list[Task], pages: list[tuple[str, ...]], plan: Plan) -> Iterator[Todo]:
    for task in waiting:
        targets = tuple(str((plan.out or Path()) / page) for page in pages[task.number])
        yield Todo(task, targets)


def _not_finished(
    waiting: list[Task], pages: list[tuple[str, ...]], store: Store, progress: Progress,
    hear: Callable[[int, str, Row], None],
) -> list[Task]:  # fmt: skip
    """Hear the rows that are kept already; return the tasks that are left."""
    known = store.digests()
    settings: dict[tuple[Request, Path], str] = {}
    fresh: list[tuple[str, int, int, str]] = []
    left = []
    for task in waiting:
        digest = _digest(task.path, known, fresh)
        if len(fresh) >= _NOTE_EVERY:
            store.saw(fresh)
            fresh.clear()
        where = (task.request, task.path.parent)
        if where not in settings:
            settings[where] = _settings(*where)
        kept = _kept(task, digest, settings[where], pages[task.number], store)
        if kept is None:
            left.append(task)
        else:
            progress.kept += 1
            hear(task.number, *kept)
    store.saw(fresh)
    return left


def _settings(request: Request, folder: Path) -> str:
    """Return the settings in force in a folder, nothing where the shop file has a fault."""
    try:
        return settings_of(request, load_shop(request.shop, folder))
    except BurrcastError:
        return ""  # every drawing of the folder is refused, saying so


def _digest(
    path: Path, known: dict[str, tuple[int, int, str]], fresh: list[tuple[str, int, int, str]]
) -> str:
    """Return the digest of a drawing: the one noted where size and time are the same."""
    try:
        state = path.stat()
    except (OSError, ValueError):
        return ""
    name = whole(str(path.absolute()))
    size, changed, digest = known.get(name, (-1, -1, ""))
    if (size, changed) == (state.st_size, state.st_mtime_ns):
        return digest
    digest = digest_of(path)
    if digest:
        fresh.append((name, state.st_size, state.st_mtime_ns, digest))
    return digest


def _pages_there(row: Row, pages: tuple[str, ...], key: str, store: Store) -> bool:
    """Whether all pages of a finished drawing show this answer."""
    if row.status == REFUSED:
        return True
    folder = store.path.parent
    return all(store.page_key(page) == key and (folder / page).is_file() for page in pages)


def claim(wanted: Sequence[str], plan: Plan, store: Store) -> None:
    """Note the files we are going to write.

    Raises
    ------
    InputError
        If one is there that no batch has written, and `plan.force` is not given.
    """
    folder = store.path.parent
    if not plan.force:
        for page in wanted:
            if (folder / page).exists() and not store.is_ours(page):
                raise InputError(
                    f"{folder / page} is there already", hint="add --force to replace it"
                )
    store.will_write(wanted)


def kept_already(task: Task, pages: tuple[str, ...], store: Store) -> tuple[str, Row] | None:
    """Return key and row of a drawing that is finished, pages and all; None where it is not."""
    settings = _settings(task.request, task.path.parent)
    return _kept(task, digest_of(task.path), settings, pages, store)


def _kept(
    task: Task, digest: str, settings: str, pages: tuple[str, ...], store: Store
) -> tuple[str, Row] | None:
    if not (digest and settings):
        return None
    key = key_of(digest, task.path.name, settings)
    row = store.row(key)
    if row is None or not _pages_there(row, pages, key, store):
        return None
    return key, row.called(task.name, task.quantity)
