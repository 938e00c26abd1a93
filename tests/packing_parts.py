"""Parts made by hand for packing, and random ones."""

import numpy as np
from hypothesis import strategies as st

from analyzer.geometry.contours import Contours
from analyzer.packing.bare import bare_part
from analyzer.parts.part import Part


def rectangle(length: float, width: float, x: float = 0.0, y: float = 0.0) -> Part:
    """Return a plate with its lower left corner at x, y."""
    corners = [[x, y], [x + length, y], [x + length, y + width], [x, y + width]]
    return bare_part(Contours.from_points(corners))


def disc(radius: float) -> Part:
    """Return a round plate about the origin."""
    return bare_part(Contours.circle(0.0, 0.0, radius))


def ring(outer: float, inner: float) -> Part:
    """Return a round plate with a round opening."""
    hole = Contours.circle(0.0, 0.0, inner).reversed()
    return bare_part(Contours.join([Contours.circle(0.0, 0.0, outer), hole]))


def angle(side: float, leg: float) -> Part:
    """Return an L."""
    corners = [[0, 0], [side, 0], [side, leg], [leg, leg], [leg, side], [0, side]]
    return bare_part(Contours.from_points(corners))


def star(radii: list[float], bulges: list[float]) -> Part:
    """Return a plate whose corners lie at given distances all around, sides bowed."""
    count = len(radii)
    turn = 2.0 * np.pi * np.arange(count) / count
    points = np.array(radii)[:, None] * np.column_stack((np.cos(turn), np.sin(turn)))
    return bare_part(Contours.from_points(points + 500.0, bulges))


@st.composite
def any_part(draw: st.DrawFn) -> Part:
    """Draw a plate: rectangle, disc, ring, angle, or one with bowed sides and deep notches."""
    kind = draw(st.sampled_from(["rectangle", "disc", "ring", "angle", "star"]))
    size = draw(st.floats(15.0, 120.0))
    if kind == "rectangle":
        return rectangle(size, draw(st.floats(15.0, 120.0)))
    if kind == "disc":
        return disc(size / 2.0)
    if kind == "ring":
        return ring(size, size * draw(st.floats(0.3, 0.9)))
    if kind == "angle":
        return angle(size, size * draw(st.floats(0.2, 0.6)))
    count = draw(st.integers(3, 9))
    radii = [size * draw(st.floats(0.3, 1.0)) for _ in range(count)]
    bulges = [draw(st.sampled_from([0.0, 0.0, 0.15, -0.1])) for _ in range(count)]
    return star(radii, bulges)
