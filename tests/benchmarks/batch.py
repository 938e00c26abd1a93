"""A batch against one process, against a bare loop, and 10,000 drawings: time and memory.

    python tests/benchmarks/batch.py [DRAWINGS]

Wall-clock times here, since several processes work: run it on a quiet machine.  Draws small
plates that all differ, answers for them with one process and with all cores, and compares with
a bare loop of the library call in one process.  Then checks again what is finished.
"""

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import ezdxf

JOB = ["--material=mild-steel", "--thickness=5mm", "--power=6kW"]
LOOP = """
import sys
from pathlib import Path
from analyzer.request import Request
asked = Request(material="mild-steel", thickness_mm=5.0, power_kw=6.0)
for path in sorted(Path(sys.argv[1]).glob("*.dxf")):
    asked.answer(path)
"""


def draw(count: int, folder: Path) -> None:
    """Draw `count` plates with two holes, no two alike."""
    folder.mkdir(parents=True)
    for k in range(count):
        document = ezdxf.new("R2000")
        space = document.modelspace()
        width = 60.0 + 0.01 * k
        space.add_lwpolyline([(0, 0), (width, 0), (width, 40), (0, 40)], close=True)
        space.add_circle((15, 20), 6)
        space.add_circle((width - 15, 20), 6)
        document.saveas(folder / f"{k:05d}.dxf")


def run(*command: str) -> tuple[float, float]:
    """Return wall-clock seconds, and the most memory of any process of it so far [MB]."""
    begin = time.monotonic()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    took = time.monotonic() - begin
    return took, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0


def batch(folder: Path, out: Path, jobs: int) -> tuple[float, float]:
    """Run a batch over `folder`."""
    return run(
        sys.executable, "-m", "analyzer", "batch", str(folder), "--out", str(out),
        f"--jobs={jobs}", *JOB,
    )  # fmt: skip


def loop_over(folder: Path) -> float:
    """Return the seconds of a bare loop of the library call over `folder`."""
    return run(sys.executable, "-c", LOOP, str(folder))[0]


def main(count: int) -> None:
    """Print times and ratios."""
    cores = os.cpu_count() or 1
    with tempfile.TemporaryDirectory() as top:
        single, few, many = (Path(top) / name for name in ("single", "few", "many"))
        draw(1, single)
        draw(400, few)
        start = batch(single, Path(top) / "start", 1)[0] - loop_over(single)
        loop = loop_over(few)
        one, memory_few = batch(few, Path(top) / "one", 1)
        all_of_them, _ = batch(few, Path(top) / "all", cores)
        print(f"400 drawings, bare loop {loop:.1f} s, one process {one:.1f} s,"
              f" {cores} processes {all_of_them:.1f} s")  # fmt: skip
        print(f"  start and summary, once a batch: {start:.1f} s more than the loop")
        print(f"  overhead a drawing {100 * ((one - start) / loop - 1):.1f} % (goal 5),"
              f" with the start {100 * (one / loop - 1):.1f} %")  # fmt: skip
        print(f"  {cores} processes against one: {one / all_of_them:.2f} times (goal 1.8 on two)")
        sys.stdout.flush()
        draw(count, many)
        took, memory_many = batch(many, Path(top) / "out", cores)
        print(f"{count} drawings: {took:.0f} s, {count / took:.0f} a second")
        print(f"  memory of the largest process {memory_many:.0f} MB, {memory_few:.0f} MB at 400"
              f" (goal: at most twice)")  # fmt: skip
        again, _ = batch(many, Path(top) / "out", cores)
        print(f"  finished already: {again:.1f} s (goal 3 at 10,000)")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
