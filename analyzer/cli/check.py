"""burrcast check: what goes wrong where, per gas."""

from __future__ import annotations

import click

from analyzer.cli.options import Asked, asked_options
from analyzer.cli.run import drawings_argument, run


@click.command("check")
@drawings_argument
@asked_options
def command(drawings: tuple[str, ...], asked: Asked) -> int:
    """What goes wrong where, per gas, and how many minutes.

    Reads every DRAWING (a DXF file) and answers: which gas, how long, what to change before
    cutting, the gases side by side, and what the drawing itself has wrong. Material, thickness and
    power come from the options or the shop file.
    """
    return run("check", drawings, asked)
