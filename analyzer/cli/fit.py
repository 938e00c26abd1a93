"""burrcast fit: calibrate on your own times."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyzer.cli.options import LENGTH, POWER, choice
from analyzer.errors import BurrcastError, InputError

if TYPE_CHECKING:
    from analyzer.analysis import Analysis
    from analyzer.calibration import Calibrated, Timed
    from analyzer.job import Job
    from analyzer.orders import BadLine, Given, Line
    from analyzer.shop import Shop

MOST_MINUTES = 100_000.0


@click.command("fit")
@click.argument("times", metavar="TIMES.csv", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--material", metavar="NAME", help="Where a row of the list does not say.")
@click.option("--thickness", "thickness_mm", type=LENGTH, help="Where a row does not say.")
@click.option("--power", "power_kw", type=POWER, help="Laser: 10, 10kW or 6000W.")
@click.option("--shop", "shop_file", type=click.Path(path_type=Path, dir_okay=False),
              help="Shop file; otherwise burrcast.toml beside the list or above it.")  # fmt: skip
@click.option("--write", is_flag=True, help="Put what was found into the shop file as"
              " [calibration]; the rest stays as it is.")  # fmt: skip
@click.option("--format", "form", type=choice(("text", "json")), default="text")
def command(
    times: Path, material: str | None, thickness_mm: float | None, power_kw: float | None,
    shop_file: Path | None, write: bool, form: str,
) -> int:  # fmt: skip
    """Calibrate on your own stop-watch times.

    TIMES.csv has the columns drawing, gas and minutes (at the machine, all copies), and where told
    count (copies of the drawing; 1), deburr_minutes, material, thickness_mm (or thickness_in),
    plate and next. At least three times: one with long contours, one with many holes, one mixed.
    """
    from analyzer.calibration import fit, undone
    from analyzer.cli.run import put
    from analyzer.orders import JOB_COLUMNS, BadLine, Given, read_lines
    from analyzer.report.strict import dumps
    from analyzer.report.to_fit import fit_object, fit_page
    from analyzer.shop import load_shop

    shop = load_shop(shop_file, times.parent)
    if write and shop.path is None:
        raise InputError(
            "there is no shop file to write to", where="--write",
            hint="make one first: burrcast tables export, or an empty burrcast.toml",
        )  # fmt: skip
    plain = undone(shop)
    given = Given(material, thickness_mm, power_kw).over(shop)
    rows: list[Timed] = []
    known: dict[tuple[Path, Job], Analysis] = {}
    bad: list[BadLine] = []
    others = (*JOB_COLUMNS, "count", "deburr_minutes")
    for line in read_lines(times, ("drawing", "gas", "minutes"), others):
        if isinstance(line, BadLine):
            bad.append(line)
            continue
        try:
            rows.append(_timed(line, given, plain, known))
        except BurrcastError as error:
            if error.exit_code != 2:
                raise
            bad.append(BadLine(line.number, line.reason(error)))
    if bad and len(rows) < 3:
        raise InputError(
            f"only {len(rows)} usable times; line {bad[0].line}: {bad[0].reason}", where=str(times)
        )
    found = fit(rows, plain)
    written = _write(shop, found) if write else None
    put(
        dumps(fit_object(found, bad, written)) if form == "json"
        else fit_page(found, bad, written)
    )  # fmt: skip
    return 3 if bad else 0


def _timed(line: Line, given: Given, shop: Shop, known: dict[tuple[Path, Job], Analysis]) -> Timed:
    """Read and look at the drawing of one row under its gas; one timed twice is read once."""
    from analyzer.analysis import analyse
    from analyzer.calibration import Timed
    from analyzer.drawing.reading import ReadOptions, read_drawing
    from analyzer.orders import job_of_line

    minutes = line.number_at("minutes", 0.001, MOST_MINUTES)
    count = line.whole_at("count", 1, 1_000_000) if "count" in line.cells else 1
    deburr = None
    if "deburr_minutes" in line.cells:
        deburr = line.number_at("deburr_minutes", 0.001, MOST_MINUTES)
    key = line.drawing(), job_of_line(line, given, shop)
    if key not in known:
        path, job = key
        options = ReadOptions(layer_roles=shop.layer_roles)
        drawing = read_drawing(path, options)
        known[key] = line.placed("gas", lambda: analyse(drawing, job, shop, options.tolerances))
    analysis = known[key]
    if not analysis.totals.contours:
        raise line.wrong("the drawing has nothing to cut", "check the drawing alone")
    return Timed(line.number, analysis, minutes, count, deburr)


def _write(shop: Shop, found: Calibrated) -> Path:
    """Put the section into the shop file, whole or not at all."""
    from analyzer.report.files import write_whole
    from analyzer.report.temporary import clear_leftovers
    from analyzer.report.to_fit import put_section, section_of
    from analyzer.shop import parse_shop

    if shop.path is None:
        raise InputError("there is no shop file to write to")
    path = shop.path.resolve()  # a link stays a link
    text = path.read_bytes().decode("utf-8")  # line ends as they are
    made = put_section(text, section_of(found), str(path))
    parse_shop(made.removeprefix("\ufeff"), path)  # never a file that no later command can read
    clear_leftovers([path.parent])
    write_whole(path, made, force=True)
    return path
