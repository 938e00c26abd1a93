"""From Python: the page's examples run, and results show themselves in a notebook."""

import doctest
import html
import re
import subprocess
import sys
from pathlib import Path

import pytest
from shared import ROOT, SAMPLES

import analyzer
from analyzer.request import Request

ASKED = Request(material="mild-steel", thickness_mm=10.0, power_kw=10.0)


def test_examples_of_the_page(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    result = doctest.testfile(str(ROOT / "docs/api.md"), module_relative=False)
    assert result.failed == 0
    assert result.attempted > 15


def test_the_import_is_light() -> None:
    code = "import sys, analyzer; print(sorted({'numpy', 'ezdxf', 'click'} & set(sys.modules)))"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_asking_for_answers_imports_no_sheets() -> None:
    code = (
        "import sys, analyzer; analyzer.check; analyzer.Request;"
        "heavy = {'analyzer.sheeting', 'analyzer.packing.pack', 'matplotlib'};"
        "print(sorted(heavy & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert told.stdout.strip() == "[]"


def test_an_answer_shows_its_page_in_a_frame_without_rights(tmp_path: Path) -> None:
    named = tmp_path / 'g"><script>alert(1)</script>.dxf'.replace("/", "_")
    named.write_bytes((SAMPLES / "gusset.dxf").read_bytes())
    answer = ASKED.answer(named)
    assert analyzer.Request is Request  # asking for the name teaches the results
    shown: str = answer._repr_html_()  # type: ignore[attr-defined]
    frame = re.fullmatch(
        r'<iframe sandbox="" title="([^"]*)" srcdoc="([^"]*)" style=.*></iframe>', shown
    )
    assert frame is not None
    assert "<script" not in shown
    page = html.unescape(frame.group(2))
    assert page.encode() == analyzer.written("check", answer, "html")
    assert "<script" not in page
