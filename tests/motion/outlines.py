"""Paths whose time is known in closed form, and parts made of them."""

import numpy as np

from analyzer.geometry.contours import Contours
from analyzer.motion.ceiling import path_ceilings
from analyzer.motion.plan import Profile
from analyzer.motion.profile import speed_profile
from analyzer.parts.part import Hole, Part
from analyzer.process.setting import Setting

M_PER_MIN = 1000.0 / 60.0  # to mm/s


def square(side: float = 100.0) -> Contours:
    return Contours.from_points([[0, 0], [side, 0], [side, side], [0, side]])


def rounded(width: float, height: float, r: float) -> Contours:
    """Return a rounded rectangle entered in the middle of its lower side."""
    t = np.tan(np.pi / 8.0)
    w, h = width, height
    return Contours.from_points(
        [[w / 2, 0], [w - r, 0], [w, r], [w, h - r], [w - r, h], [r, h], [0, h - r], [0, r],
         [r, 0]],
        [0, t, 0, t, 0, t, 0, t, 0],
    )  # fmt: skip


def zigzag(steps: int, length: float) -> Contours:
    """Return a staircase: right angles to alternating sides."""
    k = np.arange(steps + 1)
    points = length * np.column_stack(((k + 1) // 2, k // 2)).astype(float)
    return Contours.from_points(points, closed=False)


def profile_along(
    path: Contours, speed: float, acceleration: float = 1e4, tolerance: float = 0.05
) -> Profile:
    """Return the profile along every contour of `path` from rest to rest. mm/s, mm/s^2, mm."""
    inside, joints = path_ceilings(path, np.full(len(path), speed), acceleration, tolerance)
    return speed_profile(path.lengths, inside, joints, path.offsets, acceleration)


def part_of(outline: Contours | None, *inner: Contours, holes: tuple[Hole, ...] = ()) -> Part:
    """Return a part of an outline and what lies in it; without outline: loose lines."""
    rows = [outline, *inner] if outline is not None else list(inner)
    nothing = Contours.empty()
    return Part(
        "P1", 1, None, Contours.join(rows), nothing, nothing, holes, (), (), (), ()
    )  # fmt: skip


def plate_with_holes(width: float, height: float, holes: list[tuple[float, float, float]]) -> Part:
    """Return a rectangle with holes (x, y, diameter)."""
    outline = Contours.from_points([[0, 0], [width, 0], [width, height], [0, height]])
    circles = [Contours.circle(x, y, d / 2.0).reversed() for x, y, d in holes]
    round_ones = tuple(Hole(x, y, d, row + 1) for row, (x, y, d) in enumerate(holes))
    return part_of(outline, *circles, holes=round_ones)


def setting(
    speed: float = 100.0, kerf: float = 0.5, pierce: float = 0.5, lead: float = 6.0
) -> Setting:
    """Return a setting without small-contour factor. mm/s, mm, s, mm."""
    return Setting(
        "nitrogen", 0.0, speed, "test", "test", False, "ok", 10.0, 12.0, kerf, pierce, lead, 1.0,
        (0.0, 6.0), (1.0, 1.0), 12.0, "4 mm",
    )  # fmt: skip
