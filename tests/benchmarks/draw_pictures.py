"""Draw the pictures of three sample drawings that docs/pictures.md shows.

python tests/benchmarks/draw_pictures.py FOLDER
"""

import sys
from pathlib import Path

from analyzer.comparison import check
from analyzer.job import Job
from analyzer.report.to_png import answer_picture

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = {
    "gusset.dxf": Job("mild-steel", 10.0, 10.0, next_step="powder", gases=("oxygen", "nitrogen")),
    "splice_plate.dxf": Job("mild-steel", 15.0, 15.0, gases=("oxygen",)),
    "bracing_plate.dxf": Job("mild-steel", 12.0, 12.0),
}
SMALL = 90  # dots an inch


def main(folder: str) -> None:
    """Write one picture a sample into the folder."""
    for name, job in SAMPLES.items():
        answer = check(ROOT / "sample_drawings" / name, job)
        file = Path(folder) / f"answer_{Path(name).stem}.png"
        file.write_bytes(answer_picture(answer, dpi=SMALL))
        print(f"{file}: {file.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main(sys.argv[1])
