"""The manual: its commands are run, its generated pages are current, its site breaks no link."""

import importlib.util
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from shared import ROOT, SAMPLES

DOCS = ROOT / "docs"
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.S | re.M)


def blocks(page: str, kind: str) -> list[str]:
    """Return the blocks of one kind on a page of docs/."""
    text = (DOCS / page).read_text(encoding="utf-8")
    return [body for name, body in BLOCK.findall(text) if name == kind]


def commands(page: str) -> list[list[str]]:
    """Return the burrcast commands of a page, in order, as words."""
    lines = [line for body in blocks(page, "sh") for line in body.splitlines()]
    return [shlex.split(line)[1:] for line in lines if line.startswith("burrcast ")]


def run(words: list[str]) -> str:
    from analyzer.cli import burrcast

    result = CliRunner().invoke(burrcast, words)
    assert result.exit_code == 0, f"{shlex.join(words)}\n{result.output}"
    return result.output


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the samples in an empty folder, which becomes the current one."""
    shutil.copytree(SAMPLES, tmp_path / "sample_drawings")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_ten_minutes_as_they_are_copied(shop: Path) -> None:
    """All but the kit, which takes longest: test_the_kit_of_the_ten_minutes."""
    printed = []
    for words in commands("start.md"):
        if words[0] != "sheet" and "YOUR.dxf" not in words:
            printed.append(run(words))
    assert len(printed) == 7
    (verdict,) = blocks("start.md", "text")
    assert " ".join(verdict.split()) in " ".join(printed[0].split())
    assert "2 holes 3.5" in printed[0]
    assert (shop / "answer" / "gusset.html").is_file()
    assert_the_shop_file_tells_the_power(shop / "sample_drawings" / "burrcast.toml", printed[-1])


def assert_the_shop_file_tells_the_power(file: Path, page: str) -> None:
    """As the page says: the "#" taken away, no command needs --power any more."""
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("#power_kw", "power_kw", 1), encoding="utf-8")
    words = commands("start.md")
    plate = next(w for w in words if "sample_drawings/base_plate.dxf" in w)
    assert run([w for w in plate if w not in ("--power", "10kW")]) == page


@pytest.mark.slow
def test_the_kit_of_the_ten_minutes(shop: Path) -> None:
    (kit,) = [words for words in commands("start.md") if words[0] == "sheet"]
    assert "300 parts" in run(kit)


def test_the_shop_file_of_the_manual_is_read_and_wins(shop: Path) -> None:
    text = "\n".join(blocks("your_machine.md", "toml"))
    (shop / "burrcast.toml").write_text(text, encoding="utf-8")
    assert "1 row, 1 used" in run(["tables", "check", "--shop", "burrcast.toml"])
    page = run(["check", "sample_drawings/gusset.dxf", "--material", "mild-steel",
                "--thickness", "10", "--next", "powder"])  # fmt: skip
    assert re.search(r"speed, m/min +2\.30 +4\.90", page)  # the row is used
    assert "Cut with NITROGEN." in page  # without the shop file: mixed gas


@pytest.mark.slow
def test_the_list_of_times_has_the_columns_that_are_read(shop: Path) -> None:
    """The example with sample drawings in place of its own: read and fitted."""
    (times,) = blocks("your_machine.md", "text")
    for theirs, ours in (("frame", "gusset"), ("grating", "cleat"), ("bracket", "washer_plate")):
        times = times.replace(f"{theirs}.dxf", f"sample_drawings/{ours}.dxf")
    Path("times.csv").write_text(times, encoding="utf-8")
    assert "start overhead" in run(["fit", "times.csv", "--power", "10kW"])


def test_the_finding_that_is_explained_is_one_that_is_printed() -> None:
    (shown,) = blocks("findings.md", "text")
    assert shown in (ROOT / "README.md").read_text(encoding="utf-8")


def load(name: str) -> object:
    """Return a script of .ci as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_of_schemas_is_current() -> None:
    page = load("schema_page").page()  # type: ignore[attr-defined]
    assert (DOCS / "schemas.md").read_text(encoding="utf-8") == page
    assert all(f"schemas/{path.name}" in page for path in (DOCS / "schemas").glob("*.json"))


def test_rules_named_in_troubleshooting_and_options_exist() -> None:
    from analyzer.rules.registry import RULES

    text = "".join((DOCS / page).read_text("utf-8") for page in ("troubleshooting.md", "start.md"))
    names = {rule.name for rule in RULES}
    spoken = set(re.findall(r"`([a-z]+(?:-[a-z]+)+)`", text))
    assert spoken
    assert spoken <= names
    manual = (DOCS / "commands.md").read_text(encoding="utf-8")
    options = set(re.findall(r"(?<![\w-])--[a-z]+", text))
    assert {option for option in options if option not in manual} <= {"--quiet"}  # that is pip's


def test_cautions_name_every_danger() -> None:
    text = (DOCS / "cautions.md").read_text(encoding="utf-8")
    for word in ("oxygen enrichment", "asphyxiation", "laser", "fume", "dust", "falling",
                 "local code", "licensed"):  # fmt: skip
        assert word in text.lower()


def test_every_page_of_the_manual_is_in_the_menu_of_the_site() -> None:
    menu = set(
        re.findall(r"^ +- ([\w.]+\.md)$", (ROOT / ".ci/mkdocs.yml").read_text("utf-8"), re.M)
    )
    pages = {path.name for path in DOCS.glob("*.md")}
    assert pages - menu == set()
    assert menu - pages == {"readme.md", "samples.md", "developers.md", "changelog.md"}


@pytest.mark.slow
def test_the_site_builds_without_a_warning_and_asks_no_other_host(tmp_path: Path) -> None:
    pytest.importorskip("material", reason="pip install '.[docs]' to build the site")
    site = tmp_path / "site"
    subprocess.run(
        [
            *(sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet"),
            *("-d", str(site), "-f", str(ROOT / ".ci" / "mkdocs.yml")),
        ],
        check=True, env=os.environ | {"NO_MKDOCS_2_WARNING": "1"},
    )  # fmt: skip
    pages = sorted(site.rglob("*.html"))
    assert len(pages) > 30
    foreign = re.compile(
        r"<(?:script|img|iframe|source|link)\b[^>]*(?:src|href)=[\"']?(?:https?:)?//[^>]*>"
    )
    for page in pages:
        assert foreign.findall(page.read_text(encoding="utf-8")) == [], page.name
    for style in site.rglob("*.css"):
        assert not re.search(r"(?:url\(|@import)\s*[\"']?(?:https?:)?//", style.read_text("utf-8"))
    assert (site / "schemas" / "burrcast.check-1.json").is_file()
    assert "#your-own-limits" in (site / "your_machine.html").read_text(encoding="utf-8")
