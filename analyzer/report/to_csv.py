"""The answer as tables for a spreadsheet: findings, features, parts or gases.

Numbers are those of the JSON answer.  The first column names the drawing, so that the tables of
several drawings can be put below one another.  Cells from a drawing never begin a formula.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from analyzer.comparison import Answer
from analyzer.parts.part import Part
from analyzer.report.escape import shown, spreadsheet_safe
from analyzer.report.manner import PLAIN, TABLES, Manner
from analyzer.report.to_json import compare_object, mm
from analyzer.rules.rule import LEVELS

BYTE_ORDER_MARK = b"\xef\xbb\xbf"
LONGEST = 1000  # characters of one cell

Json = Mapping[str, Any]
Row = Sequence[object]

FINDINGS = (
    "drawing", "gas", "advised", "mark", "rule", "level", "part", "count", "x_mm", "y_mm",
    "measured", "limit", "unit", "message", "remedy",
)  # fmt: skip
FEATURES = (
    "drawing", "part", "parts", "feature", "x_mm", "y_mm", "size_mm", "size_by_thickness",
    "length_mm", "angle_deg",
)  # fmt: skip
PARTS = (
    "drawing", "part", "count", "other_hand_of", "width_mm", "height_mm", "area_mm2", "weight_kg",
    "cut_length_mm", "pierces", "holes", "gas", "time_s_each",
)  # fmt: skip
TERMS = ("cut", "slowed", "leads", "starts", "pierce", "traverse", "marking")
GASES = (
    "drawing", "gas", "advised", "oxygen_share_percent", "speed_m_per_min", "within_power",
    "time_s", *(f"{term}_s" for term in TERMS), "other_s", "edge_m_class_0", "edge_m_class_1",
    "edge_m_class_2", "edge_m_class_3", "rework_min", "oxygen_nm3", "nitrogen_nm3", "air_nm3",
    "energy_kwh", "cost", "currency", "losses", "reworks", "notes",
)  # fmt: skip


def answer_csv(answer: Answer, manner: Manner = PLAIN) -> bytes:
    """Return one table of an answer."""
    return answers_csv([answer], manner)


def answers_csv(answers: Iterable[Answer], manner: Manner = PLAIN) -> bytes:
    """Return one table of several answers below one another, with one line of heads."""
    columns, rows = _TABLES[manner.table]
    return table_csv(columns, (row for answer in answers for row in rows(answer)), manner)


def table_csv(columns: Sequence[str], rows: Iterable[Row], manner: Manner = PLAIN) -> bytes:
    """Return a table as CSV after RFC 4180, but lines end as everywhere else here.

    Plain ASCII where all text is; else UTF-8 with a byte order mark, without which spreadsheets
    take it for another encoding.  Python reads both as "utf-8-sig".

    Parameters
    ----------
    columns : sequence of str
        Heads, safe as they are.
    rows : iterable of rows
        Text is made safe for spreadsheets here; True and False become yes and no, None nothing.
    manner : Manner
    """
    stream = io.StringIO()
    writer = csv.writer(stream, delimiter=manner.between, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_cell(value, manner.point) for value in row] for row in rows)
    text = stream.getvalue()
    return text.encode("ascii") if text.isascii() else BYTE_ORDER_MARK + text.encode("utf-8")


def _cell(value: object, point: str) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return _number(value).replace(".", point)
    return spreadsheet_safe(shown(str(value), LONGEST))


def _number(value: float) -> str:
    """Return a number without power of ten, to 1e-6 as in JSON."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


# --- tables ------------------------------------------------------------------------------


