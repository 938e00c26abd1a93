"""Offset contours to one side: where the middle of the kerf runs beside a drawn contour.

Lines stay lines and arcs stay arcs.  Seen from the offset side, a joint that bulges out
is mitred, one that recedes is trimmed where both neighbours meet, and a tangent joint
stays tangent.  This is done for all contours at once.  A contour in which something
vanishes (a fillet tighter than the distance, a notch narrower than twice it) is offset on
its own, see `analyzer.geometry.vanishing`.

The offset is local: two far-apart stretches of one contour that come nearer than twice
the distance are not noticed unless a segment vanishes, and the path then crosses itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Contours, Floats, Ints, arc_lengths, wrapped
from analyzer.geometry.vanishing import (
    ARC_STEP,
    MITRE_LIMIT,
    Pieces,
    State,
    offset_alone,
    stretch_of,
    with_slit_lengths,
)
from analyzer.tolerances import DEFAULT, Tolerances

__all__ = ["ARC_STEP", "MITRE_LIMIT", "Offset", "State", "offset_contours"]


@dataclass(frozen=True, eq=False)
class Offset:
    """Result of `offset_contours`.

    Attributes
    ----------
    path : Contours
        Row for row with the input; the number of segments may differ.
    source : ndarray of int, shape (s,)
        Input segment that every path segment came from.
    state : ndarray of int, shape (n,)
        One `State` a contour.
    """

    path: Contours
    source: Ints
    state: Ints


def offset_contours(
    contours: Contours, distance: float, *, tolerances: Tolerances = DEFAULT
) -> Offset:
    """Return `contours` moved sideways by `distance`; open ones stay as drawn.

    Parameters
    ----------
    contours : Contours
        Lines and arcs.
    distance : float
        Positive to the right of travel: outside of a counter-clockwise outline,
        inside of a clockwise cut-out. [mm]
    tolerances : Tolerances
        `smooth_deg` and `vanish` are used.

    Returns
    -------
    Offset
        Lengths of flattened curves keep the ratio of source curve to chord.

    Examples
    --------
    >>> plate = Contours.from_points([[0, 0], [300, 0], [300, 200], [0, 200]])
    >>> float(offset_contours(plate, 0.25).path.length[0])
    1002.0
    """
    count = len(contours)
    if not count:
        return Offset(contours, np.zeros(0, np.int64), np.zeros(0, np.int64))
    pieces, spoilt = _side_by_side(contours, distance, tolerances)
    state = np.full(count, State.KEPT, dtype=np.int64)
    closed = contours.closed.copy()
    good = ~spoilt[pieces.row]
    parts = [Pieces(*(getattr(pieces, name)[good] for name in Pieces.__annotations__))]
    for row in np.flatnonzero(spoilt):
        piece, state[row] = offset_alone(contours, int(row), distance, tolerances)
        closed[row] &= state[row] != State.COLLAPSED
        parts.append(piece)
    joined = {n: np.concatenate([getattr(p, n) for p in parts]) for n in Pieces.__annotations__}
    order = np.argsort(joined["row"], kind="stable")
    step = joined["ends"] - joined["starts"]
    lengths = arc_lengths(np.hypot(step[:, 0], step[:, 1]), joined["bulges"])
    path = Contours(
        joined["starts"][order], joined["ends"][order], joined["bulges"][order],
        (lengths * joined["stretch"])[order], joined["smooth"][order],
        np.concatenate(([0], np.cumsum(np.bincount(joined["row"], minlength=count)))), closed,
    )  # fmt: skip
    path = with_slit_lengths(path, contours, state, distance)
    return Offset(path, joined["source"][order], state)


# --- all contours at once -------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Joints:
    """The joint at the start of every segment. All shapes (s,) or (s, 2)."""

    before: Ints  # segment before it; itself at the start of an open contour
    turn: Floats
    shift: Floats  # offset distance, 0 for open contours
    raw_in: Floats  # offset end of the segment before
    raw_out: Floats  # offset start of this segment
    leave: Floats  # where the segment before is to end
    enter: Floats  # where this segment is to start
    mitred: Bools


def _right(heading: Floats) -> Floats:
    return np.column_stack((np.sin(heading), -np.cos(heading)))


def _ahead(heading: Floats) -> Floats:
    return np.column_stack((np.cos(heading), np.sin(heading)))


def _joints(contours: Contours, distance: float, tolerances: Tolerances) -> _Joints:
    c = contours
    before = np.where(c.previous < 0, np.arange(len(c.bulges)), c.previous)
    turn = wrapped(c.start_directions - c.end_directions[before])
    turn = np.where(c.previous < 0, 0.0, turn)
    shift = np.where(c.closed, distance, 0.0)[c.owner]
    heading_in, heading_out = c.end_directions[before], c.start_directions
    normal_in, normal_out = _right(heading_in), _right(heading_out)
    raw_in = c.starts + shift[:, None] * normal_in
    raw_out = c.starts + shift[:, None] * normal_out
    # tangent lines of both neighbours, shifted, meet on the bisector
    meet = c.starts + (shift / np.maximum(1.0 + np.cos(turn), 1e-12))[:, None] * (
        normal_in + normal_out
    )
    gentle = (np.abs(turn) <= np.radians(tolerances.smooth_deg)) | (shift == 0.0)
    gentle |= c.smooth & (np.abs(turn) < np.pi / 2.0)
    mitred = ~gentle & (turn * shift > 0.0)
    bent = c.bulges != 0.0
    trimmed = np.flatnonzero(~gentle & ~mitred & (bent | bent[before]))
    meet[trimmed] = _meeting(c, before, shift, raw_in, raw_out, meet, trimmed)
    half = np.abs(turn) / 2.0
    blunt = mitred & (np.cos(half) * MITRE_LIMIT < 1.0)
    sine = np.where(blunt, np.sin(half), 1.0)
    reach = np.where(blunt, np.abs(shift) * (MITRE_LIMIT - np.cos(half)) / sine, 0.0)
    leave = np.where(blunt[:, None], raw_in + reach[:, None] * _ahead(heading_in), meet)
    enter = np.where(blunt[:, None], raw_out - reach[:, None] * _ahead(heading_out), meet)
    return _Joints(before, turn, shift, raw_in, raw_out, leave, enter, mitred)


def _meeting(
    c: Contours, before: Ints, shift: Floats, raw_in: Floats, raw_out: Floats,
    guess: Floats, rows: Ints,
) -> Floats:  # fmt: skip
    """Where the shifted segments before and after the joints `rows` cross, nearest `guess`.

    At least one of both is an arc.  Not a number where they do not cross.
    """
    swap = (c.bulges[rows] == 0.0)[:, None]  # let the second always be an arc
    first = np.where(swap[:, 0], rows, before[rows])
    second = np.where(swap[:, 0], before[rows], rows)
    point = np.where(swap, raw_out[rows], raw_in[rows])
    centre = c.centres[second]
    radius = c.radii[second] + np.sign(c.bulges[second]) * shift[rows]
    line = c.bulges[first] == 0.0
    with np.errstate(invalid="ignore", divide="ignore"):
        # first a line through `point`, or the common chord of two circles
        other = c.centres[first]
        gap = other - centre
        apart = np.hypot(gap[:, 0], gap[:, 1])
        first_radius = c.radii[first] + np.sign(c.bulges[first]) * shift[rows]
        along = (apart**2 + radius**2 - first_radius**2) / (2.0 * apart)
        unit = gap / apart[:, None]
        chord = centre + unit * along[:, None]
        base = np.where(line[:, None], point, chord)
        heading = c.start_directions[first]
        direction = np.where(
            line[:, None], _ahead(heading), np.column_stack((-unit[:, 1], unit[:, 0]))
        )
        arm = base - centre
        b = np.einsum("ij,ij->i", arm, direction)
        root = np.sqrt(b**2 - np.einsum("ij,ij->i", arm, arm) + radius**2)
        wanted = np.einsum("ij,ij->i", guess[rows] - base, direction)
        near = np.where(np.abs(-b + root - wanted) < np.abs(-b - root - wanted), root, -root)
        found: Floats = base + direction * (near - b)[:, None]
    return found


def _side_by_side(
    contours: Contours, distance: float, tolerances: Tolerances
) -> tuple[Pieces, Bools]:
    """Offset every segment between its joints; tell the contours where that fails."""
    c = contours
    joint = _joints(c, distance, tolerances)
    bent = c.bulges != 0.0
    start = np.where((joint.mitred & bent)[:, None], joint.raw_out, joint.enter)
    end = c.ends.copy()
    linked = np.flatnonzero(c.previous >= 0)
    keeps = joint.mitred & bent[joint.before]
    end[joint.before[linked]] = np.where(keeps[:, None], joint.raw_in, joint.leave)[linked]
    bulges, lost = _new_bulges(c, joint, start, end, tolerances)
    spoilt = np.bincount(c.owner, weights=lost, minlength=len(c)) > 0

    count = len(c.bulges)
    flat = np.zeros(count)
    index = np.arange(count)
    stretch = stretch_of(c)
    before_row = joint.before
    # after the segment before: its tangent to the mitre; across a blunt tip; to the arc
    blunt = np.any(joint.leave != joint.enter, axis=1)
    blocks = (
        (index, 1, start, end, bulges, stretch, c.smooth, np.ones(count, bool)),
        (before_row, 2, joint.raw_in, joint.leave, flat, flat + 1, flat > 0, keeps),
        (index, -1, joint.leave, joint.enter, flat, flat + 1, flat > 0, joint.mitred & blunt),
        (index, 0, joint.enter, joint.raw_out, flat, flat + 1, flat > 0, joint.mitred & bent),
    )
    columns = [
        (b[0][b[7]], np.full(int(b[7].sum()), b[1]), *(array[b[7]] for array in b[2:7]))
        for b in blocks
    ]
    source, place, starts, ends, bulge, stretched, smooth = (
        np.concatenate(parts) for parts in zip(*columns, strict=True)
    )
    order = np.lexsort((place, source))
    pieces = Pieces(
        starts[order], ends[order], bulge[order], stretched[order], smooth[order],
        source[order], c.owner[source[order]],
    )  # fmt: skip
    return pieces, spoilt


def _between(a: Floats, b: Floats) -> Floats:
    """Signed angle from arm a to arm b. [rad]"""
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    angle: Floats = np.arctan2(cross, np.einsum("ij,ij->i", a, b))
    return angle


def _new_bulges(
    c: Contours, joint: _Joints, start: Floats, end: Floats, tolerances: Tolerances
) -> tuple[Floats, Bools]:
    """Bulges between the new ends, and which segments turned round, shrank away or failed."""
    bent = np.flatnonzero(c.bulges != 0.0)
    step = end - start
    forward = np.einsum("ij,ij->i", step, _ahead(c.start_directions))
    lost = ~(forward > tolerances.vanish) | (c.chords <= tolerances.vanish)
    lost |= ~np.isfinite(start).all(axis=1) | ~np.isfinite(end).all(axis=1)
    bulges = np.zeros(len(c.bulges))
    if len(bent):
        centre, sweep = c.centres[bent], c.sweeps[bent]
        shift = joint.shift[bent]
        radius = c.radii[bent] + np.sign(sweep) * shift
        raw_start = c.starts[bent] + shift[:, None] * _right(c.start_directions[bent])
        raw_end = c.ends[bent] + shift[:, None] * _right(c.end_directions[bent])
        with np.errstate(invalid="ignore"):
            turned = (
                sweep
                + _between(raw_end - centre, end[bent] - centre)
                - _between(raw_start - centre, start[bent] - centre)
            )
            size = turned * np.sign(sweep)
            kept = (size > 1e-9) & (size < 2.0 * np.pi - 1e-9) & (radius > tolerances.vanish)
        bulges[bent] = np.where(kept, np.tan(np.where(kept, turned, 0.0) / 4.0), 0.0)
        finite = np.isfinite(start[bent]).all(axis=1) & np.isfinite(end[bent]).all(axis=1)
        lost[bent] = ~(kept & finite) | (c.chords[bent] <= tolerances.vanish)
    return bulges, lost & (joint.shift != 0.0)
