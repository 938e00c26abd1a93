"""Pictures to print and to send: an answer or a sheet as PNG or PDF, A4 lying.

The same input gives the same bytes: no date, no random order, our own settings whatever the
user's are.  matplotlib is imported only here and in the modules `to_png_*.py`, and only when a
picture is drawn.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal

from analyzer.analysis import GasResult
from analyzer.comparison import Answer
from analyzer.errors import InputError
from analyzer.reasons import spoken
from analyzer.report.escape import shown
from analyzer.report.marks import GasPicture, PartPicture, bars_of, pictures_of
from analyzer.report.to_png_bars import burr_bars, time_bars
from analyzer.report.to_png_page import Page
from analyzer.report.to_png_scene import Scene, scene_of, title_of
from analyzer.report.to_png_sheet import SheetPage
from analyzer.report.to_png_words import DPI, TALL, WIDE, Words
from analyzer.report.view import Line, View, lines_of, view_of
from analyzer.sheeting import Sheeting
from analyzer.units import counted

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Form = Literal["png", "pdf"]
FORMS: tuple[Form, ...] = ("png", "pdf")

MOST_PAGES = 60
"""Pages of one PDF: parts beyond are on the first page only, which says so. [-]"""

WARM = 10.0
"""Heat at the pierces is shown from this rise on; less changes nothing. [K]"""

MAPPED = 3
"""Parts up to which the first page has small maps; beyond, every part's own page has. [-]"""

PAPER = (500.0, 290.0)
"""Room that several parts are laid out for. [pt]"""

FOOT = "Scale bar true in both directions. Marks: circle note, diamond rework, black square loss."


def answer_picture(answer: Answer, form: Form = "png", dpi: int = DPI) -> bytes:
    """Return the picture of an answer under the gas advised (else the first).

    Parameters
    ----------
    answer : Answer
        What `check` or `compare` gave.
    form : "png" or "pdf"
        PNG is one page; PDF has one more page for every part where there are several.
    dpi : int
        Dots an inch of the PNG.

    Raises
    ------
    InputError
        If the form is neither.
    """
    return _written(pages_of(answer, one=form == "png"), form, dpi)


def answer_figures(answer: Answer) -> list[Figure]:
    """Return the pages of an answer as matplotlib figures, for notebooks and for tests."""
    with _our_settings():
        return [_drawn(page) for page in pages_of(answer, one=False)]


def sheet_picture(sheeting: Sheeting, form: str = "png") -> bytes:
    """Return the picture of sheets, each under the gas its job reads.

    Parameters
    ----------
    sheeting : Sheeting
        What `burrcast sheet` gave.
    form : "png" or "pdf"
        PNG is the first sheet; PDF has a page for every one.

    Raises
    ------
    InputError
        If the form is neither, or nothing lies on any sheet.
    """
    pages = sheet_pages(sheeting)
    if not pages:
        raise InputError("there is no sheet to draw", where=shown(sheeting.path.name))
    return _written(pages, form)


def sheet_pages(sheeting: Sheeting) -> list[SheetPage]:
    """Return what stands on the pages of sheets, at most `MOST_PAGES`."""
    every = [(job, sheet) for job in sheeting.jobs for sheet in job.sheets]
    pages = []
    for number, (job, sheet) in enumerate(every[:MOST_PAGES], 1):
        more = f"Page {number} of {len(every)}; PDF has them all." if len(every) > 1 else ""
        if len(every) > MOST_PAGES:
            more = f"Page {number} of {len(every)}; the first {MOST_PAGES} are drawn."
        pages.append(SheetPage(job, sheet, more))
    return pages


def pages_of(answer: Answer, *, one: bool) -> list[Page]:
    """Return what stands on the pages of an answer; only the first with `one`."""
    analysis, advice = answer.analysis, answer.advice
    view = view_of(answer)
    gases = pictures_of(answer)
    best = next((gas for gas in gases if gas.gas == advice.gas), gases[0] if gases else None)
    lines = view.change + view.expect
    if best is None or not best.parts:
        return [Page(_words(view, lines), None, "")]
    warm = _warmed(best, gases)
    maps = len(best.parts) <= MAPPED
    whole = scene_of(best.parts, best.on_drawing, PAPER)
    few = len(best.parts) == 1
    hot = scene_of(warm.parts, (), PAPER) if warm else None
    first = Page(
        _words(view, lines, _left_out(best) if not one else ""), whole, best.gas,
        _bars(analysis.gases, gases, best.gas), hot, warm.gas if warm else "",
        _caption(best, whole), maps,
    )  # fmt: skip
    if one or few:
        return [first]
    result = analysis.under(best.gas)
    assert result is not None
    rest = [
        _part_page(view, answer, result, gases, part)
        for part in best.parts[: MOST_PAGES - 1]
    ]  # fmt: skip
    return [first, *rest]


