"""burrcast sheet: from a part list or a drawn sheet to minutes, gas and money per sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyzer.cli.options import LENGTH, Asked, asked_options, choice
from analyzer.cli.run import any_at, check_stdout, put, say
from analyzer.errors import BurrcastError, InputError

if TYPE_CHECKING:
    from analyzer.packing.stock import Stock
    from analyzer.report.manner import Manner
    from analyzer.sheet_order import SheetOptions
    from analyzer.sheeting import Sheeting

LONGEST_EFFORT = 3600.0  # [s]
TURN_WORDS = ("0", "90", "180", "free")
TOGETHER = frozenset({"text", "json"})  # formats in which several lists can be one


class _Size(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """A sheet: 3000x1500, or 3000x1500:4 where there are four."""

    name = "SIZE"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> Stock:
        from analyzer.packing.stock import Stock
        from analyzer.packing.stock_section import parse_size

        if isinstance(value, Stock):
            return value
        try:
            return parse_size(str(value))
        except InputError as error:
            self.fail(str(error), param, ctx)


_SHEET = (
    click.option("--sheet", "stock", type=_Size(), multiple=True, metavar="SIZE",
                 help="Sheet to lay on: 3000x1500, 3000x1500:4 where there are four;"
                 " repeatable."),
    click.option("--gap", "gap_mm", type=LENGTH, help="Between parts; by gas and thickness where"
                 " not given."),
    click.option("--margin", "margin_mm", type=LENGTH, help="To the edge of the sheet."),
    click.option("--turns", type=choice(TURN_WORDS), help="How parts may be turned where the"
                 " list does not say: as drawn, by quarters (default), by halves, free."),
    click.option("--effort", "effort_s", type=click.FloatRange(0.0, LONGEST_EFFORT),
                 metavar="SECONDS", help="Search this long for a better layout of each job."),
    click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=0, help="Of that search; the"
                 " same seed gives the same layout."),
    click.option("--no-what-if", is_flag=True, help="Leave out other sheets and common lines:"
                 " faster."),
)  # fmt: skip


def _sheet_options(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(_SHEET):
        function = option(function)
    return function


@click.command("sheet")
@click.argument("files", nargs=-1, required=True, metavar="LIST|DRAWING...", type=click.Path())
@_sheet_options
@asked_options
def command(
    files: tuple[str, ...], asked: Asked, stock: tuple[Stock, ...], gap_mm: float | None,
    margin_mm: float | None, turns: str | None, effort_s: float | None, seed: int,
    no_what_if: bool,
) -> int:  # fmt: skip
    """Parts on sheets: how many sheets, how many minutes each, which gas.

    LIST (.csv or .toml) has the columns drawing and quantity, and where they differ from row to
    row material, thickness, plate, next, turns (0, 90, 180, free), mirror (yes, no) and priority;
    "plate.dxf#2" asks for the second part of a drawing. A DRAWING (DXF) is read as a sheet that is
    laid out already.
    """
    from analyzer.sheet_order import SheetOptions

    options = SheetOptions(stock, gap_mm, margin_mm, turns, effort_s, seed, what_if=not no_what_if)
    return run([Path(file) for file in files], asked, options)


def run(paths: Sequence[Path], asked: Asked, options: SheetOptions) -> int:
    """Answer for every list or drawing, print or write, and return the exit code."""
    formats = tuple(dict.fromkeys(asked.formats or ("text",)))
    _check_formats(paths, formats, asked)
    found, refused = _planned(paths, asked, options)
    if asked.out is None:
        _print(found, refused, formats[0], asked.manner, several=len(paths) > 1)
    else:
        _write(found, formats, asked)
    short = any(job.unplaced for sheeting in found for job in sheeting.jobs)
    if refused or short or any(sheeting.refused for sheeting in found):
        return 3
    return int(any(_fails(sheeting, asked.fail_on) for sheeting in found))


def _planned(
    paths: Sequence[Path], asked: Asked, options: SheetOptions
) -> tuple[list[Sheeting], list[tuple[str, str]]]:
    """Plan every list or drawing; a refused one stops only itself when there are several."""
    found: list[Sheeting] = []
    refused: list[tuple[str, str]] = []
    for path in paths:
        try:
            found.append(sheeting_for(path, asked, options))
        except BurrcastError as error:
            if len(paths) == 1 or error.exit_code != 2:
                raise
            refused.append((path.name, str(error)))
            say(str(error))
    for sheeting in found:
        for row in sheeting.refused:
            say(f"{sheeting.path.name}, line {row.line}: left out: {row.reason}")
        for job in sheeting.jobs:
            for left in job.unplaced:
                say(f"{left.count} x {left.name} on no sheet: {left.reason}")
    return found, refused


def _check_formats(paths: Sequence[Path], formats: Sequence[str], asked: Asked) -> None:
    """Refuse before any work what could not be written."""
    from analyzer.report.files import check_targets
    from analyzer.report.formats import for_sheets

    if asked.brief or asked.table:
        name = "brief" if asked.brief else "table"
        raise InputError(f"--{name} is for drawings, not for sheets", hint="leave it out")
    asked.check_manner()
    if asked.out is None:
        check_stdout(formats, several=len(paths) > 1, what="lists", together=TOGETHER)
    unknown = [form for form in formats if form not in for_sheets()]
    if unknown:
        raise InputError(
            f"sheets cannot be written as {unknown[0]}",
            hint="use one of " + ", ".join(for_sheets()),
        )
    if asked.out is not None:
        check_targets(asked.out, paths, formats, force=asked.force)
        if "dxf" in formats and not asked.force:
            _check_earlier_sheets(asked.out, paths)


def _check_earlier_sheets(folder: Path, paths: Sequence[Path]) -> None:
    """Refuse a folder that holds sheets of the same list: old and new must not mix."""
    from analyzer.report.to_dxf_sheet import is_sheet_of

    there = sorted(folder.glob("*.dxf"))
    for path in paths:
        for file in there:
            if is_sheet_of(path.stem, file.stem):
                raise InputError(
                    f"{file} is there already, a sheet of an earlier {path.name}",
                    hint="give another folder, or add --force to replace those of the same name",
                )


def sheeting_for(path: Path, asked: Asked, options: SheetOptions) -> Sheeting:
    """Plan the sheets of one list or drawing, with the shop file that is in force for it."""
    from analyzer.budgets import DEFAULT as BUDGETS
    from analyzer.drawing.reading import ReadOptions
    from analyzer.orders import Given
    from analyzer.process.gas import gas_named
    from analyzer.process.recipe import asked_share
    from analyzer.sheet_planning import plan_sheets
    from analyzer.shop import load_shop

    gases = tuple(gas_named(gas) for gas in asked.gases)
    if asked.share_percent is not None:
        asked_share(asked.share_percent, gases)
    shop = load_shop(asked.shop, path.parent)
    given = Given(
        asked.material, asked.thickness_mm, asked.power_kw, asked.share_percent, asked.plate,
        asked.next_step, gases, asked.tolerance,
    )  # fmt: skip
    reading = ReadOptions(
        units=asked.units, layer_roles=(*asked.layer_roles, *shop.layer_roles),
        asked_roles=asked.layer_roles,
        tolerances=asked.request().tolerances(), budgets=BUDGETS.changed(asked.limits),
    )  # fmt: skip
    return plan_sheets(path, given, shop, options, reading)


# --- output ------------------------------------------------------------------------------


def _print(
    found: Sequence[Sheeting], refused: Sequence[tuple[str, str]], form: str, manner: Manner, *,
    several: bool,
) -> None:  # fmt: skip
    if several and form == "json":
        from analyzer.report.strict import dumps
        from analyzer.report.to_sheet_json import sheetings_object

        put(dumps(sheetings_object(found, refused, why=manner.why)))
        return
    from analyzer.report.formats import sheeting_written

    rule = ("\n" + "=" * 80 + "\n\n").encode()
    put(rule.join(sheeting_written(sheeting, form, manner) for sheeting in found))


def _write(found: Sequence[Sheeting], formats: Sequence[str], asked: Asked) -> None:
    """Write every file, or none where one is in the way: all are made before the first."""
    from analyzer.report.files import check_new, write_whole
    from analyzer.report.formats import sheeting_files
    from analyzer.report.temporary import clear_leftovers

    assert asked.out is not None
    made = [
        (asked.out / f"{name}.{form}", content)
        for sheeting in found
        for form in formats
        for name, content in sheeting_files(sheeting, form, asked.manner)
    ]
    read = (path for sheeting in found for path in (sheeting.path, *_drawings_of(sheeting)))
    check_new([target for target, _ in made], read, force=asked.force)
    clear_leftovers([asked.out])
    for target, content in made:
        write_whole(target, content, force=asked.force)
        say(f"wrote {target}")


def _drawings_of(sheeting: Sheeting) -> set[Path]:
    """Return the drawings a list names, "#2" for a second part taken off."""
    names = {one.name for job in sheeting.jobs for one in job.drawings}
    return {
        sheeting.path.parent / name for told in names for name in (told, told.rpartition("#")[0])
    }


def _fails(sheeting: Sheeting, level: str | None) -> bool:
    """Whether a finding of `level` or worse stands in the gas advised for a job."""
    if level is None:
        return False
    return any_at(
        level,
        (
            finding
            for job in sheeting.jobs
            for result in job.answer.analysis.gases
            if job.answer.advice.gas in (None, result.gas)
            for finding in result.findings
        ),
    )
