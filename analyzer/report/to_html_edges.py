"""Edges of one part on a page, under every gas: each contour is written once and used again.

Contours that have one burr class all round in every gas are most of a plate of many holes.  They
are written in groups of equal classes; a gas lays a band under a whole group.  Only stretches of
contours that change their class on the way are written gas by gas.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from analyzer.geometry.contours import Bools, Ints
from analyzer.parts.part import Part
from analyzer.report.along import Runs
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS, CUT_OUT, METAL, OUTLINE
from analyzer.report.to_html_element import Raw, el, together
from analyzer.report.to_svg_bands import BAND_SHARE, band_rows, burr_edges
from analyzer.report.to_svg_figure import Figure
from analyzer.report.to_svg_paths import path_of

SCREEN = 1.5  # how much wider edges of a burr class are on a screen than on paper [-]
VARIES = -1  # class of a contour that changes it on the way
KINDS = (METAL, CUT_OUT, CUT_OUT, "none")
"""Fill of outlines, cut-outs, islands that fall out, open cut lines."""


@dataclass(frozen=True, eq=False)
class Edges:
    """The lines of one part, in the order they are drawn.

    Attributes
    ----------
    ground : Raw
        Metal and cut-outs, with all geometry.
    bands : dict of str to Raw
        Under every gas, the bands of its burr classes.
    outline : Raw
        The black line on top of them.
    """

    ground: Raw
    bands: dict[str, Raw]
    outline: Raw


def edges_of(figure: Figure, part: Part, runs: Mapping[str, Runs], seen: float) -> Edges:
    """Return the lines of one part.

    Parameters
    ----------
    figure : Figure
        The picture of the part.
    part : Part
        The part.
    runs : mapping of str to Runs
        Its edges in stretches of one burr class, by gas.
    seen : float
        Width of the picture as it is mostly seen. [px]
    """
    contours, count = part.contours, len(part.contours)
    points = seen / figure.frame.width
    classes = np.array([_classes(one, count) for one in runs.values()]).reshape(len(runs), count)
    room = band_rows(contours, points)
    alike = np.vstack((_kinds(part), room, classes)).T
    groups, which = np.unique(alike, axis=0, return_inverse=True)
    fills: list[Raw] = []
    for number, (kind, *_) in enumerate(groups.tolist()):
        data = path_of(contours.take(np.flatnonzero(which.ravel() == number)), figure.frame)
        path = el("path", d=data, id=f"e-{figure.key}-{number}", vector_effect="non-scaling-stroke")
        fills.append(el("g", path, fill=KINDS[kind]))
    bands = {
        gas: together(
            *_whole_bands(figure.key, groups[:, 1], groups[:, 2 + k]),
            burr_edges(_changing(one, classes[k] == VARIES), figure.frame, wider=SCREEN,
                       points=points),
        )
        for k, (gas, one) in enumerate(runs.items())
    }  # fmt: skip
    uses = [el("use", href=f"#e-{figure.key}-{number}") for number in range(len(groups))]
    line = el("g", *uses, fill="none", stroke=OUTLINE, stroke_width=1.0, stroke_linejoin="round")
    return Edges(together(*fills), bands, together(figure.uncut(), line))


def _kinds(part: Part) -> Ints:
    """What every contour is: a row of `KINDS`, shape (n,)."""
    kinds = np.where(part.contours.closed, 1, 3)
    kinds[list(part.islands)] = 2
    kinds[:1] = np.where(part.contours.closed[:1], 0, 3)
    return kinds


def _classes(runs: Runs, count: int) -> Ints:
    """Return the burr class of every contour, `VARIES` where it changes on the way, shape (n,)."""
    least = np.full(count, len(BURR_WIDTHS))
    most = np.full(count, VARIES)
    np.minimum.at(least, runs.row, runs.burr_class)
    np.maximum.at(most, runs.row, runs.burr_class)
    known = most >= 0
    return np.where(~known, 0, np.where(least == most, most, VARIES)).astype(np.int64)


def _whole_bands(key: str, room: Ints, classes: Ints) -> list[Raw]:
    """Return the bands of groups that have one class all round."""
    bands = []
    for burr in range(1, len(BURR_WIDTHS)):
        for most in np.unique(room[classes == burr]).tolist():
            uses = [
                el("use", href=f"#e-{key}-{number}")
                for number in np.flatnonzero((classes == burr) & (room == most)).tolist()
            ]
            width = min(BURR_WIDTHS[burr] * SCREEN + 1.0, most * BAND_SHARE)
            bands.append(el("g", *uses, fill="none", stroke=BURR_COLOURS[burr],
                            stroke_width=width, class_=f"burr-{burr}"))  # fmt: skip
    return bands


def _changing(runs: Runs, rows: Bools) -> Runs:
    """Return the stretches of some contours."""
    kept = rows[runs.row]
    return Runs(runs.contours, runs.row[kept], runs.start[kept], runs.stop[kept],
                runs.burr_class[kept])  # fmt: skip
