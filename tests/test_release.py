"""What is released: one version, a wheel and an sdist that work where nothing else is."""

import re
import shutil
import subprocess
import sys
import tarfile
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest
from shared import ROOT, SAMPLES

from analyzer import __version__

COMPLETE = """
import sys
sys.argv = ["burrcast"]
from analyzer.cli import main
main()
"""


def test_the_version_stands_in_one_place() -> None:
    """pyproject.toml reads it; the citation repeats it, and this test holds it to that."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["dynamic"] == ["version"]
    assert "version" not in project["project"]
    said = [
        path for path in (ROOT / "analyzer").rglob("*.py") if f'"{__version__}"' in path.read_text()
    ]
    assert [path.name for path in said] == ["_version.py"]
    citation = (ROOT / "CITATION.cff").read_text(encoding="utf-8")
    assert re.findall(r"^version: (.+)$", citation, re.M) == [__version__]
    assert re.findall(r"^license: (.+)$", citation, re.M) == [project["project"]["license"]]
    assert re.findall(r"^cff-version: (.+)$", citation, re.M) == ["1.2.0"]


def test_the_command_and_the_module_say_the_version() -> None:
    words = [sys.executable, "-m", "analyzer", "--version"]
    said = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert __version__ in said


@pytest.mark.parametrize(
    ("words", "at", "offered"),
    [
        ("burrcast ch", 1, {"check"}),
        ("burrcast check --mat", 2, {"--material"}),
        ("burrcast check --next g", 3, {"galvanise"}),
        ("burrcast tables ", 2, {"check", "export", "show"}),
    ],
)
def test_the_shell_completes(words: str, at: int, offered: set[str]) -> None:
    """click's own completion, asked as bash asks it."""
    done = subprocess.run(
        [sys.executable, "-c", COMPLETE], cwd=ROOT, capture_output=True, text=True, check=True,
        env={"_BURRCAST_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": str(at)},
    )  # fmt: skip
    assert {line.partition(",")[2] for line in done.stdout.splitlines()} >= offered


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sdist, made from a copy, and the wheel, made from the sdist."""
    folder = tmp_path_factory.mktemp("built")
    source = folder / "source"
    left_out = shutil.ignore_patterns(".*", "build", "dist", "*.egg-info", "__pycache__")
    shutil.copytree(ROOT, source, ignore=left_out)
    make = "from setuptools.build_meta import build_sdist; build_sdist('..')"
    subprocess.run([sys.executable, "-c", make], cwd=source, check=True, capture_output=True)
    (sdist,) = folder.glob("burrcast-*.tar.gz")
    subprocess.run(
        [
            *(sys.executable, "-m", "pip", "wheel", str(sdist), "--no-deps", "--no-index"),
            *("--no-build-isolation", "--quiet", "--wheel-dir", str(folder)),
        ],
        check=True,
    )
    return folder


@pytest.mark.slow
def test_sdist_and_wheel_hold_the_data_files(built: Path) -> None:
    data = {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "analyzer").rglob("*")
        if path.suffix in (".toml", ".css", ".typed")
    }
    assert len(data) > 10
    (wheel,) = built.glob("*.whl")
    assert data - set(zipfile.ZipFile(wheel).namelist()) == set()
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as tar:
        names = {name.partition("/")[2] for name in tar.getnames()}
    assert data - names == set()
    assert {"README.md", "LICENSE", "pyproject.toml"} <= names


@pytest.mark.slow
def test_the_wheel_works_in_an_environment_of_its_own(built: Path, tmp_path: Path) -> None:
    """As pipx does: a fresh environment, the wheel in it, the command from another folder.

    What it depends on is fetched by pip, as on a user's machine.
    """
    venv.create(tmp_path / "env", with_pip=True)
    python = tmp_path / "env" / "bin" / "python"
    (wheel,) = built.glob("*.whl")
    got = subprocess.run(
        [python, "-m", "pip", "install", "--quiet", str(wheel)], capture_output=True, text=True
    )
    if got.returncode and "No matching distribution" in got.stderr:
        pytest.skip("pip reaches no packages here")
    assert got.returncode == 0, got.stderr
    job = ["check", str(SAMPLES / "gusset.dxf"), "--material", "mild-steel", "--thickness", "10",
           "--power", "10"]  # fmt: skip
    for start in ([tmp_path / "env" / "bin" / "burrcast"], [python, "-m", "analyzer"]):
        page = subprocess.run([*start, *job], cwd=tmp_path, capture_output=True, text=True)
        assert page.returncode == 0, page.stderr
        assert "Cut with" in page.stdout
    where = "import analyzer; print(analyzer.__file__)"
    out = subprocess.run([python, "-c", where], cwd=tmp_path, capture_output=True, text=True)
    package = Path(out.stdout.strip()).parent
    assert (tmp_path / "env") in package.parents
    assert (package / "py.typed").is_file()
