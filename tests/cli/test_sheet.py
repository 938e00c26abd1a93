"""burrcast sheet: what it prints, writes, refuses, and how it ends."""

import csv
import io
import json
from pathlib import Path

import ezdxf
import jsonschema
import pytest
from click.testing import CliRunner, Result
from shared import ROOT

from analyzer.cli import burrcast
from analyzer.orders import Given
from analyzer.report.formats import sheeting_written
from analyzer.sheet_order import SheetOptions
from analyzer.sheet_planning import plan_sheets
from analyzer.shop import Shop

JOB = ("--material", "S355", "--thickness", "10mm", "--power", "10kW")
FAST = ("--effort", "0", "--no-what-if")
SCHEMAS = ROOT / "docs" / "schemas"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with two plates and a list of them."""
    for name, length in (("a", 150), ("b", 240)):
        document = ezdxf.new("R2010", units=4)
        space = document.modelspace()
        space.add_lwpolyline([(0, 0), (length, 0), (length, 160), (0, 160)], close=True)
        document.saveas(tmp_path / f"{name}.dxf")
    (tmp_path / "list.csv").write_text("drawing,quantity\na.dxf,4\nb.dxf,2\n", encoding="utf-8")
    return tmp_path


def run(*words: object) -> Result:
    return CliRunner().invoke(burrcast, ["sheet", *map(str, words)])


def schema(name: str) -> object:
    return json.loads((SCHEMAS / f"{name}.json").read_text(encoding="utf-8"))


def test_page_begins_with_the_job_and_the_gas(folder: Path) -> None:
    result = run(folder / "list.csv", *JOB, *FAST, "--sheet", "2000x1000")
    assert result.exit_code == 0, result.output
    first = result.stdout.splitlines()
    assert first[0].startswith("list.csv: mild steel 10 mm, 10 kW")
    assert first[2].startswith("Cut with ")
    assert "1 sheet 2000x1000, 6 parts" in result.stdout
    assert "4 x a.dxf, 2 x b.dxf" in result.stdout


def test_json_of_one_job_and_of_several(folder: Path) -> None:
    one = run(folder / "list.csv", *JOB, *FAST, "--format", "json")
    value = json.loads(one.stdout)
    jsonschema.validate(value, schema("burrcast.sheet-1"))
    assert value["schema"] == "burrcast.sheet/1"
    (folder / "two.csv").write_text(
        "drawing,quantity,thickness\na.dxf,4,10mm\nb.dxf,2,6mm\nno.dxf,1,6mm\n", encoding="utf-8"
    )
    two = run(folder / "two.csv", *JOB, *FAST, "--format", "json")
    assert two.exit_code == 3
    several = json.loads(two.stdout)
    jsonschema.validate(several, schema("burrcast.set-1"))
    assert [r["job"]["thickness_mm"] for r in several["results"]] == [10.0, 6.0]
    for result in several["results"]:
        jsonschema.validate(result, schema("burrcast.sheet-1"))
    assert [row["file"] for row in several["refused"]] == ["no.dxf"]
    assert "line 4" in several["refused"][0]["reason"]


@pytest.mark.parametrize(
    ("text", "words", "says"),
    [
        (None, JOB, "cannot be read"),
        ("drawing,quantity\na.dxf,0\n", JOB, "0 cannot be meant"),
        ("drawing,quantity\na.dxf,1\n", ("--power", "10"), "no material and no thickness_mm"),
        (
            "drawing,quantity\na.dxf,1\n",
            ("--material", "S355", "--thickness", "10"),
            "no power (give it as an option or in the shop file, for example --power 10kW)",
        ),
        ("drawing,quantity\na.dxf,1\n", (*JOB, "--sheet", "3x1"), "cannot be meant"),
        ("drawing,quantity\na.dxf,1\n", (*JOB, "--sheet", "large"), "not a sheet"),
        ("drawing,quantity\na.dxf,1\n", (*JOB, "--gap", "-2"), "not a length"),
        ("drawing,quantity\na.dxf,1\n", (*JOB, "--turns", "45"), "45"),
    ],
)
def test_what_cannot_be_meant_ends_in_one_line_and_exit_2(
    folder: Path, text: str | None, words: tuple[str, ...], says: str
) -> None:
    path = folder / "bad.csv"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    result = run(path, *words)
    assert result.exit_code == 2, result.output
    assert says in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert result.stdout == ""


def test_a_drawing_needs_material_and_thickness_named(folder: Path) -> None:
    result = run(folder / "a.dxf", "--power", "10kW")
    assert result.exit_code == 2
    assert "--material" in result.stderr
    assert "--thickness" in result.stderr


def test_parts_on_no_sheet_are_named_and_end_in_3(folder: Path) -> None:
    result = run(folder / "list.csv", *JOB, *FAST, "--sheet", "200x200:1")
    assert result.exit_code == 3
    assert "2 x b.dxf on no sheet" in result.stderr
    assert "Not placed" in result.stdout


def test_a_drawing_without_a_part_is_a_result(folder: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_line((0, 0), (100, 0))
    document.saveas(folder / "line.dxf")
    result = run(folder / "line.dxf", *JOB, "--format", "json")
    assert result.exit_code == 0, result.stderr
    value = json.loads(result.stdout)
    jsonschema.validate(value, schema("burrcast.sheet-1"))
    assert value["advice"]["gas"] is None


def test_files_are_written_whole_and_never_over_others(folder: Path) -> None:
    out = folder / "out"
    words = (folder / "list.csv", *JOB, *FAST, "--format", "json", "--format", "text", "--out", out)
    assert run(*words).exit_code == 0
    assert {path.name for path in out.iterdir()} == {"list.json", "list.text"}
    again = run(*words)
    assert again.exit_code == 2
    assert "--force" in again.stderr
    assert run(*words, "--force").exit_code == 0


def test_one_file_in_the_way_and_none_is_written(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sheets of an earlier run are refused before planning, all others before the first file."""
    out = folder / "out"
    words = ("--format", "json", "--format", "dxf", "--out", out, "--sheet", "300x300")
    assert run(folder / "list.csv", *JOB, *FAST, *words).exit_code == 0
    made = sorted(path.name for path in out.iterdir())
    assert made[0] == "list.json"
    assert len(made) > 2
    (out / "list.json").unlink()
    (out / made[1]).rename(out / made[1].replace("sheet1", "sheet9"))
    with monkeypatch.context() as patched:
        patched.setattr("analyzer.cli.sheet.sheeting_for", None)  # not one drawing is read
        early = run(folder / "list.csv", *JOB, *FAST, *words)
    assert early.exit_code == 2
    assert "is there already, a sheet of an earlier list.csv" in early.stderr
    assert not (out / "list.json").exists()


