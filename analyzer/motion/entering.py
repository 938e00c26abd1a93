"""Where each contour is entered so that its lead-in crosses nothing.

A lead-in that crosses a mark, a bend line, an island or its own outline scars what is kept:
another corner or side is tried, nearest to the first choice in rank.  Where none is clear, the
first choice stands and the plan says so.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analyzer.geometry.contours import Bools, Floats, Ints
from analyzer.geometry.offset import Offset
from analyzer.layout.clear import blocked, lines_of
from analyzer.motion.leads import Leads, lead_ins
from analyzer.motion.order import Route, entry_choices
from analyzer.motion.path import HeadPath, head_path
from analyzer.parts.part import Part

MOST_TRIES = 12
"""Entries tried for a contour whose first is not clear."""

SHORT_OF = 0.02
"""The lead-in is looked at up to this share before its end: there it meets its contour. [-]"""


@dataclass(frozen=True, eq=False)
class Entered:
    """Path and lead-ins of a part, and the rows whose lead-in is in the way of something."""

    head: HeadPath
    leads: Leads
    blocked: Ints


def entered(part: Part, moved: Offset, route: Route, table: float, kerf: float) -> Entered:
    """Return the path entered where the lead-ins are clear, if that can be.

    Parameters
    ----------
    part : Part
        Its marks, bend lines, islands and, for the outline, its own line are in the way.
    moved : Offset
        Its contours moved to the scrap side.
    route : Route
        First choice of the entries.
    table, kerf : float
        Lead-in by table and kerf width. [mm]
    """
    head = head_path(moved, route)
    leads = lead_ins(part, head, table, kerf)
    bad = _in_the_way(part, head, leads)
    if not bad.any():
        return Entered(head, leads, np.flatnonzero(bad))
    rows = np.flatnonzero(bad)
    segments, middles = entry_choices(part.contours, rows, route.pose, MOST_TRIES)
    entry, middle = route.entry.copy(), route.middle.copy()
    for k in range(segments.shape[1]):
        left = np.flatnonzero(bad[rows])
        if not len(left):
            break
        trial_entry, trial_middle = entry.copy(), middle.copy()
        trial_entry[rows[left]] = segments[left, k]
        trial_middle[rows[left]] = middles[left, k]
        tried = head_path(moved, replace(route, entry=trial_entry, middle=trial_middle))
        still = _in_the_way(part, tried, lead_ins(part, tried, table, kerf))
        good = rows[left][~still[rows[left]]]
        entry[good], middle[good] = trial_entry[good], trial_middle[good]
        bad[good] = False
    head = head_path(moved, replace(route, entry=entry, middle=middle))
    return Entered(head, lead_ins(part, head, table, kerf), np.flatnonzero(bad))


def _in_the_way(part: Part, head: HeadPath, leads: Leads) -> Bools:
    """Which lead-ins cross a mark, a bend line, an island or, outside, the outline."""
    drawn, path = part.contours, head.path
    found = np.zeros(len(path), dtype=bool)
    has_lead = leads.lengths > 0.0
    first = path.offsets[:-1]
    ends: Floats = path.starts[first] + SHORT_OF * (leads.pierces - path.starts[first])
    things = [part.marks, part.bends, drawn.take(list(part.islands))]
    if any(len(thing) for thing in things):
        other = has_lead.copy()
        other[list(part.islands)] = False  # an island's lead-in begins in the slug around it
        rows = np.flatnonzero(other)
        found[rows] = blocked(leads.pierces[rows], ends[rows], lines_of(things))
    if len(path) and has_lead[0] and not _convex(part):
        outline = lines_of([drawn.take([0])])
        found[0] |= bool(blocked(leads.pierces[:1], ends[:1], outline)[0])
    return found


def _convex(part: Part) -> bool:
    own = part.contours.segments_of(0)
    turns, sweeps = part.contours.turns[own], part.contours.sweeps[own]
    return bool((turns >= -1e-9).all() and (sweeps >= 0.0).all())
