"""burrcast limits: what is accepted of one drawing."""

from __future__ import annotations

from dataclasses import fields

import click

from analyzer.cli.options import choice


@click.command("limits")
@click.option("--format", "form", type=choice(("text", "json")), default="text")
def command(form: str) -> int:
    """Limits on input: what is accepted of one drawing.

    Time and memory stay bounded whatever a file holds; what breaks a limit is refused by name.
    """
    from analyzer.budgets import DEFAULT

    rows = [(f.name, getattr(DEFAULT, f.name), f.metadata["what"]) for f in fields(DEFAULT)]
    if form == "json":
        from analyzer.report.strict import dumps

        limits = [{"name": name, "limit": limit, "what": what} for name, limit, what in rows]
        click.echo(dumps({"schema": "burrcast.limits/1", "limits": limits}), nl=False)
        return 0
    click.echo("Limits on one drawing; lower or raise one with --limit NAME=VALUE")
    for name, limit, what in rows:
        click.echo(click.wrap_text(what, 80, f"  {name:<16}{limit:>14,.0f}  ", " " * 34))
    return 0
