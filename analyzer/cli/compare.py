"""burrcast compare: the gases side by side, and the advice."""

from __future__ import annotations

import click

from analyzer.cli.options import Asked, asked_options
from analyzer.cli.run import drawings_argument, run


@click.command("compare")
@drawings_argument
@asked_options
def command(drawings: tuple[str, ...], asked: Asked) -> int:
    """The gases side by side, and the advice.

    The same question as check, shorter: speed, time, burr and hand work of every gas, which to
    take, and why.
    """
    return run("compare", drawings, asked)
