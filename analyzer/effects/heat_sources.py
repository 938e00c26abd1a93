"""What every short piece of a cut leaves in the plate: heat, place, time, and how it spreads."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np

from analyzer.effects.heat_near import Pieces, cut_up, leftward
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.job import Job
from analyzer.motion.order import round_rows
from analyzer.motion.plan import Plan
from analyzer.process.burr import SUBSTITUTE
from analyzer.process.energy import energy_balance
from analyzer.process.load import data, number
from analyzer.process.setting import Setting

LEAST_WAY = 1e-3
"""Places nearer than that are one. [mm]"""

IMAGE_RATE, IMAGE_POWER = 0.86, 1.65
"""Fit to the plate around an insulated round hole; see docs/heat.md."""

IMAGE_GONE = 8.0
"""From there on less than 1e-11 of the image is left, and most pieces are older than that. [-]"""

SLUG_HALF = 4.0
"""alpha x time / radius^2 at which half of a slug's heat has left it; see docs/heat.md. [-]"""


@dataclass(frozen=True)
class PlateHeat:
    """The warm plate.

    Attributes
    ----------
    density_heat : float
        Density x specific heat. [J/mm^3 K]
    diffusivity : float
        [mm^2/s]
    memory : float
        Time after which loss to the air has taken all but 1/e: rho c d / 2 h. [s]
    """

    density_heat: float
    diffusivity: float
    memory: float

    @staticmethod
    def of(job: Job) -> PlateHeat:
        """Return the plate of a job; copper and brass are taken as aluminium."""
        plates = data("heat")["plate"]
        row = plates.get(job.material, plates[SUBSTITUTE])
        density_heat = float(row["density_heat_j_mm3k"])
        film = number("heat", "loss", "film_w_m2k") * 1e-6  # [W/mm2 K]
        return PlateHeat(
            density_heat, float(row["diffusivity_mm2_s"]),
            density_heat * job.thickness_mm / (2.0 * film),
        )  # fmt: skip


def heat_left(setting: Setting, job: Job) -> float:
    """Return the heat a long cut leaves in the plate, both sides together. [J/mm^2 of cut]

    E' = P_cond / (v d), the conduction loss of the cutting front over speed and thickness [1]_.
    It is that of the table speed: where the head is slower, the power is lowered with it.

    References
    ----------
    .. [1] Schulz, Becker, Franke, Kemmerling, Herziger, J. Phys. D 26 (1993) 1357-1363; an
       upper estimate, 0.65 to 1 of it is the honest band.
    """
    balance = energy_balance(
        job.material, job.thickness_mm, setting.kerf_mm, setting.speed_m_per_min, job.power_kw
    )
    return balance.conduction_w / (setting.speed_mm_s * job.thickness_mm)


@dataclass(frozen=True, eq=False)
class Sources:
    """Pieces of cuts, in the order of time.

    Attributes
    ----------
    xy : ndarray, shape (m, 2)
        Middle of every piece, on the metal's side of the kerf. [mm]
    inward : ndarray, shape (m, 2)
        Unit vector into the metal there. [-]
    times : ndarray, shape (m,)
        When it was cut. [s]
    heat : ndarray, shape (m,)
        Heat into the metal's side, of an open cut into both. [J per mm of thickness]
    across : ndarray, shape (m,)
        2 area / perimeter of its contour: how far around its edge is nearly straight. [mm]
    sided : ndarray, shape (m,)
        1 where the metal lies on one side, 0 for an open cut. [-]
    late : ndarray, shape (m,)
        What the heat counts once it has gone round its contour: 1, more by what the slug passed
        on and among many holes. [-]
    rows : ndarray of int, shape (m,)
        Contour of the part.
    lengths : ndarray, shape (m,)
        Drawn length of every piece. [mm]
    back : ndarray, shape (m,)
        When it is cut where every contour is run the other way round, begun and ended at the
        same time and place: so the other hand of a part is cut.  `times` if not given. [s]
    """

    xy: Floats
    inward: Floats
    times: Floats
    heat: Floats
    across: Floats
    sided: Floats
    late: Floats
    rows: Ints
    lengths: Floats
    back: Floats = field(default_factory=lambda: np.zeros(0))

    def __post_init__(self) -> None:
        if len(self.back) != len(self.times):
            object.__setattr__(self, "back", self.times)

    def __len__(self) -> int:
        return len(self.times)

    @property
    def ways(self) -> tuple[Floats, Floats]:
        """When every piece is cut: as planned, and with every contour run the other way round."""
        return self.times, self.back

    def other_hand(self) -> Sources:
        """Return them as cut the other way round, in that order of time."""
        order = np.lexsort((-np.arange(len(self.back)), self.back))
        swapped = replace(self, times=self.back, back=self.times)
        return Sources(*(getattr(swapped, f.name)[order] for f in fields(Sources)))

    @cached_property
    def pieces(self) -> Pieces:
        """Where they lie, whatever the time."""
        return Pieces(self.xy, self.inward, self.rows, self.lengths)


def image_share(spread: Floats) -> Floats:
    """Return how much of an insulated edge's mirror image still acts, 1 to 0, any shape. [-]

    Parameters
    ----------
    spread : ndarray
        sqrt(4 alpha age) over 2 area / perimeter of the contour. [-]
    """
    share: Floats = np.zeros(len(spread))
    some = np.flatnonzero(spread < IMAGE_GONE)
    share[some] = np.exp(-IMAGE_RATE * spread.take(some) ** IMAGE_POWER)
    return share


