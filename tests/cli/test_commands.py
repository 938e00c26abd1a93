"""The command line: start-up, help, exit codes, one plain line for every error."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result
from shared import ROOT

from analyzer._version import __version__
from analyzer.cli import burrcast
from analyzer.cli.group import COMMANDS

SAMPLES = ROOT / "sample_drawings"
GUSSET = str(SAMPLES / "gusset.dxf")
JOB = ["--material", "mild-steel", "--thickness", "10mm", "--power", "10kW"]


def run(*words: str) -> Result:
    return CliRunner().invoke(burrcast, words)


def refused(result: Result, code: int = 2) -> str:
    """Return the one line of a refusal; nothing on stdout, no traceback."""
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    lines = result.stderr.splitlines()
    assert len(lines) == 1, lines
    assert lines[0].startswith("burrcast: ")
    assert "Traceback" not in result.stderr
    return lines[0]


# --- start-up and help ---------------------------------------------------------------------


def test_help_and_version() -> None:
    for words in ([], ["--help"], ["-h"]):
        result = run(*words)
        assert result.exit_code == 0
        assert all(name in result.stdout for name in COMMANDS)
    assert run("--version").stdout == f"burrcast {__version__}\n"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_of_one_screen_width(name: str) -> None:
    result = run(name, "--help")
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 100


def test_help_loads_no_heavy_library() -> None:
    """What keeps `--help` within twice the start of click (docs/performance.md)."""
    code = (
        "import sys\nfrom analyzer.cli import burrcast\n"
        "try: burrcast.main(['--help'])\nexcept SystemExit: pass\n"
        "import analyzer\n"
        "heavy = {'numpy', 'ezdxf', 'shapely', 'networkx', 'scipy', 'matplotlib'}\n"
        "print(sorted(heavy & set(sys.modules)),"
        " file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_one_thread_is_set_before_numpy() -> None:
    code = "import os; import analyzer.cli; print(os.environ['OPENBLAS_NUM_THREADS'])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "1"


def test_python_m_analyzer_is_the_command() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "analyzer", "--version"], capture_output=True, text=True, check=True
    )
    assert done.stdout == f"burrcast {__version__}\n"


# --- errors ------------------------------------------------------------------------------------


def test_all_that_is_missing_is_named_at_once() -> None:
    line = refused(run("check", GUSSET))
    assert "--material" in line
    assert "--thickness" in line
    assert "--power" in line
    line = refused(run("check", GUSSET, "--material", "S235", "--thickness", "10"))
    assert "missing --power" in line


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--thickness", "10kg"], "kg"),
        (["--thickness", "ten"], "ten"),
        (["--thickness", "0"], "0 mm is impossible"),
        (["--thickness", "900"], "900 mm is impossible"),
        (["--thickness", "3,5"], "with a point: 3.5"),
        (["--power", "10mm"], "mm"),
        (["--material", "unobtainium"], "unobtainium"),
        (["--material", "titanium"], "titanium"),
        (["--gas", "argon"], "argon"),
        (["--gas", "mixed", "--share", "40"], "23.5"),
        (["--plate", "dirty"], "dirty"),
        (["--next", "eat"], "eat"),
        (["--units", "cubit"], "cubit"),
        (["--layer", "cut"], "ROLE=NAME"),
        (["--layer", "fold=X"], "fold"),
        (["--format", "doc"], "is not known; use one of"),
        (["--format", "json", "--format", "text"], "--out"),
        (["--fail-on", "always"], "always"),
        (["--shop", "nowhere.toml"], "nowhere.toml"),
        (["--nonsense"], "--nonsense"),
    ],
)
def test_wrong_options_are_refused_in_one_line(words: list[str], says: str) -> None:
    assert says in refused(run("check", GUSSET, *JOB, *words))


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (None, "no such file"),
        (b"", "empty"),
        (b"hello", "DXF"),
        (b"\x89PNG\r\n\x1a\n" + bytes(64), ""),
        (b"%PDF-1.7\n", "PDF"),
        (b"AC1032" + bytes(100), "DWG"),
        (b"PK\x03\x04" + bytes(60), ""),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nLINE\n 10\n", ""),
    ],
    ids=["missing", "empty", "words", "png", "pdf", "dwg", "zip", "cut off"],
)
def test_what_is_no_drawing_is_refused(tmp_path: Path, content: bytes | None, says: str) -> None:
    path = tmp_path / "drawing.dxf"
    if content is not None:
        path.write_bytes(content)
    before = sorted(tmp_path.iterdir())
    line = refused(run("check", str(path), *JOB, "--out", str(tmp_path / "out")))
    assert "drawing.dxf" in line
    assert says.lower() in line.lower()
    assert sorted(tmp_path.iterdir()) == before


def test_a_folder_is_refused(tmp_path: Path) -> None:
    assert tmp_path.name in refused(run("check", str(tmp_path), *JOB))


def test_unknown_command_and_no_drawing() -> None:
    assert "bend" in refused(run("bend"))
    assert "DRAWING" in refused(run("check"))


def test_a_name_cannot_command_the_terminal(tmp_path: Path) -> None:
    line = refused(run("check", str(tmp_path / "a\x1b[2J\u202e.dxf"), *JOB))
    assert "\x1b" not in line
    assert "\u202e" not in line


def test_our_own_fault_is_caught_at_the_edge(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("bad\nluck")

    monkeypatch.setattr("analyzer.cli.run.answer_for", broken)
    line = refused(run("check", GUSSET, *JOB), code=70)
    assert "please report" in line
    assert "RuntimeError: bad\\x0aluck" in line


def test_an_interrupt_ends_with_130(monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("analyzer.cli.run.answer_for", stopped)
    result = run("check", GUSSET, *JOB)
    assert result.exit_code == 130
    assert result.stdout == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_behind_stdout_is_one_line() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "analyzer", "limits"], stdout=full, stderr=subprocess.PIPE,
            text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr.startswith("burrcast: cannot write")
    assert len(done.stderr.splitlines()) == 1


# --- limits, tables, explain -------------------------------------------------------------------


def schema(name: str) -> dict[str, object]:
    return json.loads((ROOT / "docs" / "schemas" / f"{name}.json").read_text(encoding="utf-8"))


def test_limits() -> None:
    assert "block_depth" in run("limits").stdout
    written = json.loads(run("limits", "--format", "json").stdout)
    jsonschema.validate(written, schema("burrcast.limits-1"))


def test_tables_show_the_anchors() -> None:
    """4.64 and 5.11 m/min at 10 mm and 10 kW (common practice, no source; cutting data A1)."""
    page = run("tables", "show", "--power", "10kW", "--material", "S235").stdout
    row = next(line for line in page.splitlines() if line.split()[:1] == ["10"])
    assert row.split()[1:4] == ["2.30", "4.64", "5.11"]
    written = json.loads(run("tables", "show", "--power", "10", "--format", "json").stdout)
    jsonschema.validate(written, schema("burrcast.tables-1"))
    page = run("tables", "show", "--power", "10", "--thickness", "10", "--material", "S235").stdout
    assert "kerf" in page
    assert "--power" in refused(run("tables", "show"))


def test_explain() -> None:
    page = run("explain").stdout
    assert max(map(len, page.splitlines())) <= 120
    assert "hole-too-small" in page
    assert "slowed" in page
    page = run("explain", "hole-too-small").stdout
    for words in ("Why:", "Remedy:", "Limits", "oxygen", "nitrogen", "common practice"):
        assert words in page
    page = run("explain", "slowed").stdout
    assert "Formula:" in page
    assert "hole-too-small" in refused(run("explain", "hole-to-small"))


def test_words_of_options_may_have_capitals() -> None:
    page = run("check", GUSSET, *JOB, "--next", "Powder", "--plate", "CLEAN").stdout
    assert page == run("check", GUSSET, *JOB, "--next", "powder", "--plate", "clean").stdout
    assert "next step powder" in page


def test_a_group_without_a_command_is_its_help() -> None:
    asked = run("tables")
    assert (asked.exit_code, asked.stderr) == (0, "")
    assert asked.stdout == run("tables", "--help").stdout


@pytest.mark.parametrize(
    ("shown", "name"),
    [("moves", "traverse"), ("Time", "total"), ("lead-ins", "leads"), ("hand work", "rework"),
     ("wear parts", "cost-consumables"), ("consumables", "cost-consumables"),
     ("no burr, m", "burr-0"), ("time each", "total")],
)  # fmt: skip
def test_explain_knows_what_the_tables_call_a_number(shown: str, name: str) -> None:
    page = run("explain", *shown.split()).stdout
    assert page == run("explain", name).stdout
    assert f"({name}): " in page


def test_explain_suggests_what_the_tables_call_it() -> None:
    assert "did you mean hand work?" in refused(run("explain", "hand", "wrok"))
    assert "did you mean moves?" in refused(run("explain", "travers"))


def test_every_rule_and_number_is_explained() -> None:
    # a number is called as the tables call it, its own name in brackets
    names = re.findall(r"^  (\S+(?: [^\s(]\S*)*)", run("explain").stdout, flags=re.M)
    assert len(names) > 30
    for name in names:
        result = run("explain", name)
        assert result.exit_code == 0, name
        assert max(map(len, result.stdout.splitlines())) <= 100


def test_the_manual_is_the_help() -> None:
    from analyzer.cli.manual import manual

    written = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert written == manual(), "run: python -m analyzer.cli.manual > docs/commands.md"


@pytest.mark.parametrize("words", [
    ("explain",),
    ("batch", "sample_drawings", "--pattern", "cleat.dxf", "--material", "S235",
     "--thickness", "8", "--power", "6", "--jobs", "1"),
])  # fmt: skip
def test_a_closed_pipe_is_no_finding(words: tuple[str, ...]) -> None:
    """`burrcast batch drawings | head -1`: exit code 1 would mean a finding at --fail-on."""
    end, start = os.pipe()
    os.close(end)
    told = subprocess.run(
        [sys.executable, "-m", "analyzer", *words], stdout=start, stderr=subprocess.PIPE,
        check=False, cwd=ROOT,
    )  # fmt: skip
    os.close(start)
    assert (told.returncode, told.stderr) == (2, b"")


def test_one_line_of_a_drawing_without_a_cut_names_the_loss() -> None:
    """It said "nothing found" where every line was told to be ignored."""
    words = ("check", str(ROOT / "sample_drawings" / "cleat.dxf"), "--material", "S235",
             "--thickness", "8", "--power", "6", "--layer", "ignore=*")  # fmt: skip
    assert run(*words, "--brief").stdout == "cleat.dxf: no gas advised; 1 loss, 1 note\n"
    assert "No cut line was found" in run(*words).stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("gusset.dxf",), "No such command 'gusset.dxf'. Did you mean burrcast check gusset.dxf?"),
        (("chek", "a.dxf"), "No such command 'chek'. Did you mean burrcast check?"),
        (("xyz",), "No such command 'xyz'. (see burrcast --help)"),
        (("--material", "S235", "check"), "'--material'. Options stand behind the command."),
    ],
)
def test_a_command_that_is_none_says_what_may_be_meant(words: tuple[str, ...], said: str) -> None:
    assert said in refused(run(*words))


# --- own tables ----------------------------------------------------------------------------

OWN_ROWS = """\
[[cutting]]
material = "S235"
gas = "nitrogen"
power_kw = 10
thickness_mm = 10
speed_m_per_min = 46

