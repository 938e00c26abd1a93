"""SVG path data read back, by the standard and without our code."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

TOKEN = re.compile(r"[A-Za-z]|-?\d+(?:\.\d+)?")
COUNT = {"M": 2, "l": 2, "a": 7, "z": 0, "h": 1}


def points_along(data: str, each: int = 16) -> list[NDArray[np.float64]]:
    """Return points along every subpath: both ends of a line, `each` stretches of an arc."""
    words = TOKEN.findall(data)
    paths: list[list[tuple[float, float]]] = []
    k = 0
    while k < len(words):
        command = words[k]
        values = [float(word) for word in words[k + 1 : k + 1 + COUNT[command]]]
        k += 1 + COUNT[command]
        if command == "M":
            paths.append([(values[0], values[1])])
        elif command == "z":
            paths[-1].append(paths[-1][0])
        elif command == "h":
            paths[-1].append((paths[-1][-1][0] + values[0], paths[-1][-1][1]))
        elif command == "l":
            x, y = paths[-1][-1]
            paths[-1].append((x + values[0], y + values[1]))
        else:
            paths[-1] += arc(paths[-1][-1], values, each)
    return [np.array(path) for path in paths]


def arc(start: tuple[float, float], values: list[float], each: int) -> list[tuple[float, float]]:
    """Return points of a circular arc from its ends, by SVG 2 appendix B.2.4 and B.2.5.

    https://www.w3.org/TR/SVG2/implnote.html#ArcConversionEndpointToCenter
    """
    radius, same, turn, large, sweep, dx, dy = values
    assert radius == same
    assert turn == 0.0
    x1, y1 = start
    x2, y2 = x1 + dx, y1 + dy
    half = ((x1 - x2) / 2.0, (y1 - y2) / 2.0)
    reach = half[0] ** 2 + half[1] ** 2
    radius = max(radius, reach**0.5)  # B.2.5: enlarge what cannot reach
    factor = max(radius**2 * reach**0 - reach, 0.0) / reach if reach else 0.0
    factor = factor**0.5 * (-1.0 if large == sweep else 1.0)
    cx = factor * half[1] + (x1 + x2) / 2.0
    cy = -factor * half[0] + (y1 + y2) / 2.0
    first = np.arctan2(y1 - cy, x1 - cx)
    delta = np.arctan2(y2 - cy, x2 - cx) - first
    if sweep and delta < 0.0:
        delta += 2.0 * np.pi
    if not sweep and delta > 0.0:
        delta -= 2.0 * np.pi
    angles = first + delta * np.arange(1, each + 1) / each
    return [(cx + radius * np.cos(a), cy + radius * np.sin(a)) for a in angles]
