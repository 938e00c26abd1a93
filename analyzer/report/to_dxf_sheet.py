"""A layout as DXF, to load where the cutting program is made: one sheet, one drawing.

The sheet's lower left corner is the origin and a unit a millimetre.  Cut lines keep their arcs;
all that is only for reading lies on layers whose names begin with LABELS, so that nobody cuts it.
"""

from __future__ import annotations

import io
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import numpy as np

from analyzer.errors import InputError
from analyzer.geometry.circles import true_circles
from analyzer.geometry.contours import Contours
from analyzer.process.material import material
from analyzer.reasons import spoken
from analyzer.report.sheet_words import part_names, sheet_size
from analyzer.report.to_dxf_tags import plain_text
from analyzer.report.wording import short_forms
from analyzer.units import span

if TYPE_CHECKING:
    from analyzer.one_sheet import SheetGas, SheetResult
    from analyzer.sheeting import Sheeting, SheetJob

SHEET, CUT, MARK, BEND = "SHEET", "CUT", "MARK", "BEND"
NUMBER, NAME, ORDER, TITLE = "LABELS_NUMBER", "LABELS_NAME", "LABELS_ORDER", "LABELS_TITLE"
LAYERS = {SHEET: 8, CUT: 7, MARK: 4, BEND: 3, NUMBER: 1, NAME: 5, ORDER: 30, TITLE: 7}
"""Layers and their colour index; every name says what lies on it, so colour only repeats it."""

VERSION = "R2000"
"""The oldest version that can say its unit and hold arcs within a polyline."""

MILLIMETRES = 4
LONGEST = 36  # characters of the name in a copy; below the sheet it stands whole
LETTER = 0.75  # width of a letter in heights, taken a little wide
SHARE, LEAST, MOST = 1.0 / 7.0, 1.5, 25.0  # letter height by the shorter side of a part; [mm]
PIERCE = 0.4  # radius of the ring that shows a pierce, in lead-ins of 4 mm and up [mm]
TITLE_LETTER = 20.0  # [mm]

_ONE_AT_A_TIME = threading.Lock()


def sheet_dxf(sheeting: Sheeting) -> bytes:
    """Return the one sheet there is.

    Raises
    ------
    InputError
        If there is none, or several: one drawing is one sheet.
    """
    files = sheet_files(sheeting)
    if len(files) != 1:
        words = "several sheets make several DXF files" if files else "there is no sheet to draw"
        raise InputError(
            f"{len(files)} sheets: {words}", where=sheeting.path.name,
            hint="add --out DIR: one file a sheet" if files else "",
        )  # fmt: skip
    return files[0][1]


def sheet_files(sheeting: Sheeting) -> list[tuple[str, bytes]]:
    """Return the name, without its ending, and the drawing of every sheet.

    One sheet is called as the list is; of several each adds material, thickness and its number
    on the page, as in `order_mild-steel_10mm_sheet2`.
    """
    stem = sheeting.path.stem
    all_sheets = [(job, sheet) for job in sheeting.jobs for sheet in job.sheets]
    if len(all_sheets) == 1:
        return [(stem, drawn(*all_sheets[0]))]
    found: dict[str, bytes] = {}
    for job, sheet in all_sheets:
        what = f"{stem}_{job.job.material}_{job.job.thickness_mm:g}mm"
        if f"{what}_sheet{sheet.number}" in found:  # the same steel with another surface
            what += f"_{job.job.plate}"
        name = f"{what}_sheet{sheet.number}"
        found[name] = drawn(job, sheet)
    return list(found.items())


def is_sheet_of(stem: str, name: str) -> bool:
    """Whether `name` is what one of several sheets of the list `stem` is called."""
    return re.fullmatch(rf"{re.escape(stem)}_[^_]+_[0-9.]+mm(_[a-z]+)?_sheet\d+", name) is not None


def drawn(job: SheetJob, sheet: SheetResult) -> bytes:
    """Return one sheet as a drawing: the same bytes for the same sheet."""
    from ezdxf.filemanagement import new

    with _no_date_no_random_mark():
        document = new(VERSION, units=MILLIMETRES)
        document.header["$MEASUREMENT"] = 1
        box = _extent(sheet)
        document.header["$EXTMIN"] = (*box[:2], 0.0)
        document.header["$EXTMAX"] = (*box[2:], 0.0)
        for name, colour in LAYERS.items():
            document.layers.add(name, color=colour)
        _draw(document.modelspace(), job, sheet)
        stream = io.StringIO()
        document.write(stream)
        return bytes(document.encode(stream.getvalue()))


def _extent(sheet: SheetResult) -> list[float]:
    boxes = np.concatenate((sheet.layout.outlines().box, sheet.outline.box))
    if not len(boxes):
        return [0.0, 0.0, 0.0, 0.0]
    return [*boxes[:, :2].min(axis=0).tolist(), *boxes[:, 2:].max(axis=0).tolist()]


def _draw(space: Any, job: SheetJob, sheet: SheetResult) -> None:
    _lines(space, sheet.outline, SHEET)
    for placed in sheet.layout.placements:
        part = sheet.layout.parts[placed.part]
        for contours, layer in ((part.contours, CUT), (part.marks, MARK), (part.bends, BEND)):
            _lines(space, placed.contours(contours), layer)
    if sheet.drawn is not None:
        _lines(space, sheet.drawn.skeleton, CUT)
    one = sheet.under(job.read)
    _labels(space, job, sheet, one)
    if one is not None:
        _way(space, one)
    _title(space, job, sheet, one)


