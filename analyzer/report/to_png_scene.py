"""What one picture shows in one frame: a part where it is drawn, or several laid on shelves.

A single part keeps the drawing's own axes.  Several distinct parts are shown once each, side by
side at one scale; a part much smaller than the largest is shown larger, by a round factor that
its caption names: (5:1) is five times as large as the scale bar says.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats
from analyzer.report.marks import Mark, PartPicture
from analyzer.units import counted

SMALLEST = 1.0 / 6.0
"""A part smaller than this share of the largest is shown larger. [-]"""

FACTORS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
GAP, CAPTION, LETTER = 12.0, 13.0, 4.6
"""Between parts on shelves, above each for its caption, and a letter of the caption. [pt]"""

SPREAD = 1.5
"""Lines outside parts that reach so many times further than the largest part are left out. [-]"""

NEAR = 0.05
"""A place so near its part, as a share of its size, is shown beside it. [-]"""

LOOSE = "open lines outside parts"


Paper = tuple[float, float]
"""Width and height that several parts are laid out for. [pt]"""


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

    @property
    def is_loose(self) -> bool:
        """Whether these are the open lines outside all parts."""
        return self.picture.part.id == "loose"

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
    without_loose : bool
        True where lines outside all parts reach too far to be shown beside them.
    """

    parts: tuple[Shown, ...]
    marks: tuple[Mark, ...] = ()
    without_loose: bool = False

    @cached_property
    def box(self) -> Floats:
        """Around all parts, shape (4,)."""
        boxes = np.array([one.box for one in self.parts])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        return np.concatenate((low, high))

    @cached_property
    def reach(self) -> Floats:
        """Around all parts and their pierces, which lie in the scrap around them, shape (4,)."""
        pierces = np.vstack([one.at(one.picture.pierces) for one in self.parts])
        low = np.minimum(self.box[:2], pierces.min(axis=0))
        return np.concatenate((low, np.maximum(self.box[2:], pierces.max(axis=0))))

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


def scene_of(
    parts: tuple[PartPicture, ...], marks: tuple[Mark, ...] = (), paper: Paper = (500.0, 300.0)
) -> Scene:
    """Return the scene of parts: one as drawn, several on shelves that suit the paper. [pt]"""
    if len(parts) == 1:
        one = Shown(parts[0])
        return Scene((one,), tuple(mark for mark in marks if _on(one, mark).any()))
    sizes = [float((box[2:] - box[:2]).max()) for box in map(_box_of, parts)]
    loose = parts[-1].part.id == "loose" and sizes[-1] > SPREAD * max(sizes[:-1])
    shown = _on_shelves(parts[:-1] if loose else parts, paper)
    placed = []
    for mark in marks:
        places = [one.at(mark.places[_on(one, mark)]) for one in shown if not one.is_loose]
        spots = np.vstack([*places, np.zeros((0, 2))])
        if len(spots):
            placed.append(_at(mark, spots))
    return Scene(shown, tuple(placed), loose)


def _box_of(part: PartPicture) -> Floats:
    return around(part.contours)


def _at(mark: Mark, places: Floats) -> Mark:
    return Mark(
        mark.number, mark.level, mark.rule, mark.part, mark.count, places, mark.words, mark.remedy
    )


def shown_on(scene: Scene, own: Shown, mark: Mark) -> Mark:
    """Return a mark of a part with its places as shown.

    Where parts are laid side by side, places beside their part are left out; if all are, those
    on another part are shown there.
    """
    if len(scene.parts) == 1:
        return _at(mark, own.at(mark.places))
    near = _on(own, mark, NEAR)
    if near.any():
        return _at(mark, own.at(mark.places[near]))
    others = [one.at(mark.places[_on(one, mark)]) for one in scene.parts if not one.is_loose]
    return _at(mark, np.vstack([*others, np.zeros((0, 2))]))


def _on(one: Shown, mark: Mark, share: float = 1e-6) -> Bools:
    """Whether places of a mark lie on a part as drawn, or as near as a share of its size."""
    box = around(one.picture.contours)
    slack = share * float((box[2:] - box[:2]).max())
    beyond: Floats = np.maximum(box[:2] - mark.places, mark.places - box[2:])
    inside: Bools = beyond.max(axis=1, initial=-np.inf) <= slack
    return inside


def _on_shelves(parts: tuple[PartPicture, ...], paper: Paper) -> tuple[Shown, ...]:
    """Lay parts side by side in rows, in their order, from the top.

    Gaps and captions have their size on paper, so the scale is found in a few rounds.
    """
    boxes = np.array([_box_of(part) for part in parts])
    size = boxes[:, 2:] - boxes[:, :2]
    largest = float(size.max())
    factors = np.array([_factor(float(own.max()), largest) for own in size])
    size = size * factors[:, None]
    words = [_caption(part, factor) for part, factor in zip(parts, factors.tolist(), strict=True)]
    widths = np.array([len(text) for text in words]) * LETTER
    unit = float(size[:, 0].sum()) / paper[0] / max(np.sqrt(len(parts)), 1.0)  # of a point
    for _ in range(4):
        cells = np.maximum(size, np.column_stack((widths, 0.0 * widths)) * unit)
        cells += np.array([GAP, GAP + CAPTION]) * unit
        rows, needed = _rows(cells, paper)
        unit = needed
    shown, top = [], 0.0
    for row in rows:
        x = 0.0
        for k in row:
            low = np.array([x, top - CAPTION * unit - size[k, 1]])
            shift = low - boxes[k, :2] * factors[k]
            place = (float(shift[0]), float(shift[1]))
            shown.append(Shown(parts[k], float(factors[k]), place, words[k]))
            x += float(cells[k, 0])
        top -= float(cells[row, 1].max())
    return tuple(shown)


def _rows(cells: Floats, paper: Paper) -> tuple[list[list[int]], float]:
    """Break parts into rows so that they are largest on the paper; return a point's worth too."""
    best: tuple[float, list[list[int]]] = (np.inf, [])
    across = cells[:, 0].tolist()
    total = sum(across)
    for count in range(1, min(len(cells), 40) + 1):
        limit = max(total / count, *across) * 1.0001
        rows: list[list[int]] = [[]]
        used = 0.0
        for k, own in enumerate(across):
            if rows[-1] and used + own > limit:
                rows.append([])
                used = 0.0
            rows[-1].append(k)
            used += own
        wide = max(sum(across[k] for k in row) for row in rows)
        tall = sum(float(cells[row, 1].max()) for row in rows)
        needed = max(wide / paper[0], tall / paper[1])
        if needed < best[0] * 0.999:
            best = (needed, rows)
    return best[1], best[0]


def _factor(own: float, largest: float) -> float:
    wanted = SMALLEST * largest / max(own, 1e-9)
    return next((factor for factor in FACTORS if factor >= wanted), FACTORS[-1])


def _caption(part: PartPicture, factor: float) -> str:
    words = LOOSE if part.part.id == "loose" else f"{part.part.id}, {part.part.count:,} off"
    return words + (f" ({factor:g}:1)" if factor != 1.0 else "")


def title_of(part: PartPicture) -> str:
    """Return how one part is called on its own page."""
    one = part.part
    if one.id == "loose":
        return LOOSE
    hand = f", other hand of {one.other_hand_of}" if one.other_hand_of else ""
    size = f"{one.width:.1f} x {one.height:.1f} mm"
    return f"{one.id}, {one.count:,} off{hand}, {size}, {counted(one.pierces, 'pierce')}"
