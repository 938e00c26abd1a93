"""Small drawings made for tests: as a library document, as raw tags, as edges."""

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np

from analyzer.drawing.drawing import Drawing
from analyzer.drawing.edges import Edges
from analyzer.drawing.reading import ReadOptions, read_drawing

PLAIN = ReadOptions()

# The plate of the drawing tests: 200 x 120, corners R 10, four holes 8, a slot 40 x 10.
PLATE = (200.0, 120.0, 10.0)
HOLES = ((15.0, 15.0), (185.0, 15.0), (185.0, 105.0), (15.0, 105.0))
PLATE_LENGTH = 2 * (180 + 100) + 2 * np.pi * 10 + 4 * np.pi * 8 + 2 * 30 + np.pi * 10


def read_made(
    folder: Path, draw: Callable[[Any], Any], *, units: int | None = 4, version: str = "R2010",
    options: ReadOptions = PLAIN, binary: bool = False,
) -> Drawing:  # fmt: skip
    """Return the drawing read back from what `draw` puts into a model space."""
    document = ezdxf.new(version)
    document.header.hdrvars.pop("$INSUNITS", None)  # the library says metres unasked
    if units is not None:
        document.header["$INSUNITS"] = units
    draw(document.modelspace())
    path = folder / "made.dxf"
    document.saveas(path, fmt="bin" if binary else "asc")
    return read_drawing(path, options)


def draw_plate(space: Any, layer: str = "0") -> None:
    """Draw the plate with lines, arcs, circles and one closed polyline."""
    w, h, r = PLATE
    at = {"layer": layer}
    for a, b in (
        ((r, 0), (w - r, 0)),
        ((w, r), (w, h - r)),
        ((w - r, h), (r, h)),
        ((0, h - r), (0, r)),
    ):
        space.add_line(a, b, dxfattribs=at)
    for x, y, first in ((w - r, r, 270), (w - r, h - r, 0), (r, h - r, 90), (r, r, 180)):
        space.add_arc((x, y), r, first, first + 90, dxfattribs=at)
    for hole in HOLES:
        space.add_circle(hole, 4, dxfattribs=at)
    space.add_lwpolyline(
        [(85, 55, 0), (115, 55, 1), (115, 65, 0), (85, 65, 1)], format="xyb", close=True,
        dxfattribs=at,
    )  # fmt: skip


Tags = Sequence[tuple[int, Any]]


def line_tags(a: tuple[float, float], b: tuple[float, float], layer: str = "0") -> Tags:
    """Return a LINE as R12 tags."""
    return [(0, "LINE"), (8, layer), (10, a[0]), (20, a[1]), (11, b[0]), (21, b[1])]


def arc_tags(
    x: float, y: float, radius: float, first: float, last: float, layer: str = "0"
) -> Tags:
    """Return an ARC as R12 tags."""
    return [
        (0, "ARC"), (8, layer), (10, x), (20, y), (40, radius), (50, first), (51, last),
    ]  # fmt: skip


def circle_tags(x: float, y: float, radius: float, layer: str = "0") -> Tags:
    """Return a CIRCLE as R12 tags."""
    return [(0, "CIRCLE"), (8, layer), (10, x), (20, y), (40, radius)]


def square(x: float, y: float, side: float) -> list[Tags]:
    """Return four lines."""
    corners = [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
    return [line_tags(a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]


def tags_text(
    entities: Iterable[Tags], *, units: int | None = 4, end: bool = True, header: Tags = ()
) -> str:
    """Return a drawing of raw tags: a header and ENTITIES, nothing else."""
    tags: list[tuple[int, Any]] = []
    known = [*header, *([(9, "$INSUNITS"), (70, units)] if units is not None else [])]
    if known:
        tags += [(0, "SECTION"), (2, "HEADER"), *known, (0, "ENDSEC")]
    tags += [(0, "SECTION"), (2, "ENTITIES")]
    for entity in entities:
        tags += entity
    tags += [(0, "ENDSEC")]
    if end:
        tags += [(0, "EOF")]
    return "".join(
        f"{code}\n{value!r}\n" if isinstance(value, float) else f"{code}\n{value}\n"
        for code, value in tags
    )


def read_text(folder: Path, text: str | bytes, options: ReadOptions = PLAIN) -> Drawing:
    """Return the drawing that `text` is."""
    path = folder / "made.dxf"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return read_drawing(path, options)


def read_tags(
    folder: Path, entities: Iterable[Tags], options: ReadOptions = PLAIN, **more: Any
) -> Drawing:
    """Return the drawing of raw tags."""
    return read_text(folder, tags_text(entities, **more), options)


def kinds(drawing: Drawing) -> list[str]:
    """Return the kinds of all facts, in order."""
    return [fact.kind for fact in drawing.facts]


def fact(drawing: Drawing, kind: str) -> Any:
    """Return the only fact of a kind."""
    (found,) = [fact for fact in drawing.facts if fact.kind == kind]
    return found


def reasons(drawing: Drawing) -> dict[tuple[str, str], int]:
    """Return how many entities are ignored, by type and reason."""
    return {(row.type, row.reason): row.count for row in drawing.account.ignored}


def line_edges(*rows: tuple[float, float, float, float], source: int | None = None) -> Edges:
    """Return straight edges x, y, x, y, each its own entity unless told."""
    table = np.array(rows, dtype=float).reshape(-1, 4)
    owner = np.arange(len(table)) if source is None else np.full(len(table), source)
    return Edges.of(table[:, :2], table[:, 2:], np.zeros(len(table)), owner)