def sources_of(
    contours: Contours, plan: Plan, setting: Setting, job: Job, crowd: Floats
) -> Sources:
    """Return the pieces of all cuts of a part.

    Parameters
    ----------
    contours : Contours
        As drawn, metal on the left.
    plan : Plan
        Its plan; within a path segment the speed is taken as constant.
    crowd : ndarray, shape (n,)
        Share of the plate around every contour that cut-outs take away. [-]
    """
    path = plan.path
    segment, share, pieces = cut_up(path, job.thickness_mm)
    row = path.owner[segment]
    start, moving = _times_under_way(plan)
    done = np.cumsum(moving) - moving
    own = done - done[path.offsets[:-1]][path.owner]
    after = own[segment] + share * moving[segment]
    whole: Floats = np.bincount(path.owner, moving, len(path)).astype(float, copy=False)
    entered = (plan.begins + start)[row]
    times, back = entered + after, entered + whole[row] - after
    # the drawn length counts: what is left of it on the path is more or less by half a kerf
    drawn = contours.length / np.where(path.length > 0.0, path.length, 1.0)
    length = (path.lengths / pieces)[segment] * drawn[row]
    sides = np.where(contours.closed, 1.0, 2.0)[row]
    perimeter = np.where(contours.length > 0.0, contours.length, 1.0)
    across = np.maximum(2.0 * np.abs(contours.area) / perimeter, 1e-3)[row]
    slug = slug_passed_on(contours, whole, PlateHeat.of(job))
    order = np.lexsort((np.arange(len(times)), times))
    segment, share, row = segment[order], share[order], row[order]
    inward = leftward(path, segment, share)
    kerf = np.where(path.closed, setting.kerf_mm / 2.0, 0.0)[row]
    xy = path.points_at(segment, share) + kerf[:, None] * inward
    xy, inward = _rounds_begun_alike(plan, xy, inward, row)
    return Sources(
        xy, inward, times[order],
        (heat_left(setting, job) / 2.0 * sides * length)[order], across[order],
        2.0 - sides[order], ((1.0 + slug) / (1.0 - crowd))[row], row, length[order], back[order],
    )  # fmt: skip


def _times_under_way(plan: Plan) -> tuple[Floats, Floats]:
    """Return how long contours take to start, shape (n,), and segments without start and stop. [s]

    The head enters from its lead-in at full speed and ends at rest, whichever way round it goes.
    Spread over the last segment, its stop of 5 to 10 ms would make the two ways unlike.
    """
    path, profile = plan.path, plan.profile
    speed = np.where(profile.ceiling > 0.0, profile.ceiling, np.inf)
    late = np.maximum(profile.times - profile.lengths / speed, 0.0)
    moving, start = profile.times.copy(), np.zeros(len(path))
    some = np.flatnonzero(np.diff(path.offsets) > 0)
    first, last = path.offsets[some], path.offsets[some + 1] - 1
    moving[last] -= np.where(profile.exit[last] < profile.ceiling[last], late[last], 0.0)
    slow = (first < last) & (profile.entry[first] < profile.ceiling[first])
    start[some] = np.where(slow, late[first], 0.0)
    moving[first] -= start[some]
    return start, moving


def slug_passed_on(contours: Contours, seconds: Floats, plate: PlateHeat) -> Floats:
    """Return the share of a slug's heat that leaves it for the plate before it is cut free.

    Shape (n,); 0 for outlines, whose slug is the rest of the plate, and for open cuts.

    Parameters
    ----------
    seconds : ndarray, shape (n,)
        How long every contour takes. [s]

    Notes
    -----
    F / (F + `SLUG_HALF`), F = alpha seconds / (2 area / perimeter)^2: a fit to a disc cut out of a
    plate by finite differences, docs/heat.md.
    """
    perimeter = np.where(contours.length > 0.0, contours.length, 1.0)
    across = np.maximum(2.0 * np.abs(contours.area) / perimeter, 1e-3)
    reached = plate.diffusivity * seconds / across**2
    cut_out = contours.closed & (contours.area < 0.0)
    share: Floats = np.where(cut_out, reached / (reached + SLUG_HALF), 0.0)
    return share


def _rounds_begun_alike(plan: Plan, xy: Floats, inward: Floats, row: Ints) -> tuple[Floats, Floats]:
    """Turn the pieces of circles about their centres so that each is begun towards one place.

    A circle is drawn from the right or from anywhere, which says nothing of where the head
    enters it and changes when a drawing is turned.  It is taken as entered towards where the
    cutting ends; a circle that ends it, or lies there, towards where it begins.
    """
    path, order = plan.path, plan.order
    rounds = round_rows(path)
    if not rounds.any():
        return xy, inward
    middle, start = path.centroid, path.starts[path.offsets[:-1]]
    places = np.where(rounds[:, None], middle, start)
    goal = places - middle
    for ends in (order[0], order[len(order) // 2], order[-1]):  # the last that is not here counts
        way = places[ends] - middle
        there = np.hypot(way[:, 0], way[:, 1]) > LEAST_WAY
        goal = np.where(there[:, None], way, goal)
    way = start - middle
    turn = np.arctan2(goal[:, 1], goal[:, 0]) - np.arctan2(way[:, 1], way[:, 0])
    turn = np.where(rounds & (np.abs(goal) > 0.0).any(axis=1), turn, 0.0)[row]
    c, s = np.cos(turn), np.sin(turn)
    arm = xy - middle[row]
    xy = middle[row] + np.column_stack(
        (c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1])
    )
    turned = np.column_stack(
        (c * inward[:, 0] - s * inward[:, 1], s * inward[:, 0] + c * inward[:, 1])
    )
    return xy, turned
