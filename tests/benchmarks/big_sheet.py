"""Draw large made-up sheets of plates, with the truth about them.

    python tests/benchmarks/big_sheet.py ENTITIES FILE.dxf

Plates of 60 kinds in rows: rounded outlines (polylines with bulges, or single lines and arcs),
round holes, slots, and now and then an elliptic or a freely curved window.  The same arguments
give the same geometry.
"""

import math
import random
import sys
from dataclasses import dataclass
from pathlib import Path

import ezdxf
from ezdxf.layouts import Modelspace

KINDS = 60
ROW_MM = 60_000.0  # length of a row of plates


@dataclass
class Truth:
    """What was drawn: entities, closed contours, plates."""

    entities: int = 0
    contours: int = 0
    plates: int = 0


@dataclass(frozen=True)
class Kind:
    """One kind of plate: size, corner radius, holes, slots and window."""

    width: float
    height: float
    radius: float
    loose: bool
    hole: float
    columns: int
    rows: int
    slot: bool
    window: str


def kinds(rng: random.Random) -> list[Kind]:
    """Return the kinds of plates."""
    made = []
    for _ in range(KINDS):
        columns, rows = rng.randint(1, 8), rng.randint(1, 5)
        made.append(
            Kind(
                width=30.0 * columns + rng.randint(40, 160),
                height=30.0 * rows + rng.randint(60, 120),
                radius=rng.choice((3.0, 5.0, 8.0, 12.0)),
                loose=rng.random() < 0.3,
                hole=rng.choice((6.6, 9.0, 11.0, 13.5, 17.5)),
                columns=columns,
                rows=rows,
                slot=rng.random() < 0.4,
                window=rng.choice(("", "", "", "ellipse", "spline")),
            )
        )
    return made


def outline(space: Modelspace, kind: Kind, x: float, y: float) -> int:
    """Draw a rounded outline; return the number of entities."""
    w, h, r = kind.width, kind.height, kind.radius
    quarter = math.tan(math.pi / 8.0)
    points = [
        (x + r, y, 0.0), (x + w - r, y, quarter), (x + w, y + r, 0.0),
        (x + w, y + h - r, quarter), (x + w - r, y + h, 0.0), (x + r, y + h, quarter),
        (x, y + h - r, 0.0), (x, y + r, quarter),
    ]  # fmt: skip
    if not kind.loose:
        space.add_lwpolyline(points, format="xyb", close=True)
        return 1
    for i in range(0, 8, 2):
        space.add_line(points[i][:2], points[i + 1][:2])
    centres = [(x + w - r, y + r), (x + w - r, y + h - r), (x + r, y + h - r), (x + r, y + r)]
    for i, centre in enumerate(centres):
        space.add_arc(centre, r, 270 + 90 * i, 360 + 90 * i)
    return 8


def plate(space: Modelspace, kind: Kind, x: float, y: float, truth: Truth) -> None:
    """Draw one plate with its lower left corner at x, y."""
    truth.entities += outline(space, kind, x, y)
    for i in range(kind.columns):
        for j in range(kind.rows):
            space.add_circle((x + 20 + 30 * i, y + 20 + 30 * j), kind.hole / 2.0)
    cut_outs = kind.columns * kind.rows
    top = y + 20 + 30 * (kind.rows - 1) + 30  # above the holes
    if kind.slot:
        space.add_lwpolyline(
            [(x + 20, top, 0), (x + 40, top, 1), (x + 40, top + 8, 0), (x + 20, top + 8, 1)],
            format="xyb",
            close=True,
        )
        cut_outs += 1
    right = x + 20 + 30 * (kind.columns - 1) + 20  # right of the holes
    middle = (right + (x + kind.width - right) / 2.0, y + kind.height / 2.0)
    reach = min(x + kind.width - right, kind.height) / 2.0 - 5.0
    if kind.window == "ellipse":
        space.add_ellipse(middle, (0.0, reach * 0.9), 0.6)
        cut_outs += 1
    elif kind.window == "spline":  # periodic, not clamped: its knots go beyond its domain
        corners = [
            (middle[0] + reach * (0.8 + 0.2 * (k % 2)) * math.cos(math.tau * k / 8),
             middle[1] + reach * (0.8 + 0.2 * (k % 2)) * math.sin(math.tau * k / 8), 0.0)
            for k in range(8)
        ]  # fmt: skip
        space.add_spline(dxfattribs={"degree": 3}).set_closed(corners, degree=3)
        cut_outs += 1
    truth.entities += cut_outs
    truth.contours += 1 + cut_outs
    truth.plates += 1


def draw(entities: int, path: Path, seed: int = 1) -> Truth:
    """Write a sheet of about `entities` entities (never fewer) to `path`; return its truth."""
    rng = random.Random(seed)
    choice = kinds(rng)
    drawing = ezdxf.new("R2010", units=4)
    space = drawing.modelspace()
    truth = Truth()
    x = y = tallest = 0.0
    while truth.entities < entities:
        kind = rng.choice(choice)
        plate(space, kind, x, y, truth)
        x, tallest = x + kind.width + 10.0, max(tallest, kind.height)
        if x > ROW_MM:
            x, y, tallest = 0.0, y + tallest + 10.0, 0.0
    drawing.saveas(path)
    return truth


if __name__ == "__main__":
    print(draw(int(sys.argv[1]), Path(sys.argv[2])))
