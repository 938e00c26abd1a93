"""Many contours in flat arrays: chains of lines and arcs, exact in length and area.

A segment is a chord and a bulge, tan(sweep / 4): 0 is a line, positive turns left.
Segments of contour i are the rows offsets[i]:offsets[i + 1] of the flat arrays, in
order; the end of one is the start of the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from analyzer.errors import InputError
from analyzer.geometry.segments import (
    Bools,
    Floats,
    Ints,
    arc_lengths,
    bows,
    boxes,
    centres,
    points_along,
    radii,
    wrapped,
)
from analyzer.geometry.settled import is_settled, ours

__all__ = ["Bools", "Contours", "Floats", "Ints", "arc_lengths", "wrapped"]


@dataclass(frozen=True, eq=False)
class Contours:
    """Chains of lines and arcs, closed or open, in flat arrays.

    Attributes
    ----------
    starts, ends : ndarray, shape (s, 2)
        Both ends of every segment. [mm]
    bulges : ndarray, shape (s,)
        tan(sweep / 4) of every segment. [-]
    lengths : ndarray, shape (s,)
        Length as drawn: of the source curve where a spline or an ellipse was
        flattened, else exactly that of the line or arc. [mm]
    smooth : ndarray of bool, shape (s,)
        The joint at the *start* of the segment lies inside a smooth source curve
        (spline, ellipse), so it is no corner however its chords turn.
    offsets : ndarray of int, shape (n + 1,)
        First segment of every contour, and the number of segments at the end.
    closed : ndarray of bool, shape (n,)
        The contour's last end is its first start.
    """

    starts: Floats
    ends: Floats
    bulges: Floats
    lengths: Floats
    smooth: Bools
    offsets: Ints
    closed: Bools

    def __post_init__(self) -> None:
        for name, kind in (
            ("starts", float), ("ends", float), ("bulges", float), ("lengths", float),
            ("smooth", bool), ("offsets", np.int64), ("closed", bool),
        ):  # fmt: skip
            given = getattr(self, name)
            if not is_settled(given, kind):
                given = np.array(given, dtype=kind)  # our own copy
                object.__setattr__(self, name, given)
        count = len(self.bulges)
        if self.starts.shape != (count, 2) or self.ends.shape != (count, 2):
            raise InputError(f"{self.starts.shape} starts for {count} bulges")
        if self.offsets[-1] != count or len(self.closed) != len(self.offsets) - 1:
            raise InputError(f"offsets end at {self.offsets[-1]}, segments are {count}")
        if (np.diff(self.offsets) < 1).any():
            raise InputError("a contour without a segment")
        bare = self.starts == self.ends
        bare = bare[:, 0] & bare[:, 1]
        if bare.any():  # no chord, no arc
            object.__setattr__(self, "bulges", np.where(bare, 0.0, self.bulges))
        for name in ("starts", "ends", "bulges", "lengths", "smooth", "offsets", "closed"):
            getattr(self, name).setflags(write=False)

    # --- making -----------------------------------------------------------

    @staticmethod
    def empty() -> Contours:
        """Return no contours at all."""
        nothing = np.zeros(0)
        pairs = np.zeros((0, 2))
        return Contours(pairs, pairs, nothing, nothing, nothing > 0, np.zeros(1, int), nothing > 0)

    @staticmethod
    def from_points(
        points: ArrayLike, bulges: ArrayLike | None = None, *, closed: bool = True,
        smooth: ArrayLike | None = None, lengths: ArrayLike | None = None,
    ) -> Contours:  # fmt: skip
        """Return one contour through `points`, shape (k, 2). [mm]

        A closed one has k segments (the last leads back to the first point), an
        open one k - 1; `bulges`, `smooth` and `lengths` have one value a segment.
        """
        corner = np.asarray(points, dtype=float).reshape(-1, 2)
        starts, ends = (
            (corner, np.roll(corner, -1, axis=0)) if closed else (corner[:-1], corner[1:])
        )
        count = len(starts)
        bulge = np.zeros(count) if bulges is None else np.asarray(bulges, dtype=float)[:count]
        if lengths is None:
            step = ends - starts
            lengths = arc_lengths(np.hypot(step[:, 0], step[:, 1]), bulge)
        joint = np.zeros(count, dtype=bool) if smooth is None else np.asarray(smooth, dtype=bool)
        return Contours(
            starts, ends, bulge, np.asarray(lengths, dtype=float), joint,
            np.array([0, count]), np.array([closed]),
        )  # fmt: skip

    @staticmethod
    def circle(x: float, y: float, radius: float) -> Contours:
        """Return one full circle as two half arcs, counter-clockwise. [mm]"""
        return Contours.from_points([[x - radius, y], [x + radius, y]], [1.0, 1.0])

    @staticmethod
    def join(several: Sequence[Contours]) -> Contours:
        """Return all contours of `several` as one set, in order."""
        several = [c for c in several if len(c)]
        if not several:
            return Contours.empty()
        counts = np.concatenate([np.diff(c.offsets) for c in several])
        flat = {
            name: np.concatenate([getattr(c, name) for c in several])
            for name in ("starts", "ends", "bulges", "lengths", "smooth", "closed")
        }
        flat = {name: ours(values) for name, values in flat.items()}
        return Contours(**flat, offsets=np.concatenate(([0], np.cumsum(counts))))

    # --- choosing and moving ----------------------------------------------

    def __len__(self) -> int:
        return len(self.closed)

    def take(self, rows: ArrayLike) -> Contours:
        """Return the contours at `rows` (integers or a mask), in that order."""
        index = np.asarray(rows)
        index = np.flatnonzero(index) if index.dtype == bool else index.astype(np.int64)
        if len(index) == len(self) and (index == np.arange(len(self))).all():
            return self  # all of them: what is known of them stays known
        counts = np.diff(self.offsets)[index]
        first = self.offsets[:-1][index]
        inside = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        segment = np.repeat(first, counts) + inside
        offsets = np.concatenate(([0], np.cumsum(counts)))
        return self._taken(segment, ours(offsets), ours(self.closed[index]))

    def rearranged(self, segments: Ints) -> Contours:
        """Return the contours with their segments in another order, each within its contour."""
        return self._taken(segments, self.offsets, self.closed)

    def _taken(self, segments: Ints, offsets: Ints, closed: Bools) -> Contours:
        return Contours(
            ours(self.starts[segments]), ours(self.ends[segments]), ours(self.bulges[segments]),
            ours(self.lengths[segments]), ours(self.smooth[segments]), offsets, closed,
        )  # fmt: skip

    def segments_of(self, row: int) -> slice:
        """Return the slice of the flat arrays that holds contour `row`."""
        return slice(int(self.offsets[row]), int(self.offsets[row + 1]))

    def moved(self, matrix: ArrayLike, shift: ArrayLike = (0.0, 0.0)) -> Contours:
        """Return p -> matrix @ p + shift of every point; a rotation, mirror or uniform scale.

        A mirror (negative determinant) flips the sign of every bulge.  Any other matrix
        would make an arc an ellipse: InputError.
        """
        m = np.asarray(matrix, dtype=float)
        determinant = float(m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0])
        if not np.allclose(m @ m.T, abs(determinant) * np.eye(2), atol=1e-6 * abs(determinant)):
            raise InputError(f"{m.tolist()} does not keep circles round")
        scale, sign = abs(determinant) ** 0.5, np.sign(determinant)
        t = np.asarray(shift, dtype=float)
        return replace(
            self, starts=self.starts @ m.T + t, ends=self.ends @ m.T + t,
            bulges=self.bulges * sign, lengths=self.lengths * scale,
        )  # fmt: skip

    def reversed(self) -> Contours:
        """Return every contour run the other way round."""
        order = self._reverse_order
        smooth_end = np.roll(self.smooth, -1)
        last = self.offsets[1:] - 1
        smooth_end[last] = np.where(self.closed, self.smooth[self.offsets[:-1]], False)
        return replace(
            self, starts=self.ends[order], ends=self.starts[order], bulges=-self.bulges[order],
            lengths=self.lengths[order], smooth=smooth_end[order],
        )  # fmt: skip

    @cached_property
    def _reverse_order(self) -> Ints:
        first = np.repeat(self.offsets[:-1], np.diff(self.offsets))
        last = np.repeat(self.offsets[1:] - 1, np.diff(self.offsets))
        order: Ints = first + last - np.arange(len(self.bulges))
        return order

    # --- measures of segments ---------------------------------------------

    @cached_property
    def owner(self) -> Ints:
        """Contour that every segment belongs to, shape (s,)."""
        return np.repeat(np.arange(len(self)), np.diff(self.offsets))

    @cached_property
    def chords(self) -> Floats:
        """Straight distance between both ends of every segment, shape (s,). [mm]"""
        step = self.ends - self.starts
        return np.hypot(step[:, 0], step[:, 1])

    @cached_property
    def sweeps(self) -> Floats:
        """Signed angle every segment turns by, shape (s,). [rad]"""
        return 4.0 * np.arctan(self.bulges)

    @cached_property
    def radii(self) -> Floats:
        """Radius of every segment, shape (s,); infinite for a line. [mm]"""
        return radii(self.chords, self.bulges)

    @cached_property
    def start_directions(self) -> Floats:
        """Heading at the start of every segment, shape (s,). [rad]"""
        step = self.ends - self.starts
        heading = np.arctan2(step[:, 1], step[:, 0]) - self.sweeps / 2.0
        bare = np.flatnonzero(self.chords == 0.0)
        if len(bare):  # no heading of its own: that in which it is met
            at = np.where(self.chords > 0.0, np.arange(len(self.bulges)), -1)
            met = np.maximum.accumulate(at)[bare]
            owner = self.owner[bare]
            last = np.maximum.reduceat(at, self.offsets[:-1])[owner]
            ends_there = heading + self.sweeps
            found = met >= self.offsets[owner]
            heading[bare] = ends_there[np.where(found, met, last)]
            ahead = np.flatnonzero(~found & ~self.closed[owner])  # an open contour starts with it
            heading[bare[ahead]] = heading[self._first_long[owner[ahead]]]
        return heading

    @cached_property
    def _first_long(self) -> Ints:
        """First segment with a length of every contour, else its first, shape (n,)."""
        short = np.where(self.chords > 0.0, np.arange(len(self.chords)), len(self.chords))
        first: Ints = np.minimum.reduceat(short, self.offsets[:-1])
        return np.where(first < self.offsets[1:], first, self.offsets[:-1])

    @cached_property
    def end_directions(self) -> Floats:
        """Heading at the end of every segment, shape (s,). [rad]"""
        return self.start_directions + self.sweeps

    @cached_property
    def previous(self) -> Ints:
        """Segment before every segment, shape (s,); -1 at the start of an open contour."""
        before = np.arange(len(self.bulges)) - 1
        before[self.offsets[:-1]] = np.where(self.closed, self.offsets[1:] - 1, -1)
        return before

    @cached_property
    def turns(self) -> Floats:
        """Signed change of heading at the start joint of every segment, shape (s,). [rad]

        In (-pi, pi]; 0 at the start of an open contour and at smooth joints.
        """
        change = self.start_directions - self.end_directions[self.previous]
        change = wrapped(change)
        return np.where((self.previous < 0) | self.smooth, 0.0, change)

    # --- measures of contours ---------------------------------------------

    def _sum(self, values: Floats) -> Floats:
        """Sum per contour, shape (n,)."""
        total: Floats = np.bincount(self.owner, weights=values, minlength=len(self)).astype(float)
        return total

    @cached_property
    def length(self) -> Floats:
        """Drawn length of every contour, shape (n,). [mm]"""
        return self._sum(self.lengths)

    @cached_property
    def _segment_shape(self) -> tuple[Floats, Floats]:
        """Signed area between arc and chord [mm^2]; its centroid from the chord [mm]."""
        return bows(self.chords, self.bulges)

    @cached_property
    def area(self) -> Floats:
        """Signed area of every contour, positive counter-clockwise, shape (n,). [mm^2]

        An open contour has area 0.
        """
        origin = self._origin
        a, b = self.starts - origin, self.ends - origin
        cross = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2.0
        return np.where(self.closed, self._sum(cross + self._segment_shape[0]), 0.0)

    @cached_property
    def _origin(self) -> Floats:
        """First point of the segment's contour, shape (s, 2): keeps far-away drawings exact."""
        return self.starts[np.repeat(self.offsets[:-1], np.diff(self.offsets))]

    @cached_property
    def centroid(self) -> Floats:
        """Centroid of the area of every closed contour, shape (n, 2). [mm]

        Of an open or zero-area contour: the middle of its box.
        """
        a, b = self.starts - self._origin, self.ends - self._origin
        cross = (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) / 2.0
        bow, outward = self._segment_shape
        step = b - a
        with np.errstate(divide="ignore", invalid="ignore"):
            # right-hand normal of the chord: a positive bulge bows to the right
            normal = np.column_stack((step[:, 1], -step[:, 0])) / self.chords[:, None]
            normal[~np.isfinite(normal)] = 0.0
        bow_centre = (a + b) / 2.0 + normal * outward[:, None]
        moment = cross[:, None] * (a + b) / 3.0 + bow[:, None] * bow_centre
        total = np.column_stack((self._sum(moment[:, 0]), self._sum(moment[:, 1])))
        first = self.starts[self.offsets[:-1]] if len(self) else np.zeros((0, 2))
        box = self.box
        middle = (box[:, :2] + box[:, 2:]) / 2.0
        with np.errstate(divide="ignore", invalid="ignore"):
            point = first + total / self.area[:, None]
        size = (box[:, 2:] - box[:, :2]).max(axis=1, initial=0.0)
        flat = np.abs(self.area) <= 1e-12 * np.maximum(size, 1e-12) ** 2
        return np.where(flat[:, None], middle, point)

    @cached_property
    def segment_box(self) -> Floats:
        """Least x, least y, greatest x, greatest y of every segment, shape (s, 4). [mm]"""
        return boxes(self.starts, self.ends, self.bulges)

    @cached_property
    def centres(self) -> Floats:
        """Centre of every arc, shape (s, 2); not a number for a line. [mm]"""
        return centres(self.starts, self.ends, self.bulges)

    @cached_property
    def box(self) -> Floats:
        """Least x, least y, greatest x, greatest y of every contour, shape (n, 4). [mm]"""
        if not len(self):
            return np.zeros((0, 4))
        first = self.offsets[:-1]
        low = np.minimum.reduceat(self.segment_box[:, :2], first)
        high = np.maximum.reduceat(self.segment_box[:, 2:], first)
        return np.hstack((low, high))

    # --- points along the way ---------------------------------------------

    def points_at(self, segments: ArrayLike, fractions: ArrayLike) -> Floats:
        """Return the point at a fraction 0..1 of the length of segments, shape (k, 2). [mm]"""
        index = np.asarray(segments, dtype=np.int64)
        part = np.asarray(fractions, dtype=float)
        return points_along(self.starts[index], self.ends[index], self.sweeps[index] / 2.0, part)

    def flattened(self, tolerance: float = 0.01) -> Contours:
        """Return the same contours as straight chords within `tolerance` of their arcs. [mm]

        Drawn lengths are shared out over the chords; joints inside an arc are smooth.
        """
        radius, sweep = self.radii, np.abs(self.sweeps)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = 4.0 * np.arcsin(np.sqrt(np.minimum(tolerance / (2.0 * radius), 0.5)))
            pieces = np.ceil(sweep / np.minimum(step, np.pi / 2.0))
        pieces = np.clip(np.where(np.isfinite(radius), pieces, 1), 1, 4096).astype(np.int64)
        index = np.repeat(np.arange(len(pieces)), pieces)
        within = np.arange(len(index)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        starts = self.points_at(index, within / pieces[index])
        ends = np.vstack((starts[1:], np.zeros((1, 2))))[: len(index)]
        last = np.cumsum(pieces) - 1
        ends[last] = self.ends
        return Contours(
            starts, ends, np.zeros(len(index)), (self.lengths / pieces)[index],
            np.where(within > 0, True, self.smooth[index]),
            np.concatenate(([0], np.cumsum(pieces)))[self.offsets], self.closed,
        )  # fmt: skip

    def ring(self, row: int, tolerance: float = 0.01) -> Floats:
        """Return points along contour `row`, arcs split so that chords stay within `tolerance`.

        Shape (k, 2), the last point not repeated for a closed contour. [mm]
        """
        chords = self.take([row]).flattened(tolerance)
        return chords.starts if self.closed[row] else np.vstack((chords.starts, chords.ends[-1:]))
