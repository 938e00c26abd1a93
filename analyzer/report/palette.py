"""One picture language for page, SVG, PNG, PDF and DXF: colours, widths, shapes.

Colour only repeats what width, shape, tone or a number says already, so that a black and white
print suffices.  Colours are Paul Tol's published schemes for colour-blind readers: Paul Tol,
"Colour Schemes", technical note SRON/EPS/TN/09-002, issue 3.2 (2021).
"""

from __future__ import annotations

SOURCE = 'Paul Tol, "Colour Schemes", SRON/EPS/TN/09-002, issue 3.2 (2021)'

METAL, CUT_OUT, OUTLINE = "#FFFFFF", "#E3E3E3", "#000000"
"""The part: its metal, its cut-outs, its edges."""

SHEET = "#EDEDED"
"""Sheet between the parts."""

UNCUT = "#555555"
"""Lines that are not cut: marks dotted, bends dashed."""

LETTER = "#555555"
"""Letters of parts on a sheet: grey, sloping and with serifs, so that none looks like a mark."""

FIRST_PIERCE, LAST_PIERCE = ("^", METAL), ("v", OUTLINE)
"""First pierce: a white triangle on its base; last: a black one on its point.  No mark is one."""

BURR_COLOURS = ("#000000", "#DDAA33", "#BB5566", "#004488")
"""Edge by burr class 0..3: black, then the scheme "high-contrast", darker from class to class."""

BURR_WIDTHS = (1.0, 1.8, 2.8, 4.0)
"""Line width of an edge by burr class 0..3. [pt, px or any other unit of the writer]"""

LEVEL_SHAPES = {"note": "circle", "rework": "diamond", "loss": "square"}
"""Shape of a mark by level of its finding; the number stands inside."""

LEVEL_FILLS = {"note": "#FFFFFF", "rework": "#FFFFFF", "loss": "#000000"}
LEVEL_LINES = {"note": "#004488", "rework": "#994455", "loss": "#000000"}
LEVEL_NUMBERS = {"note": "#000000", "rework": "#000000", "loss": "#FFFFFF"}
"""Inside, edge and number of a mark; the edges from "high-contrast" and "medium-contrast"."""

TRAVERSE, LEAD, PIERCE = "#4477AA", "#EE6677", "#EE6677"
"""Moves between contours (dashed), lead-ins and pierces: the scheme "bright"."""

TERM_COLOURS = {
    "cut": "#BBBBBB", "slowed": "#EE6677", "leads": "#FFFFFF", "starts": "#CCBB44",
    "pierce": "#AA3377", "traverse": "#4477AA", "marking": "#66CCEE", "film": "#228833",
    "slugs": "#000000", "cool": "#CCEEFF", "handling": "#EEEEEE",
}  # fmt: skip
"""Bars of the time split, in the order of `Timing`: "bright", "pale" and white."""

TERM_HATCHES = {
    "cut": "", "slowed": "////", "leads": "..", "starts": "\\\\\\\\", "pierce": "xx",
    "traverse": "--", "marking": "++", "film": "||", "slugs": "", "cool": "oo", "handling": "",
}  # fmt: skip
"""The same by pattern, as matplotlib writes hatches: black and white print."""

RAMP = ("#FEE391", "#FEC44F", "#FB9A29", "#EC7014", "#CC4C02", "#993404", "#662506")
"""Heat, and the reverse for speed: the scheme "YlOrBr" without its two lightest steps."""


SPEED_COLOURS = (OUTLINE, RAMP[0], RAMP[2], RAMP[5])
"""Edge by class of local speed: black at the table's speed, then darker the slower."""

MARKED, WARM_COLOURS = 10.0, (RAMP[0], RAMP[2], RAMP[5])
"""Rise at a pierce that is written beside it [K]; pierces by thirds of the highest rise."""


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour "#RRGGBB", 0 black to 1 white. [-]

    WCAG 2.1, definition of relative luminance.

    Examples
    --------
    >>> luminance("#FFFFFF"), luminance("#000000"), round(luminance("#FF0000"), 4)
    (1.0, 0.0, 0.2126)
    """
    part = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in part)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.1). [-]

    Examples
    --------
    >>> contrast("#FFFFFF", "#000000")
    21.0
    """
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)
