"""Words that came from a drawing are data: made harmless here, and only here.

A layer name may hold a terminal command, a line break, a mark that turns the reading
direction, or half of a character; each is shown as a code instead of being obeyed.
"""

from __future__ import annotations

import re

_HALF = re.compile("[\ud800-\udfff]")
LONGEST = 255  # characters of one name that are shown


def shown(text: str, longest: int = LONGEST) -> str:
    r"""Return `text` safe to print on a terminal: one line, no control or direction marks.

    Parameters
    ----------
    text : str
        Anything that came from a drawing, a file name or another library.
    longest : int
        Characters shown before it is cut off with "...".

    Examples
    --------
    >>> shown("CUT\x1b[31m\u202e")
    'CUT\\x1b[31m\\u202e'
    """
    cut = text if len(text) <= longest else text[: longest - 3] + "..."
    if cut.isprintable():
        return cut
    return "".join(map(_one, cut))


def _one(character: str) -> str:
    if character.isprintable():
        return character
    if character in "\t\u00a0\u2007\u202f\u3000":  # blanks of other widths
        return " "
    code = ord(character)
    if code < 0x100:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def whole(text: str) -> str:
    r"""Return `text` with every half character (lone surrogate) replaced, for JSON.

    Examples
    --------
    >>> whole("a\udc80b") == "a\ufffdb"
    True
    """
    return _HALF.sub("\ufffd", text)


def spreadsheet_safe(text: str) -> str:
    """Return `text` so that no spreadsheet takes it for a formula: one line, quoted where needed.

    A leading =, +, -, @ or tab makes a formula of a cell, in some programs after blanks too;
    an apostrophe in front keeps it text (common practice, no source).

    Examples
    --------
    >>> spreadsheet_safe("=1+1"), spreadsheet_safe("M6"), spreadsheet_safe("% oxygen")
    ("'=1+1", 'M6', '% oxygen')
    """
    plain = "".join(map(_one, whole(text)))
    return "'" + plain if plain.lstrip()[:1] in tuple("=+-@|") and plain.strip() else plain
