"""Pages of text stay within 80 columns, numbers in their columns, and bare when piped."""

import io
import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner
from shared import SAMPLES, corpus_drawings, needs_corpus

from analyzer.cli import burrcast
from analyzer.errors import BurrcastError
from analyzer.report.rows import Row
from analyzer.report.to_brief import brief_line
from analyzer.report.to_text import WIDTH, check_page, compare_page, table
from analyzer.request import Request
from analyzer.units import parse_length, parse_power

NAMES = sorted(path.name.removesuffix(".expected.toml") for path in SAMPLES.glob("*.expected.toml"))
SHOP = '[rates]\ncurrency = "EUR"\nmachine_per_h = 120\nlabour_per_h = 60\n'


def options(name: str) -> list[str]:
    """Return the job of a sample as it is typed."""
    job = tomllib.loads((SAMPLES / f"{name}.expected.toml").read_text(encoding="utf-8"))["job"]
    return [f"--{key}={value}" for key, value in job.items()]


def asked(name: str) -> Request:
    """Return the same as values."""
    job = tomllib.loads((SAMPLES / f"{name}.expected.toml").read_text(encoding="utf-8"))["job"]
    return Request(
        material=job["material"], thickness_mm=parse_length(job["thickness"]),
        power_kw=parse_power(job["power"]), plate=job.get("plate"), next_step=job.get("next"),
    )  # fmt: skip


def printed(*words: str) -> str:
    result = CliRunner().invoke(burrcast, words)
    assert result.exit_code == 0, result.output
    return result.stdout


def too_wide(text: str) -> list[str]:
    """Lines over the width; a single word that cannot be broken would be one."""
    return [line for line in text.splitlines() if len(line) > WIDTH and " " in line.strip()]


@pytest.mark.parametrize("name", NAMES)
def test_pages_of_the_samples_fit(name: str) -> None:
    answer = asked(name).answer(SAMPLES / f"{name}.dxf")
    for made in (check_page(answer, why=True), compare_page(answer, why=True)):
        assert too_wide(made) == []
        assert "\x1b" not in made
    assert brief_line(answer).count("\n") == 1
    assert len(brief_line(answer)) <= WIDTH + 1


def test_compare_and_sheets_with_money_fit(tmp_path: Path) -> None:
    shop, orders = tmp_path / "burrcast.toml", tmp_path / "orders.csv"
    shop.write_text(SHOP)
    long = tmp_path / f"{'very_long_name_of_a_customer_' * 3}.dxf"
    long.write_bytes((SAMPLES / "gusset.dxf").read_bytes())
    job = [*options("gusset"), f"--shop={shop}"]
    assert too_wide(printed("compare", str(long), *job, "--why")) == []
    orders.write_text(f"drawing,quantity,thickness_mm\n{long.name},3,10\n{long.name},2,8\n")
    job = ["--material=mild-steel", "--power=10kW", "--gas=nitrogen", "--no-what-if"]
    assert too_wide(printed("sheet", str(orders), *job)) == []


@pytest.mark.slow
@pytest.mark.parametrize("rates", [False, True])
def test_the_order_of_a_footbridge_fits(tmp_path: Path, rates: bool) -> None:
    shop = tmp_path / "burrcast.toml"
    shop.write_text(SHOP if rates else "")
    made = printed("sheet", str(SAMPLES / "footbridge_kit.csv"), "--power=10kW", f"--shop={shop}")
    assert too_wide(made) == []


@pytest.mark.parametrize("words", [
    ["explain"], ["explain", "hole-too-small"], ["explain", "total"], ["limits"],
    ["tables", "show", "--power=10kW"],
    ["tables", "show", "--power=10kW", "--material=mild-steel", "--thickness=10mm"],
])  # fmt: skip
def test_what_explains_fits(words: list[str]) -> None:
    assert too_wide(printed(*words)) == []


def test_a_wide_table_shortens_names_then_goes_on_below() -> None:
    """Every number stays under its head, and none is lost."""
    head = ("part", *(f"column {k}" for k in range(12)))
    rows = [Row("a" * 90, tuple(f"{k * 111}" for k in range(12))), Row("b", ("7",) * 12)]
    lines = table(head, rows)
    assert too_wide("\n".join(lines)) == []
    assert sum(line.startswith("  part ") for line in lines) == len(lines) / 3 > 1
    for start in range(0, len(lines), 3):
        top, long, short = lines[start : start + 3]
        assert long[2:18] == "aaaaaa...aaaaaaa"
        for name in head[1:]:
            if name not in top:
                continue
            end = len(top[: top.index(name)]) + len(name)
            if top[end : end + 1] in ("", " "):
                assert long[:end].split()[-1] == str(int(name.split()[1]) * 111)
                assert short[:end].split()[-1] == "7"
    told = " ".join(lines)
    assert all(f" {k * 111} " in f"{told} " for k in range(12))


def test_a_table_that_fits_is_left_alone() -> None:
    assert table(("", "air"), [Row("time", ("36 s",))]) == ["         air", "  time  36 s"]


@pytest.mark.slow
@needs_corpus
def test_pages_of_the_real_drawings_fit() -> None:
    job = Request(material="mild-steel", thickness_mm=5.0, power_kw=6.0)
    read, wide = 0, io.StringIO()
    for path in corpus_drawings():
        try:
            answer = job.answer(path)
        except BurrcastError:
            continue
        read += 1
        pages = [page(answer, why=why) for page in (check_page, compare_page) for why in (0, 1)]  # type: ignore[arg-type]
        for page in pages:
            wide.writelines(f"{path.name}: {line}\n" for line in too_wide(page))
        assert len(brief_line(answer)) <= WIDTH + 1
    assert read > 50
    assert wide.getvalue() == ""
