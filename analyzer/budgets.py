"""Limits on input: what we accept of one drawing, so that time and memory stay bounded.

Every limit is named in the message of the error it raises and printed by
`burrcast limits`.
"""

from dataclasses import dataclass, field, fields

from analyzer.errors import DrawingError


@dataclass(frozen=True)
class Budgets:
    """Limits on one drawing; each field says in `metadata` what it counts."""

    file_mb: int = field(default=200, metadata={"what": "size of the file, MB"})
    entities: int = field(
        default=1_000_000,
        metadata={"what": "entities, those in blocks counted as often as inserted"},
    )
    block_depth: int = field(default=64, metadata={"what": "blocks nested in blocks"})
    vertices: int = field(default=2_000_000, metadata={"what": "vertices after flattening"})
    curve_vertices: int = field(
        default=50_000, metadata={"what": "vertices of one flattened curve"}
    )
    coordinate_mm: float = field(
        default=1e7, metadata={"what": "size of the drawing, largest x or y from its middle, mm"}
    )
    pairs: int = field(
        default=4_000_000, metadata={"what": "pairs of closed contours whose boxes overlap"}
    )
    crossings: int = field(
        default=1_000_000,
        metadata={"what": "pairs of lines looked at for crossings; more are not looked for"},
    )

    def check(self, name: str, value: float, *, where: str = "") -> None:
        """Raise DrawingError when `value` is over the limit called `name`."""
        limit = getattr(self, name)
        if value > limit:
            what = next(f.metadata["what"] for f in fields(self) if f.name == name)
            raise DrawingError(
                f"{value:,.0f} is over the limit {name} = {limit:,.0f} ({what})",
                where=where,
                hint="split the drawing, or see burrcast limits",
            )


DEFAULT = Budgets()
