"""Real drawings: what we read beside what their own documents say.

    python tests/benchmarks/real_drawings.py

prints a section of docs/validation.md, which validation.py makes whole.

The drawings lie outside the repository (../shared/corpus) and keep their licences; here they are
named by the first eight digits of their SHA-256.  The truth comes from their makers' drawings,
tables and notes, or from exact sums over the file; only what it states is compared.
"""

import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from shared import CORPUS, corpus_manifest  # noqa: E402

from analyzer.drawing.drawing import Drawing  # noqa: E402
from analyzer.drawing.reading import read_drawing  # noqa: E402
from analyzer.errors import DrawingError  # noqa: E402
from analyzer.parts.find import find_parts  # noqa: E402

HEAD = """# Validation

## Real drawings

Drawings made by other people with other programs, read as they are, without options. *Truth* is
what the makers' own drawings, tables and notes say, or an exact sum over the file (the same:
within 0.01 mm); a dash where they say nothing. Contours are closed ones. Lettering and dimensions
drawn as lines are set aside first ([how](drawings.md)); views beside a part count as parts. Made by
`python tests/benchmarks/real_drawings.py`, which needs the corpus beside the repository; drawings
go by the start of their SHA-256.

| drawing | all = used + ignored | parts (distinct) | contours | truth | length mm | truth | same |
|---|---|---|---|---|---|---|---|"""

TAIL = """
## Read wrongly still

Nothing here is decided in silence: each is asked about on the page, with both readings, or is a
finding; but the count of parts, the minutes and the money are those of what is cut as drawn.

| drawing | what it shows | what we make of it |
|---|---|---|
| 66daa453, 9afc8e15, 2d1ba669, 5d4dc77f | one part in several views, or panels beside a side view | every closed view is a part; each view in line is asked about |
| bd69f260 | a general arrangement, not made for cutting | 51 parts; asked as a whole (51 outlines with 2 dimensions, 4 hatches, 46 notes), holes with their thread notes, crossing contours |
| 7fe17703 | a board outline plotted with the width of a pen | 24 rings 0.15 mm wide; asked whether one line is meant, and too thin in every gas |
| 1a774b60 | frame and bed plate, with leaders and lines that join holes drawn as lines | both parts right; the lines are cut lines that do not close |
| 40835776 | four plates, says its maker | six outlines that do not touch; we see no reason to take two away |
"""

CONTOURS = re.compile(r"(?<![\d.])(\d+) (?:closed |cut )?contours")
LENGTH = re.compile(r"(?:cut length (?:without bend layers )?|contours, )(\d+\.\d+) mm")


def agrees(ours: float, truth: str, within: float) -> bool:
    """Say whether ours is the truth, where there is one."""
    return truth == "-" or abs(ours - float(truth)) <= within


def row(path: Path, truth: str, sha256: str) -> tuple[str, str]:
    """Return one row of the table, and "yes", "no" or "" where nothing is stated."""
    name = sha256[:8]
    try:
        drawing: Drawing = read_drawing(path)
    except DrawingError as error:
        return f"| {name} | refused: {error.problem} | | | | | | |", ""
    parts = find_parts(drawing, 5.0)
    contours = CONTOURS.search(truth)
    length = LENGTH.search(truth)
    want = contours[1] if contours else "-"
    want_mm = length[1] if length else "-"
    cuts = parts.drawing.cuts
    got, got_mm = int(cuts.closed.sum()), float(cuts.length.sum())
    account = parts.drawing.account
    left = account.total - account.used
    same = agrees(got, want, 0) and agrees(got_mm, want_mm, 0.01)
    verdict = ("yes" if same else "**no**") if contours or length else ""
    count = sum(part.count for part in parts.parts)
    return (
        f"| {name} | {account.total} = {account.used} + {left} | {count} ({len(parts.parts)}) "
        f"| {got} | {want} | {got_mm:.3f} | {want_mm} | {verdict} |",
        verdict,
    )


def main() -> None:
    """Print the document."""
    print(HEAD)
    manifest = corpus_manifest()
    rows = [row(CORPUS / name, entry["truth"], entry["sha256"]) for name, entry in manifest.items()]
    print("\n".join(text for text, _ in rows))
    verdicts = [verdict for _, verdict in rows if verdict]
    print(f"\n{verdicts.count('yes')} of {len(verdicts)} that state a number agree with it.")
    print(TAIL, end="")


if __name__ == "__main__":
    main()
