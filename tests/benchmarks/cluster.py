"""What a drawing costs on a cluster, measured; what a million take, reckoned from that.

    python tests/benchmarks/cluster.py [DRAWINGS]

Processor time, so that other work on the machine disturbs little.  The real drawings at hand
(the samples otherwise) are answered for in this process; then DRAWINGS tasks whose answers are
there at once go through a real scheduler and worker, so that what is left is the cost of handing
out: batch and scheduler, which live in this process, together.
"""

import heapq
import itertools
import statistics
import sys
import tempfile
import time
import zlib
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from shared import SAMPLES, corpus_drawings

from analyzer.batch import cluster
from analyzer.batch.cluster import Cluster, work_on_cluster
from analyzer.batch.store import Store
from analyzer.batch.tasks import Task
from analyzer.batch.work import Pages, Todo, looked_at
from analyzer.request import Request

ASKED = Request(material="mild-steel", thickness_mm=5.0, power_kw=6.0)
SIM_DRAWINGS = 20_000


def look(paths: list[Path]) -> tuple[list[float], list[int], list[int], list[str]]:
    """Return seconds, bytes of the file, bytes of the answer packed, and the answers."""
    looked_at(Task(0, "warm", paths[0], ASKED), Pages())
    seconds, sizes, packed, answers = [], [], [], []
    for path in paths:
        begin = time.process_time()
        done, _ = looked_at(Task(0, path.name, path, ASKED), Pages())
        seconds.append(time.process_time() - begin)
        sizes.append(path.stat().st_size)
        packed.append(len(zlib.compress(done.answer.encode())))
        answers.append(done.answer)
    return seconds, sizes, packed, answers


def writes(answers: list[str], count: int) -> float:
    """Return the wall-clock seconds of keeping one answer."""
    done, _ = looked_at(Task(0, "gusset.dxf", SAMPLES / "gusset.dxf", ASKED), Pages())
    with tempfile.TemporaryDirectory() as folder:
        store = Store(Path(folder))
        begin = time.monotonic()
        for k in range(count):
            store.keep(f"{k:064}", done.row, answers[k % len(answers)])
        took = time.monotonic() - begin
        store.close()
    return took / count


def handing_out(count: int) -> tuple[float, float]:
    """Return processor and wall-clock seconds a drawing of batch and scheduler together."""
    from distributed import LocalCluster

    path = SAMPLES / "gusset.dxf"
    ready = looked_at(Task(0, path.name, path, ASKED), Pages())

    def at_once(*_: object) -> object:
        return ready

    cluster.answer_there = at_once  # type: ignore[assignment]
    todo = (Todo(Task(k, path.name, path, ASKED)) for k in range(count))
    with LocalCluster(n_workers=1, threads_per_worker=4, dashboard_address=None) as whole:
        where = Cluster(whole.scheduler_address)
        begin, clock = time.process_time(), time.monotonic()
        assert sum(1 for _ in work_on_cluster(todo, Pages(), where)) == count
        return (time.process_time() - begin) / count, (time.monotonic() - clock) / count


def simulated(seconds: list[float], cores: int, serial_s: float, count: int) -> float:
    """Return drawings a second: each waits for the one who hands out, then for a core.

    Two servers in a row: one at the desk (send and receive, `serial_s` a drawing), `cores` that
    take what a measured drawing took; twice as many in flight as cores, and two.
    """
    times = itertools.cycle(seconds)
    free = [0.0] * cores
    back: list[float] = []
    desk = end = 0.0
    for _ in range(count):
        if len(back) >= 2 * cores + 2:
            desk = max(desk, heapq.heappop(back))
        desk += serial_s
        end = max(desk, heapq.heappop(free)) + next(times)
        heapq.heappush(free, end)
        heapq.heappush(back, end)
    return count / max(end, *back)


def main(count: int) -> None:
    """Print what was measured, and the table."""
    paths = corpus_drawings() or sorted(SAMPLES.glob("*.dxf"))
    seconds, sizes, packed, answers = look(paths)
    mean = statistics.mean
    print(f"{len(paths)} drawings: {mean(seconds):.3f} s each, median"
          f" {statistics.median(seconds):.3f}, most {max(seconds):.1f};"
          f" file {mean(sizes) / 1e3:.0f} kB, answer kept {mean(packed) / 1e3:.0f} kB")  # fmt: skip
    kept = writes(answers, 1000)
    print(f"keeping an answer {1e3 * kept:.2f} ms: {1 / kept:.0f} a second")
    cpu, wall = handing_out(count)
    print(f"batch and scheduler {1e3 * cpu:.2f} ms of processor time a drawing,"
          f" {1e3 * wall:.2f} ms on the clock")  # fmt: skip
    serial = cpu + kept
    print(f"so at most {1 / serial:.0f} drawings a second, which"
          f" {mean(seconds) / serial:.0f} cores keep busy")  # fmt: skip
    print(f"a million: {mean(seconds) * 1e6 / 3600:.0f} core hours,"
          f" {mean(sizes) / 1e3:.0f} GB of drawings, {mean(packed) / 1e3:.0f} GB kept")  # fmt: skip
    print("| cores | drawings a second | a million, hours | core use |\n|---|---|---|---|")
    for cores in (2, 8, 32, 128, 512):
        rate = simulated(seconds, cores, serial, SIM_DRAWINGS)
        use = rate * mean(seconds) / cores
        print(f"| {cores} | {rate:.1f} | {1e6 / rate / 3600:.1f} | {100 * use:.0f} % |")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
