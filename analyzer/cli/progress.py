"""How far several drawings are, on stderr, where that is a terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from typing import TypeVar

_T = TypeVar("_T")
_FEWEST = 4
"""Fewer are done before anyone looks."""


def told(items: Sequence[_T], what: str) -> Iterator[_T]:
    """Yield the items; say how many are done where somebody watches."""
    live = len(items) >= _FEWEST and sys.stderr.isatty()
    for number, item in enumerate(items):
        if live:
            print(f"\r{number:,} of {len(items):,} {what}", end="", file=sys.stderr, flush=True)
        yield item
    if live:
        print(f"\r{len(items):,} of {len(items):,} {what}", file=sys.stderr, flush=True)
