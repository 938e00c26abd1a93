"""One drawing of a batch, from its file to a row, an answer and pages; runs in any process."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from analyzer.batch.row import FAILED, REFUSED, Row, row_of
from analyzer.batch.store import digest_of, key_of, settings_of
from analyzer.batch.tasks import Task
from analyzer.comparison import Answer
from analyzer.errors import BurrcastError, DrawingError
from analyzer.report import strict
from analyzer.report.escape import whole
from analyzer.report.files import write_whole
from analyzer.report.formats import FROM_SOURCE, written
from analyzer.report.manner import PLAIN, Manner
from analyzer.report.to_json import check_object
from analyzer.shop import load_shop

_TRIES = 3
"""A drawing that changes while it is read is read again, at most so often in all."""


@dataclass(frozen=True)
class Pages:
    """Pages to write for every drawing.

    Attributes
    ----------
    formats : tuple of str
        As `--format` names them.
    manner : Manner
        How they are written.
    """

    formats: tuple[str, ...] = ()
    manner: Manner = PLAIN


@dataclass(frozen=True)
class Done:
    """What came of a task.

    Attributes
    ----------
    number : int
        Of the task.
    key : str
        Under which the answer is kept; empty where the drawing could not be opened.
    row : Row
    answer : str
        `burrcast.check/1` as JSON, empty where there is none.
    pages : tuple of str
        Files that were written.
    """

    number: int
    key: str
    row: Row
    answer: str = ""
    pages: tuple[str, ...] = ()


def work(task: Task, pages: Pages = Pages(), targets: tuple[str, ...] = ()) -> Done:
    """Answer for one drawing and write its pages; what is wrong with it becomes a row.

    Parameters
    ----------
    task : Task
    pages : Pages
    targets : tuple of str
        The file of every format.

    Raises
    ------
    InputError
        If a page cannot be written: that is no fault of the drawing.
    """
    try:
        key, answer = _steady(task)
    except BurrcastError as error:
        if error.exit_code != 2:
            raise
        return refusal(task, str(error), _key_if_there(task))
    except Exception as error:  # the net: one drawing must not end a batch
        words = f"{type(error).__name__}: {error} (our own fault; please report it)"
        return Done(task.number, "", Row(whole(task.name), FAILED, whole(words), task.quantity))
    source = _source(task, pages)
    for form, target in zip(pages.formats, targets, strict=True):
        made = written("check", answer, form, pages.manner, source=source)
        write_whole(Path(target), made, force=True)
    told = strict.dumps(check_object(answer))
    row = row_of(answer, task.name, task.quantity)
    return Done(task.number, key, row, told, targets)


def refusal(task: Task, reason: str, key: str = "") -> Done:
    """Return what is told of a drawing that cannot be read."""
    row = Row(whole(task.name), REFUSED, whole(reason), task.quantity)
    return Done(task.number, key, row)


def work_on_bytes(data: bytes, task: Task, pages: Pages = Pages()) -> tuple[Done, list[bytes]]:
    """Answer for a drawing sent as bytes; return its pages instead of writing them.

    For machines that do not see the folder: the shop file must be named in the request.
    """
    with tempfile.TemporaryDirectory(prefix="burrcast-") as folder:
        path = Path(folder) / Path(task.name).name
        path.write_bytes(data)
        here = Task(task.number, task.name, path, task.request, task.quantity)
        done = work(here)
        made = [b""] * 0
        if done.answer and pages.formats:
            answer = task.request.answer(path)
            made = [
                written("check", answer, form, pages.manner, source=data) for form in pages.formats
            ]
    return done, made


def _source(task: Task, pages: Pages) -> bytes | None:
    """Return the drawing's bytes where a page is made from them."""
    return task.path.read_bytes() if FROM_SOURCE & set(pages.formats) else None


def _steady(task: Task) -> tuple[str, Answer]:
    """Return the answer for bytes that were the same before and after reading, and its key."""
    shop = load_shop(task.request.shop, task.path.parent)
    before = digest_of(task.path)
    for _ in range(_TRIES):
        answer = task.request.answer(task.path, shop)
        after = digest_of(task.path)
        if after == before:
            return key_of(after, task.path.name, settings_of(task.request, shop)), answer
        before = after
    raise DrawingError(
        "changes while it is read", where=task.path.name, hint="run again when it is whole"
    )


def _key_if_there(task: Task) -> str:
    """Return the key of a drawing that was refused, empty where it cannot even be opened."""
    digest = digest_of(task.path)
    try:
        shop = load_shop(task.request.shop, task.path.parent)
    except BurrcastError:
        return ""
    settings = settings_of(task.request, shop)
    return key_of(digest, task.path.name, settings) if digest else ""
