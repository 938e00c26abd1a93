"""Webs: metal heated from both sides, and shut in between two kerfs once the second is cut."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analyzer.effects.heat_near import Near, Pieces, near_pieces
from analyzer.effects.heat_sources import PlateHeat, Sources
from analyzer.effects.heat_sum import BothHands
from analyzer.effects.heat_targets import Targets
from analyzer.geometry.contours import Floats, Ints
from analyzer.motion.plan import Plan
from analyzer.parts.part import Part

WIDEST = 1.0
"""Webs wider than this many thicknesses have no heat of their own: edges tell theirs. [-]"""

WEB_REACH = 2.0
"""Sides of a web within this many widths of its middle face it. [-]"""

ROUND_ABOUT = 2.0
"""So many thicknesses from a web the rest of its second contour still warms it. [-]"""

FACING = 0.25
"""A piece faces a web whose metal side looks across it within this cosine of straight. [-]"""

EVEN = 0.25
"""A run that opens by less than this share of the web's width is even. [-]"""

FLARE_SHARE = 0.4
"""How much of a round web's widening its heat has filled when the web is hottest: fitted to
finite differences of round holes, see docs/heat.md. [-]"""

INWARD_STEPS = 2
"""How often a web told at the end of an even run is moved into it, a width each time."""

LEAST_WIDTH = 1e-3
"""Contours that touch have a web of this width. [mm]"""


