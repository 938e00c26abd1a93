"""What one picture shows in one frame: a part where it is drawn, or several laid on shelves.

A single part keeps the drawing's own axes.  Several distinct parts are shown once each, side by
side at one scale; a part much smaller than the largest is shown larger, by a round factor that
its caption names.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Contours, Floats
from analyzer.report.marks import Mark, PartPicture
from analyzer.report.wording import several

SMALLEST = 1.0 / 9.0
"""A part smaller than this share of the largest is shown larger. [-]"""

FACTORS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
GAP, CAPTION = 0.05, 0.045
"""Between parts on shelves, and above each for its caption, in sizes of the largest. [-]"""

LOOSE = "open lines outside parts"


@dataclass(frozen=True, eq=False)
class Shown:
    """One part in a picture: a point p of the drawing is at p * factor + shift."""

    picture: PartPicture
    factor: float = 1.0
    shift: tuple[float, float] = (0.0, 0.0)
    caption: str = ""

    def at(self, points: Floats) -> Floats:
        """Return points of the drawing where the picture shows them, any shape (..., 2)."""
        shown: Floats = points * self.factor + np.array(self.shift)
        return shown

    def moved(self, contours: Contours) -> Contours:
        """Return contours of the drawing where the picture shows them."""
        if self.factor == 1.0 and self.shift == (0.0, 0.0):
            return contours
        return contours.moved(np.eye(2) * self.factor, self.shift) if len(contours) else contours

    @cached_property
    def contours(self) -> Contours:
        """The part's contours as shown."""
        return self.moved(self.picture.contours)

    @cached_property
    def box(self) -> Floats:
        """Least x, least y, greatest x, greatest y as shown, shape (4,)."""
        return around(self.contours)


@dataclass(frozen=True, eq=False)
class Scene:
    """Parts in one frame, and marks of the drawing that lie on them.

    Attributes
    ----------
    parts : tuple of Shown
        Parts as shown.
    marks : tuple of Mark
        Marks of no single part, with their places as shown.
    """

    parts: tuple[Shown, ...]
    marks: tuple[Mark, ...] = ()

    @cached_property
    def box(self) -> Floats:
        """Around all parts, their captions and the marks, shape (4,)."""
        boxes = np.array([one.box for one in self.parts])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        if any(one.caption for one in self.parts):
            high[1] += CAPTION * float((boxes[:, 2:] - boxes[:, :2]).max())
        return np.concatenate((low, high))

    @cached_property
    def contours(self) -> Contours:
        """Contours of all parts as shown."""
        return Contours.join([one.contours for one in self.parts])


def around(contours: Contours) -> Floats:
    """Return the box around contours, shape (4,); never without a size. [mm]"""
    box = contours.box
    found = np.concatenate((box[:, :2].min(axis=0), box[:, 2:].max(axis=0)))
    least = max(float((found[2:] - found[:2]).max()), 1e-6) * 1e-3
    thin = (found[2:] - found[:2]) < least  # a straight open line has no height
    found[:2] -= thin * least / 2.0
    found[2:] += thin * least / 2.0
    return found


def scene_of(parts: tuple[PartPicture, ...], marks: tuple[Mark, ...], wide: float) -> Scene:
    """Return the scene of parts: one as drawn, several on shelves about `wide` times as wide."""
    if len(parts) == 1:
        one = Shown(parts[0])
        return Scene((one,), tuple(mark for mark in marks if _on(one, mark).any()))
    shown = _on_shelves(parts, wide)
    placed = []
    for mark in marks:
        places = [one.at(mark.places[_on(one, mark)]) for one in shown]
        spots = np.vstack(places)
        if len(spots):
            placed.append(_at(mark, spots))
    return Scene(shown, tuple(placed))


def _at(mark: Mark, places: Floats) -> Mark:
    return Mark(
        mark.number, mark.level, mark.rule, mark.part, mark.count, places, mark.words, mark.remedy
    )


def _on(one: Shown, mark: Mark) -> np.ndarray:
    """Whether places of a mark lie on a part as drawn, or hardly beside it."""
    box = around(one.picture.contours)
    slack = 0.02 * float((box[2:] - box[:2]).max())
    inside: np.ndarray = ((mark.places >= box[:2] - slack) & (mark.places <= box[2:] + slack)).all(
        axis=1
    )
    return inside


def _on_shelves(parts: tuple[PartPicture, ...], wide: float) -> tuple[Shown, ...]:
    """Lay parts side by side in rows, in their order, from the top."""
    boxes = np.array([around(part.contours) for part in parts])
    size = boxes[:, 2:] - boxes[:, :2]
    largest = float(size.max())
    factors = np.array([_factor(float(own.max()), largest) for own in size])
    size = size * factors[:, None]
    gap, head = GAP * largest, CAPTION * largest
    cells = size + np.array([gap, gap + head])
    least = max(0.14 * largest, 1e-9)  # room for the caption
    cells[:, 0] = np.maximum(cells[:, 0], least + gap)
    rows = _rows(cells, wide)
    shown, top = [], 0.0
    for row in rows:
        tall = float(cells[row, 1].max())
        x = 0.0
        for k in row:
            low = np.array([x, top - head - size[k, 1]])
            shift = low - boxes[k, :2] * factors[k]
            shown.append(
                Shown(parts[k], float(factors[k]), (float(shift[0]), float(shift[1])),
                      _caption(parts[k], float(factors[k])))
            )  # fmt: skip
            x += float(cells[k, 0])
        top -= tall
    return tuple(shown)


def _rows(cells: Floats, wide: float) -> list[list[int]]:
    """Break parts into rows so that the whole is about `wide` times as wide as tall."""
    best: tuple[float, list[list[int]]] = (np.inf, [])
    total = float(cells[:, 0].sum())
    for count in range(1, min(len(cells), 40) + 1):
        limit = max(total / count, float(cells[:, 0].max()))
        rows: list[list[int]] = [[]]
        used = 0.0
        for k, across in enumerate(cells[:, 0].tolist()):
            if rows[-1] and used + across > limit * 1.0001:
                rows.append([])
                used = 0.0
            rows[-1].append(k)
            used += across
        across = max(float(cells[row, 0].sum()) for row in rows)
        down = sum(float(cells[row, 1].max()) for row in rows)
        needed = max(across / wide, down)
        if needed < best[0] * 0.999:
            best = (needed, rows)
    return best[1]


def _factor(own: float, largest: float) -> float:
    wanted = SMALLEST * largest / max(own, 1e-9)
    return next((factor for factor in FACTORS if factor >= wanted), FACTORS[-1])


def _caption(part: PartPicture, factor: float) -> str:
    words = LOOSE if part.part.id == "loose" else f"{part.part.id}, {part.part.count:,} off"
    return words + (f", {factor:g} times larger" if factor != 1.0 else "")


def title_of(part: PartPicture) -> str:
    """Return how one part is called on its own page."""
    one = part.part
    if one.id == "loose":
        return LOOSE
    hand = f", other hand of {one.other_hand_of}" if one.other_hand_of else ""
    size = f"{one.width:,.1f} x {one.height:,.1f} mm"
    return f"{one.id}, {one.count:,} off{hand}, {size}, {several(one.pierces, 'pierce')}"
