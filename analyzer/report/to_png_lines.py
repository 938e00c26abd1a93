"""Contours and stretches of edge into matplotlib collections, thousands at a time.

Chords stay within a fraction of a pixel of the arcs.  Small maps of many lines are painted into
pixels by numpy: there a line is no wider than a pixel anyhow.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analyzer.geometry.contours import Contours, Floats, Ints
from analyzer.report.labels import samples
from analyzer.report.palette import (
    BURR_COLOURS,
    BURR_WIDTHS,
    CUT_OUT,
    FIRST_PIERCE,
    LAST_PIERCE,
    LEAD,
    METAL,
    OUTLINE,
    PIERCE,
    RAMP,
    TRAVERSE,
    UNCUT,
)  # fmt: skip
from analyzer.report.to_png_scene import Scene, Shown
from analyzer.report.to_png_words import DPI
from analyzer.report.turns import Lettering, turns_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap

TURN_SIZE, ON_MAP = 6.0, Lettering(4.2, 6.5, 3.2, 2.5)
"""Numbers of the order of cuts, and the room they take. [pt]"""

MANY = 4000
"""Segments from which small maps are painted into pixels. [-]"""

MANY_CONTOURS = 2000
"""Contours from which the fill of cut-outs covers the inner half of the bands at their edge."""

MANY_MOVES = 400
"""Moves from which they are a thin line instead of dashes, and pierces are not shown. [-]"""


def polylines(contours: Contours, tolerance: float) -> list[Floats]:
    """Return one array of points, shape (k, 2), for every contour, chords within `tolerance`."""
    if not len(contours):
        return []
    chords = contours.flattened(tolerance)
    # every contour has its starts, then its last end: one longer than its segments
    counts = np.diff(chords.offsets) + 1
    stops = np.cumsum(counts)
    points = np.empty((stops[-1], 2))
    last = np.zeros(len(points), dtype=bool)
    last[stops - 1] = True
    points[~last] = chords.starts
    points[last] = chords.ends[chords.offsets[1:] - 1]
    return np.split(points, stops[:-1])


def draw_outlines(axes: Axes, contours: Contours, tolerance: float, width: float) -> None:
    """Draw contours black: cut-outs filled grey, metal white, open lines as they are."""
    from matplotlib.collections import LineCollection, PolyCollection

    lines = polylines(contours, tolerance)
    signs = np.sign(contours.area).tolist()
    many = len(lines) > MANY_CONTOURS
    for sign, colour, zorder in ((1.0, METAL, 0.5), (-1.0, CUT_OUT, 3.0 if many else 1.0)):
        closed = [line for line, own in zip(lines, signs, strict=True) if own == sign]
        if not closed:
            continue
        edge = width if many and sign < 0.0 else 0.0
        filled = PolyCollection(
            closed, facecolors=colour, edgecolors=OUTLINE, linewidths=edge, zorder=zorder
        )
        filled.set_gid("metal" if sign > 0.0 else "cut-outs")
        axes.add_collection(filled)
    if many:  # cut-outs are filled and edged at once, which takes half as long
        lines = [line for line, own in zip(lines, signs, strict=True) if own >= 0.0]
    drawn = LineCollection(lines, colors=OUTLINE, linewidths=width, zorder=3.0)
    drawn.set_gid("outlines")
    axes.add_collection(drawn)


def draw_uncut(axes: Axes, scene: Scene, tolerance: float) -> None:
    """Draw mark lines dotted and bend lines dashed, both grey: they are not cut."""
    from matplotlib.collections import LineCollection

    for name, style in (("marks", (0, (1.0, 1.6))), ("bends", (0, (6.0, 2.0, 1.5, 2.0)))):
        lines = [
            line
            for one in scene.parts
            for line in polylines(one.moved(getattr(one.picture.part, name)), tolerance)
        ]
        if lines:
            drawn = LineCollection(
                lines, colors=UNCUT, linewidths=0.8, linestyles=[style], zorder=2.5
            )
            drawn.set_gid(name)
            axes.add_collection(drawn)


def draw_burr(axes: Axes, scene: Scene, tolerance: float, points: float) -> list[int]:
    """Draw edges of class 1 to 3 as bands under the outline; return the classes there are.

    A band is no wider than a quarter of its contour, or small holes would be filled by it;
    `points` is how many points one unit of the scene takes.
    """
    from matplotlib.collections import LineCollection

    found = []
    for burr_class in range(4):
        lines: list[Floats] = []
        widths = [np.zeros(0)]
        for one in scene.parts:
            runs = one.picture.runs
            own = runs.burr_class == burr_class
            if not own.any():
                continue
            found.append(burr_class)
            if burr_class:
                lines += polylines(one.moved(runs.lines.take(np.flatnonzero(own))), tolerance)
                box = one.contours.box[runs.row[own]]
                across = (box[:, 2:] - box[:, :2]).max(axis=1) * points
                widths.append(np.minimum(BURR_WIDTHS[burr_class] + 1.0, 0.4 * across))
        if lines:
            drawn = LineCollection(
                lines, colors=BURR_COLOURS[burr_class], linewidths=np.concatenate(widths),
                zorder=1.5 + 0.1 * burr_class, capstyle="butt",
            )  # fmt: skip
            drawn.set_gid(f"burr-{burr_class}")
            axes.add_collection(drawn)
    return sorted(set(found))


def ramp(*, backward: bool = False) -> Colormap:
    """Return the shared ramp as a colour map: light to dark, or dark to light."""
    from matplotlib.colors import LinearSegmentedColormap

    colours: Sequence[str] = RAMP[::-1] if backward else RAMP
    return LinearSegmentedColormap.from_list("ramp", list(colours), N=64)


def is_many(scene: Scene) -> bool:
    """Whether small maps of a scene are painted into pixels."""
    return len(scene.contours.bulges) > MANY


def draw_speeds(axes: Axes, scene: Scene, box: Floats, pixels: tuple[int, int]) -> None:
    """Draw edges coloured by local speed over table speed: slow is dark and wide."""
    from matplotlib.collections import LineCollection

    lines, shares = [], []
    many = is_many(scene)
    for one in scene.parts:
        speeds = one.picture.coarse_speeds if many else one.picture.speeds
        same = np.flatnonzero(speeds.row[1:] == speeds.row[:-1])
        xy = one.at(speeds.xy)
        lines.append(np.stack((xy[same], xy[same + 1]), axis=1))
        shares.append((speeds.speed[same] + speeds.speed[same + 1]) / 2.0 / speeds.table)
    line, share = np.concatenate(lines), np.clip(np.concatenate(shares), 0.0, 1.0)
    colours = ramp(backward=True)
    if many:
        points, which = _along_lines(line, float((box[2] - box[0]) / pixels[0]))
        _paint(axes, points, share[which], box, pixels, colours)
        return
    draw_thin(axes, scene, box, pixels)  # on top, so that light colours are seen in black and white
    order = np.argsort(-share, kind="stable")  # the slow ones on top
    drawn = LineCollection(
        list(line[order]),
        array=share[order],
        cmap=colours,
        linewidths=4.4 - 2.6 * share[order],
        zorder=0.9,
    )
    drawn.set_clim(0.0, 1.0)
    axes.add_collection(drawn)


def draw_order(axes: Axes, scene: Scene, box: Floats, pixels: tuple[int, int]) -> str:
    """Draw pierces, lead-ins and, dashed, the moves between contours in the order of cutting.

    Return which pierces have their number; empty where all have.
    """
    from matplotlib.collections import LineCollection

    draw_thin(axes, scene, box, pixels)
    moves = [one.at(one.picture.moves) for one in scene.parts]
    leads = [one.at(one.picture.leads) for one in scene.parts]
    count = sum(len(one) for one in moves)
    if count < MANY_MOVES:
        dashes = (0, (4.0, 2.0))
        for lines, colour, style in ((moves, TRAVERSE, dashes), (leads, LEAD, "solid")):
            axes.add_collection(
                LineCollection(
                    [line for one in lines for line in one], colors=colour, linewidths=0.8,
                    linestyles=[style], zorder=3.0,
                )
            )  # fmt: skip
        pierces = np.vstack([one.at(one.picture.pierces) for one in scene.parts])
        axes.scatter(pierces[:, 0], pierces[:, 1], s=5.0, c=PIERCE, linewidths=0.0, zorder=3.5)
    else:
        gaps = np.full((count, 1, 2), np.nan)  # one long line with gaps is drawn at once
        line = np.concatenate((np.concatenate(moves), gaps), axis=1).reshape(-1, 2)
        axes.plot(line[:, 0], line[:, 1], color=TRAVERSE, linewidth=0.35, zorder=3.0)
    first = np.array([one.at(one.picture.pierces[one.picture.order[:1]])[0] for one in scene.parts])
    last = np.array([one.at(one.picture.pierces[one.picture.order[-1:]])[0] for one in scene.parts])
    draw_ends(axes, first, last)
    return _turns(axes, scene, 72.0 * pixels[0] / DPI / float(box[2] - box[0]))


def draw_ends(axes: Axes, first: Floats, last: Floats) -> None:
    """Draw first and last pierces, shape (k, 2) each: triangles, as no mark is."""
    for places, (marker, colour), zorder, name in (
        (first, FIRST_PIERCE, 4.3, "first"), (last, LAST_PIERCE, 4.2, "last"),
    ):  # fmt: skip
        drawn = axes.scatter(
            places[:, 0], places[:, 1], s=26.0, marker=marker, c=colour, edgecolors=OUTLINE,
            zorder=zorder,
        )  # fmt: skip
        drawn.set_gid(f"{name}-pierce")


def _turns(axes: Axes, scene: Scene, points: float) -> str:
    """Write the numbers of the order; `points` for one unit of the scene. Return which they are."""
    from matplotlib.patheffects import withStroke

    told: dict[str, None] = {}
    written = np.zeros((0, 4))  # on paper, y down
    for one in scene.parts:
        places = one.at(one.picture.pierces[one.picture.order])
        size = (one.box[2:] - one.box[:2]) * points
        corner = one.box[[0, 3]] * (points, -points)
        at = places * (points, -points) - corner
        turns = turns_of(
            at, ON_MAP, (float(size[0]), float(size[1])),
            keep_off=written - np.tile(corner, 2),
        )  # fmt: skip
        middles = at[turns.numbers - 1] + turns.offsets + corner
        half = np.array([ON_MAP.half(number) for number in turns.numbers.tolist()]).reshape(-1, 2)
        written = np.vstack((written, np.hstack((middles - half, middles + half))))
        for number, dx, dy in turns.rows:
            x, y = places[number - 1].tolist()
            axes.annotate(
                str(number), (x, y), (dx, -dy), textcoords="offset points", fontsize=TURN_SIZE,
                ha="center", va="center", zorder=5.0, parse_math=False, gid=f"turn-{number}",
                path_effects=[withStroke(linewidth=1.5, foreground=METAL)],
            )  # fmt: skip
        told[turns.words] = None
    words = list(filter(None, told))
    return words[0] if len(told) == 1 and words else "numbers where there is room" * bool(words)


def draw_heat(axes: Axes, scene: Scene, box: Floats, pixels: tuple[int, int]) -> float:
    """Draw every pierce by the rise it is met with: hot is dark and large; return the highest."""
    rises = [one.picture.pierce_rises for one in scene.parts]
    rise = np.concatenate([one for one in rises if one is not None] or [np.zeros(0)])
    if not len(rise):
        return 0.0
    draw_thin(axes, scene, box, pixels)
    places = np.vstack([
        one.at(one.picture.pierces) for one in scene.parts if one.picture.pierce_rises is not None
    ])  # fmt: skip
    most = float(rise.max())
    share = rise / max(most, 1.0)
    order = np.argsort(share, kind="stable")
    large = 34.0 if len(rise) < 200 else 12.0 if len(rise) < 2000 else 4.0
    axes.scatter(
        places[order, 0], places[order, 1], s=(0.15 + share[order]) * large, c=share[order],
        cmap=ramp(), vmin=0.0, vmax=1.0, edgecolors=OUTLINE,
        linewidths=0.3 if len(rise) < 2000 else 0.0, zorder=3.0,
    )  # fmt: skip
    return most


def draw_thin(axes: Axes, scene: Scene, box: Floats, pixels: tuple[int, int]) -> None:
    """Draw outlines thin and grey, under something else."""
    from matplotlib.collections import LineCollection

    contours = scene.contours
    step = float((box[2] - box[0]) / pixels[0])
    if not is_many(scene):
        lines = polylines(contours, 0.25 * step)
        axes.add_collection(LineCollection(lines, colors="#555555", linewidths=0.5, zorder=1.0))
        return
    points = samples(contours, 0.7 * step)
    _paint(axes, points, np.zeros(len(points)), box, pixels, ramp_of_grey())


def ramp_of_grey() -> Colormap:
    """Return a colour map of one grey."""
    from matplotlib.colors import ListedColormap

    return ListedColormap(["#777777"])


def _along_lines(lines: Floats, step: float) -> tuple[Floats, Ints]:
    """Return points along straight lines, shape (n, 2, 2), and the line of each."""
    run = lines[:, 1] - lines[:, 0]
    counts = np.clip(np.ceil(np.hypot(run[:, 0], run[:, 1]) / step), 1, 2000).astype(np.int64)
    which = np.repeat(np.arange(len(lines)), counts)
    within = np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (within + 0.5) / counts[which]
    return lines[which, 0] + run[which] * share[:, None], which


def _paint(
    axes: Axes, points: Floats, values: Floats, box: Floats, pixels: tuple[int, int],
    colours: Colormap,
) -> None:  # fmt: skip
    """Paint points into pixels, the least value of each on top."""
    across, down = pixels
    size = box[2:] - box[:2]
    at = np.floor((points - box[:2]) / size * (across, down)).astype(np.int64)
    at = np.clip(at, 0, (across - 1, down - 1))
    grid = np.full(across * down, np.inf)
    np.minimum.at(grid, at[:, 1] * across + at[:, 0], values)
    image = np.ma.masked_invalid(grid.reshape(down, across))
    axes.imshow(
        image, origin="lower", extent=(box[0], box[2], box[1], box[3]), cmap=colours, vmin=0.0,
        vmax=1.0, interpolation="nearest", aspect="auto", zorder=1.0,
    )  # fmt: skip


def caption_parts(axes: Axes, parts: Sequence[Shown], size: float) -> None:
    """Write the caption of every part above it."""
    for one in parts:
        if one.caption:
            axes.annotate(
                one.caption, (one.box[0], one.box[3]), (0.0, 3.0), textcoords="offset points",
                fontsize=size, va="bottom", parse_math=False,
            )  # fmt: skip
