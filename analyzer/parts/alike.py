"""Which copies measure about the same: only those need be laid on each other."""

from __future__ import annotations

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.parts.bodies import CUT, OPEN, Bodies

Measures = tuple[tuple[Floats, Floats], ...]
"""Values that stay when a copy is moved, turned or mirrored, and how far the same may differ."""


class Close:
    """Copies of a bucket, to ask which of them measure about the same.

    Copies that are all a little different would else be compared each with each: they are
    sorted by the measure that tells most of them apart, and only neighbours are looked at.
    """

    def __init__(self, bodies: Ints, measures: Measures) -> None:
        self.bodies = bodies
        self.values = np.array([value[bodies] for value, _ in measures])
        self.slack = np.array([np.broadcast_to(s, v.shape)[bodies] for v, s in measures])
        spread = np.ptp(self.values, axis=1) / self.slack.max(axis=1)
        self.key = int(spread.argmax())
        self.order = np.argsort(self.values[self.key], kind="stable")
        self.sorted = self.values[self.key][self.order]

    def to(self, index: int, free: Bools) -> Ints:
        """Indices after `index` of free copies that measure about the same, in order."""
        value, slack = self.values[self.key, index], self.slack[self.key].max()
        low, high = np.searchsorted(self.sorted, (value - slack, value + slack))
        near = self.order[low : min(high + 1, len(self.order))]
        near = np.sort(near[(near > index) & free[near]])
        room = np.maximum(self.slack[:, near], self.slack[:, [index]])
        fits = np.abs(self.values[:, near] - self.values[:, [index]]) <= room
        close: Ints = near[np.logical_and.reduce(fits, axis=0)]
        return close


def measures_of(bodies: Bodies) -> Measures:
    """Sizes of every copy that are those of any same or mirrored one too."""
    count = len(bodies.outline)
    lines = bodies.lines
    mine = np.flatnonzero(bodies.body >= 0)
    body, kind = bodies.body[mine], bodies.kind[mine]
    outer = lines.centroid[bodies.outline]

    def total(values: Floats, *, of: int) -> Floats:
        at = kind == of
        return np.bincount(body[at], weights=values[mine][at], minlength=count).astype(float)

    one = np.ones(len(lines))
    away = np.zeros(len(lines))
    away[mine] = np.hypot(*(lines.centroid[mine] - outer[body]).T)
    length, around = lines.length, lines.length[bodies.outline]
    ample, half = 0.5 + 0.002 * around, np.full(count, 0.5)
    return (
        (total(one, of=CUT), half), (total(one, of=OPEN), half),
        (around, ample), (lines.area[bodies.outline], 0.05 * around),
        (total(lines.area, of=CUT), 0.05 * total(length, of=CUT)),
        (total(away, of=CUT), 0.1 * total(one, of=CUT)),
        (total(away**2, of=CUT), 0.1 * (1.0 + total(away, of=CUT))),
    )  # fmt: skip


def buckets_of(measures: Measures, count: int) -> list[Ints]:
    """Copies whose sizes are close, so that same and mirrored ones share a bucket.

    Sorted by one measure after the other and split only where neighbours differ by more
    than the same part ever could: equal parts are never split, unequal ones may stay.
    """
    label = np.zeros(count, np.int64)
    for value, slack in measures:
        width = np.broadcast_to(slack, value.shape)
        order = np.lexsort((value, label))
        step = np.diff(value[order]) > np.maximum(width[order][1:], width[order][:-1])
        step |= np.diff(label[order]) != 0
        label[order] = np.concatenate(([0], np.cumsum(step)))
    order = np.argsort(label, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(label[order])) + 1) if count else []
