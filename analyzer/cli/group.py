"""The group of commands, and the edge where every error becomes one plain line."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Sequence
from difflib import get_close_matches
from importlib import import_module
from typing import Any, NoReturn

# One thread for the linear algebra we hardly use: saves 10-55 ms of every start.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import click

from analyzer._version import __version__
from analyzer.errors import BurrcastError
from analyzer.garbage import look_seldom
from analyzer.report.escape import shown

COMMANDS = (
    "check", "compare", "sheet", "batch", "payback", "fit", "explain", "tables", "limits",
)  # fmt: skip
REPORT = "this is our own fault; please report it with the drawing and the command"
LONGEST = 1000  # characters of an error that are shown


class LazyGroup(click.Group):
    """Commands are imported when they are asked for; errors end in one line on stderr."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of the day's work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"analyzer.cli.{cmd_name}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that is asked for; say what a word may have meant that is none."""
        name = args[0] if args else ""
        if name and name not in COMMANDS and not name.startswith("-"):
            near = get_close_matches(name, COMMANDS, n=1)
            meant = near[0] if near else ""
            if name.lower().endswith(".dxf"):
                meant = f"check {name}"
            hint = f" Did you mean burrcast {meant}?" if meant else ""
            ctx.fail(f"No such command {name!r}.{hint}")
        return super().resolve_command(ctx, args)

    def main(self, args: Sequence[str] | None = None, **extra: Any) -> NoReturn:  # type: ignore[override]
        """Run, and leave with the exit code of the result or the error."""
        extra["standalone_mode"] = False
        extra["prog_name"] = "burrcast"  # also as `python -m analyzer`: one name in every message
        look_seldom()
        if threading.current_thread() is threading.main_thread():
            signal.signal(signal.SIGTERM, _ended)
        try:
            code = super().main(args=args, **extra)
            sys.stdout.flush()
        except (BrokenPipeError, _NobodyReadsError):
            code = _unread()
        except Exception as error:  # the net at the edge
            code = _say(error)
        sys.exit(code if isinstance(code, int) else 0)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; click would leave with 1, which means a finding, where a pipe ends."""
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            raise _NobodyReadsError from None


class _NobodyReadsError(Exception):
    """The other end of the pipe is closed."""


def _unread() -> int:
    """Say nothing more, not even at exit: nobody reads on."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return 2


def _ended(number: int, frame: object) -> NoReturn:
    """Leave as if interrupted: half-written files are taken away on the way out."""
    raise SystemExit(128 + number)


def _say(error: Exception) -> int:
    """Print one plain line for `error` and return the exit code."""
    if isinstance(error, click.exceptions.Abort):
        print("burrcast: interrupted", file=sys.stderr)
        return 130
    if isinstance(error, click.ClickException):
        words = " ".join(error.format_message().split())
        if isinstance(error, click.NoSuchOption) and not _asked_for(error):
            words += " Options stand behind the command."
        line, code = f"{words} (see burrcast {_asked_for(error)}--help)", 2
    elif isinstance(error, BurrcastError):
        line, code = str(error), error.exit_code
    elif isinstance(error, OSError):
        line, code = f"cannot write: {error.strerror or error}", 2
    else:
        line, code = f"{type(error).__name__}: {error} ({REPORT})", 70
    print(f"burrcast: {shown(line, LONGEST)}", file=sys.stderr)
    return code


def _asked_for(error: click.ClickException) -> str:
    """Name the command a usage error belongs to, with a blank behind it."""
    context = getattr(error, "ctx", None)
    path = context.command_path.split()[1:] if context else []
    return "".join(f"{word} " for word in path)


@click.group(cls=LazyGroup, invoke_without_command=True, context_settings={
    "help_option_names": ["-h", "--help"], "max_content_width": 100,
})  # fmt: skip
@click.version_option(__version__, prog_name="burrcast", message="%(prog)s %(version)s")
@click.pass_context
def burrcast(ctx: click.Context) -> None:
    """Which gas, what goes wrong where, and how many minutes, before packing.

    Give a drawing (DXF), a material, a thickness and a laser power:

        burrcast check gusset.dxf --material mild-steel --thickness 10mm --power 10kW

    Exit codes: 0 done; 1 a finding at --fail-on; 2 cannot go on; 3 several drawings, some refused;
    130 interrupted; 70 our own fault.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())
