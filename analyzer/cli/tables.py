"""burrcast tables: the process tables in force."""

from __future__ import annotations

from pathlib import Path

import click

from analyzer.cli.options import LENGTH, LEVELS, POWER, choice


@click.group("tables", invoke_without_command=True)
@click.pass_context
def command(context: click.Context) -> None:
    """The process tables in force: speeds and settings, with their sources."""
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


@command.command("show")
@click.option(
    "--material", "materials", multiple=True, metavar="NAME", help="Only this one; repeatable."
)
@click.option("--thickness", "thickness_mm", type=LENGTH, help="All values at this thickness.")
@click.option("--power", "power_kw", type=POWER, help="Laser: 10, 10kW or 6000W.")
@click.option(
    "--shop",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Shop file; otherwise burrcast.toml here or above.",
)
@click.option("--format", "form", type=choice(("text", "json")), default="text")
def show(
    materials: tuple[str, ...], thickness_mm: float | None, power_kw: float | None,
    shop: Path | None, form: str,
) -> int:  # fmt: skip
    """Speeds by material, thickness and gas; all values and sources with --thickness."""
    from analyzer.cli.run import put
    from analyzer.errors import InputError
    from analyzer.process.listing import process_table
    from analyzer.process.material import CUTTABLE, material_named
    from analyzer.report.strict import dumps
    from analyzer.report.tables import settings_page, tables_object, tables_page
    from analyzer.shop import load_shop

    known = load_shop(shop, Path.cwd())
    power = power_kw if power_kw is not None else known.power_kw
    if power is None:
        raise InputError(
            "missing --power", hint="for example --power 10kW, or set it in the shop file"
        )
    own = {row.material for row in known.own_rows}
    names = [material_named(name, own).name for name in materials] or [
        *CUTTABLE, *sorted(own - set(CUTTABLE)),
    ]  # fmt: skip
    rows = process_table(
        power, materials=names, own_rows=known.own_rows, supplies=known.supplies,
        machine=known.machine,
        thicknesses=() if thickness_mm is None else (thickness_mm,),
    )  # fmt: skip
    if form == "json":
        put(dumps(tables_object(rows)))
    elif thickness_mm is None:
        put(tables_page(rows, known.own_rows))
    else:
        put(settings_page(rows))
    return 0


@command.command("check")
@click.option(
    "--shop",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Shop file; otherwise burrcast.toml here or above.",
)
@click.option("--format", "form", type=choice(("text", "json")), default="text")
@click.option(
    "--fail-on", type=choice(LEVELS), help="Exit 1 on a row to look at (note), a refused one"
    " (rework) or one that cannot be read (loss), or worse.",
)  # fmt: skip
def check(shop: Path | None, form: str, fail_on: str | None) -> int:
    """Your own rows: typing errors, rows that do not fit, gases without rows.

    A row that is refused is not used until you mend it or write confirmed = true; one that cannot
    be read stops every other command.
    """
    from analyzer.cli.run import put
    from analyzer.process.checked import check_tables
    from analyzer.process.own_rows import BadRow
    from analyzer.report.strict import dumps
    from analyzer.report.table_check import check_object, check_page
    from analyzer.shop import FILE_NAME, load_shop

    bad: list[BadRow] = []
    known = load_shop(shop, Path.cwd(), bad)
    found = check_tables(known.own_rows, bad, known.gases, known.power_kw)
    file = known.path.name if known.path else f"no {FILE_NAME}"
    put(dumps(check_object(found, file)) if form == "json" else check_page(found, file))
    there = {
        "note": (*found.doubted, *found.elsewhere),
        "rework": found.refused,
        "loss": found.unreadable,
    }
    return int(fail_on is not None and any(there[at] for at in LEVELS[LEVELS.index(fail_on) :]))


@command.command("export")
@click.option("--power", "power_kw", type=POWER, help="Laser: cutting rows of every sheet for it;"
              " otherwise an example of 10 mm on 10 kW.")  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, file_okay=False), metavar="DIR",
              help="Write burrcast.toml into DIR, whole or not at all.")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace a burrcast.toml that exists.")
def export(power_kw: float | None, out: Path | None, force: bool) -> int:
    """A whole shop file to start from: every value with its unit and source.

    Read back as it is, it changes nothing.
    """
    from analyzer.cli.run import put
    from analyzer.process.choose import check_range
    from analyzer.report.files import write_whole
    from analyzer.report.shop_file import shop_file
    from analyzer.report.temporary import clear_leftovers
    from analyzer.shop import FILE_NAME

    if power_kw is not None:
        check_range(1.0, power_kw)
    text = shop_file(power_kw)
    if out is None:
        put(text)
        return 0
    clear_leftovers([out])
    write_whole(out / FILE_NAME, text, force=force)
    click.echo(f"burrcast: wrote {out / FILE_NAME}", err=True)
    return 0
