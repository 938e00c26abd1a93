"""What check and compare share: from drawings typed to pages, files and an exit code."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyzer.cli.options import LEVELS, Asked
from analyzer.errors import BurrcastError, InputError

if TYPE_CHECKING:
    from analyzer.comparison import Answer

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

    paths = [Path(drawing) for drawing in drawings]
    formats = asked.formats or ("text",)
    if asked.out is None:
        _check_stdout(formats, several=len(paths) > 1)
    if asked.out is not None:
        check_targets(asked.out, paths, formats, force=asked.force)
    answers, refused = _answers(paths, asked)
    if asked.out is None:
        _print(what, answers, refused, formats[0], several=len(paths) > 1, why=asked.why)
    else:
        _write(what, answers, asked.out, formats, asked)
    if refused:
        return 3
    return int(any(_fails(answer, asked.fail_on) for _, answer in answers))


def _check_stdout(formats: Sequence[str], *, several: bool) -> None:
    """Refuse what cannot be told on one stream."""
    from analyzer.report.formats import BINARY

    if len(set(formats)) > 1:
        raise InputError(
            "only one format can go to the terminal", hint="add --out DIR, or give one --format"
        )
    form = formats[0]
    if several and form not in ("text", "json"):
        raise InputError(f"several drawings make several {form} files", hint="add --out DIR")
    if form in BINARY and sys.stdout.isatty():
        raise InputError(f"{form} is not for reading on a terminal", hint="add --out DIR")


def _answers(
    paths: Sequence[Path], asked: Asked
) -> tuple[list[tuple[Path, Answer]], list[Refused]]:
    """Answer for every drawing; a refused one stops only itself when there are several."""
    answers, refused = [], []
    for path in paths:
        try:
            answers.append((path, answer_for(path, asked)))
        except BurrcastError as error:
            if len(paths) == 1 or error.exit_code != 2:
                raise
            refused.append(Refused(path.name, str(error)))
            _say(str(error))
    return answers, refused


def answer_for(path: Path, asked: Asked) -> Answer:
    """Read, look and advise for one drawing, with the shop file that is in force for it."""
    return asked.request().answer(path)


# --- output ------------------------------------------------------------------------------


def _print(
    what: str,
    answers: Sequence[tuple[Path, Answer]],
    refused: Sequence[Refused],
    form: str,
    *,
    several: bool,
    why: bool,
) -> None:
    if several and form == "json":
        from analyzer.report import strict, to_json

        make = to_json.check_object if what == "check" else to_json.compare_object
        whole = to_json.set_object(
            [make(answer, why=why) for _, answer in answers],
            [(row.file, row.reason) for row in refused],
        )
        put(strict.dumps(whole))
        return
    from analyzer.report.formats import written

    rule = ("\n" + "=" * 100 + "\n\n").encode()
    put(rule.join(written(what, answer, form, why=why) for _, answer in answers))


def put(text: str | bytes) -> None:
    """Write to stdout: the same bytes whatever the terminal's language."""
    made = text if isinstance(text, bytes) else text.encode("utf-8", "backslashreplace")
    sys.stdout.flush()
    sys.stdout.buffer.write(made)
    sys.stdout.buffer.flush()


def _write(
    what: str,
    answers: Sequence[tuple[Path, Answer]],
    folder: Path,
    formats: Sequence[str],
    asked: Asked,
) -> None:
    from analyzer.report.files import target_of, write_whole
    from analyzer.report.formats import written

    for path, answer in answers:
        for form in dict.fromkeys(formats):
            target = target_of(folder, path, form)
            page = written(what, answer, form, why=asked.why)
            write_whole(target, page, force=asked.force)
            _say(f"wrote {target}")


def _say(words: str) -> None:
    from analyzer.report.escape import shown

    print(f"burrcast: {shown(words, 1000)}", file=sys.stderr)


def _fails(answer: Answer, level: str | None) -> bool:
    """Whether a finding of `level` or worse stands in the advised gas, or any where none is."""
    if level is None:
        return False
    worst = LEVELS.index(level)
    advised, analysis = answer.advice.gas, answer.analysis
    findings = [
        finding
        for result in analysis.gases
        if advised in (None, result.gas)
        for finding in result.findings
    ]
    return any(LEVELS.index(f.level) >= worst for f in (*findings, *analysis.on_drawing))
