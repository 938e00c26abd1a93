"""What every short piece of a cut leaves in the plate: heat, place, time, and how it spreads."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.job import Job
from analyzer.motion.plan import Plan
from analyzer.process.burr import SUBSTITUTE
from analyzer.process.energy import energy_balance
from analyzer.process.load import data, number
from analyzer.process.setting import Setting

PIECE_PER_THICKNESS, LEAST_PIECE = 0.15, 1.0
"""Longest piece of a cut: this share of the thickness, at least that. [-], [mm]"""

PIECES_A_CONTOUR = 16
"""No contour is told by fewer pieces, or a small hole would be a point."""

IMAGE_RATE, IMAGE_POWER = 0.86, 1.65
"""Fit to the plate around an insulated round hole; see docs/heat.md."""


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
        What the heat counts once it has gone round its contour; 1, more among many holes. [-]
    rows : ndarray of int, shape (m,)
        Contour of the part.
    lengths : ndarray, shape (m,)
        Drawn length of every piece. [mm]
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

    def __len__(self) -> int:
        return len(self.times)

    @cached_property
    def places(self) -> shapely.STRtree:
        """Index of the middles of all pieces."""
        return shapely.STRtree(shapely.points(self.xy))

    @cached_property
    def by_row(self) -> Ints:
        """Pieces sorted by contour, in the order of time within each, shape (m,)."""
        return np.argsort(self.rows, kind="stable")


def image_share(spread: Floats) -> Floats:
    """Return how much of an insulated edge's mirror image still acts, 1 to 0, any shape. [-]

    Parameters
    ----------
    spread : ndarray
        sqrt(4 alpha age) over 2 area / perimeter of the contour. [-]
    """
    return np.exp(-IMAGE_RATE * spread**IMAGE_POWER)


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
    longest = max(PIECE_PER_THICKNESS * job.thickness_mm, LEAST_PIECE)
    step = np.minimum(longest, path.length / PIECES_A_CONTOUR)
    pieces = np.ceil(path.lengths / np.maximum(step, 1e-9)[path.owner] - 1e-9)
    pieces = np.clip(pieces, 1, None).astype(np.int64)
    segment = np.repeat(np.arange(len(pieces)), pieces)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share = (within + 0.5) / pieces[segment]
    row = path.owner[segment]
    done = np.cumsum(plan.profile.times) - plan.profile.times
    own = done - done[path.offsets[:-1]][path.owner]
    times = plan.begins[row] + own[segment] + share * plan.profile.times[segment]
    # the drawn length counts: what is left of it on the path is more or less by half a kerf
    drawn = contours.length / np.where(path.length > 0.0, path.length, 1.0)
    length = (path.lengths / pieces)[segment] * drawn[row]
    sides = np.where(contours.closed, 1.0, 2.0)[row]
    perimeter = np.where(contours.length > 0.0, contours.length, 1.0)
    across = np.maximum(2.0 * np.abs(contours.area) / perimeter, 1e-3)[row]
    order = np.lexsort((np.arange(len(times)), times))
    segment, share, row = segment[order], share[order], row[order]
    inward = _inward(path, segment, share)
    kerf = np.where(path.closed, setting.kerf_mm / 2.0, 0.0)[row]
    return Sources(
        path.points_at(segment, share) + kerf[:, None] * inward, inward, times[order],
        (heat_left(setting, job) / 2.0 * sides * length)[order], across[order],
        2.0 - sides[order], (1.0 / (1.0 - crowd))[row], row, length[order],
    )  # fmt: skip


def _inward(path: Contours, segment: Ints, share: Floats) -> Floats:
    """Unit vectors to the left of the path, where the metal of the part lies, shape (m, 2)."""
    heading = path.start_directions[segment] + share * path.sweeps[segment]
    return np.column_stack((-np.sin(heading), np.cos(heading)))
