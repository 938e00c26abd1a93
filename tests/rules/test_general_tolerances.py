"""General tolerances against what laser cutting holds.

Values of ISO 9013:2017 tolerance class 1 and ISO 2768-1:1989 as seen on secondary public
pages (the standards themselves not read); where from memory the data file says so.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer.errors import InputError
from analyzer.rules.general_tolerances import (
    CLASSES,
    cutting_deviation,
    general_deviation,
    tolerance_class,
)


@pytest.mark.outside("What laser cutting holds, ten sizes [mm]", "ISO 9013:2017 class 1, secondary")
@pytest.mark.parametrize(
    ("t", "size", "deviation"),
    [
        (1.0, 2.0, 0.075), (3.15, 50.0, 0.25), (6.3, 9.99, 0.20), (6.31, 10.0, 0.30),
        (10.0, 124.9, 0.30), (10.0, 125.0, 0.35), (12.0, 80.0, 0.40), (20.0, 300.0, 0.55),
        (25.0, 1500.0, 1.10), (32.0, 7000.0, 4.00),
    ],
)  # fmt: skip
def test_class_1_of_iso_9013(t: float, size: float, deviation: float) -> None:
    assert cutting_deviation(t, size) == pytest.approx(deviation)


@pytest.mark.parametrize(("t", "size"), [(6.31, 2.9), (25.1, 9.0), (32.1, 80.0), (5.0, 8000.0)])
def test_iso_9013_gives_no_value_there(t: float, size: float) -> None:
    assert math.isnan(cutting_deviation(t, size))


@pytest.mark.outside(
    "General tolerances, thirteen sizes [mm]", "ISO 2768-1:1989, secondary and from memory"
)
@pytest.mark.parametrize(
    ("letter", "size", "deviation"),
    [
        ("m", 0.5, 0.1), ("m", 3.0, 0.1), ("m", 6.0, 0.1), ("m", 6.01, 0.2), ("m", 30.0, 0.2),
        ("m", 80.0, 0.3), ("m", 120.01, 0.5), ("m", 1000.0, 0.8), ("m", 2000.0, 1.2),
        ("m", 4000.0, 2.0), ("f", 100.0, 0.15), ("c", 100.0, 0.8), ("v", 100.0, 1.5),
    ],
)  # fmt: skip
def test_iso_2768_1(letter: str, size: float, deviation: float) -> None:
    assert general_deviation(letter, size) == pytest.approx(deviation)


def test_no_general_tolerance_there() -> None:
    assert np.isnan(general_deviation("m", [0.4, 4000.1])).all()
    assert math.isnan(general_deviation("v", 2.0))
    assert math.isnan(general_deviation("f", 3000.0))


@pytest.mark.parametrize(
    ("size", "from_t"), [(5.0, 1.0), (8.0, 6.3), (20.0, 3.15), (80.0, 10.0), (200.0, 15.0)]
)
def test_2768_m_is_tighter_than_class_1_only_above(size: float, from_t: float) -> None:
    """Where the one table passes the other: diameters 3-6 above 1 mm, 6-10 above 6.3, ..."""
    m = general_deviation("m", size)
    assert not m < cutting_deviation(from_t, size)
    assert m < cutting_deviation(from_t + 0.01, size)


@given(st.floats(0.1, 32.0), st.floats(3.0, 7999.0))
def test_class_1_widens_with_size_and_thickness(t: float, size: float) -> None:
    here, longer, thicker = (
        float(cutting_deviation(a, b)) for a, b in ((t, size), (t, size * 1.2), (t * 1.2, size))
    )
    assert not longer < here
    assert not thicker < here


@pytest.mark.parametrize("text", ["2768-m", "ISO 2768-mK", "iso2768 m", "2768-1 m", " 2768-M "])
def test_ways_to_write_it(text: str) -> None:
    assert tolerance_class(text) == "m"


@pytest.mark.parametrize("text", ["", "2768", "9013", "2768-x", "13920-A", "2768-mm"])
def test_not_a_tolerance(text: str) -> None:
    with pytest.raises(InputError, match="is not known"):
        tolerance_class(text)


def test_classes() -> None:
    wide = [float(general_deviation(letter, 100.0)) for letter in CLASSES]
    assert wide == sorted(wide)
