"""Webs: metal heated from both sides, and shut in between two kerfs once the second is cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.effects.heat_near import Near, Pieces, near_pieces
from analyzer.effects.heat_sources import PlateHeat, Sources
from analyzer.effects.heat_sum import BothHands
from analyzer.effects.heat_targets import Targets
from analyzer.geometry.contours import Bools, Floats, Ints
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

MOST_WIDENED = 100.0
"""Widening beyond this many widths tells nothing of how a web opens. [-]"""

INWARD_STEPS = 2
"""How often a web told at the end of an even run is moved into it, a width each time."""

LEAST_WIDTH = 1e-3
"""Contours that touch have a web of this width. [mm]"""


def channel_bell(along: Floats, opens: Floats, gone: Floats, wide: Floats) -> Floats:
    """Return how heat put in at `along` lies in the middle of an opening channel. [1/mm]

    In a channel s cosh^2(b y) wide the mean T across obeys dT/dt = alpha / w d/dy (w dT/dy), and
    T cosh(b y) that of an even bar which loses heat at the rate b^2 alpha.  So it is exactly

        exp(-y^2 / 4 alpha a - b^2 alpha a) / (sqrt(4 pi alpha a) cosh(b y))

    Parameters
    ----------
    along, opens : ndarray
        y [mm] and b [1/mm].
    gone, wide : ndarray
        alpha x age, and 4 alpha x age or more for heat that was spread from the start. [mm^2]
    """
    bell: Floats = np.exp(-(along**2) / wide - opens**2 * gone) / np.sqrt(np.pi * wide)
    return bell / np.cosh(opens * along)


def _square_mean(opens: Floats) -> Floats:
    """Return the mean over a square in the middle of a web over that in its narrowest line. [-]

    For heat that lies there even but for 1 / cosh(b y), in a channel cosh^2(b y) wide; `opens`
    is b times the width.
    """
    whole, half = (np.sinh(x) / x for x in (np.maximum(opens, 1e-6), np.maximum(opens, 1e-6) / 2))
    share: Floats = 2.0 * half / (1.0 + whole)
    return share


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
        self.opens = self._opens()
        self.square = _square_mean(self.opens * self.width)

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

    def _opens(self) -> Floats:
        """Return how fast webs open: width = s cosh^2(opens y), shape (w,). [1/mm]

        Between two round holes of radius r that is about 1 / sqrt(s r).  Each side is looked at as
        if the other were its mirror image.
        """
        square: Floats = np.zeros(len(self.width))
        for near in self.sides:
            along = self.along(near) ** 2
            wide = 1.0 + 2.0 * self._opening(near) / self.width[near.target]
            each = np.arccosh(np.sqrt(np.minimum(wide, MOST_WIDENED))) ** 2
            count = len(square)
            up = np.bincount(near.target, each * along, count)
            down = np.bincount(near.target, along**2, count)
            square += np.where(down > 0.0, up / np.where(down > 0.0, down, 1.0), 0.0) / 2.0
        return np.sqrt(square)

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
        self,
        sources: Sources,
        trees: BothHands,
        plate: PlateHeat,
        plan: Plan,
        young: Floats,
        speeds: Floats,
    ) -> tuple[Floats, Floats]:
        """Rise in the middle as the head comes by on the second side, and the peak. [K]

        The first is of what was cut before the second contour began to face the web.  The peak is
        a mean over the middle of the web, as long as wide.  Both are the mean of both ways round:
        as planned, and as the other hand of the part is cut.  Those heat the web alike but for a
        few percent, by where on the edge the head comes first.
        """
        count = len(self.width)
        if not count or not len(sources):
            return np.zeros(count), np.zeros(count)
        _, sides = self._facing(np.arange(count), sources.pieces)
        ways = [self._second_side(sources, sides, plan, times) for times in sources.ways]
        asked = [
            Targets(
                self.xy, way.past, young[way.home] + way.past - way.begun, plan.begins[way.home],
                way.home,
            )
            for way in ways
        ]  # fmt: skip
        met = trees.rises(asked)
        arrival, peak = np.zeros(count), np.zeros(count)
        for rise, way, times in zip(met, ways, sources.ways, strict=True):
            whole = near_pieces(sources.pieces, self.xy, np.full(count, self.reach), way.home)
            whole = whole.take(times[whole.piece] >= (way.begun - young[way.home])[whole.target])
            second = _Second(self, sources, times, plate, speeds).highest(way, whole)
            arrival += np.where(way.met, rise, 0.0) / len(ways)
            peak += np.where(way.met, rise + second, 0.0) / len(ways)
        return arrival, peak

    def _second_side(
        self, sources: Sources, sides: tuple[Near, Near], plan: Plan, times: Floats
    ) -> _Pass:
        """Contour cut second along every web, and how it passes."""
        count = len(self.width)
        begun = [near.span(times)[0] for near in sides]
        later = np.where(begun[1] >= begun[0], 1, 0)
        facing = Near.join(
            [near.take(later[near.target] == side) for side, near in enumerate(sides)], count
        )
        home: Ints = np.zeros(count, np.int64)
        home[facing.target] = sources.rows[facing.piece]
        first = facing.span(times)[0]
        met = np.isfinite(first)
        along = self.along(facing, sources.pieces)
        past = np.full(count, -np.inf)
        for ahead in (along >= 0.0, along <= 0.0):  # a contour may begin and end in the middle
            some, off = facing.take(ahead), np.abs(along[ahead])
            order = np.lexsort((-off, some.target))  # the nearest is written last
            nearest = np.full(count, -np.inf)
            nearest[some.target[order]] = times[some.piece[order]]
            past = np.maximum(past, nearest)
        return _Pass(home, met, np.where(met, first, 0.0), np.where(met, past, 0.0), facing)


@dataclass(frozen=True, eq=False)
class _Pass:
    """How the second contour passes every web, shape (w,) each.

    Attributes
    ----------
    home : ndarray of int
        That contour.
    met : ndarray of bool
        Whether it faces the web at all; the rest is nought where not.
    begun, past : ndarray
        When it begins to face the web, and when it is over its middle for the last time. [s]
    facing : Near
        Its pieces that face the web.
    """

    home: Ints
    met: Bools
    begun: Floats
    past: Floats
    facing: Near


class _Second:
    """What the second contour brings a web, with every piece cut at one of its two times."""

    def __init__(
        self, webs: Webs, sources: Sources, times: Floats, plate: PlateHeat, speeds: Floats
    ) -> None:
        self.webs, self.sources, self.times, self.plate = webs, sources, times, plate
        self.speeds = speeds

    def highest(self, way: _Pass, whole: Near) -> Floats:
        """Highest mean rise of webs by their second contour, shape (w,). [K]

        The mean over the middle of a web, as long as wide, read as the head leaves that.  What
        does not face the web comes round as in the open plate.
        """
        read = way.past + self.webs.width / (2.0 * self.speeds[way.home])
        round_about = self._spread(whole, read) - self._spread(way.facing, read)
        highest: Floats = np.maximum(round_about, 0.0) + self._trapped(way.facing, read)
        return highest

    def _spread(self, near: Near, at: Floats) -> Floats:
        """Rise by pieces of the second contour as in the open plate, shape (w,). [K]"""
        age = at[near.target] - self.times[near.piece]
        wide = 4.0 * self.plate.diffusivity * np.maximum(age, 1e-9)
        bell = np.exp(-(near.far**2) / wide) / (np.pi * wide)
        each = np.where(age > 0.0, 2.0 * self.sources.heat[near.piece] * bell, 0.0)
        total: Floats = np.bincount(near.target, each, len(at)) / self.plate.density_heat
        return total

    def _trapped(self, facing: Near, at: Floats) -> Floats:
        """Rise by the second side shut in between two kerfs, shape (w,). [K]

        It leaves along the web only: q / (rho c s) times `channel_bell`, widened by the piece's own
        length and by the square over which the mean is taken.  Of the piece under the head what is
        cut counts.
        """
        webs, sources, piece = self.webs, self.sources, facing.piece
        opens, length = webs.opens[facing.target], sources.lengths[piece]
        since = at[facing.target] - self.times[piece]
        done = np.clip(since * self.speeds[sources.rows[piece]] / length + 0.5, 0.0, 1.0)
        gone = self.plate.diffusivity * np.maximum(since, 0.0)
        wide = 4.0 * gone + (done * length) ** 2 / np.pi + webs.width[facing.target] ** 2 / 6.0
        along = webs.along(facing, sources.pieces)
        each = done * sources.heat[piece] * channel_bell(along, opens, gone, wide)
        total = np.bincount(facing.target, each, len(at)) * webs.square
        rise: Floats = total / (self.plate.density_heat * webs.width)
        return rise
