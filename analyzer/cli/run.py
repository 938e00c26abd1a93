"""What check and compare share: from drawings typed to pages, files and an exit code."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyzer.cli.options import LEVELS, Asked
from analyzer.errors import BurrcastError, InputError

if TYPE_CHECKING:
    from analyzer.comparison import Answer
    from analyzer.report.manner import Manner
    from analyzer.rules.rule import Finding

drawings_argument = click.argument(
    "drawings", nargs=-1, required=True, metavar="DRAWING...", type=click.Path()
)


@dataclass(frozen=True)
class Refused:
    """A drawing that could not be read, and why."""

    file: str
    reason: str


def run(what: str, drawings: Sequence[str], asked: Asked) -> int:
    """Answer for every drawing, print or write, and return the exit code."""
    from analyzer.report.files import check_targets
    from analyzer.report.temporary import clear_leftovers

    paths = [Path(drawing) for drawing in drawings]
    formats = tuple(dict.fromkeys(asked.formats or ("text",)))
    asked.check_manner()
    if asked.out is None:
        check_stdout(formats, several=len(paths) > 1, what="drawings")
    else:
        check_targets(asked.out, paths, formats, force=asked.force)
        clear_leftovers([asked.out])
    answers, refused = _answers(what, paths, formats, asked)
    if asked.out is None:
        _print(what, answers, refused, formats[0], asked.manner, several=len(paths) > 1)
    if refused:
        return 3
    return int(any(_fails(answer, asked.fail_on) for answer, _ in answers))


def check_stdout(
    formats: Sequence[str], *, several: bool, what: str, together: Collection[str] | None = None
) -> None:
    """Refuse what cannot be told on one stream, before any work.

    `together` are the formats in which several can be one, by default those of drawings.
    """
    from analyzer.report.formats import BINARY, TOGETHER

    if len(set(formats)) > 1:
        raise InputError(
            "only one format can go to the terminal", hint="add --out DIR, or give one --format"
        )
    form = formats[0]
    if several and form not in (together or TOGETHER):
        raise InputError(f"several {what} make several {form} files", hint="add --out DIR")
    if form in BINARY and sys.stdout.isatty():
        raise InputError(f"{form} is not for reading on a terminal", hint="add --out DIR")


Answered = tuple["Answer", bytes | None]
"""An answer, and the drawing's bytes where a format is made from them."""


def _answers(
    what: str, paths: Sequence[Path], formats: Sequence[str], asked: Asked
) -> tuple[list[Answered], list[Refused]]:
    """Answer for every drawing; a refused one stops only itself when there are several.

    Files are written as answers are ready, so that an interruption loses only what is not done.
    """
    from analyzer.cli.progress import told

    answers: list[Answered] = []
    refused: list[Refused] = []
    for path in told(paths, "drawings"):
        try:
            answer, source = _answered(path, formats, asked)
            if asked.out is not None:
                _write(what, path, answer, source, formats, asked, asked.out)
            answers.append((answer, source))
        except BurrcastError as error:
            if len(paths) == 1 or error.exit_code != 2:
                raise
            refused.append(Refused(path.name, str(error)))
            say(str(error))
    return answers, refused


def _answered(path: Path, formats: Sequence[str], asked: Asked) -> Answered:
    from analyzer.report.formats import FROM_SOURCE

    if not FROM_SOURCE & set(formats):
        return answer_for(path, asked), None
    answer = answer_for(path, asked)  # first: it refuses what is no drawing, or too large
    return answer, path.read_bytes()


def answer_for(path: Path, asked: Asked) -> Answer:
    """Read, look and advise for one drawing, with the shop file that is in force for it."""
    return asked.request().answer(path)


# --- output ------------------------------------------------------------------------------


def _print(
    what: str,
    answers: Sequence[Answered],
    refused: Sequence[Refused],
    form: str,
    manner: Manner,
    *,
    several: bool,
) -> None:
    from analyzer.report.formats import together, written

    if not several:
        answer, source = answers[0]
        put(written(what, answer, form, manner, source=source))
        return
    rows = [(row.file, row.reason) for row in refused]
    made = together(what, [answer for answer, _ in answers], form, manner, rows)
    if made is not None:
        put(made)


def put(text: str | bytes) -> None:
    """Write to stdout: the same bytes whatever the terminal's language."""
    made = text if isinstance(text, bytes) else text.encode("utf-8", "backslashreplace")
    sys.stdout.flush()
    sys.stdout.buffer.write(made)
    sys.stdout.buffer.flush()


def _write(
    what: str,
    path: Path,
    answer: Answer,
    source: bytes | None,
    formats: Sequence[str],
    asked: Asked,
    folder: Path,
) -> None:
    """Write one answer in every format; all are made before the first is written."""
    from analyzer.report.files import target_of, write_whole
    from analyzer.report.formats import written

    made = [written(what, answer, form, asked.manner, source=source) for form in formats]
    for form, content in zip(formats, made, strict=True):
        target = target_of(folder, path, form)
        write_whole(target, content, force=asked.force)
        say(f"wrote {target}")


def say(words: str) -> None:
    """Tell on stderr, on one line."""
    from analyzer.report.escape import shown

    print(f"burrcast: {shown(words, 1000)}", file=sys.stderr)


def _fails(answer: Answer, level: str | None) -> bool:
    """Whether a finding of `level` or worse stands in the advised gas, or any where none is."""
    if level is None:
        return False
    advised, analysis = answer.advice.gas, answer.analysis
    findings = [
        finding
        for result in analysis.gases
        if advised in (None, result.gas)
        for finding in result.findings
    ]
    return any_at(level, (*findings, *analysis.on_drawing))


def any_at(level: str, findings: Iterable[Finding]) -> bool:
    """Whether one of the findings is of `level` or worse."""
    worst = LEVELS.index(level)
    return any(LEVELS.index(finding.level) >= worst for finding in findings)
