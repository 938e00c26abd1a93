"""docs/rules.md is made from the registry."""

from shared import ROOT

from analyzer.rules.document import page
from analyzer.rules.registry import RULES


def test_rules_page_is_current() -> None:
    assert (ROOT / "docs" / "rules.md").read_text(encoding="utf-8") == page()


def test_rules_page_has_every_rule() -> None:
    text = page()
    for rule in RULES:
        assert f"\n## {rule.name}\n" in text
