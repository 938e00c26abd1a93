"""What a batch has found so far, kept so that a kill costs at most the drawings in flight.

One SQLite file in the folder of results.  Every answer is written in a transaction of its own
when it is there, under a key made of the drawing's bytes, the settings and our version: a
second run does only what is missing or changed, and two runs at the same time can at worst do
the same work twice.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
import stat
import time
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import asdict, replace
from pathlib import Path

from analyzer._version import __version__
from analyzer.batch.row import Row
from analyzer.errors import InputError
from analyzer.request import Request
from analyzer.shop import Shop

FILE_NAME = "burrcast-batch.sqlite3"
_LAYOUT = 1  # of the tables
_SETTLED_S = 2.0
"""A file changed this long ago cannot change again unseen within one tick of its clock. [s]"""
_WAIT_S = 60.0

_TABLES = """
create table if not exists answers (
    key text primary key, status text not null, reason text not null, row text not null,
    answer blob not null
) without rowid;
create table if not exists seen (
    path text primary key, size integer not null, changed integer not null, digest text not null
) without rowid;
create table if not exists pages (path text primary key, key text not null) without rowid;
create table if not exists told (
    one integer primary key check (one = 1), digest text not null, state text not null
);
"""


def settings_of(request: Request, shop: Shop) -> str:
    """Return the digest of all that decides an answer besides the drawing.

    Parameters
    ----------
    request : Request
    shop : Shop
        In force for the drawing, own tables read in.
    """
    told = {**asdict(request), "shop": repr(replace(shop, path=None))}
    text = json.dumps([_LAYOUT, __version__, told], sort_keys=True)
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def key_of(digest: str, name: str, settings: str) -> str:
    """Return the name under which the answer for a drawing is kept.

    Parameters
    ----------
    digest : str
        Of the drawing's bytes.
    name : str
        Base name of the drawing, which the answer tells.
    settings : str
        From `settings_of`.
    """
    text = "\0".join((digest, name, settings))
    return hashlib.sha256(text.encode("utf-8", "surrogateescape")).hexdigest()


def digest_of(path: Path) -> str:
    """Return the digest of a regular file's bytes, empty where it is none or cannot be read."""
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    except (OSError, ValueError):
        return ""
    with os.fdopen(handle, "rb") as file:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            return ""
        with contextlib.suppress(OSError):
            return hashlib.file_digest(file, "sha256").hexdigest()
    return ""


class Store:
    """Answers by key, in one file that survives a kill at any moment."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE_NAME
        with self._plainly():
            folder.mkdir(parents=True, exist_ok=True)
            self._base = sqlite3.connect(self.path, timeout=_WAIT_S, isolation_level=None)
            self._base.execute("pragma journal_mode = wal")
            self._base.execute("pragma synchronous = normal")
            self._check_layout()

    def _check_layout(self) -> None:
        (layout,) = self._base.execute("pragma user_version").fetchone()
        if layout not in (0, _LAYOUT):
            raise InputError(
                "was written by another version", where=str(self.path),
                hint="give another folder with --out",
            )  # fmt: skip
        self._base.executescript(_TABLES)
        self._base.execute(f"pragma user_version = {_LAYOUT}")

    def close(self) -> None:
        """Close the file."""
        self._base.close()

    # --- answers --------------------------------------------------------------------------

    def finished(self, key: str) -> bool:
        """Whether there is an answer, or a refusal, under `key`."""
        with self._plainly():
            found = self._base.execute("select 1 from answers where key = ?", (key,)).fetchone()
        return found is not None

    def keep(self, key: str, row: Row, answer: str) -> None:
        """Keep one answer; one that is there already stays."""
        packed = zlib.compress(answer.encode())
        with self._plainly():
            self._base.execute(
                "insert or ignore into answers values (?, ?, ?, ?, ?)",
                (key, row.status, row.reason, row.to_json(), packed),
            )

    def row(self, key: str) -> Row | None:
        """Return the row kept under `key`."""
        with self._plainly():
            found = self._base.execute("select row from answers where key = ?", (key,)).fetchone()
        return Row.from_json(found[0]) if found else None

    def answer(self, key: str) -> str:
        """Return the answer kept under `key` as JSON text, nothing where there is none."""
        with self._plainly():
            found = self._base.execute(
                "select answer from answers where key = ?", (key,)
            ).fetchone()
        return zlib.decompress(found[0]).decode() if found else ""

    # --- drawings seen --------------------------------------------------------------------

    def digests(self) -> dict[str, tuple[int, int, str]]:
        """Return size, time of change [ns] and digest of the drawings seen, by path."""
        with self._plainly():
            rows = self._base.execute("select path, size, changed, digest from seen").fetchall()
        return {path: (size, changed, digest) for path, size, changed, digest in rows}

    def saw(self, seen: Iterable[tuple[str, int, int, str]]) -> None:
        """Note drawings and their digests, those that have just changed left out."""
        limit = time.time_ns() - int(_SETTLED_S * 1e9)
        settled = [row for row in seen if row[2] < limit]
        with self._plainly():
            self._base.execute("begin immediate")
            self._base.executemany("insert or replace into seen values (?, ?, ?, ?)", settled)
            self._base.execute("commit")

    # --- pages ----------------------------------------------------------------------------

    def is_ours(self, page: str) -> bool:
        """Whether a batch has written, or was about to write, the file `page`."""
        with self._plainly():
            found = self._base.execute("select 1 from pages where path = ?", (page,)).fetchone()
        return found is not None

    def page_key(self, page: str) -> str:
        """Return the key of the answer that `page` shows."""
        with self._plainly():
            found = self._base.execute("select key from pages where path = ?", (page,)).fetchone()
        return str(found[0]) if found else ""

    def will_write(self, pages: Iterable[str]) -> None:
        """Note files before they are written, so that a later run knows them for ours."""
        with self._plainly():
            self._base.execute("begin immediate")
            self._base.executemany(
                "insert or ignore into pages values (?, '')", [(page,) for page in pages]
            )
            self._base.execute("commit")

    def wrote(self, pages: Iterable[str], key: str) -> None:
        """Note what the files show that have been written."""
        with self._plainly():
            self._base.execute("begin immediate")
            self._base.executemany(
                "insert or replace into pages values (?, ?)", [(page, key) for page in pages]
            )
            self._base.execute("commit")

    # --- files about the whole batch --------------------------------------------------------

    def told(self) -> tuple[str, str]:
        """Return what `tell` noted last, two empty strings where nothing was."""
        with self._plainly():
            found = self._base.execute("select digest, state from told").fetchone()
        return (str(found[0]), str(found[1])) if found else ("", "")

    def tell(self, digest: str, state: str) -> None:
        """Note what the files about the whole batch tell, and how they look on the disk."""
        with self._plainly():
            self._base.execute("insert or replace into told values (1, ?, ?)", (digest, state))

    @contextlib.contextmanager
    def _plainly(self) -> Iterator[None]:
        """Turn what the data base says into one plain error."""
        try:
            yield
        except sqlite3.Error as error:
            raise InputError(
                f"cannot keep results: {error}", where=str(self.path),
                hint="is the disk full, or the folder not writable? what was kept stays",
            ) from None  # fmt: skip
        except OSError as error:
            raise InputError(
                f"cannot write: {error.strerror or error}", where=str(self.path),
                hint="give another folder with --out",
            ) from None  # fmt: skip
