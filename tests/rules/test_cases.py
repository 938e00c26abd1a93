"""Every rule against its pass and fail cases, which are data: cases/RULE.toml.

The expected levels and limits are common practice, no source, unless a case says more.
"""

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from rules.build import findings_of

from analyzer.rules.registry import RULES
from analyzer.rules.rule import Finding

FOLDER = Path(__file__).parent / "cases"
FILES = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in FOLDER.glob("*.toml")}
CASES = [
    pytest.param(name, case, id=f"{name}: {case['name']}")
    for name, content in sorted(FILES.items())
    for case in content["case"]
]


def test_every_rule_has_a_passing_and_a_failing_case() -> None:
    assert set(FILES) == {rule.name for rule in RULES}
    for name, content in FILES.items():
        assert content["rule"] == name
        assert {bool(case["found"]) for case in content["case"]} == {True, False}, name


@pytest.mark.parametrize(("rule", "case"), CASES)
def test_case(rule: str, case: dict[str, Any]) -> None:
    findings = findings_of(case)
    mine = [finding for finding in findings if finding.rule == rule]
    assert len(mine) == len(case["found"]), [finding.message for finding in mine]
    for finding, wanted in zip(mine, case["found"], strict=True):
        _agrees(finding, wanted)
    for name in case.get("silent", ()):
        assert name not in {finding.rule for finding in findings}


def _agrees(finding: Finding, wanted: dict[str, Any]) -> None:
    assert finding.level == wanted["level"], finding.message
    for name in ("count", "unit"):
        if name in wanted:
            assert getattr(finding, name) == wanted[name]
    for name in ("measured", "limit"):
        if name in wanted:
            assert getattr(finding, name) == pytest.approx(wanted[name], abs=1e-4)
    if "places" in wanted:
        np.testing.assert_allclose(finding.places, wanted["places"], atol=1e-6)
    for words in wanted.get("says", ()):
        assert words in finding.message
    for words in wanted.get("remedy", ()):
        assert words in finding.remedy
