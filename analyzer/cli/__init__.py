"""The command `burrcast`: one short file per command, no computation."""

from analyzer.cli.group import burrcast
from analyzer.garbage import leave_it


def main() -> None:
    """Run the command; the entry point."""
    try:
        burrcast.main()
    finally:
        leave_it()


__all__ = ["burrcast", "main"]
