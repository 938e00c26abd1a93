"""From Python: the page's examples run, and results show themselves in a notebook."""

import doctest
import html
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from shared import ROOT, SAMPLES

import analyzer
from analyzer.errors import InputError
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


def test_paths_and_one_gas_may_be_plain_text(tmp_path: Path) -> None:
    """As one types it in a notebook; the same answer as with Path and tuple."""
    shop = tmp_path / "mine.toml"
    shop.write_text("[machine]\npower_kw = 10\n", encoding="utf-8")
    asked = Request(material="S235JR+N", thickness_mm=10, gases="nitrogen", shop=str(shop))
    answer = asked.answer(str(SAMPLES / "cleat.dxf"))
    assert [result.gas for result in answer.analysis.gases] == ["nitrogen"]
    same = replace(ASKED, gases=("nitrogen",)).answer(SAMPLES / "cleat.dxf")
    assert answer.analysis.gases[0].timing == same.analysis.gases[0].timing
    assert analyzer.load_shop(str(shop)).power_kw == 10.0
    assert analyzer.load_shop(None, str(tmp_path)).path is None


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"thickness_mm": "10mm"}, "thickness_mm = '10mm' is not a number"),
        ({"power_kw": True}, "power_kw = True is not a number"),
        ({"plate": "dirty"}, "plate 'dirty' is not known"),
        ({"next_step": "powdr"}, "next step 'powdr' is not known"),
        ({"limits": (("entites", 5.0),)}, "there is no limit 'entites'"),
    ],
)
def test_slips_in_a_request_are_errors_of_ours(told: dict[str, Any], said: str) -> None:
    """Neither a traceback from within nor an answer about something else."""
    with pytest.raises(InputError, match=re.escape(said)):
        replace(ASKED, **told).answer(SAMPLES / "cleat.dxf")


def test_a_job_from_python_may_name_a_grade_but_not_nonsense() -> None:
    """Job("S235") gave an answer without any gas."""
    answer = analyzer.check(SAMPLES / "cleat.dxf", analyzer.Job("S235", 10.0, 10.0))
    assert answer.analysis.job.material == "mild-steel"
    assert answer.advice.gas
    with pytest.raises(InputError, match="material 'cheese' is not known"):
        analyzer.check(SAMPLES / "cleat.dxf", analyzer.Job("cheese", 10.0, 10.0))


def test_a_question_or_format_that_does_not_exist_is_refused() -> None:
    answer = ASKED.answer(SAMPLES / "cleat.dxf")
    for what, form in (("chek", "json"), ("check", "xlsx"), ("check", "dxf")):
        with pytest.raises(InputError):
            analyzer.written(what, answer, form)
