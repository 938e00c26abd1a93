"""What comes loose: how a part and its slugs lie, tip or fall, and how readily they let go.

A part is looked at in its canonical pose, so that turning a drawing changes nothing:
`along` has the slats along its long side (its least width lies across them), `across` has
them across it.  Where several poses tie, the worse result counts.  Gravity tips in every
gas; the jet comes on top.  Formulas and limits of validity: docs/drop.md.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np

from analyzer.effects.drop_chances import Chances, Slats, alike, bent_ones, lie_chances
from analyzer.effects.drop_data import gas_factor, perpendicularity
from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.geometry.offset import offset_contours
from analyzer.job import Job
from analyzer.layout.alone import Pose, canonical_poses
from analyzer.parts.part import Part
from analyzer.process.flow import bore_of
from analyzer.process.machine import Machine
from analyzer.process.material import material
from analyzer.process.setting import Setting

GRAVITY = 9.80665  # standard acceleration, ISO 80000-3 [m/s^2]
SAFE = 0.01  # a way to lie with less chance to tip or fall than this is safe [-]
BAR = 0.1  # [N/mm^2]
QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])  # y to x


@dataclass(frozen=True)
class Lie:
    """One way to lie on the slats.

    Attributes
    ----------
    falls, tips, still : float
        Chances over all slat offsets; they add up to 1. [-]
    width : float
        Extent across the slats. [mm]
    lever : float
        How high an edge can come up when the piece tips freely; 0 where it cannot. [mm]
    """

    falls: float
    tips: float
    still: float
    width: float
    lever: float

    @property
    def unstable(self) -> float:
        """Chance to tip or fall. [-]"""
        return self.falls + self.tips

    @property
    def safe(self) -> bool:
        """Whether it lies still at every offset, but for a hundredth."""
        return self.unstable <= SAFE


@dataclass(frozen=True, eq=False)
class OnSlats:
    """A part on the bed, the same under every gas.

    Attributes
    ----------
    part, machine, slats : Part, Machine, Slats
        What lies on what.
    poses : tuple of Pose
        Its canonical poses.
    along, across : Lie
        Both ways to lie.
    cut_outs, sorts : ndarray of int, shape (m,)
        Its cut-outs, rows of its contours, and the sort of each.
    models : ndarray of int, shape (k,)
        Row of one cut-out of every sort.
    """

    part: Part
    machine: Machine
    slats: Slats
    poses: tuple[Pose, ...]
    along: Lie
    across: Lie
    cut_outs: Ints
    sorts: Ints
    models: Ints

    @cached_property
    def slugs_by_kerf(self) -> dict[tuple[float, float, float], Slugs]:
        """Slugs known so far, by kerf, clearance and thickness: several gases share them."""
        return {}


@dataclass(frozen=True, eq=False)
class Slugs:
    """Slugs of one part under one gas: its cut-outs less the kerf, k rows.

    Attributes
    ----------
    rows : ndarray of int, shape (k,)
        Contour of the part; a cut-out the kerf fills leaves no slug.
    area : ndarray, shape (k,)
        [mm^2]
    along, across : Chances
        With the slats as for the part.
    raised : ndarray, shape (k, 2)
        Height its edge comes up to when it tips, in both ways: it turns until it jams in
        its hole, or freely. [mm]
    """

    rows: Ints
    area: Floats
    along: Chances
    across: Chances
    raised: Floats


@dataclass(frozen=True, eq=False)
class DropForecast:
    """What comes loose of one part under one gas.

    Attributes
    ----------
    machine : Machine
        Whose slats and stand-off.
    width, height : float
        Extent of the part in its canonical pose, the least first. [mm]
    along, across : Lie
        The part with the slats along and across its long side.
    slugs : Slugs
        What falls out of its cut-outs.
    clearance : float
        Diameter of a hole less that of its slug: two kerfs less the taper of the cut. [mm]
    jam_deg : float
        Tilt at which a piece wedges in its hole, clearance over thickness. [degrees]
    ease : float
        How readily it drops: clearance over thickness x gas factor. [-]
    weight_n, jet_n : float
        Weight of the part, and push of the jet on it. [N]
    """

    machine: Machine
    width: float
    height: float
    along: Lie
    across: Lie
    slugs: Slugs
    clearance: float
    jam_deg: float
    ease: float
    weight_n: float
    jet_n: float

    @property
    def safest(self) -> str:
        """The way with the least chance to tip or fall: "along" or "across" (on a tie)."""
        return "along" if self.along.unstable < self.across.unstable else "across"


def lay_on_slats(part: Part, machine: Machine) -> OnSlats:
    """Return how `part` lies on the bed of a machine, whatever the gas."""
    slats = Slats(machine.slat_pitch_mm, machine.slat_thickness_mm)
    poses = canonical_poses(part.contours)
    outline, centroid = part.contours.take([0]), centroid_of(part)
    along, across = _worst_of(outline, centroid[None, :], slats, poses)
    cut_out = part.contours.area < 0.0
    cut_out[list(part.islands)] = False
    rows = np.flatnonzero(cut_out)
    chosen, sorts = alike(part.contours.take(rows))
    return OnSlats(
        part, machine, slats, poses, _lie(along), _lie(across), rows, sorts, rows[chosen]
    )  # fmt: skip


def forecast_drop(bed: OnSlats, setting: Setting, job: Job) -> DropForecast:
    """Return what comes loose of a part under one gas.

    Parameters
    ----------
    bed : OnSlats
        The part on its slats.
    setting, job : Setting, Job
        Kerf, pressure and nozzle; material and thickness.
    """
    t = job.thickness_mm
    clearance = 2.0 * setting.kerf_mm - perpendicularity(t)
    weight = material(job.material).weight_kg(bed.part.area, t) * GRAVITY
    return DropForecast(
        machine=bed.machine, width=bed.poses[0].width, height=bed.poses[0].height,
        along=bed.along, across=bed.across,
        slugs=_slugs(bed, setting.kerf_mm, max(clearance, 0.0), t),
        clearance=clearance, jam_deg=float(np.degrees(clearance / t)),
        ease=clearance / t * gas_factor(setting.gas, job.material, t),
        weight_n=weight, jet_n=jet_force(setting.pressure_bar, bore_of(setting.nozzle).bore_mm),
    )  # fmt: skip


def jet_force(pressure_bar: float, bore: float) -> float:
    """Return the push of the jet, gauge pressure x bore area: an upper bound. [N]

    Parameters
    ----------
    pressure_bar, bore : float
        Gauge pressure [bar] and bore of the nozzle [mm].

    Examples
    --------
    >>> round(jet_force(10.0, 2.0), 1), round(jet_force(0.8, 1.5), 2)
    (3.1, 0.14)
    """
    return pressure_bar * BAR * float(np.pi) * bore**2 / 4.0


def raised_edge(lever: Floats, width: Floats, clearance: float, thickness: float) -> Floats:
    """Return how high the edge of a tipping piece comes up in its hole, shape (n,). [mm]

    Tilted by a, a plate of `width` and `thickness` takes width cos a + thickness sin a of
    a hole that is `clearance` wider than the plate.  It jams where that is full; a piece
    wide against its thickness never jams and turns freely: then the edge comes up to the
    whole lever.

    Examples
    --------
    >>> raised_edge(np.array([5.0, 30.0]), np.array([10.0, 60.0]), 0.7, 5.0).round(2)
    array([ 0.84, 30.  ])
    """
    whole = np.hypot(width, thickness)
    with np.errstate(invalid="ignore"):
        tilt = np.arctan2(thickness, width) - np.arccos((width + clearance) / whole)
    free = width + clearance >= whole
    return np.where(free, lever, lever * np.sin(np.where(free, 0.0, tilt)))


# --- one part ----------------------------------------------------------------------------


def centroid_of(part: Part) -> Floats:
    """Return the centroid of the metal, shape (2,): outline less cut-outs and their islands."""
    contours = part.contours
    area = np.array(contours.area)
    area[list(part.islands)] = 0.0
    if area.sum() <= 0.0:
        return np.asarray(contours.centroid[0])
    return np.asarray((contours.centroid * area[:, None]).sum(axis=0) / area.sum())


def _worst_of(
    outlines: Contours, centroids: Floats, slats: Slats, poses: tuple[Pose, ...]
) -> tuple[Chances, Chances]:
    """Return the chances with the slats along and across, the worst of all poses each."""
    bent = bent_ones(outlines, centroids)
    known: dict[int, Chances] = {}

    def at(matrix: Floats) -> Chances:
        # half a turn changes nothing, so a square has only two directions
        angle = float(np.arctan2(matrix[0, 1], matrix[0, 0])) / np.pi
        key = round(angle * 1e9) % round(1e9)
        if key not in known:
            turned = centroids @ matrix.T
            known[key] = lie_chances(outlines.moved(matrix), turned, slats, bent.moved(matrix))
        return known[key]

    along = _worse([at(pose.matrix) for pose in poses])
    return along, _worse([at(QUARTER @ pose.matrix) for pose in poses])


def _worse(several: list[Chances]) -> Chances:
    """Return, piece by piece, the chances that leave it least likely to lie still."""
    if len(several) == 1:
        return several[0]
    still = np.stack([one.still for one in several])
    pick = still.argmin(axis=0)
    rows = np.arange(still.shape[1])
    return Chances(
        *(np.stack([getattr(one, f.name) for one in several])[pick, rows] for f in fields(Chances))
    )


def _lie(chances: Chances) -> Lie:
    return Lie(*(float(getattr(chances, f.name)[0]) for f in fields(Chances)))


def _slugs(bed: OnSlats, kerf: float, clearance: float, thickness: float) -> Slugs:
    """Shrink the cut-outs by the kerf and lay them on the slats as the part lies."""
    key = kerf, clearance, thickness
    if key not in bed.slugs_by_kerf:
        bed.slugs_by_kerf[key] = _slugs_of(bed, *key)
    return bed.slugs_by_kerf[key]


def _slugs_of(bed: OnSlats, kerf: float, clearance: float, thickness: float) -> Slugs:
    shrunk = offset_contours(bed.part.contours.take(bed.models), kerf).path
    left = np.flatnonzero(shrunk.closed & (shrunk.area < 0.0))
    some = shrunk.take(left)
    along, across = _worst_of(some, some.centroid, bed.slats, bed.poses)
    # from one of each sort to all of them
    place = np.full(len(shrunk), -1)
    place[left] = np.arange(len(left))
    sort = place[bed.sorts]
    rows, sort = bed.cut_outs[sort >= 0], sort[sort >= 0]
    along, across = _repeat(along, sort), _repeat(across, sort)
    raised = np.column_stack(
        [raised_edge(way.lever, way.width, clearance, thickness) for way in (along, across)]
    )
    return Slugs(rows, np.abs(some.area)[sort], along, across, raised)


def _repeat(chances: Chances, rows: Ints) -> Chances:
    return Chances(*(getattr(chances, f.name)[rows] for f in fields(Chances)))
