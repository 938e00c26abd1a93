"""burrcast explain: why, limits per gas, source."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("explain")
@click.argument("words", nargs=-1, metavar="[RULE | NUMBER]")
@click.option(
    "--shop", type=click.Path(path_type=Path, dir_okay=False),
    help="Shop file whose limits are shown; otherwise burrcast.toml here or above.",
)  # fmt: skip
def command(words: tuple[str, ...], shop: Path | None) -> int:
    """Why a rule exists, its limits per gas and their source; how a number is made.

    Without a name: all rules and numbers.
    """
    from analyzer.cli.run import put
    from analyzer.report.explain import explain_page, list_page
    from analyzer.rules.limits import load_limits
    from analyzer.shop import load_shop

    if not words:
        put(list_page())
        return 0
    put(explain_page(" ".join(words), load_limits(load_shop(shop, Path.cwd()).limits)))
    return 0
