"""burrcast payback: is a mixer or a compressor worth buying?"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyzer.cli.options import LENGTH, POWER, choice
from analyzer.errors import BurrcastError, InputError

if TYPE_CHECKING:
    from analyzer.orders import BadLine, Given, Line
    from analyzer.payback import MonthlyPart
    from analyzer.shop import Shop

MOST_PRICE = 1e9
_THOUSANDS = re.compile(r"\d{1,3}([.,' ]\d{3})+")


class _Price(click.ParamType):  # type: ignore[type-arg,unused-ignore]
    """What is to be paid: a plain number, so that 20.000 is not taken for twenty."""

    name = "MONEY"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        text = str(value).strip()
        if _THOUSANDS.fullmatch(text):
            plain = re.sub(r"\D", "", text)
            self.fail(f"{text!r} may be thousands or not; write {plain}", param, ctx)
        try:
            price = float(text)
        except ValueError:
            self.fail(f"{text!r} is not a price; write a plain number, such as 20000", param, ctx)
        if not 0.0 <= price <= MOST_PRICE:  # refuses nan too
            self.fail(f"{text} cannot be meant; write 0 to {MOST_PRICE:.0f}", param, ctx)
        return price


PRICE = _Price()


@click.command("payback")
@click.argument("listed", metavar="LIST.csv", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--mixer-price", type=PRICE, help="Mixer and third gas line, bought and installed;"
              " in the money of [rates].")  # fmt: skip
@click.option("--compressor-price", type=PRICE, help="High-pressure compressor with dryer and"
              " filters, bought and installed.")  # fmt: skip
@click.option("--material", metavar="NAME", help="Where a row of the list does not say.")
@click.option("--thickness", "thickness_mm", type=LENGTH, help="Where a row does not say.")
@click.option("--power", "power_kw", type=POWER, help="Laser: 10, 10kW or 6000W.")
@click.option("--shop", "shop_file", type=click.Path(path_type=Path, dir_okay=False),
              help="Shop file with [rates] and [gases]; otherwise burrcast.toml beside the list"
              " or above it.")  # fmt: skip
@click.option("--format", "form", type=choice(("text", "json")), default="text")
def command(
    listed: Path, mixer_price: float | None, compressor_price: float | None,
    material: str | None, thickness_mm: float | None, power_kw: float | None,
    shop_file: Path | None, form: str,
) -> int:  # fmt: skip
    """Is a mixer or a compressor worth buying, for a month's parts?

    LIST.csv has the columns drawing and quantity (a month), and where they differ from row to row
    material, thickness_mm (or thickness_in), plate and next; a list for sheets will do. Every
    drawing is cut in the gas advised among those the shop has today, and again with what could be
    bought.
    """
    from analyzer.cli.run import put
    from analyzer.orders import JOB_COLUMNS, SHEET_COLUMNS, BadLine, Given, read_lines
    from analyzer.payback import gases_of, payback
    from analyzer.report.strict import dumps
    from analyzer.report.to_payback import payback_object, payback_page
    from analyzer.shop import load_shop

    shop = load_shop(shop_file, listed.parent)
    has = gases_of(shop)
    for price, what, gas in (
        (mixer_price, "mixer", "mixed"),
        (compressor_price, "compressor", "air"),
    ):
        if price is not None and gas in has:
            raise InputError(
                f"a price for a {what}, but the shop file lists {gas} among its gases",
                where=f"--{what}-price",
                hint=f"take {gas} out of [gases] available, or the option",
            )
    given = Given(material, thickness_mm, power_kw).over(shop)
    parts: list[MonthlyPart] = []
    bad: list[BadLine] = []
    for line in read_lines(listed, ("drawing", "quantity"), (*JOB_COLUMNS, *SHEET_COLUMNS)):
        if isinstance(line, BadLine):
            bad.append(line)
            continue
        try:
            parts.append(_part(line, given, shop))
        except BurrcastError as error:
            if error.exit_code != 2:
                raise
            bad.append(BadLine(line.number, line.reason(error)))
    if not parts and bad:
        raise InputError(
            f"no row can be used; line {bad[0].line}: {bad[0].reason}", where=str(listed)
        )
    invest = replace(
        shop.invest,
        mixer_price=shop.invest.mixer_price if mixer_price is None else mixer_price,
        compressor_price=(
            shop.invest.compressor_price if compressor_price is None else compressor_price
        ),
    )
    answer = payback(parts, shop, invest)
    put(dumps(payback_object(answer, bad)) if form == "json" else payback_page(answer, bad))
    return 3 if bad else 0


def _part(line: Line, given: Given, shop: Shop) -> MonthlyPart:
    """Read and look at the drawing of one row."""
    from analyzer.analysis import analyse
    from analyzer.drawing.reading import ReadOptions, read_drawing
    from analyzer.orders import job_of_line
    from analyzer.payback import MonthlyPart, gases_of, reason_unusable

    quantity = line.whole_at("quantity", 1, 10_000_000)
    job = job_of_line(line, given, shop)
    options = ReadOptions(layer_roles=shop.layer_roles)
    drawing = read_drawing(line.drawing(), options)
    analysis = analyse(drawing, job, shop, options.tolerances)
    reason = reason_unusable(analysis, gases_of(shop))
    if reason:
        raise line.wrong(reason, "check the drawing alone")
    return MonthlyPart(line.number, quantity, analysis)
