"""burrcast tables: the process tables in force."""

from __future__ import annotations

from pathlib import Path

import click

from analyzer.cli.options import LENGTH, POWER


@click.group("tables")
def command() -> None:
    """The process tables in force: speeds and settings, with their sources."""


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
@click.option("--format", "form", type=click.Choice(("text", "json")), default="text")
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
        power, materials=names, own_rows=known.own_rows,
        thicknesses=() if thickness_mm is None else (thickness_mm,),
    )  # fmt: skip
    if form == "json":
        put(dumps(tables_object(rows)))
    elif thickness_mm is None:
        put(tables_page(rows, known.own_rows))
    else:
        put(settings_page(rows))
    return 0
