"""Where lines may end: never between a number and its unit, nor between "class" and its number.

Pages leave the breaking of lines to whatever shows them and so get a no-break space; text and
pictures are broken here, by the same rule, and print an ordinary space.
"""

from __future__ import annotations

import re
import textwrap

HARD = "\u00a0"
"""A space at which no line ends."""

_UNIT = (
    r"(?:Nm3|[mcµu]?m[23]?|[kM]?W|kWh|bar|M?Pa|psi|min|ms|s[23]?|h|K|k?g|t|[kM]?J|N|%|degrees|deg"
    r"|[A-Z]{3}|[€$£¥])(?:/[A-Za-z]+[23]?)*(?![A-Za-z0-9])"
)
_HELD = re.compile(
    rf"(?<=\d) (?={_UNIT})"  # 15 s
    r"|(?<=\d) (?=x \S)|(?<=\d x) (?=\S)"  # 200 x 100, 3 x gusset.dxf
    r"|(?<=\bclass) (?=\d)|(?<=\bmark) (?=\d)|(?<=\bmarks) (?=\d)"
    r"|(?<=\bline) (?=\d)|(?<=\brow) (?=\d)|(?<=\bsheet) (?=\d)"
)


def unbroken(words: str) -> str:
    """Return words with a no-break space between every number and its unit.

    Examples
    --------
    >>> unbroken("15 s at 2.5 bar").replace("\u00a0", "_")
    '15_s at 2.5_bar'
    """
    return _HELD.sub(HARD, words)


def broken(
    words: str, columns: int, *, first: str = "", rest: str = "", most: int | None = None,
    left_out: str = " ...",
) -> list[str]:  # fmt: skip
    """Return words as lines of at most so many columns, numbers and units together.

    Parameters
    ----------
    words : str
        One paragraph.
    columns : int
        Letters in a line.
    first, rest : str
        What the first and every other line begins with.
    most : int, optional
        Lines at most; what does not fit ends in `left_out`.
    left_out : str
        Put where words are left out.

    Examples
    --------
    >>> broken("it takes 15 s", 11)
    ['it takes', '15 s']
    """
    lines = textwrap.wrap(
        unbroken(words), columns, initial_indent=first, subsequent_indent=rest, max_lines=most,
        placeholder=left_out, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace(HARD, " ") for line in lines]
