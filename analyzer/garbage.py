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
