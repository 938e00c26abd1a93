"""Units: typed quantities become millimetres, seconds and kilowatts here, once.

Inside, every length is in mm, every time in s, every speed in mm/s.
"""

import re

from analyzer.errors import InputError

MM_PER_INCH = 25.4

# Factor to millimetres by the name of the unit.
LENGTH_UNITS: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    '"': MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "mil": MM_PER_INCH / 1000.0,
    "um": 1e-3,
    "µm": 1e-3,
}
POWER_UNITS: dict[str, float] = {"kw": 1.0, "w": 1e-3}

# $INSUNITS codes of the DXF reference to unit names (0 is "not told").
INSUNITS: dict[int, str] = {
    1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "mil", 13: "µm",
}  # fmt: skip

_QUANTITY = re.compile(r'\s*([0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)\s*([a-zA-Zµ"]*)\s*')

# A whole before it ends in a blank or a dash; without a unit 3/8 could be of anything.
_FRACTION = re.compile(r'\s*(?:(\d{1,4})[ -]+)?(\d{1,4})/(\d{1,4})\s*([a-zA-Zµ"]+)\s*')


def _parse(text: str, units: dict[str, float], what: str, bare: str) -> float:
    match = _QUANTITY.fullmatch(text)
    fraction = _FRACTION.fullmatch(text)
    if fraction and float(fraction[3]):
        whole, over, under, unit = fraction.groups()
        return _parse(f"{float(whole or 0) + int(over) / int(under):.12g}{unit}", units, what, bare)
    if match is None:
        comma = re.fullmatch(r"\s*\d+,\d+\s*[a-zA-Zµ\"]*\s*", text)
        point = f", with a point: {text.strip().replace(',', '.')}" if comma else ""
        raise InputError(
            f"{text!r} is not a {what}",
            hint=f"write a number with a unit, such as 10{bare}{point}",
        )
    number, unit = float(match[1]), match[2].lower() or bare.lower()
    if unit not in units:
        raise InputError(
            f"unit {match[2]!r} of {text!r} is not known", hint="use one of " + ", ".join(units)
        )
    return number * units[unit]


def parse_length(text: str) -> float:
    """Return the length written in `text` ("10", "10mm", "0.375in", "3/8in"). [mm]

    A bare number is in millimetres.

    Raises
    ------
    InputError
        If `text` is not a number with a known unit.

    Examples
    --------
    >>> round(parse_length("0.375in"), 6), round(parse_length("1 1/4in"), 6)
    (9.525, 31.75)
    """
    return _parse(text, LENGTH_UNITS, "length", "mm")


def parse_power(text: str) -> float:
    """Return the power written in `text` ("10", "10kW", "6000W"). [kW]

    A bare number is in kilowatts.

    Raises
    ------
    InputError
        If `text` is not a number with a known unit.

    Examples
    --------
    >>> parse_power("6000W")
    6.0
    """
    return _parse(text, POWER_UNITS, "power", "kW")


def span(seconds: float) -> str:
    """Return a duration as spoken: seconds below two minutes, hours from three on. [s]

    Examples
    --------
    >>> span(26.2), span(1500.0), span(44_600.0)
    ('26 s', '25 min', '12 h')
    """
    unit, scale = unit_of(seconds)
    return f"{seconds / scale:.{digits_of(seconds / scale)}f} {unit}"


def by_hand(seconds: float) -> str:
    """Return a time of hand work: whole seconds, as its rates are +-50 %; "-" for none. [s]

    Examples
    --------
    >>> by_hand(2.9), by_hand(144.0), by_hand(0.0)
    ('3 s', '2.4 min', '-')
    """
    if seconds < 0.5:
        return "-"
    return f"{seconds:.0f} s" if unit_of(seconds)[0] == "s" else span(seconds)


def unit_of(seconds: float) -> tuple[str, float]:
    """Return the unit a duration is spoken in, and its seconds."""
    if seconds < 119.5:
        return "s", 1.0
    return ("min", 60.0) if seconds < 10_800.0 else ("h", 3600.0)


def digits_of(value: float) -> int:
    """Return the decimals that are worth saying: one below ten."""
    return 1 if value < 9.95 else 0


def counted(number: int, one: str, many: str = "") -> str:
    """Return a number with what it counts: a noun, or noun and verb, for one and for many.

    Examples
    --------
    >>> counted(1, "hole"), counted(3000, "hole"), counted(1, "line is", "lines are")
    ('1 hole', '3,000 holes', '1 line is')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"
