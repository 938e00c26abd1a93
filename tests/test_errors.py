"""Errors say what, where and what to do, and know their exit code."""

import pytest

from analyzer.budgets import DEFAULT, Budgets, limit_of
from analyzer.errors import BurrcastError, DrawingError, InputError


def test_the_message_has_place_problem_and_remedy_in_one_line() -> None:
    error = InputError("thickness -3 mm is not positive", where="shop file", hint="write 3mm")
    assert str(error) == "shop file: thickness -3 mm is not positive (write 3mm)"
    assert "\n" not in str(error)


def test_place_and_remedy_may_be_missing() -> None:
    assert str(BurrcastError("the two lengths differ")) == "the two lengths differ"


@pytest.mark.parametrize(
    ("kind", "code"), [(BurrcastError, 70), (InputError, 2), (DrawingError, 2)]
)
def test_exit_codes(kind: type[BurrcastError], code: int) -> None:
    """70 is our own fault (EX_SOFTWARE of BSD sysexits.h), 2 what the user can mend."""
    assert kind("x").exit_code == code


def test_what_the_user_can_mend_is_a_value_error() -> None:
    assert issubclass(DrawingError, InputError)
    assert issubclass(InputError, ValueError)


def test_a_limit_on_input_is_named_in_its_message() -> None:
    budgets = Budgets(entities=10)
    budgets.check("entities", 10)
    with pytest.raises(DrawingError) as caught:
        budgets.check("entities", 11, where="plate.dxf")
    assert str(caught.value).startswith("plate.dxf: 11 is over the limit entities = 10")
    assert "--limit entities=20" in str(caught.value)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("entities", "NAME=VALUE"), ("beans=3", "the limits are file_mb, entities"),
        ("entities=many", "a number above 0"), ("entities=-1", "a number above 0"),
        ("entities=inf", "a number above 0"), ("entities=nan", "a number above 0"),
    ],
)  # fmt: skip
def test_a_limit_typed_wrong_is_said(typed: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        limit_of(typed)


def test_limits_are_lowered_and_raised() -> None:
    changed = DEFAULT.changed([limit_of("entities=2_000_000"), limit_of("coordinate_mm=1.5e6")])
    assert (changed.entities, changed.coordinate_mm) == (2_000_000, 1.5e6)
    assert changed.block_depth == DEFAULT.block_depth
