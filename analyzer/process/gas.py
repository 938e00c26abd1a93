"""The four cutting gases, and the names people type for them."""

from __future__ import annotations

from difflib import get_close_matches

from analyzer.errors import InputError

GASES = ("oxygen", "nitrogen", "mixed", "air")
"""Canonical names, in the order answers list them."""

AIR_OXYGEN_PERCENT = 21.0
"""Oxygen in air. [% by volume]"""

_ALIASES = {
    "o2": "oxygen",
    "n2": "nitrogen",
    "mix": "mixed",
    "mixedgas": "mixed",
    "n2o2": "mixed",
    "compressedair": "air",
    "shopair": "air",
}


def gas_named(text: str) -> str:
    """Return the canonical name of the gas called `text`.

    Raises
    ------
    InputError
        If no gas is called so; the message lists the valid names.

    Examples
    --------
    >>> gas_named("O2"), gas_named("compressed air")
    ('oxygen', 'air')
    """
    key = "".join(c for c in text.lower() if c.isalnum())
    if key in GASES:
        return key
    if key in _ALIASES:
        return _ALIASES[key]
    near = get_close_matches(key, GASES, n=1)
    raise InputError(
        f"{text!r} is not a cutting gas known here",
        hint=(f"did you mean {near[0]}? " if near else "") + "use one of " + ", ".join(GASES),
    )
