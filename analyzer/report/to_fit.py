"""The answer of `burrcast fit`: a page of 80 columns, JSON, and the section for the shop file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from analyzer.calibration import Calibrated
from analyzer.errors import InputError
from analyzer.least_squares import Fit, Fitted
from analyzer.orders import BadLine
from analyzer.process.calibrated import SECTION
from analyzer.reasons import listed
from analyzer.report.escape import shown, whole
from analyzer.report.wording import short_forms, wrapped

POOR, WORST, WORST_BY_HAND = 0.30, 1.0, 3.0  # no better than start values; not written [-]
GOOD = 0.10  # good enough for quoting: sheets within +-10 % (common practice, no source) [-]
WORDS = {
    "start_overhead_s": "start overhead", "cut_acceleration_m_per_s2": "cutting acceleration",
    "speed_factor": "speed over table", "oxygen_speed_factor": "speed over table, oxygen",
    "burr_factor": "burr off over rates", "oxide_factor": "oxide off over rates",
    "handling_factor": "handling over rates",
}  # fmt: skip


def fit_page(found: Calibrated, bad: Sequence[BadLine] = (), written: Path | None = None) -> str:
    """Return the page: how good, what was found, what the times cannot tell, every time."""
    machine = found.machine
    fits = machine.residual <= WORST
    what = "Calibrated on {} sheets" if fits else "Not calibrated, {} times that do not fit"
    lines = [
        *wrapped(
            f"{what.format(len(machine.residuals))}: {_percent(machine.before)} off before,"
            f" {_percent(machine.after)} after (root mean square).", 0,
        ),
        *wrapped(_not_timed(machine)),
        "", "Machine", *_parameters(machine), *_cannot(machine),
    ]  # fmt: skip
    if found.hand:
        lines += [
            "",
            f"Hand work, {len(found.hand.residuals)} times: {_percent(found.hand.before)} off"
            f" before, {_percent(found.hand.after)} after",
            *_parameters(found.hand), *_cannot(found.hand), *_left_out(found.hand),
        ]  # fmt: skip
    else:
        lines += ["", "Hand work: not fitted, fewer than 3 times of work we forecast."]
    lines += ["", "Times, minutes", *_times(machine)]
    if found.hand:
        lines += ["", "Hand work, minutes", *_times(found.hand)]
    if bad:
        lines += ["", "Rows left out"]
        lines += [
            line for row in bad for line in wrapped(f"line {row.line}: {shown(row.reason, 300)}")
        ]
    if written:
        told = f"Written to {shown(str(written), 200)} as [{SECTION}]; take it out to undo it."
    elif fits:
        told = "Nothing written; --write puts it into the shop file."
    else:
        told = "Nothing written, nor would --write."
    return "\n".join([*lines, "", *wrapped(told, 0)]) + "\n"


def _not_timed(machine: Fit) -> str:
    """Say how far a sheet that was not timed may be off, and what to do about it."""
    words = f"A sheet not timed: within {_percent(machine.residual)}, 19 of 20"
    if machine.residual <= GOOD:
        return f"{words}. Good enough to quote on."
    if machine.residual <= POOR:
        return f"{words}; time more sheets of other kinds to come below 10 %."
    if machine.residual > WORST:
        words = f"A sheet not timed could be off by {_percent(machine.residual)}"
    row = machine.furthest
    off = (row.after / row.measured - 1.0) * 100.0
    return (
        f"{words}: no better than start values. Look first at line {row.line} ({off:+.0f} %):"
        " minutes of all copies, count, gas, thickness, pauses."
    )


def _left_out(hand: Fit) -> list[str]:
    """Say of hand work that fits nothing that it is not written, and where to look."""
    if hand.residual <= WORST_BY_HAND:
        return []
    row = hand.furthest
    off = (row.after / row.measured - 1.0) * 100.0
    return wrapped(
        f"These times do not fit: one not timed could be off by more than"
        f" {WORST_BY_HAND * 100.0:.0f} %."
        f" Look first at line {row.line} ({off:+.0f} %): minutes of all copies, count, next step."
        " --write leaves hand work out."
    )


def _parameters(found: Fit) -> list[str]:
    lines = [f"  {'':<28}{'start':>8}{'found':>8}   19 of 20 within"]
    for one in found.fitted:
        parameter = one.parameter
        unit = "" if parameter.unit == "x" else f", {parameter.unit}"
        within = _percent(one.spread) if one.told else "not told"
        lines.append(
            f"  {WORDS[parameter.key] + unit:<28}{parameter.start:>8.3g}{one.value:>8.3g}"
            f"   {within}"
        )
    return lines


def _cannot(found: Fit) -> list[str]:
    """Say what the times cannot tell."""
    lines: list[str] = []
    blind = [one for one in found.fitted if not one.told]
    still = [WORDS[one.parameter.key] for one in blind if not one.moved]
    if still:
        lines += wrapped(
            f"The times say next to nothing about {listed(still)}: left near the start value."
        )
    moved = [WORDS[one.parameter.key] for one in blind if one.moved]
    if moved:
        lines += wrapped(f"The times scatter too much to tell {listed(moved)}.")
    for one, other in found.tied:
        lines += wrapped(f"{WORDS[one]} and {WORDS[other]} cannot be told apart by these times.")
    for bound in (one for one in found.fitted if one.at_bound):
        what = WORDS[bound.parameter.key]
        lines += wrapped(f"{what} ran against its limit, {bound.value:.3g}: check the times.")
    return lines


def _times(found: Fit) -> list[str]:
    lines = [f"  {'line':>4}  {'drawing':<26}{'gas':<10}{'timed':>8}{'before':>8}{'after':>8}  off"]
    short = short_forms((shown(row.file) for row in found.residuals), 25)
    for row in found.residuals:
        off = (row.after / row.measured - 1.0) * 100.0
        lines.append(
            f"  {row.line:>4}  {short[shown(row.file)]:<26}{row.gas:<10}{row.measured:>8.2f}"
            f"{row.before:>8.2f}{row.after:>8.2f}  {off:+.1f} %"
        )
    return lines


def _percent(share: float) -> str:
    if share > WORST:
        return "more than 100 %"
    return f"{share * 100.0:.{1 if share < 0.0995 else 0}f} %"


# --- JSON --------------------------------------------------------------------------------


def fit_object(
    found: Calibrated, bad: Sequence[BadLine] = (), written: Path | None = None
) -> dict[str, Any]:
    """Return the object `burrcast.fit/1`."""
    return {
        "schema": "burrcast.fit/1",
        "gases": list(found.gases),
        "machine": _fit(found.machine),
        "hand_work": _fit(found.hand) if found.hand else None,
        "refused": [{"line": row.line, "reason": whole(row.reason)} for row in bad],
        "written": written is not None,
    }


def _fit(found: Fit) -> dict[str, Any]:
    return {
        "times": len(found.residuals),
        "off_before": round(found.before, 6),
        "off_after": round(found.after, 6),
        "residual": round(found.residual, 6),
        "parameters": [
            {
                "key": one.parameter.key, "unit": one.parameter.unit,
                "start": round(one.parameter.start, 6), "value": round(one.value, 6),
                "spread": round(one.spread, 6), "told": one.told, "at_bound": one.at_bound,
            }
            for one in found.fitted
        ],
        "covariance_of_logarithms": [
            [float(f"{value:.6g}") for value in row] for row in found.covariance.tolist()
        ],
        "cannot_be_told_apart": [list(pair) for pair in found.tied],
        "residuals": [
            {
                "line": row.line, "file": whole(row.file), "gas": row.gas,
                "measured_min": round(row.measured, 6), "before_min": round(row.before, 6),
                "after_min": round(row.after, 6),
            }
            for row in found.residuals
        ],
    }  # fmt: skip


# --- the shop file -----------------------------------------------------------------------

_HEADER = re.compile(r"^[ \t]*\[\[?[^\]\r\n]*\]\]?[ \t]*(#[^\r\n]*)?$")


def section_of(found: Calibrated) -> list[str]:
    """Return the lines of [calibration].

    Raises
    ------
    InputError
        If the times fit so badly that every later answer would be worth less than before.
    """
    machine, hand = found.machine, found.hand
    _worth_writing(machine)
    lines = [
        f"[{SECTION}]  # by burrcast fit; take the section out to undo it",
        f"sheets = {len(machine.residuals)}",
        f"residual_percent = {machine.residual * 100.0:.2f}  # 19 of 20 sheets within",
        "gases = [" + ", ".join(f'"{gas}"' for gas in found.gases) + "]",
        *(_told(one) for one in machine.fitted),
    ]
    if hand and hand.residual > WORST_BY_HAND:
        lines.append("# the times of hand work fit nothing and are left out")
    elif hand:
        lines += [
            f"rework_times = {len(hand.residuals)}",
            f"rework_residual_percent = {hand.residual * 100.0:.2f}",
            *(_told(one) for one in hand.fitted),
        ]
    return lines


def _worth_writing(found: Fit) -> None:
    if found.residual > WORST:
        raise InputError(
            f"the times do not fit: one not timed could be off by {_percent(found.residual)};"
            " nothing written", where="--write",
            hint=f"look first at line {found.furthest.line}: minutes of all copies, count, gas,"
            " thickness, pauses",
        )  # fmt: skip


def _told(one: Fitted) -> str:
    note = f"19 of 20 within {_percent(one.spread)}"
    if not one.told or one.spread > WORST:
        note = "hardly told by the times"
    return f"{one.parameter.key} = {one.value:.5g}  # {note}"


def put_section(text: str, lines: Sequence[str], where: str) -> str:
    """Return the shop file `text` with [calibration] replaced or added; the rest as it was.

    Raises
    ------
    InputError
        If the section stands there in a form that cannot be replaced safely.
    """
    newline = "\r\n" if "\r\n" in text else "\n"
    block = newline.join(lines) + newline
    rows = text.splitlines(keepends=True)
    heads = [n for n, row in enumerate(rows) if _HEADER.match(row.rstrip("\r\n"))]
    mine = [n for n in heads if re.match(rf"[ \t]*\[\s*{SECTION}\s*\]", rows[n])]
    if mine:
        after = next((n for n in heads if n > mine[0]), len(rows))
        last = after  # blank lines and comments before the next section belong to that
        while last > mine[0] + 1 and not _says(rows[last - 1]):
            last -= 1
        made = "".join(rows[: mine[0]]) + block + "".join(rows[last:])
    else:
        gap = "" if not text or text.endswith(("\n", "\r")) else newline
        made = text + gap + (newline if text.strip() else "") + block
    _same_besides(text, made, where)
    return made


def _says(row: str) -> bool:
    return bool(row.strip()) and not row.strip().startswith("#")


def _same_besides(before: str, after: str, where: str) -> None:
    """Raise InputError unless both say the same but for [calibration]."""
    try:
        contents = [tomllib.loads(text.removeprefix("\ufeff")) for text in (before, after)]
    except tomllib.TOMLDecodeError:
        contents = [{}, {SECTION: None, "": None}]
    for content in contents:
        content.pop(SECTION, None)
    if contents[0] != contents[1]:
        raise InputError(
            f"[{SECTION}] cannot be replaced safely", where=where,
            hint="take it out by hand and write again",
        )  # fmt: skip
