"""Tables for a spreadsheet: the numbers of the JSON, and no cell that begins a formula."""

import csv
import io
from functools import cache

import ezdxf
import pytest
from shared import SAMPLES

from analyzer.comparison import Answer
from analyzer.report.formats import written
from analyzer.report.manner import TABLES, Manner
from analyzer.report.to_json import check_object
from analyzer.request import Request

ASKED = Request(material="mild-steel", thickness_mm=10.0, power_kw=10.0)


@cache
def answer() -> Answer:
    return ASKED.answer(SAMPLES / "gusset.dxf")


def rows_of(table: str, **manner: str) -> list[dict[str, str]]:
    asked = Manner(table=table, **manner)  # type: ignore[arg-type]
    made = written("check", answer(), "csv", asked).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(made), delimiter=asked.between))


def test_findings_are_those_of_the_json() -> None:
    told = check_object(answer())
    expected = [
        (gas["gas"], str(f["mark"]), f["rule"], f["level"])
        for gas in told["gases"]
        for f in gas["findings"]
    ]
    rows = rows_of("findings")
    found = {(row["gas"], row["mark"], row["rule"], row["level"]) for row in rows}
    assert found == set(expected)
    assert {row["drawing"] for row in rows} == {"gusset.dxf"}


def test_gases_have_their_times() -> None:
    told = {gas["gas"]: gas["time_s"]["total"] for gas in check_object(answer())["gases"]}
    rows = rows_of("gases")
    assert {row["gas"] for row in rows} == set(told)
    for row in rows:
        total = float(row["time_s"])
        assert total == pytest.approx(told[row["gas"]], abs=1e-3)


@pytest.mark.parametrize("table", TABLES)
def test_decimal_comma_changes_the_sign_only(table: str) -> None:
    plain, comma = rows_of(table), rows_of(table, decimal="comma")
    assert plain
    assert len(plain) == len(comma)
    for one, two in zip(plain, comma, strict=True):
        for name, cell in one.items():
            try:
                number = float(cell)
            except ValueError:
                assert two[name] == cell
            else:
                assert float(two[name].replace(",", ".")) == number


def test_no_cell_begins_a_formula(tmp_path) -> None:  # type: ignore[no-untyped-def]
    document = ezdxf.new("R2000")
    document.modelspace().add_circle((0, 0), 50)
    document.modelspace().add_line((200, 0), (300, 0), dxfattribs={"layer": "-1+1"})
    path = tmp_path / "=cmd.dxf"
    document.saveas(path)
    made = ASKED.answer(path)
    for table in TABLES:
        text = written("check", made, "csv", Manner(table=table)).decode("utf-8-sig")
        for row in csv.reader(io.StringIO(text)):
            for cell in row:
                if cell[:1] in ("=", "+", "@", "-"):
                    float(cell)  # a number may be negative