def test_a_drawing_of_the_list_is_never_replaced_by_its_sheet(folder: Path) -> None:
    """Asked to replace files: `a.csv` on one sheet would become `a.dxf`, its own drawing."""
    path = folder / "a.csv"
    path.write_text("drawing,quantity\na.dxf,1\n", encoding="utf-8")
    before = (folder / "a.dxf").read_bytes()
    words = ("--format", "json", "--format", "dxf", "--out", folder, "--force")
    result = run(path, *JOB, *FAST, *words)
    assert result.exit_code == 2
    assert "is a drawing itself" in result.stderr
    assert (folder / "a.dxf").read_bytes() == before
    assert not (folder / "a.json").exists()


def test_pictures_and_pages_are_written_beside_one_another(folder: Path) -> None:
    out = folder / "out"
    forms = ("html", "svg", "png", "pdf")
    words = [word for form in forms for word in ("--format", form)]
    result = run(folder / "list.csv", *JOB, *FAST, *words, "--out", out)
    assert result.exit_code == 0, result.stderr
    made = {form: (out / f"list.{form}").read_bytes() for form in forms}
    assert made["png"].startswith(b"\x89PNG")
    assert made["pdf"].startswith(b"%PDF")
    assert b"<svg" in made["svg"]
    assert b"<html" in made["html"]


