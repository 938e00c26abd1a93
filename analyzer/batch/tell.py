"""A batch in words, as CSV, as lines of JSON and as one page that links all others."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from html import escape
from urllib.parse import quote

from analyzer.batch.overview import Overview
from analyzer.batch.row import DONE, MEASURES, MEASURES_OF_THE_GAS, Row
from analyzer.batch.run import Batch
from analyzer.batch.store import Store
from analyzer.reasons import spoken
from analyzer.report.escape import shown
from analyzer.report.manner import PLAIN, Manner
from analyzer.report.to_csv import table_csv
from analyzer.units import by_hand, counted

_COLUMNS = tuple(Row.__dataclass_fields__)


def words_for(name: str) -> str:
    """Return a material as it is written in a sentence."""
    return shown(name.replace("-", " "))


# --- lines -------------------------------------------------------------------------------


def line_of(row: Row) -> str:
    """Return one line for one drawing."""
    name = shown(row.drawing)
    if row.status != DONE:
        file = row.drawing.replace("\\", "/").rpartition("/")[2]
        reason = row.reason.removeprefix(f"{file}: ")  # the name stands in front already
        return f"{name}: {row.status.upper()}: {shown(reason, 300)}"
    if not row.gas:
        return f"{name}: nothing to advise; {_places(row)}"
    words = [spoken(row.gas).upper(), by_hand(row.time_s)]
    if row.quantity > 1:
        words[1] += f" each, {row.quantity} wanted"
    if row.rework_min:
        words.append(f"hand work {by_hand(60.0 * row.rework_min)}")
    return f"{name}: {', '.join(words)}; {_places(row)}"


def _places(row: Row) -> str:
    told = [counted(row.losses, "loss", "losses")] * bool(row.losses)
    told += [f"{row.reworks:,} rework"] * bool(row.reworks)
    told += [counted(row.notes, "note")] * bool(row.notes)
    return ", ".join(told) or "nothing found"


def overview_lines(view: Overview) -> Iterator[str]:
    """Yield the shop-wide view as lines of text."""
    yield f"{counted(view.done, 'drawing')} done, {view.refused} refused, {view.failed} failed"
    if view.hours:
        yield ""
        yield "Hours, quantities counted        drawings   machine h    hand h"
        for row in view.hours:
            name = f"{words_for(row.material)}, {spoken(row.gas) if row.gas else 'no gas advised'}"
            yield f"  {name:<30} {row.drawings:>8,} {row.machine_h:>11.2f} {row.hand_h:>9.2f}"
    if view.rework:
        yield ""
        yield "Most hand work, quantities counted"
        for one in view.rework:
            minutes = by_hand(60.0 * one.quantity * one.rework_min)
            yield f"  {minutes:>8}  {shown(one.drawing, 60)} ({spoken(one.gas)})"
    if view.small_holes:
        yield ""
        yield "Holes smaller than the sheet is thick"
        for small in view.small_holes:
            folder = shown(small.folder, 50) or "the folder itself"
            holes, drawings = counted(small.holes, "hole"), counted(small.drawings, "drawing")
            yield f"  {holes:>12}  in {folder}, {drawings}"


# --- files -------------------------------------------------------------------------------


def summary_csv(rows: Sequence[Row], manner: Manner = PLAIN) -> bytes:
    """Return one row for every drawing, its name in the first column only.

    What is not known of a refused drawing, or without a gas, is empty and never 0: a mean over
    the column would count it.
    """
    return table_csv(_COLUMNS, (_known(row) for row in rows), manner)


def _known(row: Row) -> tuple[object, ...]:
    """Return the cells of a row, None for what nobody knows."""
    missing = MEASURES if row.status != DONE else frozenset() if row.gas else MEASURES_OF_THE_GAS
    return tuple(None if name in missing else value for name, value in vars(row).items())


def json_lines(batch: Batch, store: Store) -> Iterator[str]:
    """Yield every answer in one line, and a line for every drawing without one."""
    for row, key in zip(batch.rows, batch.keys, strict=True):
        told = store.answer(key) if key else ""
        if told:
            whole = {"name": row.drawing, "quantity": row.quantity, **json.loads(told)}
        else:
            whole = {"name": row.drawing, "status": row.status, "reason": row.reason}
        yield json.dumps(whole, ensure_ascii=True, allow_nan=False) + "\n"


def batch_object(batch: Batch, view: Overview) -> dict[str, object]:
    """Return the object `burrcast.batch/1`."""
    return {
        "schema": "burrcast.batch/1",
        "done": view.done, "refused": view.refused, "failed": view.failed,
        "drawings": [asdict(row) for row in batch.rows],
        "hours": [asdict(row) for row in view.hours],
        "most_rework": [row.drawing for row in view.rework],
        "small_holes": [asdict(row) for row in view.small_holes],
    }  # fmt: skip


_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy"
 content="default-src 'none'; style-src 'unsafe-inline'; img-src 'self'">
<title>{title}</title><style>
:root {{ color-scheme: light dark; }}
body {{ font: 16px/1.45 system-ui, sans-serif; margin: 1.5rem auto; padding: 0 1rem;
 max-width: 75rem; }}
table {{ border-collapse: collapse; margin: .5rem 0 1.5rem; }}
th, td {{ text-align: left; padding: .2rem .8rem .2rem 0; border-bottom: 1px solid #8888;
 vertical-align: top; }}
td.n, th.n {{ text-align: right; font-variant-numeric: tabular-nums; }}
.scroll {{ overflow-x: auto; }}
img {{ max-width: 100%; height: auto; background: #fff; }}
</style></head><body>
<h1>{title}</h1>
<p>{counts}</p>
{hours}{plot}{rework}{small}
<h2>Every drawing</h2>
<div class="scroll"><table><thead><tr><th>drawing</th><th>cut with</th><th class="n">time</th>
<th class="n">hand work</th><th>found</th></tr></thead><tbody>
{rows}</tbody></table></div>
</body></html>
"""