@contextmanager
def _no_date_no_random_mark() -> Iterator[None]:
    """Keep the library from writing either; the switch holds for all of it."""
    from ezdxf import options  # type: ignore[attr-defined]  # documented, but not marked as such

    with _ONE_AT_A_TIME:
        before = options.write_fixed_meta_data_for_testing
        options.write_fixed_meta_data_for_testing = True
        try:
            yield
        finally:
            options.write_fixed_meta_data_for_testing = before


def _lines(space: Any, contours: Contours, layer: str) -> None:
    """Draw contours: circles as circles, all others as polylines with arcs."""
    circles = true_circles(contours)
    look = {"layer": layer}
    for row in range(len(contours)):
        if circles.round[row]:
            space.add_circle(circles.centre[row].tolist(), float(circles.radius[row]), look)
            continue
        mine = contours.segments_of(row)
        corners = np.column_stack((contours.starts[mine], contours.bulges[mine]))
        closed = bool(contours.closed[row])
        if not closed:
            corners = np.vstack((corners, (*contours.ends[mine][-1], 0.0)))
        space.add_lwpolyline(corners.tolist(), format="xyb", close=closed, dxfattribs=look)


# --- for reading only --------------------------------------------------------------------


def _labels(space: Any, job: SheetJob, sheet: SheetResult, one: SheetGas | None) -> None:
    """Write into every part its place in the order of cuts, and its name."""
    plain = {name: _plain(words) for name, words in part_names(job).items()}
    short = short_forms(plain.values(), LONGEST)
    names = {name: short[words] for name, words in plain.items()}
    copies = one.plan.copies.tolist() if one is not None else range(len(sheet.layout.placements))
    box = sheet.layout.outlines().box
    middle, size = (box[:, :2] + box[:, 2:]) / 2.0, box[:, 2:] - box[:, :2]
    for number, copy in enumerate(copies, 1):
        x, y = middle[copy].tolist()
        across = float(size[copy, 0])
        high = min(max(SHARE * float(size[copy].min()), LEAST), MOST)
        name = names[sheet.names[sheet.layout.placements[copy].part]]
        fits = min(0.6 * high, 0.9 * across / (LETTER * max(len(name), 1)))
        _text(space, str(number), (x, y + 0.2 * high), high, NUMBER, centred=True)
        _text(space, name, (x, y - 1.1 * high), max(fits, LEAST / 3.0), NAME, centred=True)


def _plain(name: str) -> str:
    """Return a name without the ending every drawing has."""
    stem, hash_mark, number = name.partition("#")
    path = PurePath(stem)
    return (path.stem if path.suffix.lower() == ".dxf" else stem) + hash_mark + number


def _way(space: Any, one: SheetGas) -> None:
    """Draw the way of the head from pierce to pierce, a ring at each."""
    plan, look = one.plan, {"layer": ORDER}
    places = [plan.pierces]
    if plan.skeleton is not None:
        places.append(plan.skeleton.pierces[plan.skeleton.order])
    points = np.vstack(places)
    if len(points) > 1:
        space.add_lwpolyline(points.tolist(), format="xy", dxfattribs=look)
    radius = PIERCE * max(one.setting.lead_mm / 4.0, 1.0)
    for x, y in points.tolist():
        space.add_circle((x, y), radius, look)


def _title(space: Any, job: SheetJob, sheet: SheetResult, one: SheetGas | None) -> None:
    """Write below the sheet what it is, how often it is cut, and what lies on it."""
    for row, words in enumerate(_title_words(job, sheet, one), 1):
        _text(space, words, (0.0, -1.8 * TITLE_LETTER * row), TITLE_LETTER, TITLE)


def _title_words(job: SheetJob, sheet: SheetResult, one: SheetGas | None) -> Iterator[str]:
    what, names = job.job, part_names(job)
    size = sheet_size(sheet)
    yield (
        f"{PurePath(job.file).name}, sheet {sheet.number} of {len(job.sheets)}"
        f"{' ' + size if size else ''}: cut it {_times(sheet.copies)}"
    )
    gas = f", {spoken(one.gas)}, {span(one.timing.total)} a sheet" if one is not None else ""
    yield f"{material(what.material).words} {what.thickness_mm:g} mm, {what.power_kw:g} kW{gas}"
    yield from (
        f"{count} x {_plain(names[sheet.names[part]])}" for part, count in sheet.counts.items()
    )
    if one is not None:
        yield f"Numbers and the way on {ORDER}: our order of cuts, a forecast; your program decides"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _text(
    space: Any, words: str, at: tuple[float, float], height: float, layer: str, *,
    centred: bool = False,
) -> None:  # fmt: skip
    from ezdxf.enums import TextEntityAlignment

    text = space.add_text(plain_text(words), height=height, dxfattribs={"layer": layer})
    align = TextEntityAlignment.BOTTOM_CENTER if centred else TextEntityAlignment.LEFT
    text.set_placement(at, align=align)
