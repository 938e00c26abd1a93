"""Words from a drawing are data: nothing of them reaches a terminal as a command."""

import json
import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.report.escape import LONGEST, shown, whole

# Patterns of the hostile set: control characters of ISO 6429 (C0, C1), the direction marks of
# Unicode UAX 9, the line separators U+2028 and U+2029, and halves of characters.
BAD = re.compile(
    "[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\u2028\u2029\ud800-\udfff]"
)

ANY_TEXT = st.text(st.characters(exclude_categories=()))


@given(ANY_TEXT)
def test_nothing_that_commands_a_terminal_is_left(text: str) -> None:
    out = shown(text)
    assert not BAD.search(out)
    assert all(unicodedata.category(c) not in {"Cc", "Cf", "Cs", "Zl", "Zp"} for c in out)
    out.encode("utf-8")


@given(ANY_TEXT)
def test_json_holds_no_half_character(text: str) -> None:
    out = whole(text)
    assert len(out) == len(text)
    assert json.loads(json.dumps(out, ensure_ascii=True)) == out
    out.encode("utf-8")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("CUT", "CUT"),
        ("Außenkontur 切断", "Außenkontur 切断"),
        ("a\x1b[31mred", "a\\x1b[31mred"),
        ("a\nb\r\tc", "a\\x0ab\\x0d c"),
        ("\x9b31m", "\\x9b31m"),
        ("x\u202egnp.exe", "x\\u202egnp.exe"),
        ("\udc80", "\\udc80"),
        ("\U000e0041", "\\U000e0041"),
        ("a\u00a0b", "a b"),
    ],
)
def test_cases(text: str, expected: str) -> None:
    assert shown(text) == expected


def test_long_names_are_cut() -> None:
    out = shown("x" * 10_000)
    assert len(out) == LONGEST
    assert out.endswith("...")


def test_no_page_prints_a_name_from_the_drawing_unescaped() -> None:
    """The view is the only place that takes words out of the analysis; it calls `shown`."""
    from shared import ROOT

    source = "".join(
        (ROOT / "analyzer" / "report" / f"{name}.py").read_text(encoding="utf-8")
        for name in ("view", "rows", "behind")
    )
    for field in ("drawing.file", "row.layer", "row.type", "row.reason", "fact.message",
                  "worst.message", "worst.remedy", "units.name"):  # fmt: skip
        uses = re.findall(rf"[\w(]*\w*\.?{re.escape(field)}", source)
        assert uses, field
        assert all("shown(" in use for use in uses), (field, uses)