class Webs:
    """The webs of a part with the edges that face them, the same under every gas."""

    def __init__(self, part: Part, thickness: float) -> None:
        widths = np.array([web.width for web in part.webs])
        self.index = np.flatnonzero(widths <= WIDEST * thickness)
        webs = [part.webs[k] for k in self.index.tolist()]
        self.pieces, self.reach = Pieces.drawn(part.contours, thickness), ROUND_ABOUT * thickness
        self.width = np.maximum(widths[self.index], LEAST_WIDTH)
        self.xy = np.array([(web.x, web.y) for web in webs]).reshape(-1, 2)
        self.rows = np.array([web.rows for web in webs], dtype=np.int64).reshape(-1, 2)
        self.across, self.sides = self._facing(np.arange(len(webs)), self.pieces)
        for _ in range(INWARD_STEPS):
            self._move_in()
        self.flare = self._flare()

    def _facing(self, webs: Ints, pieces: Pieces) -> tuple[Floats, tuple[Near, Near]]:
        """Return the way across some webs, shape (w, 2), and the pieces of both their sides."""
        xy, reach = self.xy[webs], WEB_REACH * self.width[webs]
        one, two = (near_pieces(pieces, xy, reach, self.rows[webs, k]) for k in (0, 1))
        step = two.nearest(pieces, xy) - one.nearest(pieces, xy)
        size = np.hypot(step[:, 0], step[:, 1])
        across = step / np.where(size > 0.0, size, 1.0)[:, None]
        inward = pieces.inward
        first = (inward[one.piece] * across[one.target]).sum(axis=1) >= FACING
        second = (inward[two.piece] * across[two.target]).sum(axis=1) <= -FACING
        return across, (one.take(first), two.take(second))

    def _move_in(self) -> None:
        """Move webs told at the end of a run of even width into it, and look again there."""
        shift = self._to_the_middle()
        moved = np.flatnonzero((shift != 0.0).any(axis=1))
        if not len(moved):
            return
        self.xy = self.xy + shift
        across, sides = self._facing(moved, self.pieces)
        self.across[moved] = across
        stay = np.ones(len(self.width), bool)
        stay[moved] = False
        one, two = (
            Near.join([old.take(stay[old.target]), new.of(moved, old.count)], old.count)
            for old, new in zip(self.sides, sides, strict=True)
        )
        self.sides = one, two

    def along(self, near: Near, pieces: Pieces | None = None) -> Floats:
        """Where pieces lie along their web, from its middle, shape (p,). [mm]"""
        way, across = self._way(near, pieces)
        along: Floats = way[:, 1] * across[:, 0] - way[:, 0] * across[:, 1]
        return along

    def _opening(self, near: Near) -> Floats:
        """How much farther from the middle than half the web pieces lie, shape (p,). [mm]"""
        way, across = self._way(near)
        reach = np.abs((way * across).sum(axis=1))
        more: Floats = np.maximum(reach - self.width[near.target] / 2.0, 0.0)
        return more

    def _way(self, near: Near, pieces: Pieces | None = None) -> tuple[Floats, Floats]:
        way = (pieces or self.pieces).xy[near.piece] - self.xy[near.target]
        return way, self.across[near.target]

    def _extents(self, sides: Sequence[Near]) -> tuple[Floats, Floats]:
        """Return between which places along it both sides face a web, shape (w,) each. [mm]"""
        count = len(self.width)
        lowest, highest = np.full(count, -np.inf), np.full(count, np.inf)
        for near in sides:
            along = self.along(near)
            half = self.pieces.lengths[near.piece] / 2.0
            low, high = np.full(count, np.inf), np.full(count, -np.inf)
            np.minimum.at(low, near.target, along - half)
            np.maximum.at(high, near.target, along + half)
            lowest, highest = np.maximum(lowest, low), np.minimum(highest, high)
        return lowest, highest

    def _to_the_middle(self) -> Floats:
        """Shift from the end of a run of even width, where a web may be told, to its inside.

        Shape (w, 2). [mm]
        """
        even = [
            near.take(self._opening(near) <= EVEN * self.width[near.target]) for near in self.sides
        ]
        low, high = self._extents(even)
        run = np.isfinite(low) & np.isfinite(high) & (high > low)
        centre = (np.where(run, low, 0.0) + np.where(run, high, 0.0)) / 2.0
        centre = np.where(np.abs(centre) > EVEN * self.width, centre, 0.0)
        along = np.column_stack((-self.across[:, 1], self.across[:, 0]))
        shift: Floats = centre[:, None] * along
        return shift

    def _flare(self) -> Floats:
        """Return how fast webs widen: width = s + flare y^2, shape (w,). [1/mm]"""
        flare: Floats = np.zeros(len(self.width))
        for near in self.sides:
            square = self.along(near) ** 2
            count = len(flare)
            up = np.bincount(near.target, self._opening(near) * square, count)
            down = np.bincount(near.target, square**2, count)
            flare += np.where(down > 0.0, up / np.where(down > 0.0, down, 1.0), 0.0)
        return flare

    def bounds(self, left: float, plate: PlateHeat) -> Floats:
        """Rise of both cuts at once, shape (w,): E' / (rho c s) erf(L / s). [K]

        L is the length over which both sides face each other, at most about four widths.
        """
        if not len(self.width):
            return np.zeros(0)
        low, high = self._extents(self.sides)
        facing = np.maximum(high - low, 0.0)
        ends = np.array([math.erf(ratio) for ratio in (facing / self.width).tolist()])
        bound: Floats = left / (plate.density_heat * self.width) * ends
        return bound

    def rises(
        self, sources: Sources, trees: BothHands, plate: PlateHeat, plan: Plan, young: Floats
    ) -> tuple[Floats, Floats]:
        """Rise in the middle as the second side is begun, and the highest mean after. [K]

        The mean of both ways round: as planned, and as the other hand of the part is cut.  Both
        heat the web alike but for a few percent, by where on the edge the head comes first.
        """
        count = len(self.width)
        if not count or not len(sources):
            return np.zeros(count), np.zeros(count)
        _, sides = self._facing(np.arange(count), sources.pieces)
        ways = [self._second_side(sources, sides, plan, times) for times in sources.ways]
        asked = [
            Targets(
                self.xy, np.where(np.isfinite(at), at, 0.0), young[home], plan.begins[home], home
            )
            for home, at, _ in ways
        ]
        met = trees.rises(asked)
        arrival, peak = np.zeros(count), np.zeros(count)
        for rise, (home, at, facing), times in zip(met, ways, sources.ways, strict=True):
            whole = near_pieces(sources.pieces, self.xy, np.full(count, self.reach), home)
            whole = whole.take(times[whole.piece] >= at[whole.target])
            second = _Second(self, sources, times, plate)
            here = np.isfinite(at)
            arrival += np.where(here, rise, 0.0) / len(ways)
            peak += np.where(here, rise + second.highest(facing, whole), 0.0) / len(ways)
        return arrival, peak

    def _second_side(
        self, sources: Sources, sides: tuple[Near, Near], plan: Plan, times: Floats
    ) -> tuple[Ints, Floats, Near]:
        """Contour cut second along every web, when it begins to face it, and with which pieces."""
        count = len(self.width)
        begun = [near.span(times)[0] for near in sides]
        later = np.where(begun[1] >= begun[0], 1, 0)
        facing = Near.join(
            [near.take(later[near.target] == side) for side, near in enumerate(sides)], count
        ).in_time(times)
        home: Ints = np.zeros(count, np.int64)
        home[facing.target] = sources.rows[facing.piece]
        return home, facing.span(times)[0], facing