def _findings(answer: Answer) -> Iterator[Row]:
    """Yield one row a gas and finding; those of the drawing once where no gas is listed."""
    found = compare_object(answer)
    name = found["drawing"]["file"]
    for gas in found["gases"]:
        advised = gas["gas"] == found["advice"]["gas"]
        for one in gas["findings"]:
            yield [name, gas["gas"], advised, *_finding(one)]
    if not found["gases"]:
        for finding in answer.analysis.on_drawing:
            yield [
                name, "", False, finding.mark, finding.rule, finding.level, finding.part,
                finding.count, finding.x, finding.y, float(finding.measured),
                float(finding.limit), finding.unit, finding.message, finding.remedy,
            ]  # fmt: skip


def _finding(one: Json) -> list[object]:
    names = (
        "mark", "rule", "level", "part", "count", "x", "y", "measured", "limit", "unit",
        "message", "remedy",
    )  # fmt: skip
    return [one[name] for name in names]


def _features(answer: Answer) -> Iterator[Row]:
    """Yield one row a hole, slot, corner, web and neck of every distinct part."""
    analysis = answer.analysis
    thickness, name = analysis.job.thickness_mm, analysis.drawing.file
    for part in analysis.parts.parts:
        for kind, x, y, size, length, angle in _of_part(part):
            by_thickness = None if size is None else mm(size / thickness)
            yield [
                name, part.id, part.count, kind, mm(x), mm(y), size, by_thickness, length, angle,
            ]  # fmt: skip


Feature = tuple[str, float, float, float | None, float | None, float | None]


def _of_part(part: Part) -> Iterator[Feature]:
    """Yield kind, place, size, length and angle of every feature."""
    for hole in part.holes:
        yield "hole", hole.x, hole.y, mm(hole.diameter), None, None
    for slot in part.slots:
        yield "slot", slot.x, slot.y, mm(slot.width), mm(slot.length), mm(slot.angle)
    for corner in part.corners:
        yield "corner", corner.x, corner.y, mm(corner.radius), None, mm(corner.angle)
    for web in part.webs:
        yield "web", web.x, web.y, mm(web.width), None, None
    for neck in part.necks:
        yield "neck", neck.x, neck.y, mm(neck.width), None, None


def _parts(answer: Answer) -> Iterator[Row]:
    """Yield one row a distinct part and gas."""
    found = compare_object(answer)
    names = (
        "id", "count", "other_hand_of", "width_mm", "height_mm", "area_mm2", "weight_kg",
        "cut_length_mm", "pierces",
    )  # fmt: skip
    for k, part in enumerate(found["parts"]):
        fixed = [found["drawing"]["file"], *(part[name] for name in names), len(part["holes"])]
        for gas in found["gases"]:
            yield [*fixed, gas["gas"], gas["parts"][k]["time_s"]]
        if not found["gases"]:
            yield [*fixed, "", None]


def _gases(answer: Answer) -> Iterator[Row]:
    """Yield one row a gas: all copies."""
    found = compare_object(answer)
    for gas in found["gases"]:
        times = gas["time_s"]
        other = times["total"] - sum(times[term] for term in TERMS)
        use = gas["gas_nm3"]
        yield [
            found["drawing"]["file"], gas["gas"], gas["gas"] == found["advice"]["gas"],
            gas["oxygen_share_percent"], gas["speed_m_per_min"], gas["within_power"],
            times["total"], *(times[term] for term in TERMS), round(other, 4) + 0.0,
            *gas["edge_m_by_burr_class"], gas["rework_min"], use["oxygen"], use["nitrogen"],
            use["air"], gas["energy_kwh"], gas.get("cost"), gas.get("currency"),
            *(_count(gas, level) for level in reversed(LEVELS)),
        ]  # fmt: skip


def _count(gas: Json, level: str) -> int:
    return sum(one["count"] for one in gas["findings"] if one["level"] == level)


_TABLES: dict[str, tuple[tuple[str, ...], Callable[[Answer], Iterator[Row]]]] = dict(
    zip(
        TABLES,
        ((FINDINGS, _findings), (FEATURES, _features), (PARTS, _parts), (GASES, _gases)),
        strict=True,
    )
)
