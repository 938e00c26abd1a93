"""burrcast batch: a whole folder or list, on all cores, resumable."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyzer.cli.options import LEVELS, Asked, asked_options
from analyzer.cli.run import put
from analyzer.errors import InputError

if TYPE_CHECKING:
    from analyzer.batch.overview import Overview
    from analyzer.batch.row import Row
    from analyzer.batch.run import Batch, Progress


@click.command("batch")
@click.argument("source", metavar="FOLDER|LIST", type=click.Path(path_type=Path))
@click.option("--pattern", default="*.dxf", show_default=True, help="Names of drawings in FOLDER.")
@click.option(
    "--jobs", type=click.IntRange(1, 1024), help="Processes; as many as cores by default."
)
@click.option(
    "--time-limit",
    "time_limit_s",
    type=click.FloatRange(0.1),
    default=300.0,
    show_default=True,
    metavar="SECONDS",
    help="Give up a drawing that takes longer.",
)
@asked_options
def command(
    source: Path, pattern: str, jobs: int | None, time_limit_s: float, asked: Asked
) -> int:  # fmt: skip
    """A whole folder, in parallel, resumable.

    Looks at every drawing of a FOLDER with all below it, or of a LIST: a CSV with the columns
    drawing and, where told, material, thickness_mm, plate, next and quantity; or a text file
    with one drawing a line. With --out DIR answers are kept there as they are found: run the
    same command again and only what is missing or changed is done.
    """
    from analyzer.batch.overview import overview_of
    from analyzer.batch.places import check_folder
    from analyzer.batch.run import Plan, run_batch
    from analyzer.batch.store import Store
    from analyzer.batch.summary import write_summary
    from analyzer.batch.tasks import tasks_of
    from analyzer.batch.work import Pages

    asked.check_manner(csv_anyway=asked.out is not None)
    if asked.out is None and set(asked.formats) - {"text", "json"}:
        raise InputError("pages need a folder", hint="add --out DIR")
    if asked.out is not None:
        check_folder(asked.out, force=asked.force)
    found = list(tasks_of(source, asked.request(), pattern=pattern, leave_out=asked.out))
    if not found:
        raise InputError(
            "no drawing found", where=str(source), hint=f"names must match {pattern}; see --pattern"
        )
    pages = Pages(tuple(dict.fromkeys(asked.formats)) if asked.out else (), asked.manner)
    plan = Plan(pages, jobs or os.cpu_count() or 1, time_limit_s, asked.out, asked.force)
    store = Store(asked.out) if asked.out is not None else None
    quiet = asked.out is None and "json" in asked.formats
    try:
        batch = run_batch(found, plan, store, _teller(quiet=quiet))
        view = overview_of(batch.rows)
        if store is not None:
            write_summary(batch, view, store, source.name, asked.manner)
    finally:
        if store is not None:
            store.close()
    _print(batch, view, quiet=quiet)
    if view.refused or view.failed:
        return 3
    return int(_fails(batch.rows, asked.fail_on))


def _teller(*, quiet: bool) -> Callable[[Row, Progress], None]:
    """Return what hears of every drawing: a line to stdout, how far we are to stderr."""
    from time import monotonic

    from analyzer.batch.tell import line_of

    begin = monotonic()
    live = sys.stderr.isatty()

    def tell(row: Row, progress: Progress) -> None:
        if not quiet:
            put(line_of(row) + "\n")
        left = progress.total - progress.kept - progress.done
        if live and progress.done:
            rate = progress.done / max(monotonic() - begin, 1e-3)
            words = f"{progress.done + progress.kept:,} of {progress.total:,}"
            words += f", {rate:.1f}/s, {left / rate:.0f} s left"
            print(f"\r{words:<60}", end="" if left else "\n", file=sys.stderr, flush=True)

    return tell


def _print(batch: Batch, view: Overview, *, quiet: bool) -> None:
    from analyzer.batch.tell import batch_object, overview_lines
    from analyzer.report import strict

    if quiet:
        put(strict.dumps(batch_object(batch, view)))
        return
    put("\n" + "\n".join(overview_lines(view)) + "\n")


def _fails(rows: list[Row], level: str | None) -> bool:
    if level is None:
        return False
    worst = LEVELS.index(level)
    return any(row.worst and LEVELS.index(row.worst) >= worst for row in rows)
