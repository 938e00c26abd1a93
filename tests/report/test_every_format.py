"""Every format from one command and one analysis, opened by a reader of its own, and agreeing."""

import csv
import io
import json
import re
import struct
from html import unescape
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import ezdxf
import jsonschema
import pytest
from click.testing import CliRunner
from shared import ROOT, SAMPLES, corpus_drawings, needs_corpus

import analyzer.comparison
from analyzer.cli import burrcast
from analyzer.report.formats import FORMATS

SCHEMA = json.loads((ROOT / "docs/schemas/burrcast.check-1.json").read_text(encoding="utf-8"))
QUICK = ("gusset", "bracing_plate", "name_plate")
DRAWINGS = [
    pytest.param(path, id=path.stem, marks=() if path.stem in QUICK else (pytest.mark.slow,))
    for path in sorted(SAMPLES.glob("*.dxf"))
]
REAL = [path for path in corpus_drawings() if path.stat().st_size < 400_000][::5][:10]


def every_format(path: Path, out: Path) -> dict[str, bytes]:
    """Run the command once for all formats; return what it has written."""
    args = ["check", str(path), "--material=mild-steel", "--thickness=8mm", "--power=8kW"]
    args += [f"--format={form}" for form in FORMATS] + [f"--out={out}"]
    result = CliRunner().invoke(burrcast, args)
    assert result.exit_code == 0, result.output
    assert sorted(p.name for p in out.iterdir()) == sorted(f"{path.stem}.{f}" for f in FORMATS)
    return {form: (out / f"{path.stem}.{form}").read_bytes() for form in FORMATS}


def held_together(made: dict[str, bytes]) -> None:
    """Open each format by its own reader and hold its findings against the JSON."""
    told = json.loads(made["json"])
    jsonschema.Draft202012Validator(SCHEMA).validate(told)
    gas = told["advice"]["gas"] or told["gases"][0]["gas"]
    advised = next(one for one in told["gases"] if one["gas"] == gas)
    rows = list(csv.DictReader(io.StringIO(made["csv"].decode("utf-8-sig"))))
    in_table = {(row["gas"], row["mark"], row["level"]) for row in rows}
    in_json = {(g["gas"], str(f["mark"]), f["level"]) for g in told["gases"] for f in g["findings"]}
    assert in_table == in_json
    page = " ".join(re.sub(r"<[^>]*>", " ", unescape(made["html"].decode())).split())
    text = " ".join(made["text"].decode().split())
    groups: dict[str, list[str]] = {}
    for finding in advised["findings"]:
        start = " ".join(finding["message"].split())[:30]
        assert start in page
        groups.setdefault(finding["rule"], []).append(start)
    for starts in groups.values():  # the text names the worst and counts the others
        assert any(start in text for start in starts), starts
    assert ElementTree.fromstring(made["svg"]).tag.endswith("svg")
    assert made["png"][:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", made["png"][16:24])
    assert min(width, height) > 500
    assert made["pdf"].startswith(b"%PDF-1.")
    assert made["pdf"].rstrip().endswith(b"%%EOF")
    _marked(made["dxf"], told)


def _marked(made: bytes, told: dict[str, Any]) -> None:
    document = ezdxf.read(io.StringIO(made.decode("utf-8", "surrogateescape"), newline=None))
    ours = [e for e in document.modelspace() if e.dxf.layer.startswith("BURRCAST")]
    assert bool(ours) == any(gas["findings"] for gas in told["gases"])


@pytest.mark.parametrize("path", DRAWINGS)
def test_samples(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    analyse = analyzer.comparison.analyse
    monkeypatch.setattr(
        analyzer.comparison, "analyse", lambda *a, **k: asked.append(1) or analyse(*a, **k)
    )
    held_together(every_format(path, tmp_path / "out"))
    assert len(asked) == 1, "one analysis for all formats"


@needs_corpus
@pytest.mark.slow
@pytest.mark.parametrize("path", REAL, ids=lambda path: path.stem)
def test_real_drawings(path: Path, tmp_path: Path) -> None:
    held_together(every_format(path, tmp_path / "out"))
