"""Interrupted or killed while it writes: files are whole or absent, the user's own untouched."""

import json
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from forked import heeds_interrupts
from shared import SAMPLES

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="signals as POSIX has them")
NAMES = ("gusset", "washer_plate", "cleat", "base_plate")
FORMS = ("json", "html", "svg", "csv")


def start(folder: Path, out: Path, *more: str) -> subprocess.Popen[bytes]:
    """Start a check of all drawings of `folder` into `out`."""
    return subprocess.Popen(
        [sys.executable, "-m", "analyzer", "check", *map(str, sorted(folder.glob("*.dxf"))),
         "--material=mild-steel", "--thickness=8mm", "--power=6kW",
         *(f"--format={form}" for form in FORMS), f"--out={out}", *more],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        preexec_fn=heeds_interrupts,
    )  # fmt: skip


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, bytes], float]:
    """The drawings, what an undisturbed run writes, and how long it takes."""
    folder = tmp_path_factory.mktemp("drawings")
    for name in NAMES:
        shutil.copy(SAMPLES / f"{name}.dxf", folder)
    out = tmp_path_factory.mktemp("whole") / "out"
    begin = time.monotonic()
    assert start(folder, out).wait() == 0
    lasts = time.monotonic() - begin
    return folder, {path.name: path.read_bytes() for path in out.iterdir()}, lasts


def disturb(
    whole: tuple[Path, dict[str, bytes], float], out: Path, moment: float, how: signal.Signals
) -> int:
    """Send a signal at a share of the run's time; hold what is left against a whole run."""
    folder, expected, lasts = whole
    run = start(folder, out)
    time.sleep(moment * lasts)
    run.send_signal(how)
    code = run.wait(timeout=120)
    left = {path.name: path.read_bytes() for path in out.iterdir()} if out.exists() else {}
    for name, content in left.items():
        if how == signal.SIGKILL and name.startswith(".burrcast-"):
            continue  # what nothing could take away; it has no name of a result
        assert content == expected[name], f"{name} is not whole"
    return code


def test_an_interrupt_leaves_nothing_half_written(
    whole: tuple[Path, dict[str, bytes], float], tmp_path: Path
) -> None:
    code = disturb(whole, tmp_path / "out", 0.75, signal.SIGINT)
    assert code in (0, 130, -signal.SIGINT)  # the last while Python itself starts or ends


@pytest.mark.slow
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_disturbed_at_random_times(
    whole: tuple[Path, dict[str, bytes], float], tmp_path: Path, how: signal.Signals
) -> None:
    rng = random.Random(f"disturbed by {how}")
    for turn in range(20):
        code = disturb(whole, tmp_path / str(turn), rng.uniform(0.3, 1.05), how)
        # while Python itself starts, the signal still ends it
        assert code in (0, 128 + how, -how)


def test_an_existing_file_is_the_users(
    whole: tuple[Path, dict[str, bytes], float], tmp_path: Path
) -> None:
    folder, expected, _ = whole
    (tmp_path / "gusset.json").write_text("mine")
    assert start(folder, tmp_path).wait() == 2
    assert [path.name for path in tmp_path.iterdir()] == ["gusset.json"]
    assert (tmp_path / "gusset.json").read_text() == "mine"
    assert start(folder, tmp_path, "--force").wait() == 0
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == expected
    assert json.loads(expected["gusset.json"])["schema"] == "burrcast.check/1"
