"""Where the real drawings lie that are not part of this repository, and how to do without them."""

import csv
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet

ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared"
CORPUS = SHARED / "corpus"
SAMPLES = ROOT / "sample_drawings"

needs_corpus = pytest.mark.skipif(
    not CORPUS.is_dir(), reason="the corpus of real drawings (../shared/corpus) is not here"
)


def corpus_drawings() -> list[Path]:
    """Return every real drawing of the corpus, sorted; empty where there is none."""
    return sorted(CORPUS.glob("*.dxf")) if CORPUS.is_dir() else []


def spread_drawings(every: int) -> list[ParameterSet]:
    """Return the real drawings as parameters: one in `every` quick, the others slow."""
    return [
        pytest.param(path, id=path.stem, marks=[pytest.mark.slow] if k % every else [])
        for k, path in enumerate(corpus_drawings())
    ]


def corpus_manifest() -> dict[str, dict[str, str]]:
    """Return the manifest rows by file name; empty where there is no corpus."""
    path = CORPUS / "manifest.tsv"
    if not path.is_file():
        return {}
    with path.open(encoding="utf-8", newline="") as file:
        return {row["file"]: row for row in csv.DictReader(file, delimiter="\t")}