[[cutting]]
material = "S235"
gas = "nitrogen"
power_kw = 10
thickness_mm = 8
speed_m_per_min = 6.4

[[cutting]]
material = "S235"
gas = "nitrogen"
power_kw = 10
thickness_mm = 12
speed = 3.5
"""


def test_tables_check_names_the_refused_row(tmp_path: Path) -> None:
    """46 typed for 4.6 m/min at 10 mm on 10 kW needs 4.5 of the laser's power."""
    shop = tmp_path / "burrcast.toml"
    shop.write_text(OWN_ROWS)
    result = run("tables", "check", "--shop", str(shop))
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    assert "3 rows, 1 used." in text
    assert "line 1, [cutting]: mild-steel, nitrogen, 10 mm / 10 kW: 46 m/min is faster" in text
    assert "line 20, [cutting]: key 'speed' is not known" in text
    assert "mild-steel, 10 kW: oxygen, mixed, air" in text
    written = run("tables", "check", "--shop", str(shop), "--format", "json").stdout
    schema = json.loads((ROOT / "docs/schemas/burrcast.tables-check-1.json").read_text())
    jsonschema.validate(json.loads(written), schema)
    (row,) = json.loads(written)["refused"]
    assert row["measured"] == pytest.approx(4.5, abs=0.05)


