"""Sizes and counts as the page says them."""

from __future__ import annotations

import math

from analyzer.geometry.contours import Floats


def size(value: float) -> str:
    """Return a size without needless digits.

    Examples
    --------
    >>> size(12.0), size(3.5), size(0.354)
    ('12', '3.5', '0.35')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return text if text not in ("", "-0") else "0"


def edge_length(metres: float) -> str:
    """Return a length of edge in metres [m]; in millimetres where metres would say too little.

    Examples
    --------
    >>> edge_length(1.354), edge_length(0.1), edge_length(0.0374)
    ('1.35 m', '0.1 m', '37 mm')
    """
    return f"{size(metres)} m" if metres >= 0.0995 else f"{1000.0 * metres:.0f} mm"


def ratio(value: float) -> str:
    """Return a ratio with two digits.

    Examples
    --------
    >>> ratio(0.35), ratio(1.0)
    ('0.35', '1.00')
    """
    return f"{value:.2f}"


def against(measured: float, limit: float) -> tuple[str, str]:
    """Return two ratios with as many digits as it takes to tell them apart, at least two.

    Examples
    --------
    >>> against(0.35, 0.5), against(0.696, 0.7)
    (('0.35', '0.50'), ('0.696', '0.700'))
    """
    digits = next((d for d in (2, 3) if f"{measured:.{d}f}" != f"{limit:.{d}f}"), 2)
    return f"{measured:.{digits}f}", f"{limit:.{digits}f}"


def sizes(least: float, most: float) -> str:
    """Return one size, or a range where they differ on the page.

    Examples
    --------
    >>> sizes(9.0, 9.001), sizes(9.0, 10.5)
    ('9', '9 to 10.5')
    """
    low, high = size(least), size(most)
    return low if low == high else f"{low} to {high}"


def across_words(across: Floats) -> str:
    """Return the mean widths of contours, a size nobody draws: to three digits. [mm]

    Examples
    --------
    >>> import numpy as np
    >>> across_words(np.array([43.6301, 22.0])), across_words(np.array([3.1416]))
    ('22 to 43.6 across', '3.14 across')
    """
    low, high = (float(f"{value:.3g}") for value in (across.min(), across.max()))
    return f"{sizes(low, high)} across"


def wide_and_long(width: float, length: float) -> str:
    """Return the least width of a part and its length that way, whichever way it is drawn. [mm]

    Never as a x b: that is how tables tell the box of a part as drawn.

    Examples
    --------
    >>> wide_and_long(45.0, 600.0), wide_and_long(100.0, 100.02)
    ('45 wide, 600 long', '100 both ways')
    """
    wide, long = size(round(width, 1)), size(round(length, 1))
    return f"{wide} both ways" if wide == long else f"{wide} wide, {long} long"


def next_half(value: float) -> str:
    """Return the next half millimetre from `value` up.

    Examples
    --------
    >>> next_half(5.1), next_half(6.0)
    ('5.5', '6')
    """
    return size(math.ceil(value * 2.0 - 1e-6) / 2.0)


def capital(sentence: str) -> str:
    """Return a sentence with a capital first letter."""
    return sentence[:1].upper() + sentence[1:]


def whose(own: bool) -> str:
    """Return whose limit it is: "our" (a start value) or "your" (from the shop file)."""
    return "your" if own else "our"


def stated(which: str, bound: str, just: str = "", sep: str = "; ") -> str:
    """Return what follows a measured value: whose limit it is, and how much.

    Parameters
    ----------
    which : str
        Whose limit, and in which gas.
    bound : str
        The limit, as the page says it.
    just : str
        "below" or "above" where the value is less than 10 % beyond the limit of loss.
    sep : str
        What stands before the limit else.

    Examples
    --------
    >>> stated("our limit for oxygen", "0.40"), stated("our limit for oxygen", "0.40", "below")
    ('; our limit for oxygen is 0.40.', ', just below our limit for oxygen, 0.40.')
    """
    return f", just {just} {which}, {bound}." if just else f"{sep}{which} is {bound}."


def thinner(
    width: float,
    limit: float,
    thickness: float,
    by_ratio: bool,
    limit_words: str,
    just: bool = False,
) -> tuple[float, float, str, str]:
    """Return measured value, limit, unit and sentence of metal too thin.

    Parameters
    ----------
    width, limit, thickness : float
        Of the metal, what it should have, and of the sheet. [mm]
    by_ratio : bool
        The limit follows the thickness; else it is the least in every gas.
    limit_words : str
        Whose limit, and in which gas.
    just : bool
        The width is less than 10 % below the limit of loss.

    Examples
    --------
    >>> thinner(2.0, 4.0, 10.0, True, "our limit for oxygen")
    (0.2, 0.4, 'of thickness', '0.20 of thickness; our limit for oxygen is 0.40.')
    """
    if not by_ratio:
        thin = "just thinner" if just else "thinner"
        return width, limit, "mm", f"{thin} than {size(limit)} mm, the least in every gas."
    measured, bound = width / thickness, limit / thickness
    said, shown = against(measured, bound)
    against_it = stated(limit_words, shown, "below" if just else "")
    return measured, bound, "of thickness", f"{said} of thickness{against_it}"


def after_thin(gas: str, lost: bool, else_it: str) -> str:
    """Say what becomes of metal too thin: what it does where lost, else heat and `else_it`.

    Examples
    --------
    >>> after_thin("oxygen", True, "moves"), after_thin("air", False, "moves")
    ('Such metal burns through.', 'It gets hot and moves.')
    """
    burns = "burns through" if gas == "oxygen" else "warps or melts away"
    return f"Such metal {burns}." if lost else f"It gets hot and {else_it}."
