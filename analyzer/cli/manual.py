"""docs/commands.md, written from the help of the commands: `python -m analyzer.cli.manual`."""

from __future__ import annotations

import click

from analyzer.cli.group import COMMANDS, burrcast

HEAD = """# Commands

Written by `python -m analyzer.cli.manual > docs/commands.md` from the help of the commands; a
test holds it to that.

stdout is the result, stderr says what went wrong or was written. Exit codes: 0 done; 1 a finding
at `--fail-on`; 2 cannot go on (wrong option, unreadable drawing, over a limit, cannot write);
3 several drawings, some refused; 130 interrupted; 70 our own fault (please report it).
"""


def manual() -> str:
    """Return the whole of docs/commands.md."""
    context = click.Context(
        burrcast, info_name="burrcast", max_content_width=96, terminal_width=96,
        help_option_names=["-h", "--help"],
    )  # fmt: skip
    blocks = [HEAD, _block(burrcast, context)]
    for name in COMMANDS:
        command = burrcast.get_command(context, name)
        assert command is not None
        inside = _inside(command, context, name)
        blocks.append(_block(command, inside))
        if isinstance(command, click.Group):
            blocks += [_block(sub, _inside(sub, inside, n)) for n, sub in command.commands.items()]
    return "\n".join(blocks)


def _inside(command: click.Command, context: click.Context, name: str) -> click.Context:
    return click.Context(
        command, parent=context, info_name=name, max_content_width=96, terminal_width=96
    )


def _block(command: click.Command, context: click.Context) -> str:
    return f"## {context.command_path}\n\n```text\n{command.get_help(context)}\n```\n"


if __name__ == "__main__":
    click.echo(manual(), nl=False)
