"""Limits on input: what we accept of one drawing, so that time and memory stay bounded.

Every limit is named in the message of the error it raises, printed by `burrcast limits`,
and lowered or raised by `--limit NAME=VALUE`.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, fields, replace
from typing import Any

from analyzer.errors import DrawingError, InputError


@dataclass(frozen=True)
class Budgets:
    """Limits on one drawing; each field says in `metadata` what it counts."""

    file_mb: int = field(default=200, metadata={"what": "size of the file, MB"})
    entities: int = field(
        default=1_000_000,
        metadata={"what": "entities, those in blocks counted as often as inserted"},
    )
    block_depth: int = field(default=64, metadata={"what": "blocks nested in blocks"})
    # about 0.8 kB each in memory: a small file of copied blocks stays below 1 GB
    vertices: int = field(default=1_100_000, metadata={"what": "vertices after flattening"})
    curve_vertices: int = field(
        default=50_000, metadata={"what": "vertices of one flattened curve"}
    )
    coordinate_mm: float = field(
        default=1e5, metadata={"what": "size of the drawing, largest x or y from its middle, mm"}
    )
    open_lines: int = field(
        default=100_000,
        metadata={"what": "cut lines that do not close; engraving belongs on a mark layer"},
    )
    pairs: int = field(
        default=4_000_000,
        metadata={
            "what": "pairs of closed contours whose boxes overlap, "
            "circles about one centre counted as the largest"
        },
    )
    distinct_parts: int = field(
        default=2_000,
        metadata={"what": "parts of different shape; each is planned under every gas"},
    )
    crossings: int = field(
        default=1_000_000,
        metadata={"what": "pairs of lines, one of them open, whose boxes overlap"},
    )

    def changed(self, limits: Iterable[tuple[str, float]]) -> "Budgets":
        """Return the budgets with other limits, given as name and value.

        Raises
        ------
        InputError
            If there is no limit of that name.
        """
        values: dict[str, Any] = dict(limits)
        names = [f.name for f in fields(self)]
        for name in values:
            if name not in names:
                raise InputError(
                    f"there is no limit {name!r}", hint="the limits are " + ", ".join(names)
                )
        return replace(self, **values)

    def check(self, name: str, value: float, *, where: str = "") -> None:
        """Raise DrawingError when `value` is over the limit called `name`."""
        limit = getattr(self, name)
        if value > limit:
            what = next(f.metadata["what"] for f in fields(self) if f.name == name)
            raise DrawingError(
                f"{value:,.0f} is over the limit {name} = {limit:,.0f} ({what})",
                where=where,
                hint=f"split the drawing, or raise it: --limit {name}={_above(value)}",
            )


DEFAULT = Budgets()


def limit_of(text: str) -> tuple[str, float]:
    """Return name and value of a limit typed as NAME=VALUE.

    Raises
    ------
    InputError
        If there is no such limit, or the value is not a number above 0.
    """
    name, sign, number = text.partition("=")
    known = [f.name for f in fields(Budgets)]
    if not sign:
        raise InputError(f"{text!r} is not NAME=VALUE, such as entities=2000000")
    if name not in known:
        raise InputError(f"there is no limit {name!r}; the limits are {', '.join(known)}")
    try:
        value = float(number.replace("_", ""))
    except ValueError:
        value = 0.0
    if not 0.0 < value < float("inf"):
        raise InputError(f"the limit {name} needs a number above 0, not {number!r}")
    return name, value if name == "coordinate_mm" else int(value) or 1


def _above(value: float) -> str:
    """Return a round number above `value`, as it would be typed."""
    digits = 10.0 ** math.floor(math.log10(max(value, 1.0)))
    return f"{math.ceil(value / digits * 1.000001) * digits:.0f}"
