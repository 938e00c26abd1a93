"""What stands behind an answer: the drawing, what was not checked, assumptions, the numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from analyzer.reasons import spoken
from analyzer.report.to_html_element import Raw, el
from analyzer.report.view import View
from analyzer.units import counted

WHY_COLUMNS = ("number", "value", "made from", "whose, how sure")


def behind(words: View, views: Mapping[str, View], prefix: str = "") -> Raw:
    """Return the drawing's faults and account, what was not checked, what was assumed."""
    assumed = [
        el("div", _list(view.assumptions), class_=f"in in-{prefix}{gas}")
        for gas, view in views.items()
    ]
    return el(
        "div",
        el("section", el("h2", "The drawing"), _list((words.account, *words.other_facts)),
           _folded(f"What was not used: {counted(len(words.ignored), 'kind')}", words.ignored)),
        el("section", el("h2", "Not checked"), _list(words.not_checked))
        if words.not_checked else None,
        el("section", el("h2", "Assumed"), *(assumed or [_list(words.assumptions)])),
        class_="behind",
    )  # fmt: skip


def _list(items: Iterable[str]) -> Raw:
    return el("ul", *(el("li", item) for item in items))


def _folded(title: str, items: tuple[str, ...]) -> Raw | None:
    """Return a list; folded away where it is long."""
    if len(items) <= 6:
        return _list(items) if items else None
    return el("details", el("summary", title), _list(items))


def why_fold(views: Mapping[str, View], prefix: str = "", *, opened: bool = False) -> Raw | None:
    """Return the numbers behind the answer, folded away."""
    if not views:
        return None
    tables = []
    for gas, view in views.items():
        rows = [
            el("tr", el("th", row.label, scope="row"), el("td", row.cells[0]),
               el("td", row.cells[1]), el("td", row.cells[2]))
            for row in view.why
        ]  # fmt: skip
        head = el("tr", *(el("th", name, scope="col") for name in WHY_COLUMNS))
        table = el("table", el("caption", f"In {spoken(gas)}"), el("thead", head),
                   el("tbody", *rows), class_="why")  # fmt: skip
        tables.append(el("div", table, class_=f"wide in in-{prefix}{gas}", tabindex="0",
                         role="region", aria_label=f"Numbers in {spoken(gas)}"))  # fmt: skip
    return el(
        "details", el("summary", "Why these numbers"), *tables, open=opened, id=f"{prefix}why"
    )


def cautions_box(lines: Iterable[str]) -> Raw:
    return el("section", el("h2", "Take care"), _list(lines), class_="cautions")
