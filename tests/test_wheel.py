"""A built wheel holds all that an installed burrcast needs, and nothing else."""

import shutil
import subprocess
import sys
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest
from shared import ROOT

LEFT_OUT = shutil.ignore_patterns(".*", "build", "dist", "*.egg-info", "__pycache__")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """Build from a copy, so that nothing old in the working folder can slip in."""
    folder = tmp_path_factory.mktemp("wheel")
    source = folder / "source"
    shutil.copytree(ROOT, source, ignore=LEFT_OUT)
    subprocess.run(
        [
            *(sys.executable, "-m", "pip", "wheel", str(source)),
            *("--no-deps", "--no-build-isolation", "--no-index", "--quiet"),
            *("--wheel-dir", str(folder)),
        ],
        check=True,
    )
    (path,) = folder.glob("burrcast-*.whl")
    return zipfile.ZipFile(path)


def needed_files() -> set[str]:
    """Return every file of the package that is part of the program."""
    return {
        path.relative_to(ROOT).as_posix()
        for path in (ROOT / "analyzer").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_it_holds_every_file_of_the_package(wheel: zipfile.ZipFile) -> None:
    needed = needed_files()
    assert {Path(name).suffix for name in needed} >= {".py", ".toml", ".typed"}
    assert needed - set(wheel.namelist()) == set()


def test_it_holds_nothing_else(wheel: zipfile.ZipFile) -> None:
    more = set(wheel.namelist()) - needed_files()
    assert [name for name in more if not name.split("/")[0].endswith(".dist-info")] == []


def test_its_metadata(wheel: zipfile.ZipFile) -> None:
    (name,) = (n for n in wheel.namelist() if n.endswith(".dist-info/METADATA"))
    metadata = Parser().parsestr(wheel.read(name).decode("utf-8"))
    assert metadata["Name"] == "burrcast"
    assert metadata["License-Expression"] == "Apache-2.0"
    assert metadata["Requires-Python"] == ">=3.11"
    assert any(n.endswith("/LICENSE") for n in wheel.namelist())
    scripts = next(n for n in wheel.namelist() if n.endswith("entry_points.txt"))
    assert "burrcast = analyzer.cli:main" in wheel.read(scripts).decode("utf-8")
