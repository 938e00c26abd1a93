"""Start-up against what the libraries alone cost.

    python tests/benchmarks/startup.py [ROUNDS]

Compares `burrcast --help` with `import click`, and `burrcast check` of a sample with importing
ezdxf, shapely and numpy and reading the same file.
"""

import shutil
import sys
from pathlib import Path

from side_by_side import medians, report

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_drawings" / "gusset.dxf"


def burrcast() -> str:
    """Return the installed command that belongs to this Python."""
    beside = Path(sys.executable).parent / "burrcast"
    found = str(beside) if beside.exists() else shutil.which("burrcast")
    if found is None:
        raise SystemExit("burrcast is not installed; see DEVELOPERS.md")
    return found


def main(rounds: int) -> None:
    """Print both ratios."""
    python = sys.executable
    job = ["--material=mild-steel", "--thickness=10mm", "--power=10kW"]
    bare = f"import ezdxf, shapely, numpy; ezdxf.readfile({str(SAMPLE)!r})"
    result = medians(
        {
            "import click": [python, "-c", "import click"],
            "burrcast --help": [burrcast(), "--help"],
            "import ezdxf, shapely, numpy; readfile": [python, "-c", bare],
            "burrcast check": [burrcast(), "check", str(SAMPLE), *job],
        },
        rounds,
    )
    report(result, "burrcast --help", "import click", 2.0)
    report(result, "burrcast check", "import ezdxf, shapely, numpy; readfile", 1.5)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15)
