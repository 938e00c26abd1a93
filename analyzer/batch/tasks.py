"""What a batch has to do: the drawings of a folder, or of a list with a job in every row."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fnmatch import fnmatch
from pathlib import Path

from analyzer.errors import InputError
from analyzer.job import NEXT_STEPS, PLATES
from analyzer.orders import (
    JOB_COLUMNS,
    SHEET_COLUMNS,
    BadLine,
    Given,
    Line,
    one_of,
    read_lines,
    thickness_of,
)
from analyzer.request import Request

PATTERN = "*.dxf"
MOST_PIECES = 1_000_000
_OTHERS = (*JOB_COLUMNS, "quantity", *SHEET_COLUMNS)
_MOST_LIST_BYTES = 20_000_000


@dataclass(frozen=True)
class Task:
    """One drawing to answer for.

    Attributes
    ----------
    number : int
        Place in the order of the input, from 0.
    name : str
        The drawing, from the folder or as the list writes it.
    path : Path
        The file.
    request : Request
        Material, thickness and all that decides the answer.
    quantity : int
        How many are wanted.
    """

    number: int
    name: str
    path: Path
    request: Request
    quantity: int = 1


@dataclass(frozen=True)
class Unusable:
    """A row or folder that names no drawing we could look at, and why."""

    number: int
    name: str
    reason: str


def tasks_of(
    source: Path, request: Request, *, pattern: str = PATTERN, leave_out: Path | None = None
) -> Iterator[Task | Unusable]:
    """Yield what is to be done, in the order of the input.

    Parameters
    ----------
    source : Path
        A folder, searched with all below it; a CSV with a drawing in every row; or a text
        file with one drawing a line.
    request : Request
        Options; what a row tells comes before them.
    pattern : str
        Names of drawings in a folder, capitals or not.
    leave_out : Path, optional
        A folder not to search: where results go.

    Raises
    ------
    InputError
        If the source cannot be read at all.
    """
    if source.is_dir():
        found = _in_folder(source, pattern, leave_out)
    elif source.suffix.lower() == ".csv":
        yield from _in_csv(source, request)
        return
    elif source.is_file():
        found = _in_text(source)
    else:
        raise InputError(
            "is neither a folder nor a list", where=str(source),
            hint="give a folder with drawings, a CSV, or a text file with one drawing a line",
        )  # fmt: skip
    for number, (name, path, reason) in enumerate(found):
        if reason:
            yield Unusable(number, name, reason)
        else:
            yield Task(number, name, path, request)


def _in_folder(
    folder: Path, pattern: str, leave_out: Path | None
) -> Iterator[tuple[str, Path, str]]:
    """Drawings below a folder, sorted; links to folders are not followed, so none goes round."""
    out = leave_out.resolve() if leave_out is not None else None
    stack = [folder]
    while stack:
        here = stack.pop()
        try:
            with os.scandir(here) as entries:
                inside = sorted(entries, key=lambda entry: os.fsencode(entry.name))
        except OSError as error:
            if here == folder:
                raise InputError(
                    f"cannot be searched: {error.strerror}", where=str(folder),
                    hint="check the path and its permissions",
                ) from None  # fmt: skip
            yield _name(here, folder), here, f"folder cannot be searched: {error.strerror}"
            continue
        below = []
        for entry in inside:
            path = here / entry.name
            if entry.is_dir(follow_symlinks=False):
                if path.resolve() != out:
                    below.append(path)
            elif not _leads_to_a_folder(entry) and fnmatch(entry.name.lower(), pattern.lower()):
                yield _name(path, folder), path, ""
        stack += reversed(below)


def is_wanted(path: Path, folder: Path, pattern: str, leave_out: Path) -> bool:
    """Whether a search of `folder` would find the file `path`, if it is there."""
    if not fnmatch(path.name.lower(), pattern.lower()) or path.is_dir():
        return False
    out = leave_out.resolve()
    for above in path.parents:
        if above == folder:
            return True
        if above.is_symlink() or above.resolve() == out:
            return False
    return False


def _leads_to_a_folder(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_dir()
    except OSError:  # a link that leads to itself: said when it is opened
        return False


def _name(path: Path, folder: Path) -> str:
    return path.relative_to(folder).as_posix()


def _in_text(source: Path) -> Iterator[tuple[str, Path, str]]:
    try:
        if source.stat().st_size > _MOST_LIST_BYTES:
            raise InputError(
                f"a list over the limit of {_MOST_LIST_BYTES:,} bytes", where=str(source),
                hint="split the list",
            )  # fmt: skip
        text = source.read_text(encoding="utf-8-sig", errors="surrogateescape")
    except OSError as error:
        raise InputError(
            f"the list cannot be read: {error.strerror}", where=str(source), hint="check the path"
        ) from None
    if "\0" in text or text.lstrip()[:2] == "0\n":
        raise InputError(
            "is not a list of drawings", where=str(source),
            hint="to look at one drawing use burrcast check",
        )  # fmt: skip
    for line in text.splitlines():
        name = line.strip()
        if name and not name.startswith("#"):
            yield name, source.parent / name, ""


def _in_csv(source: Path, request: Request) -> Iterator[Task | Unusable]:
    given = Given(thickness_mm=request.thickness_mm)
    for number, line in enumerate(read_lines(source, ("drawing",), _OTHERS)):
        if isinstance(line, BadLine):
            yield Unusable(number, f"line {line.line}", line.reason)
            continue
        try:
            yield _of_row(number, line, request, given)
        except InputError as error:
            yield Unusable(number, line.cells["drawing"], str(error))


def _of_row(number: int, line: Line, request: Request, given: Given) -> Task:
    quantity = line.whole_at("quantity", 1, MOST_PIECES) if "quantity" in line.cells else 1
    told = replace(
        request,
        material=line.cells.get("material") or request.material,
        thickness_mm=thickness_of(line, given),
        plate=one_of(line, "plate", PLATES) or request.plate,
        next_step=one_of(line, "next", NEXT_STEPS) or request.next_step,
    )
    return Task(number, line.cells["drawing"], line.drawing(), told, quantity)
