"""burrcast fit on times made here: what comes back, and the one section it writes."""

import json
import tomllib
from pathlib import Path
from typing import Any

import ezdxf
import jsonschema
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from shared import ROOT

from analyzer.cli import burrcast
from analyzer.errors import InputError
from analyzer.report.to_fit import put_section

# Line ends, comments, blanks and order as a person left them; kept byte for byte.
SHOP = (
    "# our shop\r\n[machine]\r\npower_kw = 10   # the new one\r\n\r\n"
    "[rates]\r\nmachine_per_h = 110\r\nlabour_per_h=55\r\n# about gases\r\n[gases]\r\n"
    'available = ["oxygen", "nitrogen"]\r\n'
)
JOB = ("--material", "S235", "--thickness", "6")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Return a folder with three drawings, a shop file and times 20 % above the start values."""
    for name, holes, width in (("long", 2, 1500), ("holes", 40, 500), ("mixed", 12, 700)):
        document = ezdxf.new("R2010", units=4)
        space = document.modelspace()
        space.add_lwpolyline([(0, 0), (width, 0), (width, 200), (0, 200)], close=True)
        for n in range(holes):
            space.add_circle((30 + 40 * (n % 10), 30 + 40 * (n // 10)), 4)
        document.saveas(tmp_path / f"{name}.dxf")
    (tmp_path / "burrcast.toml").write_bytes(SHOP.encode())
    rows = ["drawing,gas,minutes,count"]
    for name, count in (("long", 10), ("holes", 4), ("mixed", 20)):
        minutes = count * seconds(tmp_path / f"{name}.dxf") / 60.0 * 1.2
        rows.append(f"{name}.dxf,N2,{minutes:.4f},{count}")
    (tmp_path / "times.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return tmp_path


def seconds(path: Path) -> float:
    words = ["check", str(path), *JOB, "--gas", "nitrogen", "--format", "json"]
    written = json.loads(CliRunner().invoke(burrcast, words).stdout)
    return float(written["gases"][0]["time_s"]["total"])


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(burrcast, ["fit", str(folder / "times.csv"), *JOB, *words])


def answer(result: Result) -> dict[str, Any]:
    written: dict[str, Any] = json.loads(result.stdout)
    path = ROOT / "docs" / "schemas" / "burrcast.fit-1.json"
    jsonschema.validate(written, json.loads(path.read_text(encoding="utf-8")))
    return written


def test_before_after_and_what_was_found(shop: Path) -> None:
    result = run(shop)
    assert result.exit_code == 0, result.output
    assert max(map(len, result.stdout.splitlines())) <= 80
    for words in ("Calibrated on 3 sheets: 17 % off before", "start overhead, s", "Nothing written",
                  "Hand work: not fitted", "A sheet not timed: within"):  # fmt: skip
        assert words in result.stdout
    assert (shop / "burrcast.toml").read_bytes() == SHOP.encode()
    written = answer(run(shop, "--format", "json"))
    machine = written["machine"]
    assert machine["off_before"] == pytest.approx(1 - 1 / 1.2, abs=1e-3)
    assert machine["off_after"] < 0.03
    assert machine["residual"] > machine["off_after"]
    keys = [one["key"] for one in machine["parameters"]]
    assert keys == ["start_overhead_s", "cut_acceleration_m_per_s2", "speed_factor"]
    assert all(len(row) == 3 for row in machine["covariance_of_logarithms"])
    assert written["written"] is False


def test_written_only_when_asked_and_the_rest_stays_byte_for_byte(shop: Path) -> None:
    path = shop / "burrcast.toml"
    assert answer(run(shop, "--write", "--format", "json"))["written"] is True
    made = path.read_bytes()
    assert made.startswith(SHOP.encode())
    told = tomllib.loads(made.decode())["calibration"]
    assert told["sheets"] == 3
    assert told["gases"] == ["nitrogen"]
    assert made.count(b"\n") == made.count(b"\r\n")
    # a second fit starts from the machine as told without the section: nothing changes
    assert run(shop, "--write").exit_code == 0
    assert path.read_bytes() == made


def test_the_answers_say_so_and_follow_the_stop_watch(shop: Path) -> None:
    before = seconds(shop / "mixed.dxf")
    run(shop, "--write")
    after = seconds(shop / "mixed.dxf")
    assert after == pytest.approx(1.2 * before, rel=0.03)
    page = CliRunner().invoke(burrcast, ["check", str(shop / "mixed.dxf"), *JOB]).stdout
    assert "calibrated on 3 sheets" in page
    words = page[page.index("Cut with") :].split()
    low, high = next(word for word in words if word.startswith("(")).strip("();").split("-")
    # the band is the measured residual, no longer that of the start values
    assert float(high) / float(low) < 1.25
    text = (shop / "burrcast.toml").read_text(encoding="utf-8")
    (shop / "burrcast.toml").write_text(text[: text.index("[calibration]")], encoding="utf-8")
    assert seconds(shop / "mixed.dxf") == pytest.approx(before)


LINES = ["[calibration]", "sheets = 3", "residual_percent = 5.0"]
OTHER = st.sampled_from([
    "[machine]\npower_kw = 10\n", "# words\n", "\n", "[rates]  # ours\na = 1\n",
    "[[cutting]]\nx = '[calibration]'\n", '[job]\nm = """\n[x]\n"""\n',
])  # fmt: skip


@given(st.lists(OTHER, max_size=5, unique=True), st.lists(OTHER, max_size=5), st.booleans())
def test_only_the_section_changes(before: list[str], after: list[str], there: bool) -> None:
    head, tail = "".join(before), "".join(x for x in after if x.startswith("#") or not x.strip())
    old = "[calibration]\nsheets = 9\n# old\nresidual_percent = 1\n" if there else ""
    text = head + old + tail
    made = put_section(text, LINES, "here")
    block = "\n".join(LINES) + "\n"
    assert tomllib.loads(made)["calibration"] == {"sheets": 3, "residual_percent": 5.0}
    if there:
        assert made == head + block + tail
    else:
        assert made.startswith(text)
    assert put_section(made, LINES, "here") == made


def test_a_section_that_cannot_be_replaced_safely() -> None:
    with pytest.raises(InputError, match="cannot be replaced safely"):
        put_section("calibration = { sheets = 3 }\n", LINES, "here")
    with pytest.raises(InputError, match="cannot be replaced safely"):
        put_section('[job]\nm = """\n[calibration]\nx\n[a]\n"""\n', LINES, "here")
