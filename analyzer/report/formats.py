"""The formats an answer can be written in: the one place that knows them all.

Every writer is imported when its format is asked for; a text page loads no picture library.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib.util import find_spec
from typing import TYPE_CHECKING

from analyzer.comparison import Answer
from analyzer.errors import InputError

if TYPE_CHECKING:
    from analyzer.sheeting import Sheeting

FORMATS = ("text", "json", "csv", "html", "svg", "png", "pdf", "dxf")
BINARY = frozenset({"png", "pdf"})
"""Formats that are no text: they go to a file or a pipe, never to a terminal."""

_HOME = {
    "csv": "analyzer.report.to_csv", "html": "analyzer.report.to_html",
    "svg": "analyzer.report.to_svg", "png": "analyzer.report.to_png",
    "pdf": "analyzer.report.to_png", "dxf": "analyzer.report.to_dxf",
}  # fmt: skip


def available() -> tuple[str, ...]:
    """Return the formats that are there."""
    return tuple(form for form in FORMATS if form not in _HOME or find_spec(_HOME[form]))


def written(what: str, answer: Answer, form: str, *, why: bool = False) -> bytes:
    """Return one answer in one format.

    Parameters
    ----------
    what : str
        "check" or "compare".
    answer : Answer
    form : str
        One of `FORMATS`.
    why : bool
        With formula, inputs and source of every number, where the format has room.

    Raises
    ------
    InputError
        If the format is not known.
    """
    writer = _WRITERS.get(form)
    if writer is None:
        raise InputError(f"format {form!r} is not known", hint="use one of " + ", ".join(FORMATS))
    made = writer(what, answer, why)
    return made if isinstance(made, bytes) else made.encode("utf-8", "backslashreplace")


def _text(what: str, answer: Answer, why: bool) -> str:
    from analyzer.report.to_text import check_page, compare_page

    page = check_page if what == "check" else compare_page
    return page(answer, why=why)


def _json(what: str, answer: Answer, why: bool) -> str:
    from analyzer.report import strict, to_json

    make = to_json.check_object if what == "check" else to_json.compare_object
    return strict.dumps(make(answer, why=why))


def _html(what: str, answer: Answer, why: bool) -> str:
    from analyzer.report.to_html import answer_html

    return answer_html(what, answer, why=why)


def _svg(what: str, answer: Answer, why: bool) -> str:
    from analyzer.report.to_svg import answer_svg

    return answer_svg(answer)


def _png(what: str, answer: Answer, why: bool) -> bytes:
    from analyzer.report.to_png import answer_picture

    return answer_picture(answer, "png")


def _pdf(what: str, answer: Answer, why: bool) -> bytes:
    from analyzer.report.to_png import answer_picture

    return answer_picture(answer, "pdf")


_WRITERS: dict[str, Callable[[str, Answer, bool], str | bytes]] = {
    "text": _text, "json": _json, "html": _html, "svg": _svg, "png": _png, "pdf": _pdf,
}  # fmt: skip


# --- sheets ------------------------------------------------------------------------------


def sheeting_written(sheeting: Sheeting, form: str, *, why: bool = False) -> bytes:
    """Return the sheets of one list or drawing in one format.

    Raises
    ------
    InputError
        If sheets cannot be written so.
    """
    writer = _SHEET_WRITERS.get(form)
    if writer is None:
        raise InputError(
            f"sheets cannot be written as {form!r}",
            hint="use one of " + ", ".join(_SHEET_WRITERS),
        )
    made = writer(sheeting, why)
    return made if isinstance(made, bytes) else made.encode("utf-8", "backslashreplace")


def for_sheets() -> tuple[str, ...]:
    """Return the formats sheets can be written in."""
    return tuple(_SHEET_WRITERS)


def _sheet_text(sheeting: Sheeting, why: bool) -> str:
    from analyzer.report.to_sheet import sheet_page

    return sheet_page(sheeting, why=why)


def _sheet_json(sheeting: Sheeting, why: bool) -> str:
    from analyzer.report.strict import dumps
    from analyzer.report.to_sheet_json import sheeting_object

    return dumps(sheeting_object(sheeting, why=why))


def _sheet_csv(sheeting: Sheeting, why: bool) -> str:
    from analyzer.report.to_sheet_csv import sheeting_csv

    return sheeting_csv(sheeting)


def _sheet_html(sheeting: Sheeting, why: bool) -> str:
    from analyzer.report.to_html_sheet import sheet_html

    return sheet_html(sheeting, why=why)


def _sheet_svg(sheeting: Sheeting, why: bool) -> str:
    from analyzer.report.to_svg_sheet import sheet_svg

    return sheet_svg(sheeting)


def _sheet_png(sheeting: Sheeting, why: bool) -> bytes:
    from analyzer.report.to_png import sheet_picture

    return sheet_picture(sheeting, "png")


def _sheet_pdf(sheeting: Sheeting, why: bool) -> bytes:
    from analyzer.report.to_png import sheet_picture

    return sheet_picture(sheeting, "pdf")


_SHEET_WRITERS: dict[str, Callable[[Sheeting, bool], str | bytes]] = {
    "text": _sheet_text, "json": _sheet_json, "csv": _sheet_csv, "html": _sheet_html,
    "svg": _sheet_svg, "png": _sheet_png, "pdf": _sheet_pdf,
}  # fmt: skip
