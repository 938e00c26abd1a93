"""The whole check of large sheets: against only opening the file, and how it grows.

    python tests/benchmarks/check_ratio.py [ROUNDS [LARGEST]]

Draws sheets of 1,000 to 100,000 entities, times `burrcast check` under one gas and under all,
and `ezdxf.readfile` alone, in turns.  The exponent between two sizes is log(time ratio) /
log(entity ratio): 1 is linear, 2 would be every entity against every other.  Small sizes are
mostly start-up, so their exponent says little.  The goals of the ratios are those of the work on
large drawings that is still to come; the exponent must hold now.
"""

import itertools
import math
import sys
import tempfile
from pathlib import Path

from big_sheet import draw
from side_by_side import medians, report
from startup import burrcast

SIZES = (1_000, 3_000, 10_000, 30_000, 100_000)
JOB = ["--material=mild-steel", "--thickness=5mm", "--power=10kW", "--format=json"]


def main(rounds: int, largest: int) -> None:
    """Print the ratios and the exponents."""
    times: list[tuple[int, float]] = []
    with tempfile.TemporaryDirectory() as folder:
        for size in (s for s in SIZES if s <= largest):
            path = Path(folder) / f"{size}.dxf"
            truth = draw(size, path)
            bare = f"import ezdxf; ezdxf.readfile({str(path)!r})"
            check = [burrcast(), "check", str(path), *JOB]
            result = medians(
                {
                    "ezdxf.readfile alone": [sys.executable, "-c", bare],
                    "burrcast check, one gas": [*check, "--gas=nitrogen"],
                    "burrcast check, all gases": check,
                },
                rounds,
            )
            print(f"{truth.entities} entities, {truth.contours} contours, {truth.plates} plates")
            report(result, "burrcast check, one gas", "ezdxf.readfile alone", 0.6)
            report(result, "burrcast check, all gases", "ezdxf.readfile alone", 1.0)
            times.append((truth.entities, result["burrcast check, all gases"]))
    for (n, before), (m, after) in itertools.pairwise(times):
        exponent = math.log(after / before) / math.log(m / n)
        print(f"{n:7d} to {m:7d} entities: exponent {exponent:.2f}   goal at most 1.1")


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 3,
        int(sys.argv[2]) if len(sys.argv) > 2 else SIZES[-1],
    )
