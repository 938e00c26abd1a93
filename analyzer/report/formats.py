"""The formats an answer can be written in: the one place that knows them all.

Every writer is imported when its format is asked for; a text page loads no picture library.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from analyzer.comparison import Answer
from analyzer.errors import InputError
from analyzer.report.manner import PLAIN, Manner

if TYPE_CHECKING:
    from analyzer.sheeting import Sheeting

FORMATS = ("text", "json", "csv", "html", "svg", "png", "pdf", "dxf")
BINARY = frozenset({"png", "pdf"})
"""Formats that are no text: they go to a file or a pipe, never to a terminal."""

FROM_SOURCE = frozenset({"dxf"})
"""Formats made from the drawing's own bytes."""

_PAGE_RULE = "\n" + "=" * 80 + "\n\n"


def written(
    what: str, answer: Answer, form: str, manner: Manner = PLAIN, *, source: bytes | None = None
) -> bytes:
    """Return one answer in one format.

    Parameters
    ----------
    what : str
        "check" or "compare".
    answer : Answer
    form : str
        One of `FORMATS`.
    manner : Manner
        How it is written.
    source : bytes, optional
        The drawing as it was read; formats in `FROM_SOURCE` need it.

    Raises
    ------
    InputError
        If the question or the format is not known, or nothing can be added to the drawing
        safely.
    """
    if what not in ("check", "compare"):
        raise InputError(f"{what!r} is no question here", hint='use "check" or "compare"')
    if form in FROM_SOURCE:
        from analyzer.report.to_dxf import marked_dxf

        if source is None:
            raise InputError(
                f"{form} is made from the drawing's own bytes", hint="give them as source"
            )
        return marked_dxf(source, answer)
    writer = _WRITERS.get(form)
    if writer is None:
        raise InputError(f"format {form!r} is not known", hint="use one of " + ", ".join(FORMATS))
    return _bytes(writer(what, answer, manner))


def together(
    what: str, answers: Sequence[Answer], form: str, manner: Manner,
    refused: Sequence[tuple[str, str]] = (),
) -> bytes | None:  # fmt: skip
    """Return several answers on one stream; None where the format is one file a drawing."""
    if form == "text":
        rule = "" if manner.brief else _PAGE_RULE
        return _bytes(rule.join(_text(what, answer, manner) for answer in answers))
    if form == "json":
        from analyzer.report import strict, to_json

        make = to_json.check_object if what == "check" else to_json.compare_object
        results = [make(answer, why=manner.why) for answer in answers]
        return _bytes(strict.dumps(to_json.set_object(results, refused)))
    if form == "csv":
        from analyzer.report.to_csv import answers_csv

        return answers_csv(answers, manner)
    return None


TOGETHER = frozenset({"text", "json", "csv"})
"""Formats that hold several drawings on one stream."""


def _bytes(made: str | bytes) -> bytes:
    return made if isinstance(made, bytes) else made.encode("utf-8", "backslashreplace")


def _text(what: str, answer: Answer, manner: Manner) -> str:
    if manner.brief:
        from analyzer.report.to_brief import brief_line

        return brief_line(answer)
    from analyzer.report.to_text import check_page, compare_page

    page = check_page if what == "check" else compare_page
    return page(answer, why=manner.why)


def _json(what: str, answer: Answer, manner: Manner) -> str:
    from analyzer.report import strict, to_json

    make = to_json.check_object if what == "check" else to_json.compare_object
    return strict.dumps(make(answer, why=manner.why))


def _csv(what: str, answer: Answer, manner: Manner) -> bytes:
    from analyzer.report.to_csv import answer_csv

    return answer_csv(answer, manner)


def _html(what: str, answer: Answer, manner: Manner) -> str:
    from analyzer.report.to_html import answer_html

    return answer_html(what, answer, why=manner.why)


def _svg(what: str, answer: Answer, manner: Manner) -> str:
    from analyzer.report.to_svg import answer_svg

    return answer_svg(answer)


def _png(what: str, answer: Answer, manner: Manner) -> bytes:
    from analyzer.report.to_png import answer_picture

    return answer_picture(answer, "png")


def _pdf(what: str, answer: Answer, manner: Manner) -> bytes:
    from analyzer.report.to_png import answer_picture

    return answer_picture(answer, "pdf")


_WRITERS: dict[str, Callable[[str, Answer, Manner], str | bytes]] = {
    "text": _text, "json": _json, "csv": _csv, "html": _html, "svg": _svg, "png": _png,
    "pdf": _pdf,
}  # fmt: skip


# --- sheets ------------------------------------------------------------------------------


def sheeting_written(sheeting: Sheeting, form: str, manner: Manner = PLAIN) -> bytes:
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
    return _bytes(writer(sheeting, manner))


def for_sheets() -> tuple[str, ...]:
    """Return the formats sheets can be written in."""
    return tuple(_SHEET_WRITERS)


def _sheet_text(sheeting: Sheeting, manner: Manner) -> str:
    from analyzer.report.to_sheet import sheet_page

    return sheet_page(sheeting, why=manner.why)


def _sheet_json(sheeting: Sheeting, manner: Manner) -> str:
    from analyzer.report.strict import dumps
    from analyzer.report.to_sheet_json import sheeting_object

    return dumps(sheeting_object(sheeting, why=manner.why))


def _sheet_csv(sheeting: Sheeting, manner: Manner) -> bytes:
    from analyzer.report.to_sheet_csv import sheeting_csv

    return sheeting_csv(sheeting, manner)


def _sheet_html(sheeting: Sheeting, manner: Manner) -> str:
    from analyzer.report.to_html_sheet import sheet_html

    return sheet_html(sheeting, why=manner.why)


def _sheet_svg(sheeting: Sheeting, manner: Manner) -> str:
    from analyzer.report.to_svg_sheet import sheet_svg

    return sheet_svg(sheeting)


def _sheet_png(sheeting: Sheeting, manner: Manner) -> bytes:
    from analyzer.report.to_png import sheet_picture

    return sheet_picture(sheeting, "png")


def _sheet_pdf(sheeting: Sheeting, manner: Manner) -> bytes:
    from analyzer.report.to_png import sheet_picture

    return sheet_picture(sheeting, "pdf")


def _sheet_dxf(sheeting: Sheeting, manner: Manner) -> bytes:
    from analyzer.report.to_dxf_sheet import sheet_dxf

    return sheet_dxf(sheeting)


_SHEET_WRITERS: dict[str, Callable[[Sheeting, Manner], str | bytes]] = {
    "text": _sheet_text, "json": _sheet_json, "csv": _sheet_csv, "html": _sheet_html,
    "svg": _sheet_svg, "png": _sheet_png, "pdf": _sheet_pdf, "dxf": _sheet_dxf,
}  # fmt: skip


def sheeting_files(
    sheeting: Sheeting, form: str, manner: Manner = PLAIN
) -> list[tuple[str, bytes]]:
    """Return the name without its ending, and the content, of every file of one format.

    One file, but for DXF: there one sheet is one drawing.
    """
    if form == "dxf":
        from analyzer.report.to_dxf_sheet import sheet_files

        return sheet_files(sheeting)
    return [(sheeting.path.stem, sheeting_written(sheeting, form, manner))]
