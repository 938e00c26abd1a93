"""Lines of a picture as SVG elements: strokes, and stretches of edge as bands by class."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.geometry.contours import Contours, Ints
from analyzer.report.along import Runs
from analyzer.report.palette import BURR_COLOURS, BURR_WIDTHS, SPEED_COLOURS
from analyzer.report.to_html_element import Look, Raw, el, together
from analyzer.report.to_svg_paths import Frame, path_of

BAND_SHARE = 0.4  # widest band on a contour, as a share of its size: small holes stay open [-]
STEP, MOST = 3, 24  # sizes that bands are fitted to, up to where every band fits [px]


def burr_edges(
    runs: Runs, frame: Frame, px: float | None = None, wider: float = 1.0,
    points: float | None = None,
) -> Raw:  # fmt: skip
    """Return the edges of every burr class from 1 up as bands, wider and darker class by class.

    They lie under the outline, which is class 0.  px as for `Figure.drawn`; widths are `wider`
    times those of the palette, and the outline's own.  `points` [px/mm] keeps bands narrow on
    contours too small for them.
    """
    return banded(runs, frame, BURR_COLOURS, "burr", px, wider, points)


def speed_edges(
    runs: Runs, frame: Frame, px: float | None = None, wider: float = 1.0,
    points: float | None = None,
) -> Raw:  # fmt: skip
    """Return the edges by class of local speed as bands, wider and darker the slower."""
    return banded(runs, frame, SPEED_COLOURS, "speed", px, wider, points)


def banded(
    runs: Runs, frame: Frame, colours: Sequence[str], kind: str, px: float | None, wider: float,
    points: float | None,
) -> Raw:  # fmt: skip
    """Return stretches of edge as bands by class, as `burr_edges` says."""
    bands = []
    room = band_rows(runs.contours, points)[runs.row] if points else np.full(len(runs.row), MOST)
    for burr in range(1, len(BURR_WIDTHS)):
        own = runs.burr_class == burr
        for most in np.unique(room[own]).tolist():
            width = min(BURR_WIDTHS[burr] * wider + 1.0, most * BAND_SHARE)
            lines = runs.lines.take(np.flatnonzero(own & (room == most)))
            bands.append(
                path_element(
                    lines,
                    frame,
                    fill="none",
                    stroke_linejoin="round",
                    class_=f"{kind}-{burr}",
                    **stroke(colours[burr], width, px),
                )
            )
    return together(*bands)


def band_rows(contours: Contours, points: float) -> Ints:
    """Return how many pixels every contour is across, at most `MOST`, in steps; shape (n,)."""
    box = contours.box
    across = (box[:, 2:] - box[:, :2]).max(axis=1, initial=0.0) * points
    steps: Ints = (np.clip(across / STEP, 1.0, MOST // STEP).astype(np.int64)) * STEP
    return steps


def stroke(colour: str, width: float, px: float | None, *dashes: float) -> Look:
    """Return how a line is drawn, its width and dashes in pixels."""
    size = 1.0 if px is None else px
    look: Look = {"stroke": colour, "stroke_width": width * size}
    if dashes:
        look["stroke_dasharray"] = " ".join(f"{dash * size:g}" for dash in dashes)
    return look | ({"vector_effect": "non-scaling-stroke"} if px is None else {})


def path_element(contours: Contours, frame: Frame, **look: str | float) -> Raw | None:
    """Return contours as one path; None for none."""
    data = path_of(contours, frame)
    return el("path", d=data, **look) if data else None
