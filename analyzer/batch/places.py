"""Where results go: one folder that is ours, with the tree of the drawings in it."""

from __future__ import annotations

from pathlib import Path, PurePosixPath

from analyzer.batch.store import FILE_NAME
from analyzer.errors import InputError

SUMMARY, LINES, INDEX, PLOT = "summary.csv", "results.jsonl", "index.html", "overview.png"
_OURS = {SUMMARY, LINES, INDEX, PLOT}


class Places:
    """Gives every drawing a file name of its own in the folder of results."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._taken = {name.casefold() for name in _OURS}

    def page(self, name: str, form: str) -> str:
        """Return the page of the drawing called `name`: its own path with another ending.

        What would lead out of the folder is left off; a second drawing of the same name gets
        a number.
        """
        parts = [part for part in PurePosixPath(name).parts if part not in ("/", "..", ".")]
        plain = PurePosixPath(*parts) if parts else PurePosixPath("drawing")
        stem = plain.stem or "drawing"
        trial, number = plain.with_name(f"{stem}.{form}"), 1
        while str(trial).casefold() in self._taken:
            number += 1
            trial = plain.with_name(f"{stem}-{number}.{form}")
        self._taken.add(str(trial).casefold())
        return trial.as_posix()


def check_folder(folder: Path, *, force: bool) -> None:
    """Refuse a folder that holds anything but our own results.

    Raises
    ------
    InputError
        If it is a file, or holds files that no batch has written, and `force` is not given.
    """
    try:
        if not folder.exists():
            return
        if not folder.is_dir():
            raise InputError(f"{folder} is a file", hint="give a folder with --out")
        empty = not any(folder.iterdir())
    except OSError as error:
        raise InputError(f"cannot be opened: {error.strerror}", where=str(folder)) from None
    if not empty and not (folder / FILE_NAME).is_file() and not force:
        raise InputError(
            f"{folder} holds other files",
            hint="give an empty folder, or add --force",
        )
