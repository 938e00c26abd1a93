"""A whole page: one file with one style, a policy that forbids all else, and no script."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Sequence
from importlib.resources import files

from analyzer.report.to_html_element import Raw, el
from analyzer.report.to_svg_marks import small_shapes


def page(title: str, body: Raw, *, rules: str, keys: Sequence[str], firsts: Sequence[str]) -> str:
    """Return a whole page: its one style, its policy, its body.

    Parameters
    ----------
    title : str
        Of the window.
    body : Raw
        What it shows.
    rules : str
        Style rules of this page alone.
    keys : sequence of str
        Gases that can be chosen.
    firsts : sequence of str
        Those that browsers show which cannot choose, one an answer.
    """
    style = f"{_style()}{_chosen(keys, firsts)}{rules}"
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    head = el(
        "head", el("meta", charset="utf-8"),
        el("meta", http_equiv="Content-Security-Policy", content=policy),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("meta", name="color-scheme", content="light dark"),
        el("title", f"{title}, burrcast"), el("style", Raw(style)),
    )  # fmt: skip
    shapes = el("svg", small_shapes(), width="0", height="0", aria_hidden="true")
    whole = el("html", head, el("body", shapes, body), lang="en")
    return f"<!doctype html>\n{whole}\n"


def _style() -> str:
    return files("analyzer.report").joinpath("page.css").read_text(encoding="utf-8")


def _chosen(keys: Iterable[str], firsts: Iterable[str]) -> str:
    """Return the rules that show what belongs to the gas chosen."""
    rules = [
        f":root:has(#gas-{key}:checked) .in-{key}{{display:revert}}"
        f":root:has(#gas-{key}:checked) .of-{key}{{background:var(--chosen)}}"
        for key in keys
    ]
    rules += [f"@supports not selector(:has(a)){{.in-{key}{{display:revert}}}}" for key in firsts]
    return "\n".join(rules) + "\n"
