"""One description of what is shown; every human format is written from it.

Verdict first, then minutes, then what to change, then the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from analyzer.analysis import Analysis, GasResult
from analyzer.comparison import Answer
from analyzer.drawing.drawing import Fact
from analyzer.drawing.roles import told_together
from analyzer.process.material import material
from analyzer.reasons import listed, spoken
from analyzer.report.behind import assumptions, not_checked
from analyzer.report.cautions import cautions
from analyzer.report.escape import shown
from analyzer.report.rows import (
    Row,
    gas_notes,
    gas_rows,
    nozzle_notes,
    part_notes,
    part_rows,
    price_notes,
    turn_rows,
    why_rows,
)
from analyzer.report.same_web import THIN, fold_heat, too_hot
from analyzer.report.verdict import (
    cost_words,
    far_off_words,
    otherwise_words,
    reason_words,
    time_words,
    verdict_words,
)
from analyzer.report.wording import weight
from analyzer.rules.registry import rule_named
from analyzer.rules.rule import LEVELS, Finding
from analyzer.rules.tapped import TAPPED
from analyzer.units import by_hand, counted

UNIT_WORDS = {"in": "inches", "ft": "feet"}
FROM_WORDS = {
    "option": "as you said", "header": "as the header says", "evidence": "guessed by its sizes",
}  # fmt: skip


@dataclass(frozen=True)
class Line:
    """One kind of finding: marks, level, what and what to do."""

    marks: tuple[int, ...]
    level: str
    what: str
    remedy: str


@dataclass(frozen=True)
class View:
    """All that is shown of one drawing, in reading order.

    What the drawing rules found that asks for nothing is told twice over: as `facts` without
    its marks, or as `repaired` with them, beside `other_facts`.
    """

    title: str
    job: str
    summary: str
    verdict: str
    minutes: str
    money: str
    reasons: tuple[str, ...]
    change: tuple[Line, ...]
    nothing_to_change: bool
    expect: tuple[Line, ...]
    hand_work: str
    gases: tuple[str, ...]
    gas_rows: tuple[Row, ...]
    gas_notes: tuple[str, ...]
    otherwise: str
    part_rows: tuple[Row, ...]
    part_notes: tuple[str, ...]
    facts: tuple[str, ...]
    account: str
    ignored: tuple[str, ...]
    not_checked: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    why: tuple[Row, ...] = ()
    repaired: tuple[Line, ...] = ()
    other_facts: tuple[str, ...] = ()


def view_of(
    answer: Answer, *, why: bool = False, full: bool = False, gas: str | None = None
) -> View:
    """Return what is shown of `answer`; with `why` the numbers behind it as well.

    With `full` the table of gases holds gas, electricity and what the money is made of.  With
    `gas` the minutes, the findings and the numbers are those of that gas, not the advised one.
    """
    analysis, advice = answer.analysis, answer.advice
    asked = gas or advice.gas
    best = analysis.under(asked) if asked else None
    read = best or (analysis.gases[0] if analysis.gases else None)
    findings = read.findings if read else analysis.on_drawing
    change = lines_of(analysis, [f for f in findings if asks_change(f)])
    foretold = [f for f in findings if not asks_change(f)]
    drawn = [f for f in foretold if rule_named(f.rule).group == "drawing"]
    expect = lines_of(analysis, [f for f in foretold if f not in drawn])
    told = {f.rule for f in findings if asks_change(f)}
    return View(
        title=shown(analysis.drawing.file),
        job=_job(analysis),
        summary=_summary(analysis),
        verdict=verdict_words(analysis, advice, listed_below=not full),
        minutes=time_words(analysis, best) if best else "",
        money=cost_words(analysis, best) if best else "",
        reasons=reason_words(analysis, advice, best) + (far_off_words(advice) if full else ()),
        change=change,
        nothing_to_change=best is not None and all(line.level == "note" for line in change),
        expect=expect,
        hand_work=_hand_work(best) if best else "",
        gases=tuple(result.gas for result in analysis.gases),
        gas_rows=gas_rows(analysis, full=full),
        gas_notes=gas_notes(analysis)
        + ((*nozzle_notes(analysis), *price_notes(analysis)) if full else ()),
        otherwise=otherwise_words(analysis, advice) if full else "",
        part_rows=part_rows(analysis, best),
        part_notes=part_notes(analysis),
        facts=_facts(analysis, told),
        account=_account(analysis),
        ignored=_ignored(analysis),
        repaired=lines_of(analysis, drawn),
        other_facts=_facts(analysis, told | {f.rule for f in drawn}),
        not_checked=not_checked(analysis, advice),
        assumptions=assumptions(analysis, read),
        cautions=cautions(analysis, advice),
        why=why_rows(read) + (turn_rows(advice) if full else ()) if why and read else (),
    )


def asks_change(finding: Finding) -> bool:
    """Whether the drawing or the job should be changed, or the customer asked, before cutting.

    A loss always asks.  So do hands of a pair: lefts counted as rights are dear.
    """
    asks = rule_named(finding.rule).asks_change or finding.rule == "left-right-pair"
    return finding.level == "loss" or asks


# --- words -------------------------------------------------------------------------------


def _job(analysis: Analysis) -> str:
    job = analysis.job
    name = material(job.material).words
    words = [f"{name} {job.thickness_mm:g} mm", f"{job.power_kw:g} kW"]
    words.append(f"plate {job.plate}" if job.plate_told else "plate not told")
    words.append(f"next step {job.next_step}" if job.next_step else "next step not told")
    return ", ".join(words)


def _summary(analysis: Analysis) -> str:
    totals, units = analysis.totals, analysis.drawing.units
    parts = counted(totals.parts, "part")
    if totals.distinct_parts != totals.parts:
        parts += f" ({totals.distinct_parts} different)"
    words = [
        parts, counted(totals.contours, "cut contour"), f"{totals.cut_length:,.0f} mm of cut",
        counted(totals.pierces, "pierce"), f"{weight(totals.weight)}",
    ]  # fmt: skip
    if totals.mark_length:
        words.append(f"{totals.mark_length:,.0f} mm of marking")
    unit, source = shown(units.name), shown(units.source)
    words.append(f"drawn in {UNIT_WORDS.get(unit, unit)} ({FROM_WORDS.get(source, source)})")
    told = ", ".join(words)
    return told if unit == "mm" else f"{told}; sizes and places here are in mm"


def _hand_work(best: GasResult) -> str:
    """Say how long the hand work is and what it is for; the same for every part said once."""
    what = "; ".join(best.rework[0].words) if len(best.rework) == 1 else ""
    seconds = 60.0 * best.rework_min
    if seconds < 0.5:
        return f"Hand work none; {what}." if what else ""
    time = f"Hand work {by_hand(seconds)} in all"
    if not what:
        return f"{time}."
    if sum(one.part.count for one in best.evidence) > 1:
        time += f", {by_hand(60.0 * best.rework[0].minutes)} each part"
    return f"{time}: {what}."


# --- findings ----------------------------------------------------------------------------


ASKED_APART = ("view-not-part", "symbol-not-cut", "note-disagrees", "crossing-contour")
"""Rules whose findings ask about different things: one must not hide behind another."""


def lines_of(analysis: Analysis, findings: Sequence[Finding]) -> tuple[Line, ...]:
    """Return one line for every rule, losses first; questions with other answers apart.

    A web both too thin and too hot is one line, of the worse level of the two, with both marks.
    """
    findings, heated = fold_heat(findings)
    alike: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        apart = finding.rule in ASKED_APART or finding.sort == TAPPED
        asks = finding.remedy if apart else ""
        alike.setdefault((finding.rule, asks), []).append(finding)
    lines = [
        _line(analysis, group, heated if group[0].rule == THIN else ()) for group in alike.values()
    ]
    return tuple(sorted(lines, key=lambda line: (-LEVELS.index(line.level), line.marks)))


def _line(analysis: Analysis, group: list[Finding], heated: Sequence[Finding] = ()) -> Line:
    """Say the worst of one kind in full, how many more there are, and which overheat too."""
    group = sorted(group, key=lambda f: (-LEVELS.index(f.level), f.mark))
    worst = group[0]
    level = max((worst, *heated), key=lambda f: LEVELS.index(f.level)).level
    what = f"{_where(analysis, worst)}{shown(worst.message, 400)}"
    if len(group) > 1:
        what = f"{what} {_more(analysis, group[1:], level)}"
    where_else = _gases_with(analysis, worst)
    of_the_part = rule_named(worst.rule).group not in ("process", "drawing")
    if worst.level == "loss" and where_else and of_the_part:
        what = f"{what} {where_else}"
    if heated:
        webs = sum(_places(analysis, f) for f in group)
        counted = [replace(f, count=_places(analysis, f)) for f in heated]
        what = f"{what} {too_hot(webs, counted)}"
        # what cures the fault that asks for more is enough for the other as well
        worst = max((worst, *heated), key=lambda f: (LEVELS.index(f.level), f.wants_mm))
    marks = tuple(dict.fromkeys(f.mark for f in (*group, *heated)))
    return Line(marks, level, what, shown(worst.remedy, 400))


def _copies(analysis: Analysis, finding: Finding) -> int:
    """Return how many times the part of a finding is there; 1 for one of the drawing."""
    return next((p.count for p in analysis.parts.parts if p.id == finding.part), 1)


def _places(analysis: Analysis, finding: Finding) -> int:
    """Return the places a line counts: of one part where all are alike, else of all copies."""
    alike = len(analysis.parts.parts) < 2
    return finding.count * (1 if alike else _copies(analysis, finding))


def _where(analysis: Analysis, finding: Finding) -> str:
    """Name the part where there are several, and say that what follows is of one copy."""
    named = finding.part is not None and finding.message.startswith(finding.part)
    if finding.part is None or named:
        return ""
    copies = _copies(analysis, finding)
    if len(analysis.parts.parts) < 2:
        return f"Each of {copies:,} parts: " if copies > 1 else ""
    return f"{finding.part} (each of {copies:,}): " if copies > 1 else f"{finding.part}: "


def _more(analysis: Analysis, rest: list[Finding], level: str) -> str:
    """Count the places beside the worst, by level where theirs is not that of the line."""
    by_level = {one: sum(_places(analysis, f) for f in rest if f.level == one) for one in LEVELS}
    told = [(one, by_level[one]) for one in reversed(LEVELS) if by_level[one]]
    parts = list(dict.fromkeys(f.part for f in rest if f.part))
    on = ""
    if parts and len(analysis.parts.parts) > 1:
        on = f" on {len(parts)} parts" if len(parts) > 4 else f" on {listed(parts)}"
        on += ", all copies" if any(_copies(analysis, f) > 1 for f in rest) else ""
    places = f"{sum(by_level.values()):,}"
    if len(told) > 1:
        split = ", ".join(f"{count:,} of {one}" for one, count in told)
        return f"And {places} more{on}: {split}."
    if told[0][0] != level:
        return f"And {places} more of {told[0][0]}{on}."
    return f"And {places} more like it{on}, none worse."


def _gases_with(analysis: Analysis, finding: Finding) -> str:
    """Say in which gases the same place is a loss."""
    place = finding.places[:1]
    same = [
        result.gas
        for result in analysis.gases
        if any(
            f.rule == finding.rule and f.part == finding.part and f.level == "loss"
            and (not place or place[0] in f.places)
            for f in result.findings
        )
    ]  # fmt: skip
    if len(analysis.gases) < 2:
        return ""
    if len(same) == len(analysis.gases):
        return "The same in every gas."
    better = [spoken(r.gas) for r in analysis.gases if r.gas not in same]
    return f"Not with {listed(better)}."


# --- the drawing -------------------------------------------------------------------------


def _facts(analysis: Analysis, told: set[str]) -> tuple[str, ...]:
    """Return one line for every kind of fact that no finding has told yet."""
    by_kind: dict[str, list[Fact]] = {}
    for fact in analysis.facts:
        if fact.kind not in told:
            by_kind.setdefault(fact.kind, []).append(fact)
    lines = []
    for kind, facts in by_kind.items():
        if kind == "layer-role":  # every layer is a question of its own
            lines += [shown(line, 1000) for line in told_together(facts)]
            continue
        if kind == "layer-not-there":  # every slip is one to mend
            lines += [shown(fact.message, 1000) for fact in facts]
            continue
        messages = [shown(fact.message, 400) for fact in facts]
        places = sum(fact.count for fact in facts[1:])
        more = f" (and {places:,} more like it)" if len(set(messages)) > 1 else ""
        lines.append(messages[0] + more)
    return tuple(lines)


def _account(analysis: Analysis) -> str:
    account, inside = analysis.drawing.account, analysis.drawing.in_blocks
    left = account.total - account.used
    words = f"{counted(account.total, 'entity', 'entities')}: "
    words += f"{account.used:,} used, {left:,} ignored"
    if inside.total:
        words += f"; in blocks {inside.total:,}: {inside.used:,} used, "
        words += f"{inside.total - inside.used:,} ignored"
    return words


def _ignored(analysis: Analysis) -> tuple[str, ...]:
    rows = [(row, "") for row in analysis.drawing.account.ignored]
    rows += [(row, " in blocks") for row in analysis.drawing.in_blocks.ignored]
    return tuple(
        f"{row.count:,} {shown(row.type, 60)} on {shown(row.layer, 60)}{where}:"
        f" {shown(row.reason, 200)}"
        for row, where in rows
    )
