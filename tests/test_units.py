"""Typed quantities: factors from the SI Brochure and the international inch, and bad input."""

import ast

import pytest
from shared import ROOT

from analyzer.errors import InputError
from analyzer.units import INSUNITS, LENGTH_UNITS, counted, parse_length, parse_power


@pytest.mark.parametrize(
    ("text", "millimetres"),
    [
        ("10", 10.0),  # a bare number is in millimetres
        ("10mm", 10.0),
        (" 10 mm ", 10.0),
        ("1.5cm", 15.0),
        ("0.02m", 20.0),
        # International yard and pound agreement of 1959: 1 in = 25.4 mm exactly.
        ("1in", 25.4),
        ("0.375in", 9.525),
        ('0.375"', 9.525),
        (".25inch", 6.35),
        ("1ft", 304.8),
        ("125mil", 3.175),
        ("500um", 0.5),
        ("500µm", 0.5),
        ("1e1mm", 10.0),
        ("10MM", 10.0),
        ("3/8in", 9.525),
        ('1 1/4"', 31.75),
        ("1-1/2 in", 38.1),
    ],
)
def test_lengths(text: str, millimetres: float) -> None:
    assert parse_length(text) == pytest.approx(millimetres, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "kilowatts"), [("10", 10.0), ("10kW", 10.0), ("6000W", 6.0), ("6000 w", 6.0)]
)
def test_powers(text: str, kilowatts: float) -> None:
    assert parse_power(text) == pytest.approx(kilowatts, rel=1e-15)


@pytest.mark.parametrize(
    "text", ["", "thick", "mm", "ten mm", "10mm thick", "1,5mm", "-3mm", "3/8", "3/0in"]
)
def test_what_is_no_length_is_named(text: str) -> None:
    with pytest.raises(InputError, match="is not a length") as caught:
        parse_length(text)
    assert repr(text) in str(caught.value)
    assert "such as 10mm" in str(caught.value)


def test_an_unknown_unit_names_the_known_ones() -> None:
    with pytest.raises(InputError) as caught:
        parse_length("10furlong")
    message = str(caught.value)
    assert "'furlong'" in message
    assert all(unit in message for unit in ("mm", "cm", "in", "ft"))


def test_a_length_is_no_power() -> None:
    with pytest.raises(InputError, match="'mm'"):
        parse_power("10mm")


@pytest.mark.outside("Units of the DXF header [mm]", "DXF reference by library ezdxf")
def test_header_codes_are_those_of_the_dxf_reference() -> None:
    """DXF reference, header variable $INSUNITS, as ezdxf names the codes and their factors."""
    from ezdxf import units

    ours = {"in": "Inches", "ft": "Feet", "mm": "Millimeters", "cm": "Centimeters",
            "m": "Meters", "mil": "Mils", "µm": "Microns"}  # fmt: skip
    assert {ours[name]: code for code, name in INSUNITS.items()} == {
        units.InsertUnits(code).name: code for code in INSUNITS
    }
    for code, name in INSUNITS.items():
        if name == "mil":  # ezdxf has no factor for it: a thousandth of an inch
            assert pytest.approx(LENGTH_UNITS["in"] / 1000.0) == LENGTH_UNITS["mil"]
            continue
        factor = units.conversion_factor(units.InsertUnits(code), units.InsertUnits(4))
        assert LENGTH_UNITS[name] == pytest.approx(factor, rel=1e-9)


@pytest.mark.parametrize(
    ("number", "said"),
    [(0, "0 lines are"), (1, "1 line is"), (2, "2 lines are"), (1234, "1,234 lines are")],
)
def test_what_is_counted_agrees_with_its_number(number: int, said: str) -> None:
    assert counted(number, "line is", "lines are") == said
    assert counted(number, "line") == said.rsplit(" ", 1)[0]


def test_words_for_quantities_have_one_name_and_one_home() -> None:
    """Nobody gives them another name, or hands them on."""
    names = {"span", "by_hand", "unit_of", "digits_of", "counted"}
    found = []
    for path in sorted((ROOT / "analyzer").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                mine = node.module == "analyzer.units"
                found += [
                    (path.name, one.name)
                    for one in node.names
                    if one.name in names and (not mine or one.asname)
                ]
            elif isinstance(node, ast.Assign) and isinstance(node.value, ast.Name):
                found += [(path.name, node.value.id)] * (node.value.id in names)
    assert found == []
