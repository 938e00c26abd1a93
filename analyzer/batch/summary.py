"""The files about a whole batch, written anew only where they would change."""

from __future__ import annotations

import hashlib
from pathlib import Path

from analyzer.batch.overview import Overview
from analyzer.batch.places import INDEX, LINES, PLOT, SUMMARY
from analyzer.batch.run import Batch
from analyzer.batch.store import Store
from analyzer.batch.tell import index_page, json_lines, summary_csv, words_for
from analyzer.reasons import spoken
from analyzer.report.files import write_pieces, write_whole
from analyzer.report.manner import PLAIN, Manner


def write_summary(
    batch: Batch, view: Overview, store: Store, title: str, manner: Manner = PLAIN
) -> None:
    """Write summary, lines, picture and index of a batch into the folder of its store.

    Parameters
    ----------
    batch : Batch
    view : Overview
        Of its rows.
    store : Store
    title : str
        Of the index.
    manner : Manner
        How the CSV is written.

    Raises
    ------
    InputError
        If a file cannot be written.
    """
    folder = store.path.parent
    plot = PLOT if view.hours else ""
    files = [SUMMARY, LINES, INDEX] + [plot] * bool(plot)
    digest = _digest(batch, title, manner)
    state = _state(folder, files)
    if state and store.told() == (digest, state):
        return
    if plot:
        _draw(view, folder / plot)
    write_whole(folder / SUMMARY, summary_csv(batch.rows, manner), force=True)
    write_pieces(folder / LINES, json_lines(batch, store), force=True)
    write_whole(folder / INDEX, index_page(batch, view, title, plot), force=True)
    store.tell(digest, _state(folder, files))


def _draw(view: Overview, target: Path) -> None:
    from analyzer.report.to_png_hours import hours_picture

    bars = [
        (f"{words_for(row.material)}, {spoken(row.gas) if row.gas else 'no gas'}",
         row.machine_h, row.hand_h)
        for row in view.hours
    ]  # fmt: skip
    write_whole(target, hours_picture(bars), force=True)


def _digest(batch: Batch, title: str, manner: Manner) -> str:
    """Return a digest of all that the files tell."""
    told = hashlib.sha256(repr((title, manner)).encode())
    for row, key, pages in zip(batch.rows, batch.keys, batch.pages, strict=True):
        told.update(repr((tuple(vars(row).values()), key, pages)).encode())
    return told.hexdigest()


def _state(folder: Path, files: list[str]) -> str:
    """Return size and time of change of every file, nothing where one is missing."""
    try:
        states = [(name, (folder / name).stat()) for name in files]
    except OSError:
        return ""
    return repr([(name, state.st_size, state.st_mtime_ns) for name, state in states])