def index_page(batch: Batch, view: Overview, title: str, plot: str = "") -> str:
    """Return one page with a line for every drawing, linked to the drawing's own pages."""
    counts = f"{counted(view.done, 'drawing')} done, {view.refused} refused, {view.failed} failed."
    hours = _table(
        "Hours, quantities counted", ("material", "cut with", "drawings", "machine h", "hand h"),
        [(words_for(row.material), spoken(row.gas) if row.gas else "none advised",
          f"{row.drawings:,}", f"{row.machine_h:.2f}", f"{row.hand_h:.2f}")
         for row in view.hours],
    )  # fmt: skip
    rework = _table(
        "Most hand work", ("drawing", "hand work"),
        [(shown(row.drawing), by_hand(60.0 * row.quantity * row.rework_min))
         for row in view.rework],
    )  # fmt: skip
    small = _table(
        "Holes smaller than the sheet is thick", ("folder", "drawings", "holes"),
        [(shown(row.folder) or "the folder itself", f"{row.drawings:,}", f"{row.holes:,}")
         for row in view.small_holes],
    )  # fmt: skip
    picture = f'<p><img src="{quote(plot)}" alt="Hours by material and gas"></p>' if plot else ""
    rows = "".join(map(_index_row, batch.rows, batch.pages))
    return _PAGE.format(
        title=escape(shown(title)),
        counts=counts,
        hours=hours,
        plot=picture,
        rework=rework,
        small=small,
        rows=rows,
    )


def _index_row(row: Row, pages: tuple[str, ...]) -> str:
    name = escape(shown(row.drawing))
    if row.status != DONE:
        reason = escape(f"{row.status}: {shown(row.reason, 300)}")
        return f'<tr><td>{name}</td><td colspan="4">{reason}</td></tr>\n'
    links = " ".join(
        f'<a href="{quote(page, errors="surrogateescape")}">{escape(page.rpartition(".")[2])}</a>'
        for page in pages
    )
    gas = spoken(row.gas) if row.gas else "none"
    hand = by_hand(60.0 * row.rework_min) if row.rework_min else "none"
    return (
        f'<tr><td>{name} {links}</td><td>{gas}</td><td class="n">{by_hand(row.time_s)}</td>'
        f'<td class="n">{hand}</td><td>{_places(row)}</td></tr>\n'
    )


def _table(title: str, names: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    if not rows:
        return ""
    head = "".join(f"<th>{escape(name)}</th>" for name in names)
    body = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    return (
        f'<h2>{escape(title)}</h2><div class="scroll"><table><thead><tr>{head}</tr></thead>'
        f"<tbody>{body}</tbody></table></div>"
    )
