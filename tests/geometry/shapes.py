"""One named set of shapes for every geometry and parts test."""

from __future__ import annotations

import math

import numpy as np

from analyzer.geometry.contours import Contours

ARC_90 = math.tan(math.pi / 8.0)  # bulge of a quarter turn to the left


def polygon(*points: tuple[float, float]) -> Contours:
    """Closed polygon through the points. [mm]"""
    return Contours.from_points(points)


def rectangle(x: float, y: float, width: float, height: float) -> Contours:
    """Rectangle from its lower left corner, counter-clockwise. [mm]"""
    return polygon((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def rounded(x: float, y: float, width: float, height: float, radius: float) -> Contours:
    """Rectangle with four round corners, counter-clockwise. [mm]"""
    r, w, h = radius, width, height
    points = [(r, 0), (w - r, 0), (w, r), (w, h - r), (w - r, h), (r, h), (0, h - r), (0, r)]
    return Contours.from_points(np.add(points, (x, y)), [0, ARC_90] * 4)


def stadium(x: float, y: float, length: float, width: float, turn_deg: float = 0.0) -> Contours:
    """Round-ended slot about its middle x, y, along x before turning. [mm]"""
    a, r = (length - width) / 2.0, width / 2.0
    slot = Contours.from_points([(-a, -r), (a, -r), (a, r), (-a, r)], [0, 1, 0, 1])
    return slot.moved(rotation(turn_deg), (x, y))


def regular(x: float, y: float, radius: float, sides: int, turn_deg: float = 0.0) -> Contours:
    """Regular polygon with its vertices on a circle, counter-clockwise. [mm]"""
    angle = np.radians(turn_deg) + 2.0 * np.pi * np.arange(sides) / sides
    return Contours.from_points(
        np.column_stack((x + radius * np.cos(angle), y + radius * np.sin(angle)))
    )


def circle_of_arcs(x: float, y: float, radius: float, arcs: int, turn_deg: float = 0.0) -> Contours:
    """A full circle made of several equal arcs, counter-clockwise. [mm]"""
    corners = regular(x, y, radius, arcs, turn_deg)
    return Contours.from_points(corners.starts, [math.tan(math.pi / 2.0 / arcs)] * arcs)


def line(*points: tuple[float, float]) -> Contours:
    """Open chain of lines. [mm]"""
    return Contours.from_points(points, closed=False)


def arc(x: float, y: float, radius: float, first_deg: float, sweep_deg: float) -> Contours:
    """Open arc about x, y, as two halves. [mm]"""
    angle = np.radians([first_deg, first_deg + sweep_deg / 2.0, first_deg + sweep_deg])
    points = np.column_stack((x + radius * np.cos(angle), y + radius * np.sin(angle)))
    return Contours.from_points(points, [math.tan(math.radians(sweep_deg) / 8.0)] * 2, closed=False)


def rotation(degrees: float) -> np.ndarray:
    """Matrix of a turn to the left."""
    a = math.radians(degrees)
    return np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])


MIRROR = np.array([[-1.0, 0.0], [0.0, 1.0]])

L_SHAPE = polygon((0, 0), (200, 0), (200, 60), (60, 60), (60, 140), (0, 140))
"""Outline of the L of the handed parts: 16,800 mm2, 680 mm around."""

CLOSED: dict[str, Contours] = {
    "square": rectangle(0, 0, 10, 10),
    "clockwise square": rectangle(0, 0, 10, 10).reversed(),
    "L": L_SHAPE,
    "circle": Contours.circle(3, -2, 5),
    "circle of four arcs": circle_of_arcs(3, -2, 5, 4, 17),
    "stadium": stadium(0, 0, 40, 8, 30),
    "rounded": rounded(5, 5, 60, 30, 4),
    "hexagon": regular(0, 0, 13.5, 6),
    "crescent": Contours.from_points([(0, 0), (20, 0)], [1.0, -0.5]),
    "three quarters": Contours.from_points(
        [(5, 0), (0, -5), (0, 0)], [math.tan(3 * math.pi / 8), 0, 0]
    ),
    "bent inwards": Contours.from_points(
        [(0, 0), (30, 0), (30, 20), (0, 20)], [-0.3, 0.2, -0.3, 0.01]
    ),
    "nearly straight arcs": Contours.from_points([(0, 0), (30, 0), (15, 20)], [1e-3, -1e-5, 1e-11]),
    "split sides": polygon((0, 0), (4, 0), (10, 0), (10, 10), (5, 10), (3, 10), (0, 10)),
    "with a point for a segment": polygon((0, 0), (10, 0), (10, 0), (10, 10), (0, 10)),
    "far away": rounded(1e5, -1e5, 60, 30, 4),
    "thin": rectangle(0, 0, 1000, 0.02),
}  # fmt: skip
"""Closed contours by name."""

OPEN: dict[str, Contours] = {
    "line": line((0, 0), (3, 4)),
    "zigzag": line((0, 0), (10, 0), (0, 5), (10, 5)),
    "arc of 270 degrees": arc(1, 2, 5, 10, 270),
    "begins with a point": line((0, 0), (0, 0), (5, 5), (5, 0)),
}
"""Open contours by name."""
