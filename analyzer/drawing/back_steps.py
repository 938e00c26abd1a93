"""A contour that steps back on itself by a hair, and goes on, loses the step.

Such a step is noise of the drawing, most often where a polyline closes a little past its first
point.  Left in, the two legs of it would be read as a tip of no angle.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.drawing.drawing import Fact
from analyzer.geometry.contours import Bools, Contours, Floats, Ints, wrapped
from analyzer.geometry.near import distinct
from analyzer.tolerances import Tolerances
from analyzer.units import counted

_BACK = np.radians(150.0)  # turning more than this is going back


def without_back_steps(
    contours: Contours, of_segment: Ints, tolerances: Tolerances, facts: list[Fact]
) -> tuple[Contours, Ints]:
    """Return the contours without straight steps back of at most `join`; say so in `facts`.

    The longer neighbour is cut short or led on by the length of the step, which must lie on it
    within half of `flatten`, so nothing else of the contour moves.

    Parameters
    ----------
    contours : Contours
    of_segment : ndarray of int, shape (m,)
        The entity of every segment, negative where it is of none.
    tolerances : Tolerances
    facts : list of Fact
        Gets one where there is such a step.

    Returns
    -------
    contours : Contours
    about : ndarray of int
        The entities of the steps and of the neighbours they run back along.
    """
    nothing = np.zeros(0, np.int64)
    if not len(contours):
        return contours, nothing
    at_start, at_end = _steps(contours, tolerances)
    gone = at_start | at_end
    if not gone.any():
        return contours, nothing
    rows = np.flatnonzero(gone)
    starts, ends = contours.starts.copy(), contours.ends.copy()
    first, last = rows[at_start[rows]], rows[~at_start[rows]]
    before, after = contours.previous[first], _following(contours)[last]
    ends[before] = contours.ends[first]
    starts[after] = contours.starts[last]
    about = distinct(of_segment[np.concatenate((rows, before, after))])
    chords = np.hypot(*(ends - starts).T)
    moved = (chords != contours.chords) & (contours.chords > 0.0)
    lengths = np.where(moved, contours.lengths * chords, contours.lengths)
    lengths[moved] /= contours.chords[moved]
    longest = rows[np.argmax(contours.lengths[rows])]
    facts.append(_fact(contours.lengths[rows], contours.starts[longest]))
    kept = np.bincount(contours.owner[~gone], minlength=len(contours))
    left = replace(
        contours, starts=starts[~gone], ends=ends[~gone], bulges=contours.bulges[~gone],
        lengths=lengths[~gone], smooth=contours.smooth[~gone],
        offsets=np.concatenate(([0], np.cumsum(kept))),
    )  # fmt: skip
    return left, about[about >= 0]


def _following(contours: Contours) -> Ints:
    """Return the segment after every segment, -1 at the end of an open contour."""
    after = np.full(len(contours.bulges), -1, dtype=np.int64)
    linked = np.flatnonzero(contours.previous >= 0)
    after[contours.previous[linked]] = linked
    return after


def _steps(contours: Contours, tolerances: Tolerances) -> tuple[Bools, Bools]:
    """Return which segments are a step back from the one before, and which before the next."""
    before, after = contours.previous, _following(contours)
    short = (contours.lengths <= tolerances.join) & (contours.bulges == 0.0)
    turn = np.abs(wrapped(contours.start_directions - contours.end_directions[before]))
    at_start = short & (before >= 0) & _lies_on(contours, before, turn, tolerances)
    at_end = short & (after >= 0) & _lies_on(contours, after, turn[after], tolerances)
    gone = at_start | at_end
    alone = gone & ~(gone[before] & (before >= 0))
    count = np.bincount(contours.owner, weights=alone, minlength=len(contours))
    alone &= (np.diff(contours.offsets) - count >= 2)[contours.owner]  # something must be left
    return at_start & alone, at_end & alone


def _lies_on(contours: Contours, other: Ints, turn: Floats, tolerances: Tolerances) -> Bools:
    """Return which segments run back along their longer neighbour."""
    length = contours.lengths
    near = length * np.abs(np.sin(turn)) <= tolerances.flatten / 2.0
    # an arc is moved by no more than it is true
    plain = (contours.bulges[other] == 0.0) | (length <= tolerances.flatten)
    on: Bools = (turn >= _BACK) & (length < length[other]) & near & plain
    return on


def _fact(lengths: Floats, place: Floats) -> Fact:
    x, y = place.tolist()
    lines = counted(
        len(lengths), "line steps back on itself by", "lines step back on themselves by up to"
    )
    return Fact("back-step", f"{lines} {lengths.max():.3f} mm; left out", x, y, len(lengths))
