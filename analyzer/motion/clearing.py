"""Where outlines on a sheet are pierced: clear of neighbours, host and edge, in scrap.

Where the first choice is too near to something, another corner or side is entered.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.clearance import box_pairs, contains_points
from analyzer.geometry.contours import Bools, Contours, Floats, Ints
from analyzer.layout.clear import Lines, blocked, distances, lines_of
from analyzer.layout.layout import Layout
from analyzer.layout.spacing import windows_of
from analyzer.motion.alone import PartPlans
from analyzer.motion.plan import Plan
from analyzer.process.setting import Setting

BESIDE_CRATER = 1.0
"""Metal left between the crater of a pierce and a neighbour's kerf (common practice, no
source). [mm]"""


@dataclass(frozen=True, eq=False)
class Around:
    """What lies around the copies of a sheet.

    Attributes
    ----------
    lines : ndarray of line strings
        Outlines, cut-outs with other copies in them, the edge of the sheet.
    rings : Contours
        The outlines, then those cut-outs.
    owner : ndarray of int, shape (r,)
        The placement of every ring.
    """

    lines: Lines
    rings: Contours
    owner: Ints

    @staticmethod
    def of(layout: Layout, edge: Contours) -> Around:
        """Return what lies around the copies of `layout`."""
        outlines = layout.outlines()
        windows, hosts = windows_of(layout, outlines)
        return Around(
            lines_of([outlines, windows, edge]), Contours.join([outlines, windows]),
            np.concatenate((np.arange(len(outlines)), hosts)).astype(np.int64),
        )  # fmt: skip

    def in_metal(self, points: Floats, copies: Ints) -> Bools:
        """Return whether each point lies in the metal of another copy than its own, shape (k,)."""
        at, ring = box_pairs(np.hstack((points, points)), self.rings.box, 0.0)
        other = self.owner[ring] != copies[at]
        at, ring = at[other], ring[other]
        held = contains_points(self.rings, ring, points[at])
        inside: Ints = np.bincount(at[held], minlength=len(points))
        return np.asarray(inside % 2 == 1)  # in a cut-out of its host it lies in two


def clear_plans(
    layout: Layout, made: tuple[PartPlans, ...], setting: Setting, edge: Contours
) -> tuple[tuple[Plan, ...], Ints]:
    """Return the plan of every placement, its outline pierced clear if that can be.

    Parameters
    ----------
    layout : Layout
    made : tuple of PartPlans, one a part
    setting : Setting
        Crater, kerf and lead-in.
    edge : Contours
        Outline of the sheet, or empty.

    Returns
    -------
    tuple of Plan, one a placement
    ndarray of int, shape (k,)
        Placements for which nothing is clear.
    """
    plans = [made[p.part].plan for p in layout.placements]
    around = Around.of(layout, edge)
    bad = np.arange(len(plans))
    tries = 0
    while len(bad):
        trial = {int(k): made[layout.placements[k].part].variant(tries) for k in bad}
        good = _clear(layout, trial, around, setting)
        for k, fits in zip(trial, good, strict=True):
            if fits:
                plans[k] = trial[k]
        bad = bad[~good]
        tries += 1
        left = [made[layout.placements[k].part].count > tries for k in bad]
        if not any(left):
            break
        bad = bad[left]
    every = _clear(layout, dict(enumerate(plans)), around, setting)
    return tuple(plans), np.flatnonzero(~every)


def _clear(layout: Layout, plans: dict[int, Plan], around: Around, setting: Setting) -> Bools:
    """Whether lead-in and pierce of the outlines keep clear of everything else."""
    pierces = np.array([
        layout.placements[k].points(plan.pierces[:1])[0] for k, plan in plans.items()
    ]).reshape(-1, 2)  # fmt: skip
    starts = np.array([
        layout.placements[k].points(plan.path.starts[:1])[0] for k, plan in plans.items()
    ]).reshape(-1, 2)  # fmt: skip
    closed = np.array([bool(plan.path.closed[0]) for plan in plans.values()], dtype=bool)
    room = setting.crater_mm + setting.kerf_mm / 2.0 + BESIDE_CRATER
    # its own outline is a lead-in away from the pierce: nearer than asked in a short lead-in only
    own = np.array([float(plan.leads[0]) for plan in plans.values()])
    away = distances(pierces, around.lines, room)
    ends = starts + 0.02 * (pierces - starts)
    fits = (away >= np.minimum(room, own) - 1e-6) & ~blocked(pierces, ends, around.lines)
    fits &= ~around.in_metal(pierces, np.array(list(plans), dtype=np.int64))
    clear: Bools = np.asarray(fits | ~closed, dtype=bool)
    return clear