class _Second:
    """What the second contour brings a web, with every piece cut at one of its two times."""

    def __init__(self, webs: Webs, sources: Sources, times: Floats, plate: PlateHeat) -> None:
        self.webs, self.sources, self.times, self.plate = webs, sources, times, plate

    def highest(self, facing: Near, whole: Near) -> Floats:
        """Highest mean rise across webs by their second contour, shape (w,). [K]

        Read when the head leaves the web for good, and where it first left it for long, after
        the heat has gone across.  What does not face the web comes round as in the open plate.
        What the head met is shut in as well, so it is not let fall meanwhile.
        """
        evened = self.webs.width**2 / (16.0 * self.plate.diffusivity)
        paused, left = (moment + evened for moment in facing.leavings(self.times))
        round_about = self._spread(whole, left) - self._spread(facing, left)
        late = np.maximum(round_about, 0.0) + self._trapped(facing, left)
        return np.maximum(late, self._trapped(facing, paused))

    def _spread(self, near: Near, at: Floats) -> Floats:
        """Rise by pieces of the second contour as in the open plate, shape (w,). [K]"""
        age, wide = self._ages(near, at)
        bell = np.exp(-(near.far**2) / wide) / (np.pi * wide)
        each = np.where(age > 0.0, 2.0 * self.sources.heat[near.piece] * bell, 0.0)
        total: Floats = np.bincount(near.target, each, len(at)) / self.plate.density_heat
        return total

    def _trapped(self, facing: Near, at: Floats) -> Floats:
        """Rise by the second side shut in between two kerfs, shape (w,). [K]

        It leaves along the web only: each piece q at y gives
        q / (rho c s) exp(-y^2 / 4 alpha a) / sqrt(4 pi alpha a), with the width s the mean of
        where it has spread.
        """
        webs = self.webs
        flare = webs.flare[facing.target]
        age, wide = self._ages(facing, at)
        along = webs.along(facing, self.sources.pieces)
        bell = np.exp(-(along**2) / wide) / np.sqrt(np.pi * wide)
        width = webs.width[facing.target] + FLARE_SHARE * flare * (along**2 / 3.0 + wide / 2.0)
        each = np.where(age > 0.0, self.sources.heat[facing.piece] * bell / width, 0.0)
        total: Floats = np.bincount(facing.target, each, len(at)) / self.plate.density_heat
        return total

    def _ages(self, near: Near, at: Floats) -> tuple[Floats, Floats]:
        """Age of the heat of pieces [s], and 4 alpha times it [mm^2]."""
        age = at[near.target] - self.times[near.piece]
        return age, 4.0 * self.plate.diffusivity * np.maximum(age, 1e-9)
