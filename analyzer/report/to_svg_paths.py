"""Contours as SVG path data: lines stay lines, arcs stay arcs, thousands in milliseconds.

Coordinates are whole numbers of a small unit (a 10,000th of the picture, more or less), with y
downward as SVG has it, and every step is relative to the one before.  Rounded points are
subtracted, not rounded steps, so nothing drifts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints

STEPS = 20_000
"""Least number of units that the longer side of a picture is divided into. [-]"""

MOST_SWEEP = 2.0 * math.pi / 3.0
"""Arcs that turn further are written in pieces: SVG gives an arc by its ends and its radius, and
near a half circle a rounded radius would move the middle of the arc by much more than itself."""

HALF = 1e-9
"""A bulge this near to 1 is a half circle: its radius follows from its ends. [-]"""


@dataclass(frozen=True)
class Frame:
    """How drawing coordinates become those of a picture.

    Attributes
    ----------
    x, y : float
        Corner that becomes the origin: least x, greatest y. [mm]
    width, height : float
        Extent of what is shown. [mm]
    unit : float
        Length of one unit of the picture. [mm]
    """

    x: float
    y: float
    width: float
    height: float
    unit: float

    @staticmethod
    def around(box: Floats, margin: float = 0.0, steps: int = STEPS) -> Frame:
        """Return the frame of a box (least x, y, greatest x, y), so much wider on all sides. [mm]

        Its longer side has `steps` units or more.

        Examples
        --------
        >>> Frame.around(np.array([0.0, 0.0, 300.0, 200.0]))
        Frame(x=0.0, y=200.0, width=300.0, height=200.0, unit=0.01)
        """
        low_x, low_y, high_x, high_y = (float(value) for value in box)
        width, height = high_x - low_x + 2.0 * margin, high_y - low_y + 2.0 * margin
        longer = max(width, height, 1e-6)
        return Frame(
            low_x - margin, high_y + margin, max(width, 1e-6), max(height, 1e-6),
            10.0 ** math.floor(math.log10(longer / steps)),
        )  # fmt: skip

    @property
    def across(self) -> int:
        """Width in units."""
        return math.ceil(self.width / self.unit - 1e-6)

    @property
    def down(self) -> int:
        """Height in units."""
        return math.ceil(self.height / self.unit - 1e-6)

    def units(self, points: Floats) -> Ints:
        """Return points of the drawing in whole units, y downward, shape (k, 2)."""
        at = np.column_stack((points[:, 0] - self.x, self.y - points[:, 1])) / self.unit
        whole: Ints = np.rint(at).astype(np.int64)
        return whole

    def share(self, x: float, y: float) -> tuple[float, float]:
        """Return a place as shares of width and height from the upper left corner."""
        return (x - self.x) / self.width, (self.y - y) / self.height


def box_of(*several: Contours) -> Floats:
    """Return the box around all contours, zeros where there are none, shape (4,). [mm]"""
    boxes = [contours.box for contours in several if len(contours)]
    if not boxes:
        return np.zeros(4)
    rows = np.vstack(boxes)
    return np.concatenate((rows[:, :2].min(axis=0), rows[:, 2:].max(axis=0)))


def path_of(contours: Contours, frame: Frame) -> str:
    """Return all contours as the data of one path; empty for none."""
    return _data(contours, frame).replace(" -", "-")


def paths_of(contours: Contours, frame: Frame) -> list[str]:
    """Return the path data of every contour, one string each.

    Closed contours end with z.  An arc is one SVG arc, or two or three where it turns by more
    than 120 degrees; half circles stay whole.
    """
    return _data(contours, frame, "\n").split("\n")[:-1]


def _data(contours: Contours, frame: Frame, between: str = "") -> str:
    """Return the path data of all contours, `between` after each.

    One template holds all letters, one list all numbers: Python puts them together at once, which
    is several times as quick as contour by contour.
    """
    if not len(contours):
        return ""
    pieces = _pieces(contours)
    first = frame.units(contours.starts[contours.offsets[:-1]])
    steps, radius, curved, side = _steps(contours, frame, pieces)
    count = len(first)
    # places in the template: head, pieces and tail of every contour
    stops = np.cumsum(pieces)[contours.offsets[1:] - 1]
    begins = np.concatenate(([0], stops[:-1]))
    rank = np.arange(count)
    head, tail = begins + 2 * rank, stops + 2 * rank + 1
    words = np.empty(len(steps) + 2 * count, dtype=object)
    inner = np.ones(len(words), dtype=bool)
    inner[head] = inner[tail] = False
    words[head], words[tail] = "M%d %d", np.where(contours.closed, "z" + between, between)
    words[inner] = np.where(curved, "a%d %d 0 0 %d %d %d", "l%d %d")
    # and in the numbers: 2 for a head, 5 for an arc, 2 for a line
    size = np.zeros(len(words), dtype=np.int64)
    size[head], size[inner] = 2, np.where(curved, 5, 2)
    at = np.cumsum(size) - size
    numbers = np.empty(int(size.sum()), dtype=np.int64)
    numbers[at[head]], numbers[at[head] + 1] = first[:, 0], first[:, 1]
    ends = at[inner] + size[inner]
    numbers[ends - 2], numbers[ends - 1] = steps[:, 0], steps[:, 1]
    arcs = at[inner][curved]
    numbers[arcs] = numbers[arcs + 1] = radius[curved]
    numbers[arcs + 2] = side[curved]
    return str("".join(words.tolist()) % tuple(numbers.tolist()))


def _pieces(contours: Contours) -> Ints:
    """How many SVG arcs or lines every segment is written as, shape (s,)."""
    half = np.abs(np.abs(contours.bulges) - 1.0) <= HALF
    count = np.ceil(np.abs(contours.sweeps) / MOST_SWEEP - 1e-9)
    pieces: Ints = np.where(half, 1, np.maximum(count, 1)).astype(np.int64)
    return pieces


def _steps(contours: Contours, frame: Frame, pieces: Ints) -> tuple[Ints, Ints, Bools, Ints]:
    """Return every piece: its step, shape (p, 2), radius, whether it is an arc, and its side."""
    index = np.repeat(np.arange(len(pieces)), pieces)
    within = np.arange(len(index)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    last = within + 1 == pieces[index]
    begin = contours.starts[index]
    inner = np.flatnonzero(within > 0)
    if len(inner):
        begin[inner] = contours.points_at(index[inner], within[inner] / pieces[index[inner]])
    end = np.empty_like(begin)
    end[:-1] = begin[1:]
    end[last] = contours.ends[index[last]]
    step = frame.units(end) - frame.units(begin)
    bulge = contours.bulges[index]
    bent = bulge != 0.0
    radius = np.zeros(len(index))
    radius[bent] = contours.radii[index][bent] / frame.unit
    # the radius of a half circle is rounded down: SVG enlarges what cannot reach, exactly
    half = np.abs(np.abs(bulge) - 1.0) <= HALF
    whole = np.where(half, np.floor(np.hypot(step[:, 0], step[:, 1]) / 2.0), np.rint(radius))
    curved = bent & (whole >= 1.0) & (whole < 1e9)  # flatter than that is straight
    left = (bulge < 0.0).astype(np.int64)  # y points down: turning left is sweep 0
    return step, whole.clip(0.0, 1e9).astype(np.int64), curved, left
