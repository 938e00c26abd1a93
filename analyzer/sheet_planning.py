"""From a part list or a drawn sheet to minutes, gas and money per sheet: the stations joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from analyzer.analysis import analyse_parts, settings_in
from analyzer.drawing.reading import ReadOptions, read_drawing
from analyzer.errors import InputError
from analyzer.geometry.contours import Contours
from analyzer.job import Job
from analyzer.layout.alone import canonical_poses
from analyzer.layout.read_sheet import drawn_sheet
from analyzer.one_sheet import SheetResult
from analyzer.orders import Given, Line, job_of_line
from analyzer.packing.demand import Demand
from analyzer.packing.pack import Packing
from analyzer.packing.stock import Stock
from analyzer.part_list import Wanted, is_list, read_part_list
from analyzer.parts.part import Part
from analyzer.rules.limits import Limits, load_limits
from analyzer.rules.rule import Draft
from analyzer.rules.sheet import TooLarge, larger_than_sheets
from analyzer.sheet_drawings import Reader, Source, grouped, named, pieces_of
from analyzer.sheet_order import SheetOptions, order_of
from analyzer.sheet_results import Bench, sheet_result
from analyzer.sheet_spacing import gap_for, margin_for
from analyzer.sheet_sums import answer_of, marked
from analyzer.sheeting import NamedDrawing, NotPlaced, RefusedRow, Sheeting, SheetJob
from analyzer.shop import Shop, load_shop
from analyzer.what_if import common_line, size_rows, without_some


def plan_sheets(
    path: Path | str, given: Given | None = None, shop: Shop | None = None,
    options: SheetOptions | None = None, reading: ReadOptions | None = None,
) -> Sheeting:  # fmt: skip
    """Return the sheets of a part list, or of a drawing that already is a laid-out sheet.

    Parameters
    ----------
    path : Path or str
        A list (.csv or .toml), or a DXF file.
    given : Given, optional
        Material, thickness, power and so on where list and shop file are silent.
    shop : Shop, optional
        The shop; start values where not given.
    options : SheetOptions, optional
        Stock, gaps, turns, effort, seed.
    reading : ReadOptions, optional
        Units, layer roles, tolerances and limits on input.

    Raises
    ------
    InputError
        If the list or the drawing cannot be read, or no row of the list can be used.
    """
    path, in_force = Path(path), shop or load_shop(None, None)
    told = (given or Given()).over(in_force)
    chosen, read = options or SheetOptions(), reading or ReadOptions()
    if is_list(path):
        return _from_list(path, told, in_force, chosen, read)
    return _from_drawing(path, told, in_force, chosen, read)


# --- from a list -------------------------------------------------------------------------


def _from_list(
    path: Path, given: Given, shop: Shop, options: SheetOptions, reading: ReadOptions
) -> Sheeting:
    turns = options.turns or shop.sheets.turns or "90"
    rows, bad = read_part_list(path, given, shop, turns)
    refused = [RefusedRow(row.drawing, row.line, row.reason) for row in bad]
    reader = Reader(reading)
    jobs: list[SheetJob] = []
    for group in grouped(rows):
        job = _list_job(path, group, reader, shop, options, refused)
        if job is not None:
            jobs.append(job)
    if not jobs:
        first = min(refused, key=lambda row: row.line)
        raise InputError(f"no row can be used; line {first.line}: {first.reason}", where=str(path))
    return Sheeting(path, tuple(jobs), tuple(sorted(refused, key=lambda row: row.line)))


def _list_job(
    path: Path, group: list[Wanted], reader: Reader, shop: Shop, options: SheetOptions,
    refused: list[RefusedRow],
) -> SheetJob | None:  # fmt: skip
    """Pack and plan what can lie on one sheet; None where no row is left."""
    try:
        settings, left_out = settings_in(group[0].job, shop)
    except InputError as error:  # a gas asked for has no speed here
        refused += [RefusedRow(row.name, row.line, str(error)) for row in group]
        return None
    pieces = pieces_of(group, reader, settings, shop, refused)
    if pieces is None:
        return None
    limits = load_limits(shop.limits)
    analyses = [source.analysis for source in pieces.sources]
    bench = Bench.of(pieces.job, shop, limits, settings, analyses)
    order = order_of(bench, pieces.demands, options, reader.drawing)
    packing = order.packed(order.stock)
    kept = order.kept_from(packing)
    sheets = marked(tuple(
        sheet_result(k, one.layout, one.copies, bench, stock=order.stock[one.stock], kept=kept)
        for k, one in enumerate(packing.sheets, start=1)
    ))  # fmt: skip
    more = _too_large(bench.parts, pieces.demands, order.stock, order.spacing.margin_mm)
    answer = answer_of(bench, pieces.sources, sheets, left_out, more, mixed=bool(pieces.steps))
    job = SheetJob(
        path.name, answer, sheets, order.gap, order.margin, packing.bounds.sheets,
        _not_placed(packing, pieces.demands, bench), notes=(*pieces.notes, *order.notes),
        steps=pieces.steps, drawings=pieces.drawings,
    )  # fmt: skip
    if not options.what_if or not sheets:
        return job
    return replace(
        job, sizes=size_rows(job, bench, order), common=common_line(job, bench),
        without=without_some(job),
    )  # fmt: skip


def _too_large(
    parts: Sequence[Part], demands: Sequence[Demand], stock: Sequence[Stock], margin: float
) -> list[tuple[str, Draft]]:
    """Return a finding for every part that fits no sheet."""
    counts = np.bincount([d.part for d in demands], [d.quantity for d in demands], len(parts))
    wanted = []
    for part, count in zip(parts, counts.tolist(), strict=True):
        pose = canonical_poses(part.contours)[0]
        wanted.append(TooLarge(part.id, int(count), pose.width, pose.height))
    sizes = [(one.length_mm, one.width_mm) for one in stock]
    return [("part-larger-than-sheet", d) for d in larger_than_sheets(wanted, sizes, margin)]


def _not_placed(packing: Packing, demands: Sequence[Demand], bench: Bench) -> tuple[NotPlaced, ...]:
    return tuple(
        NotPlaced(bench.names[demands[row.demand].part], row.count, row.reason)
        for row in packing.unplaced
    )


# --- from a drawn sheet ------------------------------------------------------------------


def _from_drawing(
    path: Path, given: Given, shop: Shop, options: SheetOptions, reading: ReadOptions
) -> Sheeting:
    """Read a laid-out sheet back and plan it as it is drawn."""
    job = job_given(path, given, shop)
    settings, left_out = settings_in(job, shop)
    limits = load_limits(shop.limits)
    stock = options.stock or tuple(row.stock for row in shop.sheets.rows if row.stock)
    size = (stock[0].length_mm, stock[0].width_mm) if options.stock else None
    drawn = drawn_sheet(
        read_drawing(path, reading), job.thickness_mm, sheet=size, tolerances=reading.tolerances
    )
    parts = named(drawn.parts, path.name)
    parts = replace(
        parts, facts=(*parts.facts, *drawn.facts),
        loose=_outlines_that_should_close(parts.loose, limits),
    )  # fmt: skip
    analysis = analyse_parts(parts, job, shop, settings)
    bench = Bench.of(job, shop, limits, settings, (analysis,))
    layout = replace(drawn.layout, parts=bench.parts)
    sheets: tuple[SheetResult, ...] = ()
    if layout.placements or len(drawn.skeleton):
        sheets = marked((sheet_result(1, layout, 1, bench, drawn=drawn),))
    answer = answer_of(bench, (Source(path.name, analysis),), sheets, left_out)
    asked = "your limit for the layout"
    done = SheetJob(
        path.name, answer, sheets,
        gap_for(settings, job, limits, options.gap_mm, asked),
        margin_for(settings, job, limits, options.margin_mm, asked),
        notes=tuple(dict.fromkeys(fact.message for fact in drawn.facts)),
        drawings=(NamedDrawing(path.name, parts.drawing, bench.names),),
    )  # fmt: skip
    if not options.what_if or not layout.placements:
        return Sheeting(path, (done,))
    return Sheeting(path, (replace(done, common=common_line(done, bench)),))


def _outlines_that_should_close(loose: Contours, limits: Limits) -> Contours:
    """Return open lines that look like an outline left open: no cuts through the skeleton."""
    if not len(loose):
        return loose
    first, last = loose.starts[loose.offsets[:-1]], loose.ends[loose.offsets[1:] - 1]
    gap = np.hypot(*(last - first).T)
    within = limits.constant("open-contour", "closes_within")
    return loose.take(np.flatnonzero(gap <= within * loose.length))


def job_given(path: Path, given: Given, shop: Shop) -> Job:
    """Return the job of a drawing that no list speaks of.

    Raises
    ------
    InputError
        If material, thickness or power is told nowhere; the message names them.
    """
    missing = [name for name, value in (
        ("--material", given.material), ("--thickness", given.thickness_mm),
        ("--power", given.power_kw),
    ) if value is None]  # fmt: skip
    if missing:
        raise InputError(
            f"missing {' and '.join(missing)}",
            hint="give it as an option or in the shop file burrcast.toml, for example"
            " --material mild-steel --thickness 10mm --power 10kW",
        )
    return job_of_line(Line(path, 0, {}, decimal_comma=False), given, shop)