@pytest.mark.parametrize(("level", "code"), [("note", 1), ("rework", 1), ("loss", 0)])
def test_tables_check_fails_on_a_level(tmp_path: Path, level: str, code: int) -> None:
    shop = tmp_path / "burrcast.toml"
    shop.write_text(OWN_ROWS.partition('[[cutting]]\nmaterial = "S235"\ngas = "nitrogen"\n'
                                       "power_kw = 10\nthickness_mm = 12")[0])  # fmt: skip
    result = run("tables", "check", "--shop", str(shop), "--fail-on", level)
    assert result.exit_code == code, result.output


def test_tables_check_names_rows_of_another_laser(tmp_path: Path) -> None:
    """Rows typed with 12 kW are never used by a 10 kW laser: they must not count as used."""
    shop = tmp_path / "burrcast.toml"
    rows = OWN_ROWS.partition('[[cutting]]\nmaterial = "S235"\ngas = "nitrogen"\npower_kw = 10\n'
                              "thickness_mm = 12")[0]  # fmt: skip
    shop.write_text("[machine]\npower_kw = 10\n" + rows.replace("power_kw = 10", "power_kw = 12"))
    result = run("tables", "check", "--shop", str(shop), "--fail-on", "note")
    assert result.exit_code == 1
    text = " ".join(result.stdout.split())
    assert "2 rows, 0 used." in text
    assert "For another power than your laser's 10 kW" in text
    assert "12 kW: mild-steel, nitrogen, 1 row" in text  # the other is refused anyway
    written = json.loads(
        run("tables", "check", "--shop", str(shop), "--format", "json").stdout
    )  # fmt: skip
    jsonschema.validate(written, schema("burrcast.tables-check-1"))
    assert [row["power_kw"] for row in written["elsewhere"]] == [12.0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("power_kw = 10\n", "line 1: key 'power_kw' stands outside any section"),
        ("\n[gases.argon]\nsupply = 'tank'\n", "line 2, [gases]: key 'argon' is not known"),
        ("[limits.hole-to-small]\nkerfs_ok = 4\n", "line 1, [limits.hole-to-small]: "),
        ("[limits.hole-too-small]\nleast_mm = 1\nkerfs_ok = 2\n",
         "line 3, [limits.hole-too-small]: kerfs_last = 3 is above kerfs_ok = 2"),
        ("[limits.'hole-too-small']\nnitrogen = { ok = -1 }\n", "line 2, [limits.hole-too-small]"),
        ("[limits.hole-too-small.nitrogen]\nlast = 0.2\nok = 'x'\n",
         "line 3, [limits.hole-too-small.nitrogen]: 'x' is not a number"),
        ("[limits.hole-too-small.helium]\nok = 1\n", "line 1, [limits]: 'helium' is not"),
    ],
)  # fmt: skip
def test_a_slip_in_the_shop_file_is_named_with_its_line(
    tmp_path: Path, text: str, said: str
) -> None:
    """Also of limits, and by commands that judge no drawing."""
    shop = tmp_path / "burrcast.toml"
    shop.write_text(text)
    assert f"burrcast.toml, {said}" in refused(run("tables", "check", "--shop", str(shop)))


def test_tables_check_without_rows(tmp_path: Path) -> None:
    shop = tmp_path / "burrcast.toml"
    shop.write_text("")
    result = run("tables", "check", "--shop", str(shop), "--fail-on", "note")
    assert result.exit_code == 0
    assert "no cutting rows of your own" in result.stdout


def test_tables_export_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    result = run("tables", "export", "--out", str(folder))
    assert result.exit_code == 0, result.output
    assert result.stdout == ""
    text = (folder / "burrcast.toml").read_text()
    assert text == run("tables", "export").stdout
    assert "is there already" in refused(run("tables", "export", "--out", str(folder)))
    assert run("tables", "export", "--out", str(folder), "--force").exit_code == 0
    assert [path.name for path in folder.iterdir()] == ["burrcast.toml"]
    assert "impossible" in refused(run("tables", "export", "--power", "900"))
    # and the tool runs with it as without it
    with_file = run("check", GUSSET, *JOB, "--shop", str(folder / "burrcast.toml"))
    assert with_file.stdout == run("check", GUSSET, *JOB).stdout
