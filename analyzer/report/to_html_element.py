"""Elements of a page as text: whatever is not made here is escaped."""

from __future__ import annotations

from html import escape

from analyzer.report.line_ends import unbroken


class Raw(str):
    """Markup made by `el`, or a fixed piece of ours: put on the page as it is."""

    __slots__ = ()


Inside = str | None
Look = dict[str, str | float]

EMPTY = frozenset({"input", "meta", "br", "hr"})
"""HTML elements without an end tag."""

BARE = frozenset({"use", "rect", "circle", "path", "line", "polygon", "polyline"})
"""SVG elements that may close themselves."""


def el(name: str, /, *inside: Inside, **attributes: str | float | bool | None) -> Raw:
    """Return one element; text inside and attribute values are escaped.

    Parameters
    ----------
    name : str
        Of the element.
    *inside : str or None
        Words, which are escaped, or `Raw` markup; None for nothing.
    **attributes
        `class_` is class, other underscores become hyphens; True gives a bare attribute, None
        and False none.

    Examples
    --------
    >>> el("p", "a < b", el("b", "c"), class_="x")
    '<p class="x">a &lt; b<b>c</b></p>'
    """
    words = "".join(_attribute(key, value) for key, value in attributes.items())
    if name in EMPTY:
        return Raw(f"<{name}{words}>")
    body = "".join(text(part) for part in inside if part)
    if not body and name in BARE:
        return Raw(f"<{name}{words}/>")
    return Raw(f"<{name}{words}>{body}</{name}>")


def text(words: str) -> Raw:
    """Return words escaped, numbers and units held together; `Raw` as it is."""
    return words if isinstance(words, Raw) else Raw(escape(unbroken(words)))


def together(*several: Inside) -> Raw:
    """Return several pieces, one after the other."""
    return Raw("".join(text(part) for part in several if part))


def _attribute(key: str, value: str | float | bool | None) -> str:
    if value is None or value is False:
        return ""
    name = key.removesuffix("_").replace("_", "-")
    if name.startswith("xmlns-"):
        name = name.replace("-", ":", 1)
    if value is True:
        return f" {name}"
    words = f"{value:g}" if isinstance(value, float) else str(value)
    return f' {name}="{escape(words)}"'