def test_a_table_has_a_row_a_part_and_no_formula(folder: Path) -> None:
    (folder / "=b.dxf").write_bytes((folder / "b.dxf").read_bytes())
    (folder / "many.csv").write_text("drawing,quantity\na.dxf,3\n=b.dxf,1\n", encoding="utf-8")
    told = Given("mild-steel", 10.0, 10.0)
    options = SheetOptions(effort_s=0.0, what_if=False)
    made = sheeting_written(plan_sheets(folder / "many.csv", told, Shop(), options), "csv")
    head, *rows = csv.reader(io.StringIO(made.decode()))
    assert {row[0] for row in rows} == {"a.dxf", "'=b.dxf"}
    advised = [row for row in rows if row[head.index("advised")] == "yes"]
    total = sum(float(row[head.index("time_s")]) for row in advised)
    assert total == pytest.approx(float(advised[0][head.index("sheet_time_s")]), abs=1e-3)


def test_fail_on_a_level(folder: Path) -> None:
    """A hole of a third of the thickness is lost in every gas; a plain plate has nothing."""
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline([(0, 0), (240, 0), (240, 160), (0, 160)], close=True)
    document.modelspace().add_circle((120, 80), 1.5)
    document.saveas(folder / "hole.dxf")
    (folder / "hole.csv").write_text("drawing,quantity\nhole.dxf,1\n", encoding="utf-8")
    (folder / "plain.csv").write_text("drawing,quantity\nb.dxf,1\n", encoding="utf-8")
    assert run(folder / "hole.csv", *JOB, *FAST, "--fail-on", "loss").exit_code == 1
    assert run(folder / "plain.csv", *JOB, *FAST, "--fail-on", "loss").exit_code == 0


def test_stock_of_the_shop_file_is_used_by_material_and_thickness(folder: Path) -> None:
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_lwpolyline(
        [(0, 0), (700, 0), (700, 300), (400, 300), (400, 600), (0, 600)], close=True
    )
    document.saveas(folder / "rest.dxf")
    (folder / "burrcast.toml").write_text(
        "[sheets]\ngap_mm = 9\nmargin_mm = 12\n"
        '[[sheets.stock]]\nsize = "5000x2000"\nthickness_mm = 3\n'
        '[[sheets.stock]]\nname = "rest 17"\ndrawing = "rest.dxf"\nmaterial = "S355"\n',
        encoding="utf-8",
    )
    (folder / "one.csv").write_text("drawing,quantity\na.dxf,3\n", encoding="utf-8")
    result = run(folder / "one.csv", *JOB, *FAST, "--format", "json")
    assert result.exit_code == 0, result.stderr
    value = json.loads(result.stdout)
    (sheet,) = value["sheets"]
    assert sheet["stock"] == "rest 17"
    assert len(sheet["outline"]) == 6
    assert (value["gap_mm"], value["margin_mm"]) == (9.0, 12.0)
    for placed in sheet["placements"]:  # never in the corner that is missing
        assert placed["x"] < 400.0 or placed["y"] < 300.0
    # metal of the L: 700 x 300 + 400 x 300
    assert sheet["use_percent"] == pytest.approx(100 * 3 * 150 * 160 / (700 * 300 + 400 * 300))


@pytest.mark.parametrize(
    ("section", "says"),
    [
        ('sizes = ["3000"]', "not a sheet"),
        ("gap = 5", "did you mean gap_mm?"),
        ('[[sheets.stock]]\ncount = 2', "one of both"),
        ('[[sheets.clamp]]\nside = "north"\ndepth_mm = 3', "not known"),
        ('[[sheets.stock]]\ndrawing = "gone.dxf"', "gone.dxf"),
    ],
)  # fmt: skip
def test_a_wrong_sheets_section_is_named(folder: Path, section: str, says: str) -> None:
    (folder / "burrcast.toml").write_text(f"[sheets]\n{section}\n", encoding="utf-8")
    result = run(folder / "list.csv", *JOB, *FAST)
    assert result.exit_code == 2, result.output
    assert says in result.stderr


def test_names_from_a_list_are_data(folder: Path) -> None:
    """A name that would clear the screen is shown as a code."""
    evil = "a\x1b[2J.dxf"
    (folder / evil).write_bytes((folder / "a.dxf").read_bytes())
    (folder / "evil.csv").write_text(f"drawing,quantity\n{evil},2\n", encoding="utf-8")
    result = run(folder / "evil.csv", *JOB, *FAST)
    assert result.exit_code == 0, result.stderr
    assert "\x1b" not in result.output
