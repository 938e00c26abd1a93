"""The command `burrcast`: one short file per command, no computation."""

from analyzer.cli.group import burrcast


def main() -> None:
    """Run the command; the entry point."""
    burrcast.main()


__all__ = ["burrcast", "main"]
