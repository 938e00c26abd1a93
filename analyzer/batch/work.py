"""One drawing of a batch, from its file to a row, an answer and pages; runs in any process."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
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
from analyzer.shop import Shop, load_shop

TRIES = 3
"""A drawing that changes while it is read is read again, at most so often in all."""


class ChangingDrawingError(DrawingError):
    """A drawing that is never the same twice."""

    def __init__(self, name: str) -> None:
        super().__init__("changes while it is read", where=name, hint="run again when it is whole")


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
    changing : bool
        Whether it was refused because it is never the same twice.
    """

    number: int
    key: str
    row: Row
    answer: str = ""
    pages: tuple[str, ...] = ()
    changing: bool = False


@dataclass(frozen=True)
class Todo:
    """A task and the files of its pages."""

    task: Task
    targets: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sent:
    """A drawing on its way to another machine, with all that its answer takes.

    Attributes
    ----------
    task : Task
    data : bytes or None
        Of the drawing; None where the other machine opens the same file.
    shop : Shop
        In force for the drawing.
    pages : Pages
    """

    task: Task
    data: bytes | None
    shop: Shop
    pages: Pages


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
    done, made = looked_at(task, pages)
    return put_down(done, made, targets)


def put_down(done: Done, made: Sequence[str | bytes], targets: tuple[str, ...]) -> Done:
    """Write the pages of a drawing and return what is told of it then.

    Raises
    ------
    InputError
        If one cannot be written.
    """
    if not done.answer:
        return done
    for page, target in zip(made, targets, strict=True):
        write_whole(Path(target), page, force=True)
    return replace(done, pages=targets)


def work_sent(sent: Sent) -> tuple[Done, tuple[str | bytes, ...]]:
    """Answer for a drawing on a machine that may not see its folder; return its pages."""
    if sent.data is None:
        return looked_at(sent.task, sent.pages, sent.shop)
    with tempfile.TemporaryDirectory(prefix="burrcast-") as folder:
        path = Path(folder) / sent.task.path.name
        path.write_bytes(sent.data)
        return looked_at(replace(sent.task, path=path), sent.pages, sent.shop)


def looked_at(
    task: Task, pages: Pages, shop: Shop | None = None
) -> tuple[Done, tuple[str | bytes, ...]]:
    """Answer for one drawing and make its pages, writing nothing.

    Parameters
    ----------
    task : Task
    pages : Pages
    shop : Shop, optional
        In force for the drawing; looked for where not told.
    """
    try:
        shop = shop or load_shop(task.request.shop, task.path.parent)
        key, answer = _steady(task, shop)
    except BurrcastError as error:
        if error.exit_code != 2:
            raise
        done = refusal(task, str(error))
        return replace(done, changing=isinstance(error, ChangingDrawingError)), ()
    except Exception as error:  # the net: one drawing must not end a batch
        words = f"{type(error).__name__}: {error} (our own fault; please report it)"
        return failure(task, words), ()
    if isinstance(answer, BurrcastError):
        return refusal(task, str(answer), key), ()
    source = task.path.read_bytes() if FROM_SOURCE & set(pages.formats) else None
    made = tuple(
        written("check", answer, form, pages.manner, source=source) for form in pages.formats
    )
    told = strict.dumps(check_object(answer))
    return Done(task.number, key, row_of(answer, task.name, task.quantity), told), made


def refusal(task: Task, reason: str, key: str = "") -> Done:
    """Return what is told of a drawing that cannot be read."""
    row = Row(whole(task.name), REFUSED, whole(reason), task.quantity)
    return Done(task.number, key, row)


def failure(task: Task, reason: str) -> Done:
    """Return what is told of a drawing that took too long or ended its process."""
    row = Row(whole(task.name), FAILED, whole(reason), task.quantity)
    return Done(task.number, "", row)


def _steady(task: Task, shop: Shop) -> tuple[str, Answer | BurrcastError]:
    """Return what is found in bytes that were the same before and after reading, and its key.

    A refusal counts no less than an answer: one of half a drawing must not be kept under the
    key of the whole.  The key is empty where the drawing cannot be opened.
    """
    before = digest_of(task.path)
    for _ in range(TRIES):
        found = _found(task, shop)
        after = digest_of(task.path)
        if after == before:
            settings = settings_of(task.request, shop)
            return key_of(after, task.path.name, settings) if after else "", found
        before = after
    raise ChangingDrawingError(task.path.name)


def _found(task: Task, shop: Shop) -> Answer | BurrcastError:
    try:
        return task.request.answer(task.path, shop)
    except BurrcastError as error:
        if error.exit_code != 2:
            raise
        return error