def _caption(best: GasPicture, scene: Scene) -> str:
    if len(best.parts) == 1:
        return title_of(best.parts[0])
    words = (
        f"{counted(sum(not p.is_loose for p in scene.parts), 'distinct part')}, one copy of each"
    )
    return words + ("; open lines outside parts are not shown here" if scene.without_loose else "")


def _warmed(best: GasPicture, gases: Sequence[GasPicture]) -> GasPicture | None:
    """Return the gas to show heat for: this one, else the first in which it is followed."""
    for gas in (best, *gases):
        rises = [part.pierce_rises for part in gas.parts if part.pierce_rises is not None]
        if any(rise.max(initial=0.0) >= WARM for rise in rises):
            return gas
    return None


def _part_page(
    view: View, answer: Answer, result: GasResult, gases: Sequence[GasPicture], part: PartPicture
) -> Page:
    """Return the page of one part among several."""
    analysis, name = answer.analysis, part.part.id
    own = [finding for finding in result.findings if finding.part == name]
    twins = [next((p for p in gas.parts if p.part.id == name), None) for gas in gases]
    hot = next(
        ((gas.gas, p) for gas, p in sorted(
            zip(gases, twins, strict=True), key=lambda row: row[0].gas != result.gas)
         if p is not None and p.pierce_rises is not None and p.pierce_rises.max() >= WARM), None,
    )  # fmt: skip
    timings = [bars_of(p.evidence.plan.timing * p.part.count) for p in twins if p is not None]
    metres = [p.evidence.edges.metres.sum(axis=0) * p.part.count for p in twins if p is not None]
    names = [gas.gas for gas, p in zip(gases, twins, strict=True) if p is not None]

    def times(axes: Axes) -> None:
        time_bars(axes, names, timings, result.gas)

    def burrs(axes: Axes) -> None:
        burr_bars(axes, names, [row.tolist() for row in metres], result.gas)

    words = Words(
        f"{view.title}: {title_of(part)}", view.job, f"Shown in {spoken(result.gas)}.", "",
        lines_of(analysis, own), FOOT,
    )  # fmt: skip
    scene = scene_of((part,))
    return Page(
        words, scene, result.gas, (times, burrs), scene_of((hot[1],)) if hot else None,
        hot[0] if hot else "",
    )  # fmt: skip


def _left_out(best: GasPicture) -> str:
    left = len(best.parts) - (MOST_PAGES - 1)
    return f" {counted(left, 'part')} without a page of their own." if left > 0 else ""


def _words(view: View, lines: tuple[Line, ...], more: str = "") -> Words:
    minutes = view.minutes + (f"; {view.money}" if view.money else "")
    return Words(view.title, view.job, view.verdict, minutes, lines, FOOT + more)


def _bars(
    results: Sequence[GasResult], gases: Sequence[GasPicture], shown_gas: str
) -> tuple[Callable[[Axes], None], ...]:
    names = [gas.gas for gas in gases]

    def times(axes: Axes) -> None:
        time_bars(axes, names, [gas.bars for gas in gases], shown_gas)

    def burrs(axes: Axes) -> None:
        burr_bars(axes, names, [list(result.edge_m) for result in results], shown_gas)

    return times, burrs


# --- files -------------------------------------------------------------------------------


@contextmanager
def _our_settings() -> Iterator[None]:
    """Draw with the library's own defaults, whatever a user's settings file says, and quietly."""
    import matplotlib as mpl

    ours = {key: value for key, value in mpl.rcParamsDefault.items() if "backend" not in key}
    ours |= {"hatch.linewidth": 0.5, "pdf.fonttype": 42, "svg.hashsalt": "burrcast"}
    with warnings.catch_warnings(), mpl.rc_context(ours):
        warnings.simplefilter("ignore", UserWarning)  # letters the font does not have
        yield


def _drawn(page: Page | SheetPage) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDE, TALL), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    page.draw(figure)
    return figure


def _written(pages: Sequence[Page | SheetPage], form: str, dpi: int = DPI) -> bytes:
    if form not in FORMS:
        raise InputError(f"pictures are written as png or pdf, not {shown(form, 20)}")
    buffer = io.BytesIO()
    with _our_settings():
        if form == "png":
            _drawn(pages[0]).savefig(
                buffer,
                format="png",
                dpi=dpi,
                metadata={"Software": None},
                pil_kwargs={"compress_level": 3},
            )
            return buffer.getvalue()
        from matplotlib.backends.backend_pdf import PdfPages

        with PdfPages(
            buffer, metadata={"CreationDate": None, "Title": pages[0].words.title}
        ) as pdf:
            for page in pages:
                pdf.savefig(_drawn(page))
    return buffer.getvalue()
