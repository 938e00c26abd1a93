"""How often Python looks for rings of garbage: seldom where drawings are answered for."""

from __future__ import annotations

import gc

OBJECTS_BETWEEN_LOOKS = 100_000
"""Our data live to the end of a drawing: looking through them every 700 objects takes 4 to 10 % of
the time of a large drawing and finds nothing; less often takes no more memory (1 MB of 79 on
real drawings)."""


def look_seldom() -> None:
    """Let this process look for garbage less often."""
    gc.set_threshold(OBJECTS_BETWEEN_LOOKS, 20, 100)


def pass_over_libraries() -> None:
    """Let this process never look through the libraries it has loaded: they stay to its end.

    Only before the first drawing, or garbage of earlier ones would stay as well, and only in
    a process of our own.
    """
    if gc.get_threshold()[0] == OBJECTS_BETWEEN_LOOKS and not gc.get_freeze_count():
        gc.freeze()


def leave_it() -> None:
    """Spare this process its last look, which frees nothing that its end does not free."""
    gc.freeze()
