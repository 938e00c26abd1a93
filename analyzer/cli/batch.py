"""burrcast batch: a whole folder or list, on all cores, resumable."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyzer.cli.options import LEVELS, Asked, asked_options, choice
from analyzer.cli.run import put
from analyzer.errors import InputError
from analyzer.report.escape import shown

if TYPE_CHECKING:
    from analyzer.batch.overview import Overview
    from analyzer.batch.row import Row
    from analyzer.batch.run import Batch, Plan, Progress


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
@click.option(
    "--scheduler", metavar="ADDRESS", help="Let the workers of a Dask cluster do the work, such as"
    " tcp://host:8786; needs the extra cluster."
)  # fmt: skip
@click.option(
    "--drawings", type=choice(("sent", "shared")), help="How workers get the drawings: sent"
    " to them (default), or read from storage they share under the same path."
)  # fmt: skip
@click.option(
    "--watch", "watched", is_flag=True, help="Go on with new and changed drawings of FOLDER as they"
    " appear, until Ctrl-C; needs the extra watch."
)  # fmt: skip
@click.option(
    "--settle", "settle_s", type=click.FloatRange(0.05), metavar="SECONDS", help="With --watch: a"
    " drawing is whole when it has not changed for so long; 2 where not given."
)  # fmt: skip
@asked_options
def command(
    source: Path, pattern: str, jobs: int | None, time_limit_s: float, scheduler: str | None,
    drawings: str | None, watched: bool, settle_s: float | None, asked: Asked,
) -> int:  # fmt: skip
    """A whole folder, in parallel, resumable.

    Looks at every drawing of a FOLDER with all below it, or of a LIST: a CSV with the columns
    drawing and, where told, material, thickness_mm, plate, next and quantity; or a text file
    with one drawing a line. With --out DIR answers are kept there as they are found: run the
    same command again and only what is missing or changed is done.
    """
    from analyzer.batch.cluster import SENT, Cluster
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
    _check_ways(scheduler, drawings, jobs, watched, settle_s, asked.out, source)
    if asked.out is not None:
        check_folder(asked.out, force=asked.force)
    pages = Pages(tuple(dict.fromkeys(asked.formats)) if asked.out else (), asked.manner)
    cluster = Cluster(scheduler, drawings or SENT) if scheduler else None
    plan = Plan(pages, jobs or os.cpu_count() or 1, time_limit_s, asked.out, asked.force, cluster)
    if watched:
        return _watch(source, pattern, settle_s, plan, asked)
    found = list(tasks_of(source, asked.request(), pattern=pattern, leave_out=asked.out))
    if not found:
        raise InputError(
            "no drawing found", where=str(source), hint=f"names must match {pattern}; see --pattern"
        )
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
    return _end(batch, view, asked, quiet=quiet)


def _check_ways(
    scheduler: str | None, drawings: str | None, jobs: int | None, watched: bool,
    settle_s: float | None, out: Path | None, source: Path,
) -> None:  # fmt: skip
    """Refuse options that do not go together, rather than ignore one."""
    if drawings and not scheduler:
        raise InputError("--drawings is about a cluster", hint="add --scheduler ADDRESS")
    if jobs and scheduler:
        raise InputError(
            "--jobs is about this machine", hint="the workers of a cluster say how many they do"
        )
    if settle_s is not None and not watched:
        raise InputError("--settle is about a watched folder", hint="add --watch")
    if watched and out is None:
        raise InputError("a watched folder needs one for results", hint="add --out DIR")
    if watched and not source.is_dir():
        raise InputError("only a folder can be watched", where=str(source), hint="give a FOLDER")


def _watch(source: Path, pattern: str, settle_s: float | None, plan: Plan, asked: Asked) -> int:
    """Watch until Ctrl-C or a polite kill, which is how a watch ends."""
    import signal

    from analyzer.batch.overview import overview_of
    from analyzer.batch.store import Store
    from analyzer.batch.watch import SETTLE_S, Watched, watch

    assert plan.out is not None
    with suppress(ValueError):  # not the main thread: whoever runs us stops us
        signal.signal(signal.SIGTERM, signal.default_int_handler)
    watched = Watched(
        source, asked.request(), pattern, SETTLE_S if settle_s is None else settle_s, asked.manner
    )
    print(f"burrcast: watching {shown(str(source))}, Ctrl-C ends it", file=sys.stderr, flush=True)
    store = Store(plan.out)
    try:
        batch = watch(watched, plan, store, _teller(quiet=False, live=False))
    finally:
        store.close()
    return _end(batch, overview_of(batch.rows), asked, quiet=False)


def _end(batch: Batch, view: Overview, asked: Asked, *, quiet: bool) -> int:
    _print(batch, view, quiet=quiet)
    if view.refused or view.failed:
        return 3
    return int(_fails(batch.rows, asked.fail_on))


def _teller(*, quiet: bool, live: bool = True) -> Callable[[Row, Progress], None]:
    """Return what hears of every drawing: a line to stdout, how far we are to stderr."""
    from time import monotonic

    from analyzer.batch.tell import line_of

    begin = monotonic()
    live = live and sys.stderr.isatty()

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
