"""Strict JSON: ASCII, finite numbers, the same bytes for the same value."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def dumps(value: Mapping[str, Any]) -> str:
    """Return `value` as one strict JSON text: ASCII, finite, two blanks a level.

    Raises
    ------
    ValueError
        If a number is not finite.
    """
    return json.dumps(value, ensure_ascii=True, allow_nan=False, indent=2) + "\n"
